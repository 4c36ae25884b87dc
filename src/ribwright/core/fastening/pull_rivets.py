"""A row of pull-type (blind) rivets: the supplier's data sheet typed in, the stack held inside its grip range."""

from __future__ import annotations

from dataclasses import dataclass

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
)
from ribwright.core.bench import CAUTIONS, Because, Reading, Requirement, compare
from ribwright.core.fastening.pull_rivet_sheets import pull_rivet_picture, pull_rivet_sheets, pull_rivet_strip
from ribwright.core.fastening.rivets import HEADS
from ribwright.core.fastening.row import judge_row, kind_of, lay_row
from ribwright.core.tables import drill_sizes, table
from ribwright.core.units import Quantity
from ribwright.errors import GeometryError, InputError

MATERIALS = (
    "2024-T3 clad", "2024-T3", "6061-T6", "6061-T4", "7075-T6", "2024-T42", "5052-H32", "5052-H34", "steel",
    "stainless steel", "fibre laminate", "other",
)  # fmt: skip
RIVET_METALS = ("aluminium", "steel", "stainless steel", "nickel-copper", "not stated")


@dataclass(frozen=True, slots=True)
class Sheet:
    """One layer of the stack, from the manufactured head."""

    part: str = text("Part", help="the part's reference or what it is", example="DN-2101 skin")
    thickness: Quantity = quantity(
        "in", "Thickness", help="of this sheet", example=".020", low="0.010 in", high="0.5 in"
    )
    material: str = choice("Material", MATERIALS, help="alloy and temper", default="2024-T3 clad")
    edge_distance: Quantity | None = quantity(
        "in", "Edge distance", help="hole centre to the nearest edge, if drawn", example="5/16 in", low="0.02 in",
        high="20 in", optional=True,
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class PullRivetRow:
    """A row of pull-type rivets. What their data sheet says is typed in; nothing is known of them here."""

    title: str = text("Seam", help="what is joined to what", example="nose lap, left aileron")
    drawing: str = text("Drawing number", help="where the seam is drawn", example="DN-2100", default="")
    revision: str = text("Drawing revision", help="as printed on the drawing", example="B", default="")
    hand: str = choice(
        "Hand", ("none", "left", "right"), help="which side of the aeroplane the part is for", default="none"
    )
    primary: bool = flag("Primary structure", help="spar, attach fittings, controls, engine mount, gear")
    layers: tuple[Sheet, ...] = rows(Sheet, "Layers", help="the sheets, from the manufactured head", least=2)
    rivet: str = text(
        "Rivet",
        help="public standard number, or the number on the supplier's data sheet",
        example="MS20600AD4-2",
    )
    rivet_metal: str = choice(
        "Rivet metal", RIVET_METALS, help="body of the rivet, from the data sheet", default="not stated"
    )
    head: str = choice("Head", HEADS, help="flush or protruding", default="universal")
    diameter: Quantity = quantity(
        "in",
        "Rivet diameter",
        help="nominal, from the data sheet",
        example="1/8 in",
        low="0.09 in",
        high="0.3 in",
    )
    hole_low: Quantity = quantity(
        "in", "Least hole", help="from the data sheet", example=".128", low="0.09 in", high="0.35 in"
    )
    hole_high: Quantity = quantity(
        "in", "Greatest hole", help="from the data sheet", example=".132", low="0.09 in", high="0.35 in"
    )
    grip_low: Quantity = quantity(
        "in", "Least grip", help="from the data sheet", example=".031", low="0 in", high="2 in"
    )
    grip_high: Quantity = quantity(
        "in", "Greatest grip", help="from the data sheet", example=".125", low="0.01 in", high="2 in"
    )
    stack_tolerance: Quantity = quantity(
        "in", "Stack, plus or minus", help="sheet tolerance, sealant and paint together", example=".003", low="0 in",
        high="0.1 in", default="0 in",
    )  # fmt: skip
    blind_length: Quantity | None = quantity(
        "in", "Length behind the stack", help="room that the rivet needs on the blind side, from the data sheet",
        example=".25", low="0.02 in", high="3 in", optional=True,
    )  # fmt: skip
    blind_room: Quantity | None = quantity(
        "in", "Room behind the stack", help="free depth on the blind side", example="1 in", low="0 in", high="100 in",
        optional=True,
    )  # fmt: skip
    shear: Quantity | None = quantity(
        "lbf", "Shear of one rivet", help="from the data sheet", example="260 lb", low="1 lbf", high="20000 lbf", optional=True
    )  # fmt: skip
    tension: Quantity | None = quantity(
        "lbf", "Tension of one rivet", help="from the data sheet", example="220 lb", low="1 lbf", high="20000 lbf",
        optional=True,
    )  # fmt: skip
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
        "in", "Pitch called out", help="distance between neighbours, if drawn", example="1-1/2 in", low="0.05 in",
        high="24 in", optional=True,
    )  # fmt: skip

    def __post_init__(self) -> None:
        if self.grip_high.value < self.grip_low.value:
            raise InputError(
                "Greatest grip", found=f"{self.grip_high.text}, the least {self.grip_low.text}", allowed="not under the least grip",
                because="the grip range is turned round", mend="Copy both from the data sheet.",
            )  # fmt: skip
        if self.hole_high.value < self.hole_low.value or self.hole_low.value < self.diameter.value - 0.01:
            raise InputError(
                "Hole", found=f"{self.hole_low.text} to {self.hole_high.text} for a {self.diameter.text} rivet",
                allowed="a range that lets the rivet in", because="hole and rivet don't go together",
                mend="Copy the hole sizes from the data sheet.",
            )  # fmt: skip
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


