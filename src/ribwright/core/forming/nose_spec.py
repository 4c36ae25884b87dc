"""What the builder enters for a rolled edge."""

from __future__ import annotations

from dataclasses import dataclass

from ribwright.core.audit import choice, quantity, rows, text, whole
from ribwright.core.forming.stock import alloy_field, grain_field, thickness_field, yield_field
from ribwright.core.units import Quantity
from ribwright.errors import OutOfRangeError

MATERIALS = ("PVC pipe", "steel", "aluminium", "copper", "hardwood")
LEVERS = ("one end", "both ends")


@dataclass(frozen=True, slots=True)
class Station:
    """A template of the edge: one of the shapes is filled in, or points below carry the same place."""

    place: Quantity = quantity(
        "in", "Place", help="along the edge from the lever's end", example="0", low="0 in", high="400 in"
    )
    radius: Quantity | None = quantity(
        "in",
        "Inside radius",
        help="of a round nose, inside of the skin; about, until its paper template is taken in by photo",
        example="1.12",
        low="0.05 in",
        high="20 in",
        optional=True,
    )
    arc: Quantity | None = quantity(
        "deg",
        "Arc",
        help="how far round one skin goes",
        example="90",
        low="10 deg",
        high="200 deg",
        optional=True,
    )
    depth: Quantity | None = quantity(
        "in",
        "Depth of an ellipse",
        help="fore-and-aft half axis, inside",
        example="1.4",
        low="0.05 in",
        high="20 in",
        optional=True,
    )
    half_height: Quantity | None = quantity(
        "in",
        "Half height of an ellipse",
        help="the other half axis",
        example="1.0",
        low="0.05 in",
        high="20 in",
        optional=True,
    )
    chord: Quantity | None = quantity(
        "in",
        "Whole chord",
        help="for half the thickness at the hinge line",
        example="36 in",
        low="2 in",
        high="200 in",
        optional=True,
    )
    thick: Quantity | None = quantity(
        "%",
        "Section thickness",
        help="largest, of the chord",
        example="10 %",
        low="3 %",
        high="30 %",
        optional=True,
    )
    hinge: Quantity | None = quantity(
        "%", "Hinge line", help="of the chord", example="60 %", low="20 %", high="95 %", optional=True
    )


@dataclass(frozen=True, slots=True)
class TemplatePoint:
    """A point of a drawn or measured template."""

    place: Quantity = quantity("in", "Place", help="of its station", example="0", low="0 in", high="400 in")
    x: Quantity = quantity("in", "x", help="inside of the skin, from the free edge inwards", example="0.2")
    y: Quantity = quantity("in", "y", help="the other direction", example="0.4")


@dataclass(frozen=True, slots=True)
class RoundTool:
    """Anything round, its diameter measured."""

    name: str = text("Tool", help="as you call it", example="1 in pipe")
    outside: Quantity = quantity(
        "in", "Outside diameter", help="measured", example="1.315", low="0.1 in", high="12 in"
    )
    inside: Quantity | None = quantity(
        "in",
        "Inside diameter",
        help="leave empty for a solid bar",
        example="1.049",
        low="0.02 in",
        high="11.9 in",
        optional=True,
    )
    material: str = choice("Material", MATERIALS, help="how much the tool itself twists hangs on it")

    def __post_init__(self) -> None:
        if self.inside is not None and self.inside.value >= self.outside.value:
            raise OutOfRangeError(
                "Inside diameter",
                found=self.inside.text,
                allowed=f"less than {self.outside.text}",
                mend="Measure both again.",
            )


@dataclass(frozen=True, slots=True)
class EarlierRoll:
    """An edge of the same lot of sheet, rolled before: what it came to."""

    tool: Quantity = quantity(
        "in", "Tool diameter", help="outside, with its wrap", example="1.315", low="0.1 in", high="12 in"
    )
    radius: Quantity = quantity(
        "in", "Inside radius found", help="let go", example="1.34", low="0.05 in", high="40 in"
    )
    limits: Quantity = quantity(
        "in", "Plus or minus", help="nineteen times in twenty", example=".03", low="0.001 in", high="5 in"
    )


