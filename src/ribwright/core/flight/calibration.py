"""The airspeed indicator's own error: legs over the ground to true airspeed, and from there what it should have shown."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ribwright.core.audit import Outcome, Result, Worksheet, calculation, choice, quantity, rows, text, whole
from ribwright.core.bench import CAUTIONS
from ribwright.core.flight.airspeed import cas_of_true
from ribwright.core.flight.curve_picture import curve_picture
from ribwright.core.flight.fit import fitted
from ribwright.core.flight.given import column, inside
from ribwright.core.flight.legs import Run, bands_kt, heading_mean_square, run_of, tas_of_headings
from ribwright.core.scene import Scene
from ribwright.core.units import Quantity
from ribwright.errors import GeometryError, MissingError

Floats = NDArray[np.float64]

MOST_TURN_DEG = 5.0
LEAST_RUNS = 4


@dataclass(frozen=True, slots=True)
class Leg:
    """One leg: airspeed, height and heading held, ground speed and track read."""

    run: int = whole("Run", help="legs flown at one airspeed have one number", example="1", low=1, high=99)
    ground: Quantity = quantity("kt", "Ground speed", help="by satellite, steady, near the middle of the leg", example="118 kt", low="20 kt", high="400 kt")  # fmt: skip
    track: Quantity = quantity("deg", "Track", help="over the ground; the heading, where three headings 120° apart are flown", example="178 deg", low="0 deg", high="360 deg")  # fmt: skip
    track_end: Quantity | None = quantity("deg", "Track at the end", help="shows a turn within the leg", example="179 deg", low="0 deg", high="360 deg", optional=True)  # fmt: skip
    ias: Quantity | None = quantity("kt", "Indicated airspeed", help="held on this leg", example="110 kt", low="20 kt", high="350 kt", optional=True)  # fmt: skip
    altitude: Quantity | None = quantity("ft", "Pressure altitude", help="altimeter set to 29.92 inHg", example="3000 ft", low="-1000 ft", high="20000 ft", optional=True)  # fmt: skip
    temperature: Quantity | None = quantity("°C", "Outside air temperature", help="on this leg", example="10 °C", low="-40 °C", high="45 °C", optional=True)  # fmt: skip


@dataclass(frozen=True, slots=True)
class GroundLegs:
    """Legs that go round, three or more at each airspeed."""

    title: str = text(
        "Flight", help="what was flown, and when", example="Dunlin, calibration at 3,000 ft", default=""
    )
    legs: tuple[Leg, ...] = rows(Leg, "Legs", help="one row a leg, in the order flown", least=3)
    method: str = choice("Track means", ("track", "heading"), help="track over the ground, or heading with 120° between them", default="track")  # fmt: skip
    reading: Quantity = quantity("kt", "Ground speed, plus or minus", help="reading and holding the airspeed", example="1 kt", low="0.1 kt", high="10 kt", default="1 kt")  # fmt: skip
    drift: Quantity = quantity("kt", "Wind drifts by", help="plus or minus, from one leg to the next; used while the legs themselves can't tell", example="2 kt", low="0 kt", high="30 kt", default="2 kt")  # fmt: skip
    at: Quantity | None = quantity("kt", "Error asked at", help="an indicated airspeed inside those flown", example="100 kt", low="20 kt", high="350 kt", optional=True)  # fmt: skip


@calculation(
    "gps-airspeed",
    title="Airspeed from legs over the ground",
    summary="True airspeed and wind from three or more legs, the airspeed indicator's error and its curve, 80 % bands.",
    spec=GroundLegs,
    results=(
        "true_airspeed",
        "band",
        "wind",
        "wind_from",
        "spread",
        "calibrated",
        "error",
        "error_curve",
        "error_at",
    ),
)
def gps_airspeed(spec: GroundLegs, ws: Worksheet) -> Outcome:
    """Each run's true airspeed; then the error of the indicator over the speeds flown."""
    column((leg.ground for leg in spec.legs), "kt", "Legs, ground speed")
    _refuse_turns(spec.legs)
    numbers = list(dict.fromkeys(leg.run for leg in spec.legs))
    groups = [tuple(leg for leg in spec.legs if leg.run == number) for number in numbers]
    if spec.method == "heading":
        return _headings(spec, numbers, groups, ws)
    runs = tuple(
        run_of(ground_kt=[leg.ground.to("kt") for leg in legs], track_deg=[leg.track.to("deg") for leg in legs], name=f"run {number}")
        for number, legs in zip(numbers, groups, strict=True)
    )  # fmt: skip
    stated = float(np.hypot(spec.reading.to("kt"), spec.drift.to("kt"))) / 1.96
    halves, scatter, _ = bands_kt(runs, stated_kt=stated)
    for number, run, half in zip(numbers, runs, halves, strict=True):
        ws.worked_out(
            f"run {number}, true airspeed", f"{run.tas_kt:.1f} kt ± {half:.1f} kt; wind {run.wind_kt:.1f} kt from {run.wind_from_deg:.0f}°",
            f"circle through the tips of {len(run.left_kt)} ground-speed arrows, docs/physics/flight.md", value=run.tas_kt, unit="kt",
        )  # fmt: skip
        if run.spread_kt is not None:
            ws.worked_out(
                f"run {number}, spread", f"{run.spread_kt:.2f} kt", "sample standard deviation of the solutions of each three legs (n - 1); good data stay below 1 kt",
                value=run.spread_kt, unit="kt",
            )  # fmt: skip
    spare = sum(run.spare for run in runs)
    ws.worked_out("scatter of one leg", f"{scatter:.2f} kt", f"{spare} legs more than needed" + ("" if spare >= 4 else ", and what was stated of reading and wind counted as four more"), value=scatter, unit="kt")  # fmt: skip
    results = {
        "true_airspeed": Result("true airspeed, run by run", tuple(run.tas_kt for run in runs), "kt", places=1),
        "band": Result("plus or minus, 80 % band, run by run", tuple(float(h) for h in halves), "kt", places=1),
        "wind": Result("wind, run by run", tuple(run.wind_kt for run in runs), "kt", places=1),
        "wind_from": Result("wind from, run by run", tuple(run.wind_from_deg for run in runs), "deg", places=0),
        "spread": Result("spread of the three-leg solutions, the worst run", max((run.spread_kt or 0.0 for run in runs), default=0.0), "kt", places=2)
        if any(run.spread_kt is not None for run in runs)
        else Result("spread of the three-leg solutions", "three legs have none: fly a fourth"),
    }  # fmt: skip
    more, picture = _errors(spec, groups, runs, halves, ws)
    return Outcome(tuple(ws.steps), results | more, cautions=_cautions(), picture=picture)


