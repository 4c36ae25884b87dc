"""Small plates that are cut once and used for years: heads, edge distance, rivet set guide, sight line.

Cut them by machine from thin sheet or hard board and measure them before use: paper is too soft for limits
of a few thousandths, and each drawing says so.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from ribwright.core.geometry import filleted, offset_outline
from ribwright.core.scene import Circle, Dimension, Item, Line, Polyline, Scene, Text
from ribwright.core.templates.shape import as_item
from ribwright.errors import DoesNotFitError, OutOfRangeError

CUT_NOTE = "Cut by machine from thin hard sheet; measure with calipers before use."


@dataclass(frozen=True, slots=True)
class HeadLimits:
    """Least and greatest diameter and height of a formed head, as the requirement has them."""

    size: str
    least_diameter_in: float
    least_height_in: float
    greatest_height_in: float


def head_gauge(limits: Sequence[HeadLimits], *, kerf_in: float = 0.0) -> Scene:
    """Go/no-go plate for formed heads: one hole and two feet a size.

    The hole has the least diameter: a good head must *not* go in. The feet stand on the sheet astride the
    head: the taller gap must clear it (go), the lower one must not (no-go).

    Raises:
        OutOfRangeError: no size, or limits in the wrong order.
    """
    if not limits:
        raise OutOfRangeError("rivet sizes", found="none", allowed="at least one")
    items: list[Item] = []
    cell, tall = 1.3, 1.5
    wide = cell * len(limits)
    bottom: list[tuple[float, float]] = []
    for n, one in enumerate(limits):
        d, low, high = one.least_diameter_in, one.least_height_in, one.greatest_height_in
        if not (0.02 < d < 0.6 and 0.01 < low < high < 0.5):
            raise OutOfRangeError(
                f"limits of {one.size}",
                found=f"diameter {d:g}, height {low:g} to {high:g} in",
                allowed="diameter .02 to .6 in, height rising and below .5 in",
            )
        x = n * cell
        gap = 1.8 * d
        left, right = x + 0.36, x + 0.94
        for at, height in ((left, high), (right, low)):
            bottom += [
                (at - gap / 2, 0.0),
                (at - gap / 2, height),
                (at + gap / 2, height),
                (at + gap / 2, 0.0),
            ]
        items += [
            Circle((x + cell / 2, 0.95), d / 2 - kerf_in / 2, layer="cut"),
            Text((x + cell / 2, 1.3), one.size, 0.1, "middle", bold=True),
            Text((x + cell / 2, 0.62), f"must not go in {d:.3f}", 0.055, "middle"),
            Text((left, high + 0.05), f"GO {high:.3f}", 0.055, "middle"),
            Text((right, high + 0.05), f"NO {low:.3f}", 0.055, "middle"),
        ]
        if gap > 0.54:
            raise DoesNotFitError(
                f"head of {one.size}", found=f"{d:g} in wide", allowed="0.3 in on this plate"
            )
    ring = [(0.0, 0.0), *bottom, (wide, 0.0), (wide, tall), (0.0, tall)]
    plate = filleted(ring, [0.0] * (len(ring) - 2) + [0.12, 0.12])
    if kerf_in:
        plate = offset_outline(plate, kerf_in / 2, corners="mitre", field="kerf")
    items.insert(0, as_item(plate))
    items.append(Text((0, -0.2), CUT_NOTE, 0.065))
    names = ", ".join(one.size for one in limits)
    return Scene(tuple(items), "Formed-head gauge", f"Go/no-go plate for formed heads of {names} rivets.")


def edge_gauge(distances: Sequence[tuple[str, float]], *, drill_in: Sequence[float] | None = None) -> Scene:
    """Stepped plate for edge distance: its fence lies on the sheet's edge, each step ends at a least distance.

    A hole whose centre shows beyond its step has enough edge.

    Raises:
        OutOfRangeError: none, or a distance outside .05 to 2 in.
    """
    if not distances:
        raise OutOfRangeError("edge distances", found="none", allowed="at least one")
    step, fence = 0.9, 0.4
    top: list[tuple[float, float]] = []
    items: list[Item] = []
    for n, (name, least) in enumerate(distances):
        if not 0.05 <= least <= 2:
            raise OutOfRangeError(f"edge distance of {name}", found=f"{least:g} in", allowed=".05 to 2 in")
        x = n * step
        top += [(x, least), (x + step, least)]
        items += [
            Text((x + step / 2, -0.2), name, 0.08, "middle", bold=True),
            Text((x + step / 2, -0.33), f"{least:.3f}", 0.07, "middle"),
            Line((x + step / 2, least - 0.12), (x + step / 2, least), "thin", "marked"),
        ]
    wide = step * len(distances)
    ring = [
        (0.0, -fence),
        (wide, -fence),
        *reversed(top),
    ]
    unique = [p for n, p in enumerate(ring) if n == 0 or p != ring[n - 1]]
    items.insert(0, Polyline(tuple(unique), True, "outline", "cut"))
    items.insert(1, Line((0, 0), (wide, 0), "fold", "marked"))
    items.append(
        Text(
            (0, -fence - 0.18), "Fence (below the fold line) hangs over the sheet's edge. " + CUT_NOTE, 0.065
        )
    )
    return Scene(tuple(items), "Edge-distance gauge", "Stepped plate for least edge distances.")


def guide_plate(
    *,
    set_diameter_in: float,
    pitch_in: float,
    head_diameter_in: float,
    clearance_in: float = 0.015,
    wall_in: float = 0.06,
) -> Scene:
    """The plate that keeps a rivet set over its rivet and drops between the neighbours' heads.

    Args:
        set_diameter_in: of the set's shank where it runs in the plate.
        pitch_in: distance to the neighbouring rivets.
        head_diameter_in: of the neighbours' manufactured heads.
        clearance_in: all round the set, and to the neighbours.
        wall_in: least metal between hole and end.

    Raises:
        DoesNotFitError: the neighbours stand too close for this set; says the largest that fits.
    """
    for name, value in (
        ("set diameter", set_diameter_in),
        ("pitch", pitch_in),
        ("head diameter", head_diameter_in),
    ):
        if not 0.03 <= value <= 6:
            raise OutOfRangeError(name, found=f"{value:g} in", allowed=".03 to 6 in")
    length = 2 * (pitch_in - head_diameter_in / 2 - clearance_in)
    hole = set_diameter_in + 2 * clearance_in
    if length < hole + 2 * wall_in:
        largest = length - 2 * wall_in - 2 * clearance_in
        raise DoesNotFitError(
            "guide plate",
            found=f"a set of {set_diameter_in:.3f} in between neighbours {pitch_in:.3f} in away",
            allowed=f"at most {max(largest, 0):.3f} in",
            mend="Use a slimmer set, or set the neighbours later",
        )
    wide = max(1.5, hole + 0.8)
    ring = [
        (-length / 2, -wide / 2),
        (length / 2, -wide / 2),
        (length / 2, wide / 2),
        (-length / 2, wide / 2),
    ]
    body = filleted(ring, min(0.1, length / 8))
    far = pitch_in
    items: list[Item] = [
        as_item(body),
        Circle((0, 0), hole / 2, layer="cut"),
        Line((-far - 0.3, 0), (far + 0.3, 0), "centre"),
        Circle((-far, 0), head_diameter_in / 2, "thin"),
        Circle((far, 0), head_diameter_in / 2, "thin"),
        Dimension((-length / 2, wide / 2), (length / 2, wide / 2), 0.25, f"{length:.3f}", 0.08),
        Dimension((0, -wide / 2), (far, -wide / 2), -0.25, f"{pitch_in:.3f}", 0.08),
        Text(
            (0, -wide / 2 - 0.6),
            f"hole {hole:.3f} for a set of {set_diameter_in:.3f}. {CUT_NOTE}",
            0.065,
            "middle",
        ),
    ]
    return Scene(
        tuple(items),
        "Guide plate for a rivet set",
        f"Plate {length:.3f} in along the row with a hole of {hole:.3f} in, between neighbours {pitch_in:.3f} in away.",
    )


def sight_overlay(
    *, radius_in: float, bend_allowance_in: float, length_in: float = 6.0, flange: str = "flange"
) -> Scene:
    """Clear strip laid on the blank: where the bend begins and ends, and the line to see under the brake's nose.

    The sight line lies one bend radius inside the bend from the line that goes under the clamp.

    Raises:
        OutOfRangeError: a radius or allowance that is not above 0.
    """
    for name, value in (("bend radius", radius_in), ("bend allowance", bend_allowance_in)):
        if not 0 < value <= 6:
            raise OutOfRangeError(name, found=f"{value:g} in", allowed="more than 0, at most 6 in")
    if not 1 <= length_in <= 200:
        raise OutOfRangeError("strip length", found=f"{length_in:g} in", allowed="1 to 200 in")
    low, high = -1.0, bend_allowance_in + 1.0
    items: list[Item] = [
        Polyline(((0, low), (length_in, low), (length_in, high), (0, high)), True, "outline", "cut"),
        Line((0, 0), (length_in, 0), "outline", "marked"),
        Line((0, bend_allowance_in), (length_in, bend_allowance_in), "outline", "marked"),
        Line((0, radius_in), (length_in, radius_in), "fold", "marked"),
        Text((0.1, -0.14), "bend begins; this side under the clamp", 0.08),
        Text((0.1, bend_allowance_in + 0.06), f"bend ends; {flange} this side", 0.08),
        Text(
            (length_in - 0.1, high - 0.2),
            f"broken line = sight line, {radius_in:.3f} in from where the bend begins",
            0.08,
            "end",
        ),
    ]
    return Scene(
        tuple(items),
        "Sight-line overlay",
        f"Bend of {bend_allowance_in:.3f} in; sight line {radius_in:.3f} in from where it begins.",
    )


def wedge_gauge(
    *, half_angle_deg: float, depth_in: float = 1.5, root_in: float = 0.0, title: str = "Trailing-edge gauge"
) -> Scene:
    """Board with a V that goes over a trailing edge: light under either side shows a wrong angle or a bow.

    Args:
        half_angle_deg: of the wedge, between skin and chord line.
        depth_in: how far the V reaches forward along the chord line.
        root_in: thickness of the blunt edge at its aft end.

    Raises:
        OutOfRangeError: an angle, depth or edge that is no wedge.
    """
    if not 0.5 <= half_angle_deg <= 30:
        raise OutOfRangeError(
            "wedge half-angle", found=f"{half_angle_deg:g} degrees", allowed="0.5 to 30 degrees"
        )
    if not (0.3 <= depth_in <= 12 and 0 <= root_in <= 1):
        raise OutOfRangeError(
            "depth or blunt edge", found=f"{depth_in:g}, {root_in:g} in", allowed="0.3 to 12 and 0 to 1 in"
        )
    rise = depth_in * math.tan(math.radians(half_angle_deg))
    mouth = root_in / 2 + rise
    # The V's root is relieved so that the edge itself does not bear.
    relief = min(0.06, 0.2 * depth_in)
    back, tall = depth_in + 0.9, mouth + 0.7
    ring = [
        (0.0, mouth), (0.0, tall), (back, tall), (back, -tall), (0.0, -tall), (0.0, -mouth),
        (depth_in, -root_in / 2 - 1e-3), (depth_in + relief, -root_in / 2 - 1e-3),
        (depth_in + relief, root_in / 2 + 1e-3), (depth_in, root_in / 2 + 1e-3),
    ]  # fmt: skip
    items: list[Item] = [
        Polyline(tuple(ring), True, "outline", "cut"),
        Line((0.0, 0.0), (back, 0.0), "centre", "marked"),
        Text((0.1, tall - 0.17), title, 0.08),
        Text((0.1, tall - 0.32), f"half-angle {half_angle_deg:g} degrees each side", 0.07),
        Text((0.1, -tall + 0.1), "chord line = middle line; slide along, watch for light", 0.06),
    ]
    return Scene(tuple(items), title, f"V gauge of {2 * half_angle_deg:g} degrees, {depth_in:g} in deep.")
