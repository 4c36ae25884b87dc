"""MIL-HDBK-5 (and the lap joint that quotes MMPDS-09 for the same tables): sheet, rivet shear, thin-sheet factors."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from reference.printed import assert_printed
from ribwright.core.fastening.strength import (
    rivet_shear_lbf,
    sheet_bearing_lbf,
    thin_sheet_factor,
    thin_sheet_factor_double,
)
from ribwright.core.tables import table

COVERS = {
    "rivet.shear": "MMPDS-09 table 8.1.2(b): 5/32 AD 596 lb",
    "sheet.bearing": "the lap joint of .050 clad 2024-T3 with 5/32 AD rivets: 944 lb",
    "rivet.thin_sheet_factor": "table 8.1.2.1(b), single-shear factors",
    "rivet.thin_sheet_factor_double": "table 8.1.2.1(b), double-shear factors",
}

_DATA = Path(__file__).parents[1] / "data" / "standards"
_PRINTED = {
    v["id"]: v for v in tomllib.loads((_DATA / "mil-hdbk-5.toml").read_text(encoding="utf-8"))["value"]
}


def test_lap_joint_rivet_shear() -> None:
    hole = table("rivets/nominal-hole").cell("5/32", "diameter").canonical
    assert_printed(float(rivet_shear_lbf(hole_in=hole, f_su_psi=30_000.0)), "596")
    assert table("rivets/shear").cell("5/32", "shear").text == str(
        _PRINTED["rivet.2117_T3.shear_lb.5_32"]["value"]
    )


def test_lap_joint_bearing_on_the_shank_not_the_hole() -> None:
    f_bru = table("materials/sheet").cell("2024-T3 clad", "Fbru_2_0").canonical
    assert_printed(f_bru / 1000, "121")
    load = float(sheet_bearing_lbf(f_bru_psi=f_bru, diameter_in=0.156, thickness_in=0.050))
    assert_printed(load, "944")
    assert load > 596, "the joint is critical in shear"
    assert float(sheet_bearing_lbf(f_bru_psi=f_bru, diameter_in=0.159, thickness_in=0.050)) > 960


@pytest.mark.parametrize(
    ("size", "d"), [("3/32", 0.09375), ("1/8", 0.125), ("5/32", 0.15625), ("3/16", 0.1875), ("1/4", 0.25)]
)
def test_single_shear_factors_at_every_thickness(size: str, d: float) -> None:
    """The third-party table that prints these factors shifts its thickness labels; the factors themselves agree."""
    for t, factor in _PRINTED[f"rivet.thin_sheet_factor.single.{size}"]["value"]:
        worked = float(thin_sheet_factor(diameter_in=d, thickness_in=t))
        assert_printed(
            worked,
            f"{factor:.3f}",
            slack=0.0011,
            because="the handbook rounds the nominal diameter to three places",
        )


@pytest.mark.parametrize(
    ("d", "t", "printed"),
    [(0.125, 0.025, ".545"), (0.125, 0.032, ".687"), (0.15625, 0.063, ".873"), (0.1875, 0.063, ".808")],
)
def test_double_shear_factors(d: float, t: float, printed: str) -> None:
    """.545 and .808 stand among the transcribed factors; the other two are the rule at thicknesses it does not print."""
    assert_printed(float(thin_sheet_factor_double(diameter_in=d, middle_thickness_in=t)), printed)


_SHEETS = {
    "2024-T3": "2024-T3.bare.sheet.0.010-0.128.A",
    "2024-T3 clad": "2024-T3.clad.sheet.0.010-0.062.A",
    "2024-T3 clad thick": "2024-T3.clad.sheet.0.063-0.128.A",
    "2024-T42": "2024-T42.bare.sheet.0.010-0.249.S",
    "6061-T6": "6061-T6.sheet.0.010-0.249.A",
    "6061-T4": "6061-T4.sheet.0.010-0.249.A",
    "7075-T6": "7075-T6.bare.sheet.0.040-0.125.A",
    "5052-H32": "5052-H32.sheet.S",
    "5052-H34": "5052-H34.sheet.S",
}
_COLUMN = {"E_primary": "E", "Ec_primary": "Ec"}


@pytest.mark.parametrize("row", sorted(_SHEETS))
def test_the_products_sheet_table_holds_the_printed_cells(row: str) -> None:
    printed = _PRINTED[_SHEETS[row]]["value"]
    held = table("materials/sheet").rows[row]
    for key, number in printed.items():
        column = _COLUMN.get(key, key)
        if column in held:
            assert float(held[column]) == number, (row, column)
    for needed in ("Ftu_L", "Fbru_1_5", "Fbru_2_0", "Fsu"):
        assert needed in held or needed not in printed
