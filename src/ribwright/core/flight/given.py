"""What all flight rows share: one unit a column, values as arrays, the range that was flown."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from ribwright.core.units import Quantity
from ribwright.errors import OutOfRangeError, QuantityError

Floats = NDArray[np.float64]


def column(values: Iterable[Quantity], symbol: str, name: str) -> Floats:
    """One column of the rows as numbers.

    Raises:
        QuantityError: rows of one column in different units: one of them was most likely forgotten.
    """
    made = tuple(values)
    units = sorted({v.unit.symbol for v in made})
    if len(units) > 1:
        raise QuantityError(
            name, found="rows in " + " and ".join(units), allowed="one unit for the whole column",
            because="mixed units in one column are more often a slip than meant", mend="Write every row of this column in the unit of its instrument.",
        )  # fmt: skip
    return np.array([v.to(symbol) for v in made])


def inside(value: float, low: float, high: float, name: str, unit: str) -> float:
    """The value, refused outside what was flown.

    Raises:
        OutOfRangeError: outside: nothing is extrapolated.
    """
    if not low - 1e-9 <= value <= high + 1e-9:
        raise OutOfRangeError(
            name, found=f"{value:g} {unit}", allowed=f"{low:.1f} to {high:.1f} {unit}, the range flown",
            because="nothing is said outside the points flown", mend="Fly points there first, with an instructor's advice.",
        )  # fmt: skip
    return value
