"""The rims of a row of formed heads, measured together: same light, same metal, one oval a head."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from ribwright.core.metrology.rim import Rim
from ribwright.core.metrology.rim_evidence import (
    FIRST_D,
    MIDDLE_D,
    PLACE_D,
    RAYS,
    SAMPLES,
    STEP_D,
    Single,
    chances,
    levels,
)
from ribwright.core.metrology.rim_oval import fit_ovals, oval_base, widest_circle

Floats = NDArray[np.float64]

TURNS = 4  # of moving the rays' origins to the rims' centres
SETTLED_D, FARTHEST_D = 0.02, 0.3  # shank diameters: a move not worth another turn, and the longest one
ASTRAY_D = 0.4  # from its place in an even row: a head that far has run away
LEANS_OUT_D = (
    0.0036  # by which the net's rims lie outside the true ones, in the middle of rows it was not fitted to
)
WIDEST, TOP, FOOT = 0.35, 0.76, 0.85  # of the usual barrel: where it is widest, and what top and foot measure
ROW_SIGMA_MM = 0.2  # what holes drilled to a pitch stray from an even row, at least
CENTRE_SIGMA = 0.5  # of a centre, of its head's sigma of the diameter
LEAST_COMMON = 5  # heads, of which the median oval is the row's own


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
    from ribwright.core.metrology.rim_weights import net

    chance, fit, seen = np.empty(0, dtype=np.float32), np.empty(0), np.empty(0)
    for turn in range(TURNS):
        chance = chances(net(), levels(light_at(centres)))
        fit, seen = fit_ovals(chance, widest_circle(chance))
        move = fit[:, 1:3] * (PLACE_D * shank_mm)
        if turn == TURNS - 1 or np.abs(move).max() < SETTLED_D * shank_mm:
            break
        centres = centres + np.clip(move, -FARTHEST_D * shank_mm, FARTHEST_D * shank_mm)
        if len(centres) > 3:
            centres = in_row(centres, ASTRAY_D * shank_mm)
    spread = _spread(chance, fit) * (PLACE_D * shank_mm)
    base = oval_base(RAYS)
    lean = (centres - station_mm[:2]) / -station_mm[2]
    over = np.stack([_hull(base, s, head_height_mm) for s in lean])
    numbers = fit * (PLACE_D * shank_mm) - over
    numbers[:, 0] += (MIDDLE_D - LEANS_OUT_D) * shank_mm
    # heads are out of round each in its own direction: an oval that all share is a shade on one side of them
    common = np.median(numbers[:, 3:5], axis=0) if len(numbers) >= LEAST_COMMON else np.zeros(2)
    numbers[:, 3:5] -= common
    lobes = np.hypot(numbers[:, 3], numbers[:, 4])
    rims = [
        Rim(
            (0.0, 0.0),
            2 * float(n[0] + lobe),
            2 * float(n[0] - lobe),
            2 * float(s),
            float(share),
            float(s),
            common_mm=2 * float(np.hypot(*common)),
            turn_rad=float(np.arctan2(n[4], n[3])) / 2,
        )
        for n, lobe, s, share in zip(numbers, lobes, spread, seen.mean(axis=1), strict=True)
    ]
    return _evened(centres + numbers[:, 1:3], 2 * spread), rims


def _evened(places: Floats, sigma_mm: Floats) -> Floats:
    """The places, those of wavering heads drawn towards the even row by as much as that row is the better witness."""
    if len(places) < 4:
        return places
    row = _even_row(places)
    off = places - row
    stray = max(ROW_SIGMA_MM, 1.4826 * float(np.median(np.abs(off))))
    trust = stray**2 / (stray**2 + (CENTRE_SIGMA * sigma_mm) ** 2)
    return np.asarray(row + off * trust[:, None], dtype=np.float64)


def in_row(places: Floats, astray_mm: float) -> Floats:
    """The places, those far from where the straight, even row through most of them has one put back there."""
    row = _even_row(places)
    astray = np.hypot(*(places - row).T) > astray_mm
    return np.where(astray[:, None], row, places)


def _even_row(places: Floats) -> Floats:
    """Where the straight, even row through most of the places has them."""
    number = np.arange(len(places), dtype=np.float64)
    weight = np.ones(len(places))
    row = places
    for _ in range(8):
        fit = np.polyfit(number, places, 1, w=np.sqrt(weight))
        row = number[:, None] * fit[0] + fit[1]
        weight = 1 / np.maximum(np.hypot(*(places - row).T), 0.05)
    return np.asarray(row, dtype=np.float64)


def _spread(chance: Single, fit: Floats) -> Floats:
    """One sigma of each head's radius, in places, if whatever deceives one ray deceives all.

    That is how rims go wrong: another ring all the way round. What the rays say of places away from the oval is
    then the chance that the rim is there, and their scatter about it that of the radius.
    """
    away = np.arange(chance.shape[2]) - (fit @ oval_base(chance.shape[1]).T)[:, :, None]
    return np.asarray(np.sqrt((chance * away**2).sum(axis=2).mean(axis=1)), dtype=np.float64)


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
