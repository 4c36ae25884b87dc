"""Number and letter drills against the data file of a general CAD part library; rivet drills against the handbook's."""

from __future__ import annotations

import tomllib
from fractions import Fraction
from pathlib import Path

import pytest

from ribwright.core.tables import drill_sizes, table
from ribwright.core.units import parse

COVERS: dict[str, str] = {}

_DATA = Path(__file__).parents[1] / "data" / "standards"
_PRINTED = {
    v["id"]: v["value"] for v in tomllib.loads((_DATA / "hardware.toml").read_text(encoding="utf-8"))["value"]
}


@pytest.mark.parametrize("kind", ["drill.number", "drill.letter"])
def test_every_drill(kind: str) -> None:
    printed = {name: Fraction(str(size)) for name, size in _PRINTED[kind].items()}
    held = {name: size for name, size in drill_sizes().items() if name in printed}
    assert held == printed


def test_there_are_eighty_numbers_and_twenty_six_letters_and_they_can_be_typed() -> None:
    assert len(drill_sizes()) == 106
    assert parse("#30", "in", named=drill_sizes()).value == 0.1285
    assert parse("F", "in", named=drill_sizes()).value == 0.257


def test_final_drill_of_each_rivet() -> None:
    for size, said in _PRINTED["drill.rivet"].items():
        name, diameter = said.split()
        assert table("rivets/drill").cell(size, "final").text == name
        assert drill_sizes()[name] == Fraction(diameter)


def test_each_final_drill_lets_the_shank_in_and_each_pilot_is_smaller() -> None:
    for size in table("rivets/drill").row_keys():
        pilot, final = (drill_sizes()[table("rivets/drill").cell(size, c).text] for c in ("pilot", "final"))
        assert pilot < final
        assert Fraction(size) < final <= Fraction(size) + Fraction(1, 100)
