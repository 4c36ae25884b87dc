"""Build-up, changes, weighings compared, equipment list: sums, bands that hold, refusals by name."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from ribwright.core.massprops.estimate import COMMON_SHARE, estimated
from ribwright.errors import GeometryError, MissingError, OutOfRangeError
from ribwright.services.calculations import run_calculation


def part(name: str, arm: float, **more: Any) -> dict[str, Any]:
    return {"name": name, "arm": arm, **more}


def test_running_is_what_is_in_place_and_forecast_is_everything() -> None:
    parts = [
        part("a", 50, weighed=100, state="in place"),
        part("b", 70, estimate=300),
        part("c", 90, estimate=50, weighed=60, state="in place"),
    ]
    made = run_calculation("weight-build-up", {"parts": parts, "designer": 430}).answer["results"]
    assert made["running_weight"]["value"] == pytest.approx(160)
    assert made["running_cg"]["value"] == pytest.approx((5000 + 5400) / 160)
    assert made["forecast_weight"]["value"] == pytest.approx(460)
    assert made["usual_range"]["low"] == pytest.approx(430 * 1.03)
    assert made["usual_range"]["high"] == pytest.approx(430 * 1.08)
    empty = run_calculation("weight-build-up", {"parts": [part("b", 70, estimate=300)]}).answer["results"]
    assert empty["running_weight"]["value"] == "nothing is in place yet"


def test_the_forecast_band_holds_the_true_weight_19_times_in_20() -> None:
    rng = np.random.default_rng(5)
    inside = {3: 0, 80: 0}
    tries = 300
    for weighed in inside:
        for _ in range(tries):
            n = 200
            guess, arm = rng.uniform(0.2, 12, n), rng.uniform(20, 230, n)
            common = 1 + rng.normal(0, COMMON_SHARE / 2)
            true = guess * common * (1 + rng.normal(0, 0.05, n))
            seen = np.full(n, np.nan)
            seen[:weighed] = true[:weighed] + rng.normal(0, 0.02, weighed)
            made = estimated(
                guess, seen, arm_in=arm, u_arm_in=0.0, u_weighed_lb=0.04, u_share=0.1, here=np.zeros(n, bool)
            )
            off = abs(made.forecast.weight_lb - true.sum())
            inside[weighed] += off <= made.forecast.u_weight_lb
    assert all(count >= 0.93 * tries for count in inside.values()), inside


def test_weighed_parts_correct_the_estimates_of_the_rest() -> None:
    parts = [part(f"p{k}", 60, estimate=10, weighed=10.5 + 0.01 * k) for k in range(6)]
    made = run_calculation("weight-build-up", {"parts": [*parts, part("rest", 60, estimate=100)]}).answer[
        "results"
    ]
    assert made["ratio"]["value"] == pytest.approx(63.15 / 60)
    assert made["forecast_weight"]["value"] == pytest.approx(63.15 + 105.25)


def test_a_list_that_is_too_light_is_said_and_a_heavy_forecast_is_rework() -> None:
    raw = {"parts": [part("a", 60, weighed=900)], "most": 830}
    assert run_calculation("weight-build-up", raw).answer["status"] == "rework"
    light = run_calculation("weight-build-up", {"parts": [part("a", 60, weighed=500)], "designer": 780})
    assert "missing" in light.text()


def test_a_move_leaves_the_weight_and_undoing_a_change_gives_back_what_was() -> None:
    base: dict[str, Any] = {"empty_weight": 780, "empty_cg": 66.2}
    move = {"item": "battery", "what": "move", "weight": 12, "arm": 39, "to_arm": 118}
    there = run_calculation("weight-change", {**base, "changes": [move]}).answer["results"]
    assert there["weight"]["value"] == pytest.approx(780)
    assert there["cg_change"]["value"] == pytest.approx(12 * (118 - 39) / 780)
    back = {**move, "arm": 118, "to_arm": 39}
    again = run_calculation("weight-change", {**base, "changes": [move, back]}).answer["results"]
    assert again["cg"]["value"] == pytest.approx(66.2)


def test_an_unexplained_growth_between_weighings_is_not_within_limits() -> None:
    sheets = [{"when": "a", "weight": 780, "cg": 66}, {"when": "b", "weight": 792, "cg": 66.3}]
    made = run_calculation("weighings-compared", {"weighings": sheets}).answer
    assert made["status"] == "rework"
    assert made["results"]["weight_unexplained"]["value"] == [12.0]


def test_equipment_by_revision() -> None:
    items = [
        {"name": "radio", "weight": 3, "arm": 50, "taken_out": 2}, {"name": "new radio", "weight": 2, "arm": 50, "put_in": 2},
        {"name": "heater", "kind": "optional", "weight": 4, "arm": 45, "put_in": 1},
    ]  # fmt: skip
    made = run_calculation("equipment-list", {"items": items, "weighed_at": 1}).answer["results"]
    assert made["revisions"]["value"] == [3.0, 7.0, 6.0]
    assert made["required_weight"]["value"] == pytest.approx(2)
    assert made["since_weighed"]["value"] == pytest.approx(-1)


@pytest.mark.parametrize(
    ("name", "raw", "error", "says"),
    [
        ("weight-build-up", {"parts": [part("a", 50)]}, MissingError, "weight of a"),
        ("weight-build-up", {"parts": [part("a", 50, weighed=-1)]}, OutOfRangeError, "Weighed"),
        ("weight-build-up", {"parts": [part("a", 50, weighed=0)]}, OutOfRangeError, "more than nothing"),
        ("weight-build-up", {"parts": [part("a", 50, weighed=9)], "mac": 50}, MissingError, "chord"),
        ("weight-build-up", {"parts": [part("a", 50, weighed=9)], "forward_limit": 70, "aft_limit": 60}, GeometryError, "aft limit"),
        ("weight-change", {"empty_weight": 10, "empty_cg": 50, "changes": [{"item": "x", "what": "take out", "weight": 20, "arm": 5}]}, GeometryError, "Changes"),
        ("weight-change", {"empty_weight": 10, "empty_cg": 50, "changes": [{"item": "x", "what": "move", "weight": 2, "arm": 5}]}, MissingError, "moves to"),
        ("weight-change", {"empty_weight": 10, "empty_cg": 50, "changes": [{"item": "x", "weight": 2, "arm": 5, "to_arm": 9}]}, MissingError, "moves to"),
        ("weighings-compared", {"weighings": [{"when": "a", "weight": 10, "cg": 5}]}, MissingError, "Weighings"),
        ("weighings-compared", {"weighings": [{"when": w, "weight": 10, "cg": 5} for w in "ab"], "changes": [{"item": "x", "weight": 1, "arm": 2, "after": 2}]}, OutOfRangeError, "after weighing"),
        ("equipment-list", {"items": [{"name": "x", "weight": 1, "arm": 2, "put_in": 2, "taken_out": 1}]}, OutOfRangeError, "later revision"),
        ("equipment-list", {"items": [{"name": "x", "weight": 1, "arm": 2}] * 2}, GeometryError, "twice"),
    ],
)  # fmt: skip
def test_bad_input_is_named(name: str, raw: dict[str, Any], error: type[Exception], says: str) -> None:
    with pytest.raises(error, match=says):
        run_calculation(name, raw)
