"""The changes that are worth asking about when one wants to know what moves the date."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from ribwright.core.planning.risk import with_item
from ribwright.core.planning.tasks import Plan


def usual_changes(plan: Plan, *, most: int = 24) -> tuple[tuple[str, Plan, Plan], ...]:
    """Name, plan if it goes well, plan if it goes badly.

    One hour a week more or less; weeks without work; long stops; the helper; each trade a fifth shorter or
    longer, the largest trades first; each item a month earlier or later, the slowest first.
    """
    week, pace = plan.week, plan.pace
    changes: list[tuple[str, Plan, Plan]] = []
    total = sum(week.hours)
    factor = 1.0 / total
    changes.append(
        (
            "an hour a week more or less",
            replace(plan, week=_scaled(plan, 1.0 + factor).week),
            replace(plan, week=_scaled(plan, max(0.2, 1.0 - factor)).week),
        )
    )
    changes.append(
        (
            "weeks without work, half or half again",
            replace(plan, pace=replace(pace, idle_week=pace.idle_week / 2)),
            replace(plan, pace=replace(pace, idle_week=min(0.9, pace.idle_week * 1.5))),
        )
    )
    changes.append(
        (
            "long stops, none or twice as often",
            replace(plan, pace=replace(pace, stop_week=0.0)),
            replace(plan, pace=replace(pace, stop_week=min(0.2, pace.stop_week * 2))),
        )
    )
    if any(task.helper and not task.done for task in plan.tasks):
        half = tuple(h / 2 for h in week.helper_hours)
        twice = tuple(min(a, 2 * h) for a, h in zip(week.hours, week.helper_hours, strict=True))
        changes.append(
            (
                "the helper there twice or half as long",
                replace(plan, week=replace(week, helper_hours=twice)),
                replace(plan, week=replace(week, helper_hours=half)),
            )
        )
    hours: dict[str, float] = {}
    for task in plan.tasks:
        if not task.done:
            hours[task.trade] = hours.get(task.trade, 0.0) + task.hours
    for trade in sorted(hours, key=lambda name: (-hours[name], name)):
        changes.append(
            (f"{trade} a fifth shorter or longer", _trade(plan, trade, 0.8), _trade(plan, trade, 1.2))
        )
    for item in sorted(plan.items, key=lambda item: (-item.lead_days, item.key)):
        if item.arrived:
            continue
        begun = item.order_on or plan.start
        later = (
            with_item(plan, item.key, order_on=begun + timedelta(days=30))
            if not item.ordered
            else with_item(plan, item.key, lead_days=item.lead_days + 30)
        )
        changes.append(
            (
                f"{item.title or item.key} a month earlier or later",
                with_item(plan, item.key, lead_days=max(1.0, item.lead_days - 30)),
                later,
            )
        )
    return tuple(changes[:most])


def _scaled(plan: Plan, factor: float) -> Plan:
    hours = tuple(min(24.0, h * factor) for h in plan.week.hours)
    return replace(plan, week=replace(plan.week, hours=hours))


def _trade(plan: Plan, trade: str, factor: float) -> Plan:
    tasks = tuple(
        replace(task, hours=task.hours * factor) if task.trade == trade and not task.done else task
        for task in plan.tasks
    )
    return replace(plan, tasks=tasks)
