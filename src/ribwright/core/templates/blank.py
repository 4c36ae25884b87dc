"""The blank of a web with flanges on its sides: corner reliefs, bend lines, and what the brake can hold."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ribwright.core.geometry import Outline, area_in2, outline
from ribwright.core.scene import Circle, Item, Line, Marker, Scene, Text, hand_mark, orientation, together
from ribwright.core.scene.items import HandOf
from ribwright.core.templates.shape import as_item
from ribwright.errors import GeometryError, OutOfRangeError

SIDES = ("right", "upper", "left", "lower")


@dataclass(frozen=True, slots=True)
class Flange:
    """A flange on one side, as flat: its width from the far bend line to the free edge, and its bend's own width.

    ``width_in`` 0 leaves the side without a flange.
    """

    width_in: float
    bend_allowance_in: float


@dataclass(frozen=True, slots=True, eq=False)
class FlangedBlank:
    """The blank's outline, its relief holes (x, y, diameter), area and drawing."""

    scene: Scene
    shape: Outline
    reliefs_in: tuple[tuple[float, float, float], ...]
    area_in2: float


def flanged_blank(
    *,
    length_in: float,
    width_in: float,
    flanges: tuple[Flange, Flange, Flange, Flange],
    relief_radius_in: float,
    least_flange_in: float,
    holes: tuple[tuple[float, float, float], ...] = (),
    title: str = "Blank",
    hand: HandOf = "none",
) -> FlangedBlank:
    """Rectangular web with up to four flanges, corners cut out and relieved where two bends meet.

    Args:
        length_in, width_in: of the web between the bend lines next to it.
        flanges: right, upper, left, lower.
        relief_radius_in: of the hole where two bend lines meet; it reaches past both bends.
        least_flange_in: shortest flat flange that the brake can hold.
        holes: (x, y, diameter) from the middle of the web.

    Raises:
        GeometryError: a flange shorter than the brake can hold, a relief that leaves a bend uncut, a hole in a
            bend or off the web.
        OutOfRangeError: a web or radius that is not above 0.
    """
    for name, value in (
        ("web length", length_in),
        ("web width", width_in),
        ("relief radius", relief_radius_in),
    ):
        if not 0 < value < 500:
            raise OutOfRangeError(name, found=f"{value:g} in", allowed="more than 0 in")
    for side, flange in zip(SIDES, flanges, strict=True):
        if 0 < flange.width_in < least_flange_in:
            raise GeometryError(
                f"{side} flange",
                because="it is shorter than the brake can hold",
                found=f"{flange.width_in:.3f} in flat",
                allowed=f"at least {least_flange_in:.3f} in",
                mend="Bend it longer and trim it, or form it over a block",
            )
    x, y = length_in / 2, width_in / 2
    out = [f.width_in + f.bend_allowance_in if f.width_in > 0 else 0.0 for f in flanges]
    right, upper, left, lower = out
    reliefs = _reliefs(x, y, flanges, relief_radius_in)
    ring = _ring(x, y, right, upper, left, lower)
    shape = outline(ring, field="blank")
    for n, (hx, hy, d) in enumerate(holes):
        if abs(hx) + d / 2 > x or abs(hy) + d / 2 > y:
            raise GeometryError(
                "holes",
                because=f"hole {n + 1} runs into a bend or off the web",
                found=f"at ({hx:g}, {hy:g}) in",
            )
    items: list[Item] = [as_item(shape)]
    items += [Circle((cx, cy), d / 2, layer="drilled") for cx, cy, d in reliefs]
    items += [Marker((hx, hy), "hole", "", d, 0.08) for hx, hy, d in holes]
    items += _bend_lines(x, y, flanges)
    foot = -y - lower - 0.25
    items.append(Text((-x, foot), f"{title}: bend lines with a felt tip; drill reliefs before cutting", 0.09))
    area = abs(area_in2(shape)) - sum(_lost(relief_radius_in) for _ in reliefs)
    return FlangedBlank(
        together(
            Scene(tuple(items)),
            hand_mark((-x, foot - 0.4), hand, 0.25),
            orientation((x - 0.3, foot - 0.45), up=(0, 1), size=0.35),
            title=title,
            described=f"{title}: web {length_in:g} by {width_in:g} in, {sum(f.width_in > 0 for f in flanges)} flanges.",
        ),
        shape,
        reliefs,
        area,
    )


def _lost(radius: float) -> float:
    """Sheet that a relief takes away: its hole less the quarter that the corner had lost already."""
    return 0.75 * np.pi * radius**2


def _reliefs(
    x: float, y: float, flanges: tuple[Flange, ...], radius: float
) -> tuple[tuple[float, float, float], ...]:
    made = []
    for (a, b), (sx, sy) in zip(
        ((0, 1), (2, 1), (2, 3), (0, 3)), ((1, 1), (-1, 1), (-1, -1), (1, -1)), strict=True
    ):
        level, steep = flanges[a], flanges[b]
        if level.width_in <= 0 or steep.width_in <= 0:
            continue
        deepest = max(level.bend_allowance_in, steep.bend_allowance_in)
        if radius < deepest:
            raise GeometryError(
                "relief radius",
                because="the relief ends inside a bend, where the corner would tear",
                found=f"{radius:.3f} in",
                allowed=f"at least {deepest:.3f} in, the width of the bend",
                mend="Drill a larger relief",
            )
        made.append((sx * x, sy * y, 2 * radius))
    return tuple(made)


def _ring(
    x: float, y: float, right: float, upper: float, left: float, lower: float
) -> list[tuple[float, float]]:
    ring = [
        (x, -y), (x + right, -y), (x + right, y), (x, y), (x, y + upper), (-x, y + upper), (-x, y), (-x - left, y),
        (-x - left, -y), (-x, -y), (-x, -y - lower), (x, -y - lower),
    ]  # fmt: skip
    made = [p for n, p in enumerate(ring) if p != ring[n - 1]]
    # A side without a flange leaves its corners on a straight stroke: harmless, but not needed.
    keep = []
    for n, p in enumerate(made):
        a, b = made[n - 1], made[(n + 1) % len(made)]
        if abs((p[0] - a[0]) * (b[1] - p[1]) - (p[1] - a[1]) * (b[0] - p[0])) > 1e-12:
            keep.append(p)
    return keep


def _bend_lines(x: float, y: float, flanges: tuple[Flange, ...]) -> list[Item]:
    items: list[Item] = []
    for (ox, oy, tx, ty), flange in zip(
        ((x, 0, 0, y), (0, y, x, 0), (-x, 0, 0, y), (0, -y, x, 0)), flanges, strict=True
    ):
        if flange.width_in <= 0:
            continue
        ux, uy = (np.sign(ox), 0.0) if ox else (0.0, np.sign(oy))
        for reach in (0.0, flange.bend_allowance_in):
            cx, cy = ox + ux * reach, oy + uy * reach
            items.append(
                Line((float(cx - tx), float(cy - ty)), (float(cx + tx), float(cy + ty)), "fold", "marked")
            )
    return items
