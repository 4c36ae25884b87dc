"""The CG envelope as a polygon, and the worst of all loadings against it, exactly.

Every load that a station may carry between its least and greatest adds a segment (weight, moment) to
the empty aeroplane. All loadings together fill a polygon (a sum of segments), whose lower and upper
edges are walked by taking the stations in order of their arms. The farthest CG at a given weight lies
on that edge; against a straight limit line it is worst at a corner or at one point that a square root
gives. Nothing is sampled.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ribwright.errors import GeometryError

Floats = NDArray[np.float64]
_NEAR = 1e-9


@dataclass(frozen=True, slots=True)
class Envelope:
    """Forward and aft CG limits as straight lines over weight: ``weights_lb`` ascending, both limits at each."""

    weights_lb: tuple[float, ...]
    forward_in: tuple[float, ...]
    aft_in: tuple[float, ...]

    @property
    def least_lb(self) -> float:
        """Lowest weight that the envelope covers."""
        return self.weights_lb[0]

    @property
    def most_lb(self) -> float:
        """Greatest weight that it allows."""
        return self.weights_lb[-1]

    def limits_in(self, weight_lb: ArrayLike) -> tuple[Floats, Floats]:
        """Forward and aft limit at weights inside the envelope; outside it the end values are held."""
        w = np.asarray(weight_lb, float)
        return np.interp(w, self.weights_lb, self.forward_in), np.interp(w, self.weights_lb, self.aft_in)


def envelope(cg_in: Sequence[float], weight_lb: Sequence[float]) -> Envelope:
    """The polygon of an envelope, corner by corner, as its two limits.

    Args:
        cg_in, weight_lb: the corners in order round the envelope, three or more.

    Raises:
        GeometryError: it crosses itself, has no area, or has more than one range of CG at some weight.
    """
    points = [(float(x), float(w)) for x, w in zip(cg_in, weight_lb, strict=True)]
    points = [p for i, p in enumerate(points) if p != points[i - 1]]
    n = len(points)
    if n < 3:
        raise GeometryError(
            "Envelope",
            found=f"{n} different corners",
            allowed="three or more",
            mend="Enter every corner of the envelope once.",
        )
    for i in range(n):
        for j in range(i + 1, n):
            if (j - i) % n in (1, n - 1):
                continue
            if _cross(points[i], points[(i + 1) % n], points[j], points[(j + 1) % n]):
                raise GeometryError(
                    "Envelope", found=f"edges {i + 1} and {j + 1} meet", allowed="corners in order round the envelope",
                    because="the envelope crosses itself", mend="Enter the corners in order, walking once round it.",
                )  # fmt: skip
    area = sum(a[0] * b[1] - b[0] * a[1] for a, b in pairwise([*points, points[0]])) / 2
    if abs(area) < 1e-6:
        raise GeometryError(
            "Envelope", found="no area", allowed="a forward and an aft limit", mend="Check the corners."
        )
    levels = sorted({w for _, w in points})
    forward, aft = [], []
    for low, high in pairwise(levels):
        middle = (low + high) / 2
        if len(_across(points, middle)) != 2:
            raise GeometryError(
                "Envelope", found=f"more than one range of CG at {middle:g} lb", allowed="one forward and one aft limit at each weight",
                mend="Enter the outer envelope; a second category is an envelope of its own.",
            )  # fmt: skip
    tiny = (levels[-1] - levels[0]) * 1e-9
    weights: list[float] = []
    for k, level in enumerate(levels):
        # a level edge (a step in the limit) has two values: take both sides, a hair apart
        for at in ([] if k == 0 else [level - tiny]) + ([] if k == len(levels) - 1 else [level + tiny]):
            ends = _across(points, at)
            weights.append(level if k in (0, len(levels) - 1) else at)
            forward.append(ends[0])
            aft.append(ends[-1])
    return Envelope(tuple(weights), tuple(forward), tuple(aft))


def _across(points: list[tuple[float, float]], weight: float) -> list[float]:
    found = []
    for (x0, w0), (x1, w1) in pairwise([*points, points[0]]):
        if (w0 - weight) * (w1 - weight) < 0:
            found.append(x0 + (weight - w0) / (w1 - w0) * (x1 - x0))
    return sorted(found)


def _cross(
    a: tuple[float, float], b: tuple[float, float], c: tuple[float, float], d: tuple[float, float]
) -> bool:
    def side(p: tuple[float, float], q: tuple[float, float], r: tuple[float, float]) -> float:
        return (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])

    def on(p: tuple[float, float], q: tuple[float, float], r: tuple[float, float]) -> bool:
        return min(p[0], q[0]) <= r[0] <= max(p[0], q[0]) and min(p[1], q[1]) <= r[1] <= max(p[1], q[1])

    s1, s2, s3, s4 = side(a, b, c), side(a, b, d), side(c, d, a), side(c, d, b)
    if s1 * s2 < 0 and s3 * s4 < 0:
        return True
    return (
        (s1 == 0 and on(a, b, c))
        or (s2 == 0 and on(a, b, d))
        or (s3 == 0 and on(c, d, a))
        or (s4 == 0 and on(c, d, b))
    )


@dataclass(frozen=True, slots=True)
class Worst:
    """One end of all loadings: how far inside its limit (negative: outside), where, and what is on board."""

    margin_in: float
    weight_lb: float
    cg_in: float
    limit_in: float
    load_lb: tuple[float, ...]


def worst_loadings(
    *,
    empty_lb: float,
    empty_lb_in: float,
    least_lb: ArrayLike,
    most_lb: ArrayLike,
    arm_in: ArrayLike,
    limits: Envelope,
) -> tuple[Worst, Worst]:
    """The worst loading against the forward limit and against the aft limit, over everything that may be on board.

    Loadings above the envelope's greatest weight are left out: they are too heavy whatever their CG.

    Args:
        empty_lb, empty_lb_in: empty weight and moment.
        least_lb, most_lb, arm_in: one each a station; fuel has least 0.
        limits: the envelope.

    Raises:
        GeometryError: even the lightest loading is above the greatest weight, or lighter loadings than the envelope covers.
    """
    lo, hi, arm = (np.asarray(v, float) for v in (least_lb, most_lb, arm_in))
    w0, m0 = empty_lb + float(lo.sum()), empty_lb_in + float((lo * arm).sum())
    if w0 > limits.most_lb * (1 + _NEAR):
        raise GeometryError(
            "Stations, least load", found=f"{w0:.1f} lb with the least everywhere", allowed=f"at most {limits.most_lb:g} lb",
            mend="Check the empty weight and the least loads.",
        )  # fmt: skip
    found = []
    for order, sign in ((np.argsort(arm, kind="stable"), 1.0), (np.argsort(-arm, kind="stable"), -1.0)):
        corners = [(w0, m0, lo.copy())]
        for i in order:
            w, m, load = corners[-1]
            gain = float(hi[i] - lo[i])
            if gain > 0:
                load = load.copy()
                load[i] = hi[i]
                corners.append((w + gain, m + gain * float(arm[i]), load))
        found.append(_worst_on(corners, limits, sign))
    return found[0], found[1]


def _worst_on(corners: list[tuple[float, float, Floats]], limits: Envelope, sign: float) -> Worst:
    """Worst point of a piecewise-straight edge in (weight, moment); sign 1 is the forward limit, -1 the aft one."""
    best: Worst | None = None
    pieces = list(pairwise(corners)) or [(corners[0], corners[0])]
    for (wa, ma, la), (wb, mb, lb) in pieces:
        stop = min(wb, limits.most_lb)
        if wa > limits.most_lb * (1 + _NEAR):
            break
        slope = (mb - ma) / (wb - wa) if wb > wa else 0.0
        base = ma - slope * wa  # moment = base + slope w
        tries = {wa, stop, *(w for w in limits.weights_lb if wa < w < stop)}
        knots = sorted(tries)
        for low, high in pairwise(knots):
            inner = _still(base, limits, low, high, sign)
            if inner is not None:
                tries.add(inner)
        for w in tries:
            cg = (base + slope * w) / w
            forward, aft = (float(v) for v in limits.limits_in(w))
            limit = forward if sign > 0 else aft
            margin = sign * (cg - limit)
            if best is None or margin < best.margin_in - 1e-12:
                t = (w - wa) / (wb - wa) if wb > wa else 0.0
                best = Worst(margin, w, cg, limit, tuple(float(v) for v in la + t * (lb - la)))
    assert best is not None
    return best


def _still(base: float, limits: Envelope, low: float, high: float, sign: float) -> float | None:
    """Where base/w - (c0 + c1 w) stands still between two weights with no corner of the envelope between them."""
    values = [limits.limits_in(w)[0 if sign > 0 else 1] for w in (low, high)]
    c1 = float(values[1] - values[0]) / (high - low) if high > low else 0.0
    if c1 == 0 or base / c1 >= 0:
        return None
    at = float(np.sqrt(-base / c1))
    return at if low < at < high else None
