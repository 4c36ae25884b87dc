"""An aeroplane and an air that the flight reduction knows nothing of: the truth behind simulated flights.

The drag polar is no parabola (least drag at a lift coefficient of its own, drag of separation growing near the stall),
the propeller's efficiency follows advance ratio, power falls with density and temperature by another law than the
reduction's, the wind drifts as a coloured walk with a trend, the air rises and sinks, every reading has its error.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
KT, LB, FT, G = 0.514444, 4.448222, 0.3048, 9.80665


@dataclass(frozen=True)
class World:
    """One aeroplane on one day, SI units inside."""

    area: float
    cd0: float
    k: float
    cl0: float
    separated: float
    cl_onset: float
    power: float
    eta: float
    speed_of_best_eta: float
    eta_fall: float
    temperature_off: float

    def density(self, height_ft: float, off_c: float) -> float:
        """Density of the air by the hydrostatic law, written out afresh."""
        t = 288.15 - 0.0065 * height_ft * FT
        pressure = 101325.0 * (t / 288.15) ** (G / (287.05287 * 0.0065))
        return pressure / (287.05287 * (t + off_c))

    def excess(self, eas_kt: Floats, weight_lb: float, height_ft: float, off_c: float) -> Floats:
        """Rate of climb in still air, ft/min, along equivalent airspeed held."""
        rho = self.density(height_ft, off_c)
        tas = np.asarray(eas_kt) * KT * np.sqrt(1.225 / rho)
        weight = weight_lb * LB
        cl = weight / (0.5 * rho * tas**2 * self.area)
        cd = (
            self.cd0
            + self.k * (cl - self.cl0) ** 2
            + self.separated * np.maximum(cl - self.cl_onset, 0.0) ** 2
        )
        x = tas / self.speed_of_best_eta
        eta = self.eta * (1.0 - self.eta_fall * (x - 1.0) ** 2)
        sigma = rho / 1.225
        shaft = self.power * (1.117 * sigma - 0.117) * (1.0 + 0.0004 * off_c)
        rate = (shaft * eta - 0.5 * rho * tas**3 * self.area * cd) / weight
        lapse = 1.0 + tas**2 / (2 * G) * 1.02e-4  # the true airspeed grows on the way up
        return np.asarray(rate / lapse / FT * 60.0)

    def best(self, weight_lb: float, height_ft: float, low_kt: float, high_kt: float) -> tuple[float, float]:
        """Speeds of best angle and best rate on a standard day, equivalent, in knots."""
        v = np.linspace(low_kt, high_kt, 4001)
        rate = self.excess(v, weight_lb, height_ft, 0.0)
        return float(v[np.argmax(rate / v)]), float(v[np.argmax(rate)])


def world(rng: np.random.Generator) -> World:
    """Light two-seaters, none like the other."""
    aspect = rng.uniform(4.8, 6.2)
    return World(
        area=rng.uniform(10.5, 12.5), cd0=rng.uniform(0.026, 0.036), k=1.0 / (np.pi * aspect * rng.uniform(0.72, 0.86)),
        cl0=rng.uniform(0.05, 0.25), separated=rng.uniform(0.05, 0.30), cl_onset=rng.uniform(1.0, 1.2), power=rng.uniform(72e3, 95e3),
        eta=rng.uniform(0.74, 0.82), speed_of_best_eta=rng.uniform(52.0, 66.0), eta_fall=rng.uniform(0.95, 1.2), temperature_off=rng.uniform(-10, 15),
    )  # fmt: skip


@dataclass(frozen=True)
class Climbs:
    """Sawtooth climbs as a pilot writes them down."""

    cas_kt: Floats
    low_ft: Floats
    high_ft: Floats
    seconds: Floats
    temperature_c: Floats
    weight_lb: Floats


def wandering(rng: np.random.Generator, count: int, sd: float, memory: float) -> Floats:
    """Noise that remembers: each value keeps a share of the one before."""
    made = np.empty(count)
    made[0] = rng.normal(0.0, sd)
    for i in range(1, count):
        made[i] = memory * made[i - 1] + rng.normal(0.0, sd * np.sqrt(1 - memory**2))
    return made


def sawtooth(one: World, rng: np.random.Generator, speeds_kt: Floats, *, height_ft: float = 3000.0) -> Climbs:
    """Climbs through 1,000 ft about one height, at these speeds in this order, on headings turned about each time."""
    count = len(speeds_kt)
    weight = 1400.0 - np.linspace(0.0, rng.uniform(25, 50), count)
    true_speed = speeds_kt + rng.normal(0.0, 0.7, count)  # what was really held
    rising = wandering(rng, count, rng.uniform(8.0, 25.0), 0.4)
    shear = rng.uniform(-4.0, 4.0) + wandering(
        rng, count, 0.7, 0.5
    )  # kt in 1,000 ft, along the first heading
    rates = np.array(
        [
            float(one.excess(v, w, height_ft, one.temperature_off))
            for v, w in zip(true_speed, weight, strict=True)
        ]
    )
    heading = np.where(np.arange(count) % 2 == 0, 1.0, -1.0)
    tas = true_speed * KT * 1.05
    gain = (
        -heading * shear * KT / (1000 * FT) * tas / G
    )  # a growing headwind gives height, a growing tailwind takes it
    climb = rates * (1.0 + gain) + rising
    t_std = 288.15 - 0.0065 * height_ft * FT
    pressure_rate = climb * t_std / (t_std + one.temperature_off)  # the altimeter counts pressure
    low = np.round((height_ft - 500) / 10) * 10 + rng.normal(0.0, 8.0, count)
    seconds = 1000.0 / (pressure_rate / 60.0)
    high = low + 1000.0 + rng.normal(0.0, 8.0, count)
    off = t_std + one.temperature_off - 273.15 + rng.normal(0.0, 0.5, count)
    return Climbs(
        cas_kt=np.round(speeds_kt * 2) / 2, low_ft=np.round(low, -1), high_ft=np.round(high, -1),
        seconds=np.round(seconds + rng.normal(0, 0.4, count), 0), temperature_c=np.round(off), weight_lb=np.round(weight),
    )  # fmt: skip


@dataclass(frozen=True)
class Flight:
    """Calibration runs: ground speeds and tracks as read, shape (runs, legs), and the true airspeeds behind them."""

    ground_kt: Floats
    track_deg: Floats
    tas_kt: Floats


def calibration(rng: np.random.Generator, *, runs: int = 6, legs: int = 4) -> Flight:
    """Legs that go round, in a wind that drifts all the time, the airspeed held by hand."""
    tas = np.sort(rng.uniform(70.0, 150.0, runs))
    total = runs * legs
    trend = rng.normal(0.0, 0.12, 2)[None, :] * np.arange(total)[:, None]
    size = rng.uniform(0.2, 1.2)
    walk = np.column_stack(
        [np.cumsum(rng.normal(0, 0.35 * size, total)) + wandering(rng, total, size, 0.6) for _ in range(2)]
    )
    wind = rng.normal(0.0, 9.0, 2)[None, :] + trend + walk
    first = rng.uniform(0.0, 360.0)
    heading = first + np.tile(np.arange(legs) * (360.0 / legs), runs) + rng.normal(0.0, 3.0, total)
    held = np.repeat(tas, legs) + rng.normal(0.0, 0.5, total)
    east = held * np.sin(np.radians(heading)) + wind[:, 0]
    north = held * np.cos(np.radians(heading)) + wind[:, 1]
    ground = np.round(np.hypot(east, north) + rng.normal(0.0, 0.3, total))
    track = np.round(np.degrees(np.arctan2(east, north)) % 360.0 + rng.normal(0.0, 0.7, total)) % 360.0
    return Flight(ground.reshape(runs, legs), track.reshape(runs, legs), tas)


CLIMB_SPEEDS_KT = np.array([50.0, 53, 56, 60, 64, 69, 74, 80, 86, 92])


@dataclass
class Counted:
    """How often the truth was inside the band, and how far off the middle was."""

    inside: int
    unanswered: int
    miss: list[float]
    width: list[float]


def counted(count: int, first: int = 0) -> dict[str, Counted]:
    """Fly and reduce so many data sets: true airspeeds of four-leg runs, best angle, best rate."""
    from ribwright.core.flight.climbs import reduce_climbs
    from ribwright.core.flight.legs import bands_kt, run_of

    made = {name: Counted(0, 0, [], []) for name in ("true airspeed", "best angle", "best rate")}

    def enter(name: str, at: float, low: float, high: float, truth: float) -> None:
        made[name].inside += low <= truth <= high
        made[name].miss.append(at - truth)
        made[name].width.append(high - low)

    for seed in range(first, first + count):
        rng = np.random.default_rng([seed, 1])
        flight = calibration(rng)
        runs = tuple(
            run_of(ground_kt=g, track_deg=t) for g, t in zip(flight.ground_kt, flight.track_deg, strict=True)
        )
        halves, _, _ = bands_kt(runs, stated_kt=1.0)
        one_run = seed % len(runs)  # one a flight, so that the data sets stay independent
        at, half = runs[one_run].tas_kt, float(halves[one_run])
        enter("true airspeed", at, at - half, at + half, float(flight.tas_kt[one_run]))
        rng = np.random.default_rng([seed, 2])
        aeroplane = world(rng)
        order = rng.permutation(CLIMB_SPEEDS_KT)
        climbs = sawtooth(aeroplane, rng, np.concatenate([order, order[::-1]]))
        reduced = reduce_climbs(
            cas_kt=climbs.cas_kt, low_ft=climbs.low_ft, high_ft=climbs.high_ft, time_s=climbs.seconds, temperature_c=climbs.temperature_c,
            weight_lb=climbs.weight_lb, standard_lb=1400.0,
        )  # fmt: skip
        middle = float((climbs.low_ft + climbs.high_ft).mean() / 2)
        truths = aeroplane.best(1400.0, middle, 45.0, 110.0)
        for name, top, truth in zip(
            ("best angle", "best rate"), (reduced.best_angle(), reduced.best_rate()), truths, strict=True
        ):
            if top is None:
                made[name].unanswered += 1
            else:
                enter(name, top.at, top.low, top.high, truth)
    return made
