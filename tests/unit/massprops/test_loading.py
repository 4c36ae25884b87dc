"""Loading: findings of this loading and of the worst ones, and refusals."""

from __future__ import annotations

from typing import Any

import pytest

from ribwright.errors import GeometryError, InputError
from ribwright.services.calculations import run_calculation

ENVELOPE = [
    {"weight": "800", "cg": "64"},
    {"weight": "1420", "cg": "66.4"},
    {"weight": "1420", "cg": "74.2"},
    {"weight": "800", "cg": "74.2"},
]
RAW: dict[str, Any] = {
    "empty_weight": "780", "empty_cg": "67.1", "envelope": ENVELOPE,
    "stations": [
        {"name": "seats", "arm": "84", "least": "110", "load": "300", "most": "400"},
        {"name": "baggage", "kind": "baggage", "arm": "106", "load": "10", "most": "60"},
        {"name": "fuel", "kind": "fuel", "arm": "66.5", "volume": "20", "capacity": "24"},
    ],
}  # fmt: skip


def test_weights_and_the_fuel_burnt() -> None:
    results = run_calculation("loading", RAW).answer["results"]
    assert results["weight"]["value"] == pytest.approx(780 + 300 + 10 + 120)
    assert results["zero_fuel_weight"]["value"] == pytest.approx(780 + 300 + 10)
    assert results["zero_fuel_cg"]["value"] == pytest.approx((780 * 67.1 + 300 * 84 + 10 * 106) / 1090)
    assert results["heaviest_weight"]["value"] == pytest.approx(780 + 400 + 60 + 144)


def test_too_heavy_is_rework() -> None:
    heavy = RAW | {"stations": [{"name": "seats", "arm": "70", "load": "900", "most": "900"}]}
    assert run_calculation("loading", heavy).answer["status"] == "rework"


def test_refusals() -> None:
    crossing = [ENVELOPE[0], ENVELOPE[2], ENVELOPE[1], ENVELOPE[3]]
    with pytest.raises(GeometryError, match="crosses itself"):
        run_calculation("loading", RAW | {"envelope": crossing})
    with pytest.raises(InputError, match="fuel or oil"):
        run_calculation("loading", RAW | {"stations": [{"name": "seat", "arm": "84", "volume": "3"}]})
    with pytest.raises(GeometryError, match="least"):
        run_calculation(
            "loading", RAW | {"stations": [{"name": "seats", "arm": "84", "least": "900", "most": "900"}]}
        )
