"""The gauge sheet found in a picture: markers at reduced size, then chess corners to sub-pixel.

Marker corners only start the search: they move with blur and ink gain. What is measured with are the
saddles of the chessboard, which do not.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ribwright.core.metrology.camera import FocalPrior, View, solve_view
from ribwright.core.metrology.layout import DICTIONARIES, GaugeLayout
from ribwright.core.metrology.marks import find_marks
from ribwright.core.metrology.saddles import refine_saddles
from ribwright.core.metrology.strange_marks import FEWEST, strange_marks
from ribwright.core.metrology.typed import PrintScale
from ribwright.errors import UnreadablePhotoError

Floats = NDArray[np.float64]
Grey = NDArray[np.uint8]

ENOUGH_MARKERS = 10
LAP = 0.05  # of the picture's longer side: what neighbouring tiles share, more than a marker
FEWEST_MARKERS = 4
FEWEST_CORNERS = 20
SIDE_CORNERS = 16  # on one side of a place, before their share tells anything
ASTRAY, ASTRAY_OF_ALL = 0.25, 0.06  # share of the markers (of the first few, of all) that may be misread
# scatter and share of the corners, beyond which the whole card is looked at
DOUBTFUL_PX, DOUBTFUL_SHARE = 0.15, 0.6


@dataclass(frozen=True, slots=True)
class Sighting:
    """A gauge sheet found and the camera solved.

    Attributes:
        view: the camera.
        corners: how many chess corners carry it.
        spread: share of the sheet's corner area that those corners span, 0 to 1.
        notes: sentences for the builder.
        kept: which of the layout's chess corners they are.
    """

    view: View
    corners: int
    spread: float
    notes: tuple[str, ...]
    kept: NDArray[np.bool_]


def physical(xy_mm: Floats, scale: PrintScale) -> Floats:
    """Printed coordinates in real millimetres."""
    return xy_mm * np.array([scale.x, scale.y])


def sight(
    grey: Grey, *, layout: GaugeLayout, scale: PrintScale, prior: FocalPrior, bow_sigma_mm: float
) -> Sighting:
    """Find the sheet and solve the camera.

    Args:
        grey: shape (h, w), the upright picture.
        layout: what is printed.
        scale: physical over nominal size of the print.
        prior: focal length known beforehand.
        bow_sigma_mm: how far the sheet may bow.

    Raises:
        UnreadablePhotoError: the sheet is not there, is another, is mirrored or too little of it is seen.
    """
    ids, marker_px = find_markers(grey, layout)
    if len(ids) < FEWEST_MARKERS:
        _explain_missing(grey, layout, len(ids))
    marker_mm = _in_place(layout, ids, scale)
    good = _consistent(marker_mm, marker_px)
    if good.sum() < FEWEST_MARKERS:
        raise UnreadablePhotoError(
            "photo",
            found=f"{int(good.sum())} markers that agree",
            allowed=f"at least {FEWEST_MARKERS}",
            mend="Show the whole gauge sheet flat, and only one of them",
        )
    _all_in_place(grey, layout, ids, good)
    size = (grey.shape[1], grey.shape[0])
    bars = (scale.u95_x / 2, scale.u95_y / 2)
    coarse = solve_view(
        xy_mm=marker_mm[good].reshape(-1, 2),
        pixels=marker_px[good].reshape(-1, 2),
        size_px=size,
        prior=prior,
        bow_sigma_mm=min(bow_sigma_mm, 0.5),
        bar_sigma=bars,
        turns=8,
    )
    if (strange := strange_marks(grey, coarse, layout, scale)) >= FEWEST:
        raise another_card(f"{strange} markers that this card has not in these places")
    reach = marker_mm[good].reshape(-1, 2)
    corner_mm = physical(layout.chess_xy_mm, scale)
    view, kept = coarse, np.zeros(len(corner_mm), dtype=bool)
    for grow in (1.6, 3.2, 9.9):  # corners near the markers first, then outward as the model firms up
        lo, hi = reach.min(axis=0), reach.max(axis=0)
        centre, half = (lo + hi) / 2, np.maximum((hi - lo) / 2, layout.square_mm) * grow
        near = (np.abs(corner_mm - centre) <= half).all(axis=1)
        loose = 5.0 if grow < 2 else 3.0
        px, ok = refine_saddles(grey, corner_mm, view, layout.square_mm * scale.x, near, loose)
        if ok.sum() < 6:
            continue
        view = solve_view(
            xy_mm=corner_mm[ok],
            pixels=px[ok],
            size_px=size,
            prior=prior,
            bow_sigma_mm=bow_sigma_mm,
            bar_sigma=bars,
            start=view,
        )
        kept = np.zeros(len(corner_mm), dtype=bool)
        kept[np.flatnonzero(ok)[view.used]] = True
        if near.all():
            break
        reach = corner_mm[kept] if kept.sum() > 3 else reach
    count = int(kept.sum())
    if view.residual_px > DOUBTFUL_PX or count < DOUBTFUL_SHARE * len(corner_mm):
        # numbered otherwise, a card may fit in the middle and nowhere else: look at all of it
        ids, marker_px = find_markers(grey, layout, enough=len(layout.marker_id))
        agree = _consistent(_in_place(layout, ids, scale), marker_px, apart=0.5)
        _all_in_place(grey, layout, ids, agree, ASTRAY_OF_ALL)
    needed = min(FEWEST_CORNERS, max(8, len(corner_mm) // 2))
    spread = _spread(corner_mm[kept], corner_mm)
    if count < needed:
        raise UnreadablePhotoError(
            "photo",
            found=f"{count} chess corners",
            allowed=f"at least {needed}",
            mend="Uncover the gauge sheet, focus on it, come nearer and avoid glare",
        )
    return Sighting(view, count, spread, (), kept)


def _in_place(layout: GaugeLayout, ids: NDArray[np.int64], scale: PrintScale) -> Floats:
    """Corners (n, 4, 2) that the markers ``ids`` have on the sheet, in real millimetres."""
    order = {int(m): i for i, m in enumerate(layout.marker_id)}
    return physical(layout.marker_xy_mm.reshape(-1, 2), scale).reshape(-1, 4, 2)[[order[int(i)] for i in ids]]


def _all_in_place(
    grey: Grey, layout: GaugeLayout, ids: NDArray[np.int64], good: NDArray[np.bool_], most: float = ASTRAY
) -> None:
    """Refuse a card many of whose markers lie elsewhere than the layout says, and two cards at once."""
    astray = int((~good).sum())
    elsewhere = astray >= FEWEST_MARKERS and astray > most * len(good)
    two = len(ids) > len(np.unique(ids)) and len(np.unique(ids[~good])) >= FEWEST_MARKERS
    if elsewhere and not two:  # the first few markers may be of either card: look at all
        every, _ = find_markers(grey, layout, enough=2 * len(layout.marker_id))
        two = len(every) - len(np.unique(every)) >= FEWEST_MARKERS
    if two:
        raise UnreadablePhotoError(
            "photo", because="two gauge sheets are in this photo", mend="Photograph one sheet alone"
        )
    if elsewhere:
        raise another_card(f"{astray} markers that lie elsewhere on this card")


def another_card(found: str) -> UnreadablePhotoError:
    """The refusal of a photo of another part's card."""
    return UnreadablePhotoError(
        "photo",
        because="this card was made for another part than the layout given",
        found=found,
        mend="Give the layout that was stored with this sheet",
    )


