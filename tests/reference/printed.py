"""Holding a computed value against a printed one: the tolerance comes from the printed digits."""

from __future__ import annotations

import math
from decimal import Decimal


def half_of_last_digit(printed: str) -> float:
    """Half a unit of the last printed place: ``43.3`` gives .05, ``944`` gives .5, ``1.20e3`` gives 5."""
    value = Decimal(printed.replace(",", "").replace(" ", "").strip())
    exponent = value.as_tuple().exponent
    assert isinstance(exponent, int), f"{printed!r} is not a finite printed number"
    return float(Decimal(5).scaleb(exponent - 1))


def assert_printed(value: float, printed: str, slack: float | None = None, because: str = "") -> None:
    """The value rounds to what is printed. More room needs ``slack`` and the reason in words.

    Args:
        value: computed, in the unit of the printed number.
        printed: the digits as they stand in the source, trailing zeros included.
        slack: how far off it may be instead of half the last digit, in the same unit.
        because: why the source's digits can't be met; needed with ``slack`` and refused without.
    """
    assert (slack is None) == (not because), "slack and its reason go together"
    room = half_of_last_digit(printed)
    if slack is not None:
        assert slack > room, f"slack {slack} is no more than the printed digits allow ({room})"
        room = slack
    target = float(Decimal(printed.replace(",", "").replace(" ", "")))
    number = float(value)
    assert math.isfinite(number), f"{value!r} is not a finite number"
    # a value that lies exactly on the half may be rounded either way
    assert abs(number - target) <= room * (1 + 1e-9) + 1e-12 * abs(target), (
        f"{number!r} does not round to the printed {printed} (room {room:g})"
    )
