"""Between geometry and drawing: outlines as items that are cut, points as items, and offsets of either."""

from __future__ import annotations

import numpy as np

from ribwright.core.geometry import Outline, flattened, offset_outline, outline, parallel, with_arcs
from ribwright.core.geometry.outlines import FloatArray
from ribwright.core.scene import Point, Polyline
from ribwright.core.scene.items import Layer, Style

FIT_IN = 0.0004
"""How far the true arcs of a template may leave the curve that they stand for: .01 mm."""


def as_item(made: Outline, style: Style = "outline", layer: Layer = "cut") -> Polyline:
    """An outline as an item of a drawing; true arcs stay true arcs."""
    points = tuple((float(x), float(y)) for x, y in made.points_in)
    return Polyline(points, made.closed, style, layer, tuple(float(b) for b in made.bulges))


def as_point(row: FloatArray) -> Point:
    """A row of an array as a point of a drawing."""
    return (float(row[0]), float(row[1]))


def surface(
    profile: Outline | FloatArray, outwards_in: float, field: str = "thickness"
) -> tuple[Outline, float]:
    """The profile moved outwards by a thickness, as true arcs, and how far the arcs leave the exact curve.

    Args:
        profile: an open profile that runs over the top to the nose and back below, so that outwards is to
            its right; either strokes and arcs, or dense points (n, 2) of a smooth curve.
        outwards_in: negative goes inwards.
        field: what the builder calls the offset, for a refusal.

    Raises:
        GeometryError: the profile bends tighter than the offset; says where.
    """
    if isinstance(profile, Outline):
        return (offset_outline(profile, outwards_in, field=field) if outwards_in else profile), 0.0
    moved = parallel(profile, -outwards_in, field=field) if outwards_in else profile
    fit = with_arcs(moved, tolerance_in=FIT_IN)
    return outline(fit.points_in, fit.bulges, closed=False, field="profile"), fit.worst_in


def turned_outline(made: Outline, angle_deg: float) -> Outline:
    """The outline turned counter-clockwise about the origin."""
    c, s = np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))
    return Outline(made.points_in @ np.array([[c, s], [-s, c]]), made.bulges, made.closed)


def joined(first: Outline, corners: list[Point] | FloatArray) -> Outline:
    """An open outline closed by straight strokes over the given corners."""
    extra = np.asarray(corners, dtype=np.float64).reshape(-1, 2)
    bulges = np.concatenate([first.bulges[:-1], np.zeros(1 + len(extra))])
    return Outline(np.concatenate([first.points_in, extra]), bulges, True)


def is_inside(made: Outline, point: Point, clear_in: float) -> bool:
    """Whether a point lies inside a closed outline and at least ``clear_in`` from its edge."""
    p = flattened(made, chord_error_in=0.001)
    q = np.roll(p, -1, axis=0)
    at = np.array(point)
    level = (p[:, 1] > at[1]) != (q[:, 1] > at[1])
    with np.errstate(divide="ignore", invalid="ignore"):
        crossing_x = p[:, 0] + (at[1] - p[:, 1]) * (q[:, 0] - p[:, 0]) / (q[:, 1] - p[:, 1])
    odd = bool(np.sum(level & (at[0] < crossing_x)) % 2)
    step = q - p
    share = np.clip(np.sum((at - p) * step, axis=1) / np.sum(step * step, axis=1), 0, 1)
    away = np.hypot(*(p + share[:, None] * step - at).T)
    return odd and bool(away.min() >= clear_in)
