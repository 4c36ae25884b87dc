"""Next on the bench: which stages can be done now, and what holds the others up."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import accumulate

from ribwright.core.bench.stages import Operation, Place, ReadyStage, WaitingStage, next_stages, stage_needs
from ribwright.core.planning.graph import shortest_cycle, topological_order
from ribwright.errors import CycleError
from ribwright.services.closing import blocked_closings, closing_stage_of
from ribwright.services.operations import plan_operation
from ribwright.services.project import Project
from ribwright.services.record import StoredObject, discrepancies
from ribwright.services.remembered import following, of_each, until_the_record_moves
from ribwright.store import objects as stored_objects


@dataclass(frozen=True, slots=True)
class BenchList:
    """What is ready and what waits, over the whole aeroplane or one assembly; a circle is said in ``problems``."""

    ready: tuple[ReadyStage, ...]
    waiting: tuple[WaitingStage, ...]
    done: int
    stages: int
    problems: tuple[str, ...] = ()


def next_on_bench(project: Project, *, parent: str | None = None) -> BenchList:
    """Stages ready now in a sensible order, and the next stage of every other operation with what it waits for.

    Operations that wait for each other stay waiting; the shortest circle is named, the rest still stands.

    Args:
        parent: only operations of this assembly.
    """
    made = _whole_list(project)
    if parent is None:
        return made
    ready = tuple(line for line in made.ready if line.parent == parent)
    waiting = tuple(line for line in made.waiting if line.parent == parent)
    return BenchList(ready, waiting, made.done, made.stages, made.problems)


@dataclass(frozen=True, slots=True)
class Planned:
    """An operation as the order of work sees it, whatever was done, and its stage that closes a space, or ""."""

    work: Operation
    closing: str


@of_each("operation")
def planned(one: StoredObject) -> Planned:
    """Every operation of the project with its stages, none of them held up."""
    return Planned(plan_operation(one), closing_stage_of(one))


@dataclass(frozen=True, slots=True, eq=False)
class Assembly:
    """The operations of one assembly; equal only to itself, so that what is worked out from it is found again.

    Attributes:
        operations: in the order of their references.
        outside: operations of other assemblies that these wait for.
        stages: how many they have together.
    """

    operations: tuple[Operation, ...]
    outside: frozenset[str]
    stages: int


@dataclass(frozen=True, slots=True)
class Network:
    """What the order of work needs of all operations, whatever was done: it stands until one of them is entered anew.

    Attributes:
        operations: by reference.
        assemblies: the same by the assembly that they belong to.
        looked_at: by the reference of an operation, the assemblies beside its own where something waits for it.
        closers: those that close a space, with the stage that does.
        empty: those without a stage; nothing waits for them.
        problems: the shortest circle in a sentence, where there is one.
    """

    operations: Mapping[str, Planned]
    assemblies: Mapping[str, Assembly]
    looked_at: Mapping[str, tuple[str, ...]]
    closers: tuple[tuple[str, str], ...]
    empty: tuple[str, ...]
    problems: tuple[str, ...]


@following(planned)
def network(every: Mapping[str, Planned], before: Network | None) -> Network:
    """All operations of the project as a network of stages; assemblies in which nothing changed are taken over."""
    by_parent: dict[str, list[Operation]] = {}
    for one in every.values():
        by_parent.setdefault(one.work.parent, []).append(one.work)
    needs = {ref: _needed(one.work, every) for ref, one in every.items()}
    assemblies, looked_at = {}, dict[str, list[str]]()
    for parent, listed in by_parent.items():
        operations = tuple(listed)
        own = {op.ref for op in operations}
        outside = frozenset(need for op in operations for need in needs[op.ref] if need not in own)
        known = None if before is None else before.assemblies.get(parent)
        if known is None or known.operations != operations or known.outside != outside:
            known = Assembly(operations, outside, sum(len(op.stages) for op in operations))
        assemblies[parent] = known
        for ref in outside:
            looked_at.setdefault(ref, []).append(parent)
    return Network(
        every,
        assemblies,
        {ref: tuple(parents) for ref, parents in looked_at.items()},
        tuple((ref, one.closing) for ref, one in every.items() if one.closing),
        tuple(ref for ref, one in every.items() if not one.work.stages),
        _circle(every, needs),
    )


@dataclass(frozen=True, slots=True)
class AssemblyList:
    """What is ready and what waits in one assembly, and how many of its stages are finished."""

    ready: tuple[tuple[Place, ReadyStage], ...]
    waiting: tuple[WaitingStage, ...]
    done: int
    stages: int
    operations: int


@until_the_record_moves
def by_assembly(project: Project) -> Mapping[str, AssemblyList]:
    """The same as ``next_on_bench``, by assembly. Only assemblies in which something changed are looked through again."""
    every, done = network(project), finished_stages(project)
    over: dict[str, set[str]] = {}
    for ref, keys in {**dict.fromkeys(every.empty, ()), **_done_of(project)}.items():
        one = every.operations.get(ref)
        if one is None:
            continue
        whole = all(f"{ref}/{stage.name}" in done for stage in one.work.stages)
        for parent in (one.work.parent, *every.looked_at.get(ref, ())):
            over.setdefault(parent, set()).update(keys, (ref,) if whole else ())
    held = blocked_closings(project, about_to_close(project))
    for row in discrepancies(project, unsettled=True):
        held[row["about"]] = f"discrepancy {row['ref']}: {row['what'] or 'open'}"
    held_in: dict[str, set[tuple[str, str]]] = {}
    for ref, why in held.items():
        if ref in every.operations:
            held_in.setdefault(every.operations[ref].work.parent, set()).add((ref, why))
    return {
        parent: _listed(one, frozenset(over.get(parent, ())), frozenset(held_in.get(parent, ())))
        for parent, one in every.assemblies.items()
    }


@lru_cache(maxsize=4096)
def _listed(one: Assembly, over: frozenset[str], held: frozenset[tuple[str, str]]) -> AssemblyList:
    """Args: what is over of what this assembly is or waits for, stages and whole operations; what is held up, and why."""
    why = dict(held)
    operations = [replace(op, blocked=why[op.ref]) if op.ref in why else op for op in one.operations]
    ready, waiting = next_stages(operations, over, over)
    done = sum(f"{op.ref}/{stage.name}" in over for op in operations for stage in op.stages) if over else 0
    return AssemblyList(tuple(sorted(ready)), waiting, done, one.stages, len(operations))


@until_the_record_moves
def _whole_list(project: Project) -> BenchList:
    lists = by_assembly(project).values()
    ready = sorted(line for one in lists for line in one.ready)
    waiting = sorted((line for one in lists for line in one.waiting), key=lambda line: line.ref)
    return BenchList(
        tuple(line for _, line in ready),
        tuple(waiting),
        sum(one.done for one in lists),
        sum(one.stages for one in lists),
        network(project).problems,
    )


def about_to_close(project: Project) -> tuple[str, ...]:
    """Operations whose next stage is the one that closes a space."""
    every, done = network(project), finished_stages(project)
    return tuple(
        ref for ref, stage in every.closers if _next_stage(every.operations[ref].work, done) == stage
    )


def _needed(one: Operation, every: Mapping[str, Planned]) -> set[str]:
    """Operations of which this one waits for a stage or for the whole."""
    needs = (*one.after, *(need for stage in one.stages for need in stage.after))
    return {ref for need in needs for ref in accumulate(need.split("/"), "{}/{}".format) if ref in every}


def _next_stage(one: Operation, done: frozenset[str]) -> str:
    return next((stage.name for stage in one.stages if f"{one.ref}/{stage.name}" not in done), "")


def _circle(every: Mapping[str, Planned], needed: Mapping[str, set[str]]) -> tuple[str, ...]:
    """The shortest circle of stages in a sentence; nothing where there is none.

    Only operations that come into no order as a whole can hold one: the stages of the others are not looked at.
    """
    refs = list(every)
    at = {ref: number for number, ref in enumerate(refs)}
    left = set(range(len(refs))) - set(
        topological_order([[at[need] for need in needed[ref]] for ref in refs])
    )
    needs = stage_needs({refs[number]: every[refs[number]].work for number in sorted(left)})
    names = list(needs)
    place = {name: k for k, name in enumerate(names)}
    found = shortest_cycle([[place[need] for need in needs[name] if need in place] for name in names])
    if not found:
        return ()
    circle = " waits for ".join(names[k] for k in [*found, found[0]])
    fault = CycleError(
        "order of work",
        found=circle,
        mend="Take one of these “after” entries away; the rest of the list stands.",
    )
    return (fault.sentence(),)


@until_the_record_moves
def finished_stages(project: Project) -> frozenset[str]:
    """``REF/stage`` of every stage whose last word is that it is finished."""
    return frozenset(key for keys in _done_of(project).values() for key in keys)


@until_the_record_moves
def _done_of(project: Project) -> Mapping[str, tuple[str, ...]]:
    """The finished stages, as ``REF/stage``, of each object that has any."""
    with project.store.read() as connection:
        words = stored_objects.words_on_stages(connection, project.id)
    done: dict[str, tuple[str, ...]] = {}
    for (about, stage), word in words.items():
        if word == "yes":
            done[about] = (*done.get(about, ()), f"{about}/{stage}")
    return done


def finished(log: Iterable[Mapping[str, object]]) -> set[str]:
    """``REF/stage`` of every stage whose last word is that it is finished."""
    state: dict[str, bool] = {}
    for row in log:
        if row["done"] in ("yes", "no"):
            state[f"{row['about']}/{row['stage']}"] = row["done"] == "yes"
    return {key for key, done in state.items() if done}


def standing_of(project: Project, ref: str) -> tuple[str, ...]:
    """What this operation waits for now; empty when nothing holds it up."""
    lists = next_on_bench(project)
    return next((line.waits_for for line in lists.waiting if line.ref == ref), ())
