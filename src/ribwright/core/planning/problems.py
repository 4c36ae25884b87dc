"""What is wrong with a plan, one sentence each, and the plan without it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from ribwright.core.planning.graph import shortest_cycle
from ribwright.core.planning.tasks import Item, Pace, Plan, Task, Week
from ribwright.errors import (
    CycleError,
    MissingError,
    NeverRunsError,
    OutOfRangeError,
    RibwrightError,
    UnknownNameError,
)

LONGEST_HOURS = 20_000.0
LONGEST_DAYS = 3_650.0


def checked(plan: Plan) -> tuple[Plan, tuple[RibwrightError, ...]]:
    """Everything wrong with a plan, and what is left of it that can be planned.

    A faulty task is left out, and those that need it keep their other needs, so that the rest of the plan
    can still be shown; every fault is in the list. Faults of the week or the pace are raised, since
    nothing can be planned without them.

    Raises:
        OutOfRangeError: A week or pace that can't be.
        NeverRunsError: No working hours at all.
    """
    check_week(plan.week)
    check_pace(plan.pace)
    faults: list[RibwrightError] = []
    shop = dict(plan.shop)
    for name, amount in plan.shop:
        if not _number(amount, 0.0, 30_000.0):
            faults.append(OutOfRangeError(f"shop: {name}", found=amount, allowed="0 to 30,000"))
            shop.pop(name)
    items = _good_items(plan, faults)
    tasks = _good_tasks(plan, shop, {item.key for item in items}, faults)
    tasks = _without_circles(tasks, faults)
    kept = replace(plan, tasks=tuple(tasks), items=tuple(items), shop=tuple(shop.items()))
    return kept, tuple(faults)


def require_sound(plan: Plan) -> Plan:
    """The plan, or the first thing wrong with it raised."""
    kept, faults = checked(plan)
    if faults:
        raise faults[0]
    return kept


ALIKE = 3
"""As many faults of one kind are said one by one; more are said together."""


def sentences(faults: Sequence[RibwrightError]) -> tuple[str, ...]:
    """Every fault in a sentence; where the same is wrong with many tasks, one sentence for all of them."""
    kinds: dict[tuple[object, ...], list[RibwrightError]] = {}
    for fault in faults:
        kind = (type(fault), fault.found, fault.allowed, fault.mend, fault.because)
        kinds.setdefault(kind, []).append(fault)
    said: list[str] = []
    for alike in kinds.values():
        if len(alike) <= ALIKE:
            said += [fault.sentence() for fault in alike]
            continue
        one = alike[0]
        named = ", ".join(fault.field for fault in alike[:ALIKE])
        said.append(
            type(one)(
                f"{len(alike)} in all: {named} and {len(alike) - ALIKE} more", found=one.found, allowed=one.allowed,
                mend=one.mend, because=one.because,
            ).sentence()
        )  # fmt: skip
    return tuple(dict.fromkeys(said))


def check_week(week: Week) -> None:
    """Raise if the week can't be: hours beyond a day, more help than hours, nothing at all."""
    for what, hours in (
        ("hours", week.hours),
        ("helper", week.helper_hours),
        ("daylight", week.daylight_hours),
    ):
        if len(hours) != 7:
            raise OutOfRangeError(f"week: {what}", found=f"{len(hours)} days", allowed="seven, Monday first")
        for day, value in enumerate(hours):
            if not _number(value, 0.0, 24.0):
                raise OutOfRangeError(f"week: {what}, day {day + 1}", found=value, allowed="0 to 24 hours")
    for month in week.warm_months:
        if not 1 <= month <= 12:
            raise OutOfRangeError("week: warm months", found=month, allowed="1 to 12")
    for first, last in week.blocked:
        if last < first:
            raise OutOfRangeError(
                "week: blocked", found=f"{first} to {last}", allowed="an end on or after the beginning"
            )
    if sum(week.hours) <= 0:
        raise NeverRunsError(
            "week: hours", found="no hours on any day", mend="Enter the hours of a normal week"
        )


