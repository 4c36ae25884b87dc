"""Indicated, calibrated, equivalent and true airspeed: compressible, exact below the speed of sound."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ribwright.core.audit import Outcome, Result, Worksheet, calculation, choice, formula, quantity
from ribwright.core.bench import CAUTIONS
from ribwright.core.flight.atmosphere import (
    density_altitude_ft,
    density_ratio,
    pressure_altitude_ft,
    pressure_ratio,
    standard_temperature_c,
)
from ribwright.core.units import Quantity
from ribwright.errors import OutOfRangeError

Floats = NDArray[np.float64]

SOUND_KT = 661.4786
"""Speed of sound in standard air at sea level."""
_SPEED, _RATIO, _TEMPERATURE = (0.0, 500.0), (0.2, 1.2), (-80.0, 60.0)


@formula(
    "airspeed.mach",
    symbol="M",
    shown="sqrt(5 * ((((1 + 0.2 * (cas_kt / 661.4786)**2)**3.5 - 1) / pressure_ratio + 1)**(2 / 7) - 1))",
    unit="",
    source="flight-mechanics",
    locator="impact pressure of a pitot tube in air, ratio of specific heats 1.4",
    rung="derived",
    limits={"cas_kt": _SPEED, "pressure_ratio": _RATIO},
)
def mach_of_cas(*, cas_kt: ArrayLike, pressure_ratio: ArrayLike) -> Floats:
    """Mach number from calibrated airspeed, by way of the impact pressure."""
    impact = (1.0 + 0.2 * (np.asarray(cas_kt, float) / SOUND_KT) ** 2) ** 3.5 - 1.0
    return np.sqrt(5.0 * ((impact / np.asarray(pressure_ratio, float) + 1.0) ** (2.0 / 7.0) - 1.0))


@formula(
    "airspeed.true",
    symbol="V_T",
    shown="661.4786 * mach * sqrt((temperature_c + 273.15) / 288.15)",
    unit="kt",
    source="flight-mechanics",
    locator="Mach number times the speed of sound",
    rung="derived",
    limits={"mach": (0.0, 0.9), "temperature_c": _TEMPERATURE},
)
def true_airspeed_kt(*, mach: ArrayLike, temperature_c: ArrayLike) -> Floats:
    """True airspeed from Mach number and the temperature of the air."""
    return SOUND_KT * np.asarray(mach, float) * np.sqrt((np.asarray(temperature_c, float) + 273.15) / 288.15)


@formula(
    "airspeed.equivalent",
    symbol="V_E",
    shown="661.4786 * mach * sqrt(pressure_ratio)",
    unit="kt",
    source="flight-mechanics",
    locator="true airspeed times the root of the density ratio",
    rung="derived",
    limits={"mach": (0.0, 0.9), "pressure_ratio": _RATIO},
)
def equivalent_airspeed_kt(*, mach: ArrayLike, pressure_ratio: ArrayLike) -> Floats:
    """Equivalent airspeed: what dynamic pressure alone, without compression, would show."""
    return SOUND_KT * np.asarray(mach, float) * np.sqrt(np.asarray(pressure_ratio, float))


@formula(
    "airspeed.calibrated",
    symbol="V_C",
    shown="661.4786 * sqrt(5 * ((pressure_ratio * ((1 + 0.2 * mach**2)**3.5 - 1) + 1)**(2 / 7) - 1))",
    unit="kt",
    source="flight-mechanics",
    locator="impact pressure of a pitot tube in air, inverted at sea level",
    rung="derived",
    limits={"mach": (0.0, 0.9), "pressure_ratio": _RATIO},
)
def calibrated_airspeed_kt(*, mach: ArrayLike, pressure_ratio: ArrayLike) -> Floats:
    """Calibrated airspeed from Mach number: what a faultless airspeed indicator shows."""
    impact = np.asarray(pressure_ratio, float) * ((1.0 + 0.2 * np.asarray(mach, float) ** 2) ** 3.5 - 1.0)
    return SOUND_KT * np.sqrt(5.0 * ((impact + 1.0) ** (2.0 / 7.0) - 1.0))


@formula(
    "airspeed.mach_of_true",
    symbol="M",
    shown="true_kt / (661.4786 * sqrt((temperature_c + 273.15) / 288.15))",
    unit="",
    source="flight-mechanics",
    locator="true airspeed over the speed of sound",
    rung="derived",
    limits={"true_kt": _SPEED, "temperature_c": _TEMPERATURE},
)
def mach_of_true(*, true_kt: ArrayLike, temperature_c: ArrayLike) -> Floats:
    """Mach number from true airspeed and the temperature of the air."""
    return np.asarray(true_kt, float) / (
        SOUND_KT * np.sqrt((np.asarray(temperature_c, float) + 273.15) / 288.15)
    )


def cas_of_true(*, true_kt: ArrayLike, pressure_altitude_ft: ArrayLike, temperature_c: ArrayLike) -> Floats:
    """Calibrated airspeed from true, all arrays of one shape."""
    return calibrated_airspeed_kt(
        mach=mach_of_true(true_kt=true_kt, temperature_c=temperature_c),
        pressure_ratio=pressure_ratio(altitude_ft=pressure_altitude_ft),
    )


def equivalent_of_cas(*, cas_kt: ArrayLike, pressure_altitude_ft: ArrayLike) -> Floats:
    """Equivalent airspeed from calibrated, all arrays of one shape."""
    delta = pressure_ratio(altitude_ft=pressure_altitude_ft)
    return equivalent_airspeed_kt(mach=mach_of_cas(cas_kt=cas_kt, pressure_ratio=delta), pressure_ratio=delta)


@dataclass(frozen=True, slots=True)
class Airspeed:
    """An airspeed of one kind, and the air it was flown in."""

    speed: Quantity = quantity(
        "kt", "Airspeed", help="as read or worked out", example="110 kt", low="1 kt", high="450 kt"
    )
    kind: str = choice(
        "It is",
        ("indicated", "calibrated", "true"),
        help="what kind of airspeed this is",
        default="calibrated",
    )
    instrument: Quantity = quantity(
        "kt", "Instrument correction", help="added to indicated airspeed, from the bench check of the indicator",
        example="-1 kt", low="-30 kt", high="30 kt", default="0 kt",
    )  # fmt: skip
    position: Quantity = quantity(
        "kt", "Position correction", help="added to indicated airspeed, from this aeroplane's own calibration",
        example="2 kt", low="-30 kt", high="30 kt", default="0 kt",
    )  # fmt: skip
    altitude: Quantity = quantity(
        "ft", "Altitude", help="as the altimeter shows it", example="4500 ft", low="-2000 ft", high="30000 ft"
    )
    setting: Quantity = quantity(
        "inHg", "Altimeter setting", help="29.92 inHg makes the altitude a pressure altitude", example="29.92 inHg",
        low="27 inHg", high="32 inHg", default="29.9213 inHg",
    )  # fmt: skip
    temperature: Quantity | None = quantity(
        "°C", "Outside air temperature", help="left empty, the standard one is taken", example="8 °C", low="-60 °C",
        high="55 °C", optional=True,
    )  # fmt: skip


@calculation(
    "airspeed",
    title="Airspeed",
    summary="Indicated, calibrated, equivalent and true airspeed, with pressure and density altitude.",
    spec=Airspeed,
    results=(
        "calibrated",
        "equivalent",
        "true",
        "mach",
        "pressure_altitude",
        "density_altitude",
        "density_ratio",
    ),
)
def airspeed(spec: Airspeed, ws: Worksheet) -> Outcome:
    """From one kind of airspeed to all the others."""
    height = ws.step(
        "pressure altitude", pressure_altitude_ft, altitude_ft=spec.altitude.to("ft"), setting_inhg=spec.setting.to("inHg")
    )  # fmt: skip
    delta = ws.step("pressure ratio", pressure_ratio, altitude_ft=height)
    if spec.temperature is None:
        ws.assume("outside air temperature", "the standard one", "none was entered")
        degrees = ws.step("standard temperature", standard_temperature_c, altitude_ft=height)
    else:
        degrees = spec.temperature.to("°C")
    sigma = ws.step("density ratio", density_ratio, pressure_ratio=delta, temperature_c=degrees)
    entered = spec.speed.to("kt")
    if spec.kind == "true":
        mach = ws.step("Mach number", mach_of_true, true_kt=entered, temperature_c=degrees)
        cas = ws.step("calibrated airspeed", calibrated_airspeed_kt, mach=mach, pressure_ratio=delta)
    else:
        cas = entered
        if spec.kind == "indicated":
            cas = entered + spec.instrument.to("kt") + spec.position.to("kt")
            if cas <= 0:
                raise OutOfRangeError(
                    "Position correction",
                    found=f"{cas:g} kt left",
                    allowed="a calibrated airspeed above nothing",
                )
            ws.worked_out(
                "calibrated airspeed",
                f"{cas:.1f} kt",
                "indicated airspeed and both corrections",
                value=cas,
                unit="kt",
            )
        mach = ws.step("Mach number", mach_of_cas, cas_kt=cas, pressure_ratio=delta)
    true = ws.step("true airspeed", true_airspeed_kt, mach=mach, temperature_c=degrees)
    equivalent = ws.step("equivalent airspeed", equivalent_airspeed_kt, mach=mach, pressure_ratio=delta)
    dense = ws.step("density altitude", density_altitude_ft, density_ratio=sigma)
    results = {
        "calibrated": Result("calibrated airspeed", cas, "kt", places=1),
        "equivalent": Result("equivalent airspeed", equivalent, "kt", places=1),
        "true": Result("true airspeed", true, "kt", places=1),
        "mach": Result("Mach number", mach, "", places=3),
        "pressure_altitude": Result("pressure altitude", height, "ft", places=0),
        "density_altitude": Result("density altitude, dry air", dense, "ft", places=0),
        "density_ratio": Result("density ratio", sigma, "", places=4),
    }
    return Outcome(tuple(ws.steps), results, cautions=("Limits of the aeroplane are marked in the kind of airspeed the designer gives; most are indicated or calibrated.", *CAUTIONS))  # fmt: skip
