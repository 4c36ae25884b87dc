"""Sawtooth climbs to best angle and best rate of climb, on a standard day at one weight, each with its 80 % band."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ribwright.core.audit import Outcome, Result, Worksheet, calculation, formula, quantity, rows, text
from ribwright.core.bench import CAUTIONS
from ribwright.core.flight.airspeed import equivalent_of_cas
from ribwright.core.flight.atmosphere import density_ratio, pressure_ratio, standard_temperature_c
from ribwright.core.flight.curve_picture import curve_picture
from ribwright.core.flight.fit import Fit, Top, crossing, fitted
from ribwright.core.flight.given import column
from ribwright.core.units import Quantity
from ribwright.errors import GeometryError, MissingError, OutOfRangeError

Floats = NDArray[np.float64]

_SCALE_KT = 75.0
_TERMS = ((True, -1, 0), (True, -1, 1), (False, -1, 3), (False, 1, -1), (False, 7, -13))
"""Power, the propeller's slope, drag of friction, drag of lift, drag near the stall: (scaled by power, power of weight, of speed)."""
LEAST_SPEEDS, LEAST_CLIMBS = 6, 8
MOST_WEIGHT_OFF, MOST_OFF_STANDARD_C, MOST_BAND_FT = 0.10, 30.0, 2_000.0


@formula(
    "climb.tapeline",
    symbol="R",
    shown="(high_ft - low_ft) / time_s * 60 * (temperature_c + 273.15) / (standard_c + 273.15)",
    unit="ft/min",
    source="flight-mechanics",
    locator="the altimeter counts pressure; warm air stands taller by the ratio of temperatures",
    rung="derived",
    limits={"high_ft": (-1000.0, 30_000.0), "low_ft": (-1000.0, 30_000.0), "time_s": (10.0, 1800.0),
            "temperature_c": (-60.0, 55.0), "standard_c": (-60.0, 40.0)},
    excuse="geometry and the gas law; the tests hold it against a climb integrated through a warm atmosphere",
)  # fmt: skip
def tapeline_fpm(
    *,
    low_ft: ArrayLike,
    high_ft: ArrayLike,
    time_s: ArrayLike,
    temperature_c: ArrayLike,
    standard_c: ArrayLike,
) -> Floats:
    """Rate of climb in real feet, from altimeter readings and a stopwatch."""
    rate = (np.asarray(high_ft, float) - np.asarray(low_ft, float)) / np.asarray(time_s, float) * 60.0
    return np.asarray(
        rate * (np.asarray(temperature_c, float) + 273.15) / (np.asarray(standard_c, float) + 273.15)
    )


@formula(
    "climb.gradient",
    symbol="G",
    shown="rate_fpm * 60 / ground_kt",
    unit="",
    source="flight-mechanics",
    locator="minutes to the hour",
    rung="derived",
    limits={"rate_fpm": (0.0, 6000.0), "ground_kt": (20.0, 400.0)},
    excuse="a minute has sixty seconds: ft/min over kt is feet per nautical mile over 60",
)
def gradient_ft_per_nm(*, rate_fpm: ArrayLike, ground_kt: ArrayLike) -> Floats:
    """Feet climbed in a nautical mile in still air."""
    return np.asarray(np.asarray(rate_fpm, float) * 60.0 / np.asarray(ground_kt, float))


@dataclass(frozen=True, slots=True)
class Climb:
    """One climb at full power and one airspeed."""

    cas: Quantity = quantity(
        "kt", "Airspeed held", help="calibrated", example="75 kt", low="25 kt", high="300 kt"
    )
    low: Quantity = quantity("ft", "From", help="pressure altitude at the start of timing", example="2500 ft", low="-1000 ft", high="20000 ft")  # fmt: skip
    high: Quantity = quantity("ft", "To", help="pressure altitude at the end of timing", example="3500 ft", low="-1000 ft", high="20000 ft")  # fmt: skip
    time: Quantity = quantity("s", "Time", help="by stopwatch", example="75 s", low="10 s", high="1800 s")
    temperature: Quantity = quantity("°C", "Outside air temperature", help="half way up", example="12 °C", low="-40 °C", high="45 °C")  # fmt: skip
    weight: Quantity = quantity("lb", "Weight", help="at this climb, fuel burnt taken off", example="1390 lb", low="200 lb", high="12500 lb")  # fmt: skip


