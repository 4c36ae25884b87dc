"""Light between the pixels of a picture, compiled: no copy of the picture in linear light is made for it."""

from __future__ import annotations

import numba
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Single = NDArray[np.float32]
Grey = NDArray[np.uint8]


@numba.njit(cache=True)  # type: ignore[untyped-decorator]
def _along(grey: Grey, light: Single, u: Floats, v: Floats, out: Single) -> None:
    """Light at columns u and rows v, into ``out``; beyond the picture that of its rim."""
    last, lowest = grey.shape[1] - 1.001, grey.shape[0] - 1.001
    for b in range(len(u)):
        x, y = u[b] if u[b] > 0.0 else 0.0, v[b] if v[b] > 0.0 else 0.0  # what is no number is the rim too
        x, y = min(x, last), min(y, lowest)
        j, i = np.int32(x), np.int32(y)
        right, down = x - j, y - i
        above = light[grey[i, j]] * (1.0 - right) + light[grey[i, j + 1]] * right
        below = light[grey[i + 1, j]] * (1.0 - right) + light[grey[i + 1, j + 1]] * right
        out[b] = above * (1.0 - down) + below * down


@numba.njit(cache=True)  # type: ignore[untyped-decorator]
def light_at(grey: Grey, light: Single, u: Floats, v: Floats) -> Single:
    """Light at the places with columns ``u`` and rows ``v``, both (m, n); ``light`` is that of each grey level."""
    out = np.empty(u.shape, np.float32)
    for a in range(len(u)):
        _along(grey, light, u[a], v[a], out[a])
    return out


@numba.njit(cache=True)  # type: ignore[untyped-decorator]
def light_on_grid(
    grey: Grey, light: Single, corner: Floats, rows: int, columns: int
) -> tuple[Single, NDArray[np.bool_]]:
    """Light on an even grid (rows, columns) laid through ``corner``, places (m, n, 2) of a coarser one, and what is seen of it."""
    height, width = grey.shape
    out, seen = np.empty((rows, columns), np.float32), np.empty((rows, columns), np.bool_)
    cells, lines = corner.shape[1] - 1, corner.shape[0] - 1
    along = np.linspace(0.0, cells, columns)
    k = np.minimum(along.astype(np.int64), cells - 1)
    along -= k
    u, v = np.empty(columns), np.empty(columns)
    for a in range(rows):
        down = a * lines / (rows - 1)
        i = min(int(down), lines - 1)
        row = corner[i] + (corner[i + 1] - corner[i]) * (down - i)
        for b in range(columns):
            j = k[b]
            u[b] = row[j, 0] + (row[j + 1, 0] - row[j, 0]) * along[b]
            v[b] = row[j, 1] + (row[j + 1, 1] - row[j, 1]) * along[b]
            seen[a, b] = (u[b] > 1) & (v[b] > 1) & (u[b] < width - 2) & (v[b] < height - 2)
        _along(grey, light, u, v, out[a])
    return out, seen
