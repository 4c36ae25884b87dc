"""The plan: what is left of the aeroplane, when it flies, how sure, what moves the date, what to order by when."""

from __future__ import annotations

import hashlib
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, timedelta

from ribwright.core.planning.arrivals import MOST, latest_arrivals
from ribwright.core.planning.drawings import date_chances, moves_picture, numbered_marks, year_strip
from ribwright.core.planning.network import network
from ribwright.core.planning.pilot import Window, rules_of, window
from ribwright.core.planning.problems import checked, sentences
from ribwright.core.planning.risk import (
    Chance,
    Move,
    decisive,
    outlook,
    shift_days,
    simulated,
)
from ribwright.core.planning.tasks import Plan
from ribwright.core.planning.tornado import usual_changes
from ribwright.core.scene import Scene
from ribwright.services import compute
from ribwright.services.plan_orders import (
    MOST_MONTHS,
    SCENARIOS,
    CashView,
    OrderLine,
    cash_view,
    order_lines,
    put_off,
)
from ribwright.services.plan_pace import PaceView, pace_view
from ribwright.services.plan_settings import Settings
from ribwright.services.plan_sources import Sources, sources
from ribwright.services.plan_tasks import plan_of
from ribwright.services.project import Project
from ribwright.services.remembered import until_the_record_moves
from ribwright.services.running import Report, Standing, Workshop
from ribwright.services.seals import seal

DRAWS = 2_000
MOVE_DRAWS = 500
MOST_MOVES = 16


@dataclass(frozen=True, slots=True)
class Inputs:
    """What the plan is worked out from.

    Attributes:
        plan: checked, with the pace that was learned.
        problems: what was left out, one sentence each.
        pace: what the log says.
        settings: as they stand.
        mark: the same inputs have the same mark.
    """

    plan: Plan
    problems: tuple[str, ...]
    pace: PaceView
    settings: Settings
    mark: str


@dataclass(frozen=True, slots=True)
class YearStrip:
    """A year as a wall calendar, and what its numbers mean."""

    year: int
    picture: Scene
    marks: tuple[tuple[date, str], ...]


@dataclass(frozen=True, slots=True)
class PlanView:
    """When it flies, how sure, what sets the date, and what must be ordered.

    Attributes:
        start: the day that it was worked out for.
        dates: 1, 5, 8 and 9 chances in 10; none when nothing is left to do.
        hours_to_go: hours still to work at the same chances.
        by_trade: hours still to go by kind of work, as estimated and not yet logged.
        tasks: how many are left.
        problems: what could not be planned, one sentence each; the rest stands.
        pace: what the log says of the builder.
        settings: as they stand.
        beyond: draws in 100 that had not ended after thirty years.
        dry_share: share of the working time in which nothing could be done.
        chances: the picture of the dates.
        decides: tasks and orders that most often set the date, and how often; where nearly every task does, the orders alone.
        hands: in how many builds most of the tasks set it, in one sentence; "" where a few of them do.
        pilot: what must be done when for the first flight to be legal.
        moves: what moves the date, by more than can be put down to the drawing.
        moved: the picture of that.
        still: what was tried and moves it by less than can be told.
        orders: everything that is not here yet, the most pressing first.
        put_off: what ordering everything on its day does to the 4-in-5 date, in a sentence.
        cash: all orders together under the money; None when no money is entered.
        strips: the next two years in which something falls as wall calendars.
        complete: whether every part was worked out.
    """

    start: date
    dates: tuple[Chance, ...]
    hours_to_go: tuple[tuple[float, float], ...]
    by_trade: tuple[tuple[str, float, int], ...]
    tasks: int
    problems: tuple[str, ...]
    pace: PaceView
    settings: Settings
    beyond: float = 0.0
    dry_share: float = 0.0
    chances: Scene | None = None
    decides: tuple[tuple[str, float], ...] = ()
    hands: str = ""
    pilot: tuple[Window, ...] = ()
    moves: tuple[Move, ...] = ()
    moved: Scene | None = None
    still: tuple[str, ...] = ()
    orders: tuple[OrderLine, ...] = ()
    put_off: str = ""
    cash: CashView | None = None
    strips: tuple[YearStrip, ...] = ()
    complete: bool = False

    def date_at(self, chance: float) -> date | None:
        """The date that holds with this chance."""
        return next((c.day for c in self.dates if c.chance == chance), None)

    def known(self, chance: float) -> bool:
        """Whether that date lies within the thirty years that are drawn; beyond them there is none to name."""
        return self.beyond <= 100.0 * (1.0 - chance)

    def day_in_words(self, one: Chance) -> str:
        """A date as it is said."""
        return f"{one.day:%d %B %Y}" if self.known(one.chance) else "not within thirty years"


_WORKSHOP: Workshop[PlanView] = Workshop()
_INPUTS: Workshop[Inputs] = Workshop(most=2)
"""Of a hundred aeroplanes, what the plan is worked out from takes seconds to put together: a page does not wait for it."""


