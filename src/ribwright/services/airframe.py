"""The breakdown of the aeroplane: assemblies, parts, operations, and how far each is."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from ribwright.services.bench import by_assembly, finished_stages, network
from ribwright.services.project import Project
from ribwright.services.record import (
    HistoryLine,
    StoredObject,
    count_below,
    discrepancies,
    get_object,
    history,
    objects,
)
from ribwright.services.remembered import until_the_breakdown_moves, until_the_record_moves


@dataclass(frozen=True, slots=True)
class Progress:
    """Stages finished of all, and hours logged."""

    done: int
    stages: int


@dataclass(frozen=True, slots=True)
class Branch:
    """An assembly in the breakdown, with what stands in it."""

    one: StoredObject
    depth: int
    parts: int
    operations: int
    progress: Progress
    open_discrepancies: int


@dataclass(frozen=True, slots=True)
class OperationLine:
    """An operation in an assembly's list."""

    one: StoredObject
    progress: Progress
    next_stage: str
    open_discrepancies: int


@dataclass(frozen=True, slots=True)
class AssemblyView:
    """An assembly with its assemblies, parts, operations, spaces and story."""

    one: StoredObject
    parents: tuple[StoredObject, ...]
    assemblies: tuple[Branch, ...]
    parts: tuple[StoredObject, ...]
    operations: tuple[OperationLine, ...]
    spaces: tuple[StoredObject, ...]
    history: tuple[HistoryLine, ...]


@until_the_record_moves
def breakdown(project: Project) -> tuple[Branch, ...]:
    """All assemblies, each below what it belongs to, with counts of what they hold."""
    everything = [*objects(project, noun="aircraft"), *objects(project, noun="assembly")]
    part_count, listed, operations = (
        count_below(project, "part"),
        by_assembly(project),
        network(project).operations,
    )
    opened: dict[str, int] = {}
    for row in discrepancies(project, unsettled=True):
        about = row["about"]
        where = operations[about].work.parent if about in operations else about
        opened[where] = opened.get(where, 0) + 1
    by_parent: dict[str, list[StoredObject]] = {}
    for one in everything:
        by_parent.setdefault(one.parent, []).append(one)
    known = {one.ref for one in everything}
    lines: list[Branch] = []

    def walk(one: StoredObject, depth: int, above: frozenset[str]) -> None:
        own = listed.get(one.ref)
        progress = Progress(own.done, own.stages) if own else Progress(0, 0)
        lines.append(
            Branch(
                one, depth, part_count.get(one.ref, 0), own.operations if own else 0, progress, opened.get(one.ref, 0)
            )
        )  # fmt: skip
        for child in by_parent.get(one.ref, []):
            if child.ref not in above:  # a circle of parents would never end
                walk(child, depth + 1, above | {child.ref})

    for one in everything:
        if one.parent not in known:
            walk(one, 0, frozenset((one.ref,)))
    return tuple(lines)


def newest_aircraft(project: Project) -> StoredObject | None:
    """The aeroplane that is being built: the one entered last; None where the project names none."""
    return max(objects(project, noun="aircraft"), key=lambda one: one.seq, default=None)


@until_the_breakdown_moves
def of_other_aircraft(project: Project) -> frozenset[str]:
    """Aeroplanes of the project beside the one that is being built, and their assemblies."""
    newest = newest_aircraft(project)
    others = {one.ref for one in objects(project, noun="aircraft")} - ({newest.ref} if newest else set())
    above = {one.ref: one.parent for one in objects(project, noun="assembly")}
    return frozenset(others) | {ref for ref in above if _top(ref, above) in others}


def assembly_view(project: Project, ref: str) -> AssemblyView:
    """One assembly, whole.

    Raises:
        UnknownNameError: there is none of this reference.
    """
    one = get_object(project, ref)
    children = objects(project, parent=ref)
    done = finished_stages(project)
    held: dict[str, int] = {}
    for row in discrepancies(project, unsettled=True):
        held[row["about"]] = held.get(row["about"], 0) + 1
    operations = []
    for operation in (child for child in children if child.noun == "operation"):
        names = [str(s["name"]) for s in operation.data.get("stages", []) if s.get("name")]
        left = [name for name in names if f"{operation.ref}/{name}" not in done]
        progress = Progress(len(names) - len(left), len(names))
        operations.append(
            OperationLine(operation, progress, left[0] if left else "", held.get(operation.ref, 0))
        )
    parents: list[StoredObject] = []
    above = one.parent
    while above and len(parents) < 12:
        parent = get_object(project, above)
        parents.insert(0, parent)
        above = parent.parent
    branches = tuple(b for b in breakdown(project) if b.one.parent == ref)
    return AssemblyView(
        one,
        tuple(parents),
        branches,
        tuple(child for child in children if child.noun == "part"),
        tuple(operations),
        tuple(child for child in children if child.noun == "space"),
        history(project, ref)[::-1],
    )


def joined(project: Project, part: StoredObject) -> tuple[StoredObject, ...]:
    """Operations of its assembly that are done on a part."""
    return tuple(
        one
        for one in objects(project, noun="operation", parent=part.parent)
        if part.ref in one.data.get("parts", ())
    )


def _top(ref: str, above: Mapping[str, str]) -> str:
    seen: set[str] = set()
    while ref in above and ref not in seen:
        seen.add(ref)
        ref = above[ref]
    return ref
