"""The inner part of the recipe search: settings as arrays, their gaps, and the same on the fan of sheets.

Method: docs/physics/forming.md, "The recipe".
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from ribwright.core.forming.fibre import Array
from ribwright.core.forming.profile_compiled import gaps_in, profiles_in, rolled_gaps_in
from ribwright.core.forming.rack import OnTools, Tool, tips_in
from ribwright.core.forming.roll import windup_along_rad
from ribwright.core.forming.scrap import Calibration, calibrated
from ribwright.core.forming.target import POINTS, Target

ENDS = 22
MOST_PAIRS = 4000
TURN_LIMITS_DEG = 5.0
TAPE_LIMITS_SHARE = 0.30

Rows = NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class Rolling:
    """How the edge is held and turned.

    Attributes:
        tape_shear_psi: of the tape on the sheet, from a pull test or the working value.
        overlaps_in: laps of tape to choose from.
        held_in: tool centre line to the held part when the roll ends.
        levers: 1 or 2 (both ends).
    """

    tape_shear_psi: float
    overlaps_in: tuple[float, ...]
    held_in: float
    levers: int = 1


@dataclass(frozen=True, slots=True)
class Grid:
    """Settings as arrays: tools and ends of one or two passes, shape (settings, 2); an unused pass ends at 0."""

    tool: Array
    end: Array


def settings(targets: tuple[Target, ...], usable: Rows, tips: Array, *, two_passes: bool) -> Grid:
    least = min(target.arc_end_in for target in targets)
    ends = np.linspace(0.45 * least, farthest_in(targets), ENDS)
    singles = [(float(i), float(i), e, 0.0) for i in usable for e in ends if e > tips[int(i)]]
    pairs: list[tuple[float, float, float, float]] = []
    if two_passes:
        coarse = ends[::2]
        for i in usable:
            for j in usable:
                if j < i:  # the second tool is the smaller one, rolled less far
                    pairs += [
                        (float(i), float(j), a, b) for a in coarse for b in coarse if tips[int(j)] < b < a
                    ]
    if len(pairs) > MOST_PAIRS:
        pairs = pairs[:: len(pairs) // MOST_PAIRS + 1]
    rows = np.array(singles + pairs)
    return Grid(tool=rows[:, :2], end=rows[:, 2:])


def farthest_in(targets: tuple[Target, ...]) -> float:
    """The farthest place to stop that is worth trying."""
    return float(min(1.2 * max(target.arc_end_in for target in targets), width_in(targets)))


def largest_gap_in(
    grid: Grid, targets: tuple[Target, ...], on: OnTools, radii: Array, tips: Array, windup: Array
) -> Array:
    """Largest gap over the stations for every setting, working sheet; shape (settings,)."""
    count, stations = grid.end.shape[0], len(targets)
    tool = np.repeat(grid.tool.astype(np.int64), stations, axis=0)
    station = np.tile(np.arange(stations), count)
    end = np.repeat(grid.end, stations, axis=0)
    pitch = radii[tool]
    end = np.where(end > 0.0, np.maximum(end - pitch * windup[tool, station[:, None]], 1e-3), 0.0)
    gaps = rolled_gaps_in(
        step_in=np.array([t.step_in for t in targets])[station],
        tip_in=tips[tool],
        end_in=end,
        fall_in=on.fall_in[tool],
        table_per_in=np.ascontiguousarray(on.table_per_in[0]),
        row=tool,
        targets=np.stack([t.points_in for t in targets]),
        normals=np.stack([t.normals for t in targets]),
        which=station,
    )
    return np.asarray(gaps.reshape(count, stations).max(axis=1))


def expected_per_in(
    grid: Grid, targets: tuple[Target, ...], on: OnTools, radii: Array, tips: Array, windup: Array
) -> Array:
    """Curvature left at every station by one setting, working sheet; shape (stations, POINTS - 1)."""
    stations = len(targets)
    tool = np.repeat(grid.tool[:1].astype(np.int64), stations, axis=0)
    end = np.repeat(grid.end[:1], stations, axis=0)
    lag = radii[tool] * windup[tool, np.arange(stations)[:, None]]
    curvature, _ = profiles_in(
        step_in=np.array([t.step_in for t in targets]),
        tip_in=tips[tool],
        end_in=np.where(end > 0.0, np.maximum(end - lag, 1e-3), 0.0),
        fall_in=on.fall_in[tool],
        table_per_in=np.ascontiguousarray(on.table_per_in[0]),
        row=tool,
        points=POINTS,
    )
    return curvature


def refined(
    tool: Array,
    end: Array,
    targets: tuple[Target, ...],
    on: OnTools,
    radii: Array,
    tips: Array,
    windup: Array,
) -> tuple[Array, Array, float, int]:
    """Finer places to stop round a good setting, by shrinking grids."""
    span = width_in(targets) * 0.06
    tried = 0
    gap = np.inf
    for _ in range(4):
        offsets = np.linspace(-span, span, 9)
        first = np.maximum(end[0] + offsets, tips[int(tool[0])] * 1.02)
        second = np.maximum(end[1] + offsets, 1e-3) if end[1] > 0.0 else np.zeros(1)
        ends = np.array([(a, b) for a in first for b in second])
        grid = Grid(np.broadcast_to(tool, ends.shape).copy(), ends)
        gaps = largest_gap_in(grid, targets, on, radii, tips, windup)
        tried += gaps.size
        at = int(np.argmin(gaps))
        end, gap = ends[at], float(gaps[at])
        span *= 0.3
    return tool, end, gap, tried


def cloud_in(
    tool: Rows,
    end: Array,
    targets: tuple[Target, ...],
    on: OnTools,
    radii: Array,
    overlap: float,
    rolling: Rolling,
    windup: Array,
) -> tuple[Array, Array]:
    """Largest gap and mean opening of the section for every sheet of the fan, hand and tape scattered; shape (m,)."""
    m, stations = on.moment_lbf.shape[0], len(targets)
    hand, pull = _scatter(m)
    tape = rolling.tape_shear_psi * overlap * (1.0 + 0.5 * TAPE_LIMITS_SHARE * pull)
    tips = tips_in(on.moment_lbf, radii, tape[:, None])
    # a sheet that the tape can't lay on the tool stands off along its whole arc
    tips = np.minimum(tips, 20.0 * radii)
    tables = np.ascontiguousarray(on.table_per_in.reshape(m * radii.size, -1))
    sheet = np.repeat(np.arange(m), stations)
    station = np.tile(np.arange(stations), m)
    columns = np.broadcast_to(tool, (m * stations, 2))
    shift = np.radians(0.5 * TURN_LIMITS_DEG) * hand[sheet]
    stop = end[None, :] + radii[columns] * (shift[:, None] - windup[columns, station[:, None]])
    stop = np.where(end[None, :] > 0.0, np.maximum(stop, 1e-3), 0.0)
    _, profiles = profiles_in(
        step_in=np.array([t.step_in for t in targets])[station],
        tip_in=tips[sheet[:, None], columns],
        end_in=stop,
        fall_in=on.fall_in[columns],
        table_per_in=tables,
        row=(sheet[:, None] * radii.size + columns).astype(np.int64),
        points=POINTS,
    )
    gaps = gaps_in(
        profiles, np.stack([t.points_in for t in targets]), np.stack([t.normals for t in targets]), station
    )
    opens = edge_openings_in(profiles, targets, station)
    return np.asarray(gaps.reshape(m, stations).max(axis=1)), opens.reshape(m, stations).mean(axis=1)


def edge_openings_in(profiles: Array, targets: tuple[Target, ...], which: Rows) -> Array:
    """Opening between mating holes of two such skins, each held true at its inner end; positive stands open."""

    def rise(points: Array) -> Array:
        along = points[..., -1, :] - points[..., -2, :]
        along = along / np.linalg.norm(along, axis=-1, keepdims=True)
        edge = points[..., 0, :] - points[..., -1, :]
        return np.asarray(-along[..., 1] * edge[..., 0] + along[..., 0] * edge[..., 1])

    wanted = rise(np.stack([t.points_in for t in targets]))
    return np.asarray(2.0 * (np.abs(wanted[which]) - np.copysign(1.0, wanted[which]) * rise(profiles)))


def drop_idle_pass(
    tool: Array,
    end: Array,
    targets: tuple[Target, ...],
    on: OnTools,
    radii: Array,
    tips: Array,
    windup: Array,
    *,
    worth_in: float,
) -> tuple[Array, Array]:
    """Leave a pass out when the shape is as good without it."""
    if end[1] <= 0.0:
        return tool, end
    tools = np.array([tool, [tool[0], tool[0]], [tool[1], tool[1]]])
    ends = np.array([end, [end[0], 0.0], [end[1], 0.0]])
    both, first, second = largest_gap_in(Grid(tools, ends), targets, on, radii, tips, windup)
    if min(first, second) <= both + worth_in:
        at = 1 if first <= second else 2
        return tools[at], ends[at]
    return tool, end


def moved(on: OnTools, calibration: Calibration, rows: Rows) -> OnTools:
    """The fan after the scrap: curvature left is corrected, its shape against the moment kept."""
    part = Calibration(
        calibration.scrap_per_in[rows],
        calibration.gap_per_in[rows],
        calibration.reading_variance,
        calibration.surprise,
        calibration.expected_low_in,
        calibration.expected_in,
        calibration.expected_high_in,
    )
    left = np.maximum(calibrated(on.left_per_in, part), 0.0)
    return scaled(on, left / np.maximum(on.left_per_in, 1e-9))


def scaled(on: OnTools, ratio: Array) -> OnTools:
    """The curvature left on each tool times ``ratio``, its shape against the moment kept."""
    return OnTools(
        on.moment_lbf,
        on.left_per_in * ratio,
        on.lag_rad,
        on.fall_in,
        on.table_per_in * ratio[:, :, None],
        on.thickness_in,
    )


def windup_at_rad(
    targets: tuple[Target, ...], tools: tuple[Tool, ...], moment: Array, rolling: Rolling, length_in: float
) -> Array:
    """Lag of each tool behind its lever at each station; shape (tools, stations)."""
    first = targets[0].station_in
    place = np.clip(np.array([t.station_in - first for t in targets]), 0.0, length_in)
    return windup_along_rad(
        place_in=place[None, :],
        torque_lbf_in_per_in=moment[:, None],
        length_in=length_in,
        shear_modulus_psi=np.array([t.shear_modulus_psi for t in tools])[:, None],
        polar_moment_in4=np.array([t.polar_in4 for t in tools])[:, None],
        levers=rolling.levers,
    )


def width_in(targets: tuple[Target, ...]) -> float:
    return max(target.step_in for target in targets) * (POINTS - 1)


@lru_cache(maxsize=8)
def _scatter(count: int) -> tuple[Array, Array]:
    """Fixed standard normal values for the hand's turn and the tape's strength."""
    inverse = NormalDist().inv_cdf
    places = [((0.5 + alpha * np.arange(count)) % 1.0) for alpha in (0.7320508075688772, 0.4142135623730951)]
    out = [np.array([inverse(float(np.clip(p, 1e-3, 1 - 1e-3))) for p in row]) for row in places]
    return out[0], out[1]
