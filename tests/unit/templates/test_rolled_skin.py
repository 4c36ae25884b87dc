"""The rolled edge in the round: its surface is the wanted one, its colours are the recipe's own gaps."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from ribwright.core.audit import Worksheet, read
from ribwright.core.audit.index import load
from ribwright.core.forming.nose_roll import solved
from ribwright.core.forming.nose_spec import NoseRoll
from ribwright.core.forming.nose_targets import targets_of
from ribwright.core.forming.target import deviation_in
from ribwright.core.templates.rolled_skin import flatness, rolled_skin, wanted_skin
from ribwright.core.templates.skin_view import SCALE, skin_of, view_data

EXAMPLE = Path(__file__).parents[3] / "docs" / "examples" / "nose-roll.toml"


def spec_of(**change: Any) -> NoseRoll:
    raw = tomllib.loads(EXAMPLE.read_text(encoding="utf-8")) | change
    spec = read(load("nose-roll").spec, raw)
    assert isinstance(spec, NoseRoll)
    return spec


def test_the_largest_expected_miss_is_the_gap_of_the_recipe() -> None:
    spec = spec_of()
    data = view_data(spec)
    assert data is not None
    gaps = solved(spec, Worksheet()).recipe.gap_in
    found = [max(row["inside"], row["outside"]) for row in data["expected"]]
    assert found == pytest.approx(gaps, abs=1e-9)
    assert data["limit"] == 1 / 32
    assert data["colours"] == list(SCALE)
    assert len(data["off"]) == len(data["vertices"]) == len(data["arc"])
    assert max(abs(v) for v in data["off"]) <= max(gaps) + 1e-5
    json.dumps(data, allow_nan=False)


def test_the_surface_is_the_wanted_one() -> None:
    spec = spec_of()
    made = wanted_skin(spec)
    assert made is not None
    grid = made.vertices_in.reshape(25, -1, 3)
    assert np.allclose(grid[:, -1, :2], 0.0)
    # a quarter of a circle of the middle line, then half an inch of straight
    for row, radius in ((0, 1.093), (12, 1.02), (24, 0.947)):
        assert grid[row, 0, 0] == pytest.approx(-radius - 0.5, abs=2e-3)
        assert grid[row, 0, 1] == pytest.approx(-radius, abs=2e-3)
        assert made.arc_in.reshape(25, -1)[row, -1] == pytest.approx(radius * np.pi / 2 + 0.5, abs=1e-3)
    assert skin_of(spec) is not None


def test_a_cone_lies_flat_and_sections_that_turn_differently_do_not() -> None:
    cone = flatness(targets_of(spec_of(), Worksheet()))
    assert cone[1] < 1e-3
    assert "can be rolled" in rolled_skin(spec_of())["said"][1]  # type: ignore[index]
    apart = [{"place": "0", "radius": "1", "arc": "90 deg"}, {"place": "6", "radius": "1", "arc": "60 deg"}]
    said = rolled_skin(spec_of(stations=apart))["said"][1]  # type: ignore[index]
    assert "60 to 90°" in said
    assert "no roll along the edge" in said


def test_a_rigid_motion_is_no_deviation_and_one_template_is_no_surface() -> None:
    target = targets_of(spec_of(), Worksheet())[0]
    c, s = np.cos(0.7), np.sin(0.7)
    moved = target.points_in @ np.array([[c, s], [-s, c]]) + np.array([3.0, -2.0])
    assert np.abs(deviation_in(moved, target)).max() < 1e-9
    alone = spec_of(stations=[{"place": "0", "radius": "1"}])
    assert skin_of(alone) is None
    assert view_data(alone) is None
