"""A thing of known size on the gauge sheet, measured: the error of this phone and this printer.

A drill shank (a cylinder: its outline lies at half its height) or a feeler stack on edge (its outline is its upper
face) is a band with two straight parallel edges. It lies on the paper beside the strip, or on the uncut card.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ribwright.core.metrology.camera import FocalPrior
from ribwright.core.metrology.layout import GaugeLayout
from ribwright.core.metrology.rivet_row import rectified
from ribwright.core.metrology.sighting import sight
from ribwright.core.metrology.typed import KnownSizeInput
from ribwright.errors import UnreadablePhotoError

Floats = NDArray[np.float64]

CELL_MM = 0.1
REACH_MM = 40.0  # from the strip
ANGLES_DEG = np.arange(-90.0, 90.0, 1.5)
WIDER, NARROWER = 1.2, 0.8  # of the size typed: further off it is another thing
LEAST_MM = 12.0  # of the band must be seen
UNLIKE = 1.35  # times brighter on one side of it than on the other
BASE_U95_MM, PART_U95 = (
    0.06,
    0.003,
)  # what no scatter shows: gloss at the edge; camera height over a thing that stands up
CARD_BOW_MM, STRIP_BOW_MM = 1.5, 0.1


@dataclass(frozen=True, slots=True)
class KnownSize:
    """A thing of known size as the photo gives it.

    Attributes:
        measured_mm: its width.
        error_mm: measured less typed.
        u95_mm: of the measuring; an error within it says that nothing is wrong.
        along_mm: length over which both edges were seen.
    """

    measured_mm: float
    error_mm: float
    u95_mm: float
    along_mm: float


def measure_known_size(
    picture: NDArray[np.uint8], *, layout: GaugeLayout, typed: KnownSizeInput, prior: FocalPrior
) -> KnownSize:
    """Measure the band nearest in width to what was typed.

    Args:
        picture: upright, 8 bit.
        layout: of the card or strip.
        typed: bars, size, height of the thing's outline over the paper.
        prior: focal length known beforehand.

    Raises:
        UnreadablePhotoError: no sheet, or no band of about that width on its free paper.
    """
    import cv2

    grey = picture if picture.ndim == 2 else np.asarray(cv2.cvtColor(picture, cv2.COLOR_BGR2GRAY))
    strip = layout.target is None
    sighting = sight(
        grey,
        layout=layout,
        scale=typed.scale,
        prior=prior,
        bow_sigma_mm=STRIP_BOW_MM if strip else CARD_BOW_MM,
    )
    z = typed.below_mm - typed.outline_height_mm
    x, y, free = _free_paper(layout, np.array([typed.scale.x, typed.scale.y]), typed)
    light, seen = rectified(grey, sighting.view, x, y, z)
    level = cv2.GaussianBlur(light, (0, 0), 1.0)
    normal, offset = _band(level, seen & free, typed.size_mm / CELL_MM)
    width, u95, along = _across(level, seen & free, normal, offset, typed.size_mm / CELL_MM)
    middle = np.array([x.mean(), y.mean()])
    lean = (middle - sighting.view.station_mm()[:2]) / abs(float(sighting.view.station_mm()[2] - z))
    if typed.round_:  # seen slantwise a cylinder covers more of the plane through its axis
        width /= float(np.hypot(1.0, lean @ normal))
    measured = width * CELL_MM
    return KnownSize(
        measured,
        measured - typed.size_mm,
        float(np.linalg.norm([u95 * CELL_MM, BASE_U95_MM, PART_U95 * typed.size_mm])),
        along * CELL_MM,
    )


def _free_paper(
    layout: GaugeLayout, scale: Floats, typed: KnownSizeInput
) -> tuple[Floats, Floats, NDArray[np.bool_]]:
    """A grid over where the thing may lie: beside the strip, or inside the card's cut line."""
    import cv2

    size = np.array(layout.size_mm) * scale
    if layout.target is None:
        x = np.arange(2.0, size[0] - 2.0, CELL_MM)
        depth = np.arange(0.8, REACH_MM, CELL_MM)
        y = -depth[::-1] if typed.above else size[1] + depth
        return x, y, np.ones((len(y), len(x)), dtype=bool)
    blank = layout.blank_mm * scale
    x = np.arange(blank[:, 0].min(), blank[:, 0].max(), CELL_MM)
    y = np.arange(blank[:, 1].min(), blank[:, 1].max(), CELL_MM)
    corners = np.round((blank - [x[0], y[0]]) / CELL_MM).astype(np.int32)
    inside = cv2.fillPoly(np.zeros((len(y), len(x)), np.uint8), [corners], 1)
    margin = np.ones((9, 9), np.uint8)
    return x, y, cv2.erode(inside, margin).astype(bool)


