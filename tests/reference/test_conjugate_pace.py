"""The conjugate normal update in closed form (Gelman et al., Bayesian Data Analysis, section 2.5; from
memory), and coverage over simulated builders."""

from __future__ import annotations

import math

import numpy as np
import pytest

from ribwright.core.planning.pace import Logged, coverage, learned, learned_weeks, posterior
from ribwright.core.planning.tasks import Pace
from ribwright.errors import OutOfRangeError


def test_one_trade_is_the_textbook_formula():
    y = np.array([0.3, 0.5, 0.1, 0.4])
    v = 0.2**2
    mean, cov = posterior(
        y, np.zeros(4, np.int64), np.full(4, v), shared_mean=0.1, shared_var=0.09, trade_var=1e-12, trades=1
    )
    precision = 1 / 0.09 + 4 / v
    assert mean[0] == pytest.approx((0.1 / 0.09 + y.sum() / v) / precision, rel=1e-6)
    assert cov[0, 0] == pytest.approx(1 / precision, rel=1e-6)


def builder(g, tasks, *, slow=0.0, ordered=False, spread=1.5):
    """Log of a simulated builder, and the open tasks' true hours."""
    shared, trade = g.normal(0, 0.35), g.normal(0, 0.25, 5)
    kinds = np.sort(g.integers(0, 5, tasks)) if ordered else g.integers(0, 5, tasks)
    out = []
    for k in kinds:
        estimate = float(np.exp(g.normal(1.5, 0.6)))
        actual = estimate * math.exp(shared + trade[k] + math.log(spread) * g.normal())
        if slow and g.random() < slow:
            actual *= 3
        out.append(Logged(f"k{k}", estimate, actual, spread))
    return out


@pytest.mark.parametrize(
    ("slow", "ordered", "low", "high"),
    [(0, False, 0.76, 0.84), (0, True, 0.76, 0.84), (0.04, False, 0.70, 0.84)],
)
def test_four_in_five_covers_the_rest_of_the_build(slow, ordered, low, high):
    """1,000 builders: 40 tasks logged, the hours of 60 more foretold at 8 chances in 10."""
    g = np.random.default_rng(11)
    inside = 0
    for _ in range(1_000):
        log = builder(g, 100, slow=slow, ordered=ordered)
        pace = learned(log[:40]).pace
        z0 = g.normal(size=(200, 1))
        names = sorted({row.trade for row in log[40:]})
        means, sds = dict(pace.trade), dict(pace.trade_sd)
        shift = np.array([means.get(n, 0.0) for n in names]) + np.array(
            [sds.get(n, pace.trade_sd_new) for n in names]
        ) * g.normal(size=(200, len(names)))
        at = [names.index(row.trade) for row in log[40:]]
        loads = np.array([dict(pace.trade_load).get(n, 1.0) for n in names])
        logs = np.log([row.estimate_hours for row in log[40:]])
        own = math.log(1.5) * pace.noise_scale
        total = np.exp(
            logs
            + pace.shared
            + loads[at] * pace.shared_sd * z0
            + shift[:, at]
            + own * g.normal(size=(200, 60))
        ).sum(axis=1)
        inside += sum(row.actual_hours for row in log[40:]) <= np.quantile(total, 0.8)
    assert low <= inside / 1_000 <= high


def test_open_tasks_count_as_at_least():
    base = [Logged("a", 10, 10) for _ in range(10)]
    without = learned(base).pace.shared
    little = learned([*base, Logged("a", 10, 1, finished=False)]).pace.shared
    much = learned([*base, Logged("a", 10, 40, finished=False)]).pace.shared
    assert abs(little - without) < 0.02
    assert much > without + 0.05


def test_too_little_is_said():
    assert not learned([]).enough
    few = learned([Logged("a", 10, 12)] * 3)
    assert not few.enough
    assert "too few" in few.says
    assert learned([Logged("a", 10, 12)] * 20).enough


def test_history_coverage_and_bad_input():
    g = np.random.default_rng(3)
    kept, made = coverage(builder(g, 60))
    assert made == 60
    assert 0.6 <= kept / made <= 0.97
    with pytest.raises(OutOfRangeError):
        learned([Logged("a", 0, 12)])


def test_weeks():
    worked = ([True] * 3 + [False]) * 20 + [False] * 9 + [True] * 10
    pace = learned_weeks(worked, Pace(idle_week=0.5))
    assert 0.2 < pace.idle_week < 0.3
    assert pace.stop_week > Pace().stop_week
    assert learned_weeks([]).idle_week == Pace().idle_week
