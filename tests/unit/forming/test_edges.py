"""Joggle, lap edge, and what forming says to input that can't be."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from ribwright.core.audit import read
from ribwright.core.audit.calculation import CALCULATIONS, Outcome
from ribwright.core.forming import (  # noqa: F401
    bend_calculations,
    flange_calculations,
    lap_edge,
    nose_roll,
    roll_calculations,
)
from ribwright.core.forming.joggle import joggle_angle, joggle_depth_in, joggle_run_in, least_run_in
from ribwright.core.forming.rack import radius_for_in
from ribwright.core.forming.section import Layer, Sheet
from ribwright.core.forming.world import Prior, after_tool_per_in, fan
from ribwright.errors import FormingError, RibwrightError

SHEET = {"alloy": "2024-T3 clad", "thickness": ".025"}
PIPES = [{"name": "1 in pipe", "outside": "1.315", "inside": "1.049", "material": "PVC pipe"}]
GOOD: dict[str, dict[str, Any]] = {
    "joggle": {**SHEET, "title": "rib", "depth": ".025", "run": ".25", "radius": "1/8"},
    "lap-edge": {**SHEET, "title": "lap", "edge": "5/16", "lip": "3/16"},
    "nose-roll": {
        **SHEET, "title": "nose", "length": "14", "stations": [{"place": "0", "radius": "1"}], "tools": PIPES,
    },
    "sheet-springback": {**SHEET, "radius": "1/8"},
    "bend-flat": {
        "alloy": "2024-T3", "thickness": ".040", "radius": ".16", "title": "u",
        "legs": [{"length": "1", "bend": "90"}, {"length": "2", "bend": "90"}, {"length": "1"}],
    },
    "rib-bow": {"bow": "3/32", "length": "10", "height": "3"},
    "flanged-hole": {"hole": "3", "height": "1/4", "radius": "3/32", "thickness": ".025"},
}  # fmt: skip


def answered(name: str, **change: Any) -> Outcome:
    made = CALCULATIONS[name]
    return made.outcome(read(made.spec, GOOD[name] | change))


def number(outcome: Outcome, key: str) -> float:
    return float(outcome.results[key].value)  # type: ignore[arg-type]


@pytest.mark.parametrize("run", [0.14, 0.2, 0.4, 1.0])
@pytest.mark.parametrize("depth", [0.01, 0.025, 0.05])
def test_a_joggle_has_the_depth_and_run_it_was_solved_for(run: float, depth: float) -> None:
    angle, straight = joggle_angle(radius_in=0.1, depth_in=depth, run_in=run)
    assert float(joggle_depth_in(radius_in=0.1, straight_in=straight, angle_rad=angle)) == pytest.approx(
        depth
    )
    assert float(joggle_run_in(radius_in=0.1, straight_in=straight, angle_rad=angle)) == pytest.approx(run)


def test_the_least_run_leaves_no_straight() -> None:
    least = least_run_in(radius_in=0.1, depth_in=0.05)
    angle, straight = joggle_angle(radius_in=0.1, depth_in=0.05, run_in=least + 1e-9)
    assert straight < 1e-4
    assert 2.0 * 0.1 * (1.0 - math.cos(angle)) == pytest.approx(0.05, rel=1e-3)
    with pytest.raises(FormingError, match="don't fit"):
        joggle_angle(radius_in=0.1, depth_in=0.05, run_in=least - 1e-6)


def test_blocks_are_deeper_than_the_joggle_and_a_harder_sheet_needs_more() -> None:
    soft = answered("joggle", certificate="40 ksi")
    hard = answered("joggle", certificate="55 ksi")
    assert 0.025 < number(soft, "block_depth") < number(hard, "block_depth")
    left = hard.results["depth_left"]
    assert left.low is not None
    assert left.high is not None
    assert left.low < 0.025 < left.high
    assert number(hard, "depth_left") == pytest.approx(0.025, abs=2e-4)


def test_a_lip_presses_with_the_cube_of_the_thickness_until_it_flattens() -> None:
    thin, thick = answered("lap-edge", thickness=".016"), answered("lap-edge", thickness=".032")
    assert number(thick, "pressure") / number(thin, "pressure") == pytest.approx(8.0)
    assert number(thick, "flattens_at") < number(thin, "flattens_at")
    assert any("flattens" in said for said in answered("lap-edge", angle="12").cautions)
    assert not any("flattens" in said for said in answered("lap-edge", angle="2").cautions)


def test_a_radius_under_the_tables_is_named() -> None:
    for name in ("sheet-springback", "joggle"):
        assert any("least radius" in said for said in answered(name, radius=".08").cautions)
        assert not any("under the tables" in said for said in answered(name, radius=".13").cautions)
    bent = answered("bend-flat", radius=".05")
    assert any("least radius" in said for said in bent.cautions)
    assert bent.requirements[0].low is not None


def test_tape_of_unknown_strength_is_said_to_be_an_assumption() -> None:
    made = answered("nose-roll")
    assert [step.rung for step in made.steps if step.label == "tape strength"] == ["memory"]
    known = answered("nose-roll", tape="45 psi")
    assert not [step for step in known.steps if step.label == "tape strength" and step.kind == "assumed"]


def test_the_order_of_bending_stands_on_the_sheet_or_says_there_is_none() -> None:
    assert "bend 1" in str(answered("bend-flat").results["order"].value)
    deep = [{"length": "3", "bend": "90"}, {"length": ".6", "bend": "90"}, {"length": "3"}]
    assert "none found" in str(
        answered("bend-flat", legs=deep, nose="2", nose_depth="2").results["order"].value
    )


BACK = [
    {"place": "0", "x": x, "y": y}
    for x, y in (("0", "0"), ("1", "0"), (".4", ".02"), ("1.2", ".3"), ("2", ".3"))
]


@pytest.mark.parametrize(
    ("name", "change", "field"),
    [
        ("joggle", {"run": ".05"}, "Run"),
        ("joggle", {"depth": ".3", "run": ".1"}, "Run"),
        ("joggle", {"radius": ".02"}, "radius"),
        ("joggle", {"radius": "5", "run": "5"}, "radius"),
        ("joggle", {"depth": ".03 lb"}, "Depth"),
        ("joggle", {"alloy": "3003-H14"}, "Sheet"),
        ("lap-edge", {"lip": "3/8"}, "lip"),
        ("lap-edge", {"angle": ".1 in"}, "Bent in"),
        ("nose-roll", {"tape": "0 psi"}, "Tape"),
        ("nose-roll", {"tape": "30 lb"}, "Tape"),
        ("nose-roll", {"tape": "2 psi"}, "tape"),
        ("nose-roll", {"tools": [{**PIPES[0], "material": "glass"}]}, "Material"),
        ("nose-roll", {"tools": []}, "tools"),
        (
            "nose-roll",
            {"stations": [{"place": "9", "radius": "1"}, {"place": "2", "radius": "1"}]},
            "stations",
        ),
        ("nose-roll", {"stations": [{"place": "0", "radius": "1 ksi"}]}, "radius"),
        ("nose-roll", {"stations": [{"place": "0"}], "points": BACK}, "template"),
        ("nose-roll", {"thickness": ".5"}, "thickness"),
        ("sheet-springback", {"radius": ".03"}, "radius"),
        ("sheet-springback", {"radius": "nan"}, "radius"),
        ("bend-flat", {"radius": "-1"}, "radius"),
        ("bend-flat", {"thickness": "20 mm"}, "thickness"),
        ("bend-flat", {"legs": [{"length": "1 deg", "bend": "90"}, {"length": "1"}]}, "Leg"),
        ("flanged-hole", {"height": "1"}, "height"),
        ("flanged-hole", {"thickness": "1/4"}, "thickness"),
        ("rib-bow", {"bow": "2"}, "Bow"),
        ("rib-bow", {"bow": "3/32 deg"}, "Bow"),
    ],
)
def test_what_cannot_be_is_named_with_its_mend(name: str, change: dict[str, Any], field: str) -> None:
    with pytest.raises(RibwrightError) as caught:
        answered(name, **change)
    said = str(caught.value)
    assert field.lower() in said.lower()
    assert "nan" not in said.lower().split() or change.get("radius") == "nan"
    assert len(said) > 25


def test_the_tool_for_a_radius_leaves_that_radius_in_every_sheet() -> None:
    world = fan(Sheet(0.02, 10.5e6, 0.33, Layer(46e3, 12.0), clad_fraction=0.045), Prior())
    tools = radius_for_in(world, inner_radius_in=1.0)
    left = np.array([after_tool_per_in(world, r)[row, 0] for row, r in list(enumerate(tools))[::32]])
    wanted = 1.0 / (1.0 + 0.5 * world.table.thickness_in[::32])
    assert np.allclose(left, wanted, rtol=1e-9)
