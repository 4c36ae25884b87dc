"""The rims of a row of formed heads, measured together: same light, same metal, one oval a head."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from ribwright.core.metrology.rim import Rim
from ribwright.core.metrology.rim_evidence import (
    FIRST_D,
    LOWEST,
    NEAR,
    RAYS,
    SAMPLES,
    STEP_D,
    Net,
    chances,
    first_windows,
    levels,
    second_windows,
    straighten,
)
from ribwright.core.metrology.rim_oval import TIGHT, WIDE, fit_ovals, oval_base, widest_circle

Floats = NDArray[np.float64]
Single = NDArray[np.float32]

TURNS = 3  # of moving the rays' origins to the rims' centres
SETTLED_D, FARTHEST_D = 0.03, 0.25  # shank diameters: a move not worth another turn, and the longest one
START_D, FAR_COST, AWAY_COST = 0.28, 6.0, 0.3  # of the starts, and what moving far costs in merit
LINE_D, LINE_COST, LINE_MOST = 0.1, 0.06, 1.0  # a head's usual distance from the row's line, and its cost
STARTS = np.array([(i, j) for i in (-1.0, 0.0, 1.0) for j in (-1.0, 0.0, 1.0)])
WIDEST, TOP, FOOT = 0.35, 0.76, 0.85  # of the usual barrel: where it is widest, and what top and foot measure
LEAST_COMMON = 5  # heads, of which the median oval is the row's own
SHARED = 8.0  # rays that err together
DOUBTFUL = 0.02  # chance of any place at all, whatever the rays say


def ray_places(shank_mm: float) -> tuple[Floats, Floats]:
    """Unit vectors (rays, 2) and radii in mm (samples,) of the rays about each head's centre."""
    angle = np.arange(RAYS) * (2 * np.pi / RAYS)
    radius = (FIRST_D + STEP_D * np.arange(SAMPLES)) * shank_mm
    return np.column_stack([np.cos(angle), np.sin(angle)]), np.asarray(radius, dtype=np.float64)


def formed_rims(
    light_at: Callable[[Floats], Floats],
    centres: Floats,
    *,
    shank_mm: float,
    head_height_mm: float,
    station_mm: Floats,
) -> tuple[Floats, list[Rim]]:
    """Centres and rims of all heads of a row.

    Args:
        light_at: linear light along the rays of ``ray_places`` from centres (heads, 2): (heads, rays, samples).
        centres: shape (heads, 2), mm, within about a quarter of a shank diameter.
        shank_mm: the rivet's diameter, to which all lengths are scaled.
        head_height_mm: nominal height of a head.
        station_mm: the camera's centre relative to the plane on which the rims are measured.
    """
    from ribwright.core.metrology.rim_weights import nets

    first, second = nets()
    centres = _best_starts(first, light_at, centres, shank_mm)
    level, chance, fit = np.empty(0, dtype=np.float32), np.empty(0, dtype=np.float32), np.empty(0)
    for turn in range(TURNS):
        level = levels(light_at(centres))
        chance = chances(first, first_windows(level))
        fit, _ = fit_ovals(chance, widest_circle(chance), WIDE)
        move = fit[:, 1:3] * (STEP_D * shank_mm)
        if turn == TURNS - 1 or np.abs(move).max() < SETTLED_D * shank_mm:
            break
        centres = centres + np.clip(move, -FARTHEST_D * shank_mm, FARTHEST_D * shank_mm)
    sides = _sides(chance, fit) * (STEP_D * shank_mm)
    fit, seen, spread = _together(second, level, fit)
    base = oval_base(RAYS)
    lean = (centres - station_mm[:2]) / -station_mm[2]
    over = np.stack([_hull(base, s, head_height_mm) for s in lean])
    numbers = fit * (STEP_D * shank_mm) - over
    numbers[:, 0] += (FIRST_D + LOWEST * STEP_D) * shank_mm
    # heads are out of round each in its own direction: an oval that all share is a shade on one side of them
    common = np.median(numbers[:, 3:5], axis=0) if len(numbers) >= LEAST_COMMON else np.zeros(2)
    numbers[:, 3:5] -= common
    lobes = np.hypot(numbers[:, 3], numbers[:, 4])
    rims = [
        Rim(
            (0.0, 0.0),
            2 * float(n[0] + lobe),
            2 * float(n[0] - lobe),
            2 * float(s) * STEP_D * shank_mm,
            float(share),
            float(s) * STEP_D * shank_mm,
            tuple(side.tolist()),
            common_mm=2 * float(np.hypot(*common)),
            turn_rad=float(np.arctan2(n[4], n[3])) / 2,
        )
        for n, lobe, s, share, side in zip(numbers, lobes, spread, seen, sides, strict=True)
    ]
    return centres + numbers[:, 1:3], rims