@dataclass(frozen=True, slots=True)
class SawtoothClimbs:
    """Climbs through one band of altitude at different airspeeds, on headings turned about each time."""

    title: str = text(
        "Climbs", help="what was flown, and when", example="Dunlin, flaps up, full power", default=""
    )
    climbs: tuple[Climb, ...] = rows(
        Climb, "Climbs", help="one row a climb, every speed flown twice", least=LEAST_CLIMBS
    )
    weight: Quantity = quantity("lb", "Weight wanted", help="the answer is for this weight", example="1420 lb", low="200 lb", high="12500 lb")  # fmt: skip
    held: Quantity = quantity("kt", "Airspeed held, plus or minus", help="in 95 of 100 moments", example="1.5 kt", low="0 kt", high="5 kt", default="1.5 kt")  # fmt: skip


@dataclass(frozen=True, slots=True)
class Reduced:
    """The climbs as a curve of rate against equivalent airspeed, and what it needs for a standard day.

    Attributes:
        fit: of rate in ft/min, on shapes of the standard day (see ``shapes``).
        sigma: density ratio of the standard day at the middle altitude.
        eas_kt, rate_fpm: the points, each moved to the standard day and weight along the fitted curve.
    """

    fit: Fit
    sigma: float
    eas_kt: Floats
    rate_fpm: Floats

    def shapes(self, eas_kt: Floats, order: int = 0) -> Floats:
        """The curve's shapes on the standard day at the weight wanted; ``order`` 1 gives their slopes per knot."""
        return _shapes(eas_kt, weight=1.0, sigma=self.sigma, power=1.0, order=order)

    def angle_slopes(self, eas_kt: Floats) -> Floats:
        """Slopes of rate over speed: nothing where the climb is steepest."""
        v = np.asarray(eas_kt, float)[:, None]
        return self.shapes(eas_kt, 1) / v - self.shapes(eas_kt) / v**2

    def best_angle(self) -> Top | None:
        """Speed of the steepest climb inside the speeds flown."""
        return crossing(self.fit, self.angle_slopes)

    def best_rate(self) -> Top | None:
        """Speed of the fastest climb inside the speeds flown."""
        return crossing(self.fit, lambda v: self.shapes(v, 1))


def reduce_climbs(
    *,
    cas_kt: Floats,
    low_ft: Floats,
    high_ft: Floats,
    time_s: Floats,
    temperature_c: Floats,
    weight_lb: Floats,
    standard_lb: float,
    held_kt: float = 1.5,
) -> Reduced:
    """Fit the climbs; all arrays of shape (n,).

    Raises:
        MissingError, GeometryError: too few climbs or speeds.
    """
    height = (low_ft + high_ft) / 2
    standard = standard_temperature_c(altitude_ft=height)
    sigma = density_ratio(pressure_ratio=pressure_ratio(altitude_ft=height), temperature_c=temperature_c)
    eas = equivalent_of_cas(cas_kt=cas_kt, pressure_altitude_ft=height)
    rate = tapeline_fpm(
        low_ft=low_ft, high_ft=high_ft, time_s=time_s, temperature_c=temperature_c, standard_c=standard
    )
    power = np.sqrt((standard + 273.15) / (temperature_c + 273.15))
    weight = weight_lb / standard_lb
    shapes = _shapes(eas, weight=weight, sigma=sigma, power=power)
    slopes = _shapes(eas, weight=weight, sigma=sigma, power=power, order=1)
    ends = {"low": float(eas.min()), "high": float(eas.max())}
    fit = fitted(shapes, rate, **ends)
    square = fit.scatter**2
    for _ in range(3):  # a climb flown a knot off misses by more where the curve is steep
        missed = (slopes @ fit.weights * held_kt / 2) ** 2
        share = 1.0 / np.sqrt(max(square - float(missed.mean()), 0.1 * square) + missed + 1e-9)
        share = share / share.mean()
        fit = fitted(shapes * share[:, None], rate * share, **ends)
    middle = float(height.mean())
    day = float(standard_temperature_c(altitude_ft=middle))
    there = float(density_ratio(pressure_ratio=pressure_ratio(altitude_ft=middle), temperature_c=day))
    moved = _shapes(eas, weight=1.0, sigma=there, power=1.0) - shapes
    return Reduced(fit, there, eas, rate + moved @ fit.weights)