def _headings(spec: GroundLegs, numbers: list[int], groups: list[tuple[Leg, ...]], ws: Worksheet) -> Outcome:
    speeds, winds = [], []
    for number, legs in zip(numbers, groups, strict=True):
        if len(legs) != 3:
            raise MissingError(f"Legs of run {number}", found=f"{len(legs)}", allowed="three headings 120° apart", mend="Fly three, or enter tracks.")  # fmt: skip
        turns = sorted(leg.track.to("deg") % 360 for leg in legs)
        gaps = (turns[1] - turns[0], turns[2] - turns[1], 360 - turns[2] + turns[0])
        if max(abs(gap - 120.0) for gap in gaps) > MOST_TURN_DEG:
            raise GeometryError(f"Headings of run {number}", found=", ".join(f"{t:.0f}°" for t in turns), allowed=f"120° apart, within {MOST_TURN_DEG:g}°", because="the method holds for these headings only", mend="Enter tracks over the ground instead.")  # fmt: skip
        first, second, third = (leg.ground.to("kt") for leg in legs)
        ws.step(f"run {number}, mean square of the ground speeds", heading_mean_square, first_kt=first, second_kt=second, third_kt=third)  # fmt: skip
        tas, wind = tas_of_headings(ground_kt=(first, second, third))
        ws.worked_out(f"run {number}, true airspeed", f"{tas:.1f} kt, wind {wind:.1f} kt", "Aviation Formulary, headings 120° apart; three legs say nothing of how sure it is", value=tas, unit="kt", rung="seen")  # fmt: skip
        speeds.append(tas)
        winds.append(wind)
    none = "not from headings: fly four legs and enter tracks"
    results = {
        "true_airspeed": Result("true airspeed, run by run", tuple(speeds), "kt", places=1),
        "band": Result("80 % band", none),
        "wind": Result("wind, run by run", tuple(winds), "kt", places=1),
        "wind_from": Result("wind from", none),
        "spread": Result("spread of the three-leg solutions", none),
        **_no_errors("enter tracks over the ground for the indicator's error"),
    }
    return Outcome(tuple(ws.steps), results, cautions=_cautions())


def _refuse_turns(legs: tuple[Leg, ...]) -> None:
    for number, leg in enumerate(legs, 1):
        if leg.track_end is None:
            continue
        turned = (leg.track_end.to("deg") - leg.track.to("deg") + 180.0) % 360.0 - 180.0
        if abs(turned) > MOST_TURN_DEG:
            raise GeometryError(
                f"Legs {number}, track at the end", found=f"{abs(turned):.0f}° away from the track before", allowed=f"a straight leg, within {MOST_TURN_DEG:g}°",
                because="a turn within the leg spoils it", mend="Leave the leg out or fly it again.",
            )  # fmt: skip


