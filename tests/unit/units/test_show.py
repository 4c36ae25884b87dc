"""What people see of a number."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ribwright.core.units import (
    UNITS,
    Side,
    bound_text,
    fraction_text,
    number_text,
    parse,
    shown,
    with_metric,
)


@pytest.mark.parametrize(
    ("value", "symbol", "text"),
    [
        (0.0512, "in", "0.051 in"),
        (47.0, "ksi", "47.0 ksi"),
        (5.5, "deg", "5.5°"),
        (-0.0001, "in", "0.000 in"),
        (12.0, "", "12"),
        (1.6166, "", "1.6166"),
        (7.6e-6, "", "0.0000076"),
    ],
)
def test_shown(value: float, symbol: str, text: str) -> None:
    assert shown(value, symbol) == text


def test_limits_round_to_the_safe_side() -> None:
    assert shown(0.2344, "in", side=Side.AT_LEAST) == "0.235 in"
    assert shown(0.2344, "in", side=Side.AT_MOST) == "0.234 in"
    assert shown(0.05, "in", side=Side.AT_LEAST, places=2) == "0.05 in"
    assert shown(0.1 + 0.2, "in", side=Side.AT_LEAST, places=1) == "0.3 in"


def test_metric_partner() -> None:
    assert with_metric(0.2215, "in", places=4) == "0.2215 in (5.63 mm)"
    assert shown(1.0, "in", system="metric") == "25.40 mm"
    assert shown(59.0, "°F", system="metric") == "15 °C"


def test_fractions_for_a_rule() -> None:
    assert [fraction_text(v) for v in (1.1875, 0.5, 2.0, 0.015625, -0.25)] == [
        "1-3/16",
        "1/2",
        "2",
        "1/64",
        "-1/4",
    ]


@given(st.floats(-1e6, 1e6), st.integers(0, 6))
def test_a_limit_is_never_shown_on_the_wrong_side(value: float, places: int) -> None:
    slack = 1e-9 * max(1.0, abs(value))
    assert float(number_text(value, places, Side.AT_LEAST)) >= value - slack
    assert float(number_text(value, places, Side.AT_MOST)) <= value + slack
    assert abs(float(number_text(value, places)) - value) <= 0.5000001 * 10.0**-places + slack


@given(st.decimals(-99999, 99999, places=4), st.sampled_from(sorted(s for s in UNITS if s)))
def test_text_comes_back_exactly(number: object, symbol: str) -> None:
    made = parse(f"{number} {symbol}", symbol)
    again = parse(made.text, symbol)
    assert again == made


@pytest.mark.parametrize(
    ("value", "symbol", "places", "text"),
    [
        (0.2215, "in", 4, "0.2215 in (5.63 mm)"),
        (0.0001, "in", 4, "0.0001 in"),  # a partner of zeros says nothing
        (0.0, "in", None, "0.000 in (0.00 mm)"),
        (3000.0, "ft", 0, "3000 ft (914.4 m)"),  # fewer decimals are fewer in the partner too
        (0.0022, "lb", 3, "0.002 lb"),
    ],
)
def test_the_metric_partner_says_as_much_as_the_value(
    value: float, symbol: str, places: int | None, text: str
) -> None:
    assert with_metric(value, symbol, places=places) == text


def test_a_bound_is_rounded_up_and_never_a_row_of_zeros() -> None:
    assert bound_text(0.0003902, "in", places=5) == "0.00040 in (0.01 mm)"
    assert bound_text(2e-12, "in", places=5) == "less than 0.00001 in"
    assert bound_text(0.0, "in", places=5) == "less than 0.00001 in"
