"""A smooth curve as true arcs, within a stated distance: what a router or a cutter follows best."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ribwright.core.geometry.curves import tangents
from ribwright.core.geometry.outlines import FloatArray, IntArray


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
    i, j = np.array([0]), np.array([len(p) - 1])
    done: list[tuple[FloatArray, ...]] = []
    # All stretches of one halving at once: each point lies in one of them.
    while len(i):
        middle, first, second = _biarcs(p[i], t[i], p[j], t[j])
        off = _largest_distances(p, i, j, middle, first, second)
        keep = (off <= tolerance_in) | (j <= i + 1)
        done.append((i[keep], j[keep], middle[keep], first[keep], second[keep], off[keep]))
        i, j = i[~keep], j[~keep]
        half = (i + j) // 2
        i, j = np.concatenate((i, half)), np.concatenate((half, j))
    start, end, middle, first, second, off = (np.concatenate(column) for column in zip(*done, strict=True))
    order = np.argsort(start)
    rows = np.concatenate((p[:1], np.stack((middle, p[end]), axis=1)[order].reshape(-1, 2)))
    bulges = np.append(np.stack((first, second), axis=1)[order].ravel(), 0.0)
    return ArcFit(*_merged(rows, bulges), float(off.max()))


def _biarcs(
    a: FloatArray, ta: FloatArray, b: FloatArray, tb: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Joints (k, 2) and the two bulges (k,) of the pairs of arcs from a to b along the tangents there."""
    v = b - a
    vv, vt = _dot(v, v), _dot(v, ta + tb)
    bend = 2 * (1 - _dot(ta, tb))
    along = _dot(v, tb)
    bends, runs = bend > 1e-12, np.abs(along) > 1e-12
    turning = (-vt + np.sqrt(vt * vt + bend * vv)) / np.where(bends, bend, 1.0)
    straight = np.where(runs, vv / (4 * np.where(runs, along, 1.0)), np.sqrt(vv) / 2)
    middle = (a + b + np.where(bends, turning, straight)[:, None] * (ta - tb)) / 2
    return middle, _bulge(ta, middle - a), -_bulge(-tb, middle - b)


def _dot(u: FloatArray, v: FloatArray) -> FloatArray:
    return np.asarray(u[:, 0] * v[:, 0] + u[:, 1] * v[:, 1])


def _cross(u: FloatArray, v: FloatArray) -> FloatArray:
    return np.asarray(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0])


def _bulge(direction: FloatArray, chord: FloatArray) -> FloatArray:
    return np.asarray(np.tan(np.arctan2(_cross(direction, chord), _dot(direction, chord)) / 2))


def _largest_distances(
    p: FloatArray,
    i: IntArray,
    j: IntArray,
    middle: FloatArray,
    first: FloatArray,
    second: FloatArray,
) -> FloatArray:
    """Of the points of each stretch (k,) from its pair of arcs."""
    many = j - i + 1
    begins = np.cumsum(many) - many
    of = np.repeat(np.arange(len(i)), many)
    points = p[np.arange(len(of)) - begins[of] + i[of]]
    # Which of the two arcs a point belongs to: before or after the line square to the curve at the joint.
    ends = _end_direction(middle - p[i], first)
    before = _dot(points - middle[of], ends[of]) <= 0
    off = np.where(
        before,
        _distance(points, p[i][of], middle[of], first[of]),
        _distance(points, middle[of], p[j][of], second[of]),
    )
    return np.asarray(np.maximum.reduceat(off, begins))


def _end_direction(chord: FloatArray, bulge: FloatArray) -> FloatArray:
    half = 2 * np.arctan(bulge)
    c, s = np.cos(half), np.sin(half)
    return np.stack((c * chord[:, 0] - s * chord[:, 1], s * chord[:, 0] + c * chord[:, 1]), axis=1)


def _distance(p: FloatArray, a: FloatArray, b: FloatArray, bulge: FloatArray) -> FloatArray:
    """Of each point (n, 2) from its own arc: a point for an arc of no length, a line for one of no bulge."""
    chord, away = b - a, p - a
    run = np.hypot(chord[:, 0], chord[:, 1])
    none, flat = run < 1e-12, np.abs(bulge) < 1e-9
    safe_run, safe = np.where(none, 1.0, run), np.where(flat, 1.0, bulge)
    reach = (1 - safe**2) / (4 * safe)
    to_center = p - (a + b) / 2 - np.stack((-chord[:, 1], chord[:, 0]), axis=1) * reach[:, None]
    round_ = np.abs(
        np.hypot(to_center[:, 0], to_center[:, 1]) - safe_run * (1 + safe**2) / (4 * np.abs(safe))
    )
    line = np.abs(_cross(chord, away)) / safe_run
    return np.where(none, np.hypot(away[:, 0], away[:, 1]), np.where(flat, line, round_))


def _merged(points: FloatArray, bulges: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Joins neighbouring straight strokes of one direction and drops strokes of no length."""
    keep = np.ones(len(points), dtype=bool)
    straight = np.abs(bulges) < 1e-7
    strokes = np.diff(points, axis=0)
    u, v = strokes[:-1], strokes[1:]
    across = np.abs(_cross(u, v)) > 1e-6 * np.hypot(u[:, 0], u[:, 1]) * np.hypot(v[:, 0], v[:, 1])
    keep[1:-1] = across | ~(straight[:-2] & straight[1:-1])
    short = np.hypot(*(points[1:] - points[:-1]).T) < 1e-7
    keep[:-1] &= ~short
    made = np.where(straight, 0.0, bulges)[keep]
    made[-1] = 0.0
    return points[keep], made
