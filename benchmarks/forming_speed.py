"""Speed of the rolled edge: the floor first, then the product, then ratios in the same run."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
from figures import figure

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "src"))

from ribwright.core.forming.chain import RollSetup, roll_chain
from ribwright.core.forming.cyclic import release_layers
from ribwright.core.forming.profile_compiled import profiles_in
from ribwright.core.forming.rack import Tool, on_tools, tips_in
from ribwright.core.forming.recipe import best_recipe
from ribwright.core.forming.search import Grid, Rolling, largest_gap_in
from ribwright.core.forming.section import Layer, Sheet, moment_lbf, release_masing_per_in, table_of
from ribwright.core.forming.target import POINTS, circle_target
from ribwright.core.forming.world import Prior, fan

FE_SECONDS = {"W01": 181.3, "A01": 10.1}  # the solver's own wall seconds, one thread, as its case file says


def best_of(run: Callable[[], object], times: int = 15) -> float:
    """Fastest of some runs, seconds."""
    found = []
    for _ in range(times):
        begun = time.perf_counter()
        run()
        found.append(time.perf_counter() - begun)
    return min(found)


def by_numpy_s(stations: int, points: int) -> float:
    """One pass by numpy: curvature looked up and summed to a line, all stations at once."""
    shares = np.random.default_rng(3).uniform(0, 1, (stations, points))
    grid, values = np.linspace(0, 1, 384), np.linspace(0, 1, 384)

    def run() -> object:
        angle = np.cumsum(np.interp(shares, grid, values) * 0.011, axis=1)
        return np.cumsum(np.cos(angle), axis=1), np.cumsum(np.sin(angle), axis=1)

    return best_of(run)


def main() -> None:
    sheet = Sheet(0.016, 10.5e6, 0.33, Layer(47e3, 12.0))
    stations, points, passes = 60, POINTS, 3
    angles = np.random.default_rng(1).uniform(0, 1.5, stations * points)
    grid, values = np.linspace(0, 1, 384), np.linspace(0, 1, 384)
    shares = np.random.default_rng(2).uniform(0, 1, stations * points)
    floor_trig = best_of(lambda: (np.sin(angles), np.cos(angles)))
    floor_look = best_of(lambda: np.interp(shares, grid, values))
    print(
        f"floor: 12,000 sines and cosines {1e3 * floor_trig:.3f} ms, one table look-up a point {1e3 * floor_look:.3f} ms"
    )

    world = fan(sheet, Prior())
    radii = np.array([0.42, 0.525, 0.6575, 0.83])
    on = on_tools(world, radii, held_in=0.5, rows=np.array([0]))
    tips = tips_in(on.moment_lbf[0], radii, np.array(20.0))
    rows = np.tile(np.array([3, 2, 1]), (stations, 1))
    ends = np.linspace(1.0, 1.6, stations)[:, None] * np.array([1.0, 0.9, 0.7])
    table = np.ascontiguousarray(on.table_per_in[0])
    step = np.full(stations, 0.011)

    def edge() -> object:
        return profiles_in(
            step_in=step,
            tip_in=tips[rows],
            end_in=ends,
            fall_in=on.fall_in[rows],
            table_per_in=table,
            row=rows,
            points=points,
        )

    edge()
    t_edge = best_of(edge, 50)
    print(
        f"full edge, {stations} stations x {points} points x {passes} passes: {1e3 * t_edge:.3f} ms (goal 1 ms)"
    )

    line = np.empty((stations, points, 2))
    floor_line = best_of(lambda: line.fill(1.0), 50)
    figure(
        f"a full edge, {stations} stations", 1e3 * t_edge / passes, "ms by the clock a pass", floor=("so many points written", 1e3 * floor_line),
        against=("the same by numpy, a pass", 1e3 * by_numpy_s(stations, points)),
    )  # fmt: skip

    targets = tuple(
        circle_target(
            station_in=float(z),
            inner_radius_in=1.30 - 0.45 * z / 59,
            arc_deg=85.0,
            thickness_in=0.016,
            flat_in=0.5,
        )
        for z in range(60)
    )
    settings = 200
    tool = np.stack([np.arange(settings) % 4, np.maximum(np.arange(settings) % 4 - 1, 0)], axis=1).astype(
        float
    )
    end = np.stack([np.linspace(0.9, 2.0, settings), np.where(np.arange(settings) % 2, 0.8, 0.0)], axis=1)
    windup = np.zeros((4, 60))
    run = lambda: largest_gap_in(Grid(tool, end), targets, on, radii, tips, windup)  # noqa: E731
    run()
    t_inverse = best_of(run, 5)
    print(f"inverse, {settings} settings x 60 stations x {points} points: {t_inverse:.3f} s (goal .25 s)")

    # the best of a fine exhaustive search against what the recipe finds, three stations
    three = targets[10:40:14]
    rolling = Rolling(tape_shear_psi=20.0, overlaps_in=(1.0,), held_in=0.5)
    rack = tuple(Tool(f"{2 * r}", 2 * float(r), 0.0, 1e9) for r in radii)
    recipe = best_recipe(
        world, targets=three, tools=rack, rolling=rolling, tolerance_in=0.03, length_in=60.0, two_passes=False
    )
    fine_ends = np.arange(0.5, 2.2, 0.002)
    fine = min(
        float(np.min(largest_gap_in(Grid(np.full((fine_ends.size, 2), float(i)), np.column_stack([fine_ends, 0 * fine_ends])), three, on, radii, tips, np.zeros((4, 3)))))
        for i in range(4)
    )  # fmt: skip
    mine = max(recipe.gap_in)
    print(
        f"one pass: exhaustive fine search {25.4 * fine:.3f} mm, recipe {25.4 * mine:.3f} mm (goal within .1 mm)"
    )

    k = np.array([1 / 0.533])
    t_table = best_of(lambda: release_masing_per_in(table_of(sheet), k))
    t_layers = best_of(lambda: release_layers(sheet, paths_per_in=k[:, None]), 3)
    print(
        f"pure bend with its table {1e3 * t_table:.1f} ms, by layers {1e3 * t_layers:.1f} ms; solver {FE_SECONDS['A01']} s: {FE_SECONDS['A01'] / t_table:,.0f} x"
    )
    setup = RollSetup(0.525, np.radians(60), 0.25, 10 * 145.04, 10 / 25.4, 2000 * 145.04 * 25.4)
    sheet_table = table_of(sheet)
    t_chain = best_of(lambda: roll_chain(sheet_table, setup), 2)
    one = best_of(
        lambda: (
            moment_lbf(sheet_table, k),
            profiles_in(
                step_in=step[:1],
                tip_in=tips[rows[:1]],
                end_in=ends[:1],
                fall_in=on.fall_in[rows[:1]],
                table_per_in=table,
                row=rows[:1],
                points=points,
            ),
        ),
        20,
    )
    print(
        f"same roll: chain {t_chain:.2f} s ({FE_SECONDS['W01'] / t_chain:,.0f} x), recipe's profile {1e3 * one:.3f} ms ({FE_SECONDS['W01'] / one:,.0f} x); solver {FE_SECONDS['W01']} s"
    )
    figure(
        "one roll as the recipe works it out", 1e3 * one, "ms by the clock", floor=("its points written", 1e3 * floor_line / stations),
        against=("the chain, step by step", 1e3 * t_chain),
    )  # fmt: skip


if __name__ == "__main__":
    main()
