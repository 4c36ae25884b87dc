"""The textbook's construction project (Hillier & Lieberman, Introduction to Operations Research, PERT
chapter; from memory): critical path 44 weeks, variance 9, P(T ≤ 47) = .8413 by the normal approximation.
Also the expected maximum of n exponentials, and simpy as an independent simulator."""

from __future__ import annotations

import math
from datetime import date

import numpy as np
import pytest

from ribwright.core.planning.chain import longest_chain, three_point
from ribwright.core.planning.network import network
from ribwright.core.planning.risk import chance_day, drawn, simulated
from ribwright.core.planning.tasks import Pace, Plan, Task, Week
from ribwright.errors import CycleError, OutOfRangeError

ESTIMATES = {
    "A": (1, 2, 3), "B": (2, 3.5, 8), "C": (6, 9, 18), "D": (4, 5.5, 10), "E": (1, 4.5, 5), "F": (4, 4, 10),
    "G": (5, 6.5, 11), "H": (5, 8, 17), "I": (3, 7.5, 9), "J": (3, 9, 9), "K": (4, 4, 4), "L": (1, 5.5, 7),
    "M": (1, 2, 3), "N": (5, 5.5, 9),
}  # fmt: skip
NEEDS = {
    "A": "", "B": "A", "C": "B", "D": "C", "E": "C", "F": "E", "G": "D", "H": "EG", "I": "C", "J": "FI",
    "K": "J", "L": "J", "M": "H", "N": "KL",
}  # fmt: skip
SURE = Pace(shared_sd=0, trade_sd_new=0, idle_week=0, stop_week=0)


def test_construction_project():
    names = list(ESTIMATES)
    after = [[names.index(k) for k in names if n in NEEDS[k]] for n in names]
    chain = longest_chain([ESTIMATES[n] for n in names], after)
    assert chain.length == pytest.approx(44)
    assert chain.variance == pytest.approx(9)
    assert "".join(names[i] for i in chain.critical) == "ABCEFJLN"
    assert round(chain.chance_within(47), 4) == 0.8413


def test_chain_refuses():
    with pytest.raises(CycleError):
        longest_chain([(1, 1, 1)] * 2, [[1], [0]])
    with pytest.raises(OutOfRangeError):
        three_point(3, 2, 1)


def test_hours_over_hours_a_week_without_any_doubt():
    week = Week(hours=(2, 2, 2, 2, 2, 0, 0), helper_hours=(0,) * 7)
    plan = Plan(
        date(2026, 3, 2), tuple(Task(f"t{i}", "", 5.0, spread=1.0) for i in range(10)), week=week, pace=SURE
    )
    ends = simulated(network(plan), draws=5).ends
    # 50 hours at 10 a week: Friday of the fifth week, two hours in.
    assert ends.tolist() == [(4 * 7 + 4) * 2400 + 200] * 5


def test_sum_of_lognormal_hours_has_its_mean_and_quantiles():
    plan = Plan(date(2026, 3, 2), (Task("a", "", 40.0, spread=1.6),), week=Week(hours=(24.0,) * 7), pace=SURE)
    worked = simulated(network(plan), draws=40_000).worked / 100
    s = math.log(1.6)
    assert np.median(worked) == pytest.approx(40, rel=0.01)
    assert worked.mean() == pytest.approx(40 * math.exp(s * s / 2), rel=0.01)
    assert np.quantile(worked, 0.8413) == pytest.approx(64, rel=0.02)


def test_largest_of_several_waits_is_above_each():
    """Cures run side by side, nobody's hands: the end is their maximum, not their sum."""
    tasks = tuple(Task(f"t{i}", "", 0.0, cure_hours=100.0 + i) for i in range(5))
    ends = simulated(
        network(Plan(date(2026, 3, 2), tasks, week=Week(hours=(24.0,) * 7), pace=SURE)), draws=2
    ).ends
    assert ends.tolist() == [10_400, 10_400]


def test_draws_do_not_depend_on_chunks():
    plan = Plan(
        date(2026, 3, 2),
        tuple(Task(f"t{i}", "", 8.0, needs=(f"t{i - 1}",) if i % 3 else ()) for i in range(30)),
    )
    net = network(plan)
    whole = drawn(net, 7, 0, 100).ends
    parts = np.concatenate([drawn(net, 7, 0, 33).ends, drawn(net, 7, 33, 67).ends])
    assert np.array_equal(whole, parts)
    from concurrent.futures import ThreadPoolExecutor

    with ThreadPoolExecutor(2) as pool:
        assert np.array_equal(
            simulated(net, draws=3_000, seed=7, mapper=pool.map).ends,
            simulated(net, draws=3_000, seed=7).ends,
        )


def test_simpy_agrees_on_a_small_network():
    """One builder, fixed priorities, cures beside the work: simpy's event engine gives the same ends."""
    simpy = pytest.importorskip("simpy")
    tasks = (
        Task("a", "", 6.0, spread=1.7, cure_hours=30.0),
        Task("b", "", 9.0, spread=1.7),
        Task("c", "", 4.0, spread=1.7, needs=("a",)),
        Task("d", "", 7.0, spread=1.7, needs=("b",), cure_hours=12.0),
        Task("e", "", 5.0, spread=1.7, needs=("c", "d")),
    )
    plan = Plan(date(2026, 3, 2), tasks, week=Week(hours=(24.0,) * 7), pace=SURE)
    net = network(plan)
    g = np.random.default_rng(5)
    theirs = []
    for _ in range(4_000):
        env = simpy.Environment()
        builder = simpy.PriorityResource(env, 1)
        done = {t.key: env.event() for t in tasks}

        def run(task, priority, env=env, builder=builder, done=done):
            for key in task.needs:
                yield done[key]
            with builder.request(priority=priority) as turn:
                yield turn
                yield env.timeout(task.hours * math.exp(math.log(task.spread) * g.normal()))
            yield env.timeout(task.cure_hours)
            done[task.key].succeed()

        for place, task in enumerate(net.tasks):
            env.process(run(task, place))
        env.run()
        theirs.append(env.now)
    ours = simulated(net, draws=20_000).ends / 100
    assert np.mean(ours) == pytest.approx(np.mean(theirs), rel=0.015)
    assert np.quantile(ours, 0.8) == pytest.approx(np.quantile(theirs, 0.8), rel=0.025)


def test_standard_error_is_that_of_repeated_runs():
    plan = Plan(date(2026, 3, 2), tuple(Task(f"t{i}", "", 10.0, spread=1.8) for i in range(12)))
    net = network(plan)
    runs = [chance_day(plan.start, drawn(net, s, 0, 400).ends, 0.8) for s in range(60)]
    spread = np.std([r.days for r in runs])
    said = np.mean([r.error_days for r in runs])
    assert 0.6 < said / spread < 1.6
