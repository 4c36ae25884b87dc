"""A straight row between two fixed ends, and what is checked of it: edge distance, ends, pitch."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ribwright.core.audit import Worksheet
from ribwright.core.bench import Because, Finding, Reading, Requirement, compare
from ribwright.core.fastening.spacing import (
    equal_pitch_in,
    least_edge_distance_in,
    least_pitch_in,
    row_positions_in,
    spaces_for,
)
from ribwright.core.tables import table
from ribwright.core.units import Quantity
from ribwright.errors import GeometryError

USUAL_PITCH_D = 6.0
"""Aimed at when the drawing is silent: the middle of the usual 4 to 8 diameters."""


@dataclass(frozen=True, slots=True)
class Row:
    """Hole centres along the row from its datum end, their equal pitch (0 for a single hole), and why."""

    positions_in: tuple[float, ...]
    pitch_in: float
    because: Because


def kind_of(head: str) -> str:
    """Row of the edge-distance table for a manufactured head."""
    return "flush" if head.startswith("flush") else "protruding"


def lay_row(
    ws: Worksheet,
    *,
    first: Quantity,
    last: Quantity,
    pitch: Quantity | None,
    diameter_in: float,
    drawing: str,
    revision: str,
    punched: bool = False,
) -> Row:
    """Equal spaces between the end holes, none wider than the pitch called out or aimed at.

    Raises:
        GeometryError: the last hole isn't beyond the first, or too many holes follow.
    """
    where = f"drawing {drawing or 'without number'}, revision {revision or '-'}"
    ws.called_out("first hole", first, where)
    ws.called_out("last hole", last, where)
    if pitch is not None:
        ws.called_out("pitch", pitch, where)
        asked = pitch.value
        because = Because.drawing(drawing, revision, "pitch called out")
    else:
        usual = table("rivets/pitch").cell("single row", "usual high")
        asked = USUAL_PITCH_D * diameter_in
        ws.worked_out(
            "pitch aimed at", f"{asked:.3f} in", f"6 D, the middle of the usual 4 to {usual.text} D: {usual.cited}",
            value=asked, unit="in", rung=usual.rung,
        )  # fmt: skip
        because = Because.worked_out("6 D, equal spaces between the end holes", usual.rung)
    spaces = spaces_for(first.value, last.value, asked)
    made = ws.step("pitch", equal_pitch_in, first_in=first.value, last_in=last.value, spaces=float(spaces))
    if pitch is not None and abs(made - asked) > 0.005:
        decides = (
            "the punched holes decide" if punched else "the row is laid out with equal spaces, none wider"
        )
        ws.note(
            f"The pitch called out ({asked:.3f} in) does not divide the row into equal spaces: {decides}, {made:.3f} in. "
            f"Count the holes: {spaces + 1} are expected here."
        )
    positions = row_positions_in(first.value, last.value, spaces)
    return Row(tuple(float(p) for p in positions), made, because)


def edge_requirement(kind: str, diameter_in: float) -> Requirement:
    """Least edge distance for this head; anything short of it is asked, never reworked at the bench."""
    ratio = table("rivets/edge-distance").cell(kind, "least")
    least = float(least_edge_distance_in(edge_ratio=ratio.value, diameter_in=diameter_in))
    return Requirement(
        name="edge distance", unit="in", low=least, nominal=None, high=None,
        because=Because.cell(ratio, f"{ratio.text} D, {kind} head"), how="steel rule or calipers from the hole's centre",
        when_low="Ask: short edge distance. Prepare the question to the designer; don't drill.", when_high="Go on.",
        refer_low=least,
    )  # fmt: skip


def pitch_requirement(diameter_in: float, rows: int = 1) -> Requirement:
    """Least pitch of one row, or of two rows side by side."""
    closest = table("rivets/pitch").cell("two rows" if rows == 2 else "single row", "least")
    low = float(least_pitch_in(pitch_ratio=closest.value, diameter_in=diameter_in))
    return Requirement(
        name="pitch", unit="in", low=low, nominal=None, high=None, because=Because.cell(closest, f"{closest.text} D"),
        how="steel rule over ten spaces", when_low=f"Ask: pitch under {closest.text} D. Prepare the question to the designer.",
        when_high="Go on.", refer_low=low,
    )  # fmt: skip


def judge_row(
    ws: Worksheet,
    row: Row,
    *,
    kind: str,
    diameter_in: float,
    hole_in: float,
    edges: Sequence[tuple[str, Quantity | None]],
    part_length: Quantity | None,
) -> tuple[Finding, ...]:
    """Hold the row's edge distances, ends and pitch against their limits.

    Raises:
        GeometryError: a hole cuts an edge, an end, or its neighbour.
    """
    ratio = table("rivets/edge-distance").cell(kind, "least")
    ws.step("least edge distance", least_edge_distance_in, edge_ratio=ratio.value, diameter_in=diameter_in)
    requirement = edge_requirement(kind, diameter_in)
    least = hole_in / 2
    findings: list[Finding] = []
    for part, distance in edges:
        if distance is None:
            continue
        if distance.value <= least:
            raise GeometryError(
                f"Edge distance of {part}", found=distance.text, allowed=f"more than half the hole, {least:.3f} in",
                mend="The hole would cut the edge: check the drawing.",
            )  # fmt: skip
        findings.append(compare(requirement, Reading(distance.value, "in", where=part)))
    if part_length is not None:
        ends = (row.positions_in[0], part_length.value - row.positions_in[-1])
        names = (("First hole at", "first hole to the end"), ("Last hole at", "last hole to the end"))
        for end, (field, name) in zip(ends, names, strict=True):
            if end <= least:
                raise GeometryError(
                    field, found=f"{end:.3f} in from the end", allowed=f"more than half the hole, {least:.3f} in",
                    mend="The hole would cut the end of the part.",
                )  # fmt: skip
            findings.append(compare(requirement, Reading(end, "in", where=name)))
    closest = table("rivets/pitch").cell("single row", "least")
    ws.step("least pitch", least_pitch_in, pitch_ratio=closest.value, diameter_in=diameter_in)
    if len(row.positions_in) > 1:
        if row.pitch_in <= hole_in:
            raise GeometryError(
                "Pitch", found=f"{row.pitch_in:.3f} in for holes of {hole_in:.3f} in", allowed=f"more than {hole_in:.3f} in",
                mend="The holes overlap: check the pitch.",
            )  # fmt: skip
        findings.append(compare(pitch_requirement(diameter_in), Reading(row.pitch_in, "in", where="row")))
        high = table("rivets/pitch").cell("single row", "usual high").value
        if row.pitch_in > high * diameter_in:
            ws.note(
                f"The pitch is {row.pitch_in / diameter_in:.1f} D, wider than the usual {high:g} D. "
                "Light control surfaces are drawn so; it is not a finding."
            )
    return tuple(findings)
