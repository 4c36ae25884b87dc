"""Units and quantities: exact in the unit as entered, canonical only at a kernel's door."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

from ribwright.errors import QuantityError, UnknownNameError

_MM = Fraction(10, 254)  # inch, exact by definition (1959)
_KG = Fraction(100_000_000, 45_359_237)  # pound, exact by definition (1959)
_N = _KG * Fraction(100_000, 980_665)  # pound-force, by standard gravity 9.80665 m/s²
_PA = _N / (_MM * 1000) ** 2  # psi
_DIMENSIONLESS = "number"


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit: ``canonical = number * factor + offset`` in the canonical unit of its dimension."""

    symbol: str
    dimension: str
    factor: Fraction
    offset: Fraction = Fraction(0)
    system: str = "both"  # inch | metric | both

    @property
    def measures(self) -> str:
        """What it measures, in words: a length, an angle."""
        return f"{'an' if self.dimension[:1] in 'aeiou' else 'a'} {self.dimension}"


def _units() -> dict[str, Unit]:
    rows: list[tuple[str, str, Fraction | int, str]] = [
        ("in", "length", 1, "inch"),
        ("ft", "length", 12, "inch"),
        ("mil", "length", Fraction(1, 1000), "inch"),
        ("mm", "length", _MM, "metric"),
        ("cm", "length", _MM * 10, "metric"),
        ("m", "length", _MM * 1000, "metric"),
        ("NM", "length", _MM * 1_852_000, "both"),
        ("lbf", "force", 1, "inch"),
        ("N", "force", _N, "metric"),
        ("kN", "force", _N * 1000, "metric"),
        ("psi", "stress", 1, "inch"),
        ("ksi", "stress", 1000, "inch"),
        ("Msi", "stress", 1_000_000, "inch"),
        ("Pa", "stress", _PA, "metric"),
        ("kPa", "stress", _PA * 1000, "metric"),
        ("hPa", "stress", _PA * 100, "metric"),
        ("bar", "stress", _PA * 100_000, "metric"),
        ("MPa", "stress", _PA * 1_000_000, "metric"),
        ("GPa", "stress", _PA * 1_000_000_000, "metric"),
        # conventional inch of mercury (0 °C) and of water (4 °C), NIST SP 811 appendix B.8
        ("inHg", "stress", _PA * Fraction("3386.389"), "inch"),
        ("inH2O", "stress", _PA * Fraction("249.0889"), "inch"),
        ("lb", "mass", 1, "inch"),
        ("oz", "mass", Fraction(1, 16), "inch"),
        ("kg", "mass", _KG, "metric"),
        ("g", "mass", _KG / 1000, "metric"),
        ("deg", "angle", 1, "both"),
        ("lb·in", "torque", 1, "inch"),
        ("lb·ft", "torque", 12, "inch"),
        ("N·m", "torque", _N * _MM * 1000, "metric"),
        ("lb/in", "line load", 1, "inch"),
        ("N/mm", "line load", _N / _MM, "metric"),
        ("lb·in/in", "line moment", 1, "inch"),
        ("N·mm/mm", "line moment", _N, "metric"),
        ("in²", "area", 1, "inch"),
        ("ft²", "area", 144, "inch"),
        ("mm²", "area", _MM**2, "metric"),
        ("m²", "area", (_MM * 1000) ** 2, "metric"),
        ("gal", "volume", 231, "inch"),
        ("qt", "volume", Fraction(231, 4), "inch"),
        ("in³", "volume", 1, "inch"),
        ("L", "volume", (_MM * 100) ** 3, "metric"),
        ("lb/in³", "density", 1, "inch"),
        ("g/cm³", "density", _KG / 1000 / (_MM * 10) ** 3, "metric"),
        ("lb/gal", "density", Fraction(1, 231), "inch"),
        ("h", "time", 1, "both"),
        ("min", "time", Fraction(1, 60), "both"),
        ("s", "time", Fraction(1, 3600), "both"),
        ("d", "time", 24, "both"),
        ("kt", "speed", 1, "both"),
        ("mph", "speed", Fraction(1_609_344, 1_852_000), "inch"),
        ("km/h", "speed", Fraction(1000, 1852), "metric"),
        ("m/s", "speed", Fraction(3600, 1852), "metric"),
        ("ft/min", "climb", 1, "inch"),
        ("ft/s", "climb", 60, "inch"),
        ("gal/h", "flow", 1, "inch"),
        ("L/h", "flow", (_MM * 100) ** 3 / 231, "metric"),
        ("hp", "power", 1, "inch"),
        ("A", "current", 1, "both"),
        ("V", "voltage", 1, "both"),
        ("ohm", "resistance", 1, "both"),
        ("1/in", "curvature", 1, "inch"),
        ("1/mm", "curvature", 1 / _MM, "metric"),
        ("per in", "count density", 1, "inch"),
        ("lb·in²", "bending stiffness", 1, "inch"),
        ("lb·in²/in", "sheet stiffness", 1, "inch"),
        ("", _DIMENSIONLESS, 1, "both"),
        ("%", _DIMENSIONLESS, Fraction(1, 100), "both"),
        ("money", "money", 1, "both"),
    ]
    table = {
        symbol: Unit(symbol, dim, Fraction(factor), Fraction(0), system)
        for symbol, dim, factor, system in rows
    }
    # temperature is affine; canonical is °F, the unit of the trade's data sheets
    table["°F"] = Unit("°F", "temperature", Fraction(1), Fraction(0), "inch")
    table["°C"] = Unit("°C", "temperature", Fraction(9, 5), Fraction(32), "metric")
    return table


