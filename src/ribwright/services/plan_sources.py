"""What the plan is made from, read from the record once: objects, work, findings, discrepancies, settings."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from ribwright.core.planning.tasks import Task
from ribwright.services.flight import project_paper_tasks
from ribwright.services.plan_settings import Settings, settings
from ribwright.services.project import Project
from ribwright.services.record import StoredObject, discrepancies, findings, get_entry, objects, work

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
    """

    today: date
    objects: Mapping[str, StoredObject]
    work: tuple[Row, ...]
    findings: tuple[Row, ...]
    discrepancies: tuple[Row, ...]
    settings: Settings
    papers: tuple[Task, ...] = ()

    def of(self, noun: str) -> tuple[StoredObject, ...]:
        """The objects of a kind, in the order of their references."""
        return tuple(one for one in self.objects.values() if one.noun == noun)

    def within(self, ref: str) -> set[str]:
        """The object and everything below it."""
        below: dict[str, list[str]] = {}
        for one in self.objects.values():
            below.setdefault(one.parent, []).append(one.ref)
        found, queue = set(), [ref]
        while queue:
            at = queue.pop()
            if at in found:
                continue
            found.add(at)
            queue += below.get(at, [])
        return found

    def with_object(self, one: StoredObject) -> Sources:
        """The same with one object as it would be."""
        return replace(self, objects={**self.objects, one.ref: one})


def sources(project: Project, *, today: date | None = None) -> Sources:
    """Read the record."""
    every = {one.ref: one for one in objects(project)}
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
