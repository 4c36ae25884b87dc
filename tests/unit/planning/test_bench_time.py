"""A plan in the builder's own time: nothing overlaps, help only when it is there, deliveries and drying are waited for."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from ribwright.core.planning.bench_time import bench_time
from ribwright.core.planning.feasibility import faults
from ribwright.core.planning.schedule import search
from ribwright.core.planning.tasks import Item, Pace, Plan, Task, Week
from ribwright.errors import CycleError, OutOfRangeError

MONDAY = date(2026, 3, 2)
WEEK = Week(
    hours=(2.0, 2.0, 0.0, 2.0, 0.0, 5.0, 3.0), helper_hours=(0, 0, 0, 0, 0, 3.0, 0), daylight_hours=(0,) * 7
)


def plan(*tasks: Task, items: tuple[Item, ...] = (), **more: object) -> Plan:
    return Plan(MONDAY, tasks, items, WEEK, pace=Pace(), **more)  # type: ignore[arg-type]


def spans(made: Plan) -> dict[str, tuple[date, date]]:
    bench = bench_time(made)
    found = search(bench.instance, schedules=100)
    assert faults(bench.instance, found.starts) == []
    return {task.key: bench.span(i, found.starts) for i, task in enumerate(bench.tasks)}


def test_hours_fill_evenings_and_days_off_do_not_count():
    # 2 + 2 + 2 hours are Monday, Tuesday, Thursday; the next begins on Saturday.
    made = spans(plan(Task("a", "a", 6.0), Task("b", "b", 1.0, needs=("a",))))
    assert made["a"] == (MONDAY, date(2026, 3, 5))
    assert made["b"] == (date(2026, 3, 7), date(2026, 3, 7))


def test_the_helper_comes_on_saturdays_for_three_hours():
    # 7 hours with the helper take three Saturdays.
    assert spans(plan(Task("a", "a", 7.0, helper=True)))["a"] == (date(2026, 3, 7), date(2026, 3, 21))


def test_deliveries_dates_and_drying_are_waited_for():
    wing = Task("wing", "wing", 1.0, parts=("skin",))
    held = Task("held", "held", 1.0, not_before=date(2026, 4, 6))
    glue = Task("glue", "glue", 2.0, cure_hours=24.0)
    after = Task("after", "after", 1.0, needs=("glue",))
    made = spans(plan(wing, held, glue, after, items=(Item("skin", "skin", 35.0, 1.3),)))
    assert made["wing"][0] >= date(2026, 4, 6)
    assert made["held"][0] >= date(2026, 4, 6)
    assert made["after"][0] > made["glue"][1]


def test_two_that_dont_fit_side_by_side_dry_after_each_other():
    uses = (("floor", 40.0),)
    two = tuple(Task(key, key, 2.0, cure_hours=24.0, uses=uses) for key in "ab")
    end = Task("end", "end", 1.0, needs=("a", "b"))
    tight, wide = (spans(plan(*two, end, shop=(("floor", room),)))["end"][0] for room in (60.0, 80.0))
    assert tight > wide


def test_bounds_are_those_of_a_count_by_hand():
    # Ten hours with the helper need four Saturdays, and the fourth gives one hour after 3 · 14 hours of weeks before it.
    bench = bench_time(plan(Task("a", "a", 10.0, helper=True)))
    found = search(bench.instance, schedules=10)
    assert found.proven
    assert bench.day_of(found.makespan, ends=True) == date(2026, 3, 28)


def test_a_learned_pace_stretches_hours_and_hours_logged_shorten_them():
    slow = replace(plan(Task("a", "a", 10.0)), pace=Pace(shared=0.6931471805599453))
    assert int(bench_time(slow).instance.durations[0]) == 80
    assert int(bench_time(plan(Task("a", "a", 10.0, spent_hours=4.0))).instance.durations[0]) == 24


def test_what_cant_be_planned_is_refused():
    with pytest.raises(OutOfRangeError):
        bench_time(plan(Task("a", "a", 1.0, done=True)))
    with pytest.raises(CycleError):
        bench_time(plan(Task("a", "a", 1.0, needs=("b",)), Task("b", "b", 1.0, needs=("a",))))
    with pytest.raises(OutOfRangeError, match="thirty years"):
        bench_time(plan(*(Task(f"t{i}", "t", 20_000.0) for i in range(3))))
