"""The random numbers of the plan: the normal quantile against the standard library's, draws however split."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import date
from statistics import NormalDist

import numpy as np

from ribwright.core.planning.chance_compiled import hours_drawn, quantile, stream
from ribwright.core.planning.network import network
from ribwright.core.planning.risk import drawn, simulated
from ribwright.core.planning.tasks import Item, Plan, Task, Week


def test_drawn_hours_follow_the_normal_quantile():
    n = 20_000
    item = np.arange(1, n + 1, dtype=np.uint64) * np.uint64(0xD1B54A32D192ED03)
    bits, out = np.zeros(n, np.int32), np.zeros(n, np.int32)
    mean, sd = np.full(n, 13.0, np.float32), np.full(n, 0.7, np.float32)
    total = hours_drawn(np.uint64(stream(np.uint64(3), np.uint64(4))), item, mean, sd, bits, out)
    assert total == out.sum()
    # The top bit of the 31 tells the side, the rest how far from the nearer end.
    k = bits.astype(np.int64)
    p = (np.where(k >> 30 == 1, ~k & 0x3FFFFFFF, k) + 0.5) / 2.0**31
    law = NormalDist()
    z = np.array([law.inv_cdf(v) for v in p]) * np.where(k >> 30 == 1, -1.0, 1.0)
    assert np.abs(np.log2(out / 100.0) - 13.0 - 0.7 * z).max() < 3e-5
    assert abs(z.mean()) < 0.03
    assert abs(z.std() - 1.0) < 0.02
    assert np.abs(z).max() > 3.5
    assert (
        max(abs(quantile(float(v)) - law.inv_cdf(v)) for v in (1e-9, 0.003, 0.2, 0.5, 0.93, 1 - 1e-6)) < 1e-5
    )


def held_up() -> Plan:
    """Every kind of need at once: helper, daylight, cold, cure, space, hours logged, a delivery, a start date."""
    tasks = (
        Task("a", "a", 9.0, helper=True, uses=(("floor", 30.0),)),
        Task("b", "b", 14.0, warm=True, cure_hours=60.0, uses=(("floor", 30.0),)),
        Task("c", "c", 5.0, daylight=True, needs=("a",), spent_hours=2.0),
        Task("d", "d", 30.0, trade="engine", parts=("engine",)),
        Task("e", "e", 0.0, needs=("b", "c", "d"), not_before=date(2026, 6, 1)),
        *(Task(f"f{i}", "f", 4.0, spread=1.7, needs=("a",) if i % 3 else ()) for i in range(70)),
    )
    items = (Item("engine", "engine", 150.0, 1.4),)
    return Plan(date(2026, 1, 5), tasks, items, Week(warm_months=(4, 5, 6, 7, 8, 9)), (("floor", 50.0),))


def test_draws_are_the_same_however_they_are_split():
    net = network(held_up())
    whole = drawn(net, 7, 0, 2_500, dry=True, starts=True, decides=True)
    parts = [drawn(net, 7, first, 500, starts=True) for first in range(0, 2_500, 500)]
    assert np.array_equal(whole.ends, np.concatenate([part.ends for part in parts]))
    assert np.array_equal(whole.starts, np.concatenate([part.starts for part in parts]))
    with ThreadPoolExecutor(2) as pool:
        assert np.array_equal(whole.ends, simulated(net, draws=2_500, seed=7, mapper=pool.map).ends)


def test_what_hangs_on_the_day_is_begun_on_such_a_day():
    plan = held_up()
    net = network(plan)
    made = drawn(net, 7, 0, 400, starts=True)
    day = made.starts // 2400
    at = {key: i for i, key in enumerate(net.keys)}
    weekday = (plan.start.weekday() + day) % 7
    months = (np.datetime64(plan.start) + day).astype("datetime64[M]").astype(int) % 12 + 1
    assert set(np.unique(weekday[:, at["a"]])) == {5}  # the helper's Saturdays
    assert set(np.unique(weekday[:, at["c"]])) <= {5, 6}  # daylight at the weekend
    assert set(np.unique(months[:, at["b"]])) <= {4, 5, 6, 7, 8, 9}
    assert day[:, at["e"]].min() >= (date(2026, 6, 1) - plan.start).days
    assert np.all(made.ends >= made.starts.max(axis=1))
    # 30 and 30 of the floor's 50 never at once: b begins after a has ended, or the other way about.
    assert np.all(np.abs(made.starts[:, at["a"]] - made.starts[:, at["b"]]) > 0)