def check_pace(pace: Pace) -> None:
    """Raise if the pace can't be."""
    for what, value, low, high in (
        ("shared", pace.shared, -3.0, 3.0),
        ("shared_sd", pace.shared_sd, 0.0, 2.0),
        ("trade_sd_new", pace.trade_sd_new, 0.0, 2.0),
        ("idle_week", pace.idle_week, 0.0, 0.95),
        ("idle_known", pace.idle_known, 0.5, 1e6),
        ("stop_week", pace.stop_week, 0.0, 0.2),
        ("stop_weeks", pace.stop_weeks, 0.0, 200.0),
        ("stop_spread", pace.stop_spread, 1.0, 10.0),
        ("noise_scale", pace.noise_scale, 0.0, 5.0),
    ):
        if not _number(value, low, high):
            raise OutOfRangeError(f"pace: {what}", found=value, allowed=f"{low:g} to {high:g}")
    for name, value in (*pace.trade, *pace.trade_sd, *pace.trade_load):
        if not _number(value, -3.0, 3.0):
            raise OutOfRangeError(f"pace: {name}", found=value, allowed="-3 to 3")


def _number(value: float, low: float, high: float) -> bool:
    return math.isfinite(value) and low <= value <= high


def _good_items(plan: Plan, faults: list[RibwrightError]) -> list[Item]:
    good: list[Item] = []
    seen: set[str] = set()
    for item in plan.items:
        fault = _item_fault(item, plan.start, seen)
        if fault is None:
            good.append(item)
        else:
            faults.append(fault)
        seen.add(item.key)
    return good


def _item_fault(item: Item, start: date, seen: set[str]) -> RibwrightError | None:
    name = f"item {item.key}"
    if not item.key:
        return MissingError("item", mend="Give every item a short name")
    if item.key in seen:
        return OutOfRangeError(name, found="twice", allowed="one item of this name")
    if not _number(item.lead_days, 0.0, LONGEST_DAYS):
        return OutOfRangeError(f"{name}: lead time", found=item.lead_days, allowed="0 to 3,650 days")
    if item.lead_days > 0 and item.lead_spread == 1.0 and not item.arrived:
        return MissingError(
            f"{name}: spread of the lead time",
            because="a lead time without a spread promises a day that nobody keeps",
            mend="Enter the factor that two of three deliveries keep within, such as 1.3",
        )
    if not _number(item.lead_spread, 1.0, 5.0):
        return OutOfRangeError(f"{name}: spread of the lead time", found=item.lead_spread, allowed="1 to 5")
    for what, value in (("price", item.price), ("deposit", item.deposit), ("holding", item.holding_month)):
        if not _number(value, 0.0, 1e9):
            return OutOfRangeError(f"{name}: {what}", found=value, allowed="0 or more")
    if item.deposit > item.price:
        return OutOfRangeError(f"{name}: deposit", found=item.deposit, allowed=f"at most {item.price:g}")
    if item.order_on is not None and item.order_on < start and not (item.ordered or item.arrived):
        return OutOfRangeError(
            f"{name}: order date",
            found=item.order_on,
            allowed=f"{start} or later, as it is not ordered yet",
            mend="Mark it as ordered, or choose a later day",
        )
    if item.ordered and item.order_on is None and not item.arrived:
        return MissingError(f"{name}: order date", mend="Enter the day on which it was ordered")
    if item.ordered and item.order_on is not None and item.order_on > start:
        return OutOfRangeError(
            f"{name}: order date",
            found=item.order_on,
            allowed=f"{start} or earlier, as it is ordered already",
        )
    return None


