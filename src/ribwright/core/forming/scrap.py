"""Calibration: what a rolled scrap of the same sheet says of the sheet, and what it does not.

The reading moves every sheet of the fan in proportion to how the scrap and the part move together; a poor
reading moves them little, so the blend is never worse than the prior or the reading alone.
Method: docs/physics/forming.md, "The scrap strip".
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.typing import ArrayLike

from ribwright.core.audit import formula
from ribwright.core.forming.fibre import Array
from ribwright.core.forming.world import Fan, after_tool_per_in, band
from ribwright.errors import FormingError, GeometryError, OutOfRangeError

SURPRISE = 3.5
"""Standard deviations beyond which a reading contradicts the sheet's values instead of refining them."""


@dataclass(frozen=True, slots=True)
class ScrapReading:
    """A released scrap: radius of its middle line, its 95 % limits as a share, the tool it was rolled on."""

    radius_in: float
    limits_share: float
    tool_radius_in: float


@formula(
    "arc.radius",
    symbol="R",
    shown="chord_in**2 / (8 * sagitta_in) + sagitta_in / 2",
    unit="in",
    source="statics",
    locator="circle through three points",
    rung="derived",
    limits={"chord_in": (0.05, 100.0), "sagitta_in": (0.005, 50.0)},
    excuse="geometry of the circle",
)
def radius_from_chord_in(*, chord_in: ArrayLike, sagitta_in: ArrayLike) -> Array:
    """Radius of an arc from its chord c and its height h: c^2 / (8 h) + h / 2."""
    c, h = np.asarray(chord_in, dtype=np.float64), np.asarray(sagitta_in, dtype=np.float64)
    return np.asarray(c**2 / (8.0 * h) + 0.5 * h)


def chord_reading_share(
    *, chord_in: ArrayLike, sagitta_in: ArrayLike, chord_limit_in: ArrayLike, sagitta_limit_in: ArrayLike
) -> Array:
    """95 % limits of that radius as a share of it, from the limits of the two readings."""
    c, h = np.asarray(chord_in, dtype=np.float64), np.asarray(sagitta_in, dtype=np.float64)
    r = radius_from_chord_in(chord_in=c, sagitta_in=h)
    by_chord = c / (4.0 * h) * np.asarray(chord_limit_in)
    by_height = (0.5 - c**2 / (8.0 * h**2)) * np.asarray(sagitta_limit_in)
    return np.asarray(np.hypot(by_chord, by_height) / r)


def reading_of(
    *,
    chord_in: float,
    sagitta_in: float,
    chord_limit_in: float,
    sagitta_limit_in: float,
    tool_radius_in: float,
    thickness_in: float,
    inside: bool,
) -> ScrapReading:
    """A scrap's middle-line radius from chord and height taken on its inside or outside.

    Raises:
        OutOfRangeError: a length that is not positive.
        GeometryError: a height above half the chord (more than a half circle: take the chord across the ends
            of a shorter stretch).
    """
    for field, value in (
        ("chord", chord_in),
        ("height of the arc", sagitta_in),
        ("limits of the chord", chord_limit_in),
        ("limits of the height", sagitta_limit_in),
    ):
        if not 0.0 < value < 1e3:
            raise OutOfRangeError(field, found=f"{value:g} in", allowed="above 0")
    if sagitta_in > 0.5 * chord_in:
        raise GeometryError(
            "height of the arc",
            found=f"{sagitta_in:g} in over a chord of {chord_in:g} in",
            allowed="at most half the chord",
            mend="measure over a shorter stretch of the arc",
        )
    half = 0.5 * thickness_in if inside else -0.5 * thickness_in
    radius = float(radius_from_chord_in(chord_in=chord_in, sagitta_in=sagitta_in))
    share = float(
        chord_reading_share(
            chord_in=chord_in,
            sagitta_in=sagitta_in,
            chord_limit_in=chord_limit_in,
            sagitta_limit_in=sagitta_limit_in,
        )
    )
    return ScrapReading(radius + half, share * radius / (radius + half), tool_radius_in)


@dataclass(frozen=True, slots=True)
class Calibration:
    """How to move the fan: results of the same fan are corrected by :func:`calibrated`.

    Attributes:
        scrap_per_in: what each sheet of the fan would have shown, shape (m,).
        gap_per_in: reading less what each sheet would have shown, with its share of reading error, shape (m,).
        reading_variance: of the reading, in curvature squared.
        surprise: how many standard deviations the reading lies from what was expected.
        expected_low_in, expected_in, expected_high_in: radius that was expected of the scrap.
    """

    scrap_per_in: Array
    gap_per_in: Array
    reading_variance: float
    surprise: float
    expected_low_in: float
    expected_in: float
    expected_high_in: float


