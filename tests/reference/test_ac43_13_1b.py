"""AC 43.13-1B, change 1: splice tables 4-9 to 4-11 cell by cell, the splice of page 4-27, the frame of figure 4-20."""

from __future__ import annotations

import tomllib
from decimal import ROUND_HALF_UP, Decimal
from pathlib import Path

import pytest

from reference.printed import assert_printed
from ribwright.core.audit import read
from ribwright.core.audit.index import load
from ribwright.core.fastening.spacing import least_pitch_in
from ribwright.core.fastening.splice import rivets_needed, rivets_needed_member, splice_cell
from ribwright.core.fastening.strength import splice_rivets_per_inch
from ribwright.core.tables import table

COVERS = {
    "splice.rivets_per_inch": "tables 4-9, 4-10, 4-11",
    "splice.rivets": "par. 4-58g, page 4-27",
    "splice.rivets_member": "figure 4-20, page 4-41",
    "spacing.least_pitch": "par. 4-58g: two rows of twenty 1/8 rivets over 10 in are half an inch apart",
}

_DATA = Path(__file__).parents[1] / "data" / "standards"
_PRINTED = {
    v["id"]: v for v in tomllib.loads((_DATA / "ac43-splice.toml").read_text(encoding="utf-8"))["value"]
}
_THICKNESS = _PRINTED["ac43.table.thickness"]["value"]
_SIZES = ("3/32", "1/8", "5/32", "3/16", "1/4")


def _cells(name: str) -> list[tuple[str, float, float]]:
    return [
        (size, t, printed)
        for size in _SIZES
        for t, printed in zip(_THICKNESS, _PRINTED[f"ac43.table_{name}.{size}"]["value"], strict=True)
        if printed
    ]


def _rule(name: str, size: str, t: float) -> float:
    ratios = table("ac43/splice-ratios")
    return float(
        splice_rivets_per_inch(
            thickness_in=t,
            shear_ratio=ratios.cell(name, "shear").value,
            bearing_ratio=ratios.cell(name, "bearing").value,
            hole_in=table("rivets/nominal-hole").cell(size, "diameter").canonical,
        )
    )


@pytest.mark.parametrize(("name", "cells", "exact"), [("4-9", 41, 36), ("4-10", 43, 37), ("4-11", 47, 46)])
def test_every_cell_by_the_tables_own_rule(name: str, cells: int, exact: int) -> None:
    printed = _cells(name)
    assert len(printed) == cells
    right = 0
    for size, t, number in printed:
        worked = _rule(name, size, t)
        assert abs(worked - number) <= 0.15, (name, size, t, worked, number)
        rounded = Decimal(repr(worked)).quantize(Decimal("0.1"), rounding=ROUND_HALF_UP)
        right += rounded == Decimal(repr(number)).quantize(Decimal("0.1"))
    assert right >= exact


@pytest.mark.parametrize("name", ["4-9", "4-10", "4-11"])
def test_the_products_table_holds_every_printed_cell_and_no_other(name: str) -> None:
    expected = {(size, t): number for size, t, number in _cells(name)}
    held = {}
    for key, row in table(f"ac43/table-{name}").rows.items():
        for size in _SIZES:
            if size in row:
                held[size, float(key)] = float(row[size])
    assert held == expected


def test_a_thickness_between_two_rows_takes_the_thicker_one() -> None:
    assert splice_cell("4-10", 0.063, "1/8").row == "0.064"


def _splice(**raw: object) -> dict[str, float | str]:
    made = load("splice")
    outcome = made.outcome(read(made.spec, {"title": "published example", **raw}))
    return {key: result.value for key, result in outcome.results.items()}  # type: ignore[misc]


def test_lap_splice_of_page_4_27() -> None:
    got = _splice(thickness=".032", width="10 in", material="2024-T3 clad", kind="single-lap joint")
    assert str(got["rivet_size"]).startswith("1/8")
    assert_printed(float(got["rivets_per_inch"]), "3.7")
    assert got["rivets_needed"] == 37
    assert (got["rows"], got["rivets_per_row"], got["rivets_fitted"]) == (2, 19, 38)


def test_the_same_lap_by_table_4_9_needs_47() -> None:
    got = _splice(thickness=".032", width="10 in", kind="single-lap joint", table="4-9", size="1/8")
    assert got["rivets_needed"] == 47


def test_two_rows_at_the_least_spacing_are_forty_rivets() -> None:
    pitch = float(
        least_pitch_in(pitch_ratio=table("rivets/pitch").cell("two rows", "least").value, diameter_in=0.125)
    )
    assert_printed(pitch, ".50")
    assert 2 * (10 / pitch) == 40


@pytest.mark.parametrize(("width", "whole", "needed"), [(0.6, 4, 3), (2.0, 13, 8)])
def test_intermediate_frame_of_figure_4_20(width: float, whole: int, needed: int) -> None:
    per_inch = splice_cell("4-10", 0.040, "1/8").value
    assert_printed(per_inch, "6.2")
    assert rivets_needed(width_in=width, rivets_per_in=per_inch, reduction_factor=1.0) == whole
    assert rivets_needed_member(width_in=width, rivets_per_in=per_inch, reduction_factor=0.6) == needed
    got = _splice(thickness=".040", width=width, material="2017-T3", kind="intermediate frame", size="1/8")
    assert got["rivets_needed"] == needed


def test_up_before_the_reduction_and_up_again_after_is_not_one_rounding() -> None:
    """.97 in asks for 6.01 rivets: 7, of which 60 % is 4.2 and so 5; one rounding alone would give 4."""
    assert rivets_needed_member(width_in=0.97, rivets_per_in=6.2, reduction_factor=0.6) == 5
    assert rivets_needed(width_in=0.97, rivets_per_in=6.2, reduction_factor=0.6) == 4


@pytest.mark.parametrize(
    ("name", "f_tu", "bearing"), [("4-9", 70_000, 1.60), ("4-10", 55_000, 1.60), ("4-11", None, 1.65)]
)
def test_an3_columns_by_engineering_note_d(name: str, f_tu: float | None, bearing: float) -> None:
    """A bolt carries 2,126 lb; the cell of 4-9 at .128 is left out (printed 3.2 in the copy read, 4.2 by the note)."""
    held = table(f"ac43/table-{name}")
    cells = {float(k): float(r["AN-3"]) for k, r in held.rows.items() if "AN-3" in r}
    printed = dict(zip(_THICKNESS, _PRINTED[f"ac43.table_{name}.AN-3"]["value"], strict=True))
    assert cells == {t: v for t, v in printed.items() if v and not (name == "4-9" and t == 0.128)}
    for t, number in cells.items():
        by_load = 0.0 if f_tu is None else t * f_tu / _PRINTED["ac43.notes.AN3_bolt_single_shear"]["value"]
        assert_printed(max(1 / (bearing * 0.190), by_load), f"{number:.1f}")
