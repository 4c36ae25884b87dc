"""One seam, from drawing data to worksheet: every value called out or worked out."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from ribwright.core.audit import (
    Outcome,
    Result,
    Worksheet,
    calculation,
    choice,
    flag,
    quantity,
    rows,
    text,
    whole,
)
from ribwright.core.bench import CAUTIONS, Because, Finding, Requirement
from ribwright.core.fastening.heads import formed_head_requirements
from ribwright.core.fastening.holes import TREATMENTS, Treatment, treatments
from ribwright.core.fastening.length import head_diameter_in, rivet_length_in, rounded_length_16
from ribwright.core.fastening.rivets import HEADS, SIZES, Rivet, read_part_number, rivet
from ribwright.core.fastening.row import judge_row, kind_of, lay_row
from ribwright.core.fastening.strength import sheet_bearing_lbf, thin_sheet_factor
from ribwright.core.tables import table
from ribwright.core.units import Quantity, number_text
from ribwright.errors import GeometryError, InputError, MissingError

MATERIALS = (
    "2024-T3 clad", "2024-T3", "6061-T6", "6061-T4", "7075-T6", "2024-T42", "5052-H32", "5052-H34", "other",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Layer:
    """A sheet of the stack, counted from the manufactured head."""

    part: str = text("Part", help="the part's reference or what it is", example="DN-2101 skin")
    thickness: Quantity = quantity(
        "in", "Thickness", help="of this sheet", example=".020", low="0.010 in", high="0.5 in"
    )
    material: str = choice(
        "Material", MATERIALS, help="alloy and temper of the sheet", default="2024-T3 clad"
    )
    edge_distance: Quantity | None = quantity(
        "in",
        "Edge distance",
        help="hole centre to the nearest edge of this sheet, if the drawing gives it",
        example="5/16 in",
        low="0.02 in",
        high="20 in",
        optional=True,
    )
    treatment: str | None = choice(
        "Hole called out as",
        TREATMENTS,
        help="dimple, countersink or neither, if the drawing says",
        optional=True,
    )


@dataclass(frozen=True, slots=True)
class Exception_:
    """A hole that is not like the others."""

    hole: int = whole("Hole number", help="counted from the row's first hole", example="7", low=1, high=2001)
    what: str = choice(
        "What", ("left open", "other fastener"), help="left open until later, or another fastener"
    )
    fastener: str = text(
        "Fastener",
        help="its part number, for another fastener",
        example="pull-type per drawing",
        optional=True,
    )
    reason: str = text(
        "Reason", help="what the drawing says", example="hinge bracket goes in later", optional=True
    )


@dataclass(frozen=True, slots=True)
class Seam:
    """A row of solid rivets through a stack of sheets.

    Leave what the drawing does not say empty: it is then worked out, with its reason. What the drawing
    calls out is taken as it stands; our arithmetic on it is a note.
    """

    title: str = text("Seam", help="what is joined to what", example="skin to spar, left aileron")
    drawing: str = text("Drawing number", help="where the seam is drawn", example="DN-2100", default="")
    revision: str = text("Drawing revision", help="as printed on the drawing", example="B", default="")
    hand: str = choice(
        "Hand", ("none", "left", "right"), help="which side of the aeroplane the part is for", default="none"
    )
    primary: bool = flag("Primary structure", help="spar, attach fittings, controls, engine mount, gear")
    layers: tuple[Layer, ...] = rows(Layer, "Layers", help="the sheets, from the manufactured head", least=2)
    head: str = choice("Head", HEADS, help="flush or protruding manufactured head", default="flush 100°")
    rivet: str | None = text(
        "Rivet called out",
        help="its public part number, if the drawing has one",
        example="MS20426AD3-3.5",
        optional=True,
    )
    size: str | None = choice(
        "Rivet diameter called out", SIZES, help="if the drawing gives only the diameter", optional=True
    )
    first: Quantity = quantity(
        "in",
        "First hole at",
        help="along the row, from the datum end of the part",
        example="3/8 in",
        low="0 in",
        high="2000 in",
    )
    last: Quantity = quantity(
        "in",
        "Last hole at",
        help="along the row, from the same end",
        example="57-5/8 in",
        low="0 in",
        high="2000 in",
    )
    part_length: Quantity | None = quantity(
        "in",
        "Part length along the row",
        help="so that the end holes can be checked",
        example="58 in",
        low="0.1 in",
        high="2000 in",
        optional=True,
    )
    pitch: Quantity | None = quantity(
        "in",
        "Pitch called out",
        help="distance between neighbours, if drawn",
        example="1-1/8 in",
        low="0.05 in",
        high="24 in",
        optional=True,
    )
    punched: bool = flag(
        "Holes are punched already", help="the kit's parts carry the holes; they are not laid out again"
    )
    row_runs: str = choice(
        "The row runs",
        ("inboard to outboard", "outboard to inboard", "forward to aft", "lower to upper"),
        help="from the first hole to the last",
        default="inboard to outboard",
    )
    exceptions: tuple[Exception_, ...] = rows(
        Exception_, "Exceptions", help="holes that are left open or take another fastener"
    )

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
        if self.rivet is not None:
            called = read_part_number(self.rivet, field="Rivet called out")
            if called.head != self.head:
                raise InputError(
                    "Rivet called out", found=f"{self.rivet}, a {called.head} head", allowed=f"a {self.head} head",
                    because="rivet and head don't go together", mend="Correct the head or the rivet.",
                )  # fmt: skip
            if self.size is not None and called.size != self.size:
                raise InputError(
                    "Rivet diameter called out", found=f"{self.size} with {self.rivet}", allowed=called.size,
                    because="rivet and diameter don't go together", mend="Leave the diameter empty.",
                )  # fmt: skip
        for layer in self.layers:
            if layer.treatment in ("dimple", "countersink") and self.head == "universal":
                raise InputError(
                    f"Hole called out in {layer.part}", found=f"{layer.treatment} under a universal head", allowed="neither",
                    because="a protruding head sits on a plain hole", mend="Correct the head or the hole.",
                )  # fmt: skip
        for one in self.exceptions:
            if one.what == "other fastener" and not one.fastener:
                raise MissingError(
                    f"Exceptions, hole {one.hole}, fastener",
                    allowed="the fastener's part number",
                    mend="Enter which fastener goes there.",
                )


@dataclass(frozen=True, slots=True)
class SeamPlan:
    """What a seam came to; sheets, picture and drill strip are made from this."""

    spec: Seam
    rivet: Rivet
    grip_in: float
    treatments: tuple[Treatment, ...]
    pilot: str
    final: str
    positions_in: tuple[float, ...]
    pitch_in: float
    row_because: Because
    rivet_because: Because
    heads: tuple[Requirement, ...]

    @property
    def open_holes(self) -> frozenset[int]:
        """Numbers of the holes that are left open."""
        return frozenset(e.hole for e in self.spec.exceptions if e.what == "left open")

    @property
    def rivets(self) -> int:
        """How many rivets of this kind the row takes."""
        return len(self.positions_in) - len(self.spec.exceptions)


def plan_seam(spec: Seam, ws: Worksheet) -> tuple[SeamPlan, tuple[Finding, ...]]:
    """Work a seam out, writing every step, and judge what the drawing fixes.

    Raises:
        GeometryError: the seam can't be (holes overlapping, beyond an edge, an exception without its hole).
        InputError, TableError: as the spec or a table refuses.
    """
    where = f"drawing {spec.drawing or 'without number'}, revision {spec.revision or '-'}"
    thickness = tuple(layer.thickness.value for layer in spec.layers)
    for layer in spec.layers:
        ws.called_out(f"thickness, {layer.part}", layer.thickness, where)
    grip = float(sum(thickness))
    ws.worked_out("grip", f"{grip:.3f} in", "the sheets added", value=grip, unit="in")

    chosen, why = _rivet(spec, ws, where, thickness, grip)
    d = chosen.diameter_in
    proud = chosen.length_in - grip
    if proud <= 0.2 * d:
        raise GeometryError(
            "Rivet called out", found=f"{chosen.part_number}, {proud:.3f} in proud of a {grip:.3f} in stack",
            allowed=f"about {1.5 * d:.3f} in proud", mend="Check the stack and the rivet: it can't form a head.",
        )  # fmt: skip
    hole_cell = table("rivets/nominal-hole").cell(chosen.size, "diameter")
    hole = ws.look_up("nominal hole", hole_cell)
    ws.step(
        "formed head at .5 D high", head_diameter_in, proud_in=proud, diameter_in=d, hole_in=hole, grip_in=grip,
        head_height_in=0.5 * d,
    )  # fmt: skip

    drills = table("rivets/drill")
    pilot, final = drills.cell(chosen.size, "pilot"), drills.cell(chosen.size, "final")
    ws.look_up("pilot drill", pilot)
    ws.look_up("final drill", final)
    treated = _treatments(spec, ws, where, chosen, thickness)

    row = lay_row(
        ws, first=spec.first, last=spec.last, pitch=spec.pitch, diameter_in=d, drawing=spec.drawing,
        revision=spec.revision, punched=spec.punched,
    )  # fmt: skip
    positions, pitch, row_why = row.positions_in, row.pitch_in, row.because
    beyond = [e.hole for e in spec.exceptions if e.hole > len(positions)]
    if beyond:
        raise GeometryError(
            "Exceptions, hole number",
            found=beyond[0],
            allowed=f"1 to {len(positions)}",
            mend="Count from the row's first hole.",
        )
    if len({e.hole for e in spec.exceptions}) != len(spec.exceptions):
        raise GeometryError(
            "Exceptions, hole number",
            found="one hole twice",
            allowed="each hole once",
            mend="Remove one of the two rows.",
        )
    findings = judge_row(
        ws, row, kind=kind_of(spec.head), diameter_in=d, hole_in=hole,
        edges=tuple((layer.part, layer.edge_distance) for layer in spec.layers), part_length=spec.part_length,
    )  # fmt: skip
    _strength_note(spec, ws, chosen, thickness)
    plan = SeamPlan(
        spec, chosen, grip, treated, pilot.text, final.text, positions, pitch, row_why, why,
        formed_head_requirements(chosen.size),
    )  # fmt: skip
    return plan, findings


def _rivet(
    spec: Seam, ws: Worksheet, where: str, thickness: tuple[float, ...], grip: float
) -> tuple[Rivet, Because]:
    rule = table("rivets/length")
    if spec.rivet is not None:
        called = read_part_number(spec.rivet, field="Rivet called out")
        ws.called_out("rivet", called.part_number, where)
        wanted = ws.step(
            "length by the handbook", rivet_length_in, grip_in=grip,
            extra_ratio=rule.cell("standard head", "extra").value, diameter_in=called.diameter_in,
        )  # fmt: skip
        off = called.length_in - wanted
        ws.note(
            f"The rivet called out is {number_text(abs(off), 3)} in {'longer' if off > 0 else 'shorter'} than grip plus 1.5 D "
            f"({'inside' if abs(off) <= 1 / 32 + 1e-9 else 'outside'} the usual 1/32 in either way). The drawing decides; the trial piece shows."
        )
        return called, Because.drawing(spec.drawing, spec.revision, "rivet called out")
    size = spec.size
    if size is not None:
        ws.called_out("rivet diameter", f"{size} in", where)
    else:
        size = _size(thickness)
        ws.worked_out(
            "rivet diameter", f"{size} in",
            "at least the thickest sheet and about three times the thinner outer sheet, not under 3/32 in (NAVEDTRA 14018; AC 43.13-1B par. 4-58g)",
            value=float(Fraction(size)), unit="in", rung="seen",
        )  # fmt: skip
    d = float(Fraction(size))
    small = size in ("3/32", "1/8")
    row = rule.cell("half size" if small else "standard head", "extra")
    wanted = ws.step(
        "length before rounding", rivet_length_in, grip_in=grip, extra_ratio=row.value, diameter_in=d
    )
    step = rule.cell("half size" if small else "standard head", "step")
    length = rounded_length_16(wanted, step.value)
    made = rivet(spec.head, "AD", size, length)
    ws.worked_out(
        "rivet", made.part_number, f"next length sold, in steps of {step.text} in; 2117-T4 is the usual alloy",
        value=made.length_in, unit="in", rung="practice",
    )  # fmt: skip
    return made, Because.worked_out(
        f"{made.part_number}: grip {grip:.3f} in plus 1.5 D, next {step.text} in", row.rung
    )


def _size(thickness: tuple[float, ...]) -> str:
    wanted = max(3 * min(thickness), max(thickness), 0.09375)
    thickest = max(thickness)
    # nearest size to three times the thinner sheet, but never thinner than the thickest sheet
    fitting = [s for s in SIZES if float(Fraction(s)) >= thickest - 1e-9]
    if not fitting:
        raise GeometryError(
            "Thickness", found=f"{thickest:.3f} in", allowed="at most 1/4 in for the rivets known here",
            mend="Call the fastener out as the drawing has it.",
        )  # fmt: skip
    return min(fitting, key=lambda s: abs(float(Fraction(s)) - wanted))


def _treatments(
    spec: Seam, ws: Worksheet, where: str, chosen: Rivet, thickness: tuple[float, ...]
) -> tuple[Treatment, ...]:
    proposed: tuple[Treatment, ...]
    if spec.head == "universal" or chosen.size in table("rivets/countersink-least-sheet").row_keys():
        proposed = treatments(head=spec.head, size=chosen.size, thickness_in=thickness)
    elif all(layer.treatment for layer in spec.layers):
        proposed = ()
    else:
        table("rivets/countersink-least-sheet").cell(
            chosen.size, "strict"
        )  # refuses, naming the sizes that it holds
        proposed = ()
    made = []
    for number, layer in enumerate(spec.layers):
        if layer.treatment is not None:
            ws.called_out(f"hole in {layer.part}", layer.treatment, where)
            extra = proposed[number].extra_depth_in if proposed and layer.treatment == "countersink" else 0.0
            made.append(
                Treatment(
                    layer.treatment,
                    Because.drawing(spec.drawing, spec.revision, f"{layer.treatment} called out"),
                    extra,
                )
            )
            if proposed and proposed[number].kind != layer.treatment:
                ws.note(
                    f"{layer.part}: {layer.treatment} is called out where the usual rule gives {proposed[number].kind}. The drawing decides."
                )
        else:
            one = proposed[number]
            said = one.kind + (
                f", {one.extra_depth_in:.3f} in deeper than for the bare head" if one.extra_depth_in else ""
            )
            ws.worked_out(f"hole in {layer.part}", said, one.because.text, rung=one.because.rung)
            made.append(one)
    return tuple(made)


def _strength_note(spec: Seam, ws: Worksheet, chosen: Rivet, thickness: tuple[float, ...]) -> None:
    """What one rivet carries, as a note: only where the tables hold rivet and sheets."""
    thinnest = min(range(len(thickness)), key=lambda i: thickness[i])
    layer = spec.layers[thinnest]
    allow = table("materials/sheet")
    if spec.head.startswith("flush"):
        ws.note(
            "Strength is not worked out: no table of flush joints is held here, and a protruding rivet's value is not theirs."
        )
        return
    if chosen.alloy != "AD" or layer.material not in allow.rows:
        ws.note("Strength is not worked out: the tables here don't hold this rivet alloy or sheet.")
        return
    low, high = (
        allow.cell(layer.material, "least t").canonical,
        allow.cell(layer.material, "greatest t").canonical,
    )
    if not low - 1e-9 <= layer.thickness.value <= high + 1e-9:
        ws.note(f"Strength is not worked out: the table holds {layer.material} from {low:g} to {high:g} in.")
        return
    shear = ws.look_up("rivet in single shear", table("rivets/shear").cell(chosen.size, "shear"))
    if layer.thickness.value / chosen.diameter_in < 0.18:
        ws.note(
            f"t/D is {layer.thickness.value / chosen.diameter_in:.2f}: handbook bearing values hold from .18 on, so strength is not stated."
        )
        return
    factor = ws.step(
        "thin-sheet factor",
        thin_sheet_factor,
        diameter_in=chosen.diameter_in,
        thickness_in=layer.thickness.value,
    )
    f_bru = ws.look_up(f"bearing, {layer.material}, e/D 2", allow.cell(layer.material, "Fbru_2_0"))
    bearing = ws.step(
        "bearing in the thinnest sheet",
        sheet_bearing_lbf,
        f_bru_psi=f_bru,
        diameter_in=chosen.diameter_in,
        thickness_in=layer.thickness.value,
    )
    carries = min(shear * factor, bearing)
    ws.worked_out(
        "one rivet carries", f"{carries:.0f} lbf", "the smaller of shear and bearing, ultimate, dry; not approved data",
        value=carries, unit="lbf", rung="memory",
    )  # fmt: skip


@calculation(
    "seam",
    title="Seam of solid rivets",
    summary="Rivet, length, drills, dimple or countersink, edge distance, pitch and the hole table of one row.",
    spec=Seam,
    results=(
        "rivet", "grip", "rivet_length", "rivets", "holes", "pitch", "hole_positions", "pilot_drill", "final_drill",
        "treatments", "least_edge_distance", "formed_head_diameter", "formed_head_height",
    ),
)  # fmt: skip
def seam(spec: Seam, ws: Worksheet) -> Outcome:
    """One row of solid rivets: worksheet, findings on what is drawn, stage sheets, picture and drill strip."""
    from ribwright.core.fastening.seam_picture import drill_strip, seam_picture
    from ribwright.core.fastening.seam_sheets import seam_sheets

    plan, findings = plan_seam(spec, ws)
    d = plan.rivet.diameter_in
    edge = table("rivets/edge-distance").cell(kind_of(spec.head), "least").value * d
    wide, tall = plan.heads
    results = {
        "rivet": Result("rivet", plan.rivet.part_number),
        "grip": Result("grip", plan.grip_in, "in"),
        "rivet_length": Result("rivet length", plan.rivet.length_in, "in", places=4),
        "rivets": Result("rivets of this kind", float(plan.rivets), "", places=0),
        "holes": Result("holes in the row", float(len(plan.positions_in)), "", places=0),
        "pitch": Result("pitch", plan.pitch_in, "in"),
        "hole_positions": Result("holes at", plan.positions_in, "in"),
        "pilot_drill": Result("pilot drill", plan.pilot),
        "final_drill": Result("final drill", plan.final),
        "treatments": Result(
            "hole in each layer",
            "; ".join(
                f"{layer.part}: {one.kind}" for layer, one in zip(spec.layers, plan.treatments, strict=True)
            ),
        ),
        "least_edge_distance": Result("least edge distance", edge, "in"),
        "formed_head_diameter": Result("formed head, least diameter", wide.low or 0.0, "in"),
        "formed_head_height": Result("formed head height", tall.nominal or 0.0, "in", tall.low, tall.high),
    }
    cautions: tuple[str, ...] = CAUTIONS
    if spec.primary:
        cautions = (
            "Primary structure: for any mistake here nothing is proposed; the question goes to the designer.",
            *CAUTIONS,
        )
    return Outcome(
        tuple(ws.steps),
        results,
        plan.heads,
        findings,
        cautions,
        seam_picture(plan),
        seam_sheets(plan),
        (drill_strip(plan),),
    )
