"""Rolled profiles of many rows at once, compiled: the inner loop of the recipe search.

A row is one station (or one sheet of the fan): its passes, each with tip, end of the arc and fall of the tail.
The curvature left is the largest over the passes; inside a step it is constant, so the profile is a chain of
arcs, turned by a short series instead of sines.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Rows = NDArray[np.int64]


def profiles_in(
    *,
    step_in: Array,
    tip_in: Array,
    end_in: Array,
    fall_in: Array,
    table_per_in: Array,
    row: Rows,
    points: int,
) -> tuple[Array, Array]:
    """Curvature left and middle line of every row, from the free edge inwards.

    Args:
        step_in: arc length of a step, shape (rows,).
        tip_in, end_in, fall_in: of each pass, shape (rows, passes); a pass with end <= 0 is not made.
        table_per_in: curvature left against share of the tool's moment (0 to 1, even steps), shape (tables, u).
        row: which table a pass uses, shape (rows, passes).
        points: points of a profile.

    Returns:
        Curvature at the middle of each step, shape (rows, points - 1); points, shape (rows, points, 2): the
        edge at the origin, the first step along x.
    """
    curvature = np.empty((step_in.size, points - 1))
    out = np.empty((step_in.size, points, 2))
    _kernel()(step_in, tip_in, end_in, fall_in, table_per_in, row, curvature, out)
    return curvature, out


def gaps_in(profiles: Array, targets: Array, normals: Array, which: Rows) -> Array:
    """Largest distance of each profile from its target after the best rigid fit; shape (rows,).

    Args:
        profiles: shape (rows, points, 2).
        targets, normals: points of the targets and unit normals there, shape (targets, points, 2).
        which: target of each row, shape (rows,).
    """
    out = np.empty(profiles.shape[0])
    _gap_kernel()(profiles, targets, normals, which, out)
    return out


@lru_cache(maxsize=1)
def _kernel() -> Any:
    from numba import njit

    @njit(cache=True, fastmath=False)
    def run(  # type: ignore[no-untyped-def]
        step, tip, end, fall, table, row, curvature, out
    ):
        rows, passes = tip.shape
        nodes = table.shape[1] - 1
        for i in range(rows):
            ds = step[i]
            x, y, c, s = 0.0, 0.0, 1.0, 0.0
            out[i, 0, 0] = 0.0
            out[i, 0, 1] = 0.0
            for j in range(curvature.shape[1]):
                at = (j + 0.5) * ds
                best = 0.0
                for p in range(passes):
                    stop = end[i, p]
                    if stop <= 0.0:
                        continue
                    share = 1.0
                    if at < tip[i, p]:
                        share = at / tip[i, p]
                    if at > stop:
                        share = min(share, 1.0 - (at - stop) / fall[i, p])
                    if share <= 0.0:
                        continue
                    place = share * nodes
                    low = min(int(place), nodes - 1)
                    line = table[row[i, p]]
                    k = line[low] + (place - low) * (line[low + 1] - line[low])
                    best = max(best, k)
                curvature[i, j] = best
                # half a step's turn on either side of its chord
                h = 0.5 * best * ds
                h2 = h * h
                sine = h * (1.0 - h2 / 6.0 * (1.0 - h2 / 20.0))
                cosine = 1.0 - 0.5 * h2 * (1.0 - h2 / 12.0 * (1.0 - h2 / 30.0))
                mc, ms = c * cosine - s * sine, s * cosine + c * sine
                chord = ds * (1.0 - h2 / 6.0 * (1.0 - h2 / 20.0))
                x += chord * mc
                y += chord * ms
                c, s = mc * cosine - ms * sine, ms * cosine + mc * sine
                out[i, j + 1, 0] = x
                out[i, j + 1, 1] = y

    return run


@lru_cache(maxsize=1)
def _gap_kernel() -> Any:
    from numba import njit

    @njit(cache=True, fastmath=False)
    def run(profiles, targets, normals, which, out):  # type: ignore[no-untyped-def]
        rows, points, _ = profiles.shape
        for i in range(rows):
            q = targets[which[i]]
            n = normals[which[i]]
            p = profiles[i]
            # bring the profile onto the target: centres and mean direction, then a linear least-squares fit
            px, py, qx, qy = 0.0, 0.0, 0.0, 0.0
            for j in range(points):
                px += p[j, 0]
                py += p[j, 1]
                qx += q[j, 0]
                qy += q[j, 1]
            px, py, qx, qy = px / points, py / points, qx / points, qy / points
            dot, cross = 0.0, 0.0
            for j in range(points):
                ax, ay = p[j, 0] - px, p[j, 1] - py
                bx, by = q[j, 0] - qx, q[j, 1] - qy
                dot += ax * bx + ay * by
                cross += ax * by - ay * bx
            size = np.sqrt(dot * dot + cross * cross)
            c, s = dot / size, cross / size
            a11, a12, a13, a22, a23, a33 = 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
            b1, b2, b3 = 0.0, 0.0, 0.0
            for j in range(points):
                ax, ay = p[j, 0] - px, p[j, 1] - py
                x, y = c * ax - s * ay, s * ax + c * ay
                bx, by = q[j, 0] - qx, q[j, 1] - qy
                u, v = n[j, 0], n[j, 1]
                w = v * bx - u * by
                d = (x - bx) * u + (y - by) * v
                a11 += u * u
                a12 += u * v
                a13 += u * w
                a22 += v * v
                a23 += v * w
                a33 += w * w
                b1 += u * d
                b2 += v * d
                b3 += w * d
            det = (
                a11 * (a22 * a33 - a23 * a23) - a12 * (a12 * a33 - a23 * a13) + a13 * (a12 * a23 - a22 * a13)
            )
            # an arc turned about its own centre does not move: then only two motions count
            if abs(det) < 1e-9 * a11 * a22 * (a33 + 1e-30):
                a33 += 1e-6 * (a33 + 1e-12)
                det = (
                    a11 * (a22 * a33 - a23 * a23)
                    - a12 * (a12 * a33 - a23 * a13)
                    + a13 * (a12 * a23 - a22 * a13)
                )
            t1 = (
                b1 * (a22 * a33 - a23 * a23) - a12 * (b2 * a33 - a23 * b3) + a13 * (b2 * a23 - a22 * b3)
            ) / det
            t2 = (
                a11 * (b2 * a33 - a23 * b3) - b1 * (a12 * a33 - a23 * a13) + a13 * (a12 * b3 - b2 * a13)
            ) / det
            t3 = (
                a11 * (a22 * b3 - b2 * a23) - a12 * (a12 * b3 - b2 * a13) + b1 * (a12 * a23 - a22 * a13)
            ) / det
            worst = 0.0
            for j in range(points):
                ax, ay = p[j, 0] - px, p[j, 1] - py
                x, y = c * ax - s * ay, s * ax + c * ay
                bx, by = q[j, 0] - qx, q[j, 1] - qy
                u, v = n[j, 0], n[j, 1]
                w = v * bx - u * by
                d = (x - bx) * u + (y - by) * v - t1 * u - t2 * v - t3 * w
                worst = max(worst, abs(d))
            out[i] = worst

    return run
