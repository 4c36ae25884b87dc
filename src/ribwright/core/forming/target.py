"""The shape wanted at a station, as the skin's middle line from the free edge inwards.

Method: docs/physics/forming.md, "Targets".
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ribwright.core.forming.fibre import Array
from ribwright.errors import GeometryError, OutOfRangeError

POINTS = 200


@dataclass(frozen=True, slots=True)
class Target:
    """A wanted profile; middle of the skin, even steps of arc length, edge first.

    Attributes:
        station_in: place along the span.
        points_in: shape (POINTS, 2).
        normals: unit normals, away from the centre of the curve, shape (POINTS, 2).
        curvature_per_in: at the middle of each step, shape (POINTS - 1,).
        step_in: arc length of a step.
        arc_end_in: from the edge to where nine tenths of the turning is done.
    """

    station_in: float
    points_in: Array
    normals: Array
    curvature_per_in: Array
    step_in: float
    arc_end_in: float


def circle_target(
    *,
    station_in: float,
    inner_radius_in: float,
    arc_deg: float,
    thickness_in: float,
    flat_in: float,
    lead_in: float = 0.0,
) -> Target:
    """An arc of a circle from the edge, then straight.

    Args:
        station_in: along the span.
        inner_radius_in: inside of the skin.
        arc_deg: angle of the arc.
        thickness_in: of the skin.
        flat_in: straight part behind the arc that must lie true.
        lead_in: straight part before the arc, at the edge (a lap that is left flat).

    Raises:
        OutOfRangeError: a radius, angle or length that can't be.
    """
    _within("inside radius", inner_radius_in, 0.02, 50.0, "in")
    _within("arc", arc_deg, 2.0, 200.0, "°")
    _within("straight part", flat_in, 0.0, 50.0, "in")
    _within("straight lead", lead_in, 0.0, 10.0, "in")
    radius = inner_radius_in + 0.5 * thickness_in
    arc = radius * np.radians(arc_deg)
    length = lead_in + arc + flat_in
    step = length / (POINTS - 1)
    edges = np.arange(POINTS) * step
    # share of each step that lies in the arc
    inside = np.clip(np.minimum(edges[1:], lead_in + arc) - np.maximum(edges[:-1], lead_in), 0.0, step)
    return _from_curvature(station_in, inside / step / radius, step)


def ellipse_target(
    *,
    station_in: float,
    depth_in: float,
    half_height_in: float,
    thickness_in: float,
    flat_in: float,
) -> Target:
    """A quarter of an ellipse from the foremost point, then straight.

    Args:
        station_in: along the span.
        depth_in: fore-and-aft half axis, inside of the skin.
        half_height_in: the other half axis.
        thickness_in: of the skin.
        flat_in: straight part behind.

    Raises:
        OutOfRangeError: a half axis or length that can't be.
    """
    _within("depth of the ellipse", depth_in, 0.05, 50.0, "in")
    _within("half height of the ellipse", half_height_in, 0.05, 50.0, "in")
    a = np.linspace(0.0, np.pi / 2.0, 721)
    inside = np.column_stack([-depth_in * np.cos(a), half_height_in * np.sin(a)])
    straight = np.column_stack([np.linspace(0.0, flat_in, 50)[1:], np.full(49, half_height_in)])
    return points_target(
        station_in=station_in,
        points_in=np.vstack([inside, straight]) if flat_in > 0.0 else inside,
        thickness_in=thickness_in,
    )


def points_target(
    *, station_in: float, points_in: ArrayLike, thickness_in: float, smooth: bool = False
) -> Target:
    """Measured or drawn points of the skin's inside, from the edge inwards; the curve turns one way.

    Args:
        station_in: along the span.
        points_in: shape (n, 2), n >= 5.
        thickness_in: of the skin.
        smooth: the points are measured: fit turning as a smooth function of length first.

    Raises:
        GeometryError: too few points, points out of order, a curve that turns back on itself.
    """
    p = np.asarray(points_in, dtype=np.float64)
    if p.ndim != 2 or p.shape[1] != 2 or p.shape[0] < 5 or not bool(np.all(np.isfinite(p))):
        raise GeometryError("template points", found=f"{p.shape[0]} points", allowed="5 or more x, y pairs")
    gaps = np.hypot(*np.diff(p, axis=0).T)
    if float(gaps.min()) <= 1e-6:
        raise GeometryError("template points", because="two points lie on each other", mend="remove one")
    heading = np.unwrap(np.arctan2(*np.diff(p, axis=0).T[::-1]))
    total = float(heading[-1] - heading[0])
    if abs(total) > np.radians(250.0):
        raise GeometryError(
            "template points",
            because="the shape turns back on itself",
            found=f"{np.degrees(abs(total)):.0f}° of turning",
            allowed="up to 250°",
            mend="enter the points in order, from the free edge inwards",
        )
    side = 1.0 if total >= 0.0 else -1.0
    at = np.concatenate(([0.0], np.cumsum(gaps)))
    middle = 0.5 * (at[1:] + at[:-1])
    turn = side * heading
    back = float(np.min(np.diff(turn), initial=0.0))
    if back < -np.radians(20.0):
        raise GeometryError(
            "template points",
            because="the shape turns back on itself",
            found=f"a corner of {np.degrees(-back):.0f}° the other way",
            allowed="a curve that turns one way",
            mend="enter the points in order, from the free edge inwards",
        )
    if smooth:
        degree = int(np.clip(p.shape[0] // 3, 3, 9))
        scaled = 2.0 * middle / at[-1] - 1.0
        turn = np.polynomial.chebyshev.chebval(
            scaled, np.polynomial.chebyshev.chebfit(scaled, turn, degree, w=np.sqrt(gaps))
        )
    # the middle line lies half a thickness outside: longer by t/2 times the turning
    outer = middle + 0.5 * thickness_in * (turn - turn[0])
    end = at[-1] + 0.5 * thickness_in * (turn[-1] - turn[0])
    step = float(end) / (POINTS - 1)
    edges = np.arange(POINTS) * step
    along = np.interp(edges, outer, turn)
    return _from_curvature(station_in, np.diff(along) / step, step)


def _from_curvature(station_in: float, curvature: Array, step: float) -> Target:
    points = profile_in(curvature, step)
    heading = np.concatenate(([0.0], np.cumsum(curvature * step)))
    normals = np.column_stack([np.sin(heading), -np.cos(heading)])
    turning = np.cumsum(np.abs(curvature) * step)
    whole = float(turning[-1])
    if whole < np.radians(1.0):
        raise GeometryError("template", because="the shape is straight", mend="enter the curved part")
    reached = int(np.searchsorted(turning, 0.9 * whole))
    return Target(station_in, points, normals, curvature, step, float((reached + 1) * step))


def profile_in(curvature_per_in: Array, step_in: float) -> Array:
    """Points of a middle line from its curvature in even steps, edge first at the origin; shape (steps + 1, 2)."""
    half = 0.5 * curvature_per_in * step_in
    middle = np.concatenate(([0.0], np.cumsum(2.0 * half)))[:-1] + half
    chord = step_in * np.sinc(half / np.pi)
    points = np.zeros((curvature_per_in.size + 1, 2))
    points[1:, 0] = np.cumsum(chord * np.cos(middle))
    points[1:, 1] = np.cumsum(chord * np.sin(middle))
    return points


def deviation_in(points_in: Array, target: Target) -> Array:
    """Signed distance of a profile from its target along the normals after the best rigid fit; outside positive.

    Args:
        points_in: shape (POINTS, 2), the same even steps as the target.
        target: what is wanted.
    """
    wanted, normal = target.points_in, target.normals
    a, b = points_in - points_in.mean(axis=0), wanted - wanted.mean(axis=0)
    turn = np.arctan2(np.sum(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]), np.sum(a * b))
    c, s = np.cos(turn), np.sin(turn)
    off = np.sum((a @ np.array([[c, s], [-s, c]]) - b) * normal, axis=1)
    arm = normal[:, 1] * b[:, 0] - normal[:, 0] * b[:, 1]
    design = np.column_stack([normal, arm])
    # an arc turned about its own centre does not move: that turn is left out
    move = np.linalg.lstsq(design, off, rcond=1e-5)[0]
    return np.asarray(off - design @ move)


def half_thickness_radius_in(
    *, chord_in: ArrayLike, thickness_share: ArrayLike, hinge_share: ArrayLike
) -> Array:
    """Half the local thickness of a NACA four-digit section at the hinge line: the nose radius of a hinged surface.

    Args:
        chord_in: chord of the whole section.
        thickness_share: largest thickness over chord.
        hinge_share: hinge line's place over chord.
    """
    x = np.asarray(hinge_share, dtype=np.float64)
    half = 5.0 * (0.2969 * np.sqrt(x) - 0.1260 * x - 0.3516 * x**2 + 0.2843 * x**3 - 0.1015 * x**4)
    return np.asarray(half * np.asarray(thickness_share) * np.asarray(chord_in))


def nose_radius_in(*, chord_in: ArrayLike, thickness_share: ArrayLike) -> Array:
    """Leading-edge radius of a NACA four-digit section: 1.1019 t^2 c."""
    return np.asarray(1.1019 * np.asarray(thickness_share, dtype=np.float64) ** 2 * np.asarray(chord_in))


def _within(field: str, value: float, low: float, high: float, unit: str) -> None:
    if not low <= value <= high:
        raise OutOfRangeError(field, found=f"{value:g} {unit}", allowed=f"{low:g} to {high:g} {unit}")
