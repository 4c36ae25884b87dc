"""Go/no-go gauges as calculations: formed heads, edge distance, and the wedge of a trailing edge."""

from __future__ import annotations

import math
from dataclasses import dataclass

from ribwright.core.audit import Outcome, Result, Worksheet, calculation, choice, quantity, rows, text
from ribwright.core.tables import table
from ribwright.core.templates.gauges import HeadLimits, edge_gauge, head_gauge, wedge_gauge
from ribwright.core.units import Quantity
from ribwright.errors import ConflictError

CRITERIA = ("limits by size", "in diameters")


@dataclass(frozen=True, slots=True)
class HeadSize:
    """A rivet size with its limits; those left empty are taken from the table."""

    size: Quantity = quantity(
        "in", "Rivet diameter", help="shank, as called out", example="1/8", low="1/16 in", high="1/4 in"
    )
    least_diameter: Quantity | None = quantity(
        "in", "Least head diameter", help="the drawing's, if it has one", example=".163", low="0.05 in",
        high="0.6 in", optional=True,
    )  # fmt: skip
    least_height: Quantity | None = quantity(
        "in", "Least head height", help="the drawing's, if it has one", example=".050", low="0.02 in",
        high="0.4 in", optional=True,
    )  # fmt: skip
    greatest_height: Quantity | None = quantity(
        "in", "Greatest head height", help="the drawing's, if it has one", example=".070", low="0.02 in",
        high="0.5 in", optional=True,
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class HeadGauge:
    """One plate for several rivet sizes."""

    sizes: tuple[HeadSize, ...] = rows(HeadSize, "Rivet sizes", help="one row a size", least=1)
    criterion: str = choice(
        "Limits from", CRITERIA, help="the limits printed by size, or the shop's in rivet diameters", default="limits by size"
    )  # fmt: skip
    kerf: Quantity = quantity(
        "in", "Width of the cut", help="of the laser or saw", example="0", low="0 in", high="0.02 in", default="0"
    )  # fmt: skip


def _limits(row: HeadSize, criterion: str, ws: Worksheet) -> HeadLimits:
    name = row.size.text.replace(" in", "").replace('"', "").strip()
    found: dict[str, float] = {}
    by_size = table("rivets/formed-head")
    for key, column in (
        ("least_diameter", "least diameter"),
        ("least_height", "least height"),
        ("greatest_height", "greatest height"),
    ):
        given: Quantity | None = getattr(row, key)
        if given is not None:
            ws.called_out(f"{column}, {name}", given, "the drawing")
            found[key] = given.value
        elif criterion == "limits by size":
            found[key] = ws.look_up(
                f"{column}, {name}", by_size.cell(_key(row.size, by_size.row_keys()), column)
            )
        else:
            share = ws.look_up(
                f"{column} in diameters", table("rivets/formed-head-criteria").cell("default", column)
            )
            found[key] = share * row.size.value
            ws.worked_out(
                f"{column}, {name}", f"{found[key]:.4f} in", f"{share:g} times the shank", value=found[key], unit="in"
            )  # fmt: skip
    return HeadLimits(name, found["least_diameter"], found["least_height"], found["greatest_height"])


def _key(size: Quantity, keys: tuple[str, ...]) -> str:
    """The table's row of a diameter however it was written: 1/8, .125, 0.125 in."""
    for key in keys:
        top, _, foot = key.partition("/")
        if abs(float(top) / float(foot or 1) - size.value) < 5e-4:
            return key
    return size.text


@calculation(
    "head-gauge",
    title="Gauge for formed heads",
    summary="Go and no-go plate for the heads of several rivet sizes: a hole and two feet a size, to be cut by machine.",
    spec=HeadGauge,
    results=("sizes", "holes", "least_heights", "greatest_heights"),
)
def head_plate(spec: HeadGauge, ws: Worksheet) -> Outcome:
    """Limits by size from the table or the drawing, and the plate that has them as gaps."""
    limits = [_limits(row, spec.criterion, ws) for row in spec.sizes]
    names = [one.size for one in limits]
    if len(set(names)) < len(names):
        raise ConflictError(
            "Rivet sizes", found=", ".join(names), allowed="each size once", mend="Take one row out"
        )
    scene = head_gauge(limits, kerf_in=spec.kerf.value)
    ws.note("A plate cut by machine is off by its own error: measure every gap before it judges a head.")
    return Outcome(
        tuple(ws.steps),
        {
            "sizes": Result("rivet sizes", ", ".join(names)),
            "holes": Result("holes: a good head must not go in", tuple(one.least_diameter_in for one in limits), "in"),
            "least_heights": Result("lower foot: must not pass", tuple(one.least_height_in for one in limits), "in"),
            "greatest_heights": Result("taller foot: must pass", tuple(one.greatest_height_in for one in limits), "in"),
        },
        picture=scene,
        templates=(scene,),
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class EdgeStep:
    """A step of the gauge: one rivet size and kind of head."""

    size: Quantity = quantity(
        "in", "Rivet diameter", help="shank, as called out", example="1/8", low="1/16 in", high="1/2 in"
    )
    head: str = choice("Head", ("protruding", "flush"), help="manufactured head", default="protruding")
    least: Quantity | None = quantity(
        "in", "Least edge distance", help="hole centre to edge; the drawing's, if it has one", example="1/4",
        low="0.05 in", high="2 in", optional=True,
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class EdgeGauge:
    """Stepped plate for edge distance."""

    steps: tuple[EdgeStep, ...] = rows(EdgeStep, "Steps", help="one row a rivet", least=1)


@calculation(
    "edge-gauge",
    title="Gauge for edge distance",
    summary="Stepped plate: its fence on the sheet's edge, each step ends at a least edge distance.",
    spec=EdgeGauge,
    results=("distances",),
)
def edge_plate(spec: EdgeGauge, ws: Worksheet) -> Outcome:
    """Least edge distances by rivet and head, and the plate that has them as steps."""
    made: list[tuple[str, float]] = []
    for row in spec.steps:
        name = f"{row.size.text.replace(' in', '')} {row.head}"
        if row.least is not None:
            ws.called_out(f"least edge distance, {name}", row.least, "the drawing")
            least = row.least.value
        else:
            share = ws.look_up("least, in diameters", table("rivets/edge-distance").cell(row.head, "least"))
            least = share * row.size.value
            ws.worked_out(
                f"least edge distance, {name}", f"{least:.4f} in", f"{share:g} times the shank", value=least, unit="in"
            )  # fmt: skip
        made.append((name, least))
    scene = edge_gauge(made)
    return Outcome(
        tuple(ws.steps),
        {"distances": Result("least edge distance, by step", tuple(d for _, d in made), "in", limit="least")},
        picture=scene,
        templates=(scene,),
    )


@dataclass(frozen=True, slots=True)
class WedgeGauge:
    """The board that goes over a trailing edge."""

    title: str = text("Surface", help="which edge", example="left aileron", default="Trailing edge")
    half_angle: Quantity = quantity(
        "deg", "Wedge half-angle", help="of each skin to the chord line", example="5.5", low="0.5 deg", high="30 deg"
    )  # fmt: skip
    depth: Quantity = quantity(
        "in", "Depth", help="how far the V reaches forward", example="1.5", low="0.3 in", high="12 in", default="1.5"
    )  # fmt: skip
    blunt: Quantity = quantity(
        "in", "Thickness of the edge", help="skins and wedge at the aft end; 0 for sharp", example=".05", low="0 in",
        high="1 in", default="0",
    )  # fmt: skip


@calculation(
    "trailing-edge-gauge",
    title="Gauge for a trailing edge",
    summary="A board with a V that slides along the edge: light under a side shows a wrong angle, a wave or a bow.",
    spec=WedgeGauge,
    results=("angle", "mouth", "light"),
)
def wedge_plate(spec: WedgeGauge, ws: Worksheet) -> Outcome:
    """The V of the drawn angle, and how much light one degree of error shows at its mouth."""
    half, depth, blunt = spec.half_angle.value, spec.depth.value, spec.blunt.value
    scene = wedge_gauge(half_angle_deg=half, depth_in=depth, root_in=blunt, title=spec.title)
    mouth = blunt + 2 * depth * math.tan(math.radians(half))
    light = depth * (math.tan(math.radians(half + 0.5)) - math.tan(math.radians(half)))
    ws.called_out("wedge half-angle", spec.half_angle, "the drawing")
    ws.worked_out(
        "mouth of the V",
        f"{mouth:.4f} in",
        "thickness of the edge and the rise of both sides",
        value=mouth,
        unit="in",
    )
    ws.worked_out(
        "light at the mouth for half a degree", f"{light:.4f} in", "a side that closes half a degree less", value=light,
        unit="in",
    )  # fmt: skip
    return Outcome(
        tuple(ws.steps),
        {
            "angle": Result("whole angle of the wedge", 2 * half, "deg"),
            "mouth": Result("mouth of the V", mouth, "in"),
            "light": Result("light at the mouth for half a degree", light, "in", places=4),
        },
        picture=scene,
        templates=(scene,),
    )
