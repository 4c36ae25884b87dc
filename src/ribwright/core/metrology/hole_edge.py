"""Where the metal ends in the picture of a hole's rim: one profile of a whole row, taken apart.

The edge of a hole is broken: a narrow ring, brighter or darker than the sheet, lies round it, and blur runs hole,
ring and sheet together. What one ray shows can't be taken apart; all rays of all holes laid over each other can.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

REACH_MM, PROFILE_MM = 0.55, 0.02  # of the profile, each way from the followed rim
SHIFTS_MM = np.arange(-0.30, 0.3001, 0.01)
RINGS_MM = (0.0, 0.05, 0.08, 0.11, 0.14, 0.18, 0.23)
BLURS = (0.8, 0.95, 1.1)  # of the blur of the strip's printed edges
# what phones do: so much of the picture less its wider blur is added
SHARPENED, WIDER = (0.0, 0.25, 0.5), 2.2
RING_TONE = 0.35  # one sigma of a broken edge's light, of the sheet's
LEFT_OVER, LEAST_CONTRAST = 0.008, 0.15  # what the model leaves over at least, of the step
TOGETHER = 3.0  # neighbouring places of the profile that share what disturbs them
BARE_ODDS = 10.0  # for no ring, where the profile can't tell: blur is never quite the model's
# shares of the parts (hole, from the ring on, from the sheet on, falling) by the light of hole, ring and sheet, and its fall
BY_LIGHT = np.array([[1.0, 0, 0, 0], [-1, 1, 0, 0], [0, -1, 1, 0], [0, 0, 0, 1]])
LEAST_SIGMA_MM = 0.02  # no ring is even, nor blur the same everywhere


def profile_places() -> Floats:
    """Distances from the followed rim, + outwards, mm."""
    half = round(REACH_MM / PROFILE_MM)
    return np.asarray(np.arange(-half, half + 1) * PROFILE_MM, dtype=np.float64)


def at_rims(level: Floats, radius_mm: Floats, rims: Floats) -> Floats:
    """Light along each ray from the rim inwards and outwards.

    Args:
        level: (holes, rays, samples) at evenly spaced ``radius_mm``.
        radius_mm: (samples,).
        rims: radius of the rim along each ray, (holes, rays).
    """
    step = radius_mm[1] - radius_mm[0]
    at = (rims[..., None] + profile_places() - radius_mm[0]) / step
    at = np.clip(at, 0, level.shape[-1] - 1.001)
    k = at.astype(np.int64)
    low, high = np.take_along_axis(level, k, axis=2), np.take_along_axis(level, k + 1, axis=2)
    return np.asarray(low + (high - low) * (at - k))


def edge_shift(profile: Floats, blur_mm: float) -> tuple[float, float]:
    """How far outside the followed rim the metal ends, and one sigma of it.

    The profile is a hole's light, a ring's and the sheet's, each even or falling evenly, run together by blur.
    Every place, width of ring and blur is tried; each counts as what it leaves over makes likely.

    Args:
        profile: mean light at ``profile_places``, of the sheet's.
        blur_mm: one sigma of the picture's blur.
    """
    x, rings = profile_places(), np.array(RINGS_MM)
    # the sheet alone, from each place where hole or ring may end: (places, blurs, sharpened, samples)
    edge, at = np.unique(np.round(SHIFTS_MM[:, None] + rings, 6), return_inverse=True)
    at = at.reshape(len(SHIFTS_MM), len(rings))
    away = (x - edge[:, None, None]) / (np.array(BLURS) * blur_mm)[:, None]
    sharp = np.array(SHARPENED)[:, None]
    sheet = (1 + sharp) * _step(away)[:, :, None] - sharp * _step(away / WIDER)[:, :, None]
    falling = sheet * np.clip(x - edge[:, None], 0, None)[:, None, None]
    # light is the hole's, then the ring's instead, then the sheet's: products of these parts, (shifts, rings, ...)
    inner, outer, fall = sheet[at[:, :1]], sheet[at], falling[at]
    parts = (np.ones((1, 1, 1, 1, len(x))), inner, outer, fall)
    products = np.empty((*outer.shape[:-1], 4, 4))
    pull = np.empty((*outer.shape[:-1], 4))
    for i, one in enumerate(parts):
        pull[..., i] = one @ profile
        for j, other in enumerate(parts[: i + 1]):
            products[..., i, j] = products[..., j, i] = np.einsum("srbhx,srbhx->srbh", one, other)
    pull, normal = pull @ BY_LIGHT, (products @ BY_LIGHT).swapaxes(-1, -2) @ BY_LIGHT
    fit = np.linalg.solve(normal + np.diag([1e-9, 1e-6, 1e-9, 1e-3]), pull[..., None])[..., 0]
    left = (profile**2).sum() + (((normal @ fit[..., None])[..., 0] - 2 * pull) * fit).sum(axis=-1)
    least = LEFT_OVER * max(float(np.ptp(profile)), LEAST_CONTRAST)
    scatter = max(float(left.min()) / (len(x) - 8), least**2) * TOGETHER
    bare = (rings == 0)[:, None, None]
    odd = np.where(bare, 0.0, (fit[..., 1] / np.maximum(fit[..., 2], 1e-3) - 1) / RING_TONE)
    unlikely = left / scatter + odd**2
    weight = np.exp(-(unlikely - unlikely.min()) / 2) * np.where(bare, BARE_ODDS * (len(RINGS_MM) - 1), 1)
    weight /= weight.sum()
    of_shift = weight.sum(axis=(1, 2, 3))
    mean = float((of_shift * SHIFTS_MM).sum())
    own = float((of_shift * (SHIFTS_MM - mean) ** 2).sum())
    return mean, float(np.sqrt(own + LEAST_SIGMA_MM**2))


def _step(x: Floats) -> Floats:
    """The normal distribution's integral, to .0002: numpy has none."""
    return np.asarray(0.5 * (1 + np.tanh(0.7978846 * x * (1 + 0.044715 * x**2))))
