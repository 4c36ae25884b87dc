"""The builder's own pace, from the hours in the record: shared, by trade, idle weeks, and how well it foretells."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from datetime import date, timedelta

from ribwright.core.planning.pace import FEWEST, Learned, Logged, coverage, learned, learned_weeks
from ribwright.core.planning.tasks import Pace, Week
from ribwright.errors import InputError
from ribwright.services.bench import finished
from ribwright.services.plan_entries import day_of
from ribwright.services.plan_sources import Sources
from ribwright.services.plan_tasks import FITTING, SPREAD, TRADES, hours_of, logged_hours

UNESTIMATED_SPREAD = 2.0
RECENT_WEEKS = 26
FEWEST_WEEKS = 8


@dataclass(frozen=True, slots=True)
class PaceView:
    """What the log says of the builder.

    Attributes:
        pace: what the plan takes.
        says: in words; plainly, when it is too little to know.
        enough: whether the log says more than the assumption did.
        factor: hours taken for an estimated hour, with the two limits that 4 of 5 lie between.
        trades: each trade, its factor and how many tasks it rests on.
        finished: tasks that it rests on.
        in_progress: tasks begun and not finished, of which only a least is known.
        kept: how many of `foretold` stayed within the hours that 4 chances in 5 gave them beforehand.
        foretold: finished tasks that were foretold from those before them.
        weeks: weeks since the first hour logged, without those that were blocked.
        idle: of these without work.
        hours_week: hours in a week with work, lately; none when nothing is logged.
        entered_week: hours of a usual week as entered.
    """

    pace: Pace
    says: str
    enough: bool
    factor: tuple[float, float, float]
    trades: tuple[tuple[str, float, int], ...] = ()
    finished: int = 0
    in_progress: int = 0
    kept: int = 0
    foretold: int = 0
    weeks: int = 0
    idle: int = 0
    hours_week: float | None = None
    entered_week: float = 0.0
    log: tuple[Logged, ...] = field(default=(), repr=False)

    @property
    def weeks_enough(self) -> bool:
        """Whether the weeks without work rest on the log more than on the assumption."""
        return self.weeks >= FEWEST_WEEKS


def pace_log(sources: Sources) -> tuple[Logged, ...]:
    """The log, oldest first: what is finished of an operation is one task, a stage begun is one in progress.

    A stage finished without any hour logged says nothing of the pace and is left out on both sides.
    """
    done, logged = finished(sources.work), logged_hours(sources)
    rows: list[tuple[str, str, Logged]] = []
    for one in sources.of("operation"):
        trade = str(one.data.get("trade") or TRADES.get(str(one.data.get("calculation")), FITTING))
        estimate = actual = 0.0
        last, guessed = "", False
        for stage in one.data.get("stages", []):
            key = f"{one.ref}/{stage.get('name')}"
            if key not in logged or logged[key].hours <= 0:
                continue
            hours = hours_of(stage.get("hours"), sources.settings.usual_hours)
            if not 0 < hours < math.inf:
                continue
            blank = stage.get("hours") in (None, "")
            if key in done:
                estimate, actual, guessed = estimate + hours, actual + logged[key].hours, guessed or blank
                last = max(last, logged[key].last_day)
            else:
                spread = UNESTIMATED_SPREAD if blank else SPREAD
                rows.append(
                    (logged[key].last_day, key, Logged(trade, hours, logged[key].hours, spread, False))
                )
        if estimate > 0:
            spread = UNESTIMATED_SPREAD if guessed else SPREAD
            rows.append((last, one.ref, Logged(trade, estimate, actual, spread)))
    return tuple(row for _, _, row in sorted(rows, key=lambda r: (r[0], r[1])))


def pace_view(sources: Sources) -> PaceView:
    """Learn the pace and the weeks."""
    log = pace_log(sources)
    found: Learned = learned(log)
    weeks = weeks_worked(sources)
    pace = learned_weeks([hours > 0 for hours in weeks], found.pace) if weeks else found.pace
    kept, foretold = coverage(log) if found.finished else (0, 0)
    count: dict[str, int] = {}
    for row in log:
        if row.finished:
            count[row.trade] = count.get(row.trade, 0) + 1
    wide = math.exp(1.2815515655446004 * pace.shared_sd)
    factor = math.exp(pace.shared)
    recent = [hours for hours in weeks[-RECENT_WEEKS:] if hours > 0]
    return PaceView(
        pace=pace,
        says=found.says,
        enough=found.enough,
        factor=(factor / wide, factor, factor * wide),
        trades=tuple((name, math.exp(pace.shared + own), count.get(name, 0)) for name, own in pace.trade),
        finished=found.finished,
        in_progress=sum(not row.finished for row in log),
        kept=kept,
        foretold=foretold,
        weeks=len(weeks),
        idle=sum(hours == 0 for hours in weeks),
        hours_week=sum(recent) / len(recent) if recent else None,
        entered_week=sum(sources.settings.week.hours),
        log=log,
    )


def weeks_worked(sources: Sources) -> tuple[float, ...]:
    """The builder's hours of each whole week since the first hour logged, blocked weeks left out."""
    by_week: dict[date, float] = {}
    for row in sources.work:
        if row["worked_as"] in ("helper", "paid") or not float(row["hours"] or 0):
            continue
        try:
            day = day_of(str(row["day"]), "day")
        except InputError:
            continue
        monday = day - timedelta(days=day.weekday())
        by_week[monday] = by_week.get(monday, 0.0) + float(row["hours"])
    if not by_week:
        return ()
    this = sources.today - timedelta(days=sources.today.weekday())
    out = []
    monday = min(by_week)
    while monday < this:
        hours = by_week.get(monday, 0.0)
        if hours or _open(sources.settings.week, monday):
            out.append(hours)
        monday += timedelta(weeks=1)
    return tuple(out)


def _open(week: Week, monday: date) -> bool:
    """Whether a week had a day on which the builder meant to work."""
    for k, hours in enumerate(week.hours):
        day = monday + timedelta(days=k)
        if hours and day not in week.off and not any(first <= day <= last for first, last in week.blocked):
            return True
    return False


__all__ = ["FEWEST", "PaceView", "pace_log", "pace_view", "weeks_worked"]
