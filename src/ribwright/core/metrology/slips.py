"""Steps in a followed line that no sheet has: the line went over from one edge to another.

A shiny end mirrors a lamp and is as light as what lies beside it, dark skin takes its place: then the path leaves the
end for the skin and comes back. Each stretch looks well by itself. What gives it away is the step between them.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

SIDE_ROWS, GAP_ROWS = 6, 3  # rows on either side that say where the line is and how it runs; rows between
ENOUGH_ROWS = 4  # of a side that must be seen
STEEPEST_MM = 0.1  # change of the deviation from row to row that is still carried on
STEP_MM = 0.25  # of the line; half the thinnest sheet and more


def rows_of_a_step(offset_mm: Floats, seen: NDArray[np.bool_]) -> int:
    """How many rows have a step between the line before and the line after them.

    Both the step itself and what is left of it when each side is carried on straight must exceed ``STEP_MM``: a
    dent or an opened leg is steep, but it goes on.

    Args:
        offset_mm: shape (rows,), the followed line across the target.
        seen: shape (rows,), where it is to be believed.
    """
    rows = np.arange(len(offset_mm))
    if seen.sum() < 2 or len(rows) < 2 * SIDE_ROWS + GAP_ROWS:
        return 0
    filled = np.interp(rows, rows[seen], offset_mm[seen])
    window = np.lib.stride_tricks.sliding_window_view(filled, SIDE_ROWS)
    known = np.lib.stride_tricks.sliding_window_view(seen, SIDE_ROWS).sum(axis=1) >= ENOUGH_ROWS
    middle = np.median(window, axis=1)
    x = np.arange(SIDE_ROWS) - (SIDE_ROWS - 1) / 2
    slope = np.clip(((window - middle[:, None]) * x).sum(axis=1) / (x**2).sum(), -STEEPEST_MM, STEEPEST_MM)
    apart = SIDE_ROWS + GAP_ROWS
    before, after = slice(None, -apart), slice(apart, None)
    half = apart / 2
    carried = (middle[after] - half * slope[after]) - (middle[before] + half * slope[before])
    step = np.minimum(np.abs(carried), np.abs(middle[after] - middle[before]))
    return int((known[before] & known[after] & (step > STEP_MM)).sum())
