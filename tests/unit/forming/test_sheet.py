"""Fibre, section, release, reopening: limits that must hold whatever the constants."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from ribwright.core.forming.cyclic import release_layers, reopen_masing, reverse_isotropic
from ribwright.core.forming.fibre import fibre_table, hardening_psi
from ribwright.core.forming.section import (
    Layer,
    Sheet,
    curvature_per_in,
    moment_lbf,
    pick,
    release_elastic_per_in,
    release_masing_per_in,
    section_table,
    table_of,
)
from ribwright.errors import OutOfRangeError, OutsideTableError

BARE = Sheet(0.016, 10.5e6, 0.33, Layer(47_000.0, 12.0))
CLAD = Sheet(0.016, 10.5e6, 0.33, Layer(50_659.0, 12.0), clad_fraction=0.045)


def test_elastic_below_yield() -> None:
    table = table_of(BARE)
    k = 0.2
    assert moment_lbf(table, [k])[0, 0] == pytest.approx(k * table.stiffness_lbf_in[0], rel=1e-9)
    assert release_masing_per_in(table, [k])[0, 0] == pytest.approx(0.0, abs=1e-9)


def test_nearly_perfectly_plastic_sheet_reaches_the_closed_forms() -> None:
    """With next to no hardening: M = (2/sqrt 3) Y t^2 / 4 at full plasticity, and 1.5 times first yield."""
    y, t = 40_000.0, 0.032
    table = section_table(
        thickness_in=t, modulus_psi=10.5e6, poisson=0.33, core_yield_psi=y, core_exponent=190.0
    )
    full = 2.0 / np.sqrt(3.0) * y * t**2 / 4.0
    # the curve still rises a little, and it starts a little below the offset yield
    assert moment_lbf(table, [2.0])[0, 0] == pytest.approx(full, rel=0.03)
    # elastic core in plane strain: M = Mp (1 - (1/3)(2 Y' R / (E' t))^2)
    k = 1.0 / 1.2
    depth = 2.0 * (2.0 / np.sqrt(3.0) * y) / (10.5e6 / (1 - 0.33**2) * t * k)
    assert moment_lbf(table, [k])[0, 0] == pytest.approx(full * (1 - depth**2 / 3), rel=0.03)


def test_closed_form_springback_without_hardening() -> None:
    """Ri/Rf = 4 x^3 - 3 x + 1 with plane-strain constants."""
    y, e, t, r = 40_000.0, 10.5e6, 0.032, 0.66
    table = section_table(thickness_in=t, modulus_psi=e, poisson=0.33, core_yield_psi=y, core_exponent=190.0)
    x = r * (2 / np.sqrt(3) * y) / (e / (1 - 0.33**2) * t)
    left = release_elastic_per_in(table, [1 / r])[0, 0]
    assert left * r == pytest.approx(4 * x**3 - 3 * x + 1, rel=0.02)


def test_moment_and_curvature_are_inverse() -> None:
    table = table_of(CLAD)
    k = np.geomspace(0.05, 18.0, 60)
    assert curvature_per_in(table, moment_lbf(table, k))[0] == pytest.approx(k, rel=2e-5)


def test_uniaxial_anchor_of_the_power_law() -> None:
    assert float(hardening_psi(0.002 - 1e-5, yield_psi=47e3, exponent=12.0)) == pytest.approx(47e3)


def test_plane_strain_fibre_tends_to_two_over_root_three() -> None:
    made = fibre_table(modulus_psi=10.5e6, poisson=0.33, yield_psi=47e3, exponent=12.0)
    stress = float(made.stress_ratio[0, -1] * made.modulus_psi[0] * 0.16)
    flow = float(hardening_psi(0.16 * 2 / np.sqrt(3), yield_psi=47e3, exponent=12.0))
    assert stress == pytest.approx(2 / np.sqrt(3) * flow, rel=0.01)


def test_layers_agree_with_the_table() -> None:
    k = 1 / 0.533
    moments, left = reverse_isotropic(BARE, turning_curvatures_per_in=[k])
    table = table_of(BARE)
    assert moments[0] == pytest.approx(moment_lbf(table, [k])[0, 0], rel=3e-4)
    assert left == pytest.approx(release_elastic_per_in(table, [k])[0, 0], rel=1e-3)


def test_cladding_springs_back_more() -> None:
    """Same average yield; elastic release of clad would say less, and is wrong."""
    k = np.array([1 / 0.533])
    bare = release_masing_per_in(table_of(BARE), k)[0, 0]
    clad = table_of(CLAD)
    assert release_masing_per_in(clad, k)[0, 0] < bare < release_elastic_per_in(clad, k)[0, 0]
    isotropic = release_layers(CLAD, paths_per_in=k[:, None])[1][0]
    assert 1.02 < isotropic / release_masing_per_in(clad, k)[0, 0] < 1.03


def test_reopening_little_changes_nothing_and_more_opens_more() -> None:
    closed = 1 / 0.533
    free = release_masing_per_in(table_of(BARE), [closed])[0, 0]
    assert reopen_masing(BARE, closed_per_in=closed, opened_per_in=0.9 * closed)[1] == pytest.approx(
        free, rel=1e-6
    )
    shapes = [
        reopen_masing(BARE, closed_per_in=closed, opened_per_in=o * closed)[1] for o in (0.2, 0.0, -0.2, -0.4)
    ]
    assert all(a > b for a, b in pairwise(shapes))
    assert shapes[0] < free


def test_rows_are_independent() -> None:
    both = section_table(
        thickness_in=[0.016, 0.032],
        modulus_psi=10.5e6,
        poisson=0.33,
        core_yield_psi=[47e3, 40e3],
        core_exponent=[12.0, 18.0],
    )
    one = pick(both, 1)
    assert moment_lbf(both, [1.5])[1, 0] == pytest.approx(moment_lbf(one, [1.5])[0, 0], rel=1e-12)


def test_bends_sharper_than_the_table_are_refused() -> None:
    table = table_of(Sheet(0.032, 9.9e6, 0.33, Layer(40e3, 18.0)))
    assert moment_lbf(table, [1 / (3 * 0.032 + 0.016)])[0, 0] > 0  # R/t of 3 is inside
    with pytest.raises(OutsideTableError, match=r"2\.7 thicknesses"):
        moment_lbf(table, [1 / (2 * 0.032 + 0.016)])
    with pytest.raises(OutsideTableError):
        moment_lbf(table, [np.nan])


@pytest.mark.parametrize(
    "wrong",
    [
        {"thickness_in": -1.0},
        {"core_yield_psi": 0.0},
        {"modulus_psi": np.nan},
        {"clad_fraction": 0.4},
        {"core_exponent": 1.0},
    ],
)
def test_odd_constants_are_refused(wrong: dict[str, float]) -> None:
    good = {
        "thickness_in": 0.02,
        "modulus_psi": 1e7,
        "poisson": 0.33,
        "core_yield_psi": 4e4,
        "core_exponent": 12.0,
    }
    with pytest.raises(OutOfRangeError):
        section_table(**(good | wrong))
