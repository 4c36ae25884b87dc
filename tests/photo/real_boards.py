"""Real photos of printed boards, and what the camera solution makes of them.

The print is the standard: its corners lie on an even grid. Corners that had no part in the solution must lie where
it says; and what a camera calibrated from many photos is published to be, the solution from one must be too.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from ribwright.core.metrology.camera import FocalPrior, View, solve_view
from ribwright.core.metrology.layout import GaugeLayout
from ribwright.core.metrology.saddles import refine_saddles
from ribwright.core.metrology.typed import PrintScale

AS_PRINTED = PrintScale(1.0, 1.0, 1e-3, 1e-3, ())
CHESS = 9, 6  # inner corners across and down
SQUARE_MM = 25.0  # of the chessboard, as its published calibration says


def charuco_layout() -> GaugeLayout:
    """Layout of the board in ``charuco.jpg``: 5 by 7 squares of 40 mm, markers of 20 mm, as its tutorial says."""
    square, marker, across, down = 40.0, 20.0, 5, 7
    first = np.array([[0, 0], [1, 0], [1, 1], [0, 1]]) * marker
    places = [
        np.array([c, r]) * square + (square - marker) / 2
        for r in range(down)
        for c in range(across)
        if (r + c) % 2
    ]
    return GaugeLayout(
        kind="B",
        size_mm=(across * square, down * square),
        dictionary="DICT_6X6_250",
        square_mm=square,
        chess_id=np.arange((across - 1) * (down - 1)),
        chess_xy_mm=np.array([[c, r] for r in range(1, down) for c in range(1, across)]) * square,
        marker_id=np.arange(len(places)),
        marker_xy_mm=np.array([at + first for at in places]),
        bars=(),
        blank_mm=np.empty((0, 2)),
        target=None,
        board=(across, down, (0.0, 0.0), 0),
    )


@dataclass(frozen=True, slots=True)
class HeldOut:
    """How far corners lie from where a solution without them puts them.

    ``miss_px`` is (n, 2); ``px_per_mm`` the usual size of the print in the picture; ``view`` the solution from all corners.
    """

    view: View
    miss_px: np.ndarray
    px_per_mm: float

    @property
    def rms_mm(self) -> float:
        return float(np.sqrt((self.miss_px**2).mean())) / self.px_per_mm


def held_out(
    grey: np.ndarray, xy_mm: np.ndarray, start: View, square_mm: float, apart: np.ndarray
) -> HeldOut:
    """Corners refined from ``start``, the camera solved without those ``apart``, and how far it then is from these."""
    every = np.ones(len(xy_mm), dtype=bool)
    size = grey.shape[1], grey.shape[0]
    prior = FocalPrior(start.focal_px, 0.3)
    px, ok = refine_saddles(grey, xy_mm, start, square_mm, every, 3.0)
    whole = solve_view(xy_mm=xy_mm[ok], pixels=px[ok], size_px=size, prior=prior, start=start)
    rest = ok & ~apart
    without = solve_view(xy_mm=xy_mm[rest], pixels=px[rest], size_px=size, prior=prior, start=start)
    at = xy_mm[ok & apart]
    put = without.pixels(np.column_stack([without.stretched_mm(at), without.surface_mm(at)]))
    beside = np.hypot(*np.diff(px, axis=0).T) / np.hypot(*np.diff(xy_mm, axis=0).T)
    return HeldOut(whole, px[ok & apart] - put, float(np.median(beside)))


def chessboard(grey: np.ndarray) -> HeldOut | None:
    """The chessboard's middle, five corners by four, from the corners round it, as a part's window lies in a card."""
    found, corners = cv2.findChessboardCorners(grey, CHESS)
    if not found:
        return None
    down, across = np.divmod(np.arange(CHESS[0] * CHESS[1]), CHESS[0])
    xy_mm = np.column_stack([across, down]) * SQUARE_MM
    # nothing is known of this camera: a view of 60 degrees, give or take a third
    start = solve_view(
        xy_mm=xy_mm,
        pixels=corners.reshape(-1, 2).astype(np.float64),
        size_px=(grey.shape[1], grey.shape[0]),
        prior=FocalPrior(0.87 * grey.shape[1], 0.3),
    )
    middle = (down >= 1) & (down <= 4) & (across >= 2) & (across <= 6)
    return held_out(grey, xy_mm, start, SQUARE_MM, middle)
