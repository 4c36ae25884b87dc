"""A cooling night is no leak, a leak is one; sealant by geometry; refusals by name."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from ribwright.core.massprops.sealant import cap_in3
from ribwright.core.massprops.tank_air import INH2O_PER_INHG, ZERO_F
from ribwright.errors import GeometryError, MissingError, OutOfRangeError
from ribwright.services.calculations import run_calculation


def cooling_night(rng: np.random.Generator, *, leak_inh2o: float) -> dict[str, Any]:
    """Twelve hours, hourly: the air cools and lags, the barometer wanders, the readings are off as their bands say."""
    h = np.arange(13.0)
    drop, rise = rng.uniform(6, 22), rng.normal(0, 0.12)
    air = 72 - drop * (1 - np.exp(-h / 5)) / (1 - np.exp(-12 / 5))
    lag = rng.uniform(-1, 1) * 0.25 * np.sin(np.pi * h / 24)
    barometer = 29.9 + rise * h / 12 + 0.01 * np.sin(h)
    inside = air + lag + ZERO_F
    moles = (27.7 + INH2O_PER_INHG * barometer[0]) / inside[0]
    absolute = moles * inside * (1 - leak_inh2o / (27.7 + INH2O_PER_INHG * barometer[0]) * h / 12)
    gauge = absolute - INH2O_PER_INHG * barometer
    rows = [
        {
            "hours": float(t), "pressure": f"{p + rng.normal(0, 0.03):.2f} inH2O", "temperature": f"{f + rng.normal(0, 0.2):.1f} °F",
            "barometer": f"{b + rng.normal(0, 0.005):.3f} inHg",
        }
        for t, p, f, b in zip(h, gauge, air, barometer, strict=True)
    ]  # fmt: skip
    return {"log": rows, "allowed": "1.5 inH2O", "temperature_u": "0.4 °F", "lag": "0.5 °F"}


def test_40_nights_without_a_leak_and_40_with_one() -> None:
    rng = np.random.default_rng(31)
    tight = [run_calculation("tank-leak", cooling_night(rng, leak_inh2o=0.0)).answer for _ in range(40)]
    assert sum(a["status"] == "within limits" for a in tight) >= 38
    assert all(a["results"]["raw_fall"]["value"] > 2 for a in tight[:5]), (
        "the column itself fell all the same"
    )
    leaky = [run_calculation("tank-leak", cooling_night(rng, leak_inh2o=4.0)).answer for _ in range(40)]
    assert sum(a["status"] == "rework" for a in leaky) >= 38
    inside = sum(a["results"]["lost"]["low"] <= 4.0 <= a["results"]["lost"]["high"] for a in leaky)
    assert inside >= 37


def test_a_small_leak_is_undecided_not_passed() -> None:
    made = [
        run_calculation("tank-leak", cooling_night(np.random.default_rng(k), leak_inh2o=1.5)).answer["status"]
        for k in range(20)
    ]
    assert made.count("undecided") >= 18


def test_sealant_by_geometry() -> None:
    seams = [{"name": "a", "length": 100, "fillet": 0.2, "rivets": 10}]
    made = run_calculation("tank-sealant", {"seams": seams, "waste": "50 %", "batch": "2 in³"}).answer[
        "results"
    ]
    cap = math.pi * 0.12 * (3 * 0.2**2 + 0.12**2) / 6
    assert made["volume"]["value"] == pytest.approx(0.02 * 100 + 10 * cap)
    assert made["with_waste"]["value"] == pytest.approx(1.5 * made["volume"]["value"])
    assert made["batches"]["value"] == "2"
    assert float(cap_in3(diameter_in=2.0, height_in=1.0)) == pytest.approx(2 / 3 * math.pi)


ROW = {"hours": 0, "pressure": "27.7 inH2O", "temperature": "60 °F", "barometer": "29.9 inHg"}


@pytest.mark.parametrize(
    ("name", "raw", "error", "says"),
    [
        ("tank-leak", {"log": [ROW]}, MissingError, "Log"),
        ("tank-leak", {"log": [ROW, ROW]}, GeometryError, "later from row to row"),
        ("tank-leak", {"log": [{**ROW, "pressure": "0.5 inH2O"}, {**ROW, "hours": 1}]}, OutOfRangeError, "balloon"),
        ("tank-leak", {"log": [ROW, {**ROW, "hours": 1, "barometer": "3 inHg"}]}, OutOfRangeError, "Barometer"),
        ("tank-sealant", {"seams": [{"name": "a"}]}, MissingError, "rivets to cap"),
        ("fuel-flow", {"system": "pump", "takeoff": 9, "attitude": "level or three-point", "runs": [{"name": "a", "volume": 0, "time": 3}]}, OutOfRangeError, "Volume"),
        ("fuel-flow", {"system": "siphon", "takeoff": 9, "attitude": "level or three-point", "runs": [{"name": "a", "volume": 1, "time": 3}]}, Exception, "gravity"),
    ],
)  # fmt: skip
def test_bad_input_is_named(name: str, raw: dict[str, Any], error: type[Exception], says: str) -> None:
    with pytest.raises(error, match=says):
        run_calculation(name, raw)


def test_too_little_flow_is_rework_and_a_called_out_margin_wins() -> None:
    run = {"name": "left", "volume": "1 gal", "time": "5 min"}
    raw = {"system": "pump", "takeoff": 10, "runs": [run], "attitude": "level or three-point"}
    assert run_calculation("fuel-flow", raw).answer["status"] == "rework"
    assert run_calculation("fuel-flow", {**raw, "margin": "110 %"}).answer["status"] == "within limits"


def test_the_loss_is_the_same_in_other_units_and_nothing_for_a_tight_tank_in_any_weather() -> None:
    night = cooling_night(np.random.default_rng(8), leak_inh2o=2.0)
    other = {**night, "log": [{**row, "temperature": f"{(float(row['temperature'].split()[0]) - 32) / 1.8:.9f} °C"} for row in night["log"]]}  # fmt: skip
    one, two = (
        run_calculation("tank-leak", raw).answer["results"]["lost"]["value"] for raw in (night, other)
    )
    assert one == pytest.approx(two, abs=1e-6)
    start = 27.7 + INH2O_PER_INHG * 29.9
    for fall, rise in ((25.0, 0.4), (-15.0, -0.6)):
        log = []
        for h in range(7):
            warm, outside = 70 - fall * h / 6, 29.9 + rise * h / 6
            gauge = start * (warm + ZERO_F) / (70 + ZERO_F) - INH2O_PER_INHG * outside
            log.append({"hours": h, "pressure": f"{gauge:.9f} inH2O", "temperature": f"{warm:.9f} °F", "barometer": f"{outside:.9f} inHg"})  # fmt: skip
        lost = run_calculation("tank-leak", {"log": log}).answer["results"]["lost"]["value"]
        assert lost == pytest.approx(0.0, abs=1e-6)