def calibrate(world: Fan, reading: ScrapReading) -> Calibration:
    """Weigh a scrap reading against the fan.

    Raises:
        OutOfRangeError: a radius or limits that can't be.
        FormingError: the reading contradicts the sheet's values (wrong alloy, temper, gauge or tool).
    """
    return calibrate_lot(world, (reading,))[0]


def calibrate_lot(world: Fan, readings: Sequence[ScrapReading]) -> tuple[Calibration, ...]:
    """Weigh the readings of one lot of sheet, each against what those before it left open.

    Raises:
        OutOfRangeError, FormingError: as :func:`calibrate`.
    """
    states: list[Calibration] = []
    for number, reading in enumerate(readings):
        scrap = after_tool_per_in(world, reading.tool_radius_in)[:, 0]
        for state in states:
            scrap = calibrated(scrap, state)
        states.append(_weighed(scrap, reading, number))
    return tuple(states)


def _weighed(scrap: Array, reading: ScrapReading, number: int) -> Calibration:
    if not 0.02 <= reading.radius_in <= 1e3:
        raise OutOfRangeError("scrap radius", found=f"{reading.radius_in:g} in", allowed="0.02 to 1000 in")
    if not 1e-4 <= reading.limits_share <= 0.5:
        raise OutOfRangeError(
            "limits of the scrap radius", found=f"{100 * reading.limits_share:g} %", allowed="0.01 to 50 %"
        )
    measured = 1.0 / reading.radius_in
    deviation = 0.5 * reading.limits_share * measured
    spread = float(np.hypot(np.std(scrap), deviation))
    surprise = (measured - float(np.mean(scrap))) / spread
    low, middle, high = band(scrap)
    if abs(surprise) > SURPRISE:
        raise FormingError(
            "scrap radius",
            because="the scrap contradicts the values entered for the sheet",
            found=f"{reading.radius_in:.3g} in",
            allowed=f"{1 / float(high):.3g} to {1 / max(float(low), 1e-9):.3g} in",
            mend="check alloy, temper, thickness, cladding and the tool's diameter, and measure the scrap again",
        )
    noise = deviation * _quiet_normal(scrap.size, number)
    return Calibration(
        scrap_per_in=scrap,
        gap_per_in=measured + noise - scrap,
        reading_variance=deviation**2,
        surprise=surprise,
        expected_low_in=1.0 / float(high),
        expected_in=1.0 / float(middle),
        expected_high_in=1.0 / max(float(low), 1e-9),
    )


def calibrated(values: Array, calibration: Calibration) -> Array:
    """Correct results of the fan, shape (m,) or (m, q), by the scrap.

    Each result moves by the share of it that goes with the scrap: cov / (var + reading variance).
    """
    wide = values.reshape(values.shape[0], -1)
    scrap = calibration.scrap_per_in - calibration.scrap_per_in.mean()
    gain = (scrap @ (wide - wide.mean(axis=0))) / scrap.size
    gain = gain / (float(np.var(calibration.scrap_per_in)) + calibration.reading_variance)
    return np.asarray((wide + calibration.gap_per_in[:, None] * gain).reshape(values.shape))


def gain_from_reading(
    world: Fan, *, scrap_tool_radius_in: float, part_tool_radius_in: float, limits_share: float
) -> float:
    """Width of the part's band after a scrap read to these limits, over its width before (1 = no help)."""
    scrap = after_tool_per_in(world, scrap_tool_radius_in)[:, 0]
    part = after_tool_per_in(world, part_tool_radius_in)[:, 0]
    noise = (0.5 * limits_share * float(np.mean(scrap))) ** 2
    shared = float(np.cov(scrap, part)[0, 1])
    left = float(np.var(part)) - shared**2 / (float(np.var(scrap)) + noise)
    return float(np.sqrt(max(left, 0.0) / float(np.var(part))))


def bare_reading_ratio(
    world: Fan, *, scrap_tool_radius_in: float, part_tool_radius_in: float, limits_share: float
) -> float:
    """The same ratio if the reading alone were believed (no blend): above 1 it would do harm."""
    scrap = after_tool_per_in(world, scrap_tool_radius_in)[:, 0]
    part = after_tool_per_in(world, part_tool_radius_in)[:, 0]
    noise = (0.5 * limits_share * float(np.mean(scrap))) ** 2
    shared, variance = float(np.cov(scrap, part)[0, 1]), float(np.var(scrap))
    slope = shared / variance
    left = float(np.var(part)) - shared * slope + slope**2 * noise
    return float(np.sqrt(max(left, 0.0) / float(np.var(part))))


def _quiet_normal(count: int, number: int) -> Array:
    """Fixed standard normal values for the reading of this number, unrelated to the fan's own sequence."""
    places = (0.5 + (0.6180339887498949 + 0.1180339887498949 * number) * np.arange(count)) % 1.0
    places = np.clip(places, 0.5 / count, 1 - 0.5 / count)
    inverse = NormalDist().inv_cdf
    return np.asarray([inverse(float(p)) for p in places])
