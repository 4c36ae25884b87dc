"""The standard atmosphere of 1976 up to the tropopause: pressure, temperature and density against altitude."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ribwright.core.audit import formula

Floats = NDArray[np.float64]

LOWEST_FT, TROPOPAUSE_FT = -5_000.0, 36_089.0
_ALTITUDE = (LOWEST_FT, TROPOPAUSE_FT)
_TEMPERATURE = (-80.0, 60.0)
_SOURCE = "us-standard-atmosphere-1976"


@formula(
    "atmosphere.temperature",
    symbol="T",
    shown="15 - 0.0019812 * altitude_ft",
    unit="°C",
    locator="sea level 288.15 K, 6.5 K per kilometre",
    limits={"altitude_ft": _ALTITUDE},
    source=_SOURCE,
    rung="seen",
)
def standard_temperature_c(*, altitude_ft: ArrayLike) -> Floats:
    """Standard temperature at a pressure altitude, in degrees Celsius."""
    return np.asarray(15.0 - 0.0019812 * np.asarray(altitude_ft, float))


@formula(
    "atmosphere.pressure_ratio",
    symbol="δ",
    shown="((288.15 - 0.0019812 * altitude_ft) / 288.15)**5.2558761",
    unit="",
    locator="hydrostatic equation with a constant lapse rate; exponent g / (R · lapse rate)",
    limits={"altitude_ft": _ALTITUDE},
    source=_SOURCE,
    rung="seen",
)
def pressure_ratio(*, altitude_ft: ArrayLike) -> Floats:
    """Pressure at a pressure altitude over the standard pressure at sea level."""
    return np.asarray(((288.15 - 0.0019812 * np.asarray(altitude_ft, float)) / 288.15) ** 5.2558761)


@formula(
    "atmosphere.density_ratio",
    symbol="σ",
    shown="pressure_ratio * 288.15 / (temperature_c + 273.15)",
    unit="",
    locator="gas law, against sea level at 288.15 K",
    limits={"pressure_ratio": (0.2, 1.2), "temperature_c": _TEMPERATURE},
    source=_SOURCE,
    rung="seen",
)
def density_ratio(*, pressure_ratio: ArrayLike, temperature_c: ArrayLike) -> Floats:
    """Density of dry air over the standard density at sea level."""
    return np.asarray(
        np.asarray(pressure_ratio, float) * 288.15 / (np.asarray(temperature_c, float) + 273.15)
    )


@formula(
    "atmosphere.density_altitude",
    symbol="h_d",
    shown="288.15 / 0.0019812 * (1 - density_ratio**0.2349692)",
    unit="ft",
    locator="density law inverted; exponent 1 / (5.2558761 - 1)",
    limits={"density_ratio": (0.3, 1.2)},
    source=_SOURCE,
    rung="seen",
)
def density_altitude_ft(*, density_ratio: ArrayLike) -> Floats:
    """The altitude at which standard air has this density."""
    return np.asarray(288.15 / 0.0019812 * (1.0 - np.asarray(density_ratio, float) ** 0.2349692))


@formula(
    "atmosphere.pressure_altitude",
    symbol="h_p",
    shown="altitude_ft + 288.15 / 0.0019812 * (1 - (setting_inhg / 29.92126)**0.1902632)",
    unit="ft",
    locator="pressure law inverted; standard pressure 29.92126 inHg",
    limits={"altitude_ft": _ALTITUDE, "setting_inhg": (27.0, 32.0)},
    source=_SOURCE,
    rung="seen",
)
def pressure_altitude_ft(*, altitude_ft: ArrayLike, setting_inhg: ArrayLike) -> Floats:
    """What the altimeter would show set to the standard pressure, from its reading at another setting."""
    shift = 288.15 / 0.0019812 * (1.0 - (np.asarray(setting_inhg, float) / 29.92126) ** 0.1902632)
    return np.asarray(np.asarray(altitude_ft, float) + shift)