def _drill(low_in: float, high_in: float) -> tuple[str, float] | None:
    """The drill that makes a hole in the range, nearest its middle."""
    fits = [
        (name, float(size)) for name, size in drill_sizes().items() if low_in - 1e-9 <= size <= high_in + 1e-9
    ]
    middle = (low_in + high_in) / 2
    return min(fits, key=lambda one: abs(one[1] - middle)) if fits else None


def _sheet_because(spec: PullRivetRow, said: str) -> Because:
    return Because("worked out", f"{said}: supplier's data sheet of {spec.rivet}, as typed in", "second-hand")


@calculation(
    "pull-rivet-row",
    title="Row of pull-type rivets",
    summary="Stack inside the grip range, hole, edge distance, pitch and strength of a row, all from the data sheet typed in.",
    spec=PullRivetRow,
    results=(
        "rivet", "stack", "grip_spare", "rivets", "pitch", "hole_positions", "final_drill", "row_shear", "row_tension",
        "least_edge_distance",
    ),
)  # fmt: skip
def pull_rivet_row(spec: PullRivetRow, ws: Worksheet) -> Outcome:
    """Checks, sheets, strip and picture of a pull-type row."""
    where = f"drawing {spec.drawing or 'without number'}, revision {spec.revision or '-'}"
    d = spec.diameter.value
    ws.called_out("rivet", spec.rivet, where)
    for label, value in (
        ("rivet diameter", spec.diameter), ("least hole", spec.hole_low), ("greatest hole", spec.hole_high),
        ("least grip", spec.grip_low), ("greatest grip", spec.grip_high),
    ):  # fmt: skip
        ws.called_out(label, value, "supplier's data sheet")
    for layer in spec.layers:
        ws.called_out(f"thickness, {layer.part}", layer.thickness, where)
    stack = float(sum(layer.thickness.value for layer in spec.layers))
    ws.worked_out("stack", f"{stack:.3f} in", "the sheets added", value=stack, unit="in")
    grip = Requirement(
        name="stack inside the grip range", unit="in", low=spec.grip_low.value, nominal=None, high=spec.grip_high.value,
        because=_sheet_because(spec, f"grip {spec.grip_low.text} to {spec.grip_high.text}"),
        how="calipers over the clamped sheets, at three holes",
        when_low="The rivet is too long for this stack: take the shorter grip of the same type.",
        when_high="The rivet is too short for this stack: take the next grip of the same type.",
    )  # fmt: skip
    findings = [compare(grip, Reading(stack, "in", spec.stack_tolerance.value, where="the stack"))]
    requirements = [grip]
    if spec.blind_length is not None and spec.blind_room is not None:
        room = Requirement(
            name="room behind the stack", unit="in", low=spec.blind_length.value, nominal=None, high=None,
            because=_sheet_because(spec, "length behind the stack"), how="depth end of the calipers through a hole",
            when_low="The rivet meets what lies behind: choose another fastener with the designer.", when_high="Go on.",
            refer_low=spec.blind_length.value,
        )  # fmt: skip
        requirements.append(room)
        findings.append(compare(room, Reading(spec.blind_room.value, "in", where="the blind side")))
    drill = _drill(spec.hole_low.value, spec.hole_high.value)
    if drill is None:
        ws.note("No number or letter drill makes a hole in this range: ream to size or ask the supplier.")
    else:
        ws.worked_out(
            "final drill", drill[0], "the drill nearest the middle of the range", value=drill[1], unit="in"
        )
    row = lay_row(
        ws, first=spec.first, last=spec.last, pitch=spec.pitch, diameter_in=d, drawing=spec.drawing, revision=spec.revision
    )  # fmt: skip
    findings += judge_row(
        ws, row, kind=kind_of(spec.head), diameter_in=d, hole_in=spec.hole_high.value,
        edges=tuple((layer.part, layer.edge_distance) for layer in spec.layers), part_length=spec.part_length,
    )  # fmt: skip
    count = len(row.positions_in)
    for label, one in (("shear", spec.shear), ("tension", spec.tension)):
        if one is not None:
            ws.called_out(f"{label} of one rivet", one, "supplier's data sheet")
    ws.note(
        "Strength is the data sheet's number times the rivets. No table of pull-type joints in thin sheet is held here: a thin sheet may fail first."
    )
    hole = Requirement(
        name="finished hole", unit="in", low=spec.hole_low.value, nominal=None if drill is None else drill[1],
        high=spec.hole_high.value, because=_sheet_because(spec, "hole size"), how="two drill shanks or a hole gauge",
        when_low="Run the final drill through once more.",
        when_high="Oversize for this rivet: look for the supplier's next size, edge distance and pitch; else ask.",
        refer_high=spec.hole_high.value if spec.primary else spec.hole_high.value + 0.02, usual_u=0.001,
    )  # fmt: skip
    limit = table("acceptance/pull-rivet").cell("set rivet", "gap")
    gap = Requirement(
        name="gap under the head", unit="in", low=None, nominal=0.0, high=limit.value, because=Because.cell(limit),
        how="feeler round the whole head: it does not go in", when_low="Go on.",
        when_high="Drill it out and set another with the sheets clamped.", usual_u=0.0005,
    )  # fmt: skip
    requirements += [hole, gap]
    cautions = (*_cautions(spec), *CAUTIONS)
    edge = table("rivets/edge-distance").cell(kind_of(spec.head), "least").value * d
    results = {
        "rivet": Result("rivet", spec.rivet),
        "stack": Result(
            "stack", stack, "in", stack - spec.stack_tolerance.value, stack + spec.stack_tolerance.value
        ),
        "grip_spare": Result(
            "grip left to the nearer end of the range", min(stack - spec.grip_low.value, spec.grip_high.value - stack), "in"
        ),
        "rivets": Result("rivets", float(count), "", places=0),
        "pitch": Result("pitch", row.pitch_in, "in"),
        "hole_positions": Result("holes at", row.positions_in, "in"),
        "final_drill": Result("final drill", drill[0] if drill else "none fits the range"),
        "row_shear": Result("shear of the row", count * spec.shear.value, "lbf")
        if spec.shear
        else Result("shear of the row", "not stated: the data sheet's shear was not entered"),
        "row_tension": Result("tension of the row", count * spec.tension.value, "lbf")
        if spec.tension
        else Result("tension of the row", "not stated: the data sheet's tension was not entered"),
        "least_edge_distance": Result("least edge distance", edge, "in", limit="least"),
    }  # fmt: skip
    scene = pull_rivet_picture(spec, row)
    return Outcome(
        tuple(ws.steps), results, tuple(requirements), tuple(findings), cautions, scene,
        pull_rivet_sheets(spec, row, tuple(requirements), drill[0] if drill else "", scene), (pull_rivet_strip(spec, row),),
    )  # fmt: skip


def _cautions(spec: PullRivetRow) -> tuple[str, ...]:
    made = [
        "Common pull-type rivets not made for aircraft are not for structure (AC 43.13-1B par. 4-57f(9)): use the type that the drawing names."
    ]
    if spec.primary:
        made.insert(0, "PRIMARY STRUCTURE: a mistake here goes to the designer; nothing is proposed.")
    sheets = {layer.material for layer in spec.layers}
    aluminium = {m for m in sheets if m[0].isdigit()}
    others = sheets - aluminium - {"other"}
    if aluminium and (others or spec.rivet_metal in ("steel", "stainless steel", "nickel-copper")):
        made.append(
            "Dissimilar metals meet here: prime or seal every faying surface and set the rivet wet, as the drawing says."
        )
    return tuple(made)
