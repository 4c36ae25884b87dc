"""Weight and balance at length: both ways to a hinge moment, planted weighing errors, cooling nights, the worst loading.

    python benchmarks/weight_forms.py [count] [seed]

Prints the floor first, then each figure. The worlds are those of the tests; the count and the draws are not.
"""

from __future__ import annotations

import itertools
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT / "tests" / "unit" / "massprops"), str(ROOT / "src")]

from test_balance import random_surface  # noqa: E402
from test_tank import cooling_night  # noqa: E402

from ribwright.core.audit import Worksheet, read  # noqa: E402
from ribwright.core.massprops.balance import Surface, surface_balance  # noqa: E402
from ribwright.core.massprops.envelope import envelope, worst_loadings  # noqa: E402
from ribwright.core.massprops.weighing import Weighing, weighing  # noqa: E402
from ribwright.errors import RibwrightError  # noqa: E402
from ribwright.services.calculations import run_calculation  # noqa: E402


def surfaces(count: int, rng: np.random.Generator) -> str:
    """Hanging against build-up: how often their difference lies inside its stated band."""
    inside = 0
    for _ in range(count):
        raw, _ = random_surface(rng)
        difference = surface_balance(read(Surface, raw), Worksheet()).results["difference"]
        assert difference.low is not None
        assert difference.high is not None
        inside += difference.low <= 0 <= difference.high
    return f"surfaces: both ways agree within the stated band in {inside} of {count}"


def _true_weighing(rng: np.random.Generator) -> tuple[dict[str, Any], float, float]:
    third, arm = ("tail", rng.uniform(200, 240)) if rng.random() < 0.5 else ("nose", rng.uniform(2, 12))
    main = rng.uniform(58, 66) if third == "tail" else rng.uniform(70, 80)
    net = np.array(
        [rng.uniform(300, 420), 0.0, rng.uniform(25, 60) if third == "tail" else rng.uniform(120, 200)]
    )
    net[1] = net[0] * rng.uniform(0.98, 1.02)
    arms, tares = np.array([main, main, arm]), rng.uniform(3, 25, 3)
    names = (("left main", "main", "left"), ("right main", "main", "right"), (third, third, "centre"))
    points = [
        {"name": n, "role": r, "side": s, "reading": float(w + t + rng.normal(0, 0.25)), "tare": float(t), "arm": float(a + rng.normal(0, 0.05))}
        for (n, r, s), w, t, a in zip(names, net, tares, arms, strict=True)
    ]  # fmt: skip
    weight, cg = float(net.sum()), float(net @ arms / net.sum())
    entered: dict[str, Any] = {
        "points": points, "wheelbase": float(abs(arm - main)), "expected_weight": weight + float(rng.normal(0, 4)), "expected_weight_u": 8,
        "expected_cg": cg + float(rng.normal(0, 0.1)), "expected_cg_u": 0.2,
    }  # fmt: skip
    return entered, weight, cg


KINDS = ("tare forgotten", "arm from another datum", "read in kilograms", "two readings swapped")


def _plant(entered: dict[str, Any], kind: str, rng: np.random.Generator) -> None:
    i = int(rng.integers(3))
    p = entered["points"][i]
    if kind == KINDS[0]:
        p["tare"] = 0
    elif kind == KINDS[1]:
        p["arm"] += float(rng.choice([-1, 1]) * rng.uniform(5, 60))
    elif kind == KINDS[2]:
        p["reading"] /= 2.2046226218
    else:
        other = entered["points"][(i + 1) % 3]
        p["reading"], other["reading"] = other["reading"], p["reading"]


