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

from ribwright.core.metrology.edge_fit import rows_times
from ribwright.core.metrology.formed_rims import in_row
from ribwright.core.metrology.hole_edge import at_rims, edge_shift
from ribwright.core.metrology.rim import ANGLES, STEP_MM, Rim, directions, radii

Floats = NDArray[np.float64]

REACH, BEND_COST = 4, 0.02  # of a path round the rim: a waist turns faster than an oval
FIRST_TURNS, TURNS = 2, 8  # for the holes' places, and in all
EVERY = 3  # rays of which one is enough for a whole circle
FAR_MM, SETTLED_MM = 0.3, 0.03
AROUND_MM = np.arange(-1.8, 1.81, 0.15)
ASIDE_MM = np.arange(-0.48, 0.481, 0.12)  # of the row's rims from where the rays begin
ALIKE_RAYS = 8  # share what disturbs them
TWICE_MM = 0.15  # difference of two diameters from which on a hole is taken as drilled twice
FAINT = 0.25  # of the row's usual step: what is fainter is no hole's rim
PLAIN = 0.5  # of the strongest step round a rim
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
    shaded: bool = False,
) -> tuple[Floats, list[Rim]]:
    """Centres and rims of all holes of a row.

    Args:
        light_at: linear light along rays from centres (holes, 2), with unit vectors and radii: (holes, rays, samples).
        centres: shape (holes, 2), mm.
        low_mm: smallest radius looked for.
        high_mm: largest.
        blur_mm: one sigma of the picture's blur.
        shaded: the metal round the holes is a cone, bright on one side and dark on the other: dimples.
    """
    r = radii(low_mm, high_mm)
    astray_mm = ASTRAY * (low_mm + high_mm)
    places, light = centres.copy(), light_at(centres, directions(), r)
    step = _steps(light)
    circles = _circles(r, r[(r >= low_mm) & (r <= high_mm)][::2], ASIDE_MM)
    usual, found = np.zeros(0), []
    for turn in range(TURNS):
        usual, size = _usual_step(step, circles, shaded=shaded)
        if turn < FIRST_TURNS:  # what was found may be the middle of a dimple's shade
            move = _middles(step, usual, _circles(r, size * np.array([0.95, 1.0, 1.05]), AROUND_MM))
        if turn >= FIRST_TURNS or np.abs(move).max() < FAR_MM:
            found = _follow_all(step, usual, r, low_mm, high_mm)
            move = np.array([_middle(radius) for radius, _ in found])
            if turn == TURNS - 1 or np.abs(move).max() < SETTLED_MM:
                break
        moved = places + np.where(np.abs(move).max(axis=1, keepdims=True) < SETTLED_MM, 0, move)
        if len(places) > 3:
            moved = in_row(moved, astray_mm)
        new = (moved != places).any(axis=1)
        places = moved
        light[new] = light_at(places[new], directions(), r)
        step[new] = _steps(light[new])
    places = places + move
    rims = [_rim(radius, clear) for radius, clear in found]
    shift, sigma = _shift(light, r, found, rims, usual, blur_mm)
    return places, [
        replace(one, d_max_mm=one.d_max_mm + 2 * shift, d_min_mm=one.d_min_mm + 2 * shift, shared_mm=2 * sigma)
        for one in rims
    ]  # fmt: skip


def _shift(
    light: Floats,
    r: Floats,
    found: list[tuple[Floats, NDArray[np.bool_]]],
    rims: list[Rim],
    usual: Floats,
    blur_mm: float,
) -> tuple[float, float]:
    """How far outside the followed rims of a row the metal ends, and one sigma of it."""
    sheet = np.maximum(np.median(light[:, :, -8:], axis=(1, 2)), 3e-3)
    shown = at_rims(light / sheet[:, None, None], r, np.stack([radius for radius, _ in found]))
    clear = np.stack([seen for _, seen in found])
    round_ones = np.array([one.d_max_mm - one.d_min_mm for one in rims])
    clear &= (round_ones <= np.median(round_ones) + 0.1)[:, None]
    # of a dimple's rim only the side where the step is plain and all of one sense
    clear &= usual * np.sign(usual[np.abs(usual).argmax()]) > PLAIN * np.abs(usual).max()
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
    count = level.shape[2]
    smoothing = np.zeros((count, count))  # beyond its ends a ray goes on as there
    for k, w in zip(range(-half, half + 1), kernel, strict=True):
        np.add.at(smoothing, (np.clip(np.arange(count) + k, 0, count - 1), np.arange(count)), w)
    return rows_times(level.reshape(-1, count), smoothing).reshape(level.shape)


def _circles(r: Floats, sizes: Floats, aside: Floats) -> tuple[Floats, NDArray[np.int64]]:
    """Circles of all sizes about all places aside: size, x and y of each, and the sample where every third ray meets it."""
    ring = np.arange(0, ANGLES, EVERY) * (2 * np.pi / ANGLES)
    size, x, y = (a.ravel()[:, None] for a in np.meshgrid(sizes, aside, aside, indexing="ij"))
    at = np.round((size + x * np.cos(ring) + y * np.sin(ring) - r[0]) / STEP_MM).astype(np.int64)
    return np.column_stack([size, x, y]), np.clip(at, 0, len(r) - 1)


