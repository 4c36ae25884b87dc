"""Straightening a pressed rib by flutes, a flanged hole, and twist before closing, as calculations."""

from __future__ import annotations

import math
from dataclasses import dataclass

from ribwright.core.audit import Outcome, Result, Worksheet, calculation, choice, quantity, text
from ribwright.core.bench import CAUTIONS, Because, Reading, Requirement, compare
from ribwright.core.forming.flange import (
    edge_stretch_share,
    excess_from_bow_in,
    flute_takeup_in,
    hole_blank_in,
    slope_deg,
)
from ribwright.core.forming.twist_picture import twist_picture
from ribwright.core.units import Quantity
from ribwright.errors import MissingError, OutOfRangeError


@dataclass(frozen=True, slots=True)
class RibBow:
    """A pressed rib whose flange pulled it into a bow."""

    bow: Quantity = quantity(
        "in",
        "Bow",
        help="largest gap to a straight edge along the flange's line",
        example="3/32",
        low="0.01 in",
        high="3 in",
    )
    length: Quantity = quantity(
        "in", "Length", help="over which it was read", example="10", low="2 in", high="100 in"
    )
    height: Quantity = quantity(
        "in", "Rib height", help="across the web there", example="3", low="0.3 in", high="30 in"
    )
    width: Quantity = quantity(
        "in",
        "Flute width",
        help="at the free edge, by the pliers",
        example="3/8",
        low="0.2 in",
        high="2 in",
        default="3/8",
    )
    pitch: Quantity = quantity(
        "in",
        "Rivet pitch",
        help="flutes go between rivets",
        example="1",
        low="0.3 in",
        high="6 in",
        default="1",
    )


