"""Flight reduction against printed numbers: atmosphere, airspeed, legs over the ground, stall, wire, least squares.

GPS legs, headings and airspeeds: documentation of open-source aeronautics libraries (the four-leg set is stated there
to be validated against a test-pilot school's spreadsheet), the Aviation Formulary; US Standard Atmosphere 1976; the
wire examples of AC 43.13-1B tables 11-7 and 11-8; Norris of NIST's Statistical Reference Datasets; see
tests/data/flight/SOURCE.md. Two general packages, ambiance and aerocalc3, are run beside.
"""

from __future__ import annotations

import math
import tomllib
from pathlib import Path

import ambiance
import numpy as np
import pytest
from aerocalc3 import airspeed as other

from reference.printed import assert_printed
from ribwright.core.flight.airspeed import (
    SOUND_KT,
    calibrated_airspeed_kt,
    cas_of_true,
    equivalent_airspeed_kt,
    mach_of_cas,
    mach_of_true,
    true_airspeed_kt,
)
from ribwright.core.flight.atmosphere import (
    density_altitude_ft,
    density_ratio,
    pressure_altitude_ft,
    pressure_ratio,
    standard_temperature_c,
)
from ribwright.core.flight.fit import fitted, student_t
from ribwright.core.flight.legs import heading_mean_square, run_of, tas_of_headings
from ribwright.core.flight.repeats import stall_at_load_kt
from ribwright.core.flight.wire import drop_v

COVERS = {
    "atmosphere.temperature": "US Standard Atmosphere 1976, table at -1000 to 3000 m",
    "atmosphere.pressure_ratio": "the same table; 24.8960 inHg at 5,000 ft",
    "atmosphere.density_ratio": "the same table; ratio at 7,500 ft",
    "atmosphere.density_altitude": "8595.3 ft at 7,000 ft and 15 °C",
    "atmosphere.pressure_altitude": "88.61 ft at 1,000 ft and 30.92 inHg",
    "airspeed.mach": "true airspeed from 250 kt and 250 mph at 10,000 ft",
    "airspeed.true": "the same; Mach .8 at -15 °C",
    "airspeed.equivalent": "248.096 kt from 250 kt at 10,000 ft",
    "airspeed.calibrated": "back from 288.702 kt true",
    "airspeed.mach_of_true": "Mach .79860 at 500 kt and -15 °C",
    "gps.heading_mean_square": "three headings 120° apart, Aviation Formulary",
    "stall.at_load": "Pilot's Handbook: 50 kt stalls at 100 kt with 4 g, 150 kt with 9 g",
    "wire.drop": "AC 43.13-1B tables 11-7 and 11-8",
}
DATA = tomllib.loads((Path(__file__).parents[1] / "data" / "flight" / "norris.toml").read_text())


@pytest.mark.parametrize(
    ("metre", "kelvin", "pascal", "density"),
    [(-1000, "294.7", "113930", "1.347"), (0, "288.15", "101325", "1.225"), (1000, "281.7", "89880", "1.112"), (2000, "275.2", "79500", "1.007"), (3000, "268.7", "70120", "0.9093")],
)  # fmt: skip
def test_us_standard_atmosphere(metre: float, kelvin: str, pascal: str, density: str) -> None:
    # the table is by geometric altitude, the law by geopotential: r h / (r + h)
    feet = 6_356_766 * metre / (6_356_766 + metre) / 0.3048
    degrees = float(standard_temperature_c(altitude_ft=feet))
    delta = float(pressure_ratio(altitude_ft=feet))
    assert_printed(degrees + 273.15, kelvin)
    ten = pascal.endswith("0")  # the printed table rounds to 10 Pa above and below sea level
    assert_printed(delta * 101325, pascal, *((6.0, "the table rounds to tens") if ten else ()))
    assert_printed(1.225 * float(density_ratio(pressure_ratio=delta, temperature_c=degrees)), density)


def test_atmosphere_cross_checks() -> None:
    assert_printed(
        float(pressure_ratio(altitude_ft=5000)) * 29.92126,
        "24.8960",
        1e-4,
        "the library rounds the standard pressure in inches of mercury",
    )
    assert_printed(float(standard_temperature_c(altitude_ft=5000)), "5.094")
    there = density_ratio(
        pressure_ratio=pressure_ratio(altitude_ft=7500),
        temperature_c=standard_temperature_c(altitude_ft=7500),
    )
    assert_printed(float(there), "0.798258")
    high = density_ratio(pressure_ratio=pressure_ratio(altitude_ft=7000), temperature_c=15)
    assert_printed(float(density_altitude_ft(density_ratio=high)), "8595.3")
    shown = float(pressure_altitude_ft(altitude_ft=1000, setting_inhg=30.92))
    assert_printed(shown, "88.61", 0.06, "the library rounds the standard pressure in inches of mercury")


def test_airspeed_cross_checks() -> None:
    delta = pressure_ratio(altitude_ft=10_000)
    standard = float(standard_temperature_c(altitude_ft=10_000))
    mach = mach_of_cas(cas_kt=250, pressure_ratio=delta)
    assert_printed(float(equivalent_airspeed_kt(mach=mach, pressure_ratio=delta)), "248.096")
    assert_printed(float(true_airspeed_kt(mach=mach, temperature_c=standard)), "288.702")
    mph = 1.609344 / 1.852
    slower = mach_of_cas(cas_kt=250 * mph, pressure_ratio=delta)
    for degrees, printed in ((standard, "289.220"), (0.0, "291.801"), (-160 / 9, "282.146")):
        assert_printed(float(true_airspeed_kt(mach=slower, temperature_c=degrees)) / mph, printed)
    assert_printed(float(mach_of_true(true_kt=500, temperature_c=-15)), "0.79860")
    assert_printed(float(true_airspeed_kt(mach=0.8, temperature_c=-15)), "500.879")
    assert_printed(SOUND_KT, "661.479")
    back = cas_of_true(true_kt=288.7022723, pressure_altitude_ft=10_000, temperature_c=standard)
    assert_printed(float(back), "250.000")


