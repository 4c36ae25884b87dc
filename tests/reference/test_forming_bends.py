"""Bends against printed numbers: FAA-H-8083-31 (U-channel), a sheet-metal text, Kalpakjian, k-factor tables."""

from __future__ import annotations

import numpy as np
import pytest

from reference.printed import assert_printed
from ribwright.core.forming.bend import (
    bend_allowance_in,
    bend_allowance_k_in,
    k_from_coupon,
    least_radius,
    setback_in,
    springback_closed,
)
from ribwright.core.forming.closing import opening_first_order_in, opening_in, ring_under_two_loads
from ribwright.core.forming.flat import Bend, developed
from ribwright.core.forming.roll import windup_deg
from ribwright.core.tables import table

COVERS = {
    "bend.allowance": "FAA-H-8083-31 figure 4-124; sheet-metal text, four-leg example",
    "bend.allowance_k": "NAVEDTRA 14119 page 445, half-thickness rule on the U-channel",
    "bend.setback": "FAA-H-8083-31 chapter 4 step 2",
    "bend.springback_closed": "Kalpakjian, springback of 20-gauge steel",
    "roll.windup": "torsion of a 60 in pipe, worked independently",
}


def test_u_channel() -> None:
    """FAA-H-8083-31 figure 4-124: T .040, R .16, legs 1.00 / 2.00 / 1.00."""
    at = {"radius_in": 0.16, "thickness_in": 0.040, "angle_deg": 90.0}
    assert_printed(float(setback_in(**at)), ".2")
    assert_printed(float(bend_allowance_in(**at)), "0.279")
    assert_printed(float(bend_allowance_k_in(**at, k_ratio=0.5)), ".2827")
    bend = Bend(90.0, 0.16, float(bend_allowance_in(**at)), float(setback_in(**at)))
    flat = developed((1.0, 2.0, 1.0), (bend, bend))
    for mine, printed in zip(flat.flats_in, (".8", "1.6", ".8"), strict=True):
        assert_printed(mine, printed)
    assert_printed(flat.length_in, "3.76")


def test_four_legs() -> None:
    """Sheet-metal text: T .050, R .032, outside legs .740 .420 1.050 1.000, flat 2.973."""
    at = {"radius_in": 0.032, "thickness_in": 0.050, "angle_deg": 90.0}
    allowance, setback = float(bend_allowance_in(**at)), float(setback_in(**at))
    assert_printed(allowance, ".085")
    assert_printed(2.0 * setback - allowance, ".079")
    bend = Bend(90.0, 0.032, allowance, setback)
    # inner legs lose both setbacks: a leg of .420 still keeps a flat
    flat = developed((0.740, 0.420, 1.050, 1.000), (bend, bend, bend))
    assert_printed(
        flat.length_in, "2.973", slack=0.001, because="the text rounds allowance and deduction first"
    )


def test_springback_of_steel() -> None:
    """Kalpakjian: t .0359, Ri .5, Y 40 ksi, E 29 Msi: Rf .531 (recalled; arithmetic worked again)."""
    ratio = float(springback_closed(radius_in=0.5, yield_psi=40e3, modulus_psi=29e6, thickness_in=0.0359))
    assert_printed(ratio, ".9424")
    assert_printed(
        0.5 / ratio,
        ".531",
        slack=0.0006,
        because="its ratio is rounded first; .5306 is the value worked again",
    )


def test_least_radii_as_printed() -> None:
    """2024-T3 .032: 1/8 in; .040: 3/16 in (FAA-H-8083-31 says .16: the stricter is given)."""
    assert_printed(
        least_radius("2024-T3", 0.032)[0], ".13", slack=0.006, because="1/8 in, and 4 t of .032 = .128"
    )
    assert_printed(least_radius("2024-T3 clad", 0.040)[0], ".188")
    assert least_radius("2024-T3", 0.064)[0] >= 3 * 0.064  # AC 43.13-1B table 4-6: 3t to 5t
    assert table("forming/min-radius-ac43").cell(".064", "2024-T3").text == "3-5"


def test_k_lies_where_the_tables_put_it() -> None:
    """The empirical allowance is a k of .4475; Machinery's Handbook prints .38 to .41 for tight aluminium bends."""
    allowance = bend_allowance_in(radius_in=0.0, thickness_in=0.04, angle_deg=90.0)
    k = float(k_from_coupon(allowance_in=allowance, radius_in=0.0, thickness_in=0.04, angle_deg=90.0))
    assert_printed(k, ".447")  # .0078 x 180 / pi; the text's .4475 divides by its rounded .01743
    printed = table("forming/k-factor").cell(".120", ".032").value
    assert 0.38 < printed < 0.41


def test_thin_ring() -> None:
    """Two opposite loads on a thin ring: .3183, .1817 P R; .1488, .1366 P R^3 / EI."""
    under, across, shorter, wider = ring_under_two_loads(
        load_lbf=1.0, radius_in=1.0, bending_stiffness_lbf_in2=1.0
    )
    for value, printed in ((under, ".3183"), (across, ".1817"), (shorter, ".1488"), (wider, ".1366")):
        assert_printed(float(value), printed)


def test_ring_agrees_with_its_own_integral() -> None:
    """The constants again, by summing bending energy round the ring: an independent road to the same numbers."""
    a = (np.arange(200_000) + 0.5) / 200_000 * np.pi / 2
    moment = 0.5 * np.cos(a) - 1.0 / np.pi
    shortening = 4.0 * np.mean(moment**2) * np.pi / 2
    assert (
        abs(
            shortening
            - float(ring_under_two_loads(load_lbf=1.0, radius_in=1.0, bending_stiffness_lbf_in2=1.0)[2])
        )
        < 1e-9
    )
    assert abs(np.mean(moment)) < 1e-9


@pytest.mark.parametrize(("share", "printed"), [(0.02, ".022"), (0.05, ".054"), (0.10, ".104")])
def test_opening_of_a_one_inch_nose(share: float, printed: str) -> None:
    """Common practice's figures for two quarter arcs are first order; the exact arcs open up to a tenth more."""
    assert_printed(float(opening_first_order_in(wanted_radius_in=1.0, error_share=share)), printed)
    exact = float(opening_in(wanted_radius_in=1.0, rolled_radius_in=1.0 + share, arc_rad=np.pi / 2))
    assert 1.0 < exact / float(printed) < 1.10


def test_windup_of_a_long_pipe() -> None:
    """60 in of 1.050 x .824 plastic pipe under 3.63 lb in an inch: 35 degrees; a quarter with two levers."""
    at = {
        "torque_lbf_in_per_in": 3.63,
        "length_in": 60.0,
        "shear_modulus_psi": 1.45e5,
        "outside_diameter_in": 1.050,
        "inside_diameter_in": 0.824,
    }
    assert_printed(float(windup_deg(**at, lever_count=1)), "35")
    # by summing the twist of one-inch slices
    polar = np.pi / 32 * (1.05**4 - 0.824**4)
    slices = 3.63 * (60.0 - (np.arange(6000) + 0.5) / 100.0) / (1.45e5 * polar) / 100.0
    assert abs(np.degrees(slices.sum()) - float(windup_deg(**at, lever_count=1))) < 1e-6
    assert abs(float(windup_deg(**at, lever_count=2)) * 4.0 - float(windup_deg(**at, lever_count=1))) < 1e-9