@calculation(
    "rib-bow",
    title="Flutes that straighten a pressed rib",
    summary="From the bow of a pressed rib: how many flutes, how deep, in which rivet spaces.",
    spec=RibBow,
    results=("excess", "flutes", "depth", "every", "spaces"),
)
def rib_bow(spec: RibBow, ws: Worksheet) -> Outcome:
    """Excess from the bow; the fewest flutes of a depth that pliers make."""
    length, width, pitch = float(spec.length.value), float(spec.width.value), float(spec.pitch.value)
    excess = ws.step(
        "flange too long by",
        excess_from_bow_in,
        bow_in=float(spec.bow.value),
        length_in=length,
        height_in=float(spec.height.value),
    )
    deepest = 0.125
    most = ws.step("one flute of 1/8 in takes up", flute_takeup_in, depth_in=deepest, width_in=width)
    spaces = max(1, int(length / pitch))
    count = max(1, math.ceil(excess / most), math.ceil(length / 3.0))
    if count > spaces:
        raise OutOfRangeError(
            "Bow", found=f"{spec.bow.text}: {count} flutes for {spaces} rivet spaces", allowed="one flute a space, to 1/8 in deep",
            mend="Shrink the flange over a block first, or make a new rib.",
        )  # fmt: skip
    depth = math.sqrt(excess / count * 4.0 * width / math.pi**2)
    ws.worked_out(
        "flutes",
        str(count),
        "fewest of at most 1/8 in depth, and one at least every 3 in (common practice)",
        value=float(count),
        rung="practice",
    )
    chosen = sorted({min(spaces, 1 + int((i + 0.5) * spaces / count)) for i in range(count)})
    ws.note("Flute a little at a time, from the middle outwards, and lay the straight edge on after each.")
    return Outcome(
        tuple(ws.steps),
        {
            "excess": Result("flange too long by", excess, "in"),
            "flutes": Result("flutes", float(count), "", places=0),
            "depth": Result("depth of each", depth, "in"),
            "every": Result("one every", length / count, "in"),
            "spaces": Result("in the rivet spaces", ", ".join(map(str, chosen))),
        },
        requirements=(
            Requirement(
                "bow of the rib after fluting", "in", 0.0, 0.0, max(0.01, length / 384.0),
                Because.published("practice", "straight within about 1/32 in a foot", "practice"),
                "straight edge along the line of the flange", "Read again.", "Deepen the flutes where the gap is largest.", usual_u=0.005,
            ),
        ),
        cautions=(*CAUTIONS, "A flute under a rivet keeps the sheets apart: keep them between the rivets."),
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class FlangedHole:
    """A lightening hole with a square flange."""

    hole: Quantity = quantity(
        "in", "Finished inside diameter", help="inside of the flange", example="3", low="1.5 in", high="40 in"
    )
    height: Quantity = quantity(
        "in",
        "Flange height",
        help="outside of the web to the flange's edge",
        example="1/4",
        low="0.2 in",
        high="0.5 in",
    )
    radius: Quantity = quantity(
        "in", "Inside radius", help="of the die", example="3/32", low="0.03 in", high="0.1 in"
    )
    thickness: Quantity = quantity(
        "in", "Sheet thickness", help="of the web", example=".025", low="0.012 in", high="0.08 in"
    )


@calculation(
    "flanged-hole",
    title="Blank of a flanged lightening hole",
    summary="Diameter to cut before the flange is pressed, and how far its edge is stretched.",
    spec=FlangedHole,
    results=("blank", "stretch"),
)
def flanged_hole(spec: FlangedHole, ws: Worksheet) -> Outcome:
    """Developed section, then the stretch of its edge."""
    d = float(spec.hole.value)
    blank = ws.step(
        "cut the hole to",
        hole_blank_in,
        inside_diameter_in=d,
        height_in=float(spec.height.value),
        radius_in=float(spec.radius.value),
        thickness_in=float(spec.thickness.value),
    )
    stretch = ws.step("stretch of the edge", edge_stretch_share, inside_diameter_in=d, blank_in=blank)
    said = list(CAUTIONS)
    if stretch > 0.10:
        said.append(
            "The edge is stretched by more than a tenth: expect it to crack in a hard temper; lower the flange."
        )
    said.append("Deburr the edge to a polish before pressing: cracks start at burrs. Try it on scrap first.")
    return Outcome(
        tuple(ws.steps),
        {
            "blank": Result("cut the hole to", blank, "in"),
            "stretch": Result("stretch of the edge", 100 * stretch, "%", places=1),
        },
        cautions=tuple(said),
    )


@dataclass(frozen=True, slots=True)
class Twist:
    """Twist of a surface, end against end, before it is closed."""

    title: str = text("Surface", help="what is measured", example="left aileron")
    drawing: str = text("Drawing number", help="where the washout is drawn", example="DN-2104", default="")
    revision: str = text("Drawing revision", help="as printed", example="A", default="")
    way: str = choice(
        "Measured by",
        ("level on the end ribs", "two straight edges"),
        help="a digital level, or sighting over two edges",
    )
    first: Quantity | None = quantity(
        "deg",
        "Level at the inner end",
        help="as shown",
        example="0.3",
        low="-90 deg",
        high="90 deg",
        optional=True,
    )
    second: Quantity | None = quantity(
        "deg",
        "Level at the outer end",
        help="as shown, same way round",
        example="0.1",
        low="-90 deg",
        high="90 deg",
        optional=True,
    )
    first_turned: Quantity | None = quantity(
        "deg", "Inner end, level turned round", help="turned end for end: its own error drops out", example="-0.3", low="-90 deg", high="90 deg", optional=True
    )  # fmt: skip
    second_turned: Quantity | None = quantity(
        "deg", "Outer end, level turned round", help="turned end for end", example="-0.1", low="-90 deg", high="90 deg", optional=True
    )  # fmt: skip
    rise: Quantity | None = quantity(
        "in",
        "Rise of one edge against the other",
        help="at their ends",
        example="1/32",
        low="-5 in",
        high="5 in",
        optional=True,
    )
    span: Quantity | None = quantity(
        "in",
        "Length of the straight edges",
        help="between where the rise was read",
        example="24",
        low="2 in",
        high="100 in",
        optional=True,
    )
    wanted: Quantity = quantity(
        "deg",
        "Twist drawn",
        help="washout of the drawing; 0 for none",
        example="0",
        low="-10 deg",
        high="10 deg",
        default="0",
    )
    allowed: Quantity = quantity(
        "deg",
        "Allowed either way",
        help="from the drawing; common practice .5 for a control surface, .2 for a wing",
        example="0.5",
        low="0.02 deg",
        high="3 deg",
        default="0.5",
    )
    limits: Quantity = quantity(
        "deg",
        "Reading, plus or minus",
        help="nineteen times in twenty, of one reading",
        example="0.1",
        low="0.005 deg",
        high="2 deg",
        default="0.1",
    )


@calculation(
    "twist-before-closing",
    title="Twist before closing",
    summary="Twist end to end with its band from level or straight-edge readings; the closing seam locks it in.",
    spec=Twist,
    results=("twist", "error"),
)
def twist_before_closing(spec: Twist, ws: Worksheet) -> Outcome:
    """Difference of the two ends, its band, the requirement."""
    u = float(spec.limits.value)
    if spec.way == "level on the end ribs":
        if spec.first is None or spec.second is None:
            raise MissingError(
                "Level at the ends",
                allowed="both ends",
                mend="Read the level at both ends, the same way round.",
            )
        twist, band = float(spec.second.value) - float(spec.first.value), math.sqrt(2.0) * u
        said = "outer less inner reading"
        if (spec.first_turned is None) != (spec.second_turned is None):
            raise MissingError(
                "Level turned round", allowed="at both ends or at neither", mend="Turn it round at the other end too."
            )  # fmt: skip
        if spec.first_turned is not None and spec.second_turned is not None:
            turned = float(spec.second_turned.value) - float(spec.first_turned.value)
            twist, band, said = (twist - turned) / 2, u, "outer less inner, mean of both ways round"
        ws.worked_out("twist", f"{twist:.2f}°", said, value=twist, unit="deg")
    else:
        if spec.rise is None or spec.span is None:
            raise MissingError(
                "Rise and length",
                allowed="both",
                mend="Read how far one edge stands up against the other, and over what length.",
            )
        twist = ws.step("twist", slope_deg, rise_in=float(spec.rise.value), span_in=float(spec.span.value))
        band = u
    error = twist - float(spec.wanted.value)
    allowed = float(spec.allowed.value)
    needed = Requirement(
        "twist against the drawing", "deg", -allowed, 0.0, allowed,
        Because.drawing(spec.drawing, spec.revision, "twist allowed, as entered"),
        "digital level on the same chord line of both end ribs, turned end for end once; or two straight edges sighted",
        "Shim the jig, let the skins move, read again: do not rivet it out.",
        "Shim the jig, let the skins move, read again: do not rivet it out.",
        usual_u=band,
    )  # fmt: skip
    return Outcome(
        tuple(ws.steps),
        {
            "twist": Result(
                "twist, outer end against inner", twist, "deg", twist - band, twist + band, places=2
            ),
            "error": Result("off the drawing by", error, "deg", error - band, error + band, places=2),
        },
        requirements=(needed,),
        findings=(compare(needed, Reading(error, "deg", band, where=spec.title)),),
        cautions=(
            *CAUTIONS,
            "The closing seam locks twist in: read before the first rivet and again with every third hole held.",
        ),
        picture=twist_picture("inner end", "outer end", twist, band, float(spec.wanted.value)),
    )
