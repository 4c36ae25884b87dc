"""Tip, tail, profiles, targets, recipe, scrap, closing, next pass, bends' order, calculations."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import pytest

from ribwright.core.audit import read
from ribwright.core.audit.calculation import CALCULATIONS
from ribwright.core.forming import (
    bend_calculations,
    closing_calculations,
    flange_calculations,
    nose_roll,
    roll_calculations,
)
from ribwright.core.forming.chain import RollSetup, roll_chain
from ribwright.core.forming.closing import closed_nose, opening_in, radius_from_opening_in
from ribwright.core.forming.flat import Brake, bend_order
from ribwright.core.forming.next_pass import next_pass, verdict_from_opening
from ribwright.core.forming.profile_compiled import gaps_in, profiles_in
from ribwright.core.forming.rack import Tool, built_up, on_tools, radius_for_in, tips_in
from ribwright.core.forming.recipe import best_recipe
from ribwright.core.forming.roll import tail, tape_needed_lbf_per_in, tip_length_in, windup_along_rad
from ribwright.core.forming.scrap import (
    ScrapReading,
    bare_reading_ratio,
    calibrate,
    calibrate_lot,
    calibrated,
    gain_from_reading,
    reading_of,
)
from ribwright.core.forming.search import Grid, Rolling, largest_gap_in
from ribwright.core.forming.section import Layer, Sheet, moment_lbf, table_of
from ribwright.core.forming.target import (
    circle_target,
    ellipse_target,
    half_thickness_radius_in,
    points_target,
)
from ribwright.core.forming.world import Prior, after_tool_per_in, expected_radius_in, fan
from ribwright.errors import (
    FormingError,
    GeometryError,
    InputError,
    MissingError,
    OutOfRangeError,
    OutsideTableError,
)

SHEET = Sheet(0.016, 10.5e6, 0.33, Layer(47_000.0, 12.0))
WORLD = fan(SHEET, Prior())
RACK = tuple(Tool(f"{d}", d, 0.0, 11.5e6) for d in (0.84, 1.05, 1.315, 1.66))
ROLLING = Rolling(tape_shear_psi=30.0, overlaps_in=(0.5, 0.75, 1.0), held_in=0.5)


def nose(radius: float = 1.0, station: float = 0.0, arc: float = 85.0) -> Any:
    return circle_target(
        station_in=station, inner_radius_in=radius, arc_deg=arc, thickness_in=0.016, flat_in=0.5
    )


def test_tip_is_in_balance() -> None:
    m, r, t = 3.63, 0.525, 10.0
    tip = float(tip_length_in(moment_lbf_in_per_in=m, tool_radius_in=r, tape_lbf_per_in=t))
    assert t * tip * np.sin(2 * np.arctan(tip / r)) == pytest.approx(m)
    least = float(tape_needed_lbf_per_in(moment_lbf_in_per_in=m, tool_radius_in=r))
    assert float(
        tip_length_in(moment_lbf_in_per_in=m, tool_radius_in=r, tape_lbf_per_in=least)
    ) == pytest.approx(r)
    assert tip_length_in(moment_lbf_in_per_in=m, tool_radius_in=r, tape_lbf_per_in=0.5 * least) == np.inf


def test_tip_and_tail_agree_with_the_chain() -> None:
    """The fast forms against the whole mechanical problem: tape load within 4 %, lift-off within .03 rad."""
    table = table_of(SHEET)
    setup = RollSetup(0.525, np.radians(60), 0.25, 1450.4, 10 / 25.4, 2000 * 145.04 * 25.4)
    strip = roll_chain(table, setup, memory=False)
    touching = np.flatnonzero(strip.in_contact)
    length = 0.25 + 0.533 * np.radians(60) + 10 / 25.4
    tip = length - touching.max() * strip.link_in
    m = float(moment_lbf(table, [1 / 0.533])[0, 0])
    assert strip.tape_lbf_per_in == pytest.approx(m / (tip * np.sin(2 * np.arctan(tip / 0.525))), rel=0.06)
    lag, _ = tail(table, tool_radius_in=0.525, held_in=10 / 25.4)
    angle = float(np.arctan2(*(strip.loaded_in[touching.min()] - [-10 / 25.4, 0.533]) * [-1, -1]))
    assert float(lag[0]) == pytest.approx(angle, abs=0.035)


def test_two_levers_quarter_the_lag() -> None:
    at = {
        "torque_lbf_in_per_in": 3.0,
        "length_in": 40.0,
        "shear_modulus_psi": 1.45e5,
        "polar_moment_in4": 0.07,
    }
    one = windup_along_rad(place_in=np.array([0.0, 40.0]), **at, levers=1)
    two = windup_along_rad(place_in=np.array([0.0, 20.0, 40.0]), **at, levers=2)
    assert one[0] == 0.0
    assert two[1] == pytest.approx(one[1] / 4)
    assert two[2] == pytest.approx(0.0, abs=1e-12)


def test_profile_of_constant_curvature_is_its_circle() -> None:
    k, n = 0.8, 200
    step = np.array([2.0 / (n - 1)])
    curvature, points = profiles_in(
        step_in=step, tip_in=np.array([[1e-9]]), end_in=np.array([[9.0]]), fall_in=np.array([[1.0]]),
        table_per_in=np.full((1, 65), k), row=np.zeros((1, 1), dtype=np.int64), points=n,
    )  # fmt: skip
    s = np.arange(n) * step[0]
    np.testing.assert_allclose(points[0], np.column_stack([np.sin(k * s), 1 - np.cos(k * s)]) / k, atol=1e-12)
    np.testing.assert_allclose(curvature, k)


def test_gap_does_not_see_a_rigid_motion() -> None:
    target = nose()
    c, s = np.cos(0.7), np.sin(0.7)
    moved = target.points_in @ np.array([[c, s], [-s, c]]) + [3.0, -2.0]
    gap = gaps_in(moved[None], target.points_in[None], target.normals[None], np.zeros(1, dtype=np.int64))
    assert gap[0] < 1e-9


def test_second_pass_on_the_same_tool_changes_nothing() -> None:
    on = on_tools(WORLD, np.array([0.525]), held_in=0.5, rows=np.array([0]))
    tips = tips_in(on.moment_lbf[0], np.array([0.525]), np.array(30.0))
    grid = Grid(np.zeros((2, 2)), np.array([[1.5, 0.0], [1.5, 1.5]]))
    gaps = largest_gap_in(grid, (nose(),), on, np.array([0.525]), tips, np.zeros((1, 1)))
    assert gaps[0] == gaps[1]


def test_recipe_of_a_nose_that_a_tool_makes_is_close() -> None:
    left = float(1.0 / np.median(after_tool_per_in(WORLD, 0.525))) - 0.008
    recipe = best_recipe(
        WORLD, targets=(nose(left),), tools=RACK, rolling=ROLLING, tolerance_in=1 / 32, length_in=10.0
    )
    assert recipe.gap_low_in <= recipe.gap_middle_in <= recipe.gap_high_in
    assert recipe.gap_in[0] < 0.02
    assert 0.0 <= recipe.chance <= 1.0
    assert recipe.inner_radius_in[0] < left < recipe.inner_radius_in[2]


def test_smaller_tool_for_the_tighter_end() -> None:
    tight = best_recipe(
        WORLD,
        targets=(nose(0.8),),
        tools=RACK,
        rolling=ROLLING,
        tolerance_in=1 / 32,
        length_in=5.0,
        two_passes=False,
    )
    wide = best_recipe(
        WORLD,
        targets=(nose(1.6),),
        tools=RACK,
        rolling=ROLLING,
        tolerance_in=1 / 32,
        length_in=5.0,
        two_passes=False,
    )
    assert tight.passes[0].tool.radius_in < wide.passes[0].tool.radius_in


def test_half_inch_of_tape_works_and_a_quarter_does_not_lay_the_edge_far() -> None:
    """Common practice, no source: 1/2 in or more works on .016 to .020, 1/4 in does not bend the edge far enough."""
    on = on_tools(WORLD, np.array([0.525]), held_in=0.5, rows=np.array([0]))
    quarter, half = (
        float(tips_in(on.moment_lbf[0], np.array([0.525]), np.array(30.0 * a))[0]) for a in (0.25, 0.5)
    )
    assert half < 0.32 < 0.48 < quarter


def test_refusals_name_the_mend() -> None:
    at: dict[str, Any] = {
        "targets": (nose(),),
        "tools": RACK,
        "rolling": ROLLING,
        "tolerance_in": 1 / 32,
        "length_in": 10.0,
    }
    with pytest.raises(FormingError, match="tape"):
        best_recipe(WORLD, **(at | {"rolling": dataclasses.replace(ROLLING, tape_shear_psi=3.0)}))
    with pytest.raises(FormingError, match="too large"):
        best_recipe(WORLD, **(at | {"targets": (nose(0.1, arc=20.0),), "tools": (Tool("drum", 9.0),)}))
    with pytest.raises(GeometryError, match="out of order"):
        best_recipe(WORLD, **(at | {"targets": (nose(station=4.0), nose(station=1.0))}))
    with pytest.raises(MissingError):
        best_recipe(WORLD, **(at | {"tools": ()}))
    with pytest.raises(OutOfRangeError):
        best_recipe(WORLD, **(at | {"tolerance_in": np.nan}))
    with pytest.raises(FormingError, match="no tool"):
        radius_for_in(WORLD, inner_radius_in=0.03)


def test_built_up_tools_are_sorted_and_distinct() -> None:
    tools = built_up(RACK, wrap_in=0.016, most_turns=3)
    radii = [tool.radius_in for tool in tools]
    assert radii == sorted(radii)
    assert len(tools) == 16


def test_targets() -> None:
    assert float(
        half_thickness_radius_in(chord_in=36.0, thickness_share=0.10, hinge_share=0.6)
    ) == pytest.approx(1.37, abs=0.005)
    made = nose(1.0)
    a = np.radians(np.linspace(0, 85, 60))
    drawn = points_target(
        station_in=0.0, points_in=np.column_stack([np.sin(a), 1 - np.cos(a)]), thickness_in=0.016
    )
    assert drawn.step_in * 199 == pytest.approx(1.008 * np.radians(85), rel=0.02)
    assert np.max(made.curvature_per_in) == pytest.approx(1 / 1.008)
    egg = ellipse_target(station_in=0.0, depth_in=1.4, half_height_in=1.0, thickness_in=0.016, flat_in=0.3)
    assert egg.curvature_per_in[2] > egg.curvature_per_in[120]  # sharper at the nose of a deep ellipse
    with pytest.raises(GeometryError, match="turns back"):
        points_target(
            station_in=0.0, points_in=[(0, 0), (1, 0), (2, 1), (3, 0), (4, 0), (5, 2)], thickness_in=0.016
        )
    with pytest.raises(GeometryError):
        points_target(station_in=0.0, points_in=[(0, 0), (1, 0)], thickness_in=0.016)


def test_scrap_gains_with_a_good_reading_and_never_loses() -> None:
    at = {"scrap_tool_radius_in": 0.525, "part_tool_radius_in": 0.6575}
    gains = [gain_from_reading(WORLD, **at, limits_share=s) for s in (0.01, 0.03, 0.1, 0.5)]
    assert gains == sorted(gains)
    assert gains[0] < 0.4
    assert gains[-1] <= 1.0
    assert bare_reading_ratio(WORLD, **at, limits_share=0.5) > 1.0  # believed alone it would do harm


def test_scrap_that_contradicts_the_sheet_is_refused() -> None:
    with pytest.raises(FormingError, match="contradicts"):
        calibrate(WORLD, ScrapReading(0.55, 0.01, 0.525))
    with pytest.raises(GeometryError):
        reading_of(
            chord_in=1.0,
            sagitta_in=0.8,
            chord_limit_in=0.01,
            sagitta_limit_in=0.01,
            tool_radius_in=0.5,
            thickness_in=0.016,
            inside=True,
        )


def test_opening_reads_back() -> None:
    for rolled in (0.93, 1.0, 1.07, 1.4):
        shown = float(opening_in(wanted_radius_in=1.0, rolled_radius_in=rolled, arc_rad=1.5))
        assert radius_from_opening_in(wanted_radius_in=1.0, opening=shown, arc_rad=1.5) == pytest.approx(
            rolled
        )


def test_closing_stress_is_linear_and_near_the_even_value() -> None:
    at = {
        "modulus_psi": 10.5e6,
        "poisson": 0.33,
        "wanted_radius_in": 1.0,
        "rolled_radius_in": 1.05,
        "arc_rad": np.pi / 2,
        "spar_behind_in": 1.0,
    }
    thin, thick = closed_nose(**at, thickness_in=0.016), closed_nose(**at, thickness_in=0.032)
    assert thick.joint_stress_psi == pytest.approx(2 * thin.joint_stress_psi)
    assert 4500 < thin.joint_stress_psi < 6000


def test_next_pass() -> None:
    at: dict[str, Any] = {"tools": built_up(RACK, wrap_in=0.016, most_turns=3), "tolerance_share": 0.05}
    left = float(1.0 / np.median(after_tool_per_in(WORLD, 0.6575)))
    fits = next_pass(WORLD, SHEET, wanted_radius_in=left, measured=ScrapReading(left, 0.01, 0.6575), **at)
    assert fits.verdict == "stop"
    again = next_pass(
        WORLD, SHEET, wanted_radius_in=0.75 * left, measured=ScrapReading(left, 0.01, 0.6575), **at
    )
    assert again.verdict == "roll again"
    assert again.tool is not None
    assert again.tool.radius_in < 0.6575
    assert again.expected_low_in < again.expected_in < again.expected_high_in  # type: ignore[operator]
    over = next_pass(
        WORLD, SHEET, wanted_radius_in=1.15 * left, measured=ScrapReading(left, 0.01, 0.6575), **at
    )
    assert over.verdict == "ease open"
    lost = next_pass(
        WORLD, SHEET, wanted_radius_in=1.6 * left, measured=ScrapReading(left, 0.01, 0.6575), **at
    )
    assert lost.verdict == "can't be saved"
    same = next_pass(
        WORLD,
        SHEET,
        wanted_radius_in=0.8 * left,
        measured=ScrapReading(left, 0.01, 0.6575),
        tools=(Tool("a", 1.315),),
        tolerance_share=0.05,
    )
    assert "changes nothing" in same.because


def test_stop_rule() -> None:
    said = [verdict_from_opening(opening_in=o, good_in=1 / 16, again_in=1 / 4) for o in (0.05, 0.1, 0.3)]
    assert said == ["stop", "close it or roll once more", "roll again"]


def test_bend_order() -> None:
    assert bend_order((1, 2, 1), (90, 90), brake=Brake(1.5, 1, 0)) is not None
    assert (
        bend_order((1, 0.5, 1.0), (90, 90), brake=Brake(2, 1, 0)) is None
    )  # deep narrow channel hits the bar
    assert bend_order((1, 0.5, 1.0), (90, -90), brake=Brake(2, 1, 0)) is not None


STOCK = {"alloy": "2024-T3 clad", "thickness": ".020"}
PIPES = [
    {"name": "small", "outside": "1.05", "inside": ".824", "material": "PVC pipe"},
    {"name": "large", "outside": "1.315", "inside": "1.049", "material": "PVC pipe"},
]
EXAMPLES: dict[str, dict[str, Any]] = {
    "nose-roll": {
        **STOCK, "title": "left aileron nose, section 2", "drawing": "DN-2104", "length": "14 in", "hand": "left",
        "stations": [{"place": "0", "radius": "1.05"}, {"place": "14", "radius": ".96"}], "tools": PIPES, "wrap": ".016",
    },
    "sheet-springback": {**STOCK, "radius": "1/8"},
    "bend-flat": {
        "title": "bracket", "thickness": ".040", "radius": ".16",
        "legs": [{"length": "1", "bend": "90"}, {"length": "2", "bend": "90"}, {"length": "1"}],
    },
    "scrap-strip": {**STOCK, "tool": "1.315", "chord": "1.6", "height": ".25", "part_tool": "1.05"},
    "nose-next-pass": {**STOCK, "wanted": "1.0", "tool": "1.315", "opening": "5/16", "tools": PIPES, "wrap": ".016"},
    "closing-gap": {**STOCK, "wanted": "1", "rolled": "1.05"},
    "tool-windup": {**STOCK, **PIPES[0], "length": "60"},
    "rib-bow": {"bow": "3/32", "length": "10", "height": "3"},
    "flanged-hole": {"hole": "3", "height": "1/4", "radius": "3/32", "thickness": ".025"},
    "twist-before-closing": {"title": "aileron", "way": "level on the end ribs", "first": ".3", "second": ".1"},
}  # fmt: skip
MODULES = (bend_calculations, closing_calculations, flange_calculations, nose_roll, roll_calculations)


@pytest.mark.parametrize("name", EXAMPLES)
def test_calculation_answers(name: str) -> None:
    made = CALCULATIONS[name]
    outcome = made.outcome(read(made.spec, EXAMPLES[name]))
    assert outcome.results
    assert set(outcome.results) <= set(made.result_keys)
    for result in outcome.results.values():
        assert result.shown
        if result.low is not None and result.high is not None:
            assert result.low <= float(result.value) <= result.high  # type: ignore[arg-type]
    assert all(r.because.text for r in outcome.requirements)


def test_nose_roll_with_a_scrap_is_surer() -> None:
    made = CALCULATIONS["nose-roll"]
    plain = made.outcome(read(made.spec, EXAMPLES["nose-roll"])).results["radius"]
    scrap = {"scrap_chord": "1.6", "scrap_height": ".25", "scrap_tool": "1.315"}
    sure = made.outcome(read(made.spec, EXAMPLES["nose-roll"] | scrap)).results["radius"]
    assert sure.high - sure.low < 0.5 * (plain.high - plain.low)  # type: ignore[operator]


@pytest.mark.parametrize(
    ("name", "change"),
    [
        ("nose-roll", {"stations": [{"place": "0"}]}),
        ("nose-roll", {"stations": [{"place": "5", "radius": "1"}, {"place": "1", "radius": "1"}]}),
        ("nose-roll", {"tools": [{"name": "x", "outside": "1", "inside": "1.2", "material": "steel"}]}),
        ("nose-roll", {"tools": [{"name": "x", "outside": "1", "material": "cheese"}]}),
        ("nose-roll", {"scrap_chord": "1.6"}),
        ("nose-roll", {"thickness": ".02 lb"}),
        ("sheet-springback", {"radius": ".03"}),
        ("sheet-springback", {"radius": "10"}),
        ("bend-flat", {"legs": [{"length": ".1", "bend": "90"}, {"length": "1"}]}),
        ("bend-flat", {"rule": "k of your coupon"}),
        ("bend-flat", {"legs": [{"length": "1"}, {"length": "1"}]}),
        ("nose-next-pass", {"opening": ""}),
        ("twist-before-closing", {"first": ""}),
    ],
)
def test_bad_input_is_named(name: str, change: dict[str, Any]) -> None:
    made = CALCULATIONS[name]
    with pytest.raises(Exception, match=r".") as caught:
        made.outcome(read(made.spec, EXAMPLES[name] | change))
    assert (
        isinstance(caught.value, InputError | FormingError)
        or caught.value.__class__.__module__ == "ribwright.errors"
    )


def test_a_lot_of_readings_narrows_step_by_step() -> None:
    """Predicted against measured, kept a lot: a third reading leaves less open than the first."""
    truth = 7
    part = after_tool_per_in(WORLD, 0.6575)[:, 0]
    readings = [
        ScrapReading(float(1 / after_tool_per_in(WORLD, r)[truth, 0]), 0.04, r) for r in (0.525, 0.6, 0.7)
    ]
    spreads = [float(np.std(part))]
    values = part
    for state in calibrate_lot(WORLD, readings):
        values = calibrated(values, state)
        spreads.append(float(np.std(values)))
    assert spreads[1] < 0.6 * spreads[0]
    assert spreads[3] < spreads[1]
    assert abs(float(np.mean(values)) / part[truth] - 1.0) < 0.04


def test_wider_prior_never_narrows_and_no_error_no_opening() -> None:
    narrow = expected_radius_in(fan(SHEET, Prior(yield_share=0.03, direction_share=0.0)), 0.525)
    wide = expected_radius_in(WORLD, 0.525)
    assert wide[0] < narrow[0] < narrow[2] < wide[2]
    assert float(opening_in(wanted_radius_in=1.0, rolled_radius_in=1.0, arc_rad=1.2)) == 0.0


@pytest.mark.parametrize("radius", [0.0, -1.0, np.nan, np.inf, 0.02, 20.0])
def test_no_tool_gives_a_number_that_is_none(radius: float) -> None:
    with pytest.raises((InputError, FormingError, OutsideTableError)):
        expected_radius_in(WORLD, radius)
