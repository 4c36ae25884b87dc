"""Is the card printed about its window as its layout says: white next to it, black squares farther out?

Two cards numbered alike differ in nothing but their windows, by some millimetres. Round its window every card leaves a
white rim in its black squares; where the layout has the rim of another window, its black falls on white, or its white
on black. This is print and not cut: scissors and what shows through the window have no part in it.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from ribwright.core.metrology.camera import View
from ribwright.core.metrology.layout import GaugeLayout
from ribwright.core.metrology.typed import PrintScale

Floats = NDArray[np.float64]

APART_MM = 1.0  # between the places that are looked at
INSET_MM = 0.8  # of them within a black square: blur
# from where the rim ends
SURELY_WHITE_MM = -1.3, -0.6
SURELY_BLACK_MM = 0.7, 3.5
FEWEST = 20
AROUND = 4  # chess corners that say what is white and what is black there


def printed_otherwise(
    grey: NDArray[np.uint8],
    view: View,
    kept: NDArray[np.bool_],
    layout: GaugeLayout,
    scale: PrintScale,
    depth_mm: Callable[[Floats], Floats],
) -> tuple[float, float]:
    """Share of the places beside the window that are white where the layout has black, and black where it has white.

    Both are 0 where the layout does not say how wide the rim is: cards printed by others, or before it said so.

    Args:
        grey: the picture.
        view: the camera.
        kept: shape (corners,), which of the layout's corners carry it.
        layout: of the sheet.
        scale: physical over nominal size of the print.
        depth_mm: how deep within the layout's window places (n, 2) lie.
    """
    import cv2

    if layout.board is None or layout.rim_mm is None or kept.sum() < AROUND:
        return 0.0, 0.0
    columns, rows, origin, _ = layout.board
    square, size = layout.square_mm, np.array([scale.x, scale.y])
    x, y = (np.arange(APART_MM / 2, count * square, APART_MM) for count in (columns, rows))
    clear = [np.minimum(at % square, square - at % square) > INSET_MM for at in (x, y)]
    black = ((y // square)[:, None] + x // square) % 2 == 0
    j, i = np.nonzero(black & clear[1][:, None] & clear[0])
    place = np.column_stack([x[i], y[j]]) + np.array(origin)
    beyond = -depth_mm(place) - layout.rim_mm
    rim, outside = ((beyond > first) & (beyond < last) for first, last in (SURELY_WHITE_MM, SURELY_BLACK_MM))
    beside = rim | outside
    place, rim = place[beside], rim[beside]

    def light(at: Floats) -> Floats:
        world = view.stretched_mm(at.reshape(-1, 2) * size)
        px = view.pixels(np.column_stack([world, view.surface_mm(world)])).astype(np.float32)
        seen = cv2.remap(grey, px[:, :1].copy(), px[:, 1:].copy(), cv2.INTER_LINEAR)
        return np.asarray(seen, dtype=np.float64).reshape(at.shape[:-1])

    corner = layout.chess_xy_mm[kept]
    u, v = np.meshgrid(np.linspace(-0.35, 0.35, 4), np.linspace(-0.35, 0.35, 4))
    around = corner[:, None, :] + square * np.column_stack([u.ravel(), v.ravel()])
    middle = np.quantile(light(around), (0.2, 0.8), axis=1).mean(axis=0)
    away = sum((place[:, k, None] - corner[:, k]) ** 2 for k in (0, 1))
    nearest = away.argpartition(AROUND - 1, axis=1)[:, :AROUND]
    white = light(place) > middle[nearest].mean(axis=1)

    def share(wrong: NDArray[np.bool_], of: NDArray[np.bool_]) -> float:
        return float((wrong & of).sum() / of.sum()) if of.sum() >= FEWEST else 0.0

    return share(white, ~rim), share(~white, rim)
