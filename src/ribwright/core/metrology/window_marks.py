"""What a picture shows where a card has its window: another part's card has markers and corners there.

Two cards differ in nothing but where their windows are. A camera solved on the wrong one fits, and the part would be
looked for in the wrong place. But then the picture shows printed markers where the layout says there is no paper.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ribwright.core.metrology.camera import View
from ribwright.core.metrology.gauge_sheet import CELLS, DICTIONARY, IDS, marker_bits
from ribwright.core.metrology.layout import GaugeLayout
from ribwright.core.metrology.typed import PrintScale

Floats = NDArray[np.float64]

LIKE = 0.8  # correlation of the cells' light with the marker's bits: nothing but print comes near
FEWEST = 2  # markers: one alone may be a scrap of another sheet


def printed_in_window(grey: NDArray[np.uint8], view: View, layout: GaugeLayout, scale: PrintScale) -> int:
    """How many of the board's markers are seen where the layout's window (or blank area) lies.

    Args:
        grey: the picture.
        view: the camera, solved on the layout's own markers.
        layout: of the sheet that should be in the picture.
        scale: physical over nominal size of the print.
    """
    import cv2

    number, corner = _left_out(layout)
    if not len(number):
        return 0
    side = CELLS + 2
    at = (np.arange(side) + 0.5) / side
    across, down = corner[:, 1] - corner[:, 0], corner[:, 3] - corner[:, 0]
    cell = (
        corner[:, 0, None, None, :]
        + at[None, None, :, None] * across[:, None, None, :]
        + at[None, :, None, None] * down[:, None, None, :]
    )
    place = view.stretched_mm(cell.reshape(-1, 2) * np.array([scale.x, scale.y]))
    px = view.pixels(np.column_stack([place, view.surface_mm(place)])).reshape(len(number), -1, 2)
    inside = ((px > 2) & (px < np.array(grey.shape[::-1]) - 3)).all(axis=(1, 2))
    u, v = (np.ascontiguousarray(px[..., i], dtype=np.float32) for i in (0, 1))
    level = cv2.remap(grey, u, v, cv2.INTER_LINEAR).astype(np.float64)
    paper = 1.0 - marker_bits(int(number.max()) + 1)[number].reshape(len(number), -1)
    level -= level.mean(axis=1, keepdims=True)
    paper -= paper.mean(axis=1, keepdims=True)
    size = np.sqrt((level**2).sum(axis=1) * (paper**2).sum(axis=1))
    like = (level * paper).sum(axis=1) / np.maximum(size, 1e-9)
    return int((inside & (like > LIKE)).sum())


def _left_out(layout: GaugeLayout) -> tuple[NDArray[np.int64], Floats]:
    """Ids and corners of the markers that the whole board has and that would lie wholly within the window."""
    import cv2

    if layout.board is None or not len(layout.blank_mm) or layout.dictionary != DICTIONARY:
        return np.empty(0, dtype=np.int64), np.empty((0, 4, 2))
    columns, rows, origin, first = layout.board
    square = layout.square_mm
    spot = np.array([(c, r) for r in range(rows) for c in range(columns) if (r + c) % 2], dtype=np.float64)
    number = first + np.arange(len(spot))
    own = layout.marker_xy_mm[:, :, :] - layout.marker_xy_mm[:, :1, :]  # a marker's corners from its first
    side = float(own[:, 2].mean())
    corner = np.array(origin) + spot * square + (square - side) / 2
    k = np.searchsorted(number, layout.marker_id)
    if k.max() >= len(number) or (number[k] != layout.marker_id).any():
        return np.empty(0, dtype=np.int64), np.empty((0, 4, 2))
    if np.abs(corner[k] - layout.marker_xy_mm[:, 0]).max() > 0.1 * square:
        return np.empty(0, dtype=np.int64), np.empty((0, 4, 2))  # a board numbered another way
    gone = ~np.isin(number, layout.marker_id) & (number < IDS)
    number, corner = number[gone], corner[gone]
    quad = corner[:, None, :] + side * np.array([(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)])
    rim = layout.blank_mm.astype(np.float32)
    within = [
        all(cv2.pointPolygonTest(rim, (float(x), float(y)), False) > 0 for x, y in four) for four in quad
    ]
    kept = np.array(within, dtype=bool)
    return number[kept], quad[kept]
