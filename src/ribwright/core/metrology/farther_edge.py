"""Another edge a sheet's thickness beside the followed one, on the side where nothing but the ground is seen.

A black end that mirrors a lamp is grey, dark skin beside it is black: the line runs along the skin, and the end lies
between it and the card, as light as neither. (A light end before what is dark has no such twin, and what a lens
scatters beside it looks like one.) On that side the light must be the same from the followed edge on; where
it steps once more, a sheet's thickness farther, over a long stretch, that step is the outer edge, or as likely is.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from ribwright.core.metrology.edge_fit import rows_times, step

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

ROWS_TOGETHER = 12  # either side: a stretch, not a speck
BESIDE_MM = 0.5  # how far beyond the farther edge its surroundings are fitted
CLEAR_LEAN = 0.3  # skin is seen on one side only
CONTRAST = 0.15  # of the farther edge: shade in the corner of end and card makes half of it


def farther_edge(
    signal: Floats, offset_mm: Floats, edge_mm: Floats, lean: Floats, *, sheet_mm: float, blur_mm: float
) -> Floats:
    """Contrast of a step a sheet's thickness beyond the followed end, on its clear side.

    Levels joined by edges of the card's blur: what blur alone carries over is none of it.

    Args:
        signal: shape (rows, samples), linear light with the end standing out bright.
        offset_mm: shape (samples,), even steps along the outward normal.
        edge_mm: shape (rows,), the followed outer edge.
        lean: shape (rows,), + where skin is seen inside the end only, - outside.
        sheet_mm: thickness of the sheet.
        blur_mm: one sigma of the picture's blur.

    Returns:
        Shape (rows,), + where the light between both edges is nearer that of the end; 0 where neither side is clear.
    """
    size = float(offset_mm[1] - offset_mm[0])
    most = round((2 * sheet_mm + BESIDE_MM) / size)
    reach = np.arange(-most, most + 1)
    at = np.round((edge_mm - offset_mm[0]) / size).astype(np.int64)
    data = np.take_along_axis(signal, np.clip(at[:, None] + reach, 0, signal.shape[1] - 1), axis=1)
    x: Floats = np.asarray(reach * size, dtype=np.float64)
    edges = [step(x - k * sheet_mm, blur_mm) for k in (-2, -1, 0, 1)]
    levels = [1 - edges[0], *(a - b for a, b in pairwise(edges)), edges[-1]]
    found = rows_times(data, np.linalg.pinv(np.array(levels)))
    near, far = (np.where(lean > 0, found[:, i], found[:, 4 - i]) for i in (3, 4))
    floor = 0.02 * float(np.percentile(np.abs(signal), 98)) + 1e-4
    contrast = (near - far) / (np.abs(near) + np.abs(far) + floor)
    contrast = np.where(np.abs(lean) > CLEAR_LEAN, contrast, 0.0)
    padded = np.pad(contrast, ROWS_TOGETHER, mode="edge")
    return np.asarray(
        np.median(np.lib.stride_tricks.sliding_window_view(padded, 2 * ROWS_TOGETHER + 1), axis=1)
    )
