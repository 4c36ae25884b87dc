"""Random small instances and plans: feasible, never below the bound, monotone."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from ribwright.core.planning.feasibility import faults
from ribwright.core.planning.instance import make_instance
from ribwright.core.planning.network import network
from ribwright.core.planning.risk import drawn
from ribwright.core.planning.schedule import search
from ribwright.core.planning.tasks import Plan, Task


@st.composite
def instances(draw):
    n = draw(st.integers(1, 9))
    k = draw(st.integers(0, 6))
    number = st.integers(0, 5)
    demands = [[draw(number) for _ in range(k)] for _ in range(n)]
    capacity = [[*draw(st.lists(st.integers(0, 7), max_size=5)), 7] for _ in range(k)]
    after = [
        sorted(draw(st.sets(st.integers(i + 1, n - 1), max_size=2))) if i + 1 < n else [] for i in range(n)
    ]
    return make_instance("random", [draw(number) for _ in range(n)], demands, capacity, after)


@settings(max_examples=80, deadline=None)
@given(instances(), st.integers(1, 300), st.integers(0, 2**32))
def test_every_schedule_can_be_done(instance, schedules, seed):
    found = search(instance, schedules=schedules, seed=seed)
    assert faults(instance, found.starts) == []
    assert found.bound <= found.makespan
    assert found.made <= schedules


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 10_000), st.floats(1.0, 60.0))
def test_more_work_behind_everything_is_never_earlier(seed, hours):
    tasks = tuple(Task(f"t{i}", "", 5.0) for i in range(6))
    last = Task("last", "", hours, needs=tuple(t.key for t in tasks))
    plan = Plan(date(2026, 3, 2), (*tasks, last))
    more = replace(plan, tasks=(*tasks, replace(last, hours=hours * 1.5)))
    assert np.all(drawn(network(more), seed, 0, 20).ends >= drawn(network(plan), seed, 0, 20).ends)
