"""Least squares with its 80 % band, and where a fitted curve has its top: no outside package, any basis.

A fitted curve is a sum of known shapes times unknown weights. Where the curve has its top, its slope is nothing;
the slope is again a sum of shapes times the same weights, so the speeds at which "the slope is nothing" can't be
refused at 80 % are the band of the top (Fieller's theorem). No straightening out is needed, and the band may be lopsided.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from ribwright.errors import GeometryError, MissingError

Floats = NDArray[np.float64]
Shapes = Callable[[Floats], Floats]
"""From speeds, shape (n,), the values of each basis function, shape (n, k)."""

SHARE = 0.80
_GRID = 2_001


@cache
def student_t(freedom: int, share: float = SHARE) -> float:
    """Half-width, in standard errors, that holds this share of Student's t with so many degrees of freedom.

    Found by halving on the distribution's finite series for a whole number of degrees of freedom
    (Abramowitz and Stegun, 26.7.3 and 26.7.4).

    Raises:
        MissingError: no freedom left: as many unknowns as points.
    """
    if freedom < 1:
        raise MissingError(
            "points",
            found="as many unknowns as points",
            allowed="more points than unknowns",
            because="without a point to spare there is no telling how sure the curve is",
            mend="Fly more points.",
        )
    low, high = 0.0, 1e4
    for _ in range(200):
        middle = (low + high) / 2
        low, high = (middle, high) if _held(middle, freedom) < share else (low, middle)
    return (low + high) / 2


def _held(t: float, freedom: int) -> float:
    angle = math.atan(t / math.sqrt(freedom))
    c, s = math.cos(angle), math.sin(angle)
    term, total = (c, c) if freedom % 2 else (1.0, 1.0)
    start = 3 if freedom % 2 else 2
    for k in range(start, freedom, 2):
        term *= c * c * (k - 1) / k
        total += term
    if freedom == 1:
        return 2 * angle / math.pi
    return 2 / math.pi * (angle + s * total) if freedom % 2 else s * total


@dataclass(frozen=True, slots=True)
class Fit:
    """A curve fitted to points.

    Attributes:
        weights: of the basis functions, shape (k,).
        spread: covariance of the weights, shape (k, k), already scaled by the scatter found.
        scatter: standard deviation of the points about the curve.
        freedom: points less unknowns.
        low, high: the speeds between which points were flown; nothing is said outside.
    """

    weights: Floats
    spread: Floats
    scatter: float
    freedom: int
    low: float
    high: float

    @property
    def t(self) -> float:
        """Half-width of the 80 % band in standard errors."""
        return student_t(self.freedom)

    def half_width(self, shapes: Floats) -> Floats:
        """Half the 80 % band of the curve (or whatever these shapes make of it), shape (n,)."""
        return np.asarray(self.t * np.sqrt(((shapes @ self.spread) * shapes).sum(axis=1).clip(0.0)))


def fitted(shapes: Floats, values: Floats, *, low: float, high: float) -> Fit:
    """Fit the weights of the shapes to the values.

    Args:
        shapes: basis functions at the points, shape (n, k).
        values: measured, shape (n,).
        low, high: ends of the range that the points cover.

    Raises:
        MissingError: too few points.
        GeometryError: points that can't tell the shapes apart (all at one speed).
    """
    count, unknowns = shapes.shape
    student_t(count - unknowns)  # refuses when no point is to spare
    scale = np.linalg.norm(shapes, axis=0)
    q, r = np.linalg.qr(shapes / scale)
    if np.abs(np.diag(r)).min() < 1e-7:
        raise GeometryError(
            "points", found="speeds too close together", allowed="speeds spread over the range",
            because="they can't tell one curve from another", mend="Fly points at more different speeds.",
        )  # fmt: skip
    inverse = np.linalg.inv(r) / scale[:, None]
    weights = inverse @ (q.T @ values)
    left = values - shapes @ weights
    variance = float(left @ left) / (count - unknowns)
    return Fit(weights, inverse @ inverse.T * variance, math.sqrt(variance), count - unknowns, low, high)


@dataclass(frozen=True, slots=True)
class Top:
    """Where a curve crosses nothing (its slope, for a top), with the 80 % band; the ends say whether it is cut off.

    ``cut_low``: the band would go on below the slowest point flown; ``cut_high`` likewise.
    """

    at: float
    low: float
    high: float
    cut_low: bool
    cut_high: bool


def crossing(fit: Fit, shapes: Shapes, *, falling: bool = True, offset: float = 0.0) -> Top | None:
    """Where the sum of these shapes, less ``offset``, passes through nothing inside the range flown.

    Args:
        fit: the fitted curve.
        shapes: what must be nothing, as basis functions of speed: of a top, the slopes.
        falling: take the passage from plus to minus (a top) or from minus to plus.
        offset: subtracted from the sum: a level instead of nothing.

    Returns:
        The place and its band, or None when there is no such passage between the slowest and the fastest point.
    """
    grid = np.linspace(fit.low, fit.high, _GRID)
    made = shapes(grid)
    sign = 1.0 if falling else -1.0
    value = sign * (made @ fit.weights - offset)
    passages = np.flatnonzero((value[:-1] > 0) & (value[1:] <= 0))
    if not len(passages):
        return None
    first = int(passages[0])
    part = value[first] / (value[first] - value[first + 1])
    at = float(grid[first] + part * (grid[1] - grid[0]))
    open_to = np.abs(value) <= fit.half_width(made)
    low = first
    while low > 0 and open_to[low - 1]:
        low -= 1
    high = first + 1
    while high < _GRID - 1 and open_to[high + 1]:
        high += 1
    return Top(at, float(grid[low]), float(grid[high]), low == 0, high == _GRID - 1)
