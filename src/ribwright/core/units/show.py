"""What people see: one function from value and unit to text, limits rounded to the safe side."""

from __future__ import annotations

import math
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_EVEN, Decimal
from enum import Enum
from fractions import Fraction

from ribwright.core.units.quantity import Unit, canonical_unit, unit


class Side(Enum):
    """Which way a number is rounded when it is shown."""

    NEAREST = ROUND_HALF_EVEN
    AT_LEAST = ROUND_CEILING  # a least value is never shown smaller than it is
    AT_MOST = ROUND_FLOOR  # a greatest value is never shown larger than it is


# decimals per unit: what the trade's tools can resolve
_PLACES = {
    "in": 3, "ft": 2, "mm": 2, "cm": 2, "m": 3, "NM": 1, "lbf": 1, "N": 1, "kN": 2, "psi": 0, "ksi": 1, "Msi": 2,
    "MPa": 0, "GPa": 1, "hPa": 1, "inHg": 2, "inH2O": 2, "kPa": 1, "bar": 3, "Pa": 0, "lb": 2, "oz": 1, "kg": 2, "g": 0,
    "deg": 1, "lb·in": 1, "lb·ft": 1, "N·m": 1, "lb/in": 2, "N/mm": 2, "lb·in/in": 2, "N·mm/mm": 2, "in²": 3, "ft²": 2,
    "mm²": 0, "m²": 3, "gal": 1, "qt": 1, "in³": 2, "L": 1, "lb/in³": 4, "g/cm³": 2, "lb/gal": 2, "h": 2, "min": 0,
    "s": 0, "d": 0, "kt": 1, "mph": 1, "km/h": 0, "m/s": 1, "ft/min": 0, "ft/s": 1, "gal/h": 1, "L/h": 0, "hp": 1,
    "°F": 0, "°C": 0, "%": 1, "A": 1, "V": 2, "ohm": 4, "": 4, "per in": 2, "money": 2, "1/in": 4, "1/mm": 5,
    "lb·in²": 0, "lb·in²/in": 1,
}  # fmt: skip
_METRIC = {
    "in": "mm", "ft": "m", "lbf": "N", "psi": "MPa", "ksi": "MPa", "lb": "kg", "oz": "g", "lb·in": "N·m", "lb/in": "N/mm",
    "lb·in/in": "N·mm/mm", "in²": "mm²", "ft²": "m²", "gal": "L", "in³": "L", "°F": "°C", "lb·ft": "N·m", "1/in": "1/mm",
    "gal/h": "L/h", "lb/in³": "g/cm³",
}  # fmt: skip


def number_text(value: float, places: int, side: Side = Side.NEAREST) -> str:
    """A float with fixed decimals, rounded to the wanted side, never ``-0``."""
    # 1e-9 of slack before rounding to a side, so that 0.05 stored as 0.05000000000000001 stays 0.050
    nudge = 0.0
    if side is Side.AT_LEAST:
        nudge = -abs(value) * 1e-12
    elif side is Side.AT_MOST:
        nudge = abs(value) * 1e-12
    rounded = Decimal(repr(float(value + nudge))).quantize(Decimal(1).scaleb(-places), rounding=side.value)
    text = f"{rounded:f}"
    return text if _says(text) else text.lstrip("-")


def shown(
    value: float,
    symbol: str,
    *,
    side: Side = Side.NEAREST,
    places: int | None = None,
    system: str = "inch",
) -> str:
    """A value as people read it: ``0.032 in``, ``47 ksi``, ``12.0 deg``.

    Args:
        value: in the unit ``symbol``, not in the canonical unit.
        symbol: unit of the value; shown in its metric partner when ``system`` is ``metric``.
        side: a limit is rounded to its safe side in the unit shown.
        places: decimals, where the usual number would hide what matters.
    """
    own = unit(symbol)
    if system == "metric" and symbol in _METRIC:
        target = unit(_METRIC[symbol])
        value = _converted(value, own, target)
        if places is not None and symbol in _PLACES:  # fewer decimals than usual are fewer in the partner too
            fewer = _PLACES[symbol] - places
            places = max(0, _PLACES.get(target.symbol, 3) - fewer) if fewer > 0 else None
        symbol = target.symbol
    if not math.isfinite(value):
        return "no value"
    digits = _PLACES.get(symbol, 3) if places is None else places
    if not symbol and places in (None, _PLACES[""]):
        if float(value).is_integer():
            digits = 0  # a count
        elif abs(value) < 10.0**-digits and abs(value) > 1e-12:
            return f"{Decimal(f'{value:.3g}'):f}"  # a small factor, written out; not a row of zeros
    spoken = {"deg": "°", "%": " %", "": "", "money": ""}.get(symbol, f" {symbol}")
    return number_text(value, digits, side) + spoken


def with_metric(value: float, symbol: str, *, side: Side = Side.NEAREST, places: int | None = None) -> str:
    """The trade's unit with its metric partner: ``0.2215 in (5.63 mm)``; a partner that would say only zeros is left out."""
    own = shown(value, symbol, side=side, places=places)
    if symbol not in _METRIC:
        return own
    if not _says(shown(value, symbol, places=places, system="metric")) and _says(own):
        return own
    partner = shown(value, symbol, side=side, places=places, system="metric")
    return f"{own} ({partner})"


def bound_text(value: float, symbol: str, *, places: int) -> str:
    """What nothing is farther off than, rounded up: ``0.00035 in (0.01 mm)``; ``less than 0.00001 in`` where only zeros are left."""
    if not _says(number_text(value, places)):
        return f"less than {shown(10.0**-places, symbol, places=places)}"
    return with_metric(value, symbol, side=Side.AT_LEAST, places=places)


def _says(text: str) -> bool:
    return any(c in "123456789" for c in text)


def fraction_text(inches: float, finest: int = 64) -> str:
    """Inches for a steel rule: ``1-3/16``, to the nearest ``1/finest``."""
    nearest = Fraction(round(inches * finest), finest)
    sign = "-" if nearest < 0 else ""
    whole, part = divmod(abs(nearest), 1)
    if not part:
        return f"{sign}{whole}"
    return f"{sign}{whole}-{part}" if whole else f"{sign}{part}"


def _converted(value: float, own: Unit, target: Unit) -> float:
    canonical = value * float(own.factor) + float(own.offset)
    return (canonical - float(target.offset)) / float(target.factor)


def canonical_symbol(symbol: str) -> str:
    """Symbol of the canonical unit for a unit's dimension."""
    return canonical_unit(unit(symbol)).symbol
