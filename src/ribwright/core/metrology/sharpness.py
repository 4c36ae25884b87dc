"""How blurred a picture is, from the printed edges between the squares of its gauge sheet."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ribwright.core.metrology.camera import View
from ribwright.core.metrology.layout import GaugeLayout
from ribwright.core.metrology.typed import PrintScale

Floats = NDArray[np.float64]

REACH_SHARE = 0.115  # of a square's side: what lies clean beside an edge, before a marker's rim begins
ALONG_SHARE = 0.25  # of a square's side: the stretch of an edge averaged, half of it each way
MOST_EDGES = 40  # of each direction: more tell nothing new
SAMPLES, STRETCH = 33, 5
UNTOLD_PX = 99.0
NEAR_ENOUGH = 1.2  # times as far as asked: a photo of full size would do from there
LEAST_STEP = 0.08  # of full white, in linear light, between the two squares
FULL_WHITE, ENOUGH = 0.90, 8  # an edge to full white is cut off and looks sharper than it is


def too_coarse(px_per_mm: float, away_mm: float, stand_cm: tuple[int, int]) -> str:
    """What to change about a photo with too few pixels a millimetre, taken from ``away_mm``.

    Taken from where it should be, it was made smaller on its way.
    """
    near, far = stand_cm
    if away_mm < NEAR_ENOUGH * 10 * far:
        return (
            f"This photo has only {px_per_mm:.1f} pixels a millimetre though it was taken from {away_mm / 10:.0f} cm: it was made "
            "smaller on its way, or the phone is set to small photos. Send it as it was taken, uncropped, at full size."
        )
    return f"Too far away ({px_per_mm:.1f} pixels a millimetre): come to {near}-{far} cm."


def blur_px(
    grey: NDArray[np.uint8],
    view: View,
    layout: GaugeLayout,
    scale: PrintScale,
    about_mm: Floats | None = None,
) -> float:
    """One sigma of the picture's blur across printed edges, the worse of the two directions, in pixels.

    A printed edge is a step; what the picture makes of it is the step run through lens, focus, shake and
    sensor. The second moment of its slope is the blur's variance, whatever the blur's shape.

    Args:
        grey: the picture.
        view: the camera solved on it.
        layout: of the sheet.
        scale: physical over nominal size of the print.
        about_mm: place (x, y) near which it is to be told; the middle of the sheet if left out.

    Returns:
        ``UNTOLD_PX`` if no printed edge is seen.
    """
    return max(_both_ways(grey, view, layout, scale, about_mm), default=UNTOLD_PX)


def worst_blur_px(
    grey: NDArray[np.uint8],
    view: View,
    layout: GaugeLayout,
    scale: PrintScale,
    about_mm: Floats | None = None,
) -> float:
    """One sigma of the picture's blur in the direction in which it is worst, in pixels.

    The printed edges run two ways and tell the blur across each; what moved aslant is blurred by up to 1.4 times as
    much. That shows where four squares meet: in the middle between black and white if the two blurs have nothing to
    do with each other, else lighter or darker by the share 2/pi asin(correlation), as the sign of one Gaussian number
    goes with that of another.

    Args and returns: as ``blur_px``.
    """
    found = _both_ways(grey, view, layout, scale, about_mm)
    if len(found) < 2:
        return max(found, default=UNTOLD_PX)
    one, other = (s**2 for s in found)
    together = _correlation(grey, view, layout, scale, about_mm) * found[0] * found[1]
    return float(np.sqrt((one + other) / 2 + np.hypot((one - other) / 2, together)))


def _correlation(
    grey: NDArray[np.uint8], view: View, layout: GaugeLayout, scale: PrintScale, about_mm: Floats | None
) -> float:
    """Of the blurs along the two directions of the squares, -1 to 1; 0 where it can't be told."""
    import cv2

    size, corner = np.array([scale.x, scale.y]), layout.chess_xy_mm
    middle = corner.mean(axis=0) if about_mm is None else np.asarray(about_mm) / size
    at = corner[np.argsort(np.hypot(*(corner - middle).T), kind="stable")[:MOST_EDGES]]
    around = REACH_SHARE * layout.square_mm * np.array([(0, 0), (1, 1), (-1, -1), (1, -1), (-1, 1)])
    world = view.stretched_mm((at[:, None, :] + around).reshape(-1, 2) * size)
    px = view.pixels(np.column_stack([world, view.surface_mm(world)]))
    inside = ((px > 2) & (px < np.array(grey.shape[::-1]) - 3)).all(axis=1).reshape(-1, 5).all(axis=1)
    seen = cv2.remap(grey, *(px[:, i].astype(np.float32).reshape(-1, 5) for i in (0, 1)), cv2.INTER_LINEAR)
    light = (seen.astype(np.float64) / 255.0) ** 2.2
    half = (light[:, 1:3].sum(axis=1) - light[:, 3:].sum(axis=1)) / 4
    told = inside & (np.abs(half) > LEAST_STEP / 2)
    share = (light[:, 0] - light[:, 1:].mean(axis=1)) / np.where(told, half, 1.0)
    # ink that spreads darkens every corner: it goes with the sign of half, and out of the mean of both
    kinds = [share[told & (half > 0)], share[told & (half < 0)]]
    if min(len(kind) for kind in kinds) < ENOUGH:
        return 0.0
    value = float(np.mean([np.median(kind) for kind in kinds]))
    return float(np.sin(np.pi / 2 * np.clip(value, -1, 1)))


