"""Is the printer true? The check figure as measured, and the factors that make the next print true."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ribwright.core.audit import formula
from ribwright.errors import OutOfRangeError

TRUE_WITHIN = 0.0005
"""A print this near (.002 in over 4 in) can't be told from a true one with calipers on paper."""
FURTHEST = 0.03
"""More than this is no printer's error but a setting."""


OTHER_BAR_IN = 100 / 25.4
OTHER_BAR_WITHIN_IN = 0.006
"""Taking the 100 mm bar for the one of 4 in would pass as a print 1.6 % small, and spoil a true printer."""
USE_IT = "The print is true: use it."
THROW_AWAY = "Throw this print away. The next one on this printer is corrected; measure its figure too."


@formula(
    "printer.factor",
    symbol="f",
    shown="factor_before_factor * length_in / measured_in",
    unit="",
    source="statics",
    locator="proportion",
    rung="derived",
    limits={
        "length_in": (0.1, 100.0),
        "measured_in": (0.1, 100.0),
        "factor_before_factor": (0.9, 1.1),
    },
    excuse="A proportion; checked by printing at the factor and measuring, not by a printed number.",
)
def printer_factor(
    *, length_in: ArrayLike, measured_in: ArrayLike, factor_before_factor: ArrayLike
) -> NDArray[np.float64]:
    """Factor for the next print from the length asked for, the length measured and the factor it was printed at."""
    return np.asarray(
        np.asarray(factor_before_factor) * np.asarray(length_in) / np.asarray(measured_in), dtype=np.float64
    )


@dataclass(frozen=True, slots=True)
class PrinterCheck:
    """What the measured check figures say: accepted as it is, or corrected from the next print on."""

    verdict: Literal["accepted", "corrected"]
    short_edge: float
    long_edge: float
    said: str


def check_printer(
    *,
    measured_short_in: float,
    measured_long_in: float,
    length_in: float = 4.0,
    before: tuple[float, float] = (1.0, 1.0),
) -> PrinterCheck:
    """Accept the print, or give the factors for this printer.

    Args:
        measured_short_in, measured_long_in: the check figure's length as measured along the paper's short
            and long edge.
        length_in: what it should be.
        before: the factors that the measured print was made with.

    Raises:
        OutOfRangeError: more than 3 % off; names the usual cause.
    """
    factors = []
    for name, measured, factor in (
        ("short edge", measured_short_in, before[0]),
        ("long edge", measured_long_in, before[1]),
    ):
        off = measured / length_in - 1 if np.isfinite(measured) and measured > 0 else np.inf
        if abs(off) > FURTHEST:
            raise OutOfRangeError(
                f"check figure along the {name}",
                found=f"{measured:g} in where {length_in:g} in were asked for",
                allowed=f"within {FURTHEST:.0%}",
                mend=_cause(off),
            )
        factors.append(factor if abs(off) <= TRUE_WITHIN else factor * length_in / measured)
    if any(abs(f - 1) > FURTHEST for f in factors):
        raise OutOfRangeError(
            "printer correction",
            found=f"{factors[0]:.4f} by {factors[1]:.4f}",
            allowed=f"within {FURTHEST:.0%}",
            mend="Forget this printer's factors, print at actual size and measure again",
        )
    same = factors[0] == before[0] and factors[1] == before[1]
    said = USE_IT if same else THROW_AWAY
    if (
        any(abs(v - OTHER_BAR_IN) < OTHER_BAR_WITHIN_IN for v in (measured_short_in, measured_long_in))
        and length_in == 4.0
    ):
        said += (
            " The length typed is that of the 100 mm bar: be sure that the bar marked 4.000 in was measured."
        )
    return PrinterCheck("accepted" if same else "corrected", factors[0], factors[1], said)


def _cause(off: float) -> str:
    if not np.isfinite(off):
        return "Measure the bar from end tick to end tick"
    if -0.12 < off < 0:
        return "The usual cause is “fit to page” or “shrink to fit”: print at actual size, 100 %"
    return "Print at actual size, 100 %, on the paper that was chosen, and measure the bar marked 4.000 in"
