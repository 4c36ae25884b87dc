"""A trailing edge against a printed strip laid or taped straight beside it: bow and waviness."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ribwright.core.metrology.camera import FocalPrior, View
from ribwright.core.metrology.layout import GaugeLayout
from ribwright.core.metrology.rivet_row import STRIP_BOW_MM, rectified
from ribwright.core.metrology.sighting import sight
from ribwright.core.metrology.trace import best_path
from ribwright.core.metrology.typed import PrintScale
from ribwright.errors import UnreadablePhotoError

Floats = NDArray[np.float64]

CELL_MM = 0.1
NEAR = 4  # cells
BASE_U95_MM = 0.08  # what no scatter shows: the edge's own roundness, blur
STRIP_STRAIGHT_U95_MM = 0.1  # of a strip laid along a straight-edge or stretched (practice)


@dataclass(frozen=True, slots=True)
class Straightness:
    """Shape of an edge along a strip.

    Attributes:
        along_mm: shape (n,), along the strip.
        offset_mm: shape (n,), edge from its own best straight line; + away from the strip.
        bow_mm: sagitta of the best parabola over the length seen, + bulging away from the strip.
        waviness_mm: largest minus smallest of what bow leaves over.
        u95_mm: of bow and of waviness.
        seen: share of the length at which the edge was seen.
        edge_mm: shape (n, 2), the edge as traced, in the strip's frame.
        z_mm: the plane in which it lies.
        view: where the camera stood.
    """

    along_mm: Floats
    offset_mm: Floats
    bow_mm: float
    waviness_mm: float
    u95_mm: float
    seen: float
    edge_mm: Floats
    z_mm: float
    view: View


def measure_straightness(
    picture: NDArray[np.uint8],
    *,
    layout: GaugeLayout,
    scale: PrintScale,
    strip_mm: float,
    reach_mm: float,
    above: bool,
    prior: FocalPrior,
) -> Straightness:
    """Follow the nearest edge beside a strip and say how straight it is.

    Args:
        picture: upright, 8 bit.
        layout: of the strip.
        scale: of the print.
        strip_mm: how far the edge lies below the strip's face (its thickness, if it lies on the skin).
        reach_mm: how far from the strip the edge is looked for.
        above: True if the edge lies above the strip in the print's frame.
        prior: focal length known beforehand.

    Raises:
        UnreadablePhotoError: no strip, or no edge along at least 85 % of it.
    """
    import cv2

    grey = picture if picture.ndim == 2 else np.asarray(cv2.cvtColor(picture, cv2.COLOR_BGR2GRAY))
    sighting = sight(grey, layout=layout, scale=scale, prior=prior, bow_sigma_mm=STRIP_BOW_MM)
    size = np.array(layout.size_mm) * np.array([scale.x, scale.y])
    x = np.arange(2.0, size[0] - 2.0, 0.5)
    depth = np.arange(0.6, reach_mm, CELL_MM)
    y = -depth if above else size[1] + depth
    light, inside = rectified(grey, sighting.view, x, y, strip_mm)
    log_light = np.log(np.maximum(light.astype(np.float64), 4e-3))
    log_light = cv2.GaussianBlur(log_light, (0, 0), sigmaX=1.5, sigmaY=1.2)
    change = np.abs(np.gradient(log_light, axis=0)).T  # (along, across)
    unit = max(4.0 * float(np.median(change)), 0.6 * float(np.median(change.max(axis=1))), 0.02)
    path, _ = best_path(np.ascontiguousarray(np.clip(change / unit, 0, 1)))
    rows = np.arange(len(path))
    # evidence is cut off at the top, so that no glint draws the path aside: the edge is where most change is near it
    near = np.clip(path[:, None] + np.arange(-NEAR, NEAR + 1), 1, change.shape[1] - 2)
    k = near[rows, change[rows[:, None], near].argmax(axis=1)]
    a, b, c = change[rows, k - 1], change[rows, k], change[rows, k + 1]
    at = k + np.clip(0.5 * (a - c) / np.minimum(a - 2 * b + c, -1e-9), -1, 1)
    good = (b > 0.7 * unit) & inside.T[rows, k]
    if good.mean() < 0.85:
        raise UnreadablePhotoError(
            "photo",
            because="no edge is seen along the strip",
            found=f"{100 * good.mean():.0f} % of its length",
            allowed="at least 85 %",
            mend="Put a plain background behind the edge and even light on it",
        )
    offset = np.interp(at, np.arange(len(depth)), depth)
    span = (x - x[good].mean()) / max(float(np.ptp(x[good])) / 2, 1e-9)
    line = np.polyval(np.polyfit(span[good], offset[good], 1), span)
    curve = np.polyfit(span[good], offset[good], 2)
    left = offset - np.polyval(curve, span)
    kernel = np.ones(5) / 5
    wave = np.convolve(left[good], kernel, mode="valid")
    scatter = 1.4826 * float(np.median(np.abs(np.diff(left[good])))) / np.sqrt(2)
    u95 = float(np.sqrt((2 * scatter / np.sqrt(5)) ** 2 + BASE_U95_MM**2 + STRIP_STRAIGHT_U95_MM**2))
    across = -offset if above else size[1] + offset
    return Straightness(
        along_mm=x,
        offset_mm=np.where(good, offset - line, np.nan),
        bow_mm=float(-curve[0]),
        waviness_mm=float(np.ptp(wave)),
        u95_mm=u95,
        seen=float(good.mean()),
        edge_mm=np.column_stack([x, np.where(good, across, np.nan)]),
        z_mm=strip_mm,
        view=sighting.view,
    )
