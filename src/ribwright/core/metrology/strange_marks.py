"""Markers that a picture shows in the squares of a card where its layout has others, or none.

Two cards differ in nothing but where their windows are and how their markers are numbered. A camera solved on the
wrong layout often fits, only shifted or about another window, and the part would be looked for in the wrong place. So
every square is read once the camera is known, as a whole and without searching.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from ribwright.core.metrology.camera import View
from ribwright.core.metrology.edge_fit import rows_times
from ribwright.core.metrology.gauge_sheet import DICTIONARY, RIM_MM
from ribwright.core.metrology.layout import GaugeLayout
from ribwright.core.metrology.marks import cell_levels, marker_bits
from ribwright.core.metrology.printed_rim import printed_otherwise
from ribwright.core.metrology.saddles import refine_saddles
from ribwright.core.metrology.typed import PrintScale

Floats = NDArray[np.float64]

LIKE = 0.9  # correlation of the cells' light with a marker's bits: nothing but print comes near
CORNERS_INSIDE = 6  # chess corners seen within the window: print shows through nowhere else
# corners beside the window: within so many squares of it; so few tell nothing
BESIDE_SQUARES, FEWEST_BESIDE = 2.6, 8
DRAWN_PX_PER_MM = 2.0
CLEAR_OF_RIM_MM = 3.0  # within the window: the cut is rough
FEWEST = 2  # of them: one alone may be a scrap of another sheet


def strange_marks(grey: NDArray[np.uint8], view: View, layout: GaugeLayout, scale: PrintScale) -> int:
    """How many squares of the board hold a marker that the layout does not have there.

    Args:
        grey: the picture.
        view: the camera, solved on the layout's own markers.
        layout: of the sheet that should be in the picture.
        scale: physical over nominal size of the print.
    """
    number, corner = _squares(layout)
    if not len(number):
        return 0
    place = view.stretched_mm(corner.reshape(-1, 2) * np.array([scale.x, scale.y]))
    px = view.pixels(np.column_stack([place, view.surface_mm(place)])).reshape(-1, 4, 2)
    inside = ((px > 2) & (px < np.array(grey.shape[::-1]) - 3)).all(axis=(1, 2))
    ink = marker_bits(layout.dictionary)
    level = cell_levels(grey, px, ink.shape[1])
    book = 1.0 - ink.reshape(len(ink), -1)
    level, book = (a - a.mean(axis=1, keepdims=True) for a in (level, book))
    level /= np.maximum(np.sqrt((level**2).sum(axis=1, keepdims=True)), 1e-9)
    like = rows_times(level, book.T / np.sqrt((book**2).sum(axis=1)))
    best = like.argmax(axis=1)
    printed = inside & (like.max(axis=1) > LIKE)
    return int((printed & ((best != number) | _in_window(corner, layout))).sum())


def _squares(layout: GaugeLayout) -> tuple[NDArray[np.int64], Floats]:
    """Number and corners of each marker that the whole board has; none if the layout's own are numbered otherwise."""
    nothing: tuple[NDArray[np.int64], Floats] = np.empty(0, dtype=np.int64), np.empty((0, 4, 2))
    if layout.board is None or layout.dictionary != DICTIONARY:
        return nothing
    columns, rows, origin, first = layout.board
    square = layout.square_mm
    spot = np.array([(c, r) for r in range(rows) for c in range(columns) if (r + c) % 2], dtype=np.float64)
    side = float((layout.marker_xy_mm[:, 2] - layout.marker_xy_mm[:, 0]).mean())
    corner = np.array(origin) + spot * square + (square - side) / 2
    own = layout.marker_id - first
    if own.min() < 0 or own.max() >= len(spot):
        return nothing
    if np.abs(corner[own] - layout.marker_xy_mm[:, 0]).max() > 0.1 * square:
        return nothing
    quad = corner[:, None, :] + side * np.array([(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)])
    return first + np.arange(len(spot)), quad


