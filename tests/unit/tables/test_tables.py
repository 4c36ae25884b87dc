"""Published tables: cells as printed, and refusals that name the neighbours."""

from __future__ import annotations

import pytest

from ribwright.core.tables import RUNGS, drill_sizes, lowest_rung, source, table
from ribwright.errors import NoSuchRowError, OutsideTableError, UnknownNameError


def test_a_cell_keeps_the_printed_text_and_knows_its_source() -> None:
    cell = table("drills/number").cell("#30", "diameter")
    assert (cell.text, cell.value, cell.canonical, cell.unit) == ("0.1285", 0.1285, 0.1285, "in")
    assert cell.source.title
    assert cell.rung in RUNGS


def test_a_missing_row_names_its_neighbours() -> None:
    with pytest.raises(NoSuchRowError, match="#78, #79, #80"):
        table("drills/number").cell("#83", "diameter")


def test_an_empty_cell_is_not_a_number() -> None:
    with pytest.raises(NoSuchRowError, match="empty cell"):
        table("ac43/table-4-10").cell("0.016", "1/4")


def test_nothing_is_extrapolated_and_nothing_interpolated_in_silence() -> None:
    made = table("ac43/table-4-10")
    assert made.at(0.032, "1/8").text == "4.9"
    with pytest.raises(OutsideTableError):
        made.at(0.2, "1/8")
    assert made.at(0.034, "1/8").row == "0.036", "a splice between two thicknesses takes the thicker row"
    with pytest.raises(NoSuchRowError, match="0.032 or 0.04"):
        table("materials/stock-thickness").at(0.034, "thickness")


def test_unknown_names() -> None:
    for ask in (
        lambda: table("drills/none"),
        lambda: source("none"),
        lambda: table("drills/number").cell("#30", "weight"),
    ):
        with pytest.raises(UnknownNameError):
            ask()


def test_drills_run_down_with_their_numbers() -> None:
    sizes = drill_sizes()
    numbers = [sizes[f"#{n}"] for n in range(1, 81)]
    assert numbers == sorted(numbers, reverse=True)
    letters = [sizes[chr(c)] for c in range(ord("A"), ord("Z") + 1)]
    assert letters == sorted(letters)


def test_the_lowest_rung_is_the_weakest() -> None:
    assert lowest_rung(["seen", "memory", "derived"]) == "memory"
    assert lowest_rung(["seen"]) == "seen"