def project_plan(project: Project, *, today: date | None = None) -> tuple[Plan, tuple[str, ...]]:
    """The project as the plan's input, with the pace learned from its log.

    Args:
        today: the day to plan from; left out, the day of the project's clock.

    Returns:
        The plan, and a sentence for everything that was left out.
    """
    read = sources(project, today=today)
    plan, problems = plan_of(read)
    return replace(plan, pace=pace_view(read).pace), problems


def inputs_of(read: Sources) -> Inputs:
    """Everything that the plan is worked out from; faults are said, the rest stands."""
    plan, problems = plan_of(read)
    pace = pace_view(read)
    kept, faults = checked(replace(plan, pace=pace.pace))
    said = tuple(dict.fromkeys([*problems, *sentences(faults)]))
    mark = hashlib.blake2b(repr((kept, said, read.settings)).encode(), digest_size=16).hexdigest()
    return Inputs(kept, said, pace, read.settings, mark)


def inputs(project: Project) -> Inputs:
    """What the plan is worked out from now."""
    standing = _inputs_standing(project, wait=None)
    if standing.error is not None:
        raise standing.error
    assert standing.result is not None
    return standing.result


def _inputs_standing(project: Project, *, wait: float | None) -> Standing[Inputs]:
    sealed, read = _read(project)
    key = (project.where, project.id, sealed, read.today)
    return _INPUTS.standing(key, lambda report, keep: inputs_of(read), wait=wait)


@until_the_record_moves
def _read(project: Project) -> tuple[str, Sources]:
    return seal(project), sources(project)  # the seal first: an entry between the two is then read again


def plan_view(project: Project) -> PlanView:
    """Work the plan out, and wait for all of it; one that was stopped is worked out again.

    Raises:
        RibwrightError: the week or the pace can't be.
    """
    standing = plan_standing(project, wait=None)
    if standing.error is None and (standing.result is None or not standing.result.complete):
        resume_plan(project)
        standing = plan_standing(project, wait=None)
    if standing.error is not None:
        raise standing.error
    assert standing.result is not None
    return standing.result


def plan_standing(project: Project, *, wait: float | None = 0.0) -> Standing[PlanView]:
    """The plan as far as it is worked out; it goes on beside.

    Args:
        wait: seconds to wait for it at most; None waits until it is done.
    """
    until = None if wait is None else time.monotonic() + wait
    put_together = _inputs_standing(project, wait=wait)
    given = put_together.result
    if given is None:
        return Standing(None, put_together.says, put_together.running, put_together.error)
    left = None if until is None else max(0.0, until - time.monotonic())
    return _WORKSHOP.standing(
        given.mark,
        lambda report, keep: _worked_out(given, report, keep),
        wait=left,
        line=(project.where, project.id),
    )


def stop_plan(project: Project) -> bool:
    """Ask the working out to stop; what there is of it stays."""
    return _WORKSHOP.stop(inputs(project).mark)


def resume_plan(project: Project) -> None:
    """Let a stopped plan be worked out again."""
    _WORKSHOP.forget(inputs(project).mark)


def _worked_out(given: Inputs, report: Report, keep: Callable[[PlanView], None]) -> PlanView:
    if not compute.has_workers():
        return work_out(given, report, keep)
    return compute.run(whole_plan, given, waiting=lambda: report("worked out on another machine"))


def whole_plan(given: Inputs) -> PlanView:
    """Work a plan out with nobody looking on: what a worker does."""
    return work_out(given, lambda _: None, lambda _: None)


def work_out(given: Inputs, report: Report, keep: Callable[[PlanView], None]) -> PlanView:
    """Work a plan out, the most wanted first; each part is kept as soon as it is there."""
    plan, said = given.plan, list(given.problems)
    left = [task for task in plan.tasks if not task.done]
    view = PlanView(plan.start, (), (), _by_trade(plan), len(left), tuple(said), given.pace, given.settings)
    if not left:
        return replace(view, complete=True)
    net = network(plan)

    def told(made: int, of: int) -> None:
        report(f"{made:,} of {of:,} builds simulated")

    report("first builds simulated")
    made = simulated(net, draws=DRAWS, seed=1, dry=True, decides=True, progress=told)
    out = outlook(net, made)
    titles = {task.key: task.title for task in plan.tasks} | {i.key: i.title or i.key for i in plan.items}
    decides, hands = decisive(net, made)
    view = replace(
        view,
        dates=out.dates,
        hours_to_go=out.hours_to_go,
        beyond=100.0 * out.beyond / out.draws,
        dry_share=out.dry_share,
        chances=date_chances(plan.start, made.ends, out.dates),
        decides=tuple((titles.get(k, k), share) for k, share in decides), hands=hands,
        pilot=pilot_windows(given.settings, out.dates),
    )  # fmt: skip
    keep(view)
    money = given.settings
    arrivals = latest_arrivals(plan, draws=SCENARIOS, report=report)
    lines = order_lines(
        plan,
        late_day=money.late_day,
        capital_year=money.capital_year,
        arrivals=arrivals,
        report=report,
        said=said,
    )
    view = replace(view, orders=lines, problems=tuple(said), put_off=put_off(plan, lines))
    view = replace(view, strips=year_strips(view))
    keep(view)
    tried = _moves(plan, given.pace, report)
    moves = tuple(move for move in tried if _told(move))
    view = replace(
        view, moves=moves, moved=moves_picture(moves) if moves else None, still=tuple(m.what for m in tried if not _told(m))
    )  # fmt: skip
    keep(view)
    if money.purse is not None and len(lines) > MOST:
        said.append(f"{len(lines):,} orders are too many to choose their months under the money.")
        view = replace(view, problems=tuple(said))
    elif money.purse is not None:
        months = min(MOST_MONTHS, max(12, round(out.dates[-1].days / 30.4) + 6))
        cash = cash_view(
            plan, money.purse, late_day=money.late_day, capital_year=money.capital_year, months=months, lines=lines,
            arrivals=arrivals, report=report,
        )  # fmt: skip
        view = replace(view, cash=cash)
    return replace(view, complete=True)


