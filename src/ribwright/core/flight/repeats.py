"""Things flown again and again in one way: stall speeds, take-off and landing distances; mean, band, and the next one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ribwright.core.audit import (
    Outcome,
    Result,
    Worksheet,
    calculation,
    choice,
    formula,
    quantity,
    rows,
    text,
)
from ribwright.core.bench import CAUTIONS
from ribwright.core.flight.fit import student_t
from ribwright.core.flight.given import column
from ribwright.core.units import Quantity
from ribwright.errors import OutOfRangeError

Floats = NDArray[np.float64]


def mean_band(values: Floats) -> tuple[float, float, float]:
    """Mean, half-width of its 80 % band, and half-width of the band in which the next single one falls 4 times in 5.

    Raises:
        MissingError: fewer than two values.
    """
    count = len(values)
    t = student_t(count - 1)
    spread = float(np.std(values, ddof=1)) if count > 1 else 0.0
    return float(values.mean()), t * spread / np.sqrt(count), t * spread * np.sqrt(1 + 1 / count)


@formula(
    "stall.at_load",
    symbol="V_s",
    shown="speed_kt * sqrt(load_ratio)",
    unit="kt",
    source="faa-h-8083-25",
    locator="load factors and stalling speeds: the stalling speed grows with the root of the load factor",
    rung="seen",
    limits={"speed_kt": (10.0, 300.0), "load_ratio": (0.0, 9.0)},
)
def stall_at_load_kt(*, speed_kt: ArrayLike, load_ratio: ArrayLike) -> Floats:
    """Stall speed at another weight or load factor, from the ratio of the loads on the wing."""
    return np.asarray(np.asarray(speed_kt, float) * np.sqrt(np.asarray(load_ratio, float)))


@dataclass(frozen=True, slots=True)
class Stall:
    """One stall from level flight, slowed by about a knot a second."""

    cas: Quantity = quantity(
        "kt", "Speed at the stall", help="calibrated", example="47 kt", low="15 kt", high="150 kt"
    )
    weight: Quantity = quantity(
        "lb", "Weight", help="at this stall", example="1395 lb", low="200 lb", high="12500 lb"
    )


@dataclass(frozen=True, slots=True)
class Stalls:
    """Stalls in one configuration."""

    title: str = text("Configuration", help="flaps, power, CG", example="Dunlin, flaps up, idle", default="")
    stalls: tuple[Stall, ...] = rows(Stall, "Stalls", help="one row a stall, one configuration only", least=3)
    weight: Quantity = quantity("lb", "Weight wanted", help="the answer is for this weight", example="1420 lb", low="200 lb", high="12500 lb")  # fmt: skip


@calculation(
    "stall-speed",
    title="Stall speed",
    summary="Stalls in one configuration to the stall speed at one weight, with its 80 % band.",
    spec=Stalls,
    results=("stall_speed", "next", "approach", "at_60_bank"),
)
def stall_speed(spec: Stalls, ws: Worksheet) -> Outcome:
    """Each stall moved to the weight wanted, then the mean and its band."""
    cas = column((s.cas for s in spec.stalls), "kt", "Stalls, speed")
    pounds = column((s.weight for s in spec.stalls), "lb", "Stalls, weight")
    wanted = spec.weight.to("lb")
    if np.abs(pounds / wanted - 1).max() > 0.15:
        raise OutOfRangeError("Weight wanted", found=f"{wanted:g} lb, flown at {pounds.min():g} to {pounds.max():g} lb", allowed="within 15 % of every weight flown", mend="Stall near the weight wanted.")  # fmt: skip
    moved = np.array([
        ws.step(f"stall {i + 1} at {wanted:g} lb", stall_at_load_kt, speed_kt=float(cas[i]), load_ratio=wanted / float(pounds[i]))
        for i in range(len(cas))
    ])  # fmt: skip
    mean, half, following = mean_band(moved)
    ws.worked_out("stall speed", f"{mean:.1f} kt ± {half:.1f} kt", f"mean of {len(moved)} stalls, Student's t at 80 %", value=mean, unit="kt")  # fmt: skip
    banked = ws.step("in a level turn with 60° of bank", stall_at_load_kt, speed_kt=mean, load_ratio=2.0)
    results = {
        "stall_speed": Result("stall speed, calibrated", mean, "kt", mean - half, mean + half, 1),
        "next": Result("4 of 5 stalls fall within", f"{mean - following:.1f} to {mean + following:.1f} kt"),
        "approach": Result(
            "approach at 1.3 to 1.4 times that",
            f"{1.3 * mean:.0f} to {1.4 * mean:.0f} kt (AC 90-89A, page 46)",
        ),
        "at_60_bank": Result("stall speed in a level turn with 60° of bank", banked, "kt", places=1),
    }
    cautions = (
        "Stalls at 5,000 ft above the ground or higher, with a recovery practised before with an instructor in a like aeroplane.",
        "The indicator is least trustworthy near the stall: calibrated speed there leans on its calibration at slow speed.",
        *CAUTIONS,
    )
    return Outcome(tuple(ws.steps), results, cautions=cautions)


@dataclass(frozen=True, slots=True)
class FieldRun:
    """One take-off or landing as measured."""

    distance: Quantity = quantity("ft", "Distance", help="by marks along the runway or from video", example="820 ft", low="50 ft", high="10000 ft")  # fmt: skip
    wind: Quantity = quantity("kt", "Wind along the runway", help="headwind positive", example="2 kt", low="-10 kt", high="40 kt", default="0 kt")  # fmt: skip


@dataclass(frozen=True, slots=True)
class FieldRuns:
    """Take-offs or landings under one set of conditions."""

    title: str = text("Conditions", help="weight, density altitude, surface, flaps", example="1,400 lb, 1,200 ft, short dry grass", default="")  # fmt: skip
    what: str = choice("Distance of", ("take-off run", "take-off over 50 ft", "landing run", "landing over 50 ft"), help="what was measured", default="take-off run")  # fmt: skip
    runs: tuple[FieldRun, ...] = rows(FieldRun, "Runs", help="one row each, same conditions", least=3)


MOST_WIND_KT = 5.0


@calculation(
    "field-distance",
    title="Take-off and landing distance",
    summary="Measured distances under one set of conditions: mean, 80 % band, and what the next one keeps within.",
    spec=FieldRuns,
    results=("mean", "next_most", "longest"),
)
def field_distance(spec: FieldRuns, ws: Worksheet) -> Outcome:
    """Mean and bands; no correction to another wind, weight or density is made."""
    feet = column((r.distance for r in spec.runs), "ft", "Runs, distance")
    wind = column((r.wind for r in spec.runs), "kt", "Runs, wind")
    if float(np.abs(wind).max()) > MOST_WIND_KT:
        raise OutOfRangeError("Runs, wind", found=f"{np.abs(wind).max():g} kt", allowed=f"at most {MOST_WIND_KT:g} kt either way", because="no sourced correction for wind is at hand", mend="Measure in calm air.")  # fmt: skip
    mean, half, following = mean_band(feet)
    ws.worked_out(
        "mean",
        f"{mean:.0f} ft ± {half:.0f} ft",
        f"mean of {len(feet)}, Student's t at 80 %",
        value=mean,
        unit="ft",
    )
    ws.note("No correction to another weight, wind, surface or density altitude is made: none with a source that was read is at hand.")  # fmt: skip
    results = {
        "mean": Result(f"{spec.what}, as flown", mean, "ft", mean - half, mean + half, 0),
        "next_most": Result("9 of 10 are at most", mean + following, "ft", places=0, limit="least"),
        "longest": Result("the longest measured", float(feet.max()), "ft", places=0),
    }
    cautions = (
        "Another day is hotter, heavier, softer: plan with a margin that your instructor agrees to.",
        *CAUTIONS,
    )
    return Outcome(tuple(ws.steps), results, cautions=cautions)
