"""Votes for round things and the even row of places that gathers most of them, compiled."""

from __future__ import annotations

import numba
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Single = NDArray[np.float32]
Ints = NDArray[np.int64]


@numba.njit(cache=True, nogil=True)  # type: ignore[untyped-decorator]
def gathered(
    rows: Ints,
    columns: Ints,
    up_x: Single,
    up_y: Single,
    weight: Single,
    reach: Floats,
    height: int,
    width: int,
) -> Floats:
    """Votes of cells (rows, columns) for the places at each ``reach`` along their gradients, shape (height, width).

    A vote counts the less the farther it reaches; a negative reach goes down the gradient.
    """
    votes = np.zeros((height, width))
    for r in reach:
        for k in range(len(rows)):
            j = int(np.rint(columns[k] + r * up_x[k]))
            i = int(np.rint(rows[k] + r * up_y[k]))
            if 0 <= i < height and 0 <= j < width:
                votes[i, j] += weight[k] / abs(r)
    return votes


@numba.njit(cache=True, nogil=True)  # type: ignore[untyped-decorator]
def likeliest(
    field: Single, most: Single, rows: Ints, columns: Ints, height: int, width: int, more_than: float
) -> tuple[float, int, int]:
    """Worth, row and column of the start with most evidence: the mean over its places, and their least once more.

    A start (i, j), i < height, j < width, has its places at (i + rows, j + columns) of ``field``; of the least no more
    than 3 counts. Rows that by the ``most`` of each row of the field can't be worth ``more_than`` are passed over.
    """
    at_row, at_column = 0, 0
    total, least = np.empty(width, np.float32), np.empty(width, np.float32)
    count, capped = np.float32(len(rows)), np.float32(3.0)
    for i in range(height):
        sum_of, least_of = np.float32(0.0), capped
        for row in rows:
            sum_of += most[i + row]
            least_of = min(least_of, most[i + row])
        if sum_of / count + least_of <= more_than:
            continue
        total[:] = 0.0
        least[:] = np.inf
        for k in range(len(rows)):
            line = field[i + rows[k], columns[k] : columns[k] + width]
            for j in range(width):
                total[j] += line[j]
                least[j] = min(least[j], line[j])
        for j in range(width):
            total[j] = total[j] / count + min(least[j], capped)
        j = int(total.argmax())
        if total[j] > more_than:
            more_than, at_row, at_column = float(total[j]), i, j
    return more_than, at_row, at_column


@numba.njit(cache=True, nogil=True)  # type: ignore[untyped-decorator]
def mean_along(field: Floats, starts: Ints, width: int) -> Floats:
    """Mean over all rows of ``field`` from where each line of ``starts`` (lines, rows) meets them, (lines, width)."""
    mean = np.zeros((len(starts), width))
    for n in range(len(starts)):
        line = mean[n]
        for i in range(len(field)):
            row = field[i, starts[n, i] : starts[n, i] + width]
            for j in range(width):
                line[j] += row[j]
        for j in range(width):
            line[j] /= len(field)
    return mean
