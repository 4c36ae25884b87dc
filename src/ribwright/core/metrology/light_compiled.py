"""Light between the pixels of a picture, compiled: no copy of the picture in linear light is made for it."""

from __future__ import annotations

import numba
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Single = NDArray[np.float32]
Grey = NDArray[np.uint8]


@numba.njit(cache=True, inline="always")  # type: ignore[untyped-decorator]
def _between(grey: Grey, light: Single, u: float, v: float) -> float:
    """Light at column u, row v; beyond the picture that of its rim."""
    height, width = grey.shape
    u = min(max(u, 0.0), width - 1.0)
    v = min(max(v, 0.0), height - 1.0)
    j, i = min(int(u), width - 2), min(int(v), height - 2)
    right, down = u - j, v - i
    above = light[grey[i, j]] * (1.0 - right) + light[grey[i, j + 1]] * right
    below = light[grey[i + 1, j]] * (1.0 - right) + light[grey[i + 1, j + 1]] * right
    return above * (1.0 - down) + below * down


@numba.njit(cache=True)  # type: ignore[untyped-decorator]
def light_at(grey: Grey, light: Single, u: Floats, v: Floats) -> Single:
    """Light at the places with columns ``u`` and rows ``v``, both (m, n); ``light`` is that of each grey level."""
    out = np.empty(u.shape, np.float32)
    for a in range(u.shape[0]):
        for b in range(u.shape[1]):
            out[a, b] = _between(grey, light, u[a, b], v[a, b])
    return out


@numba.njit(cache=True)  # type: ignore[untyped-decorator]
def light_on_grid(
    grey: Grey, light: Single, corner: Floats, rows: int, columns: int
) -> tuple[Single, NDArray[np.bool_]]:
    """Light on an even grid (rows, columns) laid through ``corner``, places (m, n, 2) of a coarser one, and what is seen of it."""
    height, width = grey.shape
    out, seen = np.empty((rows, columns), np.float32), np.empty((rows, columns), np.bool_)
    line = np.empty((corner.shape[1], 2))
    down, right = (corner.shape[0] - 1) / (rows - 1), (corner.shape[1] - 1) / (columns - 1)
    for a in range(rows):
        i = min(int(a * down), corner.shape[0] - 2)
        share = a * down - i
        for k in range(len(line)):
            for axis in range(2):
                line[k, axis] = corner[i, k, axis] * (1 - share) + corner[i + 1, k, axis] * share
        for b in range(columns):
            j = min(int(b * right), len(line) - 2)
            share = b * right - j
            u = line[j, 0] * (1 - share) + line[j + 1, 0] * share
            v = line[j, 1] * (1 - share) + line[j + 1, 1] * share
            seen[a, b] = (u > 1) & (v > 1) & (u < width - 2) & (v < height - 2)
            out[a, b] = _between(grey, light, u, v)
    return out, seen
