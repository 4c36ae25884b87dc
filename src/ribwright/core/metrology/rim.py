"""The rim of a flush head or hole in a picture: a thin dark line that closes on itself.

For formed heads, whose rim is no line, see ``formed_rims``.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

ANGLES = 96
STEP_MM = 0.04
OUTSIDE_MM = 0.95  # how far rays reach beyond the largest rim
# from the line: close beside it, blur left out, and well beside it
NEAR_MM, FAR_MM, FARTHER_MM = (0.27, 0.47), (0.6, 0.92), (0.95, 1.25)
BEND_COST, REACH = 0.05, 3  # of a path round the rim: cost and most change, in samples a ray


@dataclass(frozen=True, slots=True)
class Rim:
    """One rim, in the frame of the rays' origin.

    Attributes:
        centre_mm: shift of the centre, (x, y).
        d_max_mm: largest diameter.
        d_min_mm: smallest.
        sigma_mm: one sigma of a diameter.
        coverage: share of the directions in which an edge was seen there.
        rough_mm: robust scatter about the fitted oval.
        common_mm: difference of the two diameters of the oval that all of the row share, taken out; formed heads only.
        shared_mm: one sigma of what all diameters of a row are wrong by alike; holes only.
        waist_mm: how far two opposite places lie inside the oval of the rest; holes only.
        turn_rad: direction of the largest diameter.
        beside: change of the light's logarithm close beside the line, inside and outside; flush heads only.
    """

    centre_mm: tuple[float, float]
    d_max_mm: float
    d_min_mm: float
    sigma_mm: float
    coverage: float
    rough_mm: float
    common_mm: float = 0.0
    waist_mm: float = 0.0
    shared_mm: float = 0.0
    turn_rad: float = 0.0
    beside: float = 0.0


def directions() -> Floats:
    """Unit vectors of the rays, shape (ANGLES, 2)."""
    angle = np.arange(ANGLES) * (2 * np.pi / ANGLES)
    return np.column_stack([np.cos(angle), np.sin(angle)])


def radii(low_mm: float, high_mm: float) -> Floats:
    """Sample places along a ray from well inside ``low_mm`` to beyond ``high_mm``."""
    first = max(0.1, low_mm - 0.5)
    last = high_mm + OUTSIDE_MM + 0.3
    return np.asarray(first + np.arange(int((last - first) / STEP_MM) + 1) * STEP_MM, dtype=np.float64)


def find_rim(light: Floats, radius_mm: Floats, *, low_mm: float, high_mm: float) -> Rim:
    """Find the rim, a thin dark line whose middle is the rim, in rays of linear light.

    Args:
        light: shape (ANGLES, samples), along the rays from a centre near the head's.
        radius_mm: shape (samples,).
        low_mm: smallest radius a rim may have.
        high_mm: largest.
    """
    from ribwright.core.metrology.paths_compiled import closed_path

    # neighbouring rays see the same rim: average over about 11 degrees first
    line = _dark_line(_round_mean(np.log(np.maximum(light, 3e-3)), 1))
    strength = np.maximum(line, 0.0)
    score = np.clip(strength / max(1.4826 * float(np.median(np.abs(line))) * 4, 0.02), 0, 1)
    inside = (radius_mm >= low_mm) & (radius_mm <= high_mm)
    columns = np.flatnonzero(inside)
    # beyond plainly there, the better still counts a little: plain evidence has a flat top
    graded = score + 0.3 * strength / np.maximum(strength[:, columns].max(axis=1, keepdims=True), 1e-9)
    path = columns[closed_path(np.ascontiguousarray(graded[:, columns]), REACH, BEND_COST)]
    rows = np.arange(ANGLES)
    r, weight = radius_mm[0] + _peak(strength, path) * STEP_MM, np.clip(score[rows, path], 0.02, 1.0)
    for reach in (
        0.25,
        0.18,
        0.13,
    ):  # each ray's edge is looked for again near the oval that all rays agree on
        expected = _oval_radius(_fit_oval(r, weight)[0])
        near = np.exp(-0.5 * ((radius_mm[None, :] - expected[:, None]) / reach) ** 2)
        path = np.clip((strength * near).argmax(axis=1), columns[0], columns[-1])
        r, weight = (
            radius_mm[0] + _peak(strength * near, path) * STEP_MM,
            np.clip(score[rows, path], 0.02, 1.0),
        )
    return _oval(r, weight, float((score[rows, path] > 0.45).mean()))


def change_beside(light: Floats, radius_mm: Floats, rim: Rim) -> float:
    """How much the logarithm of light changes close beside the rim, inside and outside, beyond the sheet's own pattern:
    little where the rim is but a line.

    Args:
        light: shape (ANGLES, samples), along the rays from the rim's centre.
        radius_mm: shape (samples,).
        rim: as found in them.
    """
    turn = np.arange(ANGLES) * (2 * np.pi / ANGLES) - rim.turn_rad
    rays = np.arange(ANGLES)[:, None]
    line = ((rim.d_max_mm + rim.d_min_mm) + (rim.d_max_mm - rim.d_min_mm) * np.cos(2 * turn)) / 4
    level = _round_mean(np.log(np.maximum(light, 3e-3)), 2)

    def band(first: float, last: float) -> Floats:
        at = np.round((line[:, None] + np.arange(first, last, STEP_MM) - radius_mm[0]) / STEP_MM)
        return np.asarray(level[rays, np.clip(at.astype(np.int64), 0, len(radius_mm) - 1)].mean(axis=1))

    inside = float(np.abs(band(-NEAR_MM[1], -NEAR_MM[0]) - band(-FAR_MM[1], -FAR_MM[0])).mean())
    outside = float(np.abs(band(*NEAR_MM) - band(*FAR_MM)).mean())
    farther = float(np.abs(band(*FAR_MM) - band(*FARTHER_MM)).mean())
    return inside + outside - min(inside, outside, farther)


def _round_mean(values: Floats, half: int) -> Floats:
    return np.asarray(sum(np.roll(values, k, axis=0) for k in range(-half, half + 1)) / (2 * half + 1))


def _dark_line(values: Floats) -> Floats:
    """How much darker each sample is than both its sides: a thin line's own contrast."""
    half = int(0.36 / STEP_MM)
    x = np.arange(-half, half + 1) * STEP_MM
    core = np.exp(-0.5 * (x / 0.07) ** 2)
    side = np.exp(-0.5 * (x / 0.16) ** 2)
    return _filtered(values, side / side.sum() - core / core.sum())


