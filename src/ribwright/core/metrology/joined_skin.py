"""The sheet's end where skin of its own tone is seen beside it: the two make one band, wider than the sheet.

A black end with dark skin inside, or paint that ran over onto the skin: a band of the sheet's thickness laid into the
middle of such a broad one misses the edge that stands clear by half of what is too much. It gives itself away: that
fit wants far more blur than the card's own printed edges have. Then the blur is taken from the card, and the far side
of the band may lie anywhere on the side where skin is seen; the edge that stands clear is where the light says.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ribwright.core.metrology.edge_fit import BOTH, INNER, OUTER, least_of, squares_left

Floats = NDArray[np.float64]

TOO_BLURRED = 1.35  # times the card's blur: no focus differs so much over the height of an end
# from so much on it may be: then the broad band must leave so many times less of the light unsaid
RATHER_BLURRED, MUCH_MORE = 1.15, 2.0
# what skin may add to the band; more lies beyond what is looked at, and the clear edge is fitted alone
WIDER_MM = (0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6)
ROWS_TOGETHER = 12  # either side, that say together how wide the band is: it changes slowly
BESIDE_MM = 0.5  # how far beside the band its surroundings are fitted
NEARLY, LEAST_SHARE = 0.3, 1e-3  # of the squares left over more than the least; below which all are noise
BELIEVED = 0.3  # of the move from the narrow band's place to the broad one's, one sigma


def clear_edge(
    signal: Floats,
    offset_mm: Floats,
    at: NDArray[np.int64],
    *,
    sheet_mm: float,
    blur_mm: float,
    skin_inside: bool,
) -> tuple[Floats, NDArray[np.bool_], Floats]:
    """Outer edge of a sheet's end whose band is broadened on one side by skin.

    Args:
        signal: shape (rows, samples), the end standing out bright.
        offset_mm: shape (samples,), even steps along the outward normal.
        at: shape (rows,), sample near which the outer edge lies.
        sheet_mm: thickness of the sheet.
        blur_mm: one sigma of the picture's blur.
        skin_inside: skin is seen inside the end, not outside.

    Returns:
        Its offset, shape (rows,), where the band was found broader than the sheet, and the share of the light's
        variation that it leaves unsaid.
    """
    step = float(offset_mm[1] - offset_mm[0])
    beside = round(BESIDE_MM / step)
    reach = np.arange(-round(sheet_mm / step) - beside, beside + 1)
    x: Floats = np.asarray(reach * step, dtype=np.float64)
    data = np.take_along_axis(signal, np.clip(at[:, None] + reach, 0, signal.shape[1] - 1), axis=1)
    total = np.maximum(((data - data.mean(axis=1, keepdims=True)) ** 2).sum(axis=1), 1e-12)
    alone = squares_left(data, x, sheet_mm, blur_mm, OUTER if skin_inside else INNER)
    broad = [
        squares_left(data, x, sheet_mm + more, blur_mm, BOTH, 0.0 if skin_inside else more)
        for more in WIDER_MM
    ]
    left_over = np.array([*broad, alone])  # (widths, rows, shifts)
    share = left_over.min(axis=2) / total
    padded = np.pad(share, ((0, 0), (ROWS_TOGETHER, ROWS_TOGETHER)), mode="edge")
    together = np.lib.stride_tricks.sliding_window_view(padded, 2 * ROWS_TOGETHER + 1, axis=1).mean(axis=2)
    # widths that do nearly as well as the best are all believed a little: blur joins width and place
    like = np.exp(-(together / np.maximum(together.min(axis=0), LEAST_SHARE) - 1.0) / NEARLY)
    like /= like.sum(axis=0)
    place = np.array([least_of(left)[0] for left in left_over])
    return offset_mm[at] + (like * place).sum(axis=0), like[0] < 0.5, (like * share).sum(axis=0)