def _usual_step(
    step: Floats, circles: tuple[Floats, NDArray[np.int64]], *, shaded: bool
) -> tuple[Floats, float]:
    """The step of light that the rims of a row show along each ray, (ANGLES,), of its root mean square, and their radius.

    What lies behind the holes is darker or brighter than the metal all round; the cone of a dimple is bright on one
    side and dark on the other, and the step may turn over in between. Holes of a row lie in one light: the circle on
    which the row's median step is strongest, even or falling from one side to the other, is their rim.
    """
    circle, at = circles
    value = np.median(step[:, ::EVERY], axis=0)[np.arange(at.shape[1]), at]
    ends = np.column_stack([np.ones(ANGLES), np.sqrt(2) * directions()])[:, : 3 if shaded else 1]
    fit = value @ ends[::EVERY] / value.shape[1]
    best = int((fit**2).sum(axis=1).argmax())
    usual = ends @ fit[best]
    return np.asarray(usual / max(float(np.sqrt((usual**2).mean())), 1e-6)), float(circle[best, 0])


def _middles(step: Floats, usual: Floats, circles: tuple[Floats, NDArray[np.int64]]) -> Floats:
    """Where the circle of the row's usual step lies in each hole's rays, (holes, 2)."""
    circle, at = circles
    clear = step * usual[:, None]
    most = np.quantile(clear.max(axis=2), 0.7, axis=1)
    clear = np.clip(clear, 0, most[:, None, None])
    value = np.stack([one[np.arange(0, ANGLES, EVERY), at].mean(axis=1) for one in clear])
    return np.asarray(circle[value.argmax(axis=1), 1:])


def _follow_all(
    step: Floats, usual: Floats, r: Floats, low_mm: float, high_mm: float
) -> list[tuple[Floats, NDArray[np.bool_]]]:
    """Per hole the radius of the rim along each ray, and where a clear step was seen: of the row's usual sense and strength."""
    columns = np.flatnonzero((r >= low_mm) & (r <= high_mm))
    parts = np.maximum(step[:, :, columns] * usual[:, None], 0.0)
    units = np.maximum(np.median(parts.max(axis=2), axis=1), 1e-6)
    least = np.maximum(FAINT * float(np.median(units)), 0.05 * np.abs(usual))
    rims = []
    for part, unit in zip(parts, units.tolist(), strict=True):
        place, strength = _follow(part, unit)
        rims.append((r[columns[0]] + place * STEP_MM, (strength > 0.4 * unit) & (strength > least)))
    return rims


def _follow(part: Floats, unit: float) -> tuple[Floats, Floats]:
    """Place, in samples, and strength of the step along each ray of one hole, round the hole without a jump."""
    from ribwright.core.metrology.paths_compiled import closed_path

    score = np.clip(part / unit, 0, 1.2)
    path = closed_path(np.ascontiguousarray(score), REACH, BEND_COST)
    rows = np.arange(ANGLES)
    k = np.clip(path, 1, part.shape[1] - 2)
    a, b, c = part[rows, k - 1], part[rows, k], part[rows, k + 1]
    at = k + np.clip(0.5 * (a - c) / np.minimum(a - 2 * b + c, -1e-12), -0.7, 0.7)
    return np.asarray(at), b


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
    scatter, normal = 0.01, np.eye(5)
    for _ in range(5):
        normal = (base * weight[:, None]).T @ base + 1e-9 * np.eye(5)
        fit = np.linalg.solve(normal, (base * weight[:, None]).T @ radius)
        miss = radius - base @ fit
        scatter = max(1.4826 * float(np.median(np.abs(miss))), 0.01)
        weight = np.where(clear, 1.0, 0.02) / (1 + (miss / (3 * scatter)) ** 2)
    lobes = float(np.hypot(fit[3], fit[4]))
    smooth = sum(np.roll(miss, k) for k in range(-2, 3)) / 5
    # a waist: both ends of one width lie inside the oval, and the width across stands outside it
    opposite = (smooth + np.roll(smooth, ANGLES // 2)) / 2
    waist = float(-opposite.min()) if lobes > 0.5 * scatter else 0.0
    # of the diameter that is known worst, where part of the rim is not seen
    across = base * (1, 0, 0, 1, 1)
    worst = float(np.einsum("ai,ij,aj->a", across, np.linalg.inv(normal), across).max())
    most, least = 2 * (float(fit[0]) + lobes), 2 * (float(fit[0]) - lobes)
    if most - least > TWICE_MM:  # two drillings are no oval: as long as both together, as wide as the drill
        most, least = _widths(base @ fit + np.where(clear, smooth, 0.0))
    return Rim(
        (0.0, 0.0),
        most,
        least,
        float(2 * scatter * np.sqrt(ALIKE_RAYS * worst)),
        float(clear.mean()),
        scatter,
        waist_mm=waist,
        turn_rad=float(np.arctan2(fit[4], fit[3])) / 2,
    )


def _widths(radius: Floats) -> tuple[float, float]:
    """Largest and smallest distance between two parallels that hold the rim between them."""
    ends = directions()
    width = np.ptp((radius[:, None] * ends) @ ends[: ANGLES // 2].T, axis=0)
    return float(width.max()), float(width.min())
