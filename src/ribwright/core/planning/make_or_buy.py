"""A part-assembled unit against building it: hours, money, date, the builder's share, the look it needs."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

from ribwright.core.planning.network import network
from ribwright.core.planning.risk import chance_day, shift_days, simulated
from ribwright.core.planning.tasks import Item, Plan, Task
from ribwright.errors import OutOfRangeError, UnknownNameError

MAJOR_PORTION = 0.51
"""More than half is the builder's: 14 CFR 21.191(g) and the checklist's "51 %", both from memory; it can be changed."""


@dataclass(frozen=True, slots=True)
class Share:
    """The builder's share so far, in the checklist's points (a task is one point, divided in tenths).

    Attributes:
        builder: Points of the builder.
        total: Points of all tasks that apply.
    """

    builder: float
    total: float


@dataclass(frozen=True, slots=True)
class Comparison:
    """Both ways side by side.

    Attributes:
        make_hours: Hours that buying saves.
        look_hours: Hours of incoming inspection that buying adds.
        money: What buying costs more than the parts.
        money_per_hour: The same for each hour saved; infinite when none is.
        make_day: The 4-in-5 date when it is made.
        buy_day: The 4-in-5 date when it is bought.
        moved_days: Days from the one to the other (negative: buying is earlier).
        error_days: Standard error of that.
        share_before: Builder's share if it is made.
        share_after: Builder's share if it is bought.
        keeps_major: Whether the share after buying is still the major portion.
    """

    make_hours: float
    look_hours: float
    money: float
    money_per_hour: float
    make_day: date
    buy_day: date
    moved_days: float
    error_days: float
    share_before: float
    share_after: float
    keeps_major: bool


def compare_ways(
    plan: Plan, replaced: tuple[str, ...], unit: Item, *, parts_price: float, look_hours: float,
    share: Share, points_lost: float, major_portion: float = MAJOR_PORTION, draws: int = 2_000, seed: int = 1,
) -> Comparison:  # fmt: skip
    """Compare making a unit with buying it part-assembled.

    Args:
        plan: The plan in which it is made.
        replaced: Keys of the tasks that buying saves.
        unit: What would be bought.
        parts_price: What the parts cost when it is made.
        look_hours: Hours to look the unit over when it comes.
        share: The builder's points if it is made.
        points_lost: Points that would no longer be the builder's.
        major_portion: The share that the rule asks for.
        draws: Draws for each way.
        seed: As in the simulation.

    Raises:
        UnknownNameError: A task that is not open in the plan.
        OutOfRangeError: Points or hours that can't be.
    """
    open_tasks = {task.key: task for task in plan.tasks if not task.done}
    for key in replaced:
        if key not in open_tasks:
            raise UnknownNameError("task replaced", found=key, allowed="open tasks of the plan")
    if not replaced:
        raise OutOfRangeError("tasks replaced", found="none", allowed="at least one")
    if not (0.0 <= points_lost <= share.builder <= share.total and share.total > 0):
        raise OutOfRangeError(
            "points", found=f"{points_lost:g} of {share.builder:g} of {share.total:g}",
            allowed="lost ≤ builder's ≤ total, total more than 0",
        )  # fmt: skip
    if not 0.0 < major_portion <= 1.0:
        raise OutOfRangeError("major portion", found=major_portion, allowed="more than 0, at most 1")
    if not 0.0 <= look_hours <= 1_000.0:
        raise OutOfRangeError("hours of incoming inspection", found=look_hours, allowed="0 to 1,000")
    bought = bought_plan(plan, replaced, unit, look_hours)
    make = simulated(network(plan), draws=draws, seed=seed).ends
    buy = simulated(network(bought), draws=draws, seed=seed).ends
    moved, error = shift_days(make, buy)
    saved = sum(max(0.0, open_tasks[key].hours - open_tasks[key].spent_hours) for key in replaced)
    money = unit.price - parts_price
    after = (share.builder - points_lost) / share.total
    return Comparison(
        make_hours=saved,
        look_hours=look_hours,
        money=money,
        money_per_hour=money / (saved - look_hours) if saved > look_hours else float("inf"),
        make_day=chance_day(plan.start, make, 0.8).day,
        buy_day=chance_day(plan.start, buy, 0.8).day,
        moved_days=moved,
        error_days=error,
        share_before=share.builder / share.total,
        share_after=after,
        keeps_major=after >= major_portion,
    )


def bought_plan(plan: Plan, replaced: tuple[str, ...], unit: Item, look_hours: float) -> Plan:
    """The plan with one incoming inspection in place of the tasks; what they needed is no longer needed."""
    gone = set(replaced)
    look = Task(
        key=f"look-over {unit.key}",
        title=f"Look over {unit.title or unit.key} on arrival",
        hours=look_hours,
        trade="inspection",
        parts=(unit.key,),
        source="common practice, no source",
    )
    tasks = [
        replace(task, needs=tuple(dict.fromkeys(look.key if key in gone else key for key in task.needs)))
        for task in plan.tasks
        if task.key not in gone
    ]
    return replace(plan, tasks=(*tasks, look), items=(*plan.items, unit))
