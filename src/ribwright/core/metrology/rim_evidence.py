"""Where round a formed head its rim may be: a small convolutional net over all heads of a row, unrolled.

A formed head shows several rings: its flat top, its side, its shade. Along one ray they can't be told apart; what
tells the rim is how they lie to each other all the way round, and what the other heads of the row show, which
stand in the same light. The net sees each head as a picture of rays by radius, at three sizes, so that at the
coarsest it sees the whole head, and at the two coarser ones it also sees the mean of what it found in all heads
of the row. It says for each ray how likely each place is the rim. It was fitted to the project's own renders
(``benchmarks/photo_rim_training.py``); lengths are in shank diameters.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

Single = NDArray[np.float32]
Net = Mapping[str, tuple[Single, Single]]  # by layer: weights (high, wide, from, to), offsets (to,)

RAYS = 32
FIRST_D, STEP_D, SAMPLES = 0.10, 0.0125, 112  # along a ray, as sampled
PLACES, PLACE_D = 56, 0.025  # along a ray, as judged: two samples a place
MIDDLE_D = 0.1125  # radius of the first place
FAR = 96  # from this sample on a ray shows sheet
LEAK = np.float32(0.1)  # of a rectifier below zero


def levels(light: NDArray[np.floating]) -> Single:
    """Logarithm of the light against the sheet's round the head, (heads, RAYS, SAMPLES) to (heads, RAYS, PLACES)."""
    level = np.log(np.maximum(light, 0).astype(np.float32) + np.float32(0.01))
    sheet = np.median(level[:, :, FAR:], axis=(1, 2))
    level = np.clip(level - sheet[:, None, None], np.float32(-2.5), np.float32(2.5))
    return np.asarray(level.reshape(len(level), RAYS, PLACES, 2).mean(axis=3))


def chances(net: Net, level: Single) -> Single:
    """Probability of each place to be the rim, (heads, RAYS, PLACES); they sum to 1 over a ray.

    Args:
        net: its layers.
        level: of all heads of a row, as ``levels`` gives it.
    """
    radius = np.broadcast_to(np.linspace(-1, 1, PLACES, dtype=np.float32), level.shape)
    half = _layer(net["a"], np.stack([level, radius], axis=3), every=2)
    half = _layer(net["d"], half)
    quarter = _layer(net["f"], _layer(net["e"], half, every=2))
    of_row = _layer(net["r"], quarter.mean(axis=0, keepdims=True), bend=False)
    quarter = _layer(net["h"], _layer(net["g"], quarter + of_row))
    wide = _layer(net["u"], quarter, bend=False).repeat(2, axis=1).repeat(2, axis=2)
    half = _layer(net["i"], half + wide)
    of_row = _layer(net["q"], half.mean(axis=0, keepdims=True), bend=False)
    half = _layer(net["j"], half + of_row)
    score = _layer(net["k"], half, bend=False)  # four a place: two rays by two places
    score = score.reshape(len(level), RAYS // 2, PLACES // 2, 2, 2).transpose(0, 1, 3, 2, 4)
    score = score.reshape(level.shape)
    chance = np.exp(score - score.max(axis=2, keepdims=True))
    return np.asarray(chance / chance.sum(axis=2, keepdims=True))


def _layer(layer: tuple[Single, Single], seen: Single, *, every: int = 1, bend: bool = True) -> Single:
    """A convolution: round and round along the rays, the last place repeated along the radius."""
    weight, offset = layer
    heads, rays, places, kinds = seen.shape
    size = weight.shape[0]
    wide = _round_about(seen, size // 2)
    shape = (heads, -(-rays // every), -(-places // every))
    head, ray, place, kind = wide.strides
    windows = np.lib.stride_tricks.as_strided(
        wide, (*shape, size, size * kinds), (head, every * ray, every * place, ray, kind)
    )
    value = windows.reshape(-1, size * size * kinds) @ weight.reshape(-1, weight.shape[3])
    value += offset
    if bend:
        np.maximum(value, LEAK * value, out=value)
    return np.asarray(value.reshape(*shape, -1))


def _round_about(seen: Single, reach: int) -> Single:
    """With ``reach`` more rays and places on all sides: the rays go on round, the places as the first and the last."""
    if not reach:
        return np.ascontiguousarray(seen)
    heads, rays, places, kinds = seen.shape
    wide = np.empty((heads, rays + 2 * reach, places + 2 * reach, kinds), dtype=np.float32)
    wide[:, reach:-reach, reach:-reach] = seen
    wide[:, reach:-reach, :reach] = seen[:, :, :1]
    wide[:, reach:-reach, -reach:] = seen[:, :, -1:]
    wide[:, :reach], wide[:, -reach:] = wide[:, -2 * reach : -reach], wide[:, reach : 2 * reach]
    return wide
