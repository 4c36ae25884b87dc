"""Strip charts: how far an edge lies off its target, unrolled from the nose, one strip a station under the other."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from ribwright.core.scene.graph import NAMES, NUMBERS, beyond, tick_below, tick_beside, ticks
from ribwright.core.scene.items import Hatch, Item, Line, Point, Polyline, Text
from ribwright.core.scene.scene import Scene

WIDTH, HALF, APART = 4.6, 0.42, 1.3
Placing = Callable[[float, float], Point]


@dataclass(frozen=True, slots=True)
class Strip:
    """One station: arc lengths along the skin and what was found there; nan where nothing was."""

    name: str
    along: Sequence[float]
    off: Sequence[float]


def strip_charts(
    strips: Sequence[Strip], limit: float, *, unit: str, along: str, title: str, doubtful: str
) -> Scene:
    """Strips on one scale: the target as a centre line, the tolerance dashed, what lies beyond it filled, what is not known hatched.

    Args:
        strips: in the order in which they stand; all have at least two places.
        limit: what the tolerance allows either way.
        unit: of the deviation and the length.
        along: what the length is measured from.
        title: of the whole drawing.
        doubtful: what hatching means here.
    """
    low = min(float(a) for s in strips for a in s.along)
    high = max(float(a) for s in strips for a in s.along)
    known = [abs(v) for s in strips for v in s.off if not math.isnan(v)]
    most = max([*known, 1.5 * limit])
    items: list[Item] = []
    said: list[str] = []
    for row, strip in enumerate(strips):
        foot = -APART * row

        def at(a: float, off: float, foot: float = foot) -> Point:
            return ((a - low) / (high - low) * WIDTH, foot + off / most * HALF)

        items += _ruled(strip, at, limit, (low, high), most)
        worst = max((v for v in strip.off if not math.isnan(v)), key=abs, default=math.nan)
        found = "nothing was measured" if math.isnan(worst) else f"at most {worst:+.3f} {unit}"
        items.append(Text((WIDTH, foot + HALF + 0.1), found, NUMBERS, "end"))
        said.append(f"{strip.name}: {found}")
    foot = -APART * (len(strips) - 1) - HALF
    for x in ticks(low, high):
        if low - 1e-9 <= x <= high + 1e-9:
            items += tick_below(((x - low) / (high - low) * WIDTH, foot), f"{x:g}")
    items.append(Text((WIDTH / 2, foot - 0.52), f"{along} ({unit})", NAMES, "middle"))
    y = foot - 0.86
    square = ((0.0, y), (0.3, y), (0.3, y + 0.12), (0.0, y + 0.12))
    items += [beyond(square), Text((0.38, y), "beyond the tolerance", NUMBERS)]
    square = tuple((a + 2.3, b) for a, b in square)  # type: ignore[assignment]
    items += [
        Hatch(square, spacing=0.05),
        Polyline(square, True, "thin"),
        Text((2.68, y), doubtful, NUMBERS),
    ]
    return Scene(tuple(items), title, f"{title}, tolerance {limit:g} {unit} either way. {'; '.join(said)}.")


def _ruled(strip: Strip, at: Placing, limit: float, ends: tuple[float, float], most: float) -> list[Item]:
    """Frame, centre line, tolerance, and the deviation of one station."""
    low, high = ends
    corners = (at(low, -most), at(high, -most), at(high, most), at(low, most))
    items: list[Item] = [Line(at(low, 0.0), at(high, 0.0), "centre")]
    items += [Line(at(low, side * limit), at(high, side * limit), "hidden") for side in (-1, 1)]
    for off in (-limit, 0.0, limit):
        items += tick_beside(at(low, off), f"{off:+.3f}" if off else "0")
    places = list(zip((float(a) for a in strip.along), (float(v) for v in strip.off), strict=True))
    run: list[tuple[float, float]] = []
    gaps = _gaps(places, low, high)
    items += [Hatch((at(a, -most), at(b, -most), at(b, most), at(a, most)), spacing=0.08) for a, b in gaps]
    for one in [*places, (high, math.nan)]:
        if math.isnan(one[1]):
            if len(run) > 1:
                items.append(Polyline(tuple(at(*p) for p in run), style="heavy"))
            run = []
        else:
            run.append(one)
    for (a, u), (b, v) in pairwise(places):
        for side in (-1, 1):
            if not (math.isnan(u) or math.isnan(v)) and max(side * u, side * v) > limit:
                items.append(beyond(_over(at, (a, side * u), (b, side * v), limit, side)))
    items.append(Polyline(corners, True))
    items.append(Text((at(low, 0.0)[0], at(low, most)[1] + 0.1), strip.name, NUMBERS, bold=True))
    return items


def _over(
    at: Placing, p: tuple[float, float], q: tuple[float, float], limit: float, side: int
) -> tuple[Point, ...]:
    """The part of a stroke that lies beyond the tolerance, as an area down to it."""
    (a, u), (b, v) = p, q
    cut = a + (b - a) * (limit - u) / (v - u) if (u > limit) != (v > limit) else math.nan
    left, right = (a if u > limit else cut), (b if v > limit else cut)
    points = (
        (left, limit),
        (left, max(u, limit) if u > limit else limit),
        (right, max(v, limit) if v > limit else limit),
        (right, limit),
    )
    return tuple(at(x, side * y) for x, y in points)


def _gaps(places: list[tuple[float, float]], low: float, high: float) -> list[tuple[float, float]]:
    """Stretches of the strip where nothing is known."""
    known = [a for a, v in places if not math.isnan(v)]
    if not known:
        return [(low, high)]
    gaps = [(low, known[0]), (known[-1], high)]
    for (a, u), (b, v) in pairwise(places):
        if (math.isnan(u) or math.isnan(v)) and known[0] <= a and b <= known[-1]:
            gaps.append((a, b))
    return [(a, b) for a, b in gaps if b - a > 1e-9]
