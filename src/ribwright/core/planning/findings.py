"""What the bench finds changes the plan: a rework adds its task, a discrepancy stops what follows."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

from ribwright.core.planning.tasks import Item, Plan, Task
from ribwright.errors import UnknownNameError


def _known(plan: Plan, key: str) -> Task:
    for task in plan.tasks:
        if task.key == key:
            return task
    raise UnknownNameError("task", found=key, allowed="a task of the plan")


def with_rework(plan: Plan, key: str, *, number: str, title: str, hours: float, spread: float = 2.0) -> Plan:
    """Add a rework after a task; everything that needs the task needs the rework as well.

    Raises:
        UnknownNameError: No such task.
    """
    task = _known(plan, key)
    extra = Task(
        key=f"rework {number}", title=title, hours=hours, spread=spread, trade=task.trade, needs=(key,),
        helper=task.helper, warm=task.warm, source="finding",
    )  # fmt: skip
    return replace(plan, tasks=(*_followed(plan, key, extra.key), extra))


def with_discrepancy(
    plan: Plan, key: str, *, number: str, answer_days: float = 14.0, spread: float = 2.5,
    also: Collection[str] = (),
) -> Plan:  # fmt: skip
    """Stop what follows a task until its discrepancy is answered: a wait, no work.

    The answer's time is drawn like a lead time, from a task without hours that needs it as its part. What is
    left of the task itself waits for the answer as well, and so do the open tasks named in `also`.

    Raises:
        UnknownNameError: No such task.
    """
    _known(plan, key)
    answer = Item(
        key=f"answer {number}", title=f"Answer to discrepancy {number}", lead_days=answer_days,
        lead_spread=spread, ordered=True, order_on=plan.start,
    )  # fmt: skip
    hold = Task(
        key=f"discrepancy {number}", title=f"Discrepancy {number} answered", hours=0.0, trade="inspection",
        needs=(key,), parts=(answer.key,), source="finding",
    )  # fmt: skip
    tasks = tuple(
        replace(task, parts=(*task.parts, answer.key))
        if (task.key == key or task.key in also) and not task.done
        else task
        for task in _followed(plan, key, hold.key)
    )
    return replace(plan, tasks=(*tasks, hold), items=(*plan.items, answer))


def _followed(plan: Plan, key: str, extra: str) -> tuple[Task, ...]:
    return tuple(
        replace(task, needs=(*task.needs, extra)) if key in task.needs and not task.done else task
        for task in plan.tasks
    )