def _filtered(values: Floats, kernel: Floats) -> Floats:
    half = len(kernel) // 2
    padded = np.pad(values, ((0, 0), (half, half)), mode="edge")
    out = np.zeros_like(values)
    for k, w in enumerate(kernel):
        out += w * padded[:, k : k + values.shape[1]]
    return out


def _peak(strength: Floats, path: NDArray[np.int64]) -> Floats:
    """Sub-sample place of the maximum nearest the path."""
    rows = np.arange(len(path))
    k = path.copy()
    for _ in range(3):  # climb to the top near by
        k = np.clip(k, 1, strength.shape[1] - 2)
        around = np.stack([strength[rows, k - 1], strength[rows, k], strength[rows, k + 1]])
        k = k + around.argmax(axis=0) - 1
    k = np.clip(k, 1, strength.shape[1] - 2)
    a, b, c = strength[rows, k - 1], strength[rows, k], strength[rows, k + 1]
    bend = np.minimum(a - 2 * b + c, -1e-12)
    return np.asarray(k + np.clip(0.5 * (a - c) / bend, -0.5, 0.5))


@lru_cache(maxsize=1)
def _base() -> Floats:
    angle = np.arange(ANGLES) * (2 * np.pi / ANGLES)
    return np.column_stack(
        [np.ones(ANGLES), np.cos(angle), np.sin(angle), np.cos(2 * angle), np.sin(2 * angle)]
    )


def _oval_radius(fit: Floats) -> Floats:
    return np.asarray(_base() @ fit)


def _fit_oval(r: Floats, weight: Floats) -> tuple[Floats, Floats, Floats, float]:
    """Robust fit of r = r0 + shift + two-lobed oval: its five numbers, misses, weights, scatter."""
    base = _base()
    w, miss, scatter = weight, np.asarray(0.0 * r), 0.1
    fit, faint = np.zeros(5), 1e-9 * np.eye(5)
    for turn in range(8):
        weighted = base.T * w
        fit = np.asarray(np.linalg.solve(weighted @ base + faint, weighted @ r), dtype=np.float64)
        miss = np.asarray(r - base @ fit, dtype=np.float64)
        far = np.sort(np.abs(miss))
        scatter = max(1.4826 * float(far[ANGLES // 2 - 1] + far[ANGLES // 2]) / 2, 0.01)
        w = weight * np.maximum(1 - (miss / (max(3.5, 8 - turn) * scatter)) ** 2, 0) ** 2
    return fit, miss, w, scatter


def _oval(r: Floats, weight: Floats, coverage: float) -> Rim:
    fit, miss, w, scatter = _fit_oval(r, weight)
    lobes = float(np.hypot(fit[3], fit[4]))
    # about eight rays share what disturbs them
    free = max(float((w > 0.2 * weight).mean()) * ANGLES / 8, 3.0)
    sigma = 2 * scatter * np.sqrt(2.0 / free)
    return Rim(
        (float(fit[1]), float(fit[2])),
        2 * (float(fit[0]) + lobes),
        2 * (float(fit[0]) - lobes),
        float(sigma),
        coverage * float((np.abs(miss) < 0.15).mean()),
        scatter,
        turn_rad=float(np.arctan2(fit[4], fit[3])) / 2,
    )