def _shapes(
    eas_kt: Floats, *, weight: ArrayLike, sigma: ArrayLike, power: ArrayLike, order: int = 0
) -> Floats:
    x = np.asarray(eas_kt, float) / _SCALE_KT
    made = []
    for powered, of_weight, of_speed in _TERMS:
        scale = np.asarray(power, float) if powered else 1.0 / np.sqrt(np.asarray(sigma, float))
        curve = x**of_speed if order == 0 else of_speed * x ** (of_speed - 1) / _SCALE_KT
        made.append(np.broadcast_to(scale * np.asarray(weight, float) ** of_weight * curve, x.shape))
    return np.column_stack(made)


@calculation(
    "sawtooth-climbs",
    title="Sawtooth climbs",
    summary="Timed climbs to best angle and best rate of climb, standard day and weight, with 80 % bands.",
    spec=SawtoothClimbs,
    results=(
        "best_angle_speed",
        "best_rate_speed",
        "rate_at_best_angle",
        "best_rate",
        "gradient",
        "altitude",
        "scatter",
    ),
)
def sawtooth_climbs(spec: SawtoothClimbs, ws: Worksheet) -> Outcome:
    """From climbs as flown to the two climb speeds of the handbook."""
    cas = column((c.cas for c in spec.climbs), "kt", "Climbs, airspeed held")
    low = column((c.low for c in spec.climbs), "ft", "Climbs, from")
    high = column((c.high for c in spec.climbs), "ft", "Climbs, to")
    time = column((c.time for c in spec.climbs), "s", "Climbs, time")
    degrees = column((c.temperature for c in spec.climbs), "°C", "Climbs, outside air temperature")
    pounds = column((c.weight for c in spec.climbs), "lb", "Climbs, weight")
    wanted = spec.weight.to("lb")
    _refuse(cas, low, high, degrees, pounds, wanted)
    made = reduce_climbs(
        cas_kt=cas, low_ft=low, high_ft=high, time_s=time, temperature_c=degrees, weight_lb=pounds, standard_lb=wanted,
        held_kt=spec.held.to("kt"),
    )  # fmt: skip
    for number in range(len(cas)):
        standard = float(standard_temperature_c(altitude_ft=(low[number] + high[number]) / 2))
        ws.step(
            f"climb {number + 1}, {cas[number]:g} kt", tapeline_fpm, low_ft=float(low[number]), high_ft=float(high[number]),
            time_s=float(time[number]), temperature_c=float(degrees[number]), standard_c=standard,
        )  # fmt: skip
    middle = float(((low + high) / 2).mean())
    ws.assume("power on a warm day", "falls with the root of the absolute temperature", "naturally aspirated engine at one pressure altitude", rung="memory")  # fmt: skip
    ws.worked_out(
        "weight and density", f"moved to {wanted:g} lb and the standard day at {middle:.0f} ft along the fitted curve of power and drag",
        "power, friction, lift and drag near the stall fitted together, docs/physics/flight.md",
    )  # fmt: skip
    ws.note("Speeds are equivalent; below 10,000 ft and 120 kt calibrated differs by less than .4 kt.")
    angle, rate = made.best_angle(), made.best_rate()
    results = {
        "best_angle_speed": _speed("speed of best angle, calibrated", angle, "steepest"),
        "best_rate_speed": _speed("speed of best rate, calibrated", rate, "fastest"),
        "rate_at_best_angle": _rate("rate of climb at best angle", made, angle),
        "best_rate": _rate("best rate of climb", made, rate),
        "gradient": Result("steepest climb in still air", "not found inside the speeds flown"),
        "altitude": Result("all this at a pressure altitude of", middle, "ft", places=0),
        "scatter": Result("scatter of the climbs about the curve", made.fit.scatter, "ft/min"),
    }
    if angle is not None:
        there = float(np.asarray(results["rate_at_best_angle"].value, float))
        if there > 0:
            feet = ws.step(
                "gradient",
                gradient_ft_per_nm,
                rate_fpm=there,
                ground_kt=angle.at / float(np.sqrt(made.sigma)),
            )
            results["gradient"] = Result("steepest climb in still air", f"{feet:.0f} ft in a nautical mile")
    for name, top in (("best angle", angle), ("best rate", rate)):
        if top is not None and (top.cut_low or top.cut_high):
            ws.note(f"The band of {name} is cut off at the {'slowest' if top.cut_low else 'fastest'} climb flown: it may lie beyond. Fly there only with an instructor's advice.")  # fmt: skip
    tops = tuple((t, label) for t, label in ((angle, "best angle"), (rate, "best rate")) if t is not None)
    grid = np.linspace(made.fit.low, made.fit.high, 120)
    picture = curve_picture(
        spec.title or "Sawtooth climbs", made.eas_kt, made.rate_fpm, grid, made.shapes(grid) @ made.fit.weights,
        made.fit.half_width(made.shapes(grid)), across="calibrated airspeed (kt)", up="rate of climb (ft/min)",
        marks=tuple((t.at, label) for t, label in tops),
    )  # fmt: skip
    cautions = (
        "Best angle lies close to the stall: these are speeds in smooth air at a safe height, not speeds to fly off the ground without margin.",
        "Valid for this aeroplane, this power, flaps and propeller, at this altitude; nothing is said outside the speeds and heights flown.",
        *CAUTIONS,
    )
    return Outcome(tuple(ws.steps), results, cautions=cautions, picture=picture)


