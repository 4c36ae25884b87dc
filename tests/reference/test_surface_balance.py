"""The seesaw of TM 55-1500-342-23 par. 2-7, figure 2-1: 200 lb at 50 in against 100 lb at 100 in, 10,000 in·lb each way."""

from __future__ import annotations

import pytest

from reference.printed import assert_printed
from ribwright.core.massprops.balance import counterweight_lb, hinge_moment_lb_in
from ribwright.services.calculations import run_calculation

COVERS = {
    "balance.moment": "TM 55-1500-342-23 figure 2-1, both weights",
    "balance.counterweight": "TM 55-1500-342-23 figure 2-1, the weight that holds the other in balance",
}


def test_both_moments_and_the_weight_between() -> None:
    assert_printed(float(hinge_moment_lb_in(weight_lb=200.0, arm_in=-50.0)), "-10000")
    assert_printed(float(hinge_moment_lb_in(weight_lb=100.0, arm_in=100.0)), "10000")
    assert_printed(float(counterweight_lb(wanted_lb_in=0.0, present_lb_in=10_000.0, arm_in=-50.0)), "200")


def test_the_calculation_finds_the_seesaw_in_balance() -> None:
    pieces = [
        {"name": "weight", "kind": "counterweight", "weight": 200, "arm": -50},
        {"name": "other", "weight": 100, "arm": 100},
    ]
    made = run_calculation("surface-balance", {"pieces": pieces}).answer
    assert made["results"]["moment"]["value"] == pytest.approx(0.0)
    assert made["status"] == "no check", "without the designer's limits nothing is judged"
    assert any("flutter" in said for said in made["cautions"])
