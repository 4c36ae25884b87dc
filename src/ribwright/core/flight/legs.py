"""True airspeed and wind from legs over the ground: a circle through the tips of the ground-speed arrows.

Held airspeed and one wind make the arrows' tips lie on a circle: its radius is the true airspeed, its middle the
wind. Three legs give the circle exactly, four or more leave a scatter, and the scatter says how sure it is.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ribwright.core.audit import formula
from ribwright.core.flight.fit import student_t
from ribwright.errors import GeometryError, MissingError

Floats = NDArray[np.float64]

PRIOR_COUNT = 4
"""How many spare legs the stated reading error and wind drift are worth, while the flight has fewer of its own."""
WEAKEST = 0.30
"""Least singular value, over the root of the number of legs, at which a circle is still well held."""
LEAST_ANGLE_DEG = 25.0


@dataclass(frozen=True, slots=True)
class Run:
    """One airspeed held over several legs.

    Attributes:
        tas_kt: true airspeed.
        wind_kt, wind_from_deg: speed of the wind and where it blows from.
        left_kt: how far each tip lies outside (+) or inside (-) the circle, shape (n,).
        leverage: variance of the true airspeed over the variance of one leg.
        three_leg_kt: true airspeed from each three legs that follow each other, going round; empty for three legs.
    """

    tas_kt: float
    wind_kt: float
    wind_from_deg: float
    left_kt: Floats
    leverage: float
    three_leg_kt: tuple[float, ...]

    @property
    def spare(self) -> int:
        """Legs beyond the three that a circle needs."""
        return len(self.left_kt) - 3

    @property
    def spread_kt(self) -> float | None:
        """Sample standard deviation of the three-leg solutions (n - 1); None for three legs."""
        return float(np.std(self.three_leg_kt, ddof=1)) if len(self.three_leg_kt) > 1 else None


def run_of(*, ground_kt: ArrayLike, track_deg: ArrayLike, name: str = "run") -> Run:
    """Solve one run.

    Args:
        ground_kt: ground speed of each leg, shape (n,), n at least 3.
        track_deg: track over the ground of each leg, true or magnetic alike, shape (n,).
        name: for the sentence of an error.

    Raises:
        MissingError: fewer than three legs.
        GeometryError: legs too nearly parallel, or arrows whose tips lie on no circle.
    """
    speed, track = np.asarray(ground_kt, float), np.radians(np.asarray(track_deg, float))
    if len(speed) < 3:
        raise MissingError(
            f"Legs of {name}", found=f"{len(speed)}", allowed="three or more",
            because="wind and airspeed are three unknowns", mend="Fly another leg on another track.",
        )  # fmt: skip
    _refuse_parallel(np.degrees(track), name)
    east, north = speed * np.sin(track), speed * np.cos(track)
    middle, radius = _circle(east, north, name)
    away = np.hypot(east - middle[0], north - middle[1])
    design = _design(east, north, middle)
    three: tuple[float, ...] = ()
    if len(speed) > 3:
        three = tuple(
            _circle(east[some], north[some], name)[1]
            for some in (np.arange(k, k + 3) % len(speed) for k in range(len(speed)))
            if _held(east[some], north[some], middle)
        )
    return Run(
        tas_kt=radius,
        wind_kt=float(np.hypot(*middle)),
        wind_from_deg=float(np.degrees(np.arctan2(-middle[0], -middle[1])) % 360.0),
        left_kt=away - radius,
        leverage=float(np.linalg.inv(design.T @ design)[0, 0]),
        three_leg_kt=three,
    )


def bands_kt(runs: tuple[Run, ...], *, stated_kt: float) -> tuple[Floats, float, int]:
    """Half-widths of the 80 % bands of the runs' true airspeeds.

    The scatter is taken from all spare legs of the flight together: reading errors and the drift of the wind push the
    tips off the circle as they push its radius. While there are fewer than four spare legs, what the pilot states
    counts as four more.

    Args:
        runs: of one flight.
        stated_kt: standard deviation of one leg, reading and drift, as stated.

    Returns:
        Half-widths, shape (n,); the scatter of one leg; its degrees of freedom.
    """
    spare = sum(run.spare for run in runs)
    squares = float(sum(run.left_kt @ run.left_kt for run in runs if run.spare > 0))
    if spare < PRIOR_COUNT:
        squares += PRIOR_COUNT * stated_kt**2
        spare += PRIOR_COUNT
    scatter = float(np.sqrt(squares / spare))
    return student_t(spare) * scatter * np.sqrt([run.leverage for run in runs]), scatter, spare


@formula(
    "gps.heading_mean_square",
    symbol="v²",
    shown="(first_kt**2 + second_kt**2 + third_kt**2) / 3",
    unit="",
    source="aviation-formulary",
    locator="true airspeed and wind from ground speeds on three headings 120° apart",
    rung="seen",
    limits={"first_kt": (20.0, 500.0), "second_kt": (20.0, 500.0), "third_kt": (20.0, 500.0)},
)
def heading_mean_square(*, first_kt: ArrayLike, second_kt: ArrayLike, third_kt: ArrayLike) -> Floats:
    """Mean of the squares of three ground speeds, in knots squared."""
    return np.asarray(
        (
            np.asarray(first_kt, float) ** 2
            + np.asarray(second_kt, float) ** 2
            + np.asarray(third_kt, float) ** 2
        )
        / 3
    )


def tas_of_headings(*, ground_kt: tuple[float, float, float]) -> tuple[float, float]:
    """True airspeed and wind speed from ground speeds on three headings 120° apart.

    Source: Aviation Formulary. The stronger root is the airspeed: the wind is taken to be the weaker.

    Raises:
        GeometryError: no airspeed stronger than the wind makes these ground speeds.
    """
    square = float(heading_mean_square(first_kt=ground_kt[0], second_kt=ground_kt[1], third_kt=ground_kt[2]))
    mu = sum((v * v / square - 1.0) ** 2 for v in ground_kt) / 6.0
    if mu >= 0.25:
        raise GeometryError(
            "Ground speeds", found=", ".join(f"{v:g}" for v in ground_kt), allowed="wind weaker than the airspeed",
            because="no wind weaker than the airspeed makes these ground speeds",
            mend="Check the ground speeds and that the headings were 120° apart.",
        )  # fmt: skip
    plus = 0.5 + np.sqrt(0.25 - mu)
    return float(np.sqrt(square * plus)), float(np.sqrt(square * mu / plus))


def _design(east: Floats, north: Floats, middle: Floats) -> Floats:
    away = np.hypot(east - middle[0], north - middle[1])
    return np.column_stack([np.ones_like(away), (east - middle[0]) / away, (north - middle[1]) / away])


def _held(east: Floats, north: Floats, middle: Floats) -> bool:
    design = _design(east, north, middle)
    return bool(np.linalg.svd(design, compute_uv=False)[-1] / np.sqrt(len(design)) >= WEAKEST / 2)


def _refuse_parallel(track_deg: Floats, name: str) -> None:
    """Two different directions at most, or all tracks in one narrow fan: no circle is held by that."""
    kept: list[float] = []
    for track in track_deg:
        if all(abs((track - other + 180.0) % 360.0 - 180.0) >= LEAST_ANGLE_DEG for other in kept):
            kept.append(float(track))
    if len(kept) < 3:
        raise GeometryError(
            f"Tracks of {name}", found=", ".join(f"{t % 360:.0f}°" for t in track_deg),
            allowed=f"three tracks at least {LEAST_ANGLE_DEG:g}° from each other",
            because="parallel legs can't tell wind from airspeed", mend="Fly legs that go round: 90° or 120° apart.",
        )  # fmt: skip


def _circle(east: Floats, north: Floats, name: str) -> tuple[Floats, float]:
    design = np.column_stack([2 * east, 2 * north, np.ones_like(east)])
    found, *_ = np.linalg.lstsq(design, east**2 + north**2, rcond=None)
    middle = np.array(found[:2])
    radius = float(np.sqrt(max(found[2] + middle @ middle, 0.0)))
    for _ in range(50):
        away = np.hypot(east - middle[0], north - middle[1])
        if not (away > 1e-6).all():
            break
        slopes = np.column_stack([np.ones_like(away), (east - middle[0]) / away, (north - middle[1]) / away])
        step, _, _, singular = np.linalg.lstsq(slopes, away - radius, rcond=None)
        if singular[-1] < 1e-6:
            break
        radius += float(step[0])
        middle = middle + step[1:]
        if np.abs(step).max() < 1e-11 * max(radius, 1.0):
            break
    slopes = _design(east, north, middle)
    firm = (
        np.isfinite(middle).all()
        and np.linalg.svd(slopes, compute_uv=False)[-1] / np.sqrt(len(east)) >= WEAKEST / 2
    )
    if not firm or radius <= np.hypot(*middle):
        raise GeometryError(
            f"Legs of {name}", found=", ".join(f"{v:.0f} kt" for v in np.hypot(east, north)),
            allowed="legs that go round, wind weaker than the airspeed",
            because="no airspeed stronger than the wind fits these legs",
            mend="Check ground speeds and tracks; fly legs 90° or 120° apart.",
        )  # fmt: skip
    return middle, radius
