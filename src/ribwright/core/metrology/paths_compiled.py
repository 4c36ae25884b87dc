"""Best paths through a table of scores, compiled: the same sums as written out row by row."""

from __future__ import annotations

import numba
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@numba.njit(cache=True, nogil=True)  # type: ignore[untyped-decorator]
def best_through(score: Floats, reach: int, bend_cost: float) -> Floats:
    """Worth of the best whole path through each place (rows, states).

    A path changes by at most ``reach`` states from row to row and pays ``bend_cost`` times the change squared.
    """
    rows, states = score.shape
    ahead = np.empty((rows, states))
    behind = np.zeros((rows, states))
    ahead[0] = score[0]
    for i in range(1, rows):
        _step_on(ahead[i - 1], reach, bend_cost, ahead[i])
        ahead[i] += score[i]
    for i in range(rows - 2, -1, -1):
        _step_on(behind[i + 1] + score[i + 1], reach, bend_cost, behind[i])
    return ahead + behind


@numba.njit(cache=True, nogil=True)  # type: ignore[untyped-decorator]
def _step_on(worth: Floats, reach: int, bend_cost: float, best: Floats) -> None:
    """The best that each state of the next row can come from, less the cost of the change, into ``best``."""
    states = len(worth)
    best[:] = worth
    for change in range(1, min(reach, states - 1) + 1):
        cost = bend_cost * change * change
        low, high = worth[: states - change], worth[change:]
        up, down = best[change:], best[: states - change]
        for j in range(states - change):
            up[j] = max(up[j], low[j] - cost)
            down[j] = max(down[j], high[j] - cost)


@numba.njit(cache=True, nogil=True)  # type: ignore[untyped-decorator]
def closed_path(score: Floats, reach: int, bend_cost: float) -> Ints:
    """Best path round all rays that ends where it began: run twice round, the middle is kept."""
    rays, states = score.shape
    best = np.empty((2 * rays, states))
    came = np.zeros((2 * rays, states), dtype=np.int64)
    for j in range(states):
        best[0, j] = score[0, j]
    for i in range(1, 2 * rays):
        for j in range(states):
            top, at = -1e18, j
            for k in range(max(0, j - reach), min(states, j + reach + 1)):
                worth = best[i - 1, k] - bend_cost * (k - j) * (k - j)
                if worth > top:
                    top, at = worth, k
            best[i, j] = top + score[i % rays, j]
            came[i, j] = at
    path = np.empty(2 * rays, dtype=np.int64)
    path[-1] = np.argmax(best[-1])
    for i in range(2 * rays - 1, 0, -1):
        path[i - 1] = came[i, path[i]]
    out = np.empty(rays, dtype=np.int64)
    half = rays // 2
    for i in range(half, half + rays):
        out[i % rays] = path[i]
    return out
