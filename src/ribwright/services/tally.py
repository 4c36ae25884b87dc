"""The row tally: marks that shooter and bucker called, into the record as few entries."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass

from ribwright.core.fastening.tally import TALLY, check_marks, tally_findings, tally_text
from ribwright.errors import ConflictError
from ribwright.services.operations import OperationView, operation_view
from ribwright.services.project import Actor, Project
from ribwright.services.queued import sent_before
from ribwright.services.record import NewEntry, add_entries

STAGE = "rivet"


@dataclass(frozen=True, slots=True)
class Row:
    """A row of rivets and how it stands.

    Attributes:
        holes: numbers of the holes that get a rivet, in the order of the drawing.
        marks: the last entered mark of each hole that has one.
    """

    holes: tuple[int, ...]
    marks: dict[int, str]


def has_row(view: OperationView) -> bool:
    """Whether an operation has a row of rivets that is bucked."""
    results = view.worked.outcome.results if view.worked else {}
    return "holes" in results and "rivet" in results and any(s.name == STAGE for s in view.stages)


def row_of(view: OperationView) -> Row:
    """The row of an operation with the marks that stand.

    Raises:
        ConflictError: it has no row that is bucked.
    """
    if not has_row(view) or view.worked is None:
        raise ConflictError(
            f"row of {view.object.ref}", found="no row of bucked rivets", allowed="a riveted seam",
            mend="Open the seam that is driven.",
        )  # fmt: skip
    count = int(float(str(view.worked.outcome.results["holes"].value)))
    left_open = {
        int(str(one.hole)) for one in getattr(view.worked.spec, "exceptions", ()) if one.what == "left open"
    }
    marks: dict[int, str] = {}
    for reading in view.readings:
        if reading["requirement"] == TALLY:
            called = json.loads(reading["body"]).get("marks") or {}
            marks |= {int(hole): str(mark) for hole, mark in called.items()}
    holes = tuple(hole for hole in range(1, count + 1) if hole not in left_open)
    return Row(holes, {hole: mark for hole, mark in sorted(marks.items()) if hole in holes})


def enter_tally(
    project: Project, *, actor: Actor, request_id: str, ref: str, marks: Mapping[int, str], stage: str = STAGE
) -> Row:
    """Enter what was called of a row: one reading for all marks, and a finding for each head that is not good.

    Args:
        marks: ``good``, ``a bit more`` or ``replace`` by hole number.

    Returns:
        The row as it stands afterwards.

    Raises:
        InputError: a hole or a mark that can't be.
        ConflictError: the operation has no such row, or is signed.
    """
    view = operation_view(project, ref)
    view.stage(stage)
    row = row_of(view)
    called = check_marks(marks, row.holes)
    body = {
        "stage": stage,
        "requirement": TALLY,
        "value": tally_text(called),
        "marks": {str(hole): mark for hole, mark in called.items()},
        "instrument": "eye",
    }
    items = [NewEntry("reading", body, ref)]
    for finding in tally_findings(called, row.marks):
        items.append(NewEntry("finding", {"stage": stage, **finding.as_data(), "margin": ""}, ref))
    if not sent_before(project, request_id, actor=actor, kind="reading", about=ref, body=body):
        add_entries(project, actor=actor, request_id=request_id, items=items)
    return row_of(operation_view(project, ref))