UNITS: dict[str, Unit] = _units()
"""Every unit by symbol. The first unit of a dimension with factor 1 is its canonical unit."""

_CANONICAL: dict[str, Unit] = {}
for _unit in UNITS.values():
    if _unit.factor == 1 and not _unit.offset:
        _CANONICAL.setdefault(_unit.dimension, _unit)


def unit(symbol: str) -> Unit:
    """The unit of this symbol.

    Raises:
        UnknownNameError: no such unit.
    """
    found = UNITS.get(symbol)
    if found is None:
        raise UnknownNameError("unit", found=symbol, allowed=", ".join(s for s in UNITS if s))
    return found


def canonical_unit(dimension_of: Unit) -> Unit:
    """The unit in which kernels take this dimension: in, lbf, psi, lb, deg, h, kt …"""
    return _CANONICAL[dimension_of.dimension]


@dataclass(frozen=True, slots=True)
class Quantity:
    """A value as entered: exact number, its unit, and the text it was read from.

    Two quantities are equal when number and unit are; ``text`` keeps what the builder wrote
    (``#30``, ``1/2 in``, ``.032``) and goes into sheets and the record.
    """

    number: Fraction
    unit: Unit
    text: str = field(compare=False)

    @property
    def value(self) -> float:
        """The canonical float: inch, lbf, psi, lb, degree, °F, hour, knot …"""
        return float(self.number * self.unit.factor + self.unit.offset)

    def to(self, symbol: str) -> float:
        """The value in another unit of the same dimension.

        Raises:
            QuantityError: the unit measures something else.
        """
        target = unit(symbol)
        if target.dimension != self.unit.dimension:
            raise QuantityError(
                "unit",
                found=f"{self.text} as {symbol or 'a plain number'}",
                allowed=self.unit.measures,
            )
        canonical = self.number * self.unit.factor + self.unit.offset
        return float((canonical - target.offset) / target.factor)

    def __str__(self) -> str:
        return self.text


def quantity_of(value: float | int | str | Fraction, symbol: str) -> Quantity:
    """A quantity made by the program itself (defaults, worked-out values), not typed by anybody."""
    number = Fraction(str(value)) if isinstance(value, float) else Fraction(value)
    text = f"{value} {symbol}".strip()
    return Quantity(number, unit(symbol), text)
