"""Lengths and grips of AN bolts as public charts of the standard print them; torque cells of AC 43.13-1B table 7-1."""

from __future__ import annotations

import tomllib
from fractions import Fraction
from pathlib import Path

import pytest

from ribwright.core.fastening.bolts import bolt_lengths
from ribwright.core.tables import table

COVERS: dict[str, str] = {}

_DATA = Path(__file__).parents[1] / "data" / "standards"
_PRINTED = {
    v["id"]: v["value"] for v in tomllib.loads((_DATA / "hardware.toml").read_text(encoding="utf-8"))["value"]
}


@pytest.mark.parametrize(
    ("size", "dash", "grip"),
    [("AN3", 3, "1/16"), ("AN3", 4, "1/8"), ("AN4", 15, "19/16"), ("AN6", 20, "23/16"), ("AN5", 27, "39/16")],
)
def test_printed_grips(size: str, dash: int, grip: str) -> None:
    assert bolt_lengths(size)[dash][1] == pytest.approx(float(Fraction(grip)), abs=1e-9)


@pytest.mark.parametrize(
    ("size", "dash", "length"), [("AN3", 3, "15/32"), ("AN3", 4, "17/32"), ("AN4", 7, "29/32")]
)
def test_printed_lengths(size: str, dash: int, length: str) -> None:
    assert bolt_lengths(size)[dash][0] == pytest.approx(float(Fraction(length)), abs=1e-9)


def test_eight_and_nine_are_not_dash_numbers() -> None:
    assert not {8, 9, 18, 19} & set(bolt_lengths("AN4"))


def test_every_torque_cell_of_table_7_1() -> None:
    held = table("hardware/torque")
    printed = {
        k.split(".", 2)[2]: v for k, v in _PRINTED.items() if k.startswith(("torque.fine.", "torque.coarse."))
    }
    assert set(held.row_keys()) == set(printed)
    for thread, cells in printed.items():
        for nut in ("tension", "shear"):
            low, high = cells[f"{nut}_nut"]
            assert held.cell(thread, f"low {nut}").value == low
            assert held.cell(thread, f"high {nut}").value == high
            assert held.cell(thread, f"max {nut}").value == cells[f"max_{nut}_nut"]
