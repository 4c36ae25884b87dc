"""Weight and balance: AC 43.13-1B chapter 10 (figures 10-10, 10-11, 10-13, 10-14) and FAA-H-8083-1B chapter 10.

The figures' numbers were seen; figure 10-13 prints a CG of 18.6 where its own total, 38,466 over 2,100 lb, gives 18.32.
"""

from __future__ import annotations

import numpy as np
import pytest

from reference.printed import assert_printed
from ribwright.core.massprops.moments import (
    cg_in,
    minimum_fuel_lb,
    moment_lb_in,
    percent_mac,
    third_wheel_cg_in,
)
from ribwright.services.calculations import run_calculation

COVERS = {
    "moment": "AC 43.13-1B figure 10-10, every row",
    "cg": "AC 43.13-1B figures 10-10, 10-11, 10-14",
    "cg.third_wheel": "FAA-H-8083-1B chapter 10, calculator example",
    "fuel.minimum": "AC 43.13-1B figure 10-10, minimum fuel of a 165 hp engine",
    "cg.percent_mac": "FAA-H-8083-1B: the ends of the chord are 0 and 100 % by definition",
}

EMPTY, OIL, PILOT, REAR, FUEL, BAGGAGE = (
    (1169, 10.6),
    (17, -49.0),
    (170, 16.0),
    (340, 48.0),
    (240, 22.0),
    (100, 75.5),
)


def total(*items: tuple[float, float]) -> tuple[float, float, float]:
    weight = float(sum(w for w, _ in items))
    moment = float(
        sum(moment_lb_in(weight_lb=np.array([w for w, _ in items]), arm_in=np.array([a for _, a in items])))
    )
    return weight, moment, float(cg_in(total_lb_in=moment, total_lb=weight))


def test_figure_10_10_forward_extreme() -> None:
    assert_printed(float(moment_lb_in(weight_lb=1169, arm_in=10.6)), "12391")
    assert_printed(float(moment_lb_in(weight_lb=17, arm_in=-49)), "-833")
    fuel = float(minimum_fuel_lb(power_hp=165, fuel_lb_per_gal=6))
    assert_printed(fuel, "83")
    weight, moment, cg = total(EMPTY, OIL, PILOT, (83, 22.0))
    assert weight == 1439
    assert_printed(moment, "16104")
    assert_printed(cg, "11.2")


def test_figure_10_11_rearward_extreme() -> None:
    weight, moment, cg = total(EMPTY, OIL, PILOT, REAR, FUEL, BAGGAGE)
    assert weight == 2036
    assert_printed(moment, "43428")
    assert_printed(cg, "21.33")


def test_figure_10_13_prints_another_cg_than_its_own_totals_give() -> None:
    weight, moment, cg = total(EMPTY, OIL, PILOT, (170, 16.0), REAR, (234, 22.0))
    assert weight == 2100
    assert_printed(moment, "38466")
    assert_printed(cg, "18.32")
    assert abs(cg - 18.6) > 0.2


def test_figure_10_14_most_baggage() -> None:
    weight, moment, cg = total(EMPTY, OIL, PILOT, (170, 48.0), (170, 16.0), FUEL, BAGGAGE)
    assert weight == 2036
    assert_printed(moment, "37988")
    assert_printed(cg, "18.7")


def test_nosewheel_cg_from_the_mains() -> None:
    cg = float(third_wheel_cg_in(main_arm_in=0.0, third_lb=340.0, third_from_main_in=-78.0, total_lb=2006.0))
    assert_printed(cg, "-13.2")


def test_ends_of_the_chord() -> None:
    assert float(percent_mac(cg_in=60.0, lemac_in=60.0, mac_in=48.3)) == 0.0
    assert float(percent_mac(cg_in=108.3, lemac_in=60.0, mac_in=48.3)) == pytest.approx(100.0)


def test_the_weighing_calculation_gives_the_calculator_example() -> None:
    points = [
        {"name": "nose", "role": "nose", "side": "centre", "reading": "340 lb", "arm": "-78 in"},
        {"name": "left main", "role": "main", "side": "left", "reading": "833 lb", "arm": "0 in"},
        {"name": "right main", "role": "main", "side": "right", "reading": "833 lb", "arm": "0 in"},
    ]
    done = run_calculation("weighing", {"points": points})
    assert done.answer["results"]["empty_weight"]["value"] == pytest.approx(2006.0)
    assert_printed(done.answer["results"]["empty_cg"]["value"], "-13.2")
