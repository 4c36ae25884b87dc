"""Rigging: an army handbook's sine, a navy manual's wing twist check, NIST's least-squares sets."""

from __future__ import annotations

import numpy as np
import pytest

from reference.printed import assert_printed
from ribwright.core.massprops.angles import fitted, slope_angle_deg
from ribwright.services.calculations import run_calculation

COVERS = {"rig.slope": "Fales, Learning to Fly in the US Army, 1917: natural sine of 1 degree .0175"}


def test_rise_of_one_degree() -> None:
    """The book multiplies the distance between tacks by .0175 for a dihedral of 1 degree."""
    assert_printed(float(slope_angle_deg(rise_in=0.0175 * 100, length_in=100.0)), "1.00")
    wheel = {"side": "left", "front": 38, "rear": 38 + 0.0175 * 48}
    made = run_calculation("wheel-alignment", {"length": 48, "wheels": [wheel]}).answer["results"]
    assert_printed(made["toe_left"]["value"], "1.00")


def minutes(degrees: int, of_arc: int) -> float:
    return degrees + of_arc / 60


@pytest.mark.parametrize(
    ("left", "right", "within"),
    [
        (minutes(1, 15), minutes(1, 20), True),
        (minutes(2, 15), minutes(2, 5), True),
        (minutes(1, 14), minutes(1, 20), False),
        (minutes(2, 16), minutes(2, 10), False),
        (minutes(1, 30), minutes(1, 42), True),
        (minutes(1, 30), minutes(1, 43), False),
    ],
)
def test_wing_twist_check_of_the_navy_manual(left: float, right: float, within: bool) -> None:
    """NAVEDTRA 14315, wing twist check: a longitudinal reading of 1°35' allows 1°15' to 2°15', both wings within 0°12'."""
    rows = [
        {"name": "wing", "what": "incidence at the root", "side": side, "reading": value, "turned": -value, "wanted": 0, "minus": repr(20 / 60), "plus": repr(40 / 60)}
        for side, value in (("left", left), ("right", right))
    ]  # fmt: skip
    base = minutes(1, 35)
    raw = {
        "reference": base, "reference_turned": -base, "places": rows, "same_within": repr(12 / 60), "reading_u": 0.005,
    }  # fmt: skip
    findings = run_calculation("rig-angles", raw).answer["findings"]
    worst = [f["verdict"] for f in findings if f["requirement"] != "one level, one error"]
    # a reading on the limit itself can't be told from it with any band: the margin says on which side it lies
    margins = [float(f["margin"]) for f in findings if f["requirement"] != "one level, one error"]
    assert (min(margins) >= -1e-6) == within
    assert within or {"rework", "undecided"} & set(worst)


@pytest.mark.parametrize(
    ("x", "y", "slope", "deviation"),
    [
        (np.arange(60.0, 71.0), np.arange(130.0, 141.0), "2.07438016528926", "0.0165289256198347"),
        (np.array([4.0, 5.0, 6.0]), np.array([3.0, 4.0, 4.0]), "0.727272727272727", "0.0420827318078432"),
    ],
)
def test_least_squares_of_nist(x: np.ndarray, y: np.ndarray, slope: str, deviation: str) -> None:
    """NIST StRD NoInt1 and NoInt2, certified slope and its standard deviation (values from memory, arithmetic re-derived)."""
    line, cov = fitted(x[:, None], y, u=np.ones_like(y))
    assert_printed(float(line[0]), slope)
    residual = float(np.sqrt(((y - line[0] * x) ** 2).sum() / (len(x) - 1)))
    assert_printed(float(np.sqrt(cov[0, 0])) * residual, deviation)
