"""Stages of operations: what can be done now, in a sensible order, and what the rest waits for."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

from ribwright.errors import CycleError

USUAL_STAGES = ("fit", "drill", "deburr", "dimple and countersink", "finish", "refit", "rivet")


@dataclass(frozen=True, slots=True)
class Stage:
    """A stage of an operation; ``hours`` is the estimate, ``after`` what else must be finished before it."""

    name: str
    hours: float | None = None
    helper: bool = False
    after: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Operation:
    """What the order of work needs to know of an operation.

    ``after`` names stages (``REF/stage``) or whole operations (``REF``) that come before its first stage.
    ``blocked`` says why nothing may be done on it now (an open discrepancy, an open line before closing).
    """

    ref: str
    title: str
    stages: tuple[Stage, ...]
    after: tuple[str, ...] = ()
    parent: str = ""
    blocked: str = ""


@dataclass(frozen=True, slots=True)
class ReadyStage:
    """A stage that can be done now, and why it stands where it stands in the list."""

    ref: str
    stage: str
    title: str
    parent: str
    hours: float | None
    helper: bool
    why: str


@dataclass(frozen=True, slots=True)
class WaitingStage:
    """The next stage of an operation that can't be done yet, and what it waits for."""

    ref: str
    stage: str
    title: str
    parent: str
    waits_for: tuple[str, ...]


def ready_stages(
    operations: Sequence[Operation], done: Collection[str], *, circles_wait: bool = False
) -> tuple[tuple[ReadyStage, ...], tuple[WaitingStage, ...]]:
    """Split the next stage of every unfinished operation into ready and waiting.

    Operations already begun come first (a sub-assembly half done is in the way), then the same kind of
    stage side by side (one set-up serves them all), then the order of their references.

    Args:
        operations: all that belong to the work looked at.
        done: ``REF/stage`` of every finished stage.
        circles_wait: leave those that wait for each other waiting, instead of refusing the whole list.

    Raises:
        CycleError: operations that wait for each other; one circle is named.
    """
    finished = set(done)
    by_ref = {operation.ref: operation for operation in operations}
    if not circles_wait:
        _refuse_circle(by_ref)
    whole = {ref for ref, op in by_ref.items() if all(f"{ref}/{s.name}" in finished for s in op.stages)}
    ready, waiting = next_stages(operations, finished, whole)
    return tuple(line for _, line in sorted(ready, key=lambda pair: pair[0])), waiting


Place = tuple[int, int, str, str]
"""Where a stage stands in the list: begun or not, kind of stage, assembly, reference."""


def next_stages(
    operations: Iterable[Operation], done: Collection[str], whole: Collection[str]
) -> tuple[tuple[tuple[Place, ReadyStage], ...], tuple[WaitingStage, ...]]:
    """The next stage of some operations: those that are ready with their place in the list, and the waiting ones.

    Args:
        operations: of the aeroplane or of a part of it.
        done: ``REF/stage`` of every finished stage that one of these is or waits for.
        whole: references of the operations finished that one of these waits for.
    """
    ready: list[tuple[Place, ReadyStage]] = []
    waiting: list[WaitingStage] = []
    for operation in operations:
        following = next((s for s in operation.stages if f"{operation.ref}/{s.name}" not in done), None)
        if following is None:
            continue
        begun = following is not operation.stages[0]
        needs = following.after + (() if begun else operation.after)
        missing = tuple(need for need in needs if need not in done and need not in whole)
        if operation.blocked:
            missing = (operation.blocked, *missing)
        if missing:
            waiting.append(
                WaitingStage(operation.ref, following.name, operation.title, operation.parent, missing)
            )
            continue
        why = "begun; nothing else holds it up" if begun else "nothing holds it up"
        place = USUAL_STAGES.index(following.name) if following.name in USUAL_STAGES else len(USUAL_STAGES)
        line = ReadyStage(
            operation.ref,
            following.name,
            operation.title,
            operation.parent,
            following.hours,
            following.helper,
            why,
        )
        ready.append(((0 if begun else 1, place, operation.parent, operation.ref), line))
    return tuple(ready), tuple(waiting)


def working_order(operations: Sequence[Operation]) -> tuple[tuple[str, str], ...]:
    """All stages in an order in which they can be done: (ref, stage), the packet's order.

    Raises:
        CycleError: there is no such order.
    """
    order: list[tuple[str, str]] = []
    done: set[str] = set()
    while True:
        ready, waiting = ready_stages([_unblocked(op) for op in operations], done)
        if not ready:
            if waiting:
                first = waiting[0]
                # what it waits for lies outside the work looked at: take it as it comes
                order.append((first.ref, first.stage))
                done.add(f"{first.ref}/{first.stage}")
                continue
            return tuple(order)
        for line in ready:
            order.append((line.ref, line.stage))
            done.add(f"{line.ref}/{line.stage}")


def _unblocked(operation: Operation) -> Operation:
    return Operation(operation.ref, operation.title, operation.stages, operation.after, operation.parent)


def stage_needs(by_ref: Mapping[str, Operation]) -> dict[str, list[str]]:
    """What each stage, as ``REF/stage``, waits for; a whole operation is finished with its last stage.

    Operations may weave (A's rivet after B's drill, B's rivet after A's drill): only circles of stages are real.
    """
    nodes: dict[str, list[str]] = {}
    for ref, op in by_ref.items():
        names = [s.name for s in op.stages]
        for place, stage in enumerate(op.stages):
            needs = list(stage.after) + (list(op.after) if place == 0 else [f"{ref}/{names[place - 1]}"])
            nodes[f"{ref}/{stage.name}"] = [_last_stage(need, by_ref) for need in needs]
    return nodes


def _refuse_circle(by_ref: Mapping[str, Operation]) -> None:
    nodes = stage_needs(by_ref)
    state: dict[str, int] = {}
    for start in nodes:
        if state.get(start):
            continue
        path = [start]
        stack = [iter(nodes[start])]
        state[start] = 1
        while stack:
            step = next(stack[-1], None)
            if step is None:
                state[path.pop()] = 2
                stack.pop()
            elif step in nodes and state.get(step, 0) == 0:
                state[step] = 1
                path.append(step)
                stack.append(iter(nodes[step]))
            elif state.get(step) == 1:
                circle = [*path[path.index(step) :], step]
                raise CycleError(
                    "order of work",
                    found=" → ".join(reversed(circle)),
                    mend="Remove one of these “after” entries.",
                )


def _last_stage(need: str, by_ref: Mapping[str, Operation]) -> str:
    """A whole operation is finished with its last stage."""
    operation = by_ref.get(need)
    return f"{need}/{operation.stages[-1].name}" if operation and operation.stages else need
