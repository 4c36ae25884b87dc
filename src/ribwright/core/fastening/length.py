"""How long a solid rivet must be, and which head a length forms. The rivet's length is decided here."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ribwright.core.audit import formula

Floats = NDArray[np.float64]


@formula(
    "rivet.length",
    symbol="L",
    shown="grip_in + extra_ratio * diameter_in",
    unit="in",
    source="navedtra-14018",
    locator="fig. 13-43",
    rung="seen",
    limits={"grip_in": (0.0, 4.0), "extra_ratio": (0.3, 2.5), "diameter_in": (0.0625, 0.375)},
    excuse="the source prints the rule in a figure, no worked number",
)
def rivet_length_in(*, grip_in: ArrayLike, extra_ratio: ArrayLike, diameter_in: ArrayLike) -> Floats:
    """Length before rounding: the stack, and what forms the head."""
    return np.asarray(grip_in, float) + np.asarray(extra_ratio, float) * np.asarray(diameter_in, float)


@formula(
    "rivet.head_diameter_by_volume",
    symbol="d_h",
    shown="sqrt(maximum((proud_in * diameter_in**2 - grip_in * (hole_in**2 - diameter_in**2)) / head_height_in, 0))",
    unit="in",
    source="statics",
    locator="volume of the shank is kept",
    rung="derived",
    limits={
        "proud_in": (0.0, 1.0),
        "diameter_in": (0.0625, 0.375),
        "hole_in": (0.0625, 0.42),
        "grip_in": (0.0, 4.0),
        "head_height_in": (0.005, 0.5),
    },
    excuse="a volume kept; no source prints a worked number, unit tests hold it against solid volumes",
)
def head_diameter_in(
    *,
    proud_in: ArrayLike,
    diameter_in: ArrayLike,
    hole_in: ArrayLike,
    grip_in: ArrayLike,
    head_height_in: ArrayLike,
) -> Floats:
    """Diameter of a formed head of given height: the metal that stood proud, less what fills the hole."""
    d2 = np.asarray(diameter_in, float) ** 2
    metal = np.asarray(proud_in, float) * d2 - np.asarray(grip_in, float) * (
        np.asarray(hole_in, float) ** 2 - d2
    )
    return np.sqrt(np.maximum(metal / np.asarray(head_height_in, float), 0.0))


def rounded_length_16(length_in: float, step_in: float) -> Fraction:
    """The next length that is sold, in sixteenths: up to the step (1/16, or 1/32 in small sizes)."""
    step = Fraction(step_in).limit_denominator(64)
    steps = -((-Fraction(length_in).limit_denominator(10**6)) // step)
    return steps * step * 16
