"""Planted errors are named, or leave the result inside its band; impossible weighings are refused."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from ribwright.core.audit import Worksheet, read
from ribwright.core.massprops.weighing import Weighing, weighing
from ribwright.errors import GeometryError, OutOfRangeError


def raw(**changes: Any) -> dict[str, Any]:
    points = [
        {"name": "left main", "side": "left", "reading": 385.0, "tare": 8, "arm": 60},
        {"name": "right main", "side": "right", "reading": 383.0, "tare": 8, "arm": 60},
        {"name": "tail", "role": "tail", "reading": 53.0, "tare": 25, "arm": 231},
    ]
    return {"points": points, "wheelbase": 171, "expected_weight": 780, "expected_cg": 66.1, **changes}


def test_a_sound_weighing_names_no_error() -> None:
    outcome = weighing(read(Weighing, raw()), Worksheet())
    assert str(outcome.results["suspected_error"].value).startswith("none")
    assert outcome.status == "within limits"


@pytest.mark.parametrize(
    ("point", "change", "named"),
    [
        (2, {"tare": 0}, "tare forgotten at tail"),
        (0, {"arm": 6}, "arm of left main measured from another datum"),
        (2, {"arm": 186}, "arm of tail measured from another datum"),
        (1, {"reading": 173.7}, "scale at right main read in kilograms"),
    ],
)
def test_usual_errors_are_named(point: int, change: dict[str, float], named: str) -> None:
    entered = raw()
    entered["points"][point] |= change
    said = str(weighing(read(Weighing, entered), Worksheet()).results["suspected_error"].value)
    assert named in said


def test_a_small_tare_left_out_is_asked_about_though_all_numbers_agree() -> None:
    """Three pounds hide within what anybody expects of the weight; that the others have a tare does not."""
    entered = raw()
    entered["points"][1] |= {"tare": 0, "reading": 378.0}
    made = weighing(read(Weighing, entered), Worksheet())
    said = str(made.results["suspected_error"].value)
    assert said.startswith("no tare at right main")
    assert made.status == "within limits"
    for point in entered["points"]:
        point["tare"] = 0
    entered["expected_weight"] = 816
    bare = weighing(read(Weighing, entered), Worksheet()).results["suspected_error"]
    assert "no tare at" not in str(bare.value)


def test_100_planted_errors_are_named_or_harmless_or_flagged() -> None:
    rng = np.random.default_rng(12)
    silent = 0
    for _ in range(100):
        entered = raw()
        tares = rng.uniform(5, 25, 3)
        net = np.array([rng.uniform(340, 400), 0, rng.uniform(20, 60)])
        net[1] = net[0] * rng.uniform(0.97, 1.03)
        weight, cg = float(net.sum()), float((net @ [60, 60, 231]) / net.sum())
        for p, n, t in zip(entered["points"], net, tares, strict=True):
            p |= {"reading": float(n + t + rng.normal(0, 0.2)), "tare": float(t)}
        entered |= {
            "expected_weight": weight + float(rng.normal(0, 4)),
            "expected_weight_u": 8,
            "expected_cg": cg + float(rng.normal(0, 0.1)),
            "expected_cg_u": 0.2,
        }
        i = int(rng.integers(3))
        kind = int(rng.integers(4))
        p = entered["points"][i]
        if kind == 0:
            p["tare"] = 0
        elif kind == 1:
            p["arm"] += float(rng.choice([-54.0, 24.0]))
        elif kind == 2:
            p["reading"] /= 2.2046226218
        else:
            j = (i + 1) % 3
            p["reading"], entered["points"][j]["reading"] = entered["points"][j]["reading"], p["reading"]
        try:
            results = weighing(read(Weighing, entered), Worksheet()).results
        except GeometryError:
            continue
        # what was expected is itself off by up to its band, so twice that band is what the numbers can show
        off_weight = abs(float(results["empty_weight"].value) - weight)  # type: ignore[arg-type]
        off_cg = abs(float(results["empty_cg"].value) - cg)  # type: ignore[arg-type]
        right = off_weight <= 2 * 8.1 and off_cg <= 2 * 0.3
        silent += str(results["suspected_error"].value).startswith("none") and not right
    assert silent == 0


def test_refusals() -> None:
    entered = raw()
    entered["points"][0]["tare"] = -1
    with pytest.raises(OutOfRangeError, match="Tare"):
        read(Weighing, entered)
    entered = raw()
    entered["points"][0]["tare"] = 400
    with pytest.raises(GeometryError, match="Net weight"):
        read(Weighing, entered)
    entered = raw()
    entered["points"][2]["arm_from"] = "spinner"
    with pytest.raises(GeometryError, match="mixed datums"):
        read(Weighing, entered)
