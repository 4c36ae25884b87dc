"""Formulas as a person letters them."""

from __future__ import annotations

import re

import pytest

from ribwright.core.audit.formula import FORMULAS
from ribwright.core.audit.lettering import lettered
from ribwright.services.calculations import run_calculation


@pytest.mark.parametrize(
    ("written", "read"),
    [
        ("grip_in + extra_ratio * diameter_in", "grip + extra ratio × diameter"),
        ("sqrt(maximum(proud_in * hole_in**2, 0))", "sqrt(greater of (proud × hole², 0))"),
        ("(head_in - hole_in) / (2 * tan(radians(50)))", "(head - hole) / (2 * tan(50°))".replace("*", "×")),
        ("shape ** exponent_ratio", "shape^exponent ratio"),
        ("(1 + 0.2 * mach**2)**3.5 - x**(2 / 7)", "(1 + 0.2 × mach²)^3.5 - x^(2 / 7)"),
        ("rivets_per_in * (temperature_c + 273.15)", "rivets per in × (temperature °C + 273.15)"),
    ],
)
def test_signs_of_the_trade_in_place_of_a_programs(written: str, read: str) -> None:
    assert lettered(written) == read


def test_no_formula_on_a_worksheet_looks_like_a_program() -> None:
    run_calculation("seam", {"title": "a", "first": "1", "last": "9", "part_length": "10", "layers": [{"part": "a", "thickness": ".02"}, {"part": "b", "thickness": ".032"}]})  # fmt: skip
    assert FORMULAS
    for made in FORMULAS.values():
        said = lettered(made.shown)
        assert not re.search(r"\*|_|maximum|minimum|radians|degrees\(", said), (made.name, said)
        assert said.count("(") == said.count(")"), (made.name, said)
