"""The reduction of flight data: what it refuses, what must not change, and whether its bands are honest."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from flight_world import World, counted
from ribwright.core.flight.climbs import tapeline_fpm
from ribwright.core.flight.fit import crossing, fitted
from ribwright.core.flight.legs import run_of, tas_of_headings
from ribwright.core.flight.level import power_moved_hp, speed_moved_kt
from ribwright.errors import (
    GeometryError,
    InputError,
    MissingError,
    OutOfRangeError,
    OutsideTableError,
    QuantityError,
)
from ribwright.services.calculations import run_calculation

EXAMPLES = Path(__file__).parents[3] / "docs" / "examples"


def example(name: str) -> dict[str, Any]:
    return tomllib.loads((EXAMPLES / f"{name}.toml").read_text(encoding="utf-8"))


def test_the_bands_hold_what_they_say() -> None:
    """200 data sets a kind; 8 in 10 lie inside, as the full form counts to within four in a hundred."""
    for name, one in counted(200).items():
        share = one.inside / len(one.miss)
        assert 0.72 <= share <= 0.88, (name, share)  # three standard errors of 200 draws round .80
        assert abs(float(np.mean(one.miss))) < 1.0, name
        assert one.unanswered <= 10, name


@pytest.mark.parametrize("change", [30.0, 137.0])
def test_turning_the_whole_flight_turns_the_wind_only(change: float) -> None:
    ground, track = np.array([118.0, 96, 82, 107]), np.array([10.0, 101, 190, 282])
    one, other = run_of(ground_kt=ground, track_deg=track), run_of(ground_kt=ground, track_deg=track + change)
    assert abs(one.tas_kt - other.tas_kt) < 1e-9
    assert abs((other.wind_from_deg - one.wind_from_deg - change + 180) % 360 - 180) < 1e-6


def test_exact_legs_give_airspeed_and_wind_back() -> None:
    rng = np.random.default_rng(4)
    for _ in range(50):
        tas, wind, comes = rng.uniform(60, 160), rng.uniform(0, 40), rng.uniform(0, 360)
        heading = np.radians(rng.uniform(0, 360) + np.arange(4) * 90)
        east = tas * np.sin(heading) - wind * np.sin(np.radians(comes))
        north = tas * np.cos(heading) - wind * np.cos(np.radians(comes))
        run = run_of(ground_kt=np.hypot(east, north), track_deg=np.degrees(np.arctan2(east, north)))
        assert abs(run.tas_kt - tas) < 1e-6
        assert abs(run.wind_kt - wind) < 1e-6


def test_parallel_legs_are_named_and_refused() -> None:
    with pytest.raises(GeometryError, match="parallel legs"):
        run_of(ground_kt=[100, 120, 101], track_deg=[90, 270, 95], name="run 2")
    with pytest.raises(MissingError, match="run 1"):
        run_of(ground_kt=[100, 120], track_deg=[90, 180], name="run 1")
    with pytest.raises(GeometryError, match="wind weaker"):
        tas_of_headings(ground_kt=(20.0, 20.0, 300.0))


def test_a_turn_within_a_leg_and_mixed_units_are_refused() -> None:
    raw = example("gps-airspeed")
    turned = raw | {"legs": [raw["legs"][0] | {"track_end": "40 deg"}, *raw["legs"][1:]]}
    with pytest.raises(GeometryError, match="turn within the leg"):
        run_calculation("gps-airspeed", turned)
    mixed = raw | {"legs": [raw["legs"][0] | {"ground": "120 mph"}, *raw["legs"][1:]]}
    with pytest.raises(QuantityError, match="mixed units"):
        run_calculation("gps-airspeed", mixed)
    with pytest.raises(OutOfRangeError, match="range flown"):
        run_calculation("gps-airspeed", raw | {"at": "190 kt"})


def test_climbs_refuse_what_they_cannot_carry() -> None:
    raw = example("sawtooth-climbs")
    with pytest.raises(OutOfRangeError, match="Weight wanted"):
        run_calculation("sawtooth-climbs", raw | {"weight": "1800 lb"})
    with pytest.raises(MissingError, match="different airspeeds"):
        run_calculation("sawtooth-climbs", raw | {"climbs": raw["climbs"][:4] * 3})
    with pytest.raises(GeometryError, match="200 ft"):
        run_calculation(
            "sawtooth-climbs", raw | {"climbs": [raw["climbs"][0] | {"high": "2400 ft"}, *raw["climbs"][1:]]}
        )


def test_best_angle_outside_the_speeds_flown_is_not_answered() -> None:
    """Climbs flown only on the fast side of best angle: no speed is made up for what was not flown."""
    raw = example("sawtooth-climbs")
    seconds = {64: 62, 68: 61, 74: 61, 80: 62, 86: 65, 92: 69}  # rate over speed falls all the way
    climbs = [
        raw["climbs"][0] | {"cas": f"{v} kt", "low": "2500 ft", "high": "3500 ft", "time": f"{t + d} s"}
        for v, t in seconds.items()
        for d in (0, 1)
    ]
    done = run_calculation("sawtooth-climbs", raw | {"climbs": climbs}).answer["results"]
    assert isinstance(done["best_angle_speed"]["value"], str)
    assert "extrapolated" in done["best_angle_speed"]["value"]
    assert 64 < done["best_rate_speed"]["value"] < 86


def test_weight_moves_best_rate_up_with_its_root() -> None:
    slow, fast = (
        run_calculation("sawtooth-climbs", example("sawtooth-climbs") | {"weight": w}).answer["results"][
            "best_rate_speed"
        ]["value"]
        for w in ("1350 lb", "1450 lb")
    )
    assert 0.2 < fast - slow < 4.0


def test_level_runs_of_a_world_written_in_si_come_together() -> None:
    """Drag with a parabolic polar at two weights and heights lies on one curve after moving."""
    one = World(11.0, 0.03, 0.06, 0.0, 0.0, 9.0, 8e4, 0.8, 60, 0, 0)
    moved = []
    for weight, height in ((1300.0, 1000.0), (1420.0, 7000.0)):
        rho = one.density(height, 0.0)
        cl = 0.4
        tas = np.sqrt(2 * weight * 4.448222 / (rho * one.area * cl))
        power = 0.5 * rho * tas**3 * one.area * (one.cd0 + one.k * cl**2) / 745.7
        eas = tas * np.sqrt(rho / 1.225) / 0.514444
        moved.append(
            (
                float(speed_moved_kt(eas_kt=eas, standard_lb=1400, weight_lb=weight)),
                float(
                    power_moved_hp(
                        power_hp=power, density_ratio=rho / 1.225, standard_lb=1400, weight_lb=weight
                    )
                ),
            )
        )
    assert moved[0] == pytest.approx(moved[1], rel=1e-9)


def test_level_speed_stays_inside_what_was_flown() -> None:
    raw = example("level-speed")
    done = run_calculation("level-speed", raw).answer["results"]["true_airspeed"]
    assert done["low"] < done["value"] < done["high"]
    for change in ({"power": "150 hp"}, {"altitude": "9000 ft"}, {"weight": "1700 lb"}):
        with pytest.raises(InputError):
            run_calculation("level-speed", raw | change)


def test_a_crossing_knows_when_its_band_is_cut_off() -> None:
    x = np.linspace(0.0, 1.0, 9)
    y = -((x - 0.5) ** 2) + 0.02 * np.cos(37 * np.arange(9))
    fit = fitted(np.vander(x, 3, increasing=True), y, low=0.0, high=1.0)
    top = crossing(fit, lambda v: np.column_stack([0 * v, 1 + 0 * v, 2 * v]))
    assert top is not None
    assert top.low < top.at < top.high
    assert crossing(fit, lambda v: np.column_stack([1 + 0 * v, 0 * v, 0 * v]), offset=5.0) is None


def test_wire_is_the_thinnest_that_does_it() -> None:
    raw = example("wire")
    done = run_calculation("wire", raw)
    assert done.answer["status"] == "within limits"
    lamp = {"name": "lamp", "current": "20 A", "length": "107 ft", "drop": "1 V", "cruise": "yes"}
    assert (
        "No. 6" in run_calculation("wire", {"circuits": [lamp]}).answer["results"]["sizes"]["value"]
    )  # as in table 11-7
    with pytest.raises(OutsideTableError, match="lamp"):
        run_calculation("wire", {"circuits": [lamp | {"current": "190 A"}]})


def test_distances_are_not_corrected() -> None:
    raw = example("field-distance")
    assert run_calculation("field-distance", raw).answer["results"]["mean"]["low"] > 0
    with pytest.raises(OutOfRangeError, match="wind"):
        run_calculation(
            "field-distance", raw | {"runs": [raw["runs"][0] | {"wind": "12 kt"}, *raw["runs"][1:]]}
        )


@pytest.mark.parametrize(
    ("warmer_c", "low", "high"), [(15.0, 2000.0, 3500.0), (-12.0, 500.0, 1500.0), (0.0, 4000.0, 5000.0)]
)
def test_the_tapeline_climb_is_that_of_a_climb_integrated_through_the_air(
    warmer_c: float, low: float, high: float
) -> None:
    """Hydrostatic equation summed in 2,000 layers with the gas constant of dry air (ISO 2533), not with our ratio."""
    metres = np.linspace(low, high, 2001) * 0.3048
    kelvin_std = 288.15 - 0.0065 * metres
    pressure = 101_325.0 * (kelvin_std / 288.15) ** 5.255877
    kelvin = kelvin_std + warmer_c
    mean = (kelvin[1:] + kelvin[:-1]) / 2
    real_ft = float((287.05287 * mean / 9.80665 * -np.diff(np.log(pressure))).sum()) / 0.3048
    standard = 288.15 - 0.0065 * (low + high) / 2 * 0.3048 - 273.15
    found = float(
        tapeline_fpm(
            low_ft=low, high_ft=high, time_s=90.0, temperature_c=standard + warmer_c, standard_c=standard
        )
    )
    assert found == pytest.approx(real_ft / 1.5, rel=2e-4)
    assert (found > (high - low) / 1.5) == (warmer_c > 0)