def weighings(count: int, rng: np.random.Generator) -> list[str]:
    """One planted error each: refused, named, found outside a band, harmless, or silent and wrong."""
    lines = []
    for kind in (*KINDS, "none"):
        seen = dict.fromkeys(
            (
                "refused",
                "named",
                "outside a stated band",
                "true values inside the stated band",
                "silent and wrong",
            ),
            0,
        )
        for _ in range(count // len(KINDS)):
            entered, weight, cg = _true_weighing(rng)
            if kind != "none":
                _plant(entered, kind, rng)
            try:
                made = weighing(read(Weighing, entered), Worksheet())
            except RibwrightError:
                seen["refused"] += 1
                continue
            w, c = made.results["empty_weight"], made.results["empty_cg"]
            holds = w.low <= weight <= w.high and c.low <= cg <= c.high  # type: ignore[operator]
            if not str(made.results["suspected_error"].value).startswith("none"):
                seen["named"] += 1
            elif any(f.verdict.value != "within limits" for f in made.findings):
                seen["outside a stated band"] += 1
            else:
                seen["true values inside the stated band" if holds else "silent and wrong"] += 1
        lines.append(f"weighings, {kind}: " + ", ".join(f"{n} {name}" for name, n in seen.items()))
    return lines


def nights(count: int, rng: np.random.Generator) -> str:
    """A cooling night without a leak and with one of 4 inches of water."""
    right = []
    for leak, verdict in ((0.0, "within limits"), (4.0, "rework")):
        said = [
            run_calculation("tank-leak", cooling_night(rng, leak_inh2o=leak)).answer["status"]
            for _ in range(count)
        ]
        right.append(said.count(verdict))
    return f"cooling nights: {right[0]} of {count} without a leak passed, {right[1]} of {count} with a leak found"


def loadings(count: int, rng: np.random.Generator) -> list[str]:
    """Eight stations over all loads: time, and the worst margin against every corner and random loads."""
    spent, brute_spent, better, apart = [], [], 0, []
    corner = np.array(list(itertools.product([0, 1], repeat=8)), float)
    for _ in range(count):
        least = rng.uniform(0, 50, 8) * (rng.random(8) < 0.4)
        most, arm = least + rng.uniform(0, 200, 8), rng.uniform(20, 140, 8)
        empty, moment = 800.0, 800.0 * rng.uniform(60, 75)
        top = empty + most.sum() + 1  # everything may be full, so that the corners are all allowed
        ring = [
            (rng.uniform(50, 60), 700.0),
            (rng.uniform(50, 68), top),
            (rng.uniform(75, 90), top),
            (rng.uniform(75, 90), 700.0),
        ]
        limits = envelope([x for x, _ in ring], [w for _, w in ring])
        began = time.perf_counter()
        ends = worst_loadings(
            empty_lb=empty, empty_lb_in=moment, least_lb=least, most_lb=most, arm_in=arm, limits=limits
        )
        spent.append(time.perf_counter() - began)
        began = time.perf_counter()
        # brute force: every corner, and a fine walk between neighbouring ones, one station at a time
        walk = np.concatenate(
            [
                corner + s * (1 - 2 * corner[:, k : k + 1]) * np.eye(8)[k]
                for k in range(8)
                for s in np.linspace(0, 1, 41)
            ]
        )
        load = least + (most - least) * walk
        weight = empty + load.sum(1)
        cg = (moment + load @ arm) / weight
        forward, aft = limits.limits_in(weight)
        found = (cg - forward).min(), (aft - cg).min()
        brute_spent.append(time.perf_counter() - began)
        better += ends[0].margin_in > found[0] + 1e-9 or ends[1].margin_in > found[1] + 1e-9
        apart += [found[0] - ends[0].margin_in, found[1] - ends[1].margin_in]
    return [
        f"loadings: 8 stations {1e3 * np.median(spent):.2f} ms (slowest {1e3 * max(spent):.2f}); brute force over {256 * 8 * 41} loads {np.median(brute_spent) / np.median(spent):.0f} times that",
        f"loadings: brute force found worse in {better} of {count}; its worst lies at most {max(apart):.5f} in above the exact one",
    ]  # fmt: skip


if __name__ == "__main__":
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 300
    rng = np.random.default_rng(int(sys.argv[2]) if len(sys.argv) > 2 else 2026)
    began = time.perf_counter()
    for _ in range(200):
        np.linalg.lstsq(np.ones((8, 2)), np.ones(8), rcond=None)
    print(f"floor: a least-squares fit of 8 numbers {(time.perf_counter() - began) / 200 * 1e3:.3f} ms")
    print(surfaces(count, rng))
    print("\n".join(weighings(count, rng)))
    print(nights(100, rng))
    print("\n".join(loadings(100, rng)))
    print(f"{time.perf_counter() - began:.0f} s")
