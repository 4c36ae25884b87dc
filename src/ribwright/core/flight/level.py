"""Level speed against power, moved to a standard day and weight: power for friction and power for lift, fitted together."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ribwright.core.audit import Outcome, Result, Worksheet, calculation, formula, quantity, rows, text
from ribwright.core.bench import CAUTIONS
from ribwright.core.flight.airspeed import equivalent_of_cas
from ribwright.core.flight.atmosphere import density_ratio, pressure_ratio, standard_temperature_c
from ribwright.core.flight.curve_picture import curve_picture
from ribwright.core.flight.fit import crossing, fitted
from ribwright.core.flight.given import column, inside
from ribwright.core.units import Quantity
from ribwright.errors import MissingError, OutOfRangeError

Floats = NDArray[np.float64]
_EXCUSE = "similarity of level flight at one lift coefficient; the tests hold it against a drag polar written out in SI units"


@formula(
    "level.power_moved",
    symbol="P_iw",
    shown="power_hp * sqrt(density_ratio) * (standard_lb / weight_lb)**1.5",
    unit="hp",
    source="flight-mechanics",
    locator="power at one lift coefficient, moved to sea level and the standard weight",
    rung="derived",
    limits={"power_hp": (1.0, 2000.0), "density_ratio": (0.3, 1.2), "standard_lb": (200.0, 12500.0), "weight_lb": (200.0, 12500.0)},
    excuse=_EXCUSE,
)  # fmt: skip
def power_moved_hp(
    *, power_hp: ArrayLike, density_ratio: ArrayLike, standard_lb: ArrayLike, weight_lb: ArrayLike
) -> Floats:
    """Power that would hold the same lift coefficient in standard air at sea level at the standard weight."""
    share = (np.asarray(standard_lb, float) / np.asarray(weight_lb, float)) ** 1.5
    return np.asarray(np.asarray(power_hp, float) * np.sqrt(np.asarray(density_ratio, float)) * share)


@formula(
    "level.speed_moved",
    symbol="V_iw",
    shown="eas_kt * sqrt(standard_lb / weight_lb)",
    unit="kt",
    source="flight-mechanics",
    locator="equivalent airspeed at one lift coefficient, moved to the standard weight",
    rung="derived",
    limits={"eas_kt": (20.0, 400.0), "standard_lb": (200.0, 12500.0), "weight_lb": (200.0, 12500.0)},
    excuse=_EXCUSE,
)
def speed_moved_kt(*, eas_kt: ArrayLike, standard_lb: ArrayLike, weight_lb: ArrayLike) -> Floats:
    """Equivalent airspeed that has the same lift coefficient at the standard weight."""
    return np.asarray(
        np.asarray(eas_kt, float) * np.sqrt(np.asarray(standard_lb, float) / np.asarray(weight_lb, float))
    )


@dataclass(frozen=True, slots=True)
class LevelRun:
    """Level flight, steady for two minutes."""

    power: Quantity = quantity(
        "hp", "Power", help="from the engine maker's chart", example="75 hp", low="5 hp", high="1000 hp"
    )
    cas: Quantity = quantity(
        "kt", "Airspeed", help="calibrated", example="105 kt", low="25 kt", high="350 kt"
    )
    altitude: Quantity = quantity("ft", "Pressure altitude", help="altimeter set to 29.92 inHg", example="3000 ft", low="-1000 ft", high="20000 ft")  # fmt: skip
    temperature: Quantity = quantity("°C", "Outside air temperature", help="steady", example="10 °C", low="-40 °C", high="45 °C")  # fmt: skip
    weight: Quantity = quantity(
        "lb", "Weight", help="at this run", example="1380 lb", low="200 lb", high="12500 lb"
    )


@dataclass(frozen=True, slots=True)
class LevelSpeeds:
    """Level runs at different powers."""

    title: str = text("Level runs", help="what was flown, and when", example="Dunlin, 3,000 ft", default="")
    runs: tuple[LevelRun, ...] = rows(LevelRun, "Runs", help="one row a power setting", least=4)
    weight: Quantity = quantity("lb", "Weight wanted", help="the answer is for this weight", example="1420 lb", low="200 lb", high="12500 lb")  # fmt: skip
    altitude: Quantity = quantity("ft", "Pressure altitude wanted", help="inside those flown, standard day", example="3000 ft", low="-1000 ft", high="20000 ft")  # fmt: skip
    power: Quantity = quantity(
        "hp", "Power wanted", help="inside those flown", example="75 hp", low="5 hp", high="1000 hp"
    )


@calculation(
    "level-speed",
    title="Level speed against power",
    summary="Level runs to the true airspeed at one power, standard day and weight, with its 80 % band.",
    spec=LevelSpeeds,
    results=("true_airspeed", "calibrated", "scatter"),
)
def level_speed(spec: LevelSpeeds, ws: Worksheet) -> Outcome:
    """From level runs to the speed at one power."""
    hp = column((r.power for r in spec.runs), "hp", "Runs, power")
    cas = column((r.cas for r in spec.runs), "kt", "Runs, airspeed")
    height = column((r.altitude for r in spec.runs), "ft", "Runs, pressure altitude")
    degrees = column((r.temperature for r in spec.runs), "°C", "Runs, outside air temperature")
    pounds = column((r.weight for r in spec.runs), "lb", "Runs, weight")
    wanted, power, asked = spec.weight.to("lb"), spec.power.to("hp"), spec.altitude.to("ft")
    if np.abs(pounds / wanted - 1).max() > 0.10:
        raise OutOfRangeError("Weight wanted", found=f"{wanted:g} lb, flown at {pounds.min():g} to {pounds.max():g} lb", allowed="within 10 % of every weight flown", mend="Fly the runs near the weight wanted.")  # fmt: skip
    if len({round(float(v) / 3) for v in cas}) < 3:
        raise MissingError("Runs", found="nearly one airspeed", allowed="three airspeeds or more, 3 kt apart or more", mend="Fly more power settings.")  # fmt: skip
    inside(asked, float(height.min()), float(height.max()), "Pressure altitude wanted", "ft")
    sigma = density_ratio(pressure_ratio=pressure_ratio(altitude_ft=height), temperature_c=degrees)
    eas = equivalent_of_cas(cas_kt=cas, pressure_altitude_ft=height)
    moved_p, moved_v = [], []
    for i in range(len(hp)):
        moved_p.append(ws.step(f"run {i + 1}, power moved", power_moved_hp, power_hp=float(hp[i]), density_ratio=float(sigma[i]), standard_lb=wanted, weight_lb=float(pounds[i])))  # fmt: skip
        moved_v.append(ws.step(f"run {i + 1}, airspeed moved", speed_moved_kt, eas_kt=float(eas[i]), standard_lb=wanted, weight_lb=float(pounds[i])))  # fmt: skip
    xs, ys = np.array(moved_v), np.array(moved_p)

    def shapes(v: Floats) -> Floats:
        return np.column_stack([(v / 100) ** 3, 100 / v])

    fit = fitted(shapes(xs), ys, low=float(xs.min()), high=float(xs.max()))
    day = float(standard_temperature_c(altitude_ft=asked))
    there = float(density_ratio(pressure_ratio=pressure_ratio(altitude_ft=asked), temperature_c=day))
    target = power * float(np.sqrt(there))
    inside(target, float(ys.min()), float(ys.max()), "Power wanted, moved to sea level", "hp")
    found = crossing(fit, shapes, falling=False, offset=target)
    if found is None:
        raise OutOfRangeError("Power wanted", found=f"{power:g} hp", allowed="a power that the fitted curve reaches between the speeds flown", mend="Fly more runs round this power.")  # fmt: skip
    up = 1.0 / float(np.sqrt(there))
    ws.worked_out("true airspeed", f"{found.at * up:.1f} kt", f"fitted curve at {power:g} hp, standard day at {asked:g} ft", value=found.at * up, unit="kt")  # fmt: skip
    results = {
        "true_airspeed": Result(
            f"true airspeed at {power:g} hp", found.at * up, "kt", found.low * up, found.high * up, 1
        ),
        "calibrated": Result(
            "calibrated airspeed, compression left out", found.at, "kt", found.low, found.high, 1
        ),
        "scatter": Result("scatter of the runs about the curve", fit.scatter, "hp", places=1),
    }
    if found.cut_low or found.cut_high:
        ws.note("The band is cut off at an end of the speeds flown: it may lie beyond.")
    grid = np.linspace(fit.low, fit.high, 100)
    picture = curve_picture(
        spec.title or "Level speed", xs, ys, grid, shapes(grid) @ fit.weights, fit.half_width(shapes(grid)), across="airspeed moved to sea level and weight (kt)",
        up="power moved likewise (hp)", marks=((found.at, f"{power:g} hp"),),
    )  # fmt: skip
    cautions = ("The engine maker's limits win. Power from a chart is itself good to a few per cent; the band holds the scatter, not that.", *CAUTIONS)  # fmt: skip
    return Outcome(tuple(ws.steps), results, cautions=cautions, picture=picture)
