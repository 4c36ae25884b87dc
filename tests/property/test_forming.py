"""Forming under random input: symmetry, monotony, units, bands, and an answer or a sentence for everything."""

from __future__ import annotations

import importlib.util
import sys
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from ribwright.core.forming.bend import (
    bend_allowance_in,
    bend_allowance_k_in,
    k_from_coupon,
    setback_in,
)
from ribwright.core.forming.closing import opening_in
from ribwright.core.forming.flat import Bend, developed
from ribwright.core.forming.rack import Tool
from ribwright.core.forming.recipe import best_recipe
from ribwright.core.forming.scrap import ScrapReading, calibrate, calibrated
from ribwright.core.forming.search import Rolling
from ribwright.core.forming.section import Layer, Sheet, moment_lbf, release_masing_per_in, table_of
from ribwright.core.forming.target import circle_target
from ribwright.core.forming.world import Prior, after_tool_per_in, fan
from ribwright.errors import RibwrightError

ROOT = Path(__file__).resolve().parents[2]
SHEETS = (
    Sheet(0.016, 10.5e6, 0.33, Layer(47e3, 12.0)),
    Sheet(0.020, 10.5e6, 0.33, Layer(49e3, 12.0), clad_fraction=0.045),
    Sheet(0.032, 9.9e6, 0.33, Layer(40e3, 18.0)),
)


@cache
def shops() -> Any:
    path = ROOT / "benchmarks/forming_shops.py"
    spec = importlib.util.spec_from_file_location("forming_shops", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["forming_shops"] = module
    spec.loader.exec_module(module)
    return module


@given(st.sampled_from(SHEETS), st.floats(0.01, 8.0))
@settings(max_examples=60, deadline=None)
def test_bending_is_odd_and_release_opens(sheet: Sheet, curvature: float) -> None:
    table = table_of(sheet)
    both = moment_lbf(table, [curvature, -curvature])[0]
    assert both[0] == -both[1] > 0
    left = release_masing_per_in(table, [curvature])[0, 0]
    assert -1e-9 <= left < curvature


@given(st.floats(0.5, 2.0), st.floats(0.2, 6.0))
@settings(max_examples=40, deadline=None)
def test_scale_of_length_alone_changes_nothing(scale: float, curvature: float) -> None:
    """A sheet and a radius enlarged together spring back alike: only k t counts."""
    sheet = SHEETS[0]
    large = Sheet(sheet.thickness_in * scale, sheet.modulus_psi, sheet.poisson, sheet.core)
    a = release_masing_per_in(table_of(sheet), [curvature])[0, 0] / curvature
    b = release_masing_per_in(table_of(large), [curvature / scale])[0, 0] / (curvature / scale)
    assert abs(a - b) < 1e-6


@given(st.floats(0.02, 1.0), st.floats(0.01, 0.12), st.floats(1.0, 165.0), st.floats(0.2, 0.5))
def test_bends(radius: float, thickness: float, angle: float, k: float) -> None:
    at = {"radius_in": radius, "thickness_in": thickness, "angle_deg": angle}
    allowance = float(bend_allowance_k_in(**at, k_ratio=k))
    assert abs(float(k_from_coupon(allowance_in=allowance, **at)) - k) < 1e-9 / thickness
    # the allowance lies between the inside and the outside arc, and under the two setbacks
    assert np.radians(angle) * radius <= float(bend_allowance_in(**at)) * 1.002
    assert allowance <= 2 * float(setback_in(**at)) + 1e-12
    bend = Bend(angle, radius, allowance, float(setback_in(**at)))
    leg = 2 * bend.setback_in + 1.0
    flat = developed((leg, leg, leg), (bend, bend))
    assert abs(flat.length_in - (sum(flat.flats_in) + 2 * allowance)) < 1e-12
    assert list(flat.sight_in) == sorted(flat.sight_in)


@given(st.floats(0.3, 5.0), st.floats(0.75, 1.8), st.floats(0.3, 1.7))
def test_opening_has_the_sign_of_the_error(radius: float, ratio: float, arc: float) -> None:
    opening = float(opening_in(wanted_radius_in=radius, rolled_radius_in=radius * ratio, arc_rad=arc))
    assert np.sign(opening) == np.sign(ratio - 1.0) or abs(opening) < 1e-9


@given(st.floats(0.3, 1.0), st.floats(0.01, 0.3), st.floats(-1.5, 1.5))
@settings(max_examples=40, deadline=None)
def test_scrap_narrows(tool: float, limits: float, surprise: float) -> None:
    world = fan(SHEETS[1], Prior())
    mine = after_tool_per_in(world, tool)[:, 0]
    seen = float(np.mean(mine) + surprise * np.std(mine))
    if seen <= 0.02:
        return
    state = calibrate(world, ScrapReading(1.0 / seen, limits, tool))
    assert np.std(calibrated(mine, state)) <= 1.02 * np.std(mine)


values = st.one_of(st.floats(allow_nan=True, allow_infinity=True), st.floats(0.0, 3.0))


@given(values, values, values, values, values, st.integers(0, 2), st.floats(0.05, 3.0), st.floats(1.0, 220.0))
@settings(max_examples=120, deadline=None)
def test_an_answer_with_a_band_or_a_sentence(
    diameter: float,
    tape: float,
    lap: float,
    held: float,
    tolerance: float,
    which: int,
    radius: float,
    arc: float,
) -> None:
    sheet = SHEETS[which]
    try:
        target = circle_target(
            station_in=0.0, inner_radius_in=radius, arc_deg=arc, thickness_in=sheet.thickness_in, flat_in=0.4
        )
        recipe = best_recipe(
            fan(sheet, Prior(), count=64), targets=(target,), tools=(Tool("a", diameter), Tool("b", 1.05)),
            rolling=Rolling(30.0 * tape, (lap,), held), tolerance_in=tolerance, length_in=12.0, two_passes=False,
        )  # fmt: skip
    except RibwrightError as error:
        recipe, said = None, str(error)
    if recipe is None:
        assert len(said) > 20
        return
    assert np.isfinite([*recipe.gap_in, recipe.gap_low_in, recipe.gap_high_in, recipe.chance]).all()
    assert recipe.gap_low_in <= recipe.gap_high_in


def test_bands_hold_in_shops_of_another_model() -> None:
    """Short form of benchmarks/forming_shops.py; 320 shops resolve about 2.5 %."""
    found = shops().bands(320, seed=5)
    assert 0.92 <= found["before"] <= 0.99
    assert 0.92 <= found["after"] <= 0.985
    assert found["width ratio"] < 0.5


def test_first_rolls_fit_as_often_as_stated() -> None:
    """Short form: a few random racks; the gap by eye is at least twice ours."""
    found = shops().rolls(7, seed=8)
    assert found["fitted"] >= found["stated"] - 0.3
    assert found["median gap"] <= 0.5 * found["median gap by eye"]
