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
from ribwright.core.bench import (
    CAUTIONS,
    Because,
    Reading,
    Requirement,
    Setting,
    StageSheet,
    TrayItem,
    Trial,
    compare,
)
from ribwright.core.fastening.rivets import HEADS
from ribwright.core.fastening.row import Row, judge_row, kind_of, lay_row
from ribwright.core.scene import Circle, Dimension, Hand, Item, Line, Scene, Text
from ribwright.core.tables import drill_sizes, table
from ribwright.core.units import Quantity, shown
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
    scene = _picture(spec, row)
    return Outcome(
        tuple(ws.steps), results, tuple(requirements), tuple(findings), cautions, scene,
        _sheets(spec, row, tuple(requirements), drill[0] if drill else "", scene), (_strip(spec, row),),
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


def _picture(spec: PullRivetRow, row: Row) -> Scene:
    k = 8.0
    items: list[Item] = []
    y = 0.0
    from ribwright.core.scene import Hatch, Leader, Polygon

    r = spec.diameter.value * k / 2
    for number, layer in enumerate(spec.layers):
        t = layer.thickness.value * k
        for side in (-1, 1):
            box = ((side * r, y), (side * 2.2, y), (side * 2.2, y - t), (side * r, y - t))
            items += [Polygon(box, "outline"), Hatch(box, 45.0 if number % 2 else 135.0, 0.12)]
        items.append(Leader((2.2, y - t / 2), (2.5, 0.2 - 0.3 * number), str(number + 1), 0.16))
        y -= t
    low, high = spec.grip_low.value * k, spec.grip_high.value * k
    for depth, name in (
        (low, f"least grip {spec.grip_low.text}"),
        (high, f"greatest grip {spec.grip_high.text}"),
    ):
        items.append(Line((-2.9, -depth), (2.2, -depth), "hidden"))
        items.append(Text((-2.98, -depth - 0.06), name, 0.16, "end"))
    items.append(
        Polygon(((-2 * r, 0.0), (-1.6 * r, 0.5 * r), (1.6 * r, 0.5 * r), (2 * r, 0.0)), "heavy", fill="paper")
    )
    items.append(
        Polygon(
            ((-1.5 * r, y), (1.5 * r, y), (1.1 * r, y - 1.6 * r), (-1.1 * r, y - 1.6 * r)),
            "heavy",
            fill="paper",
        )
    )
    items.append(Line((0.0, 0.5 * r + 0.4), (0.0, y - 1.6 * r - 0.3), "centre"))
    if spec.hand != "none":
        items.append(Hand((-2.9, 1.2), spec.hand, 0.3))  # type: ignore[arg-type]
    foot = y - 1.6 * r - 0.7
    items += [
        Text((-2.9, foot - 0.28 * n), f"{n + 1}  {layer.part}, {layer.thickness.text}", 0.16)
        for n, layer in enumerate(spec.layers)
    ]
    stack = -y / k
    said = (
        f"Section through one pull-type rivet: stack {stack:.3f} in against a grip range of {spec.grip_low.text} to "
        f"{spec.grip_high.text}. {len(row.positions_in)} rivets, {shown(row.pitch_in, 'in')} apart."
    )
    return Scene(tuple(items), f"Stack against grip range: {spec.title}", said)


def _strip(spec: PullRivetRow, row: Row) -> Scene:
    length = spec.part_length.value if spec.part_length else row.positions_in[-1] + row.positions_in[0]
    items: list[Item] = [
        Line((0.0, -0.6), (0.0, 0.6), "heavy", "marked"),
        Line((length, -0.6), (length, 0.6), "outline", "marked"),
        Line((0.0, 0.0), (length, 0.0), "centre", "marked"),
        Text((0.1, 0.42), f"{spec.title}: {spec.drawing} rev {spec.revision or '-'}", 0.11),
        Dimension((0.0, -0.5), (row.positions_in[0], -0.5), -0.1),
    ]
    for hole, x in enumerate(row.positions_in, start=1):
        items.append(Circle((x, 0.0), spec.hole_low.value / 2, "outline", "drilled"))
        items += [Line((x - 0.12, 0.0), (x + 0.12, 0.0), "thin"), Line((x, -0.12), (x, 0.12), "thin")]
        items.append(Text((x, 0.17), str(hole), 0.09, "middle"))
    return Scene(
        tuple(items),
        f"Drill strip: {spec.title}",
        f"Full-size strip of {len(row.positions_in)} hole centres.",
    )


def _sheets(
    spec: PullRivetRow, row: Row, requirements: tuple[Requirement, ...], drill: str, scene: Scene
) -> tuple[StageSheet, ...]:
    common = {"operation": spec.title, "hand": spec.hand, "drawing": spec.drawing, "revision": spec.revision}
    by_name = {r.name: r for r in requirements}
    stack = ", ".join(f"{layer.thickness.text} {layer.material}" for layer in spec.layers)
    count = len(row.positions_in)
    primary = ("PRIMARY STRUCTURE: a mistake here goes to the designer.",) if spec.primary else ()
    return (
        StageSheet(
            **common, stage="drill", title=f"Drill: {spec.title}",  # type: ignore[arg-type]
            tray=(
                TrayItem("final drill", drill or f"{spec.hole_low.text} to {spec.hole_high.text}", "1", drill),
                TrayItem("temporary fasteners", drill, str(max(2, count // 2 + 1))), TrayItem("deburring tool", "", "1"),
            ),
            settings=(
                Setting("hole", f"{spec.hole_low.text} to {spec.hole_high.text}", by_name["finished hole"].because),
                Setting("holes", f"{count}, {shown(row.pitch_in, 'in')} apart", row.because),
            ),
            trial=Trial(stack, ("Drill three holes, try them with drill shanks.",), (by_name["finished hole"],)),
            steps=(
                "Check figure of the strip measured; tape it on, datum ends together.",
                "Pilot the ends and the middle, temporary fasteners in; then the rest; then open to size.",
                "Apart, deburr, clean: a chip between the sheets holds the rivet open.",
            ),
            requirements=(by_name["finished hole"],), cautions=primary, picture=scene,
        ),
        StageSheet(
            **common, stage="rivet", title=f"Pull: {spec.title}",  # type: ignore[arg-type]
            tray=(
                TrayItem("pull-type rivets", spec.rivet, f"{count} + {max(3, count // 20)}", spec.rivet),
                TrayItem("puller with the nose piece of this rivet", spec.diameter.text, "1"), TrayItem("feeler .002 in", "", "1"),
            ),
            settings=(Setting("grip", f"{spec.grip_low.text} to {spec.grip_high.text}", by_name["stack inside the grip range"].because),),
            trial=Trial(stack, ("Pull three in scrap of the same stack; saw one through: the blind side is formed and tight.",), (by_name["gap under the head"],)),
            steps=(
                "Check number and grip on the box against this sheet.",
                "Sheets clamped tight on both sides of the hole; rivet in to its head.",
                "Puller square and pushed on until the stem breaks; the middle first, then halve the gaps.",
                "Look at the stem: broken where the data sheet says; push on it, it does not move.",
            ),
            requirements=(by_name["gap under the head"],), cautions=primary, picture=scene,
        ),
    )  # fmt: skip