def find_markers(
    grey: Grey, layout: GaugeLayout, enough: int = ENOUGH_MARKERS
) -> tuple[NDArray[np.int64], Floats]:
    """The layout's markers in full-size pixel coordinates, ids (n,) and corners (n, 4, 2); stops at enough of them.

    The picture is looked at in overlapping tiles at about a third of its size from the middle outward: a dozen
    markers are enough to predict all else. If that finds too few, the whole picture is searched at half
    size and with more thresholds.
    """
    shrink = float(max(1, round(max(grey.shape) / 1344.0)))
    height, width = (int(side // shrink) for side in grey.shape)
    ids: list[int] = []
    corners: list[Floats] = []
    # small tiles, and no more of them than it takes
    tiles, down = (6, 4) if width >= height else (4, 6)
    boxes = [(i, j) for j in range(down) for i in range(tiles)]
    boxes.sort(key=lambda b: abs(b[0] - (tiles - 1) / 2) + 0.8 * abs(b[1] - (down - 1) / 2))
    lap = int(LAP * max(width, height))
    for i, j in boxes:
        x0, x1 = max(0, width * i // tiles - lap), min(width, width * (i + 1) // tiles + lap)
        y0, y1 = max(0, height * j // down - lap), min(height, height * (j + 1) // down + lap)
        a, b, c, d = (int(v * shrink) for v in (y0, y1, x0, x1))
        tile = _shrunk(grey[a:b, c:d], shrink)
        found = find_marks(tile, layout.dictionary, of=layout.marker_id, quick=True)
        for number, quad in zip(*found, strict=True):
            place = quad + np.array([x0, y0])
            same = [k for k, n in enumerate(ids) if n == int(number) and np.abs(corners[k] - place).max() < 4]
            if not same:
                ids.append(int(number))
                corners.append(place)
        if len(set(ids)) >= enough and _wide(ids, corners, layout):
            break
    if len(set(ids)) < max(FEWEST_MARKERS + 2, 6):
        shrink = max(1.0, max(grey.shape) / 2016.0)
        small = _shrunk(grey, shrink)
        number, quads = find_marks(small, layout.dictionary, of=layout.marker_id, quick=False)
        ids, corners = number.tolist(), list(quads)
    full = np.array(corners).reshape(-1, 4, 2) * shrink + (shrink - 1) / 2
    return np.asarray(ids, dtype=np.int64), full


def _wide(ids: list[int], corners: list[Floats], layout: GaugeLayout) -> bool:
    """True if the markers found span enough in both directions to predict the rest."""
    where = np.isin(layout.marker_id, np.array(ids))
    xy = layout.marker_xy_mm[where].reshape(-1, 2)
    span = np.ptp(xy, axis=0)
    return bool(span[0] >= 4 * layout.square_mm and span[1] >= 2.5 * layout.square_mm)


def _shrunk(grey: Grey, shrink: float) -> Grey:
    import cv2

    if shrink <= 1.0:
        return grey
    size = (round(grey.shape[1] / shrink), round(grey.shape[0] / shrink))
    return np.asarray(cv2.resize(grey, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)


def _consistent(marker_mm: Floats, marker_px: Floats, apart: float | None = None) -> NDArray[np.bool_]:
    """Markers that one plane explains, allowing for the lens, or for ``apart`` of a square (a marker is 3/4 of it)."""
    import cv2

    matrix, _ = cv2.findHomography(
        marker_mm.reshape(-1, 2), marker_px.reshape(-1, 2), cv2.RANSAC, 12.0, maxIters=500
    )
    if matrix is None:
        return np.zeros(len(marker_mm), dtype=bool)
    flat = np.column_stack([marker_mm.reshape(-1, 2), np.ones(4 * len(marker_mm))]) @ matrix.T
    miss = np.hypot(*(flat[:, :2] / flat[:, 2:] - marker_px.reshape(-1, 2)).T).reshape(-1, 4)
    square_px = float(np.median(np.hypot(*(marker_px[:, 1] - marker_px[:, 0]).T))) / 0.75
    return np.asarray(miss.max(axis=1) < (20.0 if apart is None else apart * square_px), dtype=bool)


def _spread(kept_mm: Floats, all_mm: Floats) -> float:
    """Product of the spans of the corners kept over that of all corners."""
    if len(kept_mm) < 2:
        return 0.0
    whole = np.maximum(np.ptp(all_mm, axis=0), 1e-9)
    return float(np.prod(np.ptp(kept_mm, axis=0) / whole)) if whole.min() > 1e-6 else 1.0


def flat_round(kept: NDArray[np.bool_], corner_mm: Floats, about_mm: Floats) -> float:
    """Share of the sheet's corners that carry the camera, on the side of a place where they are fewest.

    Where the camera is solved from one side alone (the other covered, folded away, out of the picture), what lies
    between is carried on, not measured.
    """
    shares = []
    for axis in (0, 1):
        for sign in (-1, 1):
            there = sign * (corner_mm[:, axis] - about_mm[axis]) > 0
            if there.sum() >= SIDE_CORNERS:
                shares.append(float(kept[there].mean()))
    return min(shares, default=1.0)


def _explain_missing(grey: Grey, layout: GaugeLayout, known: int) -> None:
    """Say why there are no markers: mirrored, another sheet, or none at all. Always raises."""
    shrink = max(1.0, max(grey.shape) / 1344.0)
    small = _shrunk(grey, shrink)
    own = set(layout.marker_id.tolist())
    mirrored = np.ascontiguousarray(small[:, ::-1])
    ids, _ = find_marks(mirrored, layout.dictionary, quick=True)
    if len(own & set(ids.tolist())) >= FEWEST_MARKERS:
        raise UnreadablePhotoError(
            "photo",
            because="this photo is mirrored",
            mend="Switch off mirroring of the front camera, or use the main camera",
        )
    half = _shrunk(grey, max(1.0, max(grey.shape) / 2016.0))
    ids, _ = find_marks(half, layout.dictionary, quick=False)
    strangers = len(set(ids.tolist()) - own)
    if strangers >= FEWEST_MARKERS:
        raise UnreadablePhotoError(
            "photo",
            because="this is another gauge sheet than the layout given",
            found=f"{strangers} markers of another sheet, {known} of this one",
            mend="Give the layout that was stored with this sheet",
        )
    for other in DICTIONARIES:
        if other == layout.dictionary:
            continue
        ids, _ = find_marks(small, other, quick=True)
        if len(ids) >= 2 * FEWEST_MARKERS:
            raise UnreadablePhotoError(
                "photo",
                because="this is another gauge sheet than the layout given",
                found=f"{len(ids)} markers of the kind {other}",
                allowed=layout.dictionary,
                mend="Give the layout that was stored with this sheet",
            )
    raise UnreadablePhotoError(
        "photo",
        because="no gauge sheet was found in this photo",
        found=f"{known} of its markers",
        allowed=f"at least {FEWEST_MARKERS}",
        mend="Show the whole sheet, sharp and evenly lit, filling two thirds of the picture",
    )
