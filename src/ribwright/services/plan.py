"""The plan: what is left of the aeroplane as tasks and orders, when it flies, what to order by when."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from datetime import date
from functools import lru_cache

from ribwright.core.planning.network import network
from ribwright.core.planning.orders import OrderBy, needs, order_by
from ribwright.core.planning.problems import checked
from ribwright.core.planning.risk import Chance, Move, effect, outlook, simulated
from ribwright.core.planning.starter import starter_items, starter_tasks
from ribwright.core.planning.tasks import Item, Plan, Task, Week
from ribwright.errors import RibwrightError
from ribwright.services.bench import finished
from ribwright.services.project import Project
from ribwright.services.record import StoredObject, objects, work
from ribwright.services.remembered import until_the_record_moves

DRAWS = 2_000
ORDER_DRAWS = 500
MOVE_DRAWS = 500
USUAL_HOURS = 2.0
WEEK = Week()
"""Hours of a builder's usual week; a project can't say otherwise yet."""


@dataclass(frozen=True, slots=True)
class PlanView:
    """When it flies, how sure, what sets the date, and what must be ordered.

    Attributes:
        start: the day that it was worked out for.
        dates: 1, 5, 8 and 9 chances in 10.
        hours_to_go: hours still to work at the same chances.
        orders: of everything that is not here yet, the most pressing first.
        tasks: how many are left.
        problems: what could not be planned, one sentence each; the rest stands.
    """

    start: date
    dates: tuple[Chance, ...]
    hours_to_go: tuple[tuple[float, float], ...]
    moves: tuple[Move, ...]
    orders: tuple[tuple[Item, OrderBy], ...]
    tasks: int
    problems: tuple[str, ...]


def project_plan(project: Project, *, today: date | None = None) -> tuple[Plan, tuple[str, ...]]:
    """The project as the plan's input: operations, orders, and the starter's tasks beside the metal.

    Args:
        today: the day to plan from; left out, the day of the project's clock.

    Returns:
        The plan, and a sentence for everything that was left out.
    """
    start = today or date.fromisoformat(project.now()[:10])
    done = finished(work(project))
    spent: dict[str, float] = {}
    for row in work(project):
        spent[row["about"]] = spent.get(row["about"], 0.0) + float(row["hours"] or 0)
    operations = objects(project, noun="operation")
    known = {one.ref for one in operations}
    problems: list[str] = []
    items = tuple(_item(one) for one in objects(project, noun="order")) or starter_items()
    needed: dict[str, list[str]] = {ref: [] for ref in known}
    for order in objects(project, noun="order"):
        for assembly in order.data.get("needed_for", []):
            for one in operations:
                if one.parent == assembly:
                    needed[one.ref].append(order.ref)
    metal = tuple(
        task
        for one in operations
        for task in _tasks(one, done, spent.get(one.ref, 0.0), known, tuple(needed[one.ref]))
    )
    here = {item.key for item in items}
    last = tuple(task.key for task in metal)
    others = tuple(
        Task(
            key=t.key, title=t.title, hours=t.hours, spread=t.spread, trade=t.trade, parts=tuple(p for p in t.parts if p in here), helper=t.helper,
            warm=t.warm, daylight=t.daylight, cure_hours=t.cure_hours, uses=t.uses, source=t.source,
            needs=t.needs + (last if t.key == "prepare-paint" else ()),
        )
        for t in starter_tasks()
    )  # fmt: skip
    return Plan(
        start,
        metal + others,
        items,
        WEEK,
        shop=tuple({name: amount for t in others for name, amount in t.uses}.items()),
    ), tuple(problems)


@until_the_record_moves
def plan_view(project: Project) -> PlanView:
    """Work the plan out: dates with their chances by simulation, what moves them, and the order-by dates."""
    plan, problems = project_plan(project)
    return _worked_out(plan, problems)


@lru_cache(maxsize=4)
def _worked_out(plan: Plan, problems: tuple[str, ...]) -> PlanView:
    """The same plan is the same answer: an entry that changes no task costs nothing here."""
    plan, faults = checked(plan)
    net = network(plan)
    out = outlook(net, simulated(net, draws=DRAWS, seed=1))
    said = [*problems, *(fault.sentence() for fault in faults)]
    orders: list[tuple[Item, OrderBy]] = []
    need = needs(plan, draws=ORDER_DRAWS)
    for item in plan.items:
        if item.arrived or item.ordered:
            continue
        try:
            orders.append((item, order_by(plan, item.key, draws=ORDER_DRAWS, need=need.get(item.key))))
        except RibwrightError as error:
            said.append(error.sentence())
    orders.sort(key=lambda pair: pair[1].by)
    moves = tuple(
        replace(effect(plan, other, draws=MOVE_DRAWS), what=words) for words, other in _changes(plan)
    )
    ranked = tuple(sorted(moves, key=lambda move: move.days_less))
    return PlanView(
        plan.start,
        out.dates,
        out.hours_to_go,
        ranked,
        tuple(orders),
        sum(1 for t in plan.tasks if not t.done),
        tuple(said),
    )


def _changes(plan: Plan) -> tuple[tuple[str, Plan], ...]:
    """What a builder could change: hours, the helper's days, weeks without work, the pace."""
    week, pace = plan.week, plan.pace
    longer = tuple(hours + (1.0 if hours else 0.0) for hours in week.hours)
    second = tuple(3.0 if day == 6 else hours for day, hours in enumerate(week.helper_hours))
    return (
        (
            f"{sum(longer) - sum(week.hours):g} hours a week more",
            replace(plan, week=replace(week, hours=longer)),
        ),
        ("the helper on Sundays too", replace(plan, week=replace(week, helper_hours=second))),
        ("half as many weeks without work", replace(plan, pace=replace(pace, idle_week=pace.idle_week / 2))),
        ("one week in two without work", replace(plan, pace=replace(pace, idle_week=0.5))),
        ("a tenth more hours for everything", replace(plan, pace=replace(pace, shared=pace.shared + 0.0953))),
    )


