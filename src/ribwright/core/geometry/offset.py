"""An outline offset to one side by a fixed distance, arcs staying true arcs."""

from __future__ import annotations

from typing import Literal

import numpy as np

from ribwright.core.geometry.outlines import (
    FloatArray,
    Outline,
    area_in2,
    flattened,
    refuse_crossing,
)
from ribwright.errors import GeometryError


def offset_outline(
    made: Outline,
    distance_in: float,
    *,
    corners: Literal["round", "mitre"] = "round",
    field: str = "offset",
) -> Outline:
    """The outline ``distance_in`` away: outwards for a closed one, to the right of an open one.

    Args:
        made: the outline.
        distance_in: negative goes inwards (or left).
        corners: what an opening corner gets: an arc about the corner, or its strokes carried on.

    Raises:
        GeometryError: an arc or a side vanishes, or the result crosses itself; says where.
    """
    if distance_in == 0:
        return made
    side = distance_in
    if made.closed and area_in2(made) < 0:
        side = -side
    starts, ends = made.points_in, np.roll(made.points_in, -1, axis=0)
    count = len(starts) if made.closed else len(starts) - 1
    strokes = [_shifted(starts[n], ends[n], float(made.bulges[n]), side, n, field) for n in range(count)]
    rows: list[FloatArray] = []
    bulges: list[float] = []
    for n in range(count):
        a, b, bulge, origin = strokes[n]
        if made.closed or n > 0:
            a = _corner(strokes[n - 1], strokes[n], starts[n], side, corners)[1]
        if made.closed or n < count - 1:
            b, _, joint = _corner(strokes[n], strokes[(n + 1) % count], ends[n], side, corners)
        else:
            joint = 0.0
        rows.append(a)
        bulges.append(_trimmed_bulge(a, b, bulge, origin, n, field))
        if joint:
            rows.append(b)
            bulges.append(joint)
        elif not made.closed and n == count - 1:
            rows.append(b)
            bulges.append(0.0)
    points, curved = np.array(rows), np.array(bulges)
    keep = np.hypot(*(np.roll(points, -1, axis=0) - points).T) > 1e-10
    if not made.closed:
        keep[-1] = True
    out = Outline(points[keep], curved[keep], made.closed)
    refuse_crossing(flattened(out, chord_error_in=max(1e-5, abs(distance_in) * 1e-3)), made.closed, field)
    return out


_Stroke = tuple[FloatArray, FloatArray, float, FloatArray]


def _shifted(a: FloatArray, b: FloatArray, bulge: float, side: float, n: int, field: str) -> _Stroke:
    """The stroke moved to its right; the last entry is the arc's centre or the direction of a line."""
    chord = b - a
    run = np.hypot(*chord)
    left = np.array([-chord[1], chord[0]])
    if abs(bulge) < 1e-12:
        shift = -left / run * side
        return a + shift, b + shift, 0.0, chord / run
    center = (a + b) / 2 + left * (1 - bulge**2) / (4 * bulge)
    radius = run * (1 + bulge**2) / (4 * abs(bulge))
    grown = radius + (side if bulge > 0 else -side)
    if grown <= 1e-9:
        raise GeometryError(
            field,
            because=f"the arc after point {n + 1} vanishes",
            found=f"radius {radius:.4f} in against an offset of {abs(side):.4f} in",
            mend="Use a smaller offset or a larger radius there",
        )
    return center + (a - center) * grown / radius, center + (b - center) * grown / radius, bulge, center


def _direction(stroke: _Stroke, at_end: bool) -> FloatArray:
    a, b, bulge, origin = stroke
    if bulge == 0.0:
        return origin
    arm = (b if at_end else a) - origin
    way = np.array([-arm[1], arm[0]]) * (1 if bulge > 0 else -1)
    return np.asarray(way / np.hypot(*way))


def _corner(
    before: _Stroke, after: _Stroke, corner: FloatArray, side: float, corners: str
) -> tuple[FloatArray, FloatArray, float]:
    """End of the stroke before, start of the stroke after, and the bulge of the arc between (0: they meet)."""
    end, start = before[1], after[0]
    if np.hypot(*(end - start)) < 1e-9:
        return start, start, 0.0
    u, w = _direction(before, True), _direction(after, False)
    turn = np.arctan2(u[0] * w[1] - u[1] * w[0], float(u @ w))
    opens = turn * side > 0
    if opens and corners == "round":
        return end, start, float(np.tan(turn / 4))
    meet = _meeting(before, after, corner)
    if meet is None:
        return end, start, float(np.tan(turn / 4))
    return meet, meet, 0.0


def _meeting(before: _Stroke, after: _Stroke, near: FloatArray) -> FloatArray | None:
    """Where the two carried-on strokes meet, nearest to the corner."""
    (_, e, b0, o0), (s, _, b1, o1) = before, after
    if b0 == 0.0 and b1 == 0.0:
        across = o0[0] * o1[1] - o0[1] * o1[0]
        if abs(across) < 1e-12:
            return None
        gap = s - e
        return np.asarray(e + o0 * (gap[0] * o1[1] - gap[1] * o1[0]) / across)
    if b0 == 0.0 or b1 == 0.0:
        (point, way), (center, on) = ((e, o0), (o1, s)) if b0 == 0.0 else ((s, o1), (o0, e))
        reach = float((center - point) @ way)
        foot = point + way * reach
        room = float((on - center) @ (on - center) - (foot - center) @ (foot - center))
        if room < 0:
            return None
        found = [foot + way * np.sqrt(room), foot - way * np.sqrt(room)]
    else:
        r0, r1 = np.hypot(*(e - o0)), np.hypot(*(s - o1))
        axis = o1 - o0
        d = np.hypot(*axis)
        if d < 1e-12:
            return None
        along = (d * d + r0 * r0 - r1 * r1) / (2 * d)
        room = r0 * r0 - along * along
        if room < 0:
            return None
        square = np.array([-axis[1], axis[0]]) / d
        found = [
            o0 + axis / d * along + square * np.sqrt(room),
            o0 + axis / d * along - square * np.sqrt(room),
        ]
    return np.asarray(min(found, key=lambda p: float(np.hypot(*(p - near)))))


def _trimmed_bulge(
    a: FloatArray, b: FloatArray, bulge: float, origin: FloatArray, n: int, field: str
) -> float:
    chord = b - a
    if bulge == 0.0:
        if float(chord @ origin) <= 0:
            raise GeometryError(
                field,
                because=f"the side from point {n + 1} to the next vanishes",
                mend="Use a smaller offset, or leave this corner out",
            )
        return 0.0
    start, end = a - origin, b - origin
    turn = np.arctan2(start[0] * end[1] - start[1] * end[0], float(start @ end))
    full = 4 * np.arctan(bulge)
    # The trimmed arc still turns the same way, by nearly as much as before.
    turn += 2 * np.pi * np.round((full - turn) / (2 * np.pi))
    if turn * full <= 0:
        raise GeometryError(
            field,
            because=f"the arc after point {n + 1} vanishes",
            mend="Use a smaller offset or a larger radius there",
        )
    return float(np.tan(turn / 4))
