"""NACA Report 460 (1933) and 537 (1935), and Abbott & von Doenhoff's appendix: ordinates and mean lines."""

from __future__ import annotations

import tomllib
from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest

from ribwright.core.geometry.aerofoil import _SIMPLE, ideal_lift_factor, naca_section, naca_thickness

DATA = tomllib.loads((Path(__file__).parents[1] / "data/airfoils/naca.toml").read_text())


@pytest.mark.parametrize(("name", "t"), [("naca0009", 0.09), ("naca0012", 0.12)])
def test_half_thickness_to_the_printed_digits(name, t):
    stations = np.array(DATA["stations_percent"]) / 100
    computed = 100 * naca_thickness(x_c=stations, t_c=t)
    for value, printed in zip(computed, DATA[name]["half_thickness_percent"], strict=True):
        # three printed decimals; the tables of this family are rounded by hand, one unit of slack
        assert abs(Decimal(value) - Decimal(printed)) <= Decimal("0.001")


def test_against_a_public_coordinate_file():
    points = np.array(DATA["naca0012_coordinate_file"]["points"])
    assert np.abs(naca_thickness(x_c=points[:, 0], t_c=0.12) - points[:, 1]).max() < 1e-7


def test_nose_radius_is_that_of_report_460():
    """r/c = 1.1019 t^2: a circle through the points next to the nose."""
    x = 1e-7
    for t in (0.09, 0.12, 0.18):
        y = naca_thickness(x_c=np.array([x]), t_c=t)[0]
        # y^2 = 2 r x close to the nose
        assert y**2 / (2 * x) == pytest.approx(1.1019 * t * t, rel=2e-3)


@pytest.mark.parametrize("place", [2, 3, 4, 5])
def test_five_digit_constants_agree_with_thin_aerofoil_theory(place):
    end, factor = _SIMPLE[place]
    assert ideal_lift_factor(end_c=end) == pytest.approx(factor, rel=7e-3)
    # camber is largest where the number says: p = m (1 - sqrt(m / 3))
    assert end * (1 - np.sqrt(end / 3)) == pytest.approx(place / 20, abs=3e-4)


def test_23012_camber_and_thickness():
    section = naca_section("23012", count=2001)
    upper, lower = section[:2001][::-1], section[2000:]
    x = np.linspace(0.05, 0.95, 181)
    top, low = np.interp(x, upper[:, 0], upper[:, 1]), np.interp(x, lower[:, 0], lower[:, 1])
    camber = (top + low) / 2
    # greatest camber .0184 at .15 c (third digit group: 23 -> 15 %); thickness 12 %
    assert x[camber.argmax()] == pytest.approx(0.15, abs=0.01)
    assert camber.max() == pytest.approx(0.0184, abs=2e-4)
    assert (top - low).max() == pytest.approx(0.12, abs=3e-4)


def test_four_digit_camber_is_that_of_its_number():
    section = naca_section("4415", count=2001)
    upper, lower = section[:2001][::-1], section[2000:]
    x = np.linspace(0.2, 0.6, 401)
    camber = (np.interp(x, upper[:, 0], upper[:, 1]) + np.interp(x, lower[:, 0], lower[:, 1])) / 2
    assert camber.max() == pytest.approx(0.04, abs=1e-4)
    assert x[camber.argmax()] == pytest.approx(0.4, abs=0.01)


def test_reflexed_mean_line_ends_at_the_chord():
    section = naca_section("23112", closed=True)
    assert np.allclose(section[0], (1, 0), atol=2e-4)
    assert np.allclose(section[-1], (1, 0), atol=2e-4)
