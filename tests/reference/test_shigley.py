"""Shigley's Mechanical Engineering Design, 9th edition, example 8-7 (page 458): four bolts loaded off their middle."""

from __future__ import annotations

import numpy as np

from reference.printed import assert_printed
from ribwright.core.fastening.groups import elastic_group_lbf

COVERS: dict[str, str] = {}


def test_four_bolts_of_a_cantilevered_bar() -> None:
    """16 kN, 425 mm off the middle; bolts 150 mm apart along the bar and 120 mm across (the force unit is the caller's)."""
    points = np.array([(75.0, 60.0), (75.0, -60.0), (-75.0, -60.0), (-75.0, 60.0)])
    each = elastic_group_lbf(
        points_in=points, capacities_lbf=np.ones(4), force_lbf=(0.0, -16.0), at_in=(425.0, 0.0)
    )
    near, far = np.hypot(*each[:2].T), np.hypot(*each[2:].T)
    for load in near:
        assert_printed(load, "21.0")
    for load in far:
        assert_printed(load, "14.8")
    assert_printed(float(np.hypot(*(each - each.mean(0)).T)[0]), "17.7")
    assert_printed(float(-each.mean(0)[1]), "4")
    assert_printed(float(np.hypot(*points[0])), "96.0")
