"""An operation of the aeroplane: its drawing data, worksheet, stages, and the hours worked on them."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from ribwright.core.audit import Outcome, raw_of
from ribwright.core.bench import StageSheet, Verdict
from ribwright.core.bench.mirror import side_in
from ribwright.core.bench.stages import USUAL_STAGES, Operation, Stage
from ribwright.core.tables import table, table_names
from ribwright.core.units import parse
from ribwright.errors import ConflictError, MissingError, RibwrightError, UnknownNameError
from ribwright.services.calculations import Done, run_calculation
from ribwright.services.project import Actor, Project
from ribwright.services.record import (
    NewEntry,
    StoredObject,
    add_entries,
    discrepancies,
    findings,
    get_object,
    new_object,
    objects,
    readings,
    work,
)
from ribwright.services.remembered import until_the_record_moves


@dataclass(frozen=True, slots=True)
class StageView:
    """A stage with its sheet, whether it is done, and the hours logged on it."""

    name: str
    sheet: StageSheet | None
    done: bool
    hours: float
    estimate: str


@dataclass(frozen=True, slots=True)
class OperationView:
    """An operation as a page or the command line shows it."""

    object: StoredObject
    worked: Done | None
    problem: str
    stages: tuple[StageView, ...]
    readings: tuple[dict[str, Any], ...]
    findings: tuple[dict[str, Any], ...]
    discrepancies: tuple[dict[str, Any], ...]
    earlier: tuple[str, ...]

    @property
    def reference(self) -> str:
        """What is printed on paper."""
        return self.object.reference

    def stage(self, name: str) -> StageView:
        """The stage of this name.

        Raises:
            UnknownNameError: the operation has none of this name.
        """
        found = next((stage for stage in self.stages if stage.name == name), None)
        if found is None:
            raise UnknownNameError(
                "stage", found=name, allowed=", ".join(s.name for s in self.stages) or "no stage"
            )
        return found


def enter_operation(
    project: Project,
    *,
    actor: Actor,
    request_id: str,
    ref: str,
    calculation: str,
    raw: Mapping[str, Any],
    parent: str = "",
    make_parent: bool = False,
    stages: Sequence[Mapping[str, Any]] = (),
    after: Sequence[str] = (),
    closes: str = "",
    seen_revision: int | None = None,
) -> StoredObject:
    """Enter an operation's drawing data; they must calculate before anything is written.

    Args:
        ref: the operation's reference; a new one, or one whose drawing data are entered again.
        calculation: name in the index, for example ``seam``.
        raw: the drawing data by field name.
        parent: the assembly it belongs to.
        make_parent: enter the assembly too where there is none of this name.
        stages: ``{"name", "hours", "helper", "after"}``; left out, those of the sheets with the usual ones between.
        after: what must be finished before it: ``REF`` or ``REF/stage``.
        closes: the space that it closes, if it does.

    Raises:
        As the calculation and the record refuse; nothing is written then.
    """
    worked = run_calculation(calculation, raw)
    spec = worked.spec
    drawing, revision = str(getattr(spec, "drawing", "") or ""), str(getattr(spec, "revision", "") or "")
    before = _before(project, ref)
    if before is not None and before.noun != "operation":
        raise ConflictError(
            "reference",
            found=f"{ref} is a {before.noun}",
            allowed="the reference of an operation",
            mend="Choose another reference.",
        )
    old = before.data if before is not None else {}
    data: dict[str, Any] = {
        "calculation": calculation,
        "inputs": raw_of(spec),
        "stages": _stage_data(stages, old, worked.outcome),
        "after": list(after) or old.get("after", []),
        "closes": closes or old.get("closes", ""),
        "primary": "yes" if getattr(spec, "primary", False) else "no",
        "worked_with": _dependencies(worked.outcome),
    }
    items = []
    if make_parent and parent and _before(project, parent) is None:
        items.append(new_object("assembly", parent, {}, title=parent, hand=side_in(parent)))
    made_from: list[str | tuple[str, str]] = []
    if drawing:
        known = _before(project, drawing)
        if known is None:
            items.append(new_object("drawing", drawing, {"revision": revision}, title=f"drawing {drawing}"))
        if known is None or known.noun == "drawing":
            made_from.append(drawing)
    items.append(
        new_object(
            "operation", ref, data, parent=parent or (before.parent if before else ""), title=str(getattr(spec, "title", "") or ref),
            hand=str(getattr(spec, "hand", "none") or "none"), made_from=made_from, seen_revision=seen_revision,
        )
    )  # fmt: skip
    add_entries(project, actor=actor, request_id=request_id, items=items)
    return get_object(project, ref)


def next_reference(project: Project, parent: str, letter: str = "S") -> str:
    """The next free reference of an operation in an assembly: ``DN-21-S04``."""
    taken = {one.ref for one in objects(project, parent=parent, withdrawn=True)}
    number = 1
    # one of this name may have gone to another assembly since, or come from one as its mirror
    while (own := f"{parent or 'OP'}-{letter}{number:02d}") in taken or _before(project, own) is not None:
        number += 1
    return own


@until_the_record_moves
def operation_view(project: Project, ref: str) -> OperationView:
    """An operation with everything that stands about it.

    Raises:
        UnknownNameError: there is no such operation.
    """
    one = get_object(project, ref)
    if one.noun != "operation":
        raise UnknownNameError(
            "operation", found=f"{ref}, a {one.noun}", allowed="the reference of an operation"
        )
    worked, problem = _worked(one)
    log = work(project, ref)
    sheets = {sheet.stage: sheet for sheet in worked.outcome.sheets} if worked else {}
    stages = []
    for stage in one.data.get("stages", []):
        name = str(stage.get("name", ""))
        logged = [row for row in log if row["stage"] == name]
        hours = sum(float(row["hours"] or 0) for row in logged)
        done = bool(logged) and any(row["done"] == "yes" for row in logged) and logged[-1]["done"] != "no"
        stages.append(StageView(name, sheets.get(name), done, hours, str(stage.get("hours", ""))))
    return OperationView(
        one,
        worked,
        problem,
        tuple(stages),
        readings(project, ref),
        findings(project, ref),
        discrepancies(project, ref),
        _moved_tables(one),
    )


def enter_work(
    project: Project,
    *,
    actor: Actor,
    request_id: str,
    ref: str,
    stage: str,
    hours: str,
    done: bool = False,
    worked_as: str = "",
    words: str = "",
    day: str = "",
) -> None:
    """Log hours on a stage, and say whether it is finished.

    Raises:
        InputError: hours that can't be read.
        ConflictError: the stage can't be finished yet (its order, or an open list before closing).
    """
    view = operation_view(project, ref)
    view.stage(stage)
    if not (hours.strip() or done or words.strip()):
        raise MissingError("hours", mend="Enter the hours, or say that the stage is finished.")
    read = parse(hours or "0", "h", field="hours")
    if done:
        refuse_unless_may_finish(project, view, stage)
    body = {
        "stage": stage,
        "hours": hours_text(read.value),
        "done": "yes" if done else "",
        "words": words,
        "day": day,
    }
    if worked_as:
        body["as"] = worked_as
    add_entries(project, actor=actor, request_id=request_id, items=[NewEntry("work", body, ref)])


def refuse_unless_may_finish(project: Project, view: OperationView, stage: str) -> None:
    """Refuse to finish a stage out of order, or while something is open before it.

    Raises:
        ConflictError: naming what is open.
    """
    from ribwright.services.bench import standing_of
    from ribwright.services.closing import refuse_unless_ready

    names = [s.name for s in view.stages]
    open_before = [s.name for s in view.stages[: names.index(stage)] if not s.done]
    if open_before:
        raise ConflictError(
            f"{view.object.ref}, {stage}", found=f"{open_before[0]} is not finished", allowed="the stages in their order",
            mend=f"Finish {open_before[0]} first; the hours can be logged without finishing.",
        )  # fmt: skip
    waiting = standing_of(project, view.object.ref)
    if waiting:
        raise ConflictError(
            f"{view.object.ref}, {stage}", found="it waits for " + "; ".join(waiting), allowed="when nothing is open before it",
            mend="See to these first; the hours can be logged without finishing.",
        )  # fmt: skip
    refuse_unless_ready(project, view.object.ref, stage)


def plan_operation(one: StoredObject, blocked: str = "") -> Operation:
    """An operation object as the order of work sees it."""
    stages = tuple(
        Stage(
            str(s.get("name", "")),
            _float(s.get("hours")),
            s.get("helper") in ("yes", True),
            tuple(map(str, s.get("after", []) or [])),
        )
        for s in one.data.get("stages", [])
        if s.get("name")
    )
    return Operation(
        one.ref, one.title, stages, tuple(map(str, one.data.get("after", []) or [])), one.parent, blocked
    )


def _before(project: Project, ref: str) -> StoredObject | None:
    try:
        return get_object(project, ref)
    except UnknownNameError:
        return None


def _stage_data(
    stages: Sequence[Mapping[str, Any]], old: Mapping[str, Any], outcome: Outcome
) -> list[dict[str, Any]]:
    if stages:
        return [dict(stage) for stage in stages]
    if old.get("stages"):
        return list(old["stages"])
    with_sheets = [sheet.stage for sheet in outcome.sheets]
    if not with_sheets:
        return [{"name": "do"}]
    names = [
        name
        for name in USUAL_STAGES
        if name in with_sheets or ("rivet" in with_sheets and name != "dimple and countersink")
    ]
    names += [name for name in with_sheets if name not in names]
    return [{"name": name} for name in names]


def _dependencies(outcome: Outcome) -> dict[str, str]:
    return dict(sorted({step.depends for step in outcome.steps if step.depends[0]}))


def _worked(one: StoredObject) -> tuple[Done | None, str]:
    """Run the operation's calculation again; what no longer runs is said, never hidden."""
    name = str(one.data.get("calculation") or "")
    if not name:
        return None, ""
    return _run(name, json.dumps(one.data.get("inputs") or {}, sort_keys=True))


@lru_cache(maxsize=2000)
def _run(name: str, inputs: str) -> tuple[Done | None, str]:
    """Pure, so that the same inputs need working out once only."""
    try:
        return run_calculation(name, json.loads(inputs)), ""
    except RibwrightError as error:
        return None, error.sentence()


def _moved_tables(one: StoredObject) -> tuple[str, ...]:
    """Tables that were changed since the operation was entered: its worksheet was made to an earlier one."""
    moved = []
    for name, digest in (one.data.get("worked_with") or {}).items():
        kind, _, what = name.partition(" ")
        if kind == "table" and (what not in table_names() or table(what).digest != digest):
            moved.append(name)
    return tuple(moved)


def _float(value: object) -> float | None:
    try:
        return float(str(value)) if value not in (None, "") else None
    except ValueError:
        return None


def hours_text(hours: float) -> str:
    """Hours as an entry of work writes them."""
    return f"{hours:.4f}".rstrip("0").rstrip(".") or "0"


__all__ = [
    "OperationView",
    "StageView",
    "Verdict",
    "enter_operation",
    "enter_work",
    "hours_text",
    "next_reference",
    "operation_view",
    "plan_operation",
    "refuse_unless_may_finish",
]
