"""Smooth curves through points: splines, arc length, even spacing, parallel curves, and smoothing.

Written with numpy alone: scipy's import would cost more than all of a template set.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ribwright.core.geometry.outlines import FloatArray
from ribwright.errors import GeometryError, OutOfRangeError


@dataclass(frozen=True, slots=True, eq=False)
class Spline:
    """A cubic spline (not-a-knot) through points (n, d) at parameters ``knots`` (n,)."""

    knots: FloatArray
    points: FloatArray
    seconds: FloatArray


def spline(points: FloatArray, knots: FloatArray | None = None) -> Spline:
    """The spline through ``points`` (n, d); knots default to the root of the chord length.

    Roots of chords ("centripetal") keep the curve from swinging where points are unevenly spaced.
    """
    p = np.asarray(points, dtype=np.float64)
    if knots is None:
        step = np.sqrt(np.linalg.norm(np.diff(p, axis=0), axis=1))
        knots = np.zeros(len(p))
        knots[1:] = np.cumsum(step)
    n = len(p)
    if n < 4:
        return Spline(knots, p, np.zeros_like(p) if n < 3 else _parabola_seconds(knots, p))
    return Spline(knots, p, _seconds(knots, p))


def _seconds(knots: FloatArray, p: FloatArray) -> FloatArray:
    """Second derivatives at the knots, third derivative unbroken at the second and the last but one."""
    h = np.diff(knots)
    right = 6 * np.diff(np.diff(p, axis=0) / h[:, None], axis=0)
    # The two end conditions are put into the first and last row, which leaves three diagonals.
    below, middle, above = h[:-1].copy(), 2 * (h[:-1] + h[1:]), h[1:].copy()
    middle[0] += h[0] * (h[0] + h[1]) / h[1]
    above[0] -= h[0] ** 2 / h[1]
    middle[-1] += h[-1] * (h[-1] + h[-2]) / h[-2]
    below[-1] -= h[-1] ** 2 / h[-2]
    low, mid, up = below.tolist(), middle.tolist(), above.tolist()
    for k in range(1, len(mid)):
        share = low[k] / mid[k - 1]
        mid[k] -= share * up[k - 1]
        right[k] -= share * right[k - 1]
    out = np.empty_like(p)
    inner = out[1:-1]
    inner[-1] = right[-1] / mid[-1]
    for k in range(len(mid) - 2, -1, -1):
        inner[k] = (right[k] - up[k] * inner[k + 1]) / mid[k]
    out[0] = ((h[0] + h[1]) * out[1] - h[0] * out[2]) / h[1]
    out[-1] = ((h[-1] + h[-2]) * out[-2] - h[-1] * out[-3]) / h[-2]
    return out


def _parabola_seconds(knots: FloatArray, p: FloatArray) -> FloatArray:
    h = np.diff(knots)
    slope = np.diff(p, axis=0) / h[:, None]
    return np.repeat((2 * (slope[1] - slope[0]) / (h[0] + h[1]))[None], 3, axis=0)


def evaluate(curve: Spline, at: FloatArray, *, derivative: int = 0) -> FloatArray:
    """Points (m, d) of the spline, or its first or second derivative, at parameters ``at`` (m,)."""
    k = np.clip(np.searchsorted(curve.knots, at, side="right") - 1, 0, len(curve.knots) - 2)
    h = (curve.knots[k + 1] - curve.knots[k])[:, None]
    a = (curve.knots[k + 1] - at)[:, None] / h
    b = 1 - a
    p, q = curve.points[k], curve.points[k + 1]
    m, w = curve.seconds[k], curve.seconds[k + 1]
    if derivative == 0:
        out = a * p + b * q + ((a**3 - a) * m + (b**3 - b) * w) * h**2 / 6
    elif derivative == 1:
        out = (q - p) / h + ((1 - 3 * a**2) * m + (3 * b**2 - 1) * w) * h / 6
    else:
        out = a * m + b * w
    return np.asarray(out)


def arc_length_in(points_in: FloatArray) -> FloatArray:
    """Length (n,) from the first point to each point, along straight chords."""
    steps = np.linalg.norm(np.diff(points_in, axis=0), axis=1)
    return np.concatenate([[0.0], np.cumsum(steps)])


def resampled(points_in: FloatArray, count: int) -> FloatArray:
    """``count`` points evenly spaced along the smooth curve through ``points_in``."""
    curve = spline(points_in)
    fine = np.linspace(curve.knots[0], curve.knots[-1], max(8 * count, 2000))
    dense = evaluate(curve, fine)
    run = arc_length_in(dense)
    return evaluate(curve, np.interp(np.linspace(0, run[-1], count), run, fine))


def tangents(points_in: FloatArray) -> FloatArray:
    """Unit tangents (n, 2) of the smooth curve through the points."""
    curve = spline(points_in)
    t = evaluate(curve, curve.knots, derivative=1)
    return np.asarray(t / np.linalg.norm(t, axis=1)[:, None])


def normals(points_in: FloatArray) -> FloatArray:
    """Unit normals (n, 2), to the left of the direction of the curve."""
    t = tangents(points_in)
    return np.stack([-t[:, 1], t[:, 0]], axis=1)


def parallel(points_in: FloatArray, distance_in: float, *, field: str = "thickness") -> FloatArray:
    """The curve at ``distance_in`` to the left (negative: right) of a smooth curve, point for point.

    Raises:
        GeometryError: the curve bends tighter than the distance somewhere; says where and how tight.
    """
    curve = spline(points_in)
    d1 = evaluate(curve, curve.knots, derivative=1)
    d2 = evaluate(curve, curve.knots, derivative=2)
    speed = np.linalg.norm(d1, axis=1)
    curvature = (d1[:, 0] * d2[:, 1] - d1[:, 1] * d2[:, 0]) / speed**3
    tight = curvature * distance_in
    if (tight >= 1).any():
        k = int(np.argmax(tight))
        x, y = curve.points[k]
        raise GeometryError(
            field,
            because=f"the curve bends tighter than this offset near ({x:.3f}, {y:.3f}) in",
            found=f"{abs(distance_in):.4f} in against a radius of {1 / abs(curvature[k]):.4f} in",
            mend="Check the inside radius and the sheet thickness",
        )
    left = np.stack([-d1[:, 1], d1[:, 0]], axis=1) / speed[:, None]
    return np.asarray(curve.points + left * distance_in)


@dataclass(frozen=True, slots=True, eq=False)
class Smoothed:
    """Points read off a drawing after smoothing, and how far they had to move."""

    points_in: FloatArray
    residual_rms_in: float
    residual_max_in: float
    worst: int


def smoothed(points_in: FloatArray, *, reading_error_in: float) -> Smoothed:
    """The stiffest curve whose points lie, in the root mean square, ``reading_error_in`` off those read.

    Args:
        points_in: points (n, 2) in order along the curve, ends included.
        reading_error_in: how well a point could be read off the drawing; 0 leaves the points alone.

    Raises:
        OutOfRangeError: fewer than 5 points, or a negative error.
        GeometryError: two points at one place.
    """
    p = np.asarray(points_in, dtype=np.float64)
    if len(p) < 5:
        raise OutOfRangeError("points", found=len(p), allowed="at least 5 to smooth")
    if not (reading_error_in >= 0 and np.isfinite(reading_error_in)):
        raise OutOfRangeError("reading error", found=reading_error_in, allowed="0 or more")
    steps = np.linalg.norm(np.diff(p, axis=0), axis=1)
    if (steps < 1e-9).any():
        k = int(np.flatnonzero(steps < 1e-9)[0])
        raise GeometryError("points", because=f"points {k + 1} and {k + 2} lie on one place")
    if reading_error_in == 0:
        return Smoothed(p, 0.0, 0.0, 0)
    # Minimise sum |p - s|^2 + stiffness * sum |third divided difference|^2: a penalty on the change of
    # curvature, so that a round nose is not flattened towards its ends.
    u = np.concatenate([[0.0], np.cumsum(steps / steps.mean())])
    n = len(p)
    d = np.eye(n)
    for order in (1, 2, 3):
        d = order * np.diff(d, axis=0) / (u[order:] - u[:-order])[:, None]
    values, vectors = np.linalg.eigh(d.T @ d)
    parts = vectors.T @ p
    # Straight lines and parabolas have no third difference: exactly three values are 0.
    values = np.maximum(values, 0.0)
    values[:3] = 0.0

    def off(log_stiffness: float) -> float:
        gone = 1 - 1 / (1 + np.exp(log_stiffness) * values)
        return float(np.sqrt(np.sum((gone[:, None] * parts) ** 2) / n))

    low, high = -30.0, 30.0
    if off(high) > reading_error_in:
        for _ in range(80):
            mid = (low + high) / 2
            low, high = (mid, high) if off(mid) < reading_error_in else (low, mid)
    made = vectors @ (parts / (1 + np.exp(low if off(high) > reading_error_in else high) * values)[:, None])
    moved_in = np.linalg.norm(made - p, axis=1)
    worst = int(np.argmax(moved_in))
    return Smoothed(made, float(np.sqrt(np.mean(moved_in**2))), float(moved_in[worst]), worst)
