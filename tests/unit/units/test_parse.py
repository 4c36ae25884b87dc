"""Reading what the builder wrote."""

from __future__ import annotations

from fractions import Fraction

import pytest

from ribwright.core.tables import drill_sizes
from ribwright.core.units import UNITS, parse
from ribwright.errors import AmbiguousError, MissingError, QuantityError


@pytest.mark.parametrize(
    ("text", "unit", "number", "symbol"),
    [
        ("1/2 in", "in", "1/2", "in"),
        ("1-1/2", "in", "3/2", "in"),
        ("1 1/2", "in", "3/2", "in"),
        (".032", "in", "4/125", "in"),
        ('3/16"', "in", "3/16", "in"),
        ("2 ft", "in", "2", "ft"),
        ("2 ft 3-1/2 in", "in", "55/2", "in"),
        ("2' 3-1/2\"", "in", "55/2", "in"),
        ("27 ft 4 in", "in", "328", "in"),
        ("0.8 mm", "in", "4/5", "mm"),
        ("0.8", "mm", "4/5", "mm"),
        ("#30", "in", "257/2000", "in"),
        ("#40", "in", "49/500", "in"),
        ("F drill", "in", "257/1000", "in"),
        ("F", "in", "257/1000", "in"),
        ("47 ksi", "psi", "47", "ksi"),
        ("324 MPa", "psi", "324", "MPa"),
        ("3 lb 4 oz", "lb", "52", "oz"),
        ("12 lb", "lbf", "12", "lbf"),
        ("5.5°", "deg", "11/2", "deg"),
        ("59 F", "°F", "59", "°F"),
        ("1½", "in", "3/2", "in"),
        ("−78", "in", "-78", "in"),
        ("2 inH2O", "psi", "2", "inH2O"),
        ("90 min", "h", "90", "min"),
    ],
)
def test_reads(text: str, unit: str, number: str, symbol: str) -> None:
    made = parse(text, unit, named=drill_sizes())
    assert made.number == Fraction(number)
    assert made.unit.symbol == symbol
    assert made.text


def test_keeps_the_text_as_entered() -> None:
    assert parse("0.8 mm", "in").text == "0.8 mm"
    assert parse("#30", "in", named=drill_sizes()).text == "#30"


def test_converts_exactly() -> None:
    assert parse("25.4 mm", "in").value == 1.0
    assert parse("15 °C", "°F").value == 59.0
    assert parse("1 kg", "lb").value == pytest.approx(2.2046226218487757, rel=1e-15)
    # 1 ksi = 6.894757 MPa, NIST SP 811 appendix B.8
    assert parse("1 ksi", "psi").to("MPa") == pytest.approx(6.894757, abs=5e-7)
    # 1 conventional inch of mercury = 3386.389 Pa, NIST SP 811 appendix B.8
    assert parse("29.92 inHg", "psi").to("Pa") == pytest.approx(29.92 * 3386.389, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "readings"),
    [
        ("1,500", ("1500", "1.500")),
        ("1 500", ("1500", "1.500")),
        ("1-2", ("one value",)),
        ("1 2/2", ("below one",)),
    ],
)
def test_ambiguous_text_is_refused_with_its_readings(text: str, readings: tuple[str, ...]) -> None:
    with pytest.raises(AmbiguousError) as refused:
        parse(text, "lb", field="weight")
    assert all(reading in refused.value.sentence() for reading in readings)
    assert refused.value.field == "weight"


@pytest.mark.parametrize(
    "text",
    [
        "abc",
        "nan",
        "inf",
        "1e999",
        "1/0",
        "0,8 mm",
        "5 kg",
        "--3",
        "1..2",
        "3 in 4 in",
        "#90",
        "x",
        "٣",
        "1 in2",
        "2 ft 13 in",
        "9" * 90,
        "1e-30",
    ],
)
def test_nonsense_is_refused(text: str) -> None:
    with pytest.raises(QuantityError):
        parse(text, "in", named=drill_sizes())


@pytest.mark.parametrize("text", ["", "   ", "\u00a0"])
def test_nothing_is_missing(text: str) -> None:
    with pytest.raises(MissingError):
        parse(text, "in")


def test_every_unit_reads_its_own_symbol() -> None:
    for symbol, unit in UNITS.items():
        made = parse(f"2.5 {symbol}", symbol)
        assert made.unit == unit
        assert made.number == Fraction(5, 2)