def _by_trade(plan: Plan) -> tuple[tuple[str, float, int], ...]:
    hours: dict[str, tuple[float, int]] = {}
    for task in plan.tasks:
        if not task.done:
            before, count = hours.get(task.trade, (0.0, 0))
            hours[task.trade] = before + max(0.0, task.hours - task.spent_hours), count + 1
    ranked = sorted(hours.items(), key=lambda pair: (-pair[1][0], pair[0]))
    return tuple((trade, total, count) for trade, (total, count) in ranked)


def _moves(plan: Plan, pace: PaceView, report: Report) -> tuple[Move, ...]:
    """What moves the date, the farthest first; the hours that are really logged among them."""
    changes = list(usual_changes(plan, most=MOST_MOVES))
    if pace.hours_week is not None and pace.entered_week and pace.weeks_enough:
        factor = min(3.0, max(0.1, pace.hours_week / pace.entered_week))
        hours = tuple(min(24.0, h * factor) for h in plan.week.hours)
        logged = replace(plan, week=replace(plan.week, hours=hours))
        changes.append(
            (
                f"{pace.hours_week:.1f} hours a week, as logged, in place of {pace.entered_week:g}",
                logged,
                logged,
            )
        )
    base = simulated(network(plan), draws=MOVE_DRAWS).ends
    moves = []
    for place, (what, well, badly) in enumerate(changes):
        report(f"what moves the date: {place} of {len(changes)}")
        less, error_a = shift_days(base, simulated(network(well), draws=MOVE_DRAWS).ends)
        more, error_b = shift_days(base, simulated(network(badly), draws=MOVE_DRAWS).ends)
        moves.append(Move(what, less, more, max(error_a, error_b)))
    return tuple(sorted(moves, key=lambda move: -max(abs(move.days_less), abs(move.days_more))))


def _told(move: Move) -> bool:
    """Whether it moves the date by more than the drawing of it alone may."""
    return max(abs(move.days_less), abs(move.days_more)) >= max(0.5, 2.0 * move.error_days)


def pilot_windows(said: Settings, dates: tuple[Chance, ...]) -> tuple[Window, ...]:
    """When each of the pilot's dates must be done for a first flight between 1 and 9 chances in 10."""
    first, last = dates[0].day, dates[-1].day
    if last.year > 2200:
        return ()
    done = dict(said.pilot)
    return tuple(
        window(rule, flight_first=first, flight_last=last, last_done=done.get(rule.name))
        for rule in rules_of(said.route)
    )


def marks_of(view: PlanView) -> tuple[tuple[date, str], ...]:
    """The days that matter: order by, comes, from when the pilot's events count, the dates of the first flight."""
    marks = [
        (line.day, f"order {line.item.title or line.item.key}")
        for line in view.orders
        if line.day and line.day > view.start
    ]
    late = [line for line in view.orders if line.now]
    if late:
        marks.append((view.start, f"today: {len(late)} order{'s' if len(late) > 1 else ''} due"))
    marks += [(line.comes, f"{line.item.title or line.item.key} comes") for line in view.orders if line.comes]
    marks += [
        (w.opens, f"{w.rule.name} counts from here") for w in view.pilot if w.needed and w.opens > view.start
    ]
    marks += [
        (c.day, f"ready to fly, {round(10 * c.chance)} chances in 10")
        for c in view.dates
        if view.known(c.chance)
    ]
    return tuple(sorted(marks))


def days_off(settings: Settings, years: tuple[int, ...]) -> tuple[date, ...]:
    """Holidays and blocked days of some years."""
    off = set(settings.week.off)
    for first, last in settings.week.blocked:
        off |= {first + timedelta(days=k) for k in range(min((last - first).days, 3660) + 1)}
    return tuple(sorted(day for day in off if day.year in years))


def year_strips(view: PlanView) -> tuple[YearStrip, ...]:
    """The next two years in which something falls, as wall calendars."""
    marks = marks_of(view)
    years = tuple(sorted({day.year for day, _ in marks if day.year >= view.start.year}))[:2] or (
        view.start.year,
    )
    off = days_off(view.settings, years)
    return tuple(YearStrip(year, year_strip(year, marks, off), numbered_marks(year, marks)) for year in years)
