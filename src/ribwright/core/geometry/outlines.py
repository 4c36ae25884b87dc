"""Outlines of straight strokes and true arcs: area, length, corners, and where one crosses itself.

An outline is a row of points with a *bulge* each: the tangent of a quarter of the angle of the arc to the
next point, positive when it turns left; 0 is straight. This is what a DXF polyline holds, so nothing is
lost on the way to the cutter.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ribwright.errors import GeometryError

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]


@dataclass(frozen=True, slots=True, eq=False)
class Outline:
    """Points (n, 2) in inches, not repeated at the end, with a bulge (n,) from each to the next.

    Of an open outline the last bulge has no meaning and is 0.
    """

    points_in: FloatArray
    bulges: FloatArray
    closed: bool = True


def outline(
    points_in: Sequence[Sequence[float]] | FloatArray,
    bulges: Sequence[float] | FloatArray | None = None,
    *,
    closed: bool = True,
    field: str = "outline",
) -> Outline:
    """An outline that can be cut: finite, no point twice in a row, not crossing itself.

    Raises:
        GeometryError: names the stroke and the place.
    """
    points = np.asarray(points_in, dtype=np.float64)
    if points.ndim != 2 or points.shape[-1] != 2 or len(points) < 2:
        raise GeometryError(field, because="an outline needs a row of at least two points (x, y)")
    curved = np.zeros(len(points)) if bulges is None else np.asarray(bulges, dtype=np.float64)
    if curved.shape != (len(points),):
        raise GeometryError(field, because="there must be one bulge for each point")
    if not (np.isfinite(points).all() and np.isfinite(curved).all()):
        raise GeometryError(field, because="a point lies at no finite place")
    if closed and len(points) > 2 and np.allclose(points[0], points[-1], rtol=0, atol=1e-9):
        points, curved = points[:-1], curved[:-1]
    if closed and len(points) < 3 and not curved.any():
        raise GeometryError(
            field, because="a closed outline needs three corners", found=f"{len(points)} points"
        )
    steps = np.hypot(*(_next(points) - points).T)
    steps = steps if closed else steps[:-1]
    if (twice := np.flatnonzero(steps < 1e-9)).size:
        x, y = points[twice[0]]
        raise GeometryError(
            field,
            because=f"point {twice[0] + 1} is entered twice in a row",
            found=f"({x:.4f}, {y:.4f})",
            mend="Remove one of them",
        )
    made = Outline(points, curved, closed)
    refuse_crossing(flattened(made, chord_error_in=1e-3 * max(float(np.ptp(points)), 1e-3)), closed, field)
    return made


def _next(points: FloatArray) -> FloatArray:
    return np.roll(points, -1, axis=0)


def turning_rad(made: Outline) -> FloatArray:
    """Angle that each stroke turns through, positive to the left."""
    return 4 * np.arctan(made.bulges)


def length_in(made: Outline) -> float:
    """Length along the outline, arcs exact."""
    chords, turns = _strokes(made)
    half = np.abs(turns) / 2
    return float(np.sum(chords * np.where(half > 1e-9, half / np.sin(np.maximum(half, 1e-9)), 1.0)))


def area_in2(made: Outline) -> float:
    """Area inside a closed outline, arcs exact; positive when it runs counter-clockwise."""
    p, q = made.points_in, _next(made.points_in)
    straight = 0.5 * float(np.sum(p[:, 0] * q[:, 1] - q[:, 0] * p[:, 1]))
    chords, turns = _strokes(Outline(made.points_in, made.bulges, True))
    b = made.bulges
    bent = np.abs(b) > 1e-12
    safe = np.where(bent, b, 1.0)
    radius = chords * (1 + safe**2) / (4 * np.abs(safe))
    return straight + float(np.sum(np.where(bent, radius**2 / 2 * (turns - np.sin(turns)), 0.0)))


def _strokes(made: Outline) -> tuple[FloatArray, FloatArray]:
    chords = np.hypot(*(_next(made.points_in) - made.points_in).T)
    turns = turning_rad(made)
    return (chords, turns) if made.closed else (chords[:-1], turns[:-1])


def reversed_outline(made: Outline) -> Outline:
    """The same outline run the other way."""
    points = made.points_in[::-1].copy()
    back = -made.bulges[::-1]
    if made.closed:
        return Outline(points, np.roll(back, -1), True)
    return Outline(points, np.append(back[1:], 0.0), False)


def counter_clockwise(made: Outline) -> Outline:
    """The same closed outline, run counter-clockwise."""
    return made if area_in2(made) >= 0 else reversed_outline(made)


def flattened(made: Outline, *, chord_error_in: float = 0.0004) -> FloatArray:
    """Points (m, 2) of straight chords that leave no arc by more than ``chord_error_in``."""
    count = len(made.points_in) if made.closed else len(made.points_in) - 1
    p, q, bulge = made.points_in[:count], _next(made.points_in)[:count], made.bulges[:count]
    bent = np.abs(bulge) > 1e-12
    safe = np.where(bent, bulge, 1.0)
    chord = q - p
    turn = np.where(bent, 4 * np.arctan(bulge), 0.0)
    radius = np.hypot(*chord.T) * (1 + safe**2) / (4 * np.abs(safe))
    least = 2 * np.arccos(np.clip(1 - chord_error_in / np.maximum(radius, 1e-300), -1.0, 1.0))
    pieces = np.where(bent, np.maximum(np.ceil(np.abs(turn) / np.maximum(least, 1e-12)), 1), 1).astype(
        np.intp
    )
    center = (p + q) / 2 + np.stack([-chord[:, 1], chord[:, 0]], axis=1) * ((1 - safe**2) / (4 * safe))[
        :, None
    ]
    stroke = np.repeat(np.arange(count), pieces)
    step = np.arange(len(stroke)) - np.repeat(np.cumsum(pieces) - pieces, pieces)
    angle = turn[stroke] * step / pieces[stroke]
    arm = (p - center)[stroke]
    c, s = np.cos(angle), np.sin(angle)
    on_arc = center[stroke] + np.stack([c * arm[:, 0] - s * arm[:, 1], s * arm[:, 0] + c * arm[:, 1]], axis=1)
    points = np.where((step == 0)[:, None], p[stroke], on_arc)
    return points if made.closed else np.concatenate([points, made.points_in[-1:]])


def arc_points(a: FloatArray, b: FloatArray, bulge: float, chord_error_in: float) -> FloatArray:
    """Points strictly between a and b on the arc."""
    arc = Outline(np.array([a, b]), np.array([bulge, 0.0]), False)
    return flattened(arc, chord_error_in=chord_error_in)[1:-1]


def crossing(points_in: FloatArray, closed: bool = True) -> tuple[int, int, FloatArray] | None:
    """The first two strokes that cross, counted from 0, and where; None when none do."""
    p = np.asarray(points_in, dtype=np.float64)
    q = _next(p)
    if not closed:
        p, q = p[:-1], q[:-1]
    n = len(p)
    d = q - p
    low, high = np.minimum(p, q), np.maximum(p, q)
    block = max(1, 2_000_000 // max(n, 1))
    for first in range(0, n, block):
        i = np.arange(first, min(first + block, n))
        near = (low[i, None] <= high[None]).all(-1) & (high[i, None] >= low[None]).all(-1)
        rows, j = np.nonzero(near & (np.arange(n)[None] > i[:, None] + 1))
        ii = i[rows]
        if closed:
            apart = ~((ii == 0) & (j == n - 1))
            ii, j = ii[apart], j[apart]
        if not len(ii):
            continue
        across = d[ii, 0] * d[j, 1] - d[ii, 1] * d[j, 0]
        gap = p[j] - p[ii]
        with np.errstate(divide="ignore", invalid="ignore"):
            t = (gap[:, 0] * d[j, 1] - gap[:, 1] * d[j, 0]) / across
            u = (gap[:, 0] * d[ii, 1] - gap[:, 1] * d[ii, 0]) / across
        hit = np.flatnonzero((t >= 0) & (t <= 1) & (u >= 0) & (u <= 1) & (across != 0))
        if hit.size:
            k = hit[0]
            return int(ii[k]), int(j[k]), p[ii[k]] + t[k] * d[ii[k]]
    return None


def refuse_crossing(points_in: FloatArray, closed: bool, field: str) -> None:
    """Raise GeometryError that says which strokes cross and where, if any do."""
    found = crossing(points_in, closed)
    if found is not None:
        i, j, at = found
        raise GeometryError(
            field,
            because="the outline crosses itself",
            found=f"near ({at[0]:.3f}, {at[1]:.3f}) in, between points {i + 1} and {j + 1}",
            mend="Look for points in mixed order or a wrong sign there",
        )


def filleted(
    points_in: Sequence[Sequence[float]] | FloatArray,
    radii_in: float | Sequence[float],
    *,
    closed: bool = True,
    field: str = "corner radius",
) -> Outline:
    """Straight strokes with a true arc of the given radius at each corner (0 keeps the corner sharp).

    Raises:
        GeometryError: names the corner whose legs are too short for its radius, or strokes that cross.
    """
    points = np.asarray(points_in, dtype=np.float64)
    n = len(points)
    radii = np.broadcast_to(np.asarray(radii_in, dtype=np.float64), (n,))
    before, after = np.roll(points, 1, axis=0) - points, _next(points) - points
    lengths = np.hypot(*after.T)
    if (lengths[: n if closed else n - 1] < 1e-9).any():
        raise GeometryError(field, because="two corners lie on one place")
    refuse_crossing(points, closed, field)
    u = before / np.roll(lengths, 1)[:, None]
    w = after / np.where(lengths > 0, lengths, 1.0)[:, None]
    turn = np.arctan2(-u[:, 0] * w[:, 1] + u[:, 1] * w[:, 0], -np.sum(u * w, axis=1))
    setback = np.where(radii > 0, radii * np.tan(np.abs(turn) / 2), 0.0)
    if not closed:
        setback[[0, -1]] = 0.0
    over = setback + _next(setback[:, None])[:, 0] > lengths + 1e-12
    if not closed:
        over[-1] = False
    if over.any() or not np.isfinite(setback).all():
        k = int(np.flatnonzero(over)[0]) if over.any() else int(np.flatnonzero(~np.isfinite(setback))[0])
        raise GeometryError(
            field,
            because=f"the side from corner {k + 1} to the next is too short for its radii",
            found=f"{lengths[k]:.3f} in long, {setback[k] + setback[(k + 1) % n]:.3f} in needed",
            mend="Make the radius smaller or move the corner",
        )
    rows, bulges = [], []
    for k in range(n):
        if setback[k] > 1e-12:
            rows += [points[k] + u[k] * setback[k], points[k] + w[k] * setback[k]]
            bulges += [float(np.tan(turn[k] / 4)), 0.0]
        else:
            rows.append(points[k])
            bulges.append(0.0)
    made = np.array(rows)
    # Neighbouring fillets that use up a whole side would leave a stroke of no length.
    keep = np.hypot(*(_next(made) - made).T) > 1e-9
    if not closed:
        keep[-1] = True
    return Outline(made[keep], np.array(bulges)[keep], closed)


def circle_outline(center_in: Sequence[float], radius_in: float) -> Outline:
    """A circle as two half turns, counter-clockwise."""
    x, y = center_in
    return Outline(np.array([[x + radius_in, y], [x - radius_in, y]]), np.array([1.0, 1.0]), True)
