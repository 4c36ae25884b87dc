"""A smooth curve as true arcs, within a stated distance: what a router or a cutter follows best."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ribwright.core.geometry.curves import tangents
from ribwright.core.geometry.outlines import FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class ArcFit:
    """Points (m, 2) and bulges (m,) of an open row of tangent arcs, and its largest distance from the curve."""

    points_in: FloatArray
    bulges: FloatArray
    worst_in: float


def with_arcs(
    points_in: FloatArray, *, tolerance_in: float = 0.0004, directions: FloatArray | None = None
) -> ArcFit:
    """Tangent pairs of arcs along a densely given smooth curve.

    Args:
        points_in: points (n, 2) on the curve, dense enough that its shape is known.
        tolerance_in: largest distance of any given point from the arcs.
        directions: unit tangents (n, 2); worked out from the points when left out.

    A stretch is halved until its pair of arcs stays within the tolerance, or only one step is left.
    """
    p = np.asarray(points_in, dtype=np.float64)
    t = tangents(p) if directions is None else directions
    rows: list[FloatArray] = [p[0]]
    bulges: list[float] = []
    worst = 0.0
    stack = [(0, len(p) - 1)]
    while stack:
        i, j = stack.pop()
        middle, first, second = _biarc(p[i], t[i], p[j], t[j])
        off = _largest_distance(p[i : j + 1], middle, first, second)
        if off > tolerance_in and j > i + 1:
            half = (i + j) // 2
            stack += [(half, j), (i, half)]
            continue
        worst = max(worst, off)
        rows += [middle, p[j]]
        bulges += [first, second]
    return ArcFit(*_merged(np.array(rows), np.array([*bulges, 0.0])), worst)


def _biarc(a: FloatArray, ta: FloatArray, b: FloatArray, tb: FloatArray) -> tuple[FloatArray, float, float]:
    v = b - a
    vv, vt = float(v @ v), float(v @ (ta + tb))
    bend = 2 * (1 - float(ta @ tb))
    if bend > 1e-12:
        arm = (-vt + np.sqrt(vt * vt + bend * vv)) / bend
    else:
        along = float(v @ tb)
        arm = vv / (4 * along) if abs(along) > 1e-12 else np.sqrt(vv) / 2
    middle = (a + b + arm * (ta - tb)) / 2
    return middle, _bulge(ta, middle - a), -_bulge(-tb, middle - b)


def _bulge(direction: FloatArray, chord: FloatArray) -> float:
    half = np.arctan2(direction[0] * chord[1] - direction[1] * chord[0], float(direction @ chord))
    return float(np.tan(half / 2))


def _largest_distance(p: FloatArray, middle: FloatArray, first: float, second: float) -> float:
    a, b = p[0], p[-1]
    # Which of the two arcs a point belongs to: before or after the line square to the curve at the joint.
    along = _end_direction(middle - a, first)
    before = (p - middle) @ along <= 0
    off = np.where(before, _distance(p, a, middle, first), _distance(p, middle, b, second))
    return float(off.max())


def _end_direction(chord: FloatArray, bulge: float) -> FloatArray:
    half = 2 * np.arctan(bulge)
    c, s = np.cos(half), np.sin(half)
    return np.array([c * chord[0] - s * chord[1], s * chord[0] + c * chord[1]])


def _distance(p: FloatArray, a: FloatArray, b: FloatArray, bulge: float) -> FloatArray:
    chord = b - a
    run = np.hypot(*chord)
    if run < 1e-12:
        return np.asarray(np.hypot(*(p - a).T))
    if abs(bulge) < 1e-9:
        return np.asarray(np.abs((p - a) @ np.array([-chord[1], chord[0]])) / run)
    center = (a + b) / 2 + np.array([-chord[1], chord[0]]) * (1 - bulge**2) / (4 * bulge)
    radius = run * (1 + bulge**2) / (4 * abs(bulge))
    return np.asarray(np.abs(np.hypot(*(p - center).T) - radius))


def _merged(points: FloatArray, bulges: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Joins neighbouring straight strokes of one direction and drops strokes of no length."""
    keep = np.ones(len(points), dtype=bool)
    straight = np.abs(bulges) < 1e-7
    for n in range(1, len(points) - 1):
        if straight[n - 1] and straight[n]:
            u, v = points[n] - points[n - 1], points[n + 1] - points[n]
            across = abs(u[0] * v[1] - u[1] * v[0])
            keep[n] = across > 1e-6 * np.hypot(*u) * np.hypot(*v)
    short = np.hypot(*(points[1:] - points[:-1]).T) < 1e-7
    keep[:-1] &= ~short
    made = np.where(straight, 0.0, bulges)[keep]
    made[-1] = 0.0
    return points[keep], made