def _both_ways(
    grey: NDArray[np.uint8], view: View, layout: GaugeLayout, scale: PrintScale, about_mm: Floats | None
) -> list[float]:
    """One sigma of the blur across the edges of each direction of which any are seen, pixels."""
    import cv2

    size = np.array([scale.x, scale.y])
    corner, square = layout.chess_xy_mm, layout.square_mm
    middle = corner.mean(axis=0) if about_mm is None else np.asarray(about_mm) / size
    sigma = []
    for axis in (0, 1):
        ahead, aside = np.zeros(2), np.zeros(2)
        ahead[axis] = aside[1 - axis] = square
        # an edge runs between two corners one square apart
        gap = sum(np.abs((corner[:, i] + ahead[i])[:, None] - corner[:, i]) for i in (0, 1))
        at = corner[gap.min(axis=1) < 0.05 * square] + ahead / 2
        if not len(at):
            continue
        at = at[np.argsort(np.hypot(*(at - middle).T), kind="stable")[:MOST_EDGES]]
        # so near an edge the picture is the plane's, evenly stretched
        three = np.concatenate([at, at + ALONG_SHARE / 2 * ahead, at + REACH_SHARE * aside])
        world = view.stretched_mm(three * size)
        px = view.pixels(np.column_stack([world, view.surface_mm(world)])).reshape(3, -1, 2)
        along, across = px[1] - px[0], px[2] - px[0]
        place = (
            px[0][:, None, None, :]
            + along[:, None, None, :] * np.linspace(-1, 1, STRETCH)[:, None, None]
            + across[:, None, None, :] * np.linspace(-1, 1, SAMPLES)[:, None]
        )
        inside = ((place > 2) & (place < np.array(grey.shape[::-1]) - 3)).all(axis=(1, 2, 3))
        if not inside.any():
            continue
        u, v = (place[inside][..., i].astype(np.float32).reshape(-1, SAMPLES) for i in (0, 1))
        light = (cv2.remap(grey, u, v, cv2.INTER_LINEAR).astype(np.float64) / 255.0) ** 2.2
        # across an edge that runs slantwise in the picture only what is square to it counts
        run = along[inside] / np.hypot(*along[inside].T)[:, None]
        step = np.abs(across[inside, 0] * run[:, 1] - across[inside, 1] * run[:, 0]) * 2 / (SAMPLES - 1)
        rise = light.reshape(-1, STRETCH, SAMPLES).mean(axis=1)
        found = _sigma_samples(rise) * step
        told = np.isfinite(found)
        if (told & (rise.max(axis=1) < FULL_WHITE)).sum() >= ENOUGH:
            told &= rise.max(axis=1) < FULL_WHITE
        found = found[told]
        if len(found):
            sigma.append(float(np.median(found)))
    return sigma


def _sigma_samples(rise: Floats) -> Floats:
    """One sigma of each row's blurred step, in samples; NaN where there is no clear step."""
    rise = np.where((rise[:, -1] > rise[:, 0])[:, None], rise, rise[:, ::-1])
    low, high = rise[:, :3].mean(axis=1), rise[:, -3:].mean(axis=1)
    slope = np.maximum(np.diff(rise, axis=1), 0.0)
    slope = np.where(slope > 0.04 * slope.max(axis=1, keepdims=True), slope, 0.0)  # paper and grain
    x = np.arange(slope.shape[1], dtype=np.float64)
    total = np.maximum(slope.sum(axis=1), 1e-12)
    mean = (slope * x).sum(axis=1) / total
    spread = (slope * (x - mean[:, None]) ** 2).sum(axis=1) / total
    return np.where(high - low > LEAST_STEP, np.sqrt(spread), np.nan)
