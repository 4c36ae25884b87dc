"""Two photos of one profile: do they say the same, and what do both together say."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

MOST_APART = 0.10
"""Share of the places, seen in both, that may differ by more than their own limits before a new photo is asked."""


@dataclass(frozen=True, slots=True)
class Both:
    """What two photos say together. Arrays have one value a place; nan = seen in neither.

    Attributes:
        agree: whether they may be taken together.
        reason: a sentence when they may not.
        deviation_mm: the mean where both saw it, else the one that did.
        u95_mm: the larger of the two: print and heights are the same in both, so nothing is gained by averaging.
        largest_difference_mm: over the places that both saw.
    """

    agree: bool
    reason: str
    deviation_mm: Floats
    u95_mm: Floats
    largest_difference_mm: float


def together(first: tuple[Floats, Floats], second: tuple[Floats, Floats]) -> Both:
    """Compare deviation and its 95 % limits of two photos place by place.

    Args:
        first, second: deviation and u95, each of shape (n,), nan where not seen.
    """
    (d1, u1), (d2, u2) = first, second
    apart = np.abs(d1 - d2)
    both = np.isfinite(apart)
    deviation = np.where(both, 0.5 * (d1 + d2), np.where(np.isfinite(d1), d1, d2))
    u95 = np.where(both, np.fmax(u1, u2), np.where(np.isfinite(d1), u1, u2))
    if both.sum() < 0.5 * len(d1):
        return Both(
            False,
            "The two photos see different parts of the arc: take both so that the whole end is seen.",
            deviation,
            u95,
            float("nan"),
        )
    beyond = both & (apart > np.hypot(u1, u2))
    share, most = float(beyond.sum() / both.sum()), float(np.nanmax(apart[both]))
    if share > MOST_APART:
        at = int(np.nanargmax(np.where(both, apart, -1.0)))
        return Both(
            False,
            f"The two photos differ by up to {most:.2f} mm (at place {at + 1} of {len(d1)}), more than their own limits allow: "
            "see that the end lies as flush in both, type its height, and take both again.",
            deviation, u95, most,
        )  # fmt: skip
    return Both(True, "", deviation, u95, most)