def test_beside_two_general_packages() -> None:
    feet = np.linspace(-3000, 35_000, 39)
    air = ambiance.Atmosphere(
        feet * 0.3048 * 6_356_766 / (6_356_766 - feet * 0.3048)
    )  # it takes geometric altitude
    sigma = density_ratio(
        pressure_ratio=pressure_ratio(altitude_ft=feet),
        temperature_c=standard_temperature_c(altitude_ft=feet),
    )
    np.testing.assert_allclose(sigma, air.density / 1.225, rtol=1e-5)
    for height in (0.0, 4_000.0, 12_000.0):
        delta, degrees = pressure_ratio(altitude_ft=height), float(standard_temperature_c(altitude_ft=height))
        for cas in (45.0, 90.0, 165.0):
            mach = mach_of_cas(cas_kt=cas, pressure_ratio=delta)
            assert math.isclose(
                float(true_airspeed_kt(mach=mach, temperature_c=degrees)),
                other.cas2tas(cas, height),
                rel_tol=1e-5,
            )
            assert math.isclose(
                float(calibrated_airspeed_kt(mach=mach, pressure_ratio=delta)), cas, rel_tol=1e-9
            )


def test_four_legs_over_the_ground() -> None:
    run = run_of(ground_kt=[178, 185, 188, 184], track_deg=[178, 82, 355, 265])
    assert_printed(float(np.mean(run.three_leg_kt)), "183.7267")
    assert run.spread_kt is not None
    assert_printed(run.spread_kt, "0.8271")
    expected = (
        ("183.0499", "5.261", "194.52"),
        ("184.4412", "3.582", "181.52"),
        ("182.9720", "5.150", "162.70"),
        ("184.4437", "6.444", "177.95"),
    )
    for first, (tas, wind, comes_from) in enumerate(expected):
        some = [(first + k) % 4 for k in range(3)]
        three = run_of(
            ground_kt=np.array([178, 185, 188, 184])[some], track_deg=np.array([178, 82, 355, 265])[some]
        )
        assert_printed(three.tas_kt, tas)
        assert_printed(three.wind_kt, wind)
        assert_printed(three.wind_from_deg, comes_from)


def test_three_headings_and_the_plain_mean() -> None:
    square = float(heading_mean_square(first_kt=113.8909585, second_kt=108.4807844, third_kt=80.3789089))
    assert_printed(square, "10400.000")
    tas, wind = tas_of_headings(ground_kt=(113.8909585, 108.4807844, 80.3789089))
    assert_printed(tas, "100.000")
    assert_printed(wind, "20.000")
    ground = np.array(
        [101.98039, 120.0, 101.98039, 80.0]
    )  # cardinal headings, wind of 20 kt along one of them
    assert_printed(float(ground.mean()), "100.99")
    angle = np.degrees(np.arctan2(20, 100))
    assert_printed(run_of(ground_kt=ground, track_deg=[angle, 90, 180 - angle, 270]).tas_kt, "100.00")


def test_stall_at_load() -> None:
    assert_printed(float(stall_at_load_kt(speed_kt=50, load_ratio=4)), "100")
    assert_printed(float(stall_at_load_kt(speed_kt=50, load_ratio=9)), "150")


@pytest.mark.parametrize(
    ("ohms", "feet", "printed", "slack", "because"),
    [
        (0.44, 107, "0.942", None, ""),
        (0.28, 90, "0.504", None, ""),
        (2.02, 88, "3.60", 0.05, "the table's own factors give 3.555"),
        (3.06, 100, "6.12", None, ""),
        (1.26, 39, ".98", None, ""),
        (1.26, 156, "3.93", None, ""),
        (1.26, 273, "6.88", None, ""),
        (1.26, 19.5, ".366", 0.13, "the table's own factors give .491: a slip in print"),
    ],
)
def test_wire_examples(ohms: float, feet: float, printed: str, slack: float | None, because: str) -> None:
    assert_printed(
        float(drop_v(resistance_ohm=ohms, length_ft=feet, current_a=20, conductor_c=20)),
        printed,
        slack,
        because,
    )


def test_norris_least_squares() -> None:
    x, y = np.array(DATA["x"]), np.array(DATA["y"])
    fit = fitted(np.column_stack([np.ones_like(x), x]), y, low=0, high=1000)
    assert_printed(float(fit.weights[0]), "-0.262323073774")
    assert_printed(float(fit.weights[1]), "1.0021168180205")
    assert_printed(math.sqrt(fit.spread[0, 0]), "0.23281823430115")
    assert_printed(math.sqrt(fit.spread[1, 1]) * 1e3, "0.4297968482")
    assert_printed(fit.scatter**2 * fit.freedom, "26.617398529")


def test_student_t_table() -> None:
    for freedom, printed in (
        (1, "3.078"),
        (2, "1.886"),
        (3, "1.638"),
        (4, "1.533"),
        (6, "1.440"),
        (10, "1.372"),
        (15, "1.341"),
        (30, "1.310"),
        (60, "1.296"),
    ):
        assert_printed(student_t(freedom), printed)
