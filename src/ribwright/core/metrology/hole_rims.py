"""Rims of empty holes, in a plain sheet or in the bottom of a dimple: the step of light where the metal ends.

What lies behind a hole is darker or brighter than the metal, alike for all holes of a row. A hole drilled twice
(figure-eight) has a waist, or is out of round along the line of the two centres: its rim is followed as it is,
its largest and smallest width are taken across the followed rim, and what an oval leaves over is reported.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ribwright.core.metrology.formed_rims import in_row
from ribwright.core.metrology.hole_edge import at_rims, edge_shift
from ribwright.core.metrology.rim import ANGLES, STEP_MM, Rim, directions, radii

Floats = NDArray[np.float64]

REACH, BEND_COST = 4, 0.02  # of a path round the rim: a waist turns faster than an oval
TURNS = 4
ASTRAY = (
    0.25  # from its place in an even row, of least and greatest radius together: a hole that far has run away
)


def hole_rims(
    light_at: Callable[[Floats, Floats, Floats], Floats],
    centres: Floats,
    *,
    low_mm: float,
    high_mm: float,
    blur_mm: float,
) -> tuple[Floats, list[Rim]]:
    """Centres and rims of all holes of a row.

    Args:
        light_at: linear light along rays from centres (holes, 2), with unit vectors and radii: (holes, rays, samples).
        centres: shape (holes, 2), mm.
        low_mm: smallest radius looked for.
        high_mm: largest.
        blur_mm: one sigma of the picture's blur.
    """
    r = radii(low_mm, high_mm)
    places = centres.copy()
    light, found = np.zeros(0), []
    for turn in range(TURNS):
        light = light_at(places, directions(), r)
        step = _steps(light)
        inside = (r >= low_mm) & (r <= high_mm)
        # dark or bright behind: the row decides, by its strongest step in either sense
        sense = np.sign(float(np.median(_strongest(step[..., inside]))))
        found = [_follow(sense * one, r, low_mm, high_mm) for one in step]
        if turn == TURNS - 1:
            break
        move = np.array([_middle(radius) for radius, _ in found])
        places = places + np.clip(move, -0.8, 0.8)
        if len(places) > 3:
            places = in_row(places, ASTRAY * (low_mm + high_mm))
        if np.abs(move).max() < 0.03:
            break
    rims = [_rim(radius, clear) for radius, clear in found]
    shift, sigma = _shift(light, r, found, rims, blur_mm)
    return places, [
        replace(one, d_max_mm=one.d_max_mm + 2 * shift, d_min_mm=one.d_min_mm + 2 * shift, shared_mm=2 * sigma)
        for one in rims
    ]  # fmt: skip


def _shift(
    light: Floats,
    r: Floats,
    found: list[tuple[Floats, NDArray[np.bool_]]],
    rims: list[Rim],
    blur_mm: float,
) -> tuple[float, float]:
    """How far outside the followed rims of a row the metal ends, and one sigma of it."""
    sheet = np.maximum(np.median(light[:, :, -8:], axis=(1, 2)), 3e-3)
    shown = at_rims(light / sheet[:, None, None], r, np.stack([radius for radius, _ in found]))
    clear = np.stack([seen for _, seen in found])
    round_ones = np.array([one.d_max_mm - one.d_min_mm for one in rims])
    clear &= (round_ones <= np.median(round_ones) + 0.1)[:, None]
    if clear.sum() < ANGLES // 4:
        return 0.0, 0.0
    return edge_shift(np.asarray(shown[clear].mean(axis=0)), blur_mm)


def _steps(light: Floats) -> Floats:
    """Change of light outwards along each ray, against the sheet's own, smoothed; shape as ``light``.

    Of light itself, not its logarithm: blur moves the middle of a step of the logarithm towards the brighter side.
    """
    sheet = np.maximum(np.median(light[:, :, -8:], axis=(1, 2)), 3e-3)
    level = light / sheet[:, None, None]
    level = (np.roll(level, 1, axis=1) + level + np.roll(level, -1, axis=1)) / 3
    half = round(0.24 / STEP_MM)
    x = np.arange(-half, half + 1) * STEP_MM
    kernel = x * np.exp(-0.5 * (x / 0.09) ** 2)
    kernel /= np.abs(kernel).sum() / 2  # of a clean step it gives the step
    padded = np.pad(level, ((0, 0), (0, 0), (half, half)), mode="edge")
    out = np.zeros_like(level)
    for k, w in enumerate(kernel):
        out += w * padded[..., k : k + level.shape[2]]
    return out


def _strongest(step: Floats) -> Floats:
    """Per hole: the larger, in size, of the best mean step outwards up and outwards down."""
    up, down = np.median(step.max(axis=2), axis=1), np.median((-step).max(axis=2), axis=1)
    return np.where(up >= down, up, -down)


def _follow(step: Floats, r: Floats, low_mm: float, high_mm: float) -> tuple[Floats, NDArray[np.bool_]]:
    """Radius of the rim along each ray, and where a clear step was seen."""
    from ribwright.core.metrology.paths_compiled import closed_path

    columns = np.flatnonzero((r >= low_mm) & (r <= high_mm))
    part = np.maximum(step[:, columns], 0.0)
    unit = max(float(np.median(part.max(axis=1))), 1e-6)
    score = np.clip(part / unit, 0, 1.2)
    path = closed_path(np.ascontiguousarray(score), REACH, BEND_COST)
    rows = np.arange(ANGLES)
    k = np.clip(path, 1, len(columns) - 2)
    a, b, c = part[rows, k - 1], part[rows, k], part[rows, k + 1]
    at = k + np.clip(0.5 * (a - c) / np.minimum(a - 2 * b + c, -1e-12), -0.7, 0.7)
    return r[columns[0]] + at * STEP_MM, (b > 0.4 * unit) & (b > 0.05)


def _middle(radius: Floats) -> Floats:
    """Centre of the area inside the rim."""
    ends = radius[:, None] * directions()
    nxt = np.roll(ends, -1, axis=0)
    cross = ends[:, 0] * nxt[:, 1] - ends[:, 1] * nxt[:, 0]
    return np.asarray(((ends + nxt) * cross[:, None]).sum(axis=0) / (3 * cross.sum()))


def _rim(radius: Floats, clear: NDArray[np.bool_]) -> Rim:
    """Widths across the followed rim: twice the mean of opposite radii, smoothed over some twenty degrees."""
    ring = np.arange(ANGLES) * (2 * np.pi / ANGLES)
    base = np.column_stack([np.ones(ANGLES), *(f(n * ring) for n in (1, 2) for f in (np.cos, np.sin))])
    weight = np.where(clear, 1.0, 0.02)
    fit = np.zeros(5)
    miss = np.zeros(ANGLES)
    for _ in range(5):
        fit = np.linalg.solve(
            (base * weight[:, None]).T @ base + 1e-9 * np.eye(5), (base * weight[:, None]).T @ radius
        )
        miss = radius - base @ fit
        scatter = max(1.4826 * float(np.median(np.abs(miss))), 0.01)
        weight = np.where(clear, 1.0, 0.02) / (1 + (miss / (3 * scatter)) ** 2)
    lobes = float(np.hypot(fit[3], fit[4]))
    smooth = sum(np.roll(miss, k) for k in range(-2, 3)) / 5
    # a waist: both ends of one width lie inside the oval, and the width across stands outside it
    across = (smooth + np.roll(smooth, ANGLES // 2)) / 2
    waist = float(-across.min()) if lobes > 0.5 * scatter else 0.0
    free = max(float(clear.mean()) * ANGLES / 8, 3.0)
    return Rim(
        (0.0, 0.0),
        2 * (float(fit[0]) + lobes),
        2 * (float(fit[0]) - lobes) - 2 * max(0.0, waist - 2 * scatter),
        float(2 * scatter * np.sqrt(2.0 / free)),
        float(clear.mean()),
        scatter,
        waist_mm=waist,
        turn_rad=float(np.arctan2(fit[4], fit[3])) / 2,
    )
