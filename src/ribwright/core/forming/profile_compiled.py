"""Rolled profiles of many rows at once, and their gaps, compiled: the inner loop of the recipe search.

A row is one station (or one sheet of the fan): its passes, each with tip, end of the arc and fall of the tail.
The curvature left is the largest over the passes; inside a step it is constant, so the profile is a chain of
arcs, turned by a short series instead of sines. Profile and fit of a row stay in the cache of the processor.
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
    none = np.empty((1, points, 2))
    _kernel()(
        True, True, False, step_in, tip_in, end_in, fall_in, table_per_in, row, none, none,
        np.zeros(step_in.size, dtype=np.int64), curvature, out, np.empty(1),
    )  # fmt: skip
    return curvature, out


def gaps_in(profiles: Array, targets: Array, normals: Array, which: Rows) -> Array:
    """Largest distance of each profile from its target after the best rigid fit; shape (rows,).

    The fit is least squares along the target's normals. An arc turned about its own centre does not move, so a
    turn that nothing resists is left out.

    Args:
        profiles: shape (rows, points, 2).
        targets, normals: points of the targets and unit normals there, shape (targets, points, 2).
        which: target of each row, shape (rows,).
    """
    out = np.empty(profiles.shape[0])
    none = np.empty((1, 1))
    _kernel()(
        False, True, True, none[0], none, none, none, none, np.zeros((1, 1), dtype=np.int64), targets, normals,
        which, none, profiles, out,
    )  # fmt: skip
    return out


def rolled_gaps_in(
    *,
    step_in: Array,
    tip_in: Array,
    end_in: Array,
    fall_in: Array,
    table_per_in: Array,
    row: Rows,
    targets: Array,
    normals: Array,
    which: Rows,
) -> Array:
    """Both at once without keeping the profiles; arguments as above; shape (rows,)."""
    out = np.empty(step_in.size)
    none = np.empty((1, targets.shape[1], 2))
    _kernel()(
        True, False, True, step_in, tip_in, end_in, fall_in, table_per_in, row, targets, normals, which,
        np.empty((1, 1)), none, out,
    )  # fmt: skip
    return out


@lru_cache(maxsize=1)
def _kernel() -> Any:
    """One function, since only one that calls no other of its kind is kept on disk between runs."""
    from numba import njit

    @njit(cache=True, error_model="numpy")
    def run(  # type: ignore[no-untyped-def]
        make, keep, fit, ds_of, tip, end, fall, table, row, targets, normals, which, curvature, profiles, gaps
    ):
        points = profiles.shape[1]
        own = np.empty((points, 2))
        off = np.empty(points)
        arm = np.empty(points)
        for i in range(which.shape[0]):
            xy = profiles[i] if keep else own
            if make:
                ds = ds_of[i]
                passes = tip.shape[1]
                nodes = table.shape[1] - 1
                x, y, c, s = 0.0, 0.0, 1.0, 0.0
                xy[0, 0] = 0.0
                xy[0, 1] = 0.0
                for j in range(points - 1):
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
                        line = row[i, p]
                        k = table[line, low] + (place - low) * (table[line, low + 1] - table[line, low])
                        best = max(best, k)
                    if keep:
                        curvature[i, j] = best
                    # half a step's turn on either side of its chord
                    h = 0.5 * best * ds
                    h2 = h * h
                    ratio = 1.0 - h2 / 6.0 * (1.0 - h2 / 20.0)
                    sine = h * ratio
                    cosine = 1.0 - 0.5 * h2 * (1.0 - h2 / 12.0 * (1.0 - h2 / 30.0))
                    mc, ms = c * cosine - s * sine, s * cosine + c * sine
                    x += ds * ratio * mc
                    y += ds * ratio * ms
                    c, s = mc * cosine - ms * sine, ms * cosine + mc * sine
                    xy[j + 1, 0] = x
                    xy[j + 1, 1] = y
            if fit:
                t = which[i]
                # bring the profile onto the target: centres and mean direction, then a linear least-squares fit
                px, py, qx, qy = 0.0, 0.0, 0.0, 0.0
                dot, cross = 0.0, 0.0
                for j in range(points):
                    ax, ay, bx, by = xy[j, 0], xy[j, 1], targets[t, j, 0], targets[t, j, 1]
                    px += ax
                    py += ay
                    qx += bx
                    qy += by
                    dot += ax * bx + ay * by
                    cross += ax * by - ay * bx
                dot -= (px * qx + py * qy) / points
                cross -= (px * qy - py * qx) / points
                px, py, qx, qy = px / points, py / points, qx / points, qy / points
                size = np.sqrt(dot * dot + cross * cross)
                c, s = dot / size, cross / size
                a11, a12, a13, a22, a23, a33 = 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
                b1, b2, b3 = 0.0, 0.0, 0.0
                for j in range(points):
                    ax, ay = xy[j, 0] - px, xy[j, 1] - py
                    bx, by = targets[t, j, 0] - qx, targets[t, j, 1] - qy
                    u, v = normals[t, j, 0], normals[t, j, 1]
                    w = v * bx - u * by
                    d = (c * ax - s * ay - bx) * u + (s * ax + c * ay - by) * v
                    off[j] = d
                    arm[j] = w
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
                    a11 * (a22 * a33 - a23 * a23)
                    - a12 * (a12 * a33 - a23 * a13)
                    + a13 * (a12 * a23 - a22 * a13)
                )
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
                    worst = max(
                        worst, abs(off[j] - t1 * normals[t, j, 0] - t2 * normals[t, j, 1] - t3 * arm[j])
                    )
                gaps[i] = worst

    return run
