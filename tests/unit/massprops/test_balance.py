"""Surface balance: both ways agree within their band on random surfaces, disagree when a piece is missing; refusals."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from ribwright.core.audit import Worksheet, read
from ribwright.core.massprops.balance import Surface, surface_balance
from ribwright.errors import GeometryError, MissingError
from ribwright.services.calculations import run_calculation


def random_surface(rng: np.random.Generator) -> tuple[dict[str, Any], float]:
    """A surface measured both ways, with readings off as their bands say; and its true moment."""
    n = int(rng.integers(3, 9))
    weight, arm = rng.uniform(0.1, 3.0, n), rng.uniform(0.3, 9.0, n)
    arm[0] = -rng.uniform(1.5, 3.5)
    u_w, u_a = 0.01, 0.1
    pieces = [
        {
            "name": f"p{k}", "kind": "counterweight" if k == 0 else "structure", "weight": max(float(w + rng.normal(0, u_w / 2)), 0.0),
            "arm": min(float(a + rng.normal(0, u_a / 2)), -0.01) if k == 0 else float(a + rng.normal(0, u_a / 2)), "weight_u": u_w, "arm_u": u_a,
        }
        for k, (w, a) in enumerate(zip(weight, arm, strict=True))
    ]  # fmt: skip
    true = float(weight @ arm)
    support = float(rng.uniform(6, 12)) * (1 if true > 0 else -1)
    friction = float(rng.uniform(0, 0.02))
    reading = true / support
    seen = [max(reading + way * friction + float(rng.normal(0, 0.005)), 0.0) for way in (1, -1)]
    raw = {
        "pieces": pieces, "scale": seen[0], "second": seen[1], "support_arm": support + float(rng.normal(0, 0.03)), "scale_u": 0.01,
        "support_u": 0.06,
    }  # fmt: skip
    return raw, true


def test_60_random_surfaces_both_ways() -> None:
    rng = np.random.default_rng(21)
    agree = right = 0
    for _ in range(60):
        raw, true = random_surface(rng)
        results = surface_balance(read(Surface, raw), Worksheet()).results
        off = results["difference"]
        assert off.low is not None
        assert off.high is not None
        agree += off.low <= 0 <= off.high
        moment = results["moment"]
        assert moment.low is not None
        assert moment.high is not None
        right += moment.low <= true <= moment.high
    assert agree == 60
    assert right >= 55


def test_a_forgotten_piece_shows() -> None:
    raw, _ = random_surface(np.random.default_rng(4))
    raw["pieces"] = [*raw["pieces"], {"name": "rod", "weight": 1.5, "arm": 4}]
    findings = surface_balance(read(Surface, raw), Worksheet()).findings
    assert findings[0].verdict.value == "rework"


def test_paint_moves_it_tail_heavy_and_the_counterweight_brings_it_back() -> None:
    bare = [
        {"name": "frame", "weight": 3, "arm": 3},
        {"name": "lead", "kind": "counterweight", "weight": 3, "arm": -2.5},
    ]
    paint = {"name": "paint", "kind": "paint", "weight": 0.3, "arm": 5}
    limits = {"least": -1, "most": 1, "counter_arm": -2.5}
    made = run_calculation("surface-balance", {"pieces": [*bare, paint], **limits}).answer["results"]
    assert made["paint"]["value"] == pytest.approx(1.5)
    assert made["moment"]["value"] == pytest.approx(3.0)
    assert made["counterweight"]["value"] == pytest.approx(3.0 / 2.5)
    more = {
        "name": "more",
        "kind": "counterweight",
        "weight": made["counterweight"]["value"],
        "arm": -2.5,
        "weight_u": 0,
        "arm_u": 0,
    }
    again = run_calculation("surface-balance", {"pieces": [*bare, paint, more], **limits}).answer["results"]
    assert again["moment"]["value"] == pytest.approx(0.0, abs=1e-9)


def test_hung_without_paint_adds_the_paint_and_holds_only_the_rest_against_the_scale() -> None:
    pieces = [
        {"name": "frame", "weight": 2, "arm": 3},
        {"name": "paint", "kind": "paint", "weight": 0.2, "arm": 5},
    ]
    raw = {"pieces": pieces, "scale": 0.6, "support_arm": 10, "hung": "without paint"}
    made = run_calculation("surface-balance", raw).answer
    assert made["results"]["difference"]["value"] == pytest.approx(0.0)
    assert made["results"]["moment"]["value"] == pytest.approx(7.0)


@pytest.mark.parametrize(
    ("raw", "error", "says"),
    [
        ({}, MissingError, "scale reading, or pieces"),
        ({"scale": 1}, MissingError, "Support from the hinge"),
        ({"scale": 1, "support_arm": 0.1}, GeometryError, "half an inch"),
        ({"second": 1, "pieces": [{"name": "a", "weight": 1, "arm": 2}]}, MissingError, "before the second"),
        ({"pieces": [{"name": "a", "kind": "counterweight", "weight": 1, "arm": 2}]}, GeometryError, "ahead of the hinge"),
        ({"pieces": [{"name": "a", "weight": 1, "arm": 2}], "least": 3, "most": 1}, GeometryError, "above the least"),
    ],
)  # fmt: skip
def test_bad_input_is_named(raw: dict[str, Any], error: type[Exception], says: str) -> None:
    with pytest.raises(error, match=says):
        run_calculation("surface-balance", raw)