def _tasks(
    one: StoredObject, done: set[str], spent: float, known: set[str], parts: tuple[str, ...]
) -> tuple[Task, ...]:
    """An operation as a task; what takes two people follows as a task of its own, so that only it waits for the helper."""
    stages = [s for s in one.data.get("stages", []) if s.get("name")]
    left = [s for s in stages if f"{one.ref}/{s['name']}" not in done]
    after = {
        str(need).split("/")[0]
        for need in [*one.data.get("after", []), *(n for s in stages for n in s.get("after", []) or [])]
    }
    wait = tuple(sorted((after & known) - {one.ref}))
    alone = sum(_hours(s.get("hours")) for s in left if s.get("helper") != "yes")
    two = sum(_hours(s.get("hours")) for s in left if s.get("helper") == "yes")
    begun = spent if len(left) == len(stages) else 0.0
    if not two or not alone:
        return (
            Task(
                key=one.ref, title=one.title, hours=_at_least(alone + two), spread=1.5, trade="metal", needs=wait, parts=parts,
                helper=two > 0, spent_hours=begun, done=not left,
            ),
        )  # fmt: skip
    first = f"{one.ref}, alone"
    return (
        Task(
            key=first,
            title=one.title,
            hours=alone,
            spread=1.5,
            trade="metal",
            needs=wait,
            parts=parts,
            spent_hours=begun,
        ),
        Task(
            key=one.ref,
            title=f"{one.title}, with the helper",
            hours=two,
            spread=1.5,
            trade="metal",
            needs=(first,),
            helper=True,
        ),
    )


def _at_least(hours: float) -> float:
    """A finished operation still stands in the plan with next to nothing; no number stays none."""
    return hours if math.isnan(hours) else max(hours, 0.01)


def _item(one: StoredObject) -> Item:
    data = one.data
    likely, late = _hours(data.get("lead_weeks_likely")), _hours(data.get("lead_weeks_late"))
    likely = likely if math.isnan(likely) else max(likely, 0.5)
    return Item(
        key=one.ref, title=one.title, lead_days=7 * likely, lead_spread=max(1.05, (late or 1.5 * likely) / likely), price=_hours(data.get("price_usd"), 0.0),
        deposit=_hours(data.get("deposit_usd"), 0.0), ordered=data.get("state") in ("ordered", "received"), arrived=data.get("state") == "received",
    )  # fmt: skip


def _hours(said: object, usual: float = USUAL_HOURS) -> float:
    """A number that was entered, or the usual one where nothing was; what can't be read is no number.

    The plan then leaves that task or order out and says so, instead of guessing.
    """
    if said in (None, ""):
        return usual
    try:
        value = float(str(said))
    except ValueError:
        return math.nan
    return value if 0 <= value < math.inf else math.nan