@dataclass(frozen=True, slots=True)
class NoseRoll:
    """One section of a rolled edge, between cut-outs."""

    title: str = text("Section", help="which edge, which section", example="left aileron nose, section 2")
    drawing: str = text("Drawing number", help="where it is drawn", example="DN-2104", default="")
    revision: str = text("Drawing revision", help="as printed", example="A", default="")
    hand: str = choice("Hand", ("none", "left", "right"), help="of the part", default="none")
    alloy: str = alloy_field()
    thickness: Quantity = thickness_field()
    grain: str = grain_field()
    certificate: Quantity | None = yield_field()
    length: Quantity = quantity(
        "in",
        "Length of the section",
        help="between cut-outs, along the edge",
        example="14 in",
        low="1 in",
        high="200 in",
    )
    stations: tuple[Station, ...] = rows(
        Station, "Templates", help="stations in order along the edge", least=1
    )
    points: tuple[TemplatePoint, ...] = rows(
        TemplatePoint, "Template points", help="for a shape that is no circle"
    )
    flat: Quantity = quantity(
        "in",
        "Straight part behind",
        help="behind the curve, that must lie true",
        example="1/2",
        low="0 in",
        high="10 in",
        default="1/2",
    )
    tools: tuple[RoundTool, ...] = rows(RoundTool, "Round tools on hand", help="every one you have", least=1)
    wrap: Quantity | None = quantity(
        "in",
        "Wrap to build up with",
        help="thickness of one turn of sheet or tape on a tool",
        example=".016",
        low="0.002 in",
        high="0.1 in",
        optional=True,
    )
    turns: int = whole("Most turns of wrap", help="on one tool", example="3", low=1, high=8, default=3)
    tape: Quantity | None = quantity(
        "psi",
        "Tape strength",
        help="pull of a 1-in strip lapped 1 in, over its square inch",
        example="30 psi",
        low="1 psi",
        high="1000 psi",
        optional=True,
    )
    overlap: Quantity = quantity(
        "in",
        "Most tape on the sheet",
        help="lap of tape on the edge that you can spare",
        example="1",
        low="1/4 in",
        high="4 in",
        default="1",
    )
    held: Quantity = quantity(
        "in",
        "Held distance",
        help="from the tool's centre line to the held part when the roll ends",
        example="1/2",
        low="0.1 in",
        high="6 in",
        default="1/2",
    )
    levers: str = choice("Levers", LEVERS, help="on which ends of the tool", default="one end")
    pull: Quantity = quantity(
        "lbf",
        "Pull of your hand",
        help="on the lever, without strain",
        example="30",
        low="2 lbf",
        high="150 lbf",
        default="30",
    )
    tolerance: Quantity = quantity(
        "in",
        "Gap to the template that is good enough",
        help="from the drawing; common practice 1/32",
        example="1/32",
        low="0.005 in",
        high="0.5 in",
        default="1/32",
    )
    spar: Quantity = quantity(
        "in",
        "Spar behind the curve",
        help="from the end of the arc to the spar",
        example="1",
        low="0.1 in",
        high="40 in",
        default="1",
    )
    scrap_chord: Quantity | None = quantity(
        "in",
        "Scrap: chord",
        help="of a rolled scrap of this sheet, let go, inside",
        example="1.6",
        low="0.1 in",
        high="40 in",
        optional=True,
    )
    scrap_height: Quantity | None = quantity(
        "in",
        "Scrap: height",
        help="of its arc over that chord",
        example=".36",
        low="0.01 in",
        high="20 in",
        optional=True,
    )
    scrap_tool: Quantity | None = quantity(
        "in",
        "Scrap: tool diameter",
        help="outside, of the tool it was rolled on",
        example="1.315",
        low="0.1 in",
        high="12 in",
        optional=True,
    )
    scrap_limits: Quantity = quantity(
        "in",
        "Scrap: reading, plus or minus",
        help="of chord and height, nineteen times in twenty",
        example=".005",
        low="0.0005 in",
        high="0.2 in",
        default=".005",
    )
    earlier: tuple[EarlierRoll, ...] = rows(
        EarlierRoll,
        "Rolled before",
        help="edges of the same lot of sheet and the same grain; they narrow the band",
    )
