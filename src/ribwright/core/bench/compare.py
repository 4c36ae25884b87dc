"""The one comparator: value against limit, with the measuring uncertainty."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ribwright.core.bench.requirement import Reading, Requirement
from ribwright.core.units import number_text, shown, unit
from ribwright.errors import QuantityError


class Verdict(Enum):
    """What follows from a reading. Order is severity: the worst of several decides."""

    WITHIN = "within limits"
    UNDECIDED = "undecided"
    REWORK = "rework"
    REFER = "refer"


_ORDER = tuple(Verdict)


def verdict_codes(
    *,
    value: ArrayLike,
    low: ArrayLike,
    high: ArrayLike,
    refer_low: ArrayLike,
    refer_high: ArrayLike,
    u: ArrayLike = 0.0,
) -> NDArray[np.int8]:
    """Judge many values at once; all in one unit, ``-inf``/``inf`` for an absent limit.

    A value is within limits when its whole band is inside, out when its whole band is outside, and
    undecided otherwise. Out is *refer* when the whole band lies beyond the refer limit, else *rework*.
    A value that only touches a limit is inside (limits are the last good value).

    Returns:
        0 within limits, 1 undecided, 2 rework, 3 refer (the order of :class:`Verdict`), broadcast shape.
    """
    v, lo, hi = np.asarray(value, float), np.asarray(low, float), np.asarray(high, float)
    rl, rh, band = np.asarray(refer_low, float), np.asarray(refer_high, float), np.abs(np.asarray(u, float))
    # Decimal readings and limits pass through binary floats: 1e-9 keeps ".044" at a ".044" limit inside.
    eps = 1e-9 * (1.0 + np.abs(v))
    inside = (v - band >= lo - eps) & (v + band <= hi + eps)
    outside = (v + band < lo - eps) | (v - band > hi + eps)
    refer = (v + band < rl - eps) | (v - band > rh + eps)
    return np.where(inside, 0, np.where(refer, 3, np.where(outside, 2, 1))).astype(np.int8)


@dataclass(frozen=True, slots=True)
class Finding:
    """The answer to a reading: verdict, margin to the nearest limit (in ``unit``, negative when outside), reason, next."""

    verdict: Verdict
    margin: float | None
    unit: str
    reason: str
    next: str
    requirement: str
    where: str = ""

    def as_data(self) -> dict[str, object]:
        """For the record: every number as text."""
        return {
            "verdict": self.verdict.value,
            "margin": None if self.margin is None else number_text(self.margin, 6),
            "unit": self.unit,
            "reason": self.reason,
            "next": self.next,
            "requirement": self.requirement,
            "where": self.where,
        }


def compare(requirement: Requirement, reading: Reading) -> Finding:
    """Hold a reading against a requirement. It always answers.

    Raises:
        QuantityError: the reading measures something else than the requirement.
    """
    own, there = unit(requirement.unit), unit(reading.unit)
    if own.dimension != there.dimension:
        raise QuantityError(
            requirement.name,
            found=f"a {there.dimension} ({reading.unit})",
            allowed=f"{own.measures} ({requirement.unit})",
        )
    scale = float(there.factor / own.factor)
    value = (reading.value * float(there.factor) + float(there.offset) - float(own.offset)) / float(
        own.factor
    )
    u = reading.u * scale
    low = -np.inf if requirement.low is None else requirement.low
    high = np.inf if requirement.high is None else requirement.high
    code = int(
        verdict_codes(
            value=value,
            low=low,
            high=high,
            refer_low=-np.inf if requirement.refer_low is None else requirement.refer_low,
            refer_high=np.inf if requirement.refer_high is None else requirement.refer_high,
            u=u,
        )
    )
    verdict = _ORDER[code]
    margins = [m for m in (value - low, high - value) if np.isfinite(m)]
    margin = min(margins) if margins else None
    below = value - low <= high - value
    said = shown(value, requirement.unit) + (f" ± {shown(u, requirement.unit)}" if u else "")
    if verdict is Verdict.WITHIN:
        reason, following = f"{said} is within {requirement.limits_text()}", "Go on."
    elif verdict is Verdict.UNDECIDED:
        reason = f"{said} can't be told from the limit ({requirement.limits_text()})"
        following = f"Measure better: {requirement.how}"
    else:
        reason = f"{said} is {'below' if below else 'above'} {requirement.limits_text()}"
        following = requirement.when_low if below else requirement.when_high
    return Finding(verdict, margin, requirement.unit, reason, following, requirement.name, reading.where)


def worst(findings: Iterable[Finding]) -> Verdict | None:
    """The severest verdict of several; ``None`` when nothing was judged."""
    ranks = [_ORDER.index(finding.verdict) for finding in findings]
    return _ORDER[max(ranks)] if ranks else None
