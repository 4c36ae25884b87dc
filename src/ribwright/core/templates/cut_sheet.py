"""The section of a lofted surface along any plane, as a calculation: a slanted rib, a canted spar, a fairing line."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ribwright.core.audit import Outcome, Result, Worksheet, calculation, choice, quantity, rows, text
from ribwright.core.geometry import (
    Outline,
    area_in2,
    cut,
    flattened,
    length_in,
    loft,
    offset_outline,
    outline,
    with_arcs,
)
from ribwright.core.geometry.outlines import counter_clockwise
from ribwright.core.scene import (
    Item,
    Line,
    Marker,
    Scene,
    Text,
    hand_mark,
    lettering_for,
    orientation,
    together,
)
from ribwright.core.scene.items import HandOf
from ribwright.core.templates.section_set import SectionPoint, WingSection, listed_sections, placed
from ribwright.core.templates.shape import FIT_IN, as_item
from ribwright.core.units import Quantity, bound_text


@dataclass(frozen=True, slots=True)
class SurfaceCut:
    """A plane through a lofted surface."""

    part: str = text("Part", help="what lies in the plane", example="canted rib at the root")
    hand: str = choice("Hand", ("none", "left", "right"), help="side of the aeroplane", default="none")
    sections: tuple[WingSection, ...] = rows(WingSection, "Drawn sections", help="at least two", least=2)
    coordinates: tuple[SectionPoint, ...] = rows(
        SectionPoint,
        "Coordinates",
        help="for sections that have no NACA number, in the order of their file",
        least=0,
    )
    loft: str = choice(
        "Between sections",
        ("straight", "smooth"),
        help="straight taper, or a fair curve through three or more",
        default="straight",
    )
    station: Quantity = quantity(
        "in",
        "Plane at station",
        help="where it crosses the datum line",
        example="30",
        low="-500 in",
        high="2000 in",
    )
    at_aft: Quantity = quantity(
        "in",
        "Plane through, aft",
        help="a point of it, from the datum line",
        example="10",
        low="-300 in",
        high="300 in",
        default="0",
    )
    at_up: Quantity = quantity(
        "in",
        "Plane through, up",
        help="the same point, from the datum plane",
        example="0",
        low="-300 in",
        high="300 in",
        default="0",
    )
    swept: Quantity = quantity(
        "deg",
        "Swept",
        help="aft edge turned outboard, seen from above; 0 is a plane at one station",
        example="15",
        low="-70 deg",
        high="70 deg",
        default="0",
    )
    canted: Quantity = quantity(
        "deg",
        "Canted",
        help="upper edge leaned outboard; 0 is upright",
        example="5",
        low="-60 deg",
        high="60 deg",
        default="0",
    )
    inwards: Quantity = quantity(
        "in", "Inside by", help="skin and flange: how far inside the surface the outline lies, square to the edge in the plane", example="0",
        low="0 in", high="1 in", default="0",
    )  # fmt: skip


@calculation(
    "surface-section",
    title="Section of a surface by a plane",
    summary="The true outline in which any plane, upright, swept or canted, cuts a lofted surface, at full size.",
    spec=SurfaceCut,
    results=("length", "height", "around", "area", "first_station", "last_station", "arc_error"),
)
def surface_section(spec: SurfaceCut, ws: Worksheet) -> Outcome:
    """Cut the surface, fit true arcs in the plane, and draw it with the datum point."""
    listed = listed_sections(spec.coordinates)
    wing = loft(
        [row.station.value for row in spec.sections], [placed(row, listed) for row in spec.sections], smooth=spec.loft == "smooth"
    )  # fmt: skip
    sweep, cant = np.radians(spec.swept.value), np.radians(spec.canted.value)
    normal = (
        float(-np.sin(sweep) * np.cos(cant)), float(-np.sin(cant)), float(np.cos(sweep) * np.cos(cant)),
    )  # fmt: skip
    point = (spec.at_aft.value, spec.at_up.value, spec.station.value)
    found = cut(wing, point, normal)
    plane = found.in_plane_in
    nose = int(np.argmin(plane[:, 0]))
    fit = with_arcs(plane, tolerance_in=FIT_IN)
    worst = fit.worst_in
    closed = bool(np.hypot(*(plane[0] - plane[-1])) < 1e-6)
    points, bulges = fit.points_in, fit.bulges
    if closed:
        points, bulges = points[:-1], bulges[:-1]
    shape: Outline = counter_clockwise(outline(points, bulges, closed=True, field="section"))
    if spec.inwards.value:
        shape = offset_outline(shape, -spec.inwards.value, corners="mitre", field="Inside by")
    ring = flattened(shape, chord_error_in=0.001)
    low, high = ring.min(axis=0), ring.max(axis=0)
    ws.worked_out(
        "plane", f"station {spec.station.text}, swept {spec.swept.text}, canted {spec.canted.text}",
        "cut point by point along the rulings of the surface", rung="derived",
    )  # fmt: skip
    ws.worked_out(
        "true arcs",
        f"{bound_text(worst, 'in', places=5)} off the cut",
        "fitted pairs of arcs",
        value=worst,
        unit="in",
    )
    if spec.inwards.value and (spec.swept.value or spec.canted.value):
        ws.note(
            "In a slanted plane a skin's thickness, measured in the plane, is more than square to the skin; "
            "enter the thickness as it lies in the plane."
        )
    hand: HandOf = spec.hand  # type: ignore[assignment]

    def lettered(h: float) -> Scene:
        """The outline with its lettering so high: as cut, or as shown reduced on a page."""
        left, foot = float(low[0]), float(low[1])
        items: tuple[Item, ...] = (
            as_item(shape),
            Line((left, float(plane[nose, 1])), (float(high[0]), float(plane[nose, 1])), "centre", "marked"),
            Marker((0.0, 0.0), "hole", "", 0.06, h, "marked") if _within((0.0, 0.0), low, high) else Line((0, 0), (0.0, 0.1), "thin"),
            Text((left, foot - 3 * h), f"{spec.part}: STA {spec.station.value:g} at the cross, swept {spec.swept.value:g}, "
                 f"canted {spec.canted.value:g} degrees", h),
        )  # fmt: skip
        return together(
            Scene(items),
            hand_mark((left, foot - 6 * h), hand, 2 * h),
            orientation((left + 16 * h, foot - 10 * h), up=(0, 1), fwd=(-1, 0), size=3.5 * h),
            title=f"{spec.part}, section by a plane",
            described=f"Outline {high[0] - low[0]:.2f} by {high[1] - low[1]:.2f} in in a plane at station {spec.station.value:g} in.",
        )

    scene = lettered(0.1)
    z = found.points_in[:, 2]
    return Outcome(
        tuple(ws.steps),
        {
            "length": Result("length in the plane", float(high[0] - low[0]), "in"),
            "height": Result("height in the plane", float(high[1] - low[1]), "in"),
            "around": Result("round the outline", length_in(shape), "in"),
            "area": Result("area", abs(area_in2(shape)), "in²"),
            "first_station": Result("least station on the outline", float(z.min()), "in"),
            "last_station": Result("greatest station on the outline", float(z.max()), "in"),
            "arc_error": Result("arcs off the section, at most", worst, "in", places=5, limit="bound"),
        },
        picture=lettered(max(0.1, lettering_for(float(high[0] - low[0])))),
        templates=(scene,),
    )


def _within(at: tuple[float, float], low: np.ndarray, high: np.ndarray) -> bool:
    return bool(low[0] <= at[0] <= high[0] and low[1] <= at[1] <= high[1])
