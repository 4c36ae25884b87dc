"""What the plan is made from, read from the record once: objects, work, findings, discrepancies, settings."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any

from ribwright.core.planning.tasks import Task
from ribwright.services.flight import project_paper_tasks
from ribwright.services.plan_settings import Settings, settings
from ribwright.services.project import Project
from ribwright.services.record import StoredObject, discrepancies, findings, get_entry, work
from ribwright.services.remembered import of_each

Row = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Sources:
    """The record as the plan sees it.

    Attributes:
        today: the day from which it is planned.
        objects: every object that stands, by reference.
        work: hours logged, oldest first.
        findings: findings that stand, oldest first, each with its `where`.
        discrepancies: those that are not settled.
        settings: of the plan.
        papers: before the first flight, a task each.
        below: references of what stands directly below each object.
    """

    today: date
    objects: Mapping[str, StoredObject]
    work: tuple[Row, ...]
    findings: tuple[Row, ...]
    discrepancies: tuple[Row, ...]
    settings: Settings
    papers: tuple[Task, ...] = ()
    below: Mapping[str, tuple[str, ...]] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        below: dict[str, list[str]] = {}
        for one in self.objects.values():
            below.setdefault(one.parent, []).append(one.ref)
        object.__setattr__(self, "below", {ref: tuple(refs) for ref, refs in below.items()})

    def of(self, noun: str) -> tuple[StoredObject, ...]:
        """The objects of a kind, in the order of their references."""
        return tuple(one for one in self.objects.values() if one.noun == noun)

    def within(self, ref: str) -> set[str]:
        """The object and everything below it."""
        found, queue = set[str](), [ref]
        while queue:
            at = queue.pop()
            if at in found:
                continue
            found.add(at)
            queue += self.below.get(at, ())
        return found

    def with_object(self, one: StoredObject) -> Sources:
        """The same with one object as it would be."""
        return replace(self, objects={**self.objects, one.ref: one})


_LOOKED_AT = {
    "operation": ("stages", "after", "trade", "calculation", "parts"),
    "part": ("order",),
    "space": (),
    "stock": (),
    "tool": (),
    "drawing": (),
}
"""Of these kinds the plan looks at so much of the drawing data; of the others at all of it."""


@of_each()
def _planned(one: StoredObject) -> StoredObject:
    """Every object as the plan looks at it."""
    names = _LOOKED_AT.get(one.noun)
    if names is None:
        return replace(one, outdated=False)
    data = {name: one.data[name] for name in names if name in one.data}
    layers = (one.data.get("inputs") or {}).get("layers") if one.noun == "operation" else None
    return replace(one, outdated=False, data=data | ({"inputs": {"layers": layers}} if layers else {}))


def sources(project: Project, *, today: date | None = None) -> Sources:
    """Read the record."""
    every = dict(_planned(project))
    for one in list(every.values()):
        if one.noun == "order" and one.data.get("state") == "ordered" and not one.data.get("order_on"):
            # An order that is out keeps its date: without one, the day on which it was entered.
            day = get_entry(project, one.seq).entry.at[:10]
            every[one.ref] = replace(one, data={**one.data, "order_on": day})
    return Sources(
        today=today or today_of(project),
        objects=every,
        work=work(project),
        findings=tuple({**row, "where": _where(row)} for row in findings(project)),
        discrepancies=discrepancies(project, unsettled=True),
        settings=settings(project),
        papers=project_paper_tasks(project),
    )


def today_of(project: Project) -> date:
    """The day of the project's clock."""
    return date.fromisoformat(project.now()[:10])


def _where(row: Row) -> str:
    body = json.loads(row["body"]) if row.get("body") else {}
    return str(body.get("where") or "")
