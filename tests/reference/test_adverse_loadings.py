"""Adverse loadings of AC 43.13-1B figures 10-10 and 10-11, and the weighing of FAA-H-8083-30 figure 4-20, by the calculations."""

from __future__ import annotations

from reference.printed import assert_printed
from ribwright.core.audit import Worksheet, read
from ribwright.core.massprops.loading import Loading, loading
from ribwright.core.massprops.weighing import Weighing, weighing


def test_adverse_checks_of_figures_10_10_and_10_11_by_the_calculation() -> None:
    spec = read(
        Loading,
        {
            "empty_weight": 1169, "empty_cg": 10.6, "power": 165,
            "stations": [
                {"name": "oil", "kind": "oil", "arm": -49, "load": 17, "least": 17, "most": 17},
                {"name": "pilot", "arm": 16, "load": 170, "least": 170, "most": 170},
                {"name": "fuel", "kind": "fuel", "arm": 22, "volume": 13.75, "capacity": 40},
                {"name": "rear", "arm": 48, "most": 340},
                {"name": "baggage", "kind": "baggage", "arm": 75.5, "most": 100},
            ],
            "envelope": [{"cg": c, "weight": w} for c, w in ((8.5, 1000), (8.5, 2100), (21.9, 2100), (21.9, 1000))],
        },
    )  # fmt: skip
    outcome = loading(spec, Worksheet())
    assert_printed(float(outcome.results["adverse_forward_cg"].value), "11.2")  # type: ignore[arg-type]
    assert_printed(float(outcome.results["adverse_aft_cg"].value), "21.33")  # type: ignore[arg-type]
    assert outcome.status == "within limits"


def test_weighing_example_of_the_maintenance_handbook() -> None:
    """FAA-H-8083-30 figure 4-20: inputs as printed; 1331.5 lb and 50.1 in worked from them."""
    spec = read(
        Weighing,
        {
            "points": [
                {"name": "left main", "side": "left", "reading": 650, "tare": 5, "arm": 70},
                {"name": "right main", "side": "right", "reading": 640, "tare": 5, "arm": 70},
                {"name": "nose", "role": "nose", "reading": 225, "tare": 2.5, "arm": -30},
            ],
            "corrections": [
                {"item": "fuel, 30 gal at 5.9", "what": "take out", "weight": 177, "arm": 95},
                {"item": "unusable fuel", "what": "put in", "weight": 6, "arm": 98},
            ],
            "wheelbase": 100,
        },
    )
    results = weighing(spec, Worksheet()).results
    assert_printed(float(results["empty_weight"].value), "1331.5")  # type: ignore[arg-type]
    assert_printed(float(results["empty_cg"].value), "50.1")  # type: ignore[arg-type]