def _band(level: Floats, free: NDArray[np.bool_], width: float) -> tuple[Floats, float]:
    """Unit normal and offset (cells) of the middle of the band whose two edges together are strongest."""
    gy, gx = np.gradient(level, axis=0), np.gradient(level, axis=1)
    size = np.hypot(gx, gy) * free
    floor = max(float(np.quantile(size[free], 0.9)), 1e-6) if free.any() else 1.0
    rows, columns = np.nonzero(size > floor)
    g = np.column_stack([gx[rows, columns], gy[rows, columns]])
    g /= np.maximum(np.hypot(*g.T), floor * 2)[:, None]
    best: tuple[float, Floats, float] = (0.0, np.array([1.0, 0.0]), 0.0)
    for angle in np.radians(ANGLES_DEG):
        n = np.array([np.cos(angle), np.sin(angle)])
        toward = g @ n
        clear = np.abs(toward) > 0.3
        at = columns[clear] * n[0] + rows[clear] * n[1]
        first = at.min() if clear.any() else 0.0
        counted = np.bincount(np.round(at - first).astype(np.int64), toward[clear] ** 3)
        bins = np.convolve(counted, np.ones(3), mode="same")
        for w in np.arange(max(2, round(NARROWER * width)), round(WIDER * width) + 1):
            if len(bins) <= w:
                break
            one, other = bins[:-w], bins[w:]
            pair = np.where(one * other < 0, np.minimum(np.abs(one), np.abs(other)), 0.0)
            k = int(pair.argmax())
            if pair[k] > best[0]:
                best = (float(pair[k]), n, first + k + w / 2)
    if best[0] < 0.3 * LEAST_MM / CELL_MM:
        raise _none(best[0] / (LEAST_MM / CELL_MM))
    return best[1], best[2]


def _across(
    level: Floats, free: NDArray[np.bool_], normal: Floats, offset: float, width: float
) -> tuple[float, float, float]:
    """Width, its u95 and the length seen, in cells: both edges sub-cell on lines across the band."""
    import cv2

    run = np.array([-normal[1], normal[0]])
    height, wide = level.shape
    along = np.arange(-np.hypot(height, wide), np.hypot(height, wide), 2.0)
    start = normal * offset
    reach = np.arange(-0.9 * width, 0.9 * width + 0.01, 0.25)
    # the band's axis may stand a little off the best of the angles tried: lines of both edges are fitted apart
    places = start + along[:, None, None] * run + reach[None, :, None] * normal
    px, py = places[..., 0].astype(np.float32), places[..., 1].astype(np.float32)
    ok = (px > 1) & (px < wide - 2) & (py > 1) & (py < height - 2)
    inside = (
        cv2.remap(free.astype(np.float32), px, py, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT) > 0.5
    )
    profile = cv2.remap(level.astype(np.float32), px, py, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    slope = np.gradient(cv2.GaussianBlur(profile, (0, 0), sigmaX=1.6, sigmaY=0.01), axis=1)
    whole = (ok & inside).all(axis=1)
    if whole.sum() * 2.0 < LEAST_MM / CELL_MM:
        raise _none(whole.sum() * 2.0 / (LEAST_MM / CELL_MM))
    along, slope = along[whole], slope[whole]
    rows = np.arange(len(along))
    ends, clear = [], np.ones(len(along), dtype=bool)
    senses = []
    for side in (reach < 0, reach > 0):
        part = slope[:, side]
        largest = part[rows, np.abs(part).argmax(axis=1)]
        strong = np.abs(largest) > 0.4 * np.quantile(np.abs(largest), 0.9)
        senses.append(float(np.sign(np.median(largest[strong]))))
        part = np.maximum(senses[-1] * part, 0.0)
        k = np.clip(part.argmax(axis=1), 1, part.shape[1] - 2)
        a, b, c = part[rows, k - 1], part[rows, k], part[rows, k + 1]
        ends.append(reach[side][k] + 0.25 * np.clip(0.5 * (a - c) / np.minimum(a - 2 * b + c, -1e-9), -1, 1))
        clear &= b > 0.4 * np.quantile(b[strong], 0.9)
    outside = [
        float(np.median(profile[whole][:, end])) for end in (reach < -0.75 * width, reach > 0.75 * width)
    ]
    if senses[0] == senses[1] or max(outside) > UNLIKE * max(min(outside), 1e-3):
        raise _none(0.0)  # a step, or a band between two different grounds: no thing on paper
    if clear.sum() * 2.0 < LEAST_MM / CELL_MM:
        raise _none(clear.sum() * 2.0 / (LEAST_MM / CELL_MM))
    lines, scatter = [], []
    for end in ends:
        weight = clear.astype(np.float64)
        fit = np.zeros(2)
        for _ in range(8):
            fit = np.polyfit(along, end, 1, w=np.sqrt(weight))
            miss = end - np.polyval(fit, along)
            spread = max(1.4826 * float(np.median(np.abs(miss[clear]))), 0.02)
            weight = clear * np.clip(1 - (miss / (4.5 * spread)) ** 2, 0, 1) ** 2 + 1e-9
        lines.append(fit)
        scatter.append(spread / np.sqrt(max(weight.sum() / 6, 1.0)))
    tilt = float(np.mean([fit[0] for fit in lines]))
    middle = float(along[clear].mean())
    width_found = float(np.polyval(lines[1], middle) - np.polyval(lines[0], middle)) / float(
        np.hypot(1.0, tilt)
    )
    # two edges that are not parallel are no shank: what they differ by over the length is doubt
    wedge = abs(float(lines[1][0] - lines[0][0])) * float(np.ptp(along[clear])) / 4
    if not NARROWER * width <= width_found <= WIDER * width:
        raise _none(0.0)
    return width_found, float(2 * np.hypot(*scatter) + wedge), float(clear.sum() * 2.0)


def _none(share: float) -> UnreadablePhotoError:
    return UnreadablePhotoError(
        "photo",
        because="nothing with two straight edges of about the size typed is seen on the paper",
        found=f"{100 * min(share, 1.0):.0f} % of the {LEAST_MM:g} mm needed",
        mend="Lay the shank flat on plain white paper, by itself, in soft light, 10 mm from the strip or inside the line of an "
        "uncut card; check the size typed",
    )
