"""The markers of a gauge sheet: what each looks like, and which of them a picture shows.

OpenCV finds what is square in a picture. What the squares say is read here, of all of them at once: looking them up
in the book one after another takes it many times as long as finding them.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from ribwright.core.metrology.edge_fit import rows_times
from ribwright.core.metrology.layout import IDS_OF

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Grey = NDArray[np.uint8]

MISREAD = 0.6  # of the wrong cells that the markers of a book could stand before one is taken for another
DARKEST = 6  # one cell in so many is surely dark, and one surely light


@lru_cache(maxsize=len(IDS_OF))
def marker_bits(dictionary: str) -> NDArray[np.uint8]:
    """The pictures of all markers of a book, shape (markers, side, side) in cells, 1 = ink; border included."""
    import cv2

    book = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, dictionary))
    side = book.markerSize + 2
    made = [cv2.aruco.generateImageMarker(book, i, side, borderBits=1) for i in range(IDS_OF[dictionary])]
    return np.asarray([m < 128 for m in made], dtype=np.uint8)


def cell_levels(picture: Grey, quads: Floats, side: int) -> Floats:
    """Grey levels at the middles of the cells of squares with corners (n, 4, 2), shape (n, side * side)."""
    import cv2

    u, v = np.meshgrid((np.arange(side) + 0.5) / side, (np.arange(side) + 0.5) / side)
    share = np.stack([(1 - u) * (1 - v), u * (1 - v), u * v, (1 - u) * v], axis=2).reshape(-1, 4)
    cell = np.einsum("ck,nki->nci", share, quads).astype(np.float32)
    seen = cv2.remap(picture, cell[..., 0].copy(), cell[..., 1].copy(), cv2.INTER_LINEAR)
    return np.asarray(seen, dtype=np.float64)


def find_marks(picture: Grey, dictionary: str, *, of: Ints | None = None, quick: bool) -> tuple[Ints, Floats]:
    """The markers that a picture shows, each as often as it is seen.

    Args:
        picture: about a third of a photo's size.
        dictionary: the book.
        of: the numbers of those looked for; all of the book if left out.
        quick: with one threshold, and none that are small; else with several.

    Returns:
        Numbers (n,) and corners (n, 4, 2) in the picture's pixels, each marker's own upper left first.
    """
    import cv2

    settings = cv2.aruco.DetectorParameters()
    settings.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_NONE
    settings.minMarkerPerimeterRate = 0.02 if not quick else 0.04
    if quick:
        settings.adaptiveThreshWinSizeMin = settings.adaptiveThreshWinSizeMax = 13
    book = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, dictionary))
    one = cv2.aruco.Dictionary(book.bytesList[:1], book.markerSize, book.maxCorrectionBits)
    known, _, others = cv2.aruco.ArucoDetector(one, settings).detectMarkers(picture)
    quads = np.array([*known, *others], dtype=np.float64).reshape(-1, 4, 2)
    numbers = np.arange(IDS_OF[dictionary]) if of is None else of
    if not len(quads):
        return numbers[:0], quads
    ink = marker_bits(dictionary)[numbers]
    turned = np.stack([np.rot90(ink, k, axes=(1, 2)) for k in range(4)], axis=1)
    cells = cell_levels(picture, quads, ink.shape[1])
    ends = np.sort(cells, axis=1)
    few = cells.shape[1] // DARKEST
    middle = (ends[:, :few].mean(axis=1) + ends[:, -few:].mean(axis=1)) / 2
    dark = np.where(cells < middle[:, None], 1.0, -1.0)
    drawn = np.where(turned.reshape(-1, cells.shape[1]), 1.0, -1.0)
    wrong = (cells.shape[1] - rows_times(dark, drawn.T)) / 2
    which = wrong.argmin(axis=1)
    read = np.flatnonzero(wrong.min(axis=1) <= int(MISREAD * book.maxCorrectionBits))
    corners = [np.roll(quads[k], which[k] % 4, axis=0) for k in read]
    return numbers[which[read] // 4], np.array(corners).reshape(-1, 4, 2)