def _refuse(cas: Floats, low: Floats, high: Floats, degrees: Floats, pounds: Floats, wanted: float) -> None:
    for number in range(len(cas)):
        if high[number] - low[number] < 200:
            raise GeometryError(
                f"Climbs {number + 1}, to", found=f"{high[number] - low[number]:g} ft climbed", allowed="at least 200 ft above where timing began",
                mend="Time a longer climb: 500 to 1000 ft.",
            )  # fmt: skip
    speeds = len({round(float(v) / 2) for v in cas})
    if speeds < LEAST_SPEEDS:
        raise MissingError("Climbs", found=f"{speeds} different airspeeds", allowed=f"at least {LEAST_SPEEDS}, 2 kt apart or more", mend="Fly more airspeeds, on both sides of the best.")  # fmt: skip
    middle = (low + high) / 2
    if float(np.ptp(middle)) > MOST_BAND_FT:
        raise OutOfRangeError("Climbs, from", found=f"bands {float(np.ptp(middle)):.0f} ft apart", allowed=f"one band of altitude within {MOST_BAND_FT:.0f} ft", mend="Reduce each band of altitude by itself.")  # fmt: skip
    off = np.abs(pounds / wanted - 1.0)
    if off.max() > MOST_WEIGHT_OFF:
        raise OutOfRangeError("Weight wanted", found=f"{wanted:g} lb, flown at {pounds.min():g} to {pounds.max():g} lb", allowed=f"within {MOST_WEIGHT_OFF:.0%} of every weight flown", because="the correction holds for small differences only", mend="Fly the climbs near the weight wanted.")  # fmt: skip
    warm = np.abs(degrees - standard_temperature_c(altitude_ft=middle))
    if warm.max() > MOST_OFF_STANDARD_C:
        raise OutOfRangeError("Climbs, outside air temperature", found=f"{warm.max():.0f} °C off the standard day", allowed=f"within {MOST_OFF_STANDARD_C:g} °C of it", mend="Fly on a milder day, or check the thermometer.")  # fmt: skip


def _speed(label: str, top: Top | None, word: str) -> Result:
    if top is None:
        return Result(
            label,
            f"not between the slowest and the fastest climb flown: the {word} climb lies at an end, nothing is extrapolated",
        )
    return Result(label, top.at, "kt", top.low, top.high, 1)


def _rate(label: str, made: Reduced, top: Top | None) -> Result:
    if top is None:
        return Result(label, "not found inside the speeds flown")
    there = made.shapes(np.array([top.at]))
    value, half = float((there @ made.fit.weights)[0]), float(made.fit.half_width(there)[0])
    return Result(label, value, "ft/min", value - half, value + half, 0)
