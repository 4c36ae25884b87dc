"""A drawn line in a scan, or in a photo from straight above, becomes an outline; its scale is one typed length.

Without a gauge sheet nothing in the picture has a known size and nothing says how the phone was held. A length
of the line itself, measured on the paper, gives the scale. A flat-bed scanner looks straight down everywhere; a
phone leans, which the stated uncertainty has to carry.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ribwright.core.metrology.layout import number
from ribwright.core.metrology.profile import smooth_along
from ribwright.errors import UnreadablePhotoError

Floats = NDArray[np.float64]
Grey = NDArray[np.uint8]

COARSE_PX = 1600  # the line is found at this size and refined at full size
OTHER_INK = 0.15  # of the line's ink may lie beside it: ticks, a station number that touches it
ANOTHER = 0.6  # of the longest line's extent: another one as long makes it doubtful which is meant
PAPER_U95_MM = 0.1  # of a drawn line on paper
RULE_U95_MM = 0.3  # a length read with a rule
LEAN_DEG = 5.0  # of a phone held by hand, 95 % (practice)
SCANNER_U95 = 0.003  # a scanner's two directions against each other (practice)


@dataclass(frozen=True, slots=True)
class ScannedLine:
    """An outline taken from a line in a picture without a gauge sheet.

    Attributes:
        outline_mm: shape (n, 2), middle of the line, in order, smoothed; y down as in the picture.
        u95_mm: shape (n,), how well each place is known.
        residual_mm: root mean square of the line about its smoothed form, for the builder to see.
        px_per_mm: of the picture.
    """

    outline_mm: Floats
    u95_mm: Floats
    residual_mm: float
    px_per_mm: float


def line_of_scan(grey: Grey, *, length_mm: float, scanned: bool, focal_px: float) -> ScannedLine:
    """Follow the one long dark line on white paper.

    Args:
        grey: upright, 8 bit.
        length_mm: the greatest distance between two places of the line, measured on the paper.
        scanned: True for a flat-bed scan; else a photo from straight above, which is less certain.
        focal_px: of the camera, for a photo.

    Raises:
        UnreadablePhotoError: no long line, more than one, or one that runs out of the picture.
        InputError: the length is not one.
    """
    import cv2

    length = number(length_mm, "Greatest length of the line, in mm", low=20.0, high=2000.0)
    shrink = max(1.0, max(grey.shape) / COARSE_PX)
    size = (round(grey.shape[1] / shrink), round(grey.shape[0] / shrink))
    small = np.asarray(cv2.resize(grey, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)
    dark = _dark(small)
    mask = _long_line(dark)
    thick = 2.0 * float(np.percentile(cv2.distanceTransform(mask, cv2.DIST_L2, 5)[mask > 0], 90))
    middle_px = _along(mask)
    _check_alone(mask, middle_px, thick)
    rough, width = (middle_px + 0.5) * shrink - 0.5, thick * shrink
    fine, seen = _refined(grey, rough, width)
    per_mm = _largest_px(fine) / length
    line = fine / per_mm
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
    weight = seen.astype(np.float64) + 1e-6
    smooth = np.column_stack([smooth_along(along, line[:, i], weight, along)[0] for i in (0, 1)])
    residual = float(np.sqrt(((smooth - line)[seen] ** 2).sum(axis=1).mean()))
    about = line.mean(axis=0)
    if scanned:
        shape = SCANNER_U95 * np.hypot(*(smooth - about).T)
    else:  # the farther from the picture's middle, the more a lean shows
        middle = np.array([grey.shape[1] - 1, grey.shape[0] - 1]) / 2 / per_mm
        shape = np.sin(np.radians(LEAN_DEG)) * ((smooth - middle) ** 2).sum(axis=1) / (focal_px / per_mm)
    scale = RULE_U95_MM / length * np.hypot(*(smooth - about).T)
    u95 = np.sqrt(PAPER_U95_MM**2 + (2 * residual) ** 2 + scale**2 + shape**2)
    return ScannedLine(smooth, np.where(seen, u95, np.nan), residual, per_mm)


def _dark(small: Grey) -> Grey:
    """Ink on paper, whatever the light: darker than nine tenths of the paper round it."""
    import cv2

    paper = cv2.GaussianBlur(
        cv2.morphologyEx(small, cv2.MORPH_CLOSE, np.ones((41, 41), np.uint8)), (0, 0), 15.0
    )
    share = small.astype(np.float32) / np.maximum(paper, 1).astype(np.float32)
    ink = ((share < 0.72) & (paper > 60)).astype(np.uint8)
    return np.asarray(cv2.morphologyEx(ink, cv2.MORPH_CLOSE, np.ones((3, 3), np.uint8)), dtype=np.uint8)


def _long_line(dark: Grey) -> Grey:
    import cv2

    count, label, box, _ = cv2.connectedComponentsWithStats(dark, connectivity=8)
    extent = np.hypot(box[1:, 2], box[1:, 3]) if count > 1 else np.zeros(0)
    if not len(extent) or extent.max() < 0.15 * max(dark.shape):
        raise UnreadablePhotoError(
            "photo",
            because="no long line is seen in this picture",
            mend="Draw it dark on white paper, and let it fill most of the picture",
        )
    order = np.argsort(extent)[::-1]
    found = order[0] + 1
    x, y, w, h, ink = (int(v) for v in box[found])
    if x <= 1 or y <= 1 or x + w >= dark.shape[1] - 1 or y + h >= dark.shape[0] - 1:
        raise UnreadablePhotoError(
            "photo",
            because="the line runs out of the picture",
            mend="Show all of it with some paper round it; crop the paper's edges and what lies beside it",
        )
    if len(order) > 1 and extent[order[1]] > ANOTHER * extent[order[0]]:
        raise UnreadablePhotoError(
            "photo",
            because="more than one long line is seen, or the line has a gap",
            mend="Close gaps with a pencil, cover or crop frames and other lines",
        )
    if ink > 0.2 * w * h and ink > 0.03 * dark.size:
        raise UnreadablePhotoError(
            "photo",
            because="a dark area is seen where a line should be",
            mend="Draw the line on white paper; a cut template is traced round with a pencil",
        )
    return np.asarray(label == found, dtype=np.uint8)


def _along(mask: Grey) -> Floats:
    """Middle of the line in order, (n, 2) as x, y: places as far from one end, going along the ink, are one."""
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import dijkstra

    row, col = np.nonzero(mask)
    number_of = np.full((mask.shape[0] + 2, mask.shape[1] + 2), -1, dtype=np.int64)
    number_of[row + 1, col + 1] = np.arange(len(row))
    pairs, costs = [], []
    for dy, dx, cost in ((0, 1, 1.0), (1, 0, 1.0), (1, 1, 1.4142), (1, -1, 1.4142)):
        other = number_of[row + 1 + dy, col + 1 + dx]
        there = other >= 0
        pairs.append(np.stack([np.flatnonzero(there), other[there]]))
        costs.append(np.full(int(there.sum()), cost))
    (a, b), lengths = np.concatenate(pairs, axis=1), np.concatenate(costs)
    graph = coo_matrix((lengths, (a, b)), shape=(len(row), len(row))).tocsr()
    first = int(dijkstra(graph, directed=False, indices=0).argmax())
    run, before = dijkstra(graph, directed=False, indices=first, return_predecessors=True)
    last = int(run.argmax())
    path = [last]
    while path[-1] != first:
        path.append(int(before[path[-1]]))
    chain = np.array(path)
    xy = np.column_stack([col[chain], row[chain]]).astype(np.float64)
    half = 4  # a path along pixels has corners: the mean of its neighbours has not
    padded = np.pad(xy, ((half, half), (0, 0)), mode="reflect", reflect_type="odd")
    return np.stack([np.convolve(padded[:, i], np.ones(9) / 9, mode="valid") for i in (0, 1)], axis=1)


def _check_alone(mask: Grey, middle_px: Floats, thick_px: float) -> None:
    import cv2

    followed = np.zeros(mask.shape, np.uint8)
    points = np.round(middle_px).astype(np.int32).reshape(-1, 1, 2)
    cv2.polylines(followed, [points], False, 1, round(3 * thick_px) + 2)
    if (mask & ~followed & 1).sum() > OTHER_INK * mask.sum():
        raise UnreadablePhotoError(
            "photo",
            because="the line is closed, or another line joins it, and a profile is one open line",
            mend="Leave the aft end open: erase what joins the two sides",
        )


def _refined(grey: Grey, rough: Floats, width_px: float) -> tuple[Floats, NDArray[np.bool_]]:
    """The ink's middle across the line, at full size; False where another line meets it or ink is thin."""
    import cv2

    reach = 1.5 * width_px + 3
    line = rough
    for _ in range(2):
        run = np.gradient(line, axis=0)
        normal = np.column_stack([-run[:, 1], run[:, 0]]) / np.maximum(np.hypot(*run.T), 1e-9)[:, None]
        at = np.arange(-reach, reach + 0.25, 0.5)
        place = line[:, None, :] + at[None, :, None] * normal[:, None, :]
        light = cv2.remap(
            grey, place[..., 0].astype(np.float32), place[..., 1].astype(np.float32), cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        ).astype(np.float64)  # fmt: skip
        paper = np.percentile(light, 90, axis=1, keepdims=True)
        ink = np.clip(paper - light - 0.25 * (paper - light.min(axis=1, keepdims=True)), 0, None)
        total = ink.sum(axis=1)
        move = (ink * at).sum(axis=1) / np.maximum(total, 1e-9)
        spread = np.sqrt((ink * (at - move[:, None]) ** 2).sum(axis=1) / np.maximum(total, 1e-9))
        good = (paper[:, 0] - light.min(axis=1) > 25) & (spread < 0.45 * width_px + 1.5)
        move = np.where(
            good, move, np.interp(np.arange(len(move)), np.flatnonzero(good), move[good]) if good.any() else 0
        )
        line = line + move[:, None] * normal
    if good.mean() < 0.9:
        raise UnreadablePhotoError(
            "photo",
            because="the line can't be followed all along",
            found=f"{100 * good.mean():.0f} %",
            allowed="at least 90 %",
            mend="Draw it as one dark even line, with no other line across it",
        )
    return line, good


def _largest_px(line: Floats) -> float:
    """Greatest distance between two places of the line."""
    import cv2

    hull = cv2.convexHull(line.astype(np.float32)).reshape(-1, 2).astype(np.float64)
    return float(np.hypot(*np.moveaxis(hull[:, None] - hull[None], 2, 0)).max())
