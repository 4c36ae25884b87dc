"""The papers before the first flight as tasks of the plan."""

from __future__ import annotations

from collections.abc import Mapping

from ribwright.core.flight.paper import Paper
from ribwright.core.planning.tasks import Task


def paper_tasks(
    found: tuple[Paper, ...], done: Mapping[str, str], *, after: Mapping[str, tuple[str, ...]] | None = None
) -> tuple[Task, ...]:
    """One task a paper: its hours of work, then its lead time in which nobody's hands are busy.

    Args:
        found: papers, see :func:`ribwright.core.flight.paper.papers`.
        done: evidence by key of what is there already.
        after: by key of a paper, keys of other tasks that it must wait for too (the last work for the inspection).
    """
    known = {one.key for one in found}
    return tuple(
        Task(
            key=f"paper-{one.key}",
            title=one.what,
            hours=max(one.hours, 0.1),
            trade="paper",
            needs=(
                *(f"paper-{need}" for need in one.needs if need in known),
                *(after or {}).get(one.key, ()),
            ),
            cure_hours=24.0 * one.lead_days,
            done=bool(done.get(one.key)),
            source=f"{one.rule} ({one.rung}); lead time: common practice, no source",
        )
        for one in found
    )
