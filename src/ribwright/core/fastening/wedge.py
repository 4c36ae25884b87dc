"""A trailing-edge wedge riveted flush on both sides: grip along the row, length by hole range, seats square to each face."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from ribwright.core.audit import (
    Outcome,
    Result,
    Worksheet,
    calculation,
    choice,
    flag,
    quantity,
    text,
)
from ribwright.core.bench import CAUTIONS, Because, Requirement
from ribwright.core.fastening.double_flush import (
    LengthRange,
    cone_depth_in,
    double_flush_proud_in,
    length_ranges,
    wedge_grip_in,
)
from ribwright.core.fastening.holes import extra_depth_in
from ribwright.core.fastening.row import Row, judge_row, lay_row
from ribwright.core.tables import drill_sizes, table
from ribwright.core.units import Quantity
from ribwright.errors import GeometryError

WEDGE_SIZES = ("3/32", "1/8", "5/32")


@dataclass(frozen=True, slots=True)
class WedgeRow:
    """A row through skin, wedge and skin, flush on both faces."""

    title: str = text("Seam", help="what is joined to what", example="trailing edge, left aileron")
    drawing: str = text("Drawing number", help="where the seam is drawn", example="DN-2100", default="")
    revision: str = text("Drawing revision", help="as printed on the drawing", example="B", default="")
    hand: str = choice(
        "Hand", ("none", "left", "right"), help="which side of the aeroplane the part is for", default="none"
    )
    primary: bool = flag("Primary structure", help="spar, attach fittings, controls, engine mount, gear")
    near_skin: Quantity = quantity(
        "in", "Skin on the manufactured head's side", help="its thickness", example=".020", low="0.010 in", high="0.1 in"
    )  # fmt: skip
    far_skin: Quantity | None = quantity(
        "in", "Skin on the far side", help="its thickness, if not the same", example=".020", low="0.010 in", high="0.1 in",
        optional=True,
    )  # fmt: skip
    half_angle: Quantity = quantity(
        "deg", "Half-angle of the wedge", help="between the chord and one skin", example="5.5 deg", low="0 deg", high="15 deg"
    )  # fmt: skip
    edge_thickness: Quantity = quantity(
        "in", "Wedge at its thin edge", help="thickness of the wedge alone at the trailing edge", example="0 in",
        low="0 in", high="0.25 in", default="0 in",
    )  # fmt: skip
    from_edge_first: Quantity = quantity(
        "in", "Row from the trailing edge, first hole", help="hole centre to the wedge's thin edge", example="5/16 in",
        low="0.05 in", high="5 in",
    )  # fmt: skip
    from_edge_last: Quantity | None = quantity(
        "in", "Row from the trailing edge, last hole", help="if the row is not parallel to the edge", example="1/4 in",
        low="0.05 in", high="5 in", optional=True,
    )  # fmt: skip
    stack_first: Quantity | None = quantity(
        "in", "Stack measured at the first hole", help="skin, wedge and skin in the calipers; better than drawn",
        example=".100", low="0.03 in", high="2 in", optional=True,
    )  # fmt: skip
    stack_last: Quantity | None = quantity(
        "in", "Stack measured at the last hole", help="skin, wedge and skin in the calipers", example=".085",
        low="0.03 in", high="2 in", optional=True,
    )  # fmt: skip
    size: str = choice("Rivet diameter", WEDGE_SIZES, help="as drawn", default="3/32")
    first: Quantity = quantity(
        "in", "First hole at", help="along the row, from the datum end of the part", example="3/8 in", low="0 in", high="2000 in"
    )  # fmt: skip
    last: Quantity = quantity(
        "in", "Last hole at", help="along the row, from the same end", example="57-5/8 in", low="0 in", high="2000 in"
    )  # fmt: skip
    part_length: Quantity | None = quantity(
        "in", "Part length along the row", help="so that the end holes can be checked", example="58 in", low="0.1 in",
        high="2000 in", optional=True,
    )  # fmt: skip
    pitch: Quantity | None = quantity(
        "in", "Pitch called out", help="distance between neighbours, if drawn", example="1-1/8 in", low="0.05 in",
        high="24 in", optional=True,
    )  # fmt: skip

    def __post_init__(self) -> None:
        if self.last.value <= self.first.value:
            raise GeometryError(
                "Last hole at", found=f"{self.last.text}, the first at {self.first.text}", allowed="beyond the first hole",
                mend="Measure both from the same end of the row.",
            )  # fmt: skip
        if self.part_length is not None and self.last.value >= self.part_length.value:
            raise GeometryError(
                "Last hole at", found=f"{self.last.text} on a part of {self.part_length.text}", allowed="on the part",
                mend="Check the part's length and from which end the row is measured.",
            )  # fmt: skip
        if (self.stack_first is None) != (self.stack_last is None):
            raise GeometryError(
                "Stack measured", found="at one end only", allowed="at both ends, or at neither",
                mend="Measure the stack at the first and at the last hole.",
            )  # fmt: skip


@dataclass(frozen=True, slots=True)
class WedgePlan:
    """What a wedge row came to; sheets, picture and templates are made from this."""

    spec: WedgeRow
    row: Row
    grips_in: tuple[float, ...]
    ranges: tuple[LengthRange, ...]
    proud: Requirement
    requirements: tuple[Requirement, ...]
    half_angle_rad: float
    cone_in: float
    land_in: float


def _grips(spec: WedgeRow, ws: Worksheet, where: str) -> tuple[float, float]:
    half = math.radians(spec.half_angle.value)
    skins = spec.near_skin.value + (spec.far_skin or spec.near_skin).value
    ends = []
    far_end = spec.from_edge_last or spec.from_edge_first
    for name, from_edge, measured in (
        ("first", spec.from_edge_first, spec.stack_first),
        ("last", far_end, spec.stack_last),
    ):
        drawn = ws.step(
            f"grip at the {name} hole", wedge_grip_in, edge_thickness_in=spec.edge_thickness.value,
            from_edge_in=from_edge.value, half_angle_rad=half, skins_in=skins,
        )  # fmt: skip
        if measured is None:
            ends.append(drawn)
            continue
        ws.called_out(f"stack measured at the {name} hole", measured, "measured")
        if measured.value <= skins:
            raise GeometryError(
                f"Stack measured at the {name} hole", found=measured.text, allowed=f"more than the two skins, {skins:.3f} in",
                mend="Measure the whole stack, square to the chord.",
            )  # fmt: skip
        if abs(measured.value - drawn) > 0.010:
            ws.note(
                f"Measured and drawn stack differ by {abs(measured.value - drawn):.3f} in at the {name} hole; the measured one is used."
            )
        ends.append(measured.value)
    return ends[0], ends[1]


def plan_wedge_row(spec: WedgeRow, ws: Worksheet) -> WedgePlan:
    """Work the row out, writing every step.

    Raises:
        GeometryError, TableError: as the spec or a table refuses.
    """
    where = f"drawing {spec.drawing or 'without number'}, revision {spec.revision or '-'}"
    d = float(Fraction(spec.size))
    half = math.radians(spec.half_angle.value)
    for name, value in (("half-angle", spec.half_angle), ("near skin", spec.near_skin)):
        ws.called_out(name, value, where)
    g0, g1 = _grips(spec, ws, where)
    row = lay_row(
        ws, first=spec.first, last=spec.last, pitch=spec.pitch, diameter_in=d, drawing=spec.drawing, revision=spec.revision
    )  # fmt: skip
    grips = np.interp(row.positions_in, (row.positions_in[0], row.positions_in[-1]), (g0, g1))
    head_cell = table("rivets/flush-head").cell(spec.size, "diameter")
    head = ws.look_up("flush head", head_cell)
    room = table("rivets/flush-head").cell(spec.size, "tolerance").canonical
    drill = table("rivets/drill").cell(spec.size, "final")
    hole = float(drill_sizes()[drill.text])
    ws.worked_out(
        "hole to fill",
        f"{hole:.4f} in",
        f"as drilled, {drill.text}: {drill.cited}",
        value=hole,
        unit="in",
        rung=drill.rung,
    )
    depth = ws.step("seat depth", cone_depth_in, head_in=head, hole_in=hole)
    middle = float(np.mean(grips))
    aim = ws.step(
        "shank proud that fills the far seat", double_flush_proud_in, grip_in=middle, depth_in=depth, hole_in=hole,
        diameter_in=d, head_in=head,
    )  # fmt: skip
    own = table("rivets/double-flush")
    if spec.size in own.row_keys():
        low, nominal, high = (own.cell(spec.size, c) for c in ("low", "nominal", "high"))
        band = (low.value * d, nominal.value * d, high.value * d)
        because = Because.cell(nominal, f"{low.text} to {high.text} D")
    else:
        ends = [
            float(double_flush_proud_in(
                grip_in=middle, depth_in=cone_depth_in(head_in=head + e, hole_in=hole), hole_in=hole, diameter_in=d, head_in=head + e,
            ))
            for e in (-room, room)
        ]  # fmt: skip
        band = (min(ends[0], aim), aim, max(ends[1], aim))
        because = Because.worked_out("the shank fills a seat of the head's own tolerance, volume kept")
    ws.worked_out(
        "shank proud, limits", f"{band[0]:.3f} to {band[2]:.3f} in", because.text, rung=because.rung
    )
    ranges = length_ranges(
        [float(g) for g in grips], low_in=band[0], high_in=band[2], size=spec.size, head="flush 100°"
    )
    wedge = min(g0, g1) - (spec.near_skin.value + (spec.far_skin or spec.near_skin).value) / math.cos(half)
    seats = 2 * depth + float(extra_depth_in(skin_thickness_in=spec.near_skin.value)) + float(
        extra_depth_in(skin_thickness_in=(spec.far_skin or spec.near_skin).value)
    )  # fmt: skip
    land = wedge - seats
    ws.worked_out(
        "wedge left between the two seats", f"{land:.3f} in", "wedge less both countersinks under dimpled skins",
        value=land, unit="in",
    )  # fmt: skip
    if land <= 0:
        ws.note(
            f"At the thinner end the two countersinks meet {-land / 2:.3f} in before their full depth: the hole opens a little in the middle. "
            "Countersink the wedge only until the dimpled skin sits, both sides in turn, and prove the rivet length on a trial piece."
        )
    proud = Requirement(
        name="shank proud of the far skin", unit="in", low=band[0], nominal=band[1], high=band[2], because=because,
        how="depth end of the calipers beside the shank, the manufactured head held seated",
        when_low="Too short: the far seat will not fill. Take the longer length of the sheet.",
        when_high="Too long: it will stand above the skin or bend. Cut it.", usual_u=0.001,
    )  # fmt: skip
    tilt = head / 2 * math.sin(half)
    flush = Requirement(
        name="either face of the rivet above its skin", unit="in", low=-0.002, nominal=0.0, high=0.002,
        because=Because.worked_out("flush within .002 in, common practice", "practice"),
        how="straight edge along and across the row, feeler under it",
        when_low="The seat isn't full: a longer rivet from here on; this one stays if it is tight and the drawing allows.",
        when_high="Set it once more against the plate; if it stays, replace it.", refer_low=-0.010, usual_u=0.001,
    )  # fmt: skip
    square = Requirement(
        name="hole off square to the chord", unit="deg", low=-2.0, nominal=0.0, high=2.0,
        because=Because.worked_out("drilled through a guide block, ± 2° by common practice", "practice"),
        how="drill shank left in the hole, against a block cut to the half-angle on the skin",
        when_low="Open to the next size only if its edge distance holds; else ask.",
        when_high="Open to the next size only if its edge distance holds; else ask.", usual_u=0.5,
    )  # fmt: skip
    ws.worked_out(
        "one side of the head stands up if its seat follows the hole", f"{tilt:.4f} in",
        "half the head times the sine of the half-angle: so each seat is cut square to its own face", value=tilt, unit="in",
    )  # fmt: skip
    return WedgePlan(
        spec,
        row,
        tuple(float(g) for g in grips),
        ranges,
        proud,
        (proud, flush, square),
        half,
        depth,
        land,
    )


@calculation(
    "wedge-row",
    title="Trailing-edge wedge, flush on both sides",
    summary="Grip along the row, rivet length by hole range, seats square to each face, guide and support of a double-flush wedge.",
    spec=WedgeRow,
    results=(
        "holes", "pitch", "hole_positions", "grip_first", "grip_last", "grips", "lengths", "ranges", "length_in_hole",
        "shank_proud", "seat_off_hole_axis", "land", "final_drill", "least_edge_distance",
    ),
)  # fmt: skip
def wedge_row(spec: WedgeRow, ws: Worksheet) -> Outcome:
    """A double-flush row: worksheet, checks, stage sheets, section and full-size helps."""
    from ribwright.core.fastening.wedge_sheets import wedge_picture, wedge_sheets, wedge_templates

    plan = plan_wedge_row(spec, ws)
    d = float(Fraction(spec.size))
    hole = table("rivets/nominal-hole").cell(spec.size, "diameter").canonical
    edges = [("trailing edge, first hole", spec.from_edge_first)]
    if spec.from_edge_last is not None:
        edges.append(("trailing edge, last hole", spec.from_edge_last))
    findings = judge_row(
        ws,
        plan.row,
        kind="flush",
        diameter_in=d,
        hole_in=hole,
        edges=tuple(edges),
        part_length=spec.part_length,
    )
    drill = table("rivets/drill").cell(spec.size, "final")
    ws.look_up("final drill", drill)
    by_hole = tuple(r.length_in for r in plan.ranges for _ in range(r.first, r.last + 1))
    results = {
        "holes": Result("holes in the row", float(len(plan.row.positions_in)), "", places=0),
        "pitch": Result("pitch", plan.row.pitch_in, "in"),
        "hole_positions": Result("holes at", plan.row.positions_in, "in"),
        "grip_first": Result("grip at the first hole", plan.grips_in[0], "in"),
        "grip_last": Result("grip at the last hole", plan.grips_in[-1], "in"),
        "grips": Result("grip at each hole", plan.grips_in, "in"),
        "lengths": Result("rivets by hole range", "; ".join(r.said() for r in plan.ranges)),
        "ranges": Result("different lengths in the row", float(len(plan.ranges)), "", places=0),
        "length_in_hole": Result("rivet length at each hole", by_hole, "in"),
        "shank_proud": Result(
            "shank proud of the far skin",
            plan.proud.nominal or 0.0,
            "in",
            plan.proud.low,
            plan.proud.high,
            limit="range",
        ),
        "seat_off_hole_axis": Result("each seat off the hole's axis", spec.half_angle.value, "deg"),
        "land": Result("wedge left between the two seats", plan.land_in, "in"),
        "final_drill": Result("final drill", drill.text),
        "least_edge_distance": Result(
            "least edge distance",
            table("rivets/edge-distance").cell("flush", "least").value * d,
            "in",
            limit="least",
        ),
    }
    cautions = (
        *(("PRIMARY STRUCTURE: a mistake here goes to the designer; nothing is proposed.",) if spec.primary else ()),
        "The row fixes the shape for good: clamp or bond it to a straight edge first, look along it after every tenth rivet.",
        *CAUTIONS,
    )  # fmt: skip
    return Outcome(
        tuple(ws.steps), results, plan.requirements, findings, cautions, wedge_picture(plan), wedge_sheets(plan),
        wedge_templates(plan),
    )  # fmt: skip
