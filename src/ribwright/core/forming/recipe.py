"""Which tool, how much tape, how far to turn, in how many passes: the exhaustive search for one section.

Every tool (bare or built up), every place to stop, one pass or two, against every template of the section;
the best few are refined and then tried on the whole fan of sheets, with the hand's and the tape's scatter.
Method: docs/physics/forming.md, "The recipe".
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from ribwright.core.forming.fibre import Array
from ribwright.core.forming.rack import OnTools, Tool, on_tools, tips_in
from ribwright.core.forming.roll import FLAT_SHARE, tape_needed_lbf_per_in, turn_rad
from ribwright.core.forming.scrap import Calibration
from ribwright.core.forming.search import (
    Grid,
    Rolling,
    Rows,
    cloud_in,
    drop_idle_pass,
    expected_per_in,
    farthest_in,
    largest_gap_in,
    moved,
    refined,
    scaled,
    settings,
    windup_at_rad,
)
from ribwright.core.forming.target import Target
from ribwright.core.forming.world import Fan
from ribwright.errors import FormingError, GeometryError, MissingError, OutOfRangeError

KEPT = 6
PASS_WORTH_IN = 0.002
"""A second pass must improve the gap by this much to be proposed."""
BAND_SHEETS = 160
CLOSE_ENOUGH_IN = 0.002
"""A smaller lap of tape is taken when it costs no more gap than this."""


@dataclass(frozen=True, slots=True)
class Pass:
    """One roll.

    Attributes:
        tool: which tool, with its wrap.
        start_in: from the free edge to the tool's lowest line at the start.
        rolled_to_in: from the free edge to the end of the arc.
        turn_deg: how far to turn the tool, measured at the lever of a section without wind-up.
        tip_in: strip at the edge that stands off the tool.
        flat_in: strip at the edge that stays flat.
        torque_lbf_in_per_in: torque that an inch of edge takes.
        windup_deg: how far the farthest point lags.
    """

    tool: Tool
    start_in: float
    rolled_to_in: float
    turn_deg: float
    tip_in: float
    flat_in: float
    torque_lbf_in_per_in: float
    windup_deg: float


@dataclass(frozen=True, slots=True)
class Recipe:
    """The answer for one section between cut-outs.

    Attributes:
        passes: in working order.
        overlap_in: lap of tape.
        gap_in: expected gap to the template at each station (working values).
        gap_low_in, gap_high_in: 95 % band of the largest gap of the section.
        gap_middle_in: median of the largest gap.
        chance: that every station is within the tolerance.
        opening_in: low, middle, high of the opening between mating holes when let go, mean over the stations.
        inner_radius_in: low, middle, high of the plateau of the last pass.
        tried: settings tried.
        expected_per_in: curvature expected at each station in the steps of its target, shape (stations, POINTS - 1).
    """

    passes: tuple[Pass, ...]
    overlap_in: float
    gap_in: tuple[float, ...]
    gap_low_in: float
    gap_middle_in: float
    gap_high_in: float
    chance: float
    opening_in: tuple[float, float, float]
    inner_radius_in: tuple[float, float, float]
    tried: int
    expected_per_in: Array


def _moved_by(on: OnTools, calibrations: tuple[Calibration, ...], rows: Rows) -> OnTools:
    for one in calibrations:
        on = moved(on, one, rows)
    return on


def best_recipe(
    world: Fan,
    *,
    targets: tuple[Target, ...],
    tools: tuple[Tool, ...],
    rolling: Rolling,
    tolerance_in: float,
    length_in: float,
    calibrations: tuple[Calibration, ...] = (),
    two_passes: bool = True,
) -> Recipe:
    """Search every setting for a section of the edge.

    Args:
        world: the fan of sheets.
        targets: templates of the section, stations in order; station 0 is the lever's end.
        tools: tools on hand, bare or built up.
        rolling: tape, hold-down, levers.
        tolerance_in: gap to the template that is good enough.
        length_in: length of the section along the span.
        calibrations: from scraps and earlier rolls of the same lot, in the order in which they were weighed.
        two_passes: allow a second pass with a smaller tool.

    Raises:
        MissingError: no template or no tool.
        GeometryError: stations out of order.
        OutOfRangeError: tolerance, tape or lengths that can't be.
        FormingError: the edge can't be laid on any of the tools, or all are too large for the sheet's width.
    """
    _refuse(targets, tools, rolling, tolerance_in, length_in)
    radii = np.array([tool.radius_in for tool in tools])
    middle = on_tools(world, radii, held_in=rolling.held_in, rows=np.array([0], dtype=np.intp))
    rows = np.arange(min(BAND_SHEETS, world.yield_factor.size), dtype=np.intp)
    if calibrations:
        # the search itself must look where this lot of sheet lies, not only its band
        whole = on_tools(world, radii, held_in=rolling.held_in, rows=rows)
        centre = np.median(_moved_by(whole, calibrations, rows).left_per_in, axis=0)
        middle = scaled(middle, centre[None, :] / np.maximum(middle.left_per_in, 1e-9))
    overlap = max(rolling.overlaps_in)
    tips = tips_in(middle.moment_lbf[0], radii, np.array(rolling.tape_shear_psi * overlap))
    usable = _usable(targets, radii, tips, middle, rolling.tape_shear_psi * overlap)
    windup = windup_at_rad(targets, tools, middle.moment_lbf[0], rolling, length_in)
    grid = settings(targets, usable, tips, two_passes=two_passes)
    gaps = largest_gap_in(grid, targets, middle, radii, tips, windup)
    order = np.argsort(gaps, kind="stable")
    tried = gaps.size
    finalists: list[tuple[float, Array, Array]] = []
    seen: set[tuple[int, int]] = set()
    for at in order:
        pair = (int(grid.tool[at, 0]), int(grid.tool[at, 1]) if grid.end[at, 1] > 0.0 else -1)
        if pair in seen:
            continue
        seen.add(pair)
        tool, end, gap, more = refined(grid.tool[at], grid.end[at], targets, middle, radii, tips, windup)
        tried += more
        tool, end = drop_idle_pass(tool, end, targets, middle, radii, tips, windup, worth_in=PASS_WORTH_IN)
        finalists.append((gap, tool, end))
        if len(finalists) == KEPT:
            break
    used = np.unique(np.concatenate([tool.astype(np.intp) for _, tool, _ in finalists]))
    fan_on = on_tools(world, radii[used], held_in=rolling.held_in, rows=rows)
    fan_on = _moved_by(fan_on, calibrations, rows)
    best: tuple[tuple[float, float], Array, Array, tuple[Array, Array]] | None = None
    for _, tool, end in finalists:
        cloud = cloud_in(
            np.searchsorted(used, tool.astype(np.intp)),
            end,
            targets,
            fan_on,
            radii[used],
            overlap,
            rolling,
            windup[used],
        )
        chance = float(np.mean(cloud[0] <= tolerance_in))
        # chances that differ by less than the fan resolves are equal; then the smaller median wins
        rank = (-round(chance * 25.0), float(np.median(cloud[0])))
        if best is None or rank < best[0]:
            best = (rank, tool, end, cloud)
    assert best is not None
    _, tool, end, cloud = best
    lap, tips = _least_overlap(tool, end, targets, middle, radii, tips, windup, rolling)
    if lap < overlap:
        cloud = cloud_in(
            np.searchsorted(used, tool.astype(np.intp)),
            end,
            targets,
            fan_on,
            radii[used],
            lap,
            rolling,
            windup[used],
        )
    overlap = lap
    return _as_recipe(
        tool.astype(np.intp),
        end,
        cloud,
        targets,
        tools,
        middle,
        fan_on,
        used,
        tips,
        windup,
        overlap,
        rolling,
        tolerance_in,
        tried,
    )


def _as_recipe(
    tool: Rows,
    end: Array,
    cloud: tuple[Array, Array],
    targets: tuple[Target, ...],
    tools: tuple[Tool, ...],
    middle: OnTools,
    fan_on: OnTools,
    used: Rows,
    tips: Array,
    windup: Array,
    overlap: float,
    rolling: Rolling,
    tolerance_in: float,
    tried: int,
) -> Recipe:
    radii = np.array([t.radius_in for t in tools])
    passes: list[Pass] = []
    for i, stop in zip(tool, end, strict=True):
        if stop <= 0.0:
            continue
        start = float(tips[i])
        pitch = tools[i].radius_in
        turn = turn_rad(
            rolled_to_in=stop, start_in=start, pitch_radius_in=pitch, lag_rad=float(middle.lag_rad[i])
        )
        passes.append(
            Pass(
                tool=tools[i],
                start_in=start,
                rolled_to_in=float(stop),
                turn_deg=float(np.degrees(turn)),
                tip_in=start,
                flat_in=FLAT_SHARE * start,
                torque_lbf_in_per_in=float(middle.moment_lbf[0, i]),
                windup_deg=float(np.degrees(np.max(windup[i]))),
            )
        )
    grid = Grid(np.asarray(tool, dtype=np.float64)[None, :], end[None, :])
    each = tuple(
        float(largest_gap_in(grid, (target,), middle, radii, tips, windup[:, [n]])[0])
        for n, target in enumerate(targets)
    )
    last = int(tool[1] if end[1] > 0.0 else tool[0])
    left = fan_on.left_per_in[:, int(np.searchsorted(used, last))]
    low, mid, high = np.quantile(left, [0.025, 0.5, 0.975])
    gaps, opens = cloud
    gap_low, gap_mid, gap_high = np.quantile(gaps, [0.025, 0.5, 0.975])
    open_low, open_mid, open_high = (float(a) for a in np.quantile(opens, [0.025, 0.5, 0.975]))

    half = 0.5 * float(middle.thickness_in)

    def inner(k: float) -> float:
        return 1.0 / k - half if k > 1e-3 else 1e3

    return Recipe(
        passes=tuple(passes),
        overlap_in=overlap,
        gap_in=each,
        gap_low_in=float(gap_low),
        gap_middle_in=float(gap_mid),
        gap_high_in=float(gap_high),
        chance=float(np.mean(gaps <= tolerance_in)),
        opening_in=(open_low, open_mid, open_high),
        inner_radius_in=(inner(float(high)), inner(float(mid)), inner(float(low))),
        tried=tried,
        expected_per_in=expected_per_in(grid, targets, middle, radii, tips, windup),
    )


def _least_overlap(
    tool: Array,
    end: Array,
    targets: tuple[Target, ...],
    middle: OnTools,
    radii: Array,
    tips: Array,
    windup: Array,
    rolling: Rolling,
) -> tuple[float, Array]:
    """The smallest lap of tape that costs next to nothing, and the tips that go with it."""
    grid = Grid(tool[None, :], end[None, :])
    best = float(largest_gap_in(grid, targets, middle, radii, tips, windup)[0])
    for lap in sorted(rolling.overlaps_in):
        own = tips_in(middle.moment_lbf[0], radii, np.array(rolling.tape_shear_psi * lap))
        made = tool.astype(np.intp)[end > 0.0]
        if bool(np.all(own[made] < np.minimum(radii[made], end[end > 0.0]))):
            gap = float(largest_gap_in(grid, targets, middle, radii, own, windup)[0])
            if gap <= best + CLOSE_ENOUGH_IN:
                return lap, own
    return max(rolling.overlaps_in), tips


def _usable(targets: tuple[Target, ...], radii: Array, tips: Array, on: OnTools, tape: float) -> Rows:
    lies = tips <= radii
    if not bool(np.any(lies)):
        needed = tape_needed_lbf_per_in(moment_lbf_in_per_in=on.moment_lbf[0], tool_radius_in=radii)
        raise FormingError(
            "tape",
            because="the edge can't be laid on any of the tools: the tape lets go first",
            found=f"{tape:.1f} lb an inch of edge",
            allowed=f"{float(np.min(needed)):.1f} lb an inch or more",
            mend="lap more tape on the sheet, use stronger tape, clamp the edge, or a larger tool",
        )
    width = farthest_in(targets)
    fits = lies & (tips < 0.95 * width)
    if not bool(np.any(fits)):
        raise FormingError(
            "tools",
            because="every tool is too large for the width that is rolled",
            found=f"a strip of {float(np.min(tips[lies])):.2f} in stands off, {width:.2f} in are to be rolled",
            allowed=f"under {0.95 * width:.2f} in",
            mend="use a smaller tool or more tape",
        )
    return np.flatnonzero(fits)


def _refuse(
    targets: tuple[Target, ...],
    tools: tuple[Tool, ...],
    rolling: Rolling,
    tolerance_in: float,
    length_in: float,
) -> None:
    if not targets:
        raise MissingError("templates", mend="enter at least one template of this section")
    if not tools:
        raise MissingError("tools", mend="enter at least one round tool with its measured diameter")
    stations = [target.station_in for target in targets]
    if any(b <= a for a, b in pairwise(stations)):
        raise GeometryError(
            "stations",
            because="the stations are out of order",
            found=", ".join(f"{s:g}" for s in stations[:12]),
            allowed="each further from the lever's end than the one before",
            mend="enter them in order along the span",
        )
    if not rolling.overlaps_in or not all(0.05 <= a <= 6.0 for a in rolling.overlaps_in):
        raise OutOfRangeError("tape overlap", found=rolling.overlaps_in, allowed="0.05 to 6 in")
    for field, value, low, high, unit in (
        ("tape strength", rolling.tape_shear_psi, 0.5, 5000.0, "psi"),
        ("tolerance", tolerance_in, 0.001, 1.0, "in"),
        ("section length", length_in, 0.5, 400.0, "in"),
    ):
        if not low <= value <= high:
            raise OutOfRangeError(field, found=f"{value:g} {unit}", allowed=f"{low:g} to {high:g} {unit}")
    if rolling.levers not in (1, 2):
        raise OutOfRangeError("levers", found=rolling.levers, allowed="1 or 2")