def _no_errors(why: str) -> dict[str, Result]:
    return {
        "calibrated": Result("calibrated airspeed", why),
        "error": Result("to add to indicated airspeed", why),
        "error_curve": Result("error over the speeds flown", why),
        "error_at": Result("to add at the airspeed asked", why),
    }


def _errors(
    spec: GroundLegs, groups: list[tuple[Leg, ...]], runs: tuple[Run, ...], halves: Floats, ws: Worksheet
) -> tuple[dict[str, Result], Scene | None]:
    if any(leg.ias is None or leg.altitude is None or leg.temperature is None for leg in spec.legs):
        return _no_errors("enter indicated airspeed, pressure altitude and temperature on every leg"), None
    ias = column((leg.ias for leg in spec.legs if leg.ias), "kt", "Legs, indicated airspeed")
    height = column((leg.altitude for leg in spec.legs if leg.altitude), "ft", "Legs, pressure altitude")
    degrees = column(
        (leg.temperature for leg in spec.legs if leg.temperature), "°C", "Legs, outside air temperature"
    )
    which = np.array([leg.run for leg in spec.legs])
    at = [which == legs[0].run for legs in groups]
    for legs, rows_of in zip(groups, at, strict=True):
        if np.ptp(ias[rows_of]) > 5 or np.ptp(height[rows_of]) > 300:
            raise GeometryError(
                f"Legs of run {legs[0].run}", found=f"{np.ptp(ias[rows_of]):.0f} kt and {np.ptp(height[rows_of]):.0f} ft apart", allowed="one airspeed within 5 kt, one height within 300 ft",
                mend="Number legs at another airspeed or height as another run.",
            )  # fmt: skip
    shown_ias = np.array([ias[r].mean() for r in at])
    tas = np.array([run.tas_kt for run in runs])
    cas = cas_of_true(
        true_kt=tas, pressure_altitude_ft=np.array([height[r].mean() for r in at]), temperature_c=np.array([degrees[r].mean() for r in at])
    )  # fmt: skip
    error = cas - shown_ias
    for legs, one, value, add, half in zip(groups, shown_ias, cas, error, halves * cas / tas, strict=True):
        ws.worked_out(f"run {legs[0].run}, indicated {one:.0f} kt", f"calibrated {value:.1f} kt, add {add:+.1f} kt ± {half:.1f} kt", "true airspeed to calibrated, compressible", value=float(add), unit="kt")  # fmt: skip
    made = {
        "calibrated": Result("calibrated airspeed, run by run", tuple(float(v) for v in cas), "kt", places=1),
        "error": Result(
            "to add to indicated airspeed, run by run", tuple(float(v) for v in error), "kt", places=1
        ),
    }
    low, high = float(shown_ias.min()), float(shown_ias.max())
    if len(runs) < LEAST_RUNS or high - low < 15:
        why = f"needs {LEAST_RUNS} runs or more over at least 15 kt"
        return made | {k: v for k, v in _no_errors(why).items() if k not in made}, None
    unknowns = 3 if len(runs) >= 6 else 2
    middle, half_span = (low + high) / 2, (high - low) / 2

    def shapes(v: Floats) -> Floats:
        return np.vander((v - middle) / half_span, unknowns, increasing=True)

    fit = fitted(shapes(shown_ias), error, low=low, high=high)
    grid = np.linspace(low, high, 80)
    curve, half = shapes(grid) @ fit.weights, fit.half_width(shapes(grid))
    made["error_curve"] = Result(
        "error over the speeds flown", f"{curve.min():+.1f} to {curve.max():+.1f} kt to add, between {low:.0f} and {high:.0f} kt indicated, band at most ± {half.max():.1f} kt"
    )  # fmt: skip
    made["error_at"] = Result("to add at the airspeed asked", "no airspeed was asked for")
    if spec.at is not None:
        asked = inside(spec.at.to("kt"), low, high, "Error asked at", "kt indicated")
        one_shape = shapes(np.array([asked]))
        value, wide = float((one_shape @ fit.weights)[0]), float(fit.half_width(one_shape)[0])
        made["error_at"] = Result(
            f"to add at {asked:g} kt indicated", value, "kt", value - wide, value + wide, 1
        )
    picture = curve_picture(
        spec.title or "Airspeed indicator",
        shown_ias,
        error,
        grid,
        curve,
        half,
        across="indicated airspeed (kt)",
        up="to add (kt)",
    )
    return made, picture


def _cautions() -> tuple[str, ...]:
    return (
        "The plain mean of ground speeds on opposite or cardinal headings is too high wherever wind blows across: it is not used here.",
        "Smooth air, one height, trim and power untouched; look out, don't fly by the screen. A second person writes.",
        *CAUTIONS,
    )
