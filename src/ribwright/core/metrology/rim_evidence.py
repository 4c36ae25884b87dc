"""Where along each ray a formed head's rim may be: two small nets over the light along the rays.

A formed head shows several rings: its flat top, its side, its shade. What tells the rim from the others is the
order and shape of light along the ray, what neighbouring rays show, and what the same place of the other heads
of the row shows, which stand in the same light. Both nets look at one place of one ray through a window that
is fine in the middle and coarse far out and say how much that place looks like the rim; over all places of a
ray this is a probability. The first looks at the rays as they are, the second at rays laid straight along the
oval that the first one gave, so that what goes round the rim and what the whole row has in common is sharp.
The nets were fitted to the project's own renders (``benchmarks/photo_rim_training.py``); lengths are in shank
diameters.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Single = NDArray[np.float32]

RAYS = 64
FIRST_D, STEP_D, SAMPLES = 0.10, 0.0125, 113  # along a ray
LOWEST, PLACES = 32, 47  # places tried at first: .50 to 1.075 shank diameters
STRAIGHT, NEAR = 44, 12  # half lengths, in steps, of a straightened ray and of the places tried on it
FAR = 96  # from here on a ray shows sheet
OFFSETS = (-32, -26, -20, -15, -11, -8, -6, -4, -2, -1, 0, 1, 2, 4, 6, 8, 11, 15, 20, 26, 32)
WIDTHS = (5, 5, 4, 3, 2, 2, 1, 1, 0, 0, 0, 0, 0, 1, 1, 2, 2, 3, 4, 5, 5)  # half widths of the means there
ROUND_FIRST = ((-1, 0, 1), (-5, -4, -3, 3, 4, 5), (-12, -10, -8, 8, 10, 12))  # rays looked at together
ROUND_SECOND = ((-1, 0, 1), (-4, -3, -2, 2, 3, 4), (-9, -8, -7, -6, 6, 7, 8, 9), tuple(range(RAYS)))

Net = tuple[tuple[Single, Single], ...]


def levels(light: NDArray[np.floating]) -> Single:
    """Logarithm of the light against the sheet's round the head, shape (heads, rays, samples), clipped."""
    level = np.log(np.maximum(light, 0).astype(np.float32) + np.float32(0.01))
    sheet = np.median(level[:, :, FAR:], axis=(1, 2))
    return np.clip(level - sheet[:, None, None], np.float32(-2.5), np.float32(2.5))


def first_windows(level: Single, every: int = 1) -> Single:
    """What the first net sees, shape (heads, rays, places, features); of each ``every``-th ray and place."""
    return _windows([_together(level, turns) for turns in ROUND_FIRST], LOWEST, PLACES, every)


def second_windows(straight: Single, row: Single) -> Single:
    """What the second net sees; ``row`` is each head's row mean of the straightened rays."""
    views = [_together(straight, turns) for turns in ROUND_SECOND]
    return _windows([*views, _together(row, ROUND_FIRST[0])], STRAIGHT - NEAR, 2 * NEAR + 1)


def straighten(level: Single, rim: NDArray[np.float64]) -> Single:
    """Rays shifted so that the place ``rim`` (heads, rays; in steps) comes to the middle."""
    at = np.clip(rim[:, :, None] + np.arange(-STRAIGHT, STRAIGHT + 1), 0, SAMPLES - 1.001)
    k = at.astype(np.int64)
    share = (at - k).astype(np.float32)
    below, above = np.take_along_axis(level, k, axis=2), np.take_along_axis(level, k + 1, axis=2)
    return np.asarray(below * (1 - share) + above * share)


def chances(net: Net, windows: Single) -> Single:
    """Probability of each place to be the rim, shape (heads, rays, places); they sum to 1 over a ray."""
    value = np.moveaxis(windows, -1, 0).reshape(windows.shape[-1], -1)  # as _windows lays it: no copy
    for k, (weight, offset) in enumerate(net):
        value = weight.T @ value + offset[:, None]
        if k < len(net) - 1:
            value = np.maximum(value, np.float32(0.1) * value)
    score = value.reshape(windows.shape[:3])
    score = np.exp(score - score.max(axis=2, keepdims=True))
    return np.asarray(score / score.sum(axis=2, keepdims=True))


def _together(level: Single, turns: tuple[int, ...]) -> Single:
    if len(turns) == RAYS:
        return np.repeat(level.mean(axis=1, keepdims=True), RAYS, axis=1)
    total = np.zeros_like(level)
    for turn in turns:
        total += np.roll(level, turn, axis=1)
    return np.asarray(total / np.float32(len(turns)))


def _windows(views: list[Single], first: int, places: int, every: int = 1) -> Single:
    views = [view[:, ::every] for view in views]
    heads, rays, samples = views[0].shape
    out = np.empty((len(views) * len(OFFSETS), heads, rays, -(-places // every)), dtype=np.float32)
    column = 0
    for view in views:
        sums = np.cumsum(np.pad(view, ((0, 0), (0, 0), (6, 5)), mode="edge"), axis=2, dtype=np.float32)
        means = {
            half: (sums[:, :, 6 + half : 6 + half + samples] - sums[:, :, 5 - half : 5 - half + samples])
            * np.float32(1 / (2 * half + 1))
            for half in set(WIDTHS)
        }
        for offset, half in zip(OFFSETS, WIDTHS, strict=True):
            out[column] = means[half][:, :, first + offset : first + offset + places : every]
            column += 1
    return np.moveaxis(out, 0, -1)
