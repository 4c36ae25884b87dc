"""Chess corners refined in the picture from where a camera predicts them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ribwright.core.metrology.camera import View

Floats = NDArray[np.float64]
Grey = NDArray[np.uint8]

SADDLE_CONTRAST = 12.0  # grey levels between the dark and the light squares round a corner


def refine_saddles(
    grey: Grey,
    corner_mm: Floats,
    view: View,
    square_mm: float,
    near: NDArray[np.bool_],
    loose_px: float,
) -> tuple[Floats, NDArray[np.bool_]]:
    """Chess corners predicted by ``view`` and refined in the picture; only those that look like corners.

    Returns:
        pixels (n, 2) and which of them to use (n,).
    """
    import cv2

    height_mm = view.surface_mm(corner_mm)
    corner_mm = view.stretched_mm(corner_mm)
    world = np.column_stack([corner_mm, height_mm])
    predicted = view.pixels(world)
    step = np.column_stack([corner_mm + np.array([square_mm, 0.0]), world[:, 2]])
    down = np.column_stack([corner_mm + np.array([0.0, square_mm]), world[:, 2]])
    right, below = view.pixels(step) - predicted, view.pixels(down) - predicted
    pitch = np.minimum(np.hypot(*right.T), np.hypot(*below.T))
    window = int(np.clip(0.10 * np.median(pitch), 3, 8))
    height, width = grey.shape
    margin = 0.5 * pitch.max() + 2
    ok = near & (predicted[:, 0] > margin) & (predicted[:, 0] < width - 1 - margin)
    ok &= (predicted[:, 1] > margin) & (predicted[:, 1] < height - 1 - margin)
    out = predicted.copy()
    if not ok.any():
        return out, ok
    start = np.ascontiguousarray(predicted[ok], dtype=np.float32).reshape(-1, 1, 2)
    rule = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 20, 0.005)
    wide = max(window, round(loose_px + 2))
    found = cv2.cornerSubPix(grey, start.copy(), (wide, wide), (-1, -1), rule)
    if wide > window:
        found = cv2.cornerSubPix(grey, found, (window, window), (-1, -1), rule)
    out[ok] = found.reshape(-1, 2)
    ok &= np.hypot(*(out - predicted).T) < loose_px
    ok &= _looks_like_a_corner(grey, out, right, below, ok)
    return out, ok


def _looks_like_a_corner(
    grey: Grey, at: Floats, right: Floats, below: Floats, ok: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """Two diagonal quarters dark, two light: sampled at eight places round each corner."""
    reach = 0.085  # of a square: inside the white rim round a marker
    signs = np.array([[1, 1], [-1, -1], [1, -1], [-1, 1]], dtype=np.float64)
    place = at[:, None, :] + reach * (
        signs[None, :, :1] * right[:, None, :] + signs[None, :, 1:] * below[:, None, :]
    )
    col = np.clip(np.round(place[..., 0]), 0, grey.shape[1] - 1).astype(np.int64)
    row = np.clip(np.round(place[..., 1]), 0, grey.shape[0] - 1).astype(np.int64)
    level = grey[row, col].astype(np.float64)
    a, b = level[:, :2], level[:, 2:]
    gap = np.maximum(a.min(axis=1) - b.max(axis=1), b.min(axis=1) - a.max(axis=1))
    clipped = (level > 252).sum(axis=1) >= 4
    return np.asarray(ok & (gap > SADDLE_CONTRAST) & ~clipped, dtype=bool)
