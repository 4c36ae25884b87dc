"""Before you close it, and before any step that can't be undone: the lists, from what stands in the record."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from ribwright.core.bench import closing
from ribwright.core.bench.before_step import step_list
from ribwright.core.bench.standing import Line, Said, Thing, open_lines, ready, stage_done
from ribwright.core.record.entry import Entry
from ribwright.errors import ConflictError, UnknownNameError
from ribwright.services.project import Project
from ribwright.services.record import get_object, objects
from ribwright.services.remembered import until_the_record_moves
from ribwright.store import chain
from ribwright.store import objects as stored_objects
from ribwright.store.objects import StoredObject

_ROWS = ("work", "reading", "finding", "photo", "material", "discrepancy")
_AT_ONCE = 400


@dataclass(frozen=True, slots=True)
class Standing:
    """An operation's closing or step list as it stands.

    Attributes:
        ref: of the operation.
        stage: the stage that the list stands before.
        space: the space that it closes, or "".
        lines: done and open.
    """

    ref: str
    stage: str
    space: str
    lines: tuple[Line, ...]

    @property
    def ready(self) -> bool:
        """Whether nothing is open."""
        return ready(self.lines)

    @property
    def open(self) -> tuple[Line, ...]:
        """The lines that are not done."""
        return open_lines(self.lines)


@until_the_record_moves
def before_closing(project: Project, ref: str) -> Standing:
    """The list before an operation closes its space; no lines when it closes none.

    Raises:
        UnknownNameError: there is no such operation.
    """
    operation, things, said = _around(project, ref)
    own = _thing(operation)
    space = str(operation.data.get("closes") or "")
    lines = closing.closing_list(own, things, said, today=project.now()[:10]) if space else ()
    return Standing(ref, closing.closing_stage(own), space, lines)


@until_the_record_moves
def before_stage(project: Project, ref: str, stage: str) -> Standing:
    """What must be so before a stage begins that leaves something behind; the closing list too where it closes.

    Raises:
        UnknownNameError: there is no such operation or stage.
    """
    operation, things, said = _around(project, ref)
    names = [str(one.get("name", "")) for one in operation.data.get("stages", ())]
    if stage not in names:
        raise UnknownNameError("stage", found=stage, allowed=", ".join(names))
    lines = step_list(_thing(operation), stage, things, said, today=project.now()[:10])
    return Standing(ref, stage, str(operation.data.get("closes") or ""), lines)


def refuse_unless_ready(project: Project, ref: str, stage: str) -> None:
    """Refuse to go on to a stage while a line is open.

    Raises:
        ConflictError: naming the first open line and how many there are.
    """
    standing = before_stage(project, ref, stage)
    if not standing.ready:
        first = standing.open[0]
        more = f", and {len(standing.open) - 1} more" if len(standing.open) > 1 else ""
        raise ConflictError(
            f"{ref}, {stage}", found=f"open: {first.text} ({first.found}){more}", allowed="when no line of its list is open",
            because="it can't be undone", mend=first.mend,
        )  # fmt: skip


def blocked_closings(project: Project, about_to_close: Iterable[str]) -> dict[str, str]:
    """Why each operation that would now close a space is not ready, by its reference; ready ones are left out.

    For the bench list and the plan: nothing is read while no space is about to be closed.

    Args:
        about_to_close: operations whose next stage is the one that closes.
    """
    today, held = project.now()[:10], {}
    for ref in about_to_close:
        operation = get_object(project, ref)
        things, said = _family(project, operation.parent, "" if operation.parent else ref)
        missing = open_lines(closing.closing_list(_thing(operation), things, said, today=today))
        if missing:
            more = f", and {len(missing) - 1} more" if len(missing) > 1 else ""
            held[ref] = f"before you close it: {missing[0].text}{more}"
    return held


def spaces(project: Project) -> tuple[tuple[StoredObject, str, bool], ...]:
    """Every space with the operation that closes it and whether it is closed."""
    every = objects(project, noun="operation")
    closes = {str(one.data["closes"]): one for one in every if one.data.get("closes")}
    said = _said(project, [_thing(one) for one in closes.values()])
    made = []
    for space in objects(project, noun="space"):
        closer = closes.get(space.ref)
        own = [entry for entry in said if closer is not None and entry.about == closer.ref]
        stage = closing.closing_stage(_thing(closer)) if closer is not None else ""
        made.append((space, closer.ref if closer else "", stage_done(own, stage) is not None))
    return tuple(made)


def _operation(project: Project, ref: str) -> StoredObject:
    one = get_object(project, ref)
    if one.noun != "operation":
        raise UnknownNameError(
            "operation", found=f"{ref}, a {one.noun}", allowed="the reference of an operation"
        )
    return one


def closing_stage_of(operation: StoredObject) -> str:
    """The stage of an operation that ends access to its space, or "" where it closes none."""
    return closing.closing_stage(_thing(operation))


def _thing(one: StoredObject) -> Thing:
    return Thing(one.ref, one.noun, one.title, one.hand, one.parent, one.data, one.outdated)


def _around(project: Project, ref: str) -> tuple[StoredObject, tuple[Thing, ...], tuple[Said, ...]]:
    """An operation, what belongs to the same assembly, and what stands about it."""
    operation = _operation(project, ref)
    return operation, *_family(project, operation.parent, "" if operation.parent else ref)


@until_the_record_moves
def _family(project: Project, parent: str, alone: str = "") -> tuple[tuple[Thing, ...], tuple[Said, ...]]:
    """An assembly with all that belongs to it (or an operation that belongs to none), the stock, and what stands about
    them. One reading for all lists of an assembly: kept by operation it would be kept as often as there are operations."""
    mine = (
        [*objects(project, parent=parent), get_object(project, parent)]
        if parent
        else [get_object(project, alone)]
    )
    things = tuple(_thing(one) for one in (*mine, *objects(project, noun="stock")))
    return things, tuple(_said(project, things))


def _said(project: Project, things: Iterable[Thing]) -> list[Said]:
    """Standing entries about these, in the order of the record."""
    known = list(things)
    stock = {thing.ref: thing for thing in known if thing.noun == "stock"}
    refs = [thing.ref for thing in known if thing.noun != "stock"]
    made: list[Said] = []
    with project.store.read() as connection:
        for start in range(0, len(refs), _AT_ONCE):
            some = refs[start : start + _AT_ONCE]
            made_at = chain.moments(connection, project.id, some)
            for kind in _ROWS:
                for row in stored_objects.rows_about(connection, project.id, kind, about=some):
                    made.append(_row(kind, row, made_at.get(row["seq"], "")[:10], stock))
            visits = chain.about(connection, project.id, some, kinds=("visit",))
            marks = stored_objects.standing(connection, project.id, [e.seq for e in visits]) if visits else {}
            gone = {seq for seq, row in marks.items() if row["undone_by"] or row["corrected_by"]}
            made += [_visit(entry) for entry in visits if entry.seq not in gone]
    return sorted(made, key=lambda one: one.seq)


def _row(kind: str, row: dict[str, Any], day: str, stock: dict[str, Thing]) -> Said:
    body: dict[str, Any] = json.loads(row["body"]) if row.get("body") else {}
    body |= {name: value for name, value in row.items() if name != "body" and isinstance(value, str)}
    if kind == "material" and not body.get("expires") and row["item"] in stock:
        body["expires"] = str(stock[row["item"]].data.get("expires", ""))
    person = str(row.get("person", ""))
    return Said(
        kind, row["about"], row["seq"], person, str(body.get("stage", "")), str(body.get("day") or day), body
    )


def _visit(entry: Entry) -> Said:
    return Said("visit", entry.about, entry.seq, entry.by, "", entry.at[:10], entry.body)
