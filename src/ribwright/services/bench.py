"""Next on the bench: which stages can be done now, and what holds the others up."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from ribwright.core.bench.stages import Operation, ReadyStage, WaitingStage, ready_stages, stage_needs
from ribwright.core.planning.graph import shortest_cycle
from ribwright.errors import CycleError
from ribwright.services.closing import blocked_closings
from ribwright.services.operations import plan_operation
from ribwright.services.project import Project
from ribwright.services.record import StoredObject, discrepancies, objects, work
from ribwright.services.remembered import until_the_breakdown_moves, until_the_record_moves


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
class Network:
    """What the order of work needs of all operations, whatever was done: it stands until one of them is entered anew.

    Attributes:
        operations: with their stages, none of them held up.
        closers: those that close a space, as they are stored.
        problems: the shortest circle in a sentence, where there is one.
    """

    operations: tuple[Operation, ...]
    closers: tuple[StoredObject, ...]
    problems: tuple[str, ...]


@until_the_breakdown_moves
def network(project: Project) -> Network:
    """All operations of the project as a network of stages."""
    every = objects(project, noun="operation")
    planned = tuple(plan_operation(one) for one in every)
    closers = tuple(one for one in every if one.data.get("closes"))
    return Network(planned, closers, _circle(stage_needs({op.ref: op for op in planned})))


@until_the_record_moves
def _whole_list(project: Project) -> BenchList:
    every = network(project)
    done = finished(work(project))
    held = {
        row["about"]: f"discrepancy {row['ref']}: {row['what'] or 'open'}"
        for row in discrepancies(project, unsettled=True)
    }
    held = {**blocked_closings(project, every.closers, done), **held}
    planned = [replace(op, blocked=held[op.ref]) if op.ref in held else op for op in every.operations]
    ready, waiting = ready_stages(planned, done, circles_wait=True)
    total = sum(len(op.stages) for op in planned)
    counted = sum(1 for op in planned for s in op.stages if f"{op.ref}/{s.name}" in done)
    return BenchList(ready, waiting, counted, total, every.problems)


def _circle(needs: Mapping[str, list[str]]) -> tuple[str, ...]:
    """The shortest circle of stages in a sentence; nothing where there is none."""
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
