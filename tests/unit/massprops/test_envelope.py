"""The worst of all loadings: never better than brute force, really loaded, and refusals by name."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from ribwright.core.massprops.envelope import envelope, worst_loadings
from ribwright.errors import GeometryError


def test_worst_loading_equals_brute_force_or_finds_worse() -> None:
    rng = np.random.default_rng(3)
    for _ in range(40):
        n = 8
        least = rng.uniform(0, 50, n) * (rng.random(n) < 0.4)
        most, arm = least + rng.uniform(0, 200, n), rng.uniform(20, 140, n)
        empty, moment = 800.0, 800.0 * rng.uniform(60, 75)
        top = rng.uniform(empty + least.sum() + 10, empty + most.sum())
        corners = [
            (rng.uniform(50, 60), 700.0),
            (rng.uniform(50, 68), top),
            (rng.uniform(75, 90), top),
            (rng.uniform(75, 90), 700.0),
        ]
        limits = envelope([c for c, _ in corners], [w for _, w in corners])
        ends = worst_loadings(
            empty_lb=empty, empty_lb_in=moment, least_lb=least, most_lb=most, arm_in=arm, limits=limits
        )
        loads = np.vstack(
            [
                least + (most - least) * rng.random((4000, n)),
                least + (most - least) * np.array(list(itertools.product([0, 1], repeat=n))),
            ]
        )
        weight, total = empty + loads.sum(1), moment + loads @ arm
        keep = weight <= top
        forward, aft = limits.limits_in(weight[keep])
        cg = total[keep] / weight[keep]
        assert ends[0].margin_in <= (cg - forward).min() + 1e-9
        assert ends[1].margin_in <= (aft - cg).min() + 1e-9
        for end in ends:
            load = np.array(end.load_lb)
            assert (load >= least - 1e-9).all()
            assert (load <= most + 1e-9).all()
            assert empty + load.sum() == pytest.approx(end.weight_lb)
            assert (moment + load @ arm) / end.weight_lb == pytest.approx(end.cg_in)


@pytest.mark.parametrize(
    "corners",
    [
        [(8, 1000), (22, 2000), (22, 1000), (8, 2000)],  # crosses itself
        [(8, 1000), (8, 2000)],
        [(8, 1000), (9, 1000), (10, 1000)],
    ],
)
def test_impossible_envelopes_are_refused(corners: list[tuple[float, float]]) -> None:
    with pytest.raises(GeometryError, match="Envelope"):
        envelope([c for c, _ in corners], [w for _, w in corners])
