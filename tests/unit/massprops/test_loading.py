"""Loading: the worst case exactly, against brute force and a linear program of our own making."""

from __future__ import annotations

import numpy as np
import pytest

from ribwright.core.massprops.loading import extreme_loadings, inside_by_in, worst_in_envelope
from ribwright.errors import GeometryError
from ribwright.services.calculations import run_calculation

ENVELOPE = [
    {"weight": "800", "cg": "64"},
    {"weight": "1420", "cg": "66.4"},
    {"weight": "1420", "cg": "74.2"},
    {"weight": "800", "cg": "74.2"},
]
RAW = {
    "empty_weight": "780", "empty_cg": "67.1", "fuel_arm": "66.5", "fuel_most": "144", "fuel_least": "20", "envelope": ENVELOPE,
    "stations": [{"name": "seats", "arm": "84", "least": "110", "most": "400"}, {"name": "baggage", "arm": "106", "most": "60", "now": "10"}],
}  # fmt: skip


def test_extremes_equal_brute_force_over_a_fine_grid() -> None:
    rng = np.random.default_rng(5)
    for _ in range(200):
        count = int(rng.integers(1, 5))
        arms, low = rng.uniform(-60, 160, count), rng.uniform(0, 60, count)
        high = low + rng.uniform(0, 300, count)
        empty, cg = float(rng.uniform(300, 2000)), float(rng.uniform(0, 100))
        forward, aft = extreme_loadings(empty_lb=empty, empty_in=cg, arms_in=arms, least_lb=low, most_lb=high)
        grid = np.stack(
            np.meshgrid(*[np.linspace(a, b, 9) for a, b in zip(low, high, strict=True)]), -1
        ).reshape(-1, count)
        all_cg = (empty * cg + grid @ arms) / (empty + grid.sum(1))
        assert forward[1] == pytest.approx(all_cg.min(), abs=1e-9)
        assert aft[1] == pytest.approx(all_cg.max(), abs=1e-9)


def test_no_loading_inside_the_loads_is_worse_than_the_worst_corner_of_a_convex_envelope() -> None:
    rng = np.random.default_rng(6)
    corners = np.array([(float(c["cg"]), float(c["weight"])) for c in ENVELOPE])
    arms, low, high = np.array([84.0, 106.0, 66.5]), np.array([110.0, 0, 20]), np.array([380.0, 40, 140])
    worst = worst_in_envelope(
        corners=corners, empty_lb=780, empty_in=67.1, arms_in=arms, least_lb=low, most_lb=high
    )
    for loads in rng.uniform(low, high, (4000, 3)):
        weight = 780 + loads.sum()
        assert inside_by_in(corners, weight, (780 * 67.1 + loads @ arms) / weight) >= worst[0] - 1e-9


def test_findings_and_refusals() -> None:
    done = run_calculation("loading", RAW)
    assert done.answer["results"]["takeoff_weight"]["value"] == pytest.approx(780 + 400 + 10 + 144)
    heavy = run_calculation("loading", RAW | {"stations": [{"name": "seats", "arm": "84", "most": "900"}]})
    assert heavy.answer["status"] == "rework"
    crossing = [ENVELOPE[0], ENVELOPE[2], ENVELOPE[1], ENVELOPE[3]]
    with pytest.raises(GeometryError, match="cross"):
        run_calculation("loading", RAW | {"envelope": crossing})
