"""After a roll: what was found on the planned edge, what next; and what a lot of sheet has shown so far."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from ribwright.core.forming.after_roll import planned_diameter_in, rolled_as_planned
from ribwright.core.forming.nose_spec import NoseRoll
from ribwright.core.units import parse
from ribwright.errors import ConflictError, MissingError, UnknownNameError
from ribwright.services.calculations import Done, run_calculation
from ribwright.services.entering import NewEntry, add_entries
from ribwright.services.operations import OperationView, enter_operation, operation_view
from ribwright.services.project import Actor, Project
from ribwright.services.record import Entry, StoredObject, readings

FOUND = "inside radius of the rolled edge"
_FOUND_ONCE = "inner radius of the rolled edge"  # as earlier entries of a record have it
ASKED = ("opening", "chord", "height", "limits", "tool")
"""What is typed at the bench; everything else is the plan's and may be put right."""
_VERDICT = {
    "stop": "within limits", "roll again": "rework", "ease open": "rework", "can't be saved": "refer",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Rolled:
    """One roll that was measured: predicted against found.

    Attributes:
        ref: the operation.
        where: place along the edge.
        lot: of the sheet.
        tool_in: diameter of the tool, with its wrap.
        found_in, limits_in: inside radius and how well it was read.
        low_in, middle_in, high_in: what the plan had expected where the sheet lay on the tool.
        seq: the entry.
        opening: found, and the least and the largest that the plan had expected, in inches; empty where chord and
            height were read, or the plan said nothing of it.
    """

    ref: str
    where: str
    lot: str
    tool_in: float
    found_in: float
    limits_in: float
    low_in: float
    middle_in: float
    high_in: float
    seq: int
    opening: tuple[float, ...] = ()

    @property
    def inside(self) -> bool:
        """Found within the stated band, the reading's own limits allowed for; an opening against the opening's."""
        if self.opening:
            return self.opening[1] <= self.opening[0] <= self.opening[2]
        return self.low_in - self.limits_in <= self.found_in <= self.high_in + self.limits_in


def planned(project: Project, ref: str, *, place: str = "") -> tuple[OperationView, dict[str, Any]]:
    """The operation, and the inputs of *after the first roll* as its plan has them.

    Raises:
        UnknownNameError: no such operation, or one that rolls no edge.
        QuantityError, OutOfRangeError: the place.
    """
    view = operation_view(project, ref)
    if view.worked is None or not isinstance(view.worked.spec, NoseRoll):
        raise UnknownNameError(
            "operation", found=f"{ref}: {view.object.title}", allowed="an operation that rolls an edge"
        )
    at = parse(place, "in", field="Place").to("in") if place.strip() else None
    return view, rolled_as_planned(view.worked.spec, view.worked.outcome, place_in=at)


def plan_at(project: Project, ref: str, place: str) -> dict[str, Any] | None:
    """Plan of the roll at a place as a photo of it is judged by, with ``zone``, the stretch of the edge that this
    place speaks for: half way to its neighbours. None where the operation rolls no edge."""
    view = operation_view(project, ref)
    if view.worked is None or not isinstance(view.worked.spec, NoseRoll):
        return None
    spec = view.worked.spec
    places = sorted({float(one.place.value) for one in spec.stations})
    at = parse(place, "in", field="Place").to("in") if place.strip() else float(spec.stations[0].place.value)
    raw = rolled_as_planned(spec, view.worked.outcome, place_in=min(max(at, 0.0), float(spec.length.value)))
    before, after = [p for p in places if p < at - 1e-6], [p for p in places if p > at + 1e-6]
    low = (before[-1] + at) / 2 if before else 0.0
    high = (after[0] + at) / 2 if after else float(spec.length.value)
    return raw | {"zone": f"zone {low:.3g} to {high:.3g} in along the edge"}


def judge_roll(project: Project, ref: str, typed: Mapping[str, Any], *, place: str = "") -> Done:
    """Stop, roll again with which tool, or why it can't be saved; nothing is entered yet. Errors as ``planned``
    and of the calculation."""
    _, raw = planned(project, ref, place=place)
    return run_calculation("nose-next-pass", raw | _given(typed))


def enter_roll(
    project: Project,
    *,
    actor: Actor,
    request_id: str,
    ref: str,
    stage: str = "",
    place: str = "",
    lot: str = "",
    typed: Mapping[str, Any],
) -> tuple[Entry, ...]:
    """Enter what was measured after a roll, with its finding, and what the plan had expected there.

    Args:
        stage: of the operation; its last stage but closing when left out.
        place: along the edge from the lever's end.
        lot: of the sheet; what it shows narrows the bands of the next edge of that lot.

    Raises:
        As ``judge_roll`` and ``entering.add_entries``.
    """
    view, raw = planned(project, ref, place=place)
    assert view.worked is not None
    done = run_calculation("nose-next-pass", raw | _given(typed))
    results, expected = done.outcome.results, view.worked.outcome.results["radius"]
    found, t = float(results["found_radius"].value), float(done.spec.thickness.value)  # type: ignore[arg-type]
    verdict = str(results["verdict"].value)
    limits = _limits_in(done)
    shown = {
        name: getattr(done.spec, name).text
        for name in ("opening", "chord", "height")
        if getattr(done.spec, name)
    }
    body: dict[str, Any] = {
        "stage": stage, "requirement": FOUND, "value": f"{found:.3f}", "unit": "in", "u": f"{limits:.3f}",
        "where": f"at {place.strip()}" if place.strip() else "",
        "lot": lot.strip(), "tool": f"{float(done.spec.tool.value):.4f}", "thickness": f"{t:.4f}",
        "planned_tool": f"{planned_diameter_in(view.worked.spec, view.worked.outcome):.4f}",
        "expected": [f"{float(v):.4f}" for v in (expected.low or 0.0, expected.value, expected.high or 0.0)],  # type: ignore[arg-type]
        "measured": shown, "opening": _opening_in(done),
    }  # fmt: skip
    next_ = verdict if "tool" not in results else f"{verdict}: {results['tool'].value}"
    finding = {
        "stage": stage, "requirement": FOUND, "verdict": _VERDICT[verdict], "where": body["where"],
        "reason": str(results["because"].value), "next": next_,
    }  # fmt: skip
    items = [
        NewEntry("reading", {k: v for k, v in body.items() if v}, ref),
        NewEntry("finding", {k: v for k, v in finding.items() if v}, ref),
    ]
    return add_entries(project, actor=actor, request_id=request_id, items=items)


def _limits_in(done: Done) -> float:
    """Limits of the radius found, from those of what was measured, by trying both ends of the reading."""
    raw = {name: getattr(done.spec, name) for name in ("opening", "height")}
    from ribwright.core.forming.closing import radius_from_opening_in
    from ribwright.core.forming.scrap import chord_reading_share, radius_from_chord_in

    limit = float(done.spec.limits.value)
    if raw["opening"] is None:
        chord, height = float(done.spec.chord.value), float(done.spec.height.value)
        share = chord_reading_share(
            chord_in=chord, sagitta_in=height, chord_limit_in=limit, sagitta_limit_in=limit
        )
        return float(share * radius_from_chord_in(chord_in=chord, sagitta_in=height))
    import numpy as np

    wanted = float(done.spec.wanted.value) + 0.5 * float(done.spec.thickness.value)
    arc = float(np.radians(float(done.spec.arc.value)))
    ends = [
        radius_from_opening_in(
            wanted_radius_in=wanted, opening=float(raw["opening"].value) + way, arc_rad=arc
        )
        for way in (-limit, limit)
    ]
    return 0.5 * abs(ends[1] - ends[0])


def _opening_in(done: Done) -> list[str]:
    """The opening as read, and the least and the largest that the plan expects."""
    read = [getattr(done.spec, name) for name in ("opening", "planned_low", "planned_high")]
    return [f"{one.value:.4f}" for one in read] if all(one is not None for one in read) else []


def _given(typed: Mapping[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in typed.items() if value not in ("", [], None)}


def rolls(project: Project, *, lot: str = "") -> tuple[Rolled, ...]:
    """Every roll that was measured, oldest first; with ``lot`` only of that lot of sheet."""
    made = []
    for row in readings(project):
        if row["requirement"] not in (FOUND, _FOUND_ONCE):
            continue
        body = json.loads(row["body"])
        if lot and str(body.get("lot", "")) != lot:
            continue
        low, middle, high = (float(v) for v in body["expected"])
        made.append(
            Rolled(
                str(row["about"]), str(body.get("where", "")), str(body.get("lot", "")), float(body["tool"]),
                float(row["value"]), float(row["u"]), low, middle, high, int(row["seq"]),
                tuple(float(v) for v in body.get("opening", ())),
            )
        )  # fmt: skip
    return tuple(made)


def narrow_by_lot(project: Project, *, actor: Actor, request_id: str, ref: str, lot: str) -> StoredObject:
    """Work the edge out again with what this lot of sheet has shown on other edges.

    Raises:
        MissingError: no lot was named, or nothing of it was measured on another edge.
        ConflictError: what was measured contradicts the sheet's values; nothing is changed.
    """
    if not lot.strip():
        raise MissingError("Lot of the sheet", mend="Enter it as it stands on the sheet's print.")
    shown = [one for one in rolls(project, lot=lot.strip()) if one.ref != ref]
    if not shown:
        raise MissingError(
            "Lot of the sheet",
            because=f"nothing of lot {lot.strip()} was rolled and measured on another edge yet",
            mend="Roll a scrap of it and enter its chord and height with the drawing data.",
        )
    view, _ = planned(project, ref)
    assert view.worked is not None
    from ribwright.core.audit.spec import raw_of

    raw = dict(raw_of(view.worked.spec))
    raw["earlier"] = [
        {"tool": f"{one.tool_in:.4f} in", "radius": f"{one.found_in:.4f} in", "limits": f"{max(one.limits_in, 0.001):.4f} in"}
        for one in shown[-12:]
    ]  # fmt: skip
    if raw["earlier"] == list(raw_of(view.worked.spec).get("earlier") or ()):
        raise ConflictError(
            "Lot of the sheet", found=lot.strip(), because="the plan has all that this lot has shown already",
            mend="Nothing is to be done.",
        )  # fmt: skip
    return enter_operation(
        project, actor=actor, request_id=request_id, ref=ref, calculation="nose-roll", raw=raw,
        seen_revision=view.object.revision,
    )  # fmt: skip