def _good_tasks(
    plan: Plan, shop: dict[str, float], items: set[str], faults: list[RibwrightError]
) -> list[Task]:
    keys = {task.key for task in plan.tasks}
    good: list[Task] = []
    seen: set[str] = set()
    for task in plan.tasks:
        fault = _task_fault(task, plan, shop, seen)
        seen.add(task.key)
        if fault is not None:
            faults.append(fault)
            continue
        for what, named, known in (("needs", task.needs, keys), ("parts", task.parts, items)):
            for other in named:
                if other not in known and not (what == "parts" and other in {i.key for i in plan.items}):
                    faults.append(
                        UnknownNameError(
                            f"task {task.key}: {what}",
                            found=other,
                            mend="Correct the name, or add it to the plan",
                        )
                    )
        good.append(task)
    kept = {task.key for task in good}
    return [
        # Most tasks stay as they are; copying a thousand of them costs more than looking at them.
        task
        if kept.issuperset(task.needs) and items.issuperset(task.parts)
        else replace(
            task,
            needs=tuple(k for k in task.needs if k in kept),
            parts=tuple(k for k in task.parts if k in items),
        )
        for task in good
    ]


def _task_fault(task: Task, plan: Plan, shop: dict[str, float], seen: set[str]) -> RibwrightError | None:
    name = f"task {task.key}"
    if not task.key:
        return MissingError("task", mend="Give every task a short name")
    if task.key in seen:
        return OutOfRangeError(name, found="twice", allowed="one task of this name")
    for what, value, high in (
        ("hours", task.hours, LONGEST_HOURS),
        ("spent hours", task.spent_hours, LONGEST_HOURS),
        ("cure", task.cure_hours, 24 * LONGEST_DAYS),
    ):
        if not _number(value, 0.0, high):
            return OutOfRangeError(f"{name}: {what}", found=value, allowed=f"0 to {high:,.0f} hours")
    if not _number(task.spread, 1.0, 10.0):
        return OutOfRangeError(f"{name}: spread", found=task.spread, allowed="1 to 10")
    if task.done:
        return None
    for resource, amount in task.uses:
        if not _number(amount, 0.0, 30_000.0):
            return OutOfRangeError(f"{name}: {resource}", found=amount, allowed="0 to 30,000")
        if resource not in shop:
            return UnknownNameError(
                f"{name}: uses", found=resource, allowed=", ".join(shop) or "nothing: the shop has no entries"
            )
        if amount > shop[resource]:
            return NeverRunsError(
                name,
                found=f"takes {amount:g} of {resource}",
                allowed=f"{shop[resource]:g}, all that the shop has",
                mend="Find it another place, or make it smaller",
            )
    if task.hours > 0 and not any(_hours_for(task, plan.week)):
        wants = [
            w
            for w, yes in (("helper", task.helper), ("warmth", task.warm), ("daylight", task.daylight))
            if yes
        ]
        return NeverRunsError(
            name,
            found="needs " + " and ".join(wants),
            allowed="hours of the week in which that is so",
            mend="Enter when it can be, or take the need away",
        )
    if task.not_before is not None and (task.not_before - plan.start).days > LONGEST_DAYS:
        return OutOfRangeError(f"{name}: not before", found=task.not_before, allowed="within ten years")
    return None


def _hours_for(task: Task, week: Week) -> list[float]:
    if task.warm and not week.warm_months:
        return []
    hours = list(week.hours)
    if task.helper:
        hours = [min(a, b) for a, b in zip(hours, week.helper_hours, strict=True)]
    if task.daylight:
        hours = [min(a, b) for a, b in zip(hours, week.daylight_hours, strict=True)]
    return hours


def _without_circles(tasks: list[Task], faults: list[RibwrightError]) -> list[Task]:
    """Cut one need of each circle, the shortest first, naming it, until none is left."""
    index = {task.key: i for i, task in enumerate(tasks)}
    needs = [[index[k] for k in task.needs] for task in tasks]
    circle = shortest_cycle(needs)
    if not circle:
        return tasks
    while circle:
        names = [tasks[i].key for i in [*circle, circle[0]]]
        faults.append(
            CycleError(
                "plan",
                found=" waits for ".join(names),
                mend="Take one of these needs away",
            )
        )
        needs[circle[-1]].remove(circle[0])
        circle = shortest_cycle(needs)
    return [
        replace(task, needs=tuple(tasks[j].key for j in row)) for task, row in zip(tasks, needs, strict=True)
    ]
