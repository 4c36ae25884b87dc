"""Ovals through what the rays of a head say of its rim: r = r0 + shift + two lobes, in places along the rays."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Single = NDArray[np.float32]

REACHES = (8.0, 5.0, 3.0, 2.0, 1.5, 1.5)  # places: how far from the oval a ray's places count, turn by turn
SEEN_PLACES = 2.0
BELL_PLACES, REACH_PLACES = 2.0, 6  # of the circle tried at first
STIFF = (1e-6, 0.02, 0.02, 0.05, 0.05)  # of the five numbers: a little against wild shifts and lobes


def oval_base(rays: int) -> Floats:
    """Shape (rays, 5): what the five numbers do to each ray's radius."""
    angle = np.arange(rays) * (2 * np.pi / rays)
    return np.column_stack(
        [np.ones(rays), np.cos(angle), np.sin(angle), np.cos(2 * angle), np.sin(2 * angle)]
    )


def widest_circle(chance: Single) -> Floats:
    """A start: for each head the circle that most rays agree on, shape (heads, 5)."""
    bell = np.exp(-0.5 * (np.arange(-REACH_PLACES, REACH_PLACES + 1) / BELL_PLACES) ** 2)
    total = np.log(0.01 + chance).sum(axis=1)
    padded = np.pad(total, ((0, 0), (REACH_PLACES, REACH_PLACES)), mode="edge")
    smooth = np.stack([np.convolve(row, bell, mode="valid") for row in padded])
    start = np.zeros((len(chance), 5))
    start[:, 0] = smooth.argmax(axis=1)
    return start


def fit_ovals(chance: Single, start: Floats) -> tuple[Floats, Floats]:
    """Ovals of several heads at once.

    Args:
        chance: shape (heads, rays, places).
        start: shape (heads, 5).

    Returns:
        The five numbers (heads, 5), and for each ray the share of its chance that lies near the oval.
    """
    base = oval_base(chance.shape[1])
    place = np.arange(chance.shape[2], dtype=np.float64)
    fit = start
    for reach in REACHES:
        weight = chance * np.exp(-0.5 * ((place - (fit @ base.T)[:, :, None]) / reach) ** 2)
        mass = np.maximum(weight.sum(axis=2), 1e-9)
        middle = (weight * place).sum(axis=2) / mass
        spread = (weight * place**2).sum(axis=2) / mass - middle**2
        trust = mass / (spread + 1.0)  # a ray that knows exactly counts more than one that wavers
        trust = 0.5 * trust / np.maximum(trust.mean(axis=1, keepdims=True), 1e-12)
        normal = np.einsum("ai,aj,ha->hij", base, base, trust) + np.diag(STIFF)
        pull = np.einsum("ai,ha->hi", base, trust * middle)
        fit = np.linalg.solve(normal, pull[..., None])[..., 0]
    gap = (place - (fit @ base.T)[:, :, None]) / SEEN_PLACES
    return fit, np.asarray((chance * np.exp(-0.5 * gap**2)).sum(axis=2), dtype=np.float64)
