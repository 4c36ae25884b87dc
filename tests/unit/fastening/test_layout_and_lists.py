"""Layouts against an independent geometry library; hardware, driven rows and straightness by hand."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from ribwright.core.fastening import hardware, layout, row_check, straightness  # noqa: F401
from ribwright.core.scene import Circle, Polyline
from ribwright.errors import GeometryError, InputError, MissingError, OutOfRangeError
from unit.fastening.test_first_calculations import run, value

BOX = [{"x": "0", "y": "0"}, {"x": "9", "y": "0"}, {"x": "9", "y": "4"}, {"x": "0", "y": "4"}]
LINE = [{"x": ".5", "y": ".5"}, {"x": "8.5", "y": ".5"}]


def _points(outcome: Any) -> np.ndarray:
    return np.c_[value(outcome, "x"), value(outcome, "y")]


def test_straight_row_at_equal_pitch_with_edge_distance() -> None:
    outcome = run("hole-layout", title="r", line=LINE, outline=BOX, pitch="1", size="3/32")
    assert value(outcome, "holes") == 9
    assert value(outcome, "pitch") == pytest.approx(1.0)
    assert value(outcome, "least_edge") == pytest.approx(0.5)
    assert outcome.status == "within limits"


def test_row_moves_off_an_existing_hole_and_a_bend_by_a_closer_pitch() -> None:
    outcome = run(
        "hole-layout", title="r", line=LINE, outline=BOX, pitch="1", size="3/32",
        holes=[{"x": "2.5", "y": ".5", "clear": ".28"}], bends=[{"x1": "6", "y1": "-1", "x2": "6", "y2": "3", "clear": ".2"}],
    )  # fmt: skip
    points = _points(outcome)
    assert value(outcome, "pitch") < 1.0
    assert np.hypot(*(points - (2.5, 0.5)).T).min() >= 0.28 - 1e-9
    assert np.abs(points[:, 0] - 6).min() >= 0.2 - 1e-9


def test_when_no_equal_pitch_is_clear_the_holes_are_named() -> None:
    outcome = run(
        "hole-layout", title="r", line=LINE, pitch="1", holes=[{"x": ".5", "y": ".5", "clear": ".3"}]
    )
    assert outcome.status == "refer"
    assert outcome.findings[-1].where == "hole 1"


@pytest.mark.parametrize("arrangement", layout.ROWS)
def test_fan_round_a_quarter_circle_is_radial_and_inside(arrangement: str) -> None:
    shapely = pytest.importorskip("shapely")
    bulge = float(np.tan(np.pi / 8))
    line = [{"x": "3", "y": "0", "bulge": repr(bulge)}, {"x": "0", "y": "3"}]
    disc = [{"x": "-4", "y": "-1"}, {"x": "4", "y": "-1"}, {"x": "4", "y": "4"}, {"x": "-4", "y": "4"}]
    outcome = run(
        "hole-layout",
        title="fan",
        line=line,
        outline=disc,
        arrangement=arrangement,
        pitch=".7",
        row_distance=".5",
    )
    points = _points(outcome)
    radius = np.hypot(*points.T)
    n = int(np.ceil(3 * np.pi / 2 / 0.7)) + 1
    np.testing.assert_allclose(radius[:n], 3.0, atol=2e-5)
    if arrangement != "single":
        np.testing.assert_allclose(radius[n:], 2.5, atol=2e-5)
        turn = np.degrees(np.arctan2(points[:, 1], points[:, 0]))
        step = 90 / (n - 1)
        want = turn[:n] if arrangement.endswith("side") else turn[: n - 1] + step / 2
        np.testing.assert_allclose(turn[n:], want, atol=0.05)
    ring = shapely.Polygon([(-4, -1), (4, -1), (4, 4), (-4, 4)])
    independent = shapely.distance(ring.exterior, shapely.points(points)).min()
    assert value(outcome, "least_edge") == pytest.approx(independent, abs=1e-9)
    circles = [i for i in outcome.templates[0].items if isinstance(i, Circle) and i.layer == "drilled"]
    assert len(circles) == len(points)


def test_a_row_off_the_part_is_refused() -> None:
    with pytest.raises(GeometryError, match="outside the part"):
        run(
            "hole-layout",
            title="r",
            line=[{"x": ".5", "y": ".5"}, {"x": "10", "y": ".5"}],
            outline=BOX,
            pitch="1",
        )


def test_weights_by_volume_meet_the_trades_count_a_pound() -> None:
    """About 5,500 flush 3/32-3.5 and 2,800 flush 1/8-4 a pound, ± 5 % (common practice, no source)."""
    small = float(hardware.rivet_weight_lb(diameter_in=3 / 32, length_in=3.5 / 16, head="flush 100°"))
    large = float(hardware.rivet_weight_lb(diameter_in=1 / 8, length_in=4 / 16, head="flush 100°"))
    assert 1 / small == pytest.approx(5500, rel=0.05)
    assert 1 / large == pytest.approx(2800, rel=0.05)


def test_hardware_totals_trays_and_evenings() -> None:
    uses = [
        {"operation": "A", "part_number": "MS20426AD3-3.5", "count": 52, "price": ".03"},
        {"operation": "B", "part_number": "ms20426ad3-3.5", "count": 41},
        {"operation": "B", "part_number": "MS20470AD4-4", "count": 24},
        {"operation": "B", "part_number": "AN3-5A", "count": 4, "setup": "wrench"},
    ]
    outcome = run("hardware-list", title="aileron", uses=uses, spare="10 %")
    assert value(outcome, "fitted") == 121
    assert value(outcome, "to_order") == 103 + 27 + 5
    assert value(outcome, "cost") == pytest.approx(103 * 0.03)
    assert "flush 100°, 3/32: A, B" in value(outcome, "same_setup")
    assert "B: 4 AN3-5A, 41 MS20426AD3-3.5, 24 MS20470AD4-4" in value(outcome, "trays")
    with pytest.raises(InputError):
        run("hardware-list", title="x", uses=[uses[0], {**uses[1], "price": ".05"}])


ROW = {"title": "row", "size": "3/32", "holes": 50}


def test_heads_by_the_default_criterion_and_not_by_an_intersection() -> None:
    good = run("check-row", **ROW, heads=[{"hole": 1, "diameter": ".125", "height": ".040"}])
    assert good.status == "within limits"  # under 1.5 D wide and off .5 D high, and still good
    flat = run("check-row", **ROW, heads=[{"hole": 3, "diameter": ".170", "height": ".030"}])
    assert value(flat, "replace") == "3"
    tall = run("check-row", **ROW, heads=[{"hole": 3, "diameter": ".125", "height": ".070"}])
    assert (value(tall, "set_again"), value(tall, "replace")) == ("3", "none")
    unclear = run("check-row", **ROW, heads=[{"hole": 3, "diameter": ".122", "height": ".045"}])
    assert value(unclear, "measure_again") == "3"
    seen = run("check-row", **ROW, heads=[{"hole": 4}])
    assert seen.status == "undecided"


def test_many_or_three_side_by_side_are_asked() -> None:
    heads = [{"hole": n, "fault": "cracked"} for n in (5, 6, 7)]
    assert "ask before drilling" in value(run("check-row", **ROW, heads=heads), "ask")
    assert value(run("check-row", **ROW, heads=heads[:2]), "ask") == "no need"


def test_gauge_measures_what_the_limits_say() -> None:
    outcome = run("check-row", **ROW, heads=[{"hole": 1, "diameter": ".14", "height": ".046"}])
    scene = outcome.templates[0]
    wide, tall = outcome.requirements
    (plate,) = [i for i in scene.items if isinstance(i, Polyline)]
    (hole,) = [i for i in scene.items if isinstance(i, Circle)]
    assert plate.layer == hole.layer == "cut"
    assert hole.radius * 2 == pytest.approx(wide.low)
    assert {round(y, 6) for _, y in plate.points} >= {round(tall.low, 6), round(tall.high, 6)}


def test_the_drawings_criterion_needs_its_limits_and_holes_must_be_on_the_row() -> None:
    with pytest.raises(MissingError):
        run("check-row", **ROW, criterion="drawing", heads=[{"hole": 1}])
    with pytest.raises(OutOfRangeError):
        run("check-row", **ROW, heads=[{"hole": 51}])
    own = run(
        "check-row",
        **ROW,
        criterion="drawing",
        least_diameter=".13",
        least_height=".04",
        heads=[{"hole": 1, "diameter": ".127"}],
    )
    assert own.status == "rework"


def test_bow_and_wave_by_hand() -> None:
    x = np.arange(0, 61, 3.0)
    y = 0.08 * np.sin(np.pi * x / 60)
    assert straightness.bow_in(x, y)[0] == pytest.approx(0.08, rel=1e-6)
    smooth = straightness.wave_in(x, y, chord_in=12)[0]
    assert abs(smooth) < 1 / 32
    y[7] += 0.05
    assert straightness.wave_in(x, y, chord_in=12)[0] == pytest.approx(0.05, abs=0.01)
    shifted = straightness.bow_in(x, y + 0.3 + 0.01 * x)[0]
    assert shifted == pytest.approx(straightness.bow_in(x, y)[0])
    rows = [{"at": f"{a}", "offset": f"{b:.4f}"} for a, b in zip(x, y, strict=True)]
    outcome = run("edge-straightness", title="aileron", stations=rows, uncertainty=".002")
    assert outcome.findings[1].verdict.value == "rework"
    with pytest.raises(GeometryError):
        run("edge-straightness", title="aileron", stations=rows[::-1])


def test_double_flush_has_its_own_limits() -> None:
    outcome = run(
        "check-row",
        **ROW,
        criterion="double flush",
        heads=[{"hole": 1, "diameter": ".182", "height": "0"}],
        uncertainty=".001",
    )
    assert outcome.status == "within limits"
    assert not outcome.templates
    proud = run(
        "check-row",
        **ROW,
        criterion="double flush",
        heads=[{"hole": 1, "height": ".006"}],
        uncertainty=".001",
    )
    assert value(proud, "set_again") == "1"