def _best_starts(
    first: Net, light_at: Callable[[Floats], Floats], centres: Floats, shank_mm: float
) -> Floats:
    """Each head's centre as the best of nine starts round the given one says, from half the rays and places.

    A bright flat top or a hard shadow draws the first guess aside; the nets know rims only from near centres.
    """
    heads = len(centres)
    tries = (centres + START_D * shank_mm * STARTS[:, None, :]).reshape(-1, 2)
    chance = chances(first, first_windows(levels(light_at(tries)), every=2))
    fit, _ = fit_ovals(chance, widest_circle(chance), tuple(r / 2 for r in WIDE))
    gap = np.arange(chance.shape[2]) - (fit @ oval_base(chance.shape[1]).T)[:, :, None]
    close = (chance * np.exp(-0.5 * (gap / 1.25) ** 2)).sum(axis=2)
    move = 2 * STEP_D * fit[:, 1:3]
    merit = np.log(0.03 + close).mean(axis=1) - FAR_COST * (move**2).sum(axis=1)
    moved = tries + np.clip(move, -FARTHEST_D, FARTHEST_D) * shank_mm
    away = np.hypot(*((moved - np.tile(centres, (len(STARTS), 1))) / shank_mm).T)
    merit -= AWAY_COST * away**2
    merit, moved = merit.reshape(-1, heads), moved.reshape(-1, heads, 2)
    head = np.arange(heads)
    best = merit.argmax(axis=0)
    for _ in range(3 if heads > 3 else 0):  # rivets stand in a line, whatever their pitch
        off = moved[..., 1] - _line(moved[best, head])(moved[..., 0])
        best = (merit - np.minimum(LINE_COST * (off / (LINE_D * shank_mm)) ** 2, LINE_MOST)).argmax(axis=0)
    return np.asarray(moved[best, head])


def _line(places: Floats) -> Callable[[Floats], Floats]:
    """The straight line through most of the places."""
    x, y = places.T
    weight = np.ones(len(x))
    fit = np.zeros(2)
    for _ in range(6):
        fit = np.polyfit(x, y, 1, w=np.sqrt(weight))
        miss = np.abs(y - np.polyval(fit, x))
        weight = 1 / np.maximum(miss, 0.05)
    return lambda at: np.asarray(fit[0] * at + fit[1])


def _together(second: Net, level: Single, fit: Floats) -> tuple[Floats, Floats, Floats]:
    """Better ovals from the rays laid straight, with what the row has in common; rays seen; spread in steps."""
    base = oval_base(RAYS)
    start = np.zeros_like(fit)
    start[:, 0] = NEAR
    for _ in range(2):  # once more along the better ovals
        straight = straighten(level, fit @ base.T + LOWEST)
        row = np.repeat(straight.mean(axis=0, keepdims=True), len(straight), axis=0)
        chance = chances(second, second_windows(straight, row))
        change, seen = fit_ovals(chance, start, TIGHT)
        fit = fit + change - start
    own = _spread(chance, change @ base.T)
    return fit, seen.mean(axis=1), np.maximum(own, float(np.median(own)))


def _sides(chance: Single, fit: Floats) -> Floats:
    """What each of four half rings of rays, asked alone, would change of the diameter, (heads, 4), in steps.

    A shadow lies on one side: where it was taken for the head, the halves with and without it disagree.
    """
    ring = np.arange(RAYS)
    out = []
    for turn in range(4):
        other = (ring - turn * RAYS // 4) % RAYS >= RAYS // 2
        half = np.where(other[:, None], np.float32(1e-9), chance)
        out.append(2 * (fit_ovals(half, fit, WIDE[2:])[0][:, 0] - fit[:, 0]))
    return np.stack(out, axis=1)


def _spread(chance: Single, rim: Floats) -> Floats:
    """One sigma, in steps, of a radius common to all rays: from what they say together of a larger or smaller one."""
    shifts = np.arange(-8.0, 8.25, 0.5)
    at = np.clip(rim[:, :, None] + shifts, 0, chance.shape[2] - 1.001)
    k = at.astype(np.int64)
    share = at - k
    worth = np.take_along_axis(chance, k, axis=2) * (1 - share)
    worth += np.take_along_axis(chance, k + 1, axis=2) * share
    total = np.log(worth + DOUBTFUL).sum(axis=1) / SHARED
    weight = np.exp(total - total.max(axis=1, keepdims=True))
    weight /= weight.sum(axis=1, keepdims=True)
    return np.asarray(np.sqrt((weight * shifts**2).sum(axis=1)))


def _hull(base: Floats, lean: Floats, head_height_mm: float) -> Floats:
    """What a slanting view adds to the rim of a usual barrel, as the oval's five numbers (mm).

    Sections above and below the widest one are smaller but shifted: outside the widest one they show.
    """
    u = np.linspace(0.0, 1.0, 21)
    above = np.clip((u - WIDEST) / (1 - WIDEST), 0, 1)
    below = np.clip((WIDEST - u) / WIDEST, 0, 1)
    usual = 1.5 * head_height_mm  # radius: a head is about as high as a third of its diameter
    short = usual * ((1 - TOP) * above**2 + (1 - FOOT) * below**2)
    toward = base[:, 1] * lean[0] + base[:, 2] * lean[1]
    over = ((u - WIDEST)[:, None] * head_height_mm * toward[None, :] - short[:, None]).max(axis=0)
    return np.asarray(np.linalg.lstsq(base, over, rcond=None)[0])