def _in_window(corner: Floats, layout: GaugeLayout) -> NDArray[np.bool_]:
    """True for markers that lie wholly where the layout has its window or blank area."""
    import cv2

    if not len(layout.blank_mm):
        return np.zeros(len(corner), dtype=bool)
    rim = layout.blank_mm.astype(np.float32)
    low, high = layout.blank_mm.min(axis=0), layout.blank_mm.max(axis=0)
    maybe = ((corner > low) & (corner < high)).all(axis=(1, 2))
    return np.array(
        [
            near and all(cv2.pointPolygonTest(rim, (float(x), float(y)), False) > 0 for x, y in four)
            for near, four in zip(maybe, corner, strict=True)
        ]
    )


def about_the_window(
    grey: NDArray[np.uint8], view: View, kept: NDArray[np.bool_], layout: GaugeLayout, scale: PrintScale
) -> tuple[int, float, tuple[float, float]]:
    """What corners and squares say of the window: is it where the layout has it?

    Args:
        grey: the picture.
        view: the camera.
        kept: shape (corners,), which of the layout's corners carry it.
        layout: of the sheet.
        scale: physical over nominal size of the print.

    Returns:
        How many corners are seen where the layout has its window, the share of the corners beside it that are
        missing, and what is ``printed_otherwise`` beside it.
    """
    if layout.board is None or not len(layout.blank_mm):
        return 0, 0.0, (0.0, 0.0)
    square = layout.square_mm
    # near the window some squares are not printed, and a corner without its four squares is none
    depth = _depth_mm(layout)
    out = -depth(layout.chess_xy_mm)
    beside = (out > np.sqrt(2.0) * square + RIM_MM) & (out < BESIDE_SQUARES * square)
    missing = float((~kept[beside]).mean()) if beside.sum() >= FEWEST_BESIDE else 0.0
    columns, rows, origin, _ = layout.board
    x, y = np.meshgrid(origin[0] + square * np.arange(1, columns), origin[1] + square * np.arange(1, rows))
    every = np.column_stack([x.ravel(), y.ravel()])
    inner = every[depth(every) > CLEAR_OF_RIM_MM] * np.array([scale.x, scale.y])
    otherwise = printed_otherwise(grey, view, kept, layout, scale, depth)
    if not len(inner):
        return 0, missing, otherwise
    all_of_them = np.ones(len(inner), dtype=bool)
    _, seen = refine_saddles(grey, inner, view, square * scale.x, all_of_them, 3.0)
    return int(seen.sum()), missing, otherwise


def _depth_mm(layout: GaugeLayout) -> Callable[[Floats], Floats]:
    """How deep within the window a place lies, to half a millimetre; negative outside it."""
    import cv2

    shape = (round(layout.size_mm[1] * DRAWN_PX_PER_MM) + 2, round(layout.size_mm[0] * DRAWN_PX_PER_MM) + 2)
    window = np.zeros(shape, dtype=np.uint8)
    cv2.fillPoly(window, [np.round(layout.blank_mm * DRAWN_PX_PER_MM).astype(np.int32)], (1,))
    depth = -cv2.distanceTransform(1 - window, cv2.DIST_L2, 3)
    x, y, wide, high = cv2.boundingRect(window)
    box = slice(max(y - 1, 0), y + high + 1), slice(max(x - 1, 0), x + wide + 1)
    depth[box] += cv2.distanceTransform(window[box], cv2.DIST_L2, 3)
    depth /= DRAWN_PX_PER_MM

    def at(xy_mm: Floats) -> Floats:
        px = np.round(xy_mm * DRAWN_PX_PER_MM).astype(np.int64)
        return np.asarray(
            depth[np.clip(px[:, 1], 0, shape[0] - 1), np.clip(px[:, 0], 0, shape[1] - 1)], dtype=np.float64
        )

    return at
