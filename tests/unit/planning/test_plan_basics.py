"""Validation, calendars, exchange, pilot's dates, making or buying, the bench's list."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from ribwright import __version__
from ribwright.core.planning.calendars import day_hours
from ribwright.core.planning.exchange import (
    Event,
    tasks_from_csv,
    tasks_from_toml,
    tasks_to_csv,
    to_icalendar,
)
from ribwright.core.planning.findings import with_discrepancy, with_rework
from ribwright.core.planning.graph import shortest_cycle
from ribwright.core.planning.make_or_buy import Share, compare_ways
from ribwright.core.planning.network import network
from ribwright.core.planning.orders import order_by
from ribwright.core.planning.pilot import RULES, end_of_calendar_months, window
from ribwright.core.planning.problems import checked, sentences
from ribwright.core.planning.risk import decisive, effect, outlook, simulated, what_moves_the_date, with_item
from ribwright.core.planning.starter import starter_items, starter_tasks
from ribwright.core.planning.tasks import Item, Plan, Task, Week
from ribwright.core.planning.tonight import Tonight, next_on_the_bench, while_waiting
from ribwright.core.planning.tornado import usual_changes
from ribwright.errors import (
    CycleError,
    FormatError,
    MissingError,
    NeverRunsError,
    OutOfRangeError,
    Stopped,
    UnknownNameError,
)

START = date(2026, 3, 2)


def plan(**changes):
    return replace(Plan(START, starter_tasks(), starter_items()), **changes)


@pytest.mark.parametrize(
    ("tasks", "items", "kind"),
    [
        ((Task("a", "", 1, needs=("b",)), Task("b", "", 1, needs=("a",))), (), CycleError),
        ((Task("a", "", -1),), (), OutOfRangeError),
        ((Task("a", "", float("nan")),), (), OutOfRangeError),
        ((Task("a", "", 1, needs=("x",)),), (), UnknownNameError),
        ((Task("a", "", 1), Task("a", "", 1)), (), OutOfRangeError),
        ((Task("a", "", 1, uses=(("floor", 200.0),)),), (), NeverRunsError),
        ((Task("a", "", 1),), (Item("i", "", 30, 1.0),), MissingError),
        ((Task("a", "", 1),), (Item("i", "", 30, 1.3, order_on=date(2026, 1, 1)),), OutOfRangeError),
        ((Task("a", "", 1),), (Item("i", "", -3, 1.3),), OutOfRangeError),
    ],
)
def test_each_fault_is_named_and_the_rest_still_planned(tasks, items, kind):
    good = Task("good", "", 3)
    kept, faults = checked(Plan(START, (*tasks, good), items, shop=(("floor", 100.0),)))
    assert [type(f) for f in faults] == [kind]
    assert "good" in [t.key for t in kept.tasks]
    assert simulated(network(kept), draws=10).ends.min() > 0


def test_helper_never_there_never_runs():
    bad = Plan(START, (Task("a", "", 1, helper=True), Task("b", "", 1)), week=Week(helper_hours=(0.0,) * 7))
    _, faults = checked(bad)
    assert isinstance(faults[0], NeverRunsError)
    with pytest.raises(NeverRunsError):
        network(bad)
    with pytest.raises(NeverRunsError):
        network(replace(bad, week=Week(hours=(0.0,) * 7)))


def test_shortest_cycle_is_shown():
    assert sorted(shortest_cycle([[1], [2], [0, 3], [2]])) == [2, 3]
    assert shortest_cycle([[1], [2], []]) == []


def test_calendar_of_days():
    week = Week(hours=(2, 2, 0, 2, 0, 5, 3.25), off=(date(2026, 3, 3),), warm_months=(4,), helper_off=())
    rows = day_hours(week, START, 40)
    assert rows[0, :7].tolist() == [200, 0, 0, 200, 0, 500, 325]
    assert rows[1, 5] == 300
    assert rows[4, :30].sum() == 0
    assert rows[4, 30:].sum() > 0


def test_csv_and_toml_come_back_the_same():
    tasks = tuple(replace(t, uses=(("floor", 12.5),), not_before=date(2027, 1, 5)) for t in starter_tasks())
    text = tasks_to_csv(tasks)
    assert tasks_from_csv(text) == tasks
    assert all(line.endswith(f",ribwright {__version__}") for line in text.splitlines()[1:])
    read, items = tasks_from_toml(
        '[[task]]\nkey="a"\nhours=2\n[[item]]\nkey="i"\nlead_days=30\nlead_spread=1.3'
    )
    assert read[0].hours == 2.0
    assert items[0].lead_days == 30.0
    for bad, kind in (
        ("x=", FormatError),
        ('[[task]]\nkey="a"', MissingError),
        ("[[task]]\nz=1", UnknownNameError),
    ):
        with pytest.raises(kind):
            tasks_from_toml(bad)
    with pytest.raises(FormatError):
        tasks_from_csv("key,hours\na,two\n")


def test_icalendar_folds_and_escapes():
    text = to_icalendar([Event("u", date(2026, 5, 1), "Order; engine, now " + "é" * 60)], stamp=START)
    assert all(len(line.encode()) <= 75 for line in text.split("\r\n"))
    assert "DTSTART;VALUE=DATE:20260501" in text
    assert "Order\\; engine\\, now" in text
    assert text.count("\r\n") == text.count("\n")


def test_calendar_months_end_on_the_last_day():
    assert end_of_calendar_months(date(2024, 2, 10), 24) == date(2026, 2, 28)
    assert end_of_calendar_months(date(2026, 12, 31), 2) == date(2027, 2, 28)
    review = RULES[0]
    w = window(
        review, flight_first=date(2028, 5, 3), flight_last=date(2028, 8, 20), last_done=date(2026, 7, 1)
    )
    assert w.opens == date(2026, 8, 1)
    assert w.needed
    assert not window(review, flight_first=w.closes, flight_last=w.closes, last_done=date(2026, 7, 1)).needed
    with pytest.raises(OutOfRangeError):
        window(review, flight_first=date(2028, 5, 3), flight_last=date(2028, 5, 2), last_done=None)


def test_what_decides_the_date_is_a_list_only_where_it_tells_one_from_another():
    def told(tasks, items=()):
        net = network(Plan(START, tasks, items, shop=(("floor", 100.0),)))
        return decisive(net, simulated(net, draws=200, decides=True))

    row = tuple(Task(f"t{k}", "", 5.0) for k in range(20))
    shown, said = told(row)
    assert shown == ()
    assert "of 20 tasks stood in it" in said
    assert "No order did" in said
    # the same twenty, and one more that waits two years for its part: now the order is what is named
    late = Item("spar", "", 730, 1.1)
    shown, said = told((*row, Task("last", "", 1.0, parts=("spar",))), (late,))
    assert said == ""
    assert dict(shown)["spar"] > 0.95
    shown, said = told(row[:3])
    assert said == ""
    assert {key for key, _ in shown} == {"t0", "t1", "t2"}


def test_starter_has_dates_and_what_moves_them():
    p = plan()
    made = simulated(network(p), draws=400, dry=True, decides=True)
    look = outlook(network(p), made)
    days = [c.days for c in look.dates]
    assert days == sorted(days)
    assert days[0] > 100
    moves = what_moves_the_date(p, usual_changes(p, most=6), draws=200)
    assert moves[0].days_more >= moves[0].days_less
    assert effect(p, p, draws=100).days_less == 0.0


def test_stopping_keeps_what_was_made():
    def stop(made, total):
        if made >= 2_000:
            raise Stopped("simulation")

    assert len(simulated(network(plan()), draws=5_000, progress=stop).ends) == 2_000


def test_bench_list_says_why():
    p = plan()
    listed, out = next_on_the_bench(p, Tonight(hours=2.0), draws=200)
    assert {key for key, _ in out} >= {"controls"}
    assert dict(out)["controls"] == "needs the helper"
    assert all(s.reasons for s in listed)
    assert "fuel-leak-test" not in {s.key for s in listed}


def test_waiting_for_the_engine_leaves_work():
    p = with_item(plan(), "engine", lead_days=2_500.0)
    left = while_waiting(p, "engine", draws=200)
    assert "engine-hung" not in left.tasks
    assert "first-flight" not in left.tasks
    assert left.runs_dry > 0.9
    with pytest.raises(UnknownNameError):
        while_waiting(p, "nothing", draws=10)


def test_order_by_moves_with_the_lead_time():
    p = plan()
    a = order_by(p, "engine", draws=200)
    b = order_by(with_item(p, "engine", lead_days=840.0), "engine", draws=200)
    assert b.by < a.by
    assert b.chance_today < a.chance_today
    assert order_by(p, "engine", chance=0.95, draws=200).by < a.by
    assert a.month_later >= -1e-9


def test_making_or_buying_counts_the_share():
    p = plan()
    unit = Item("canopy-ready", "Fitted canopy", 90, 1.3, price=6_000)
    both = compare_ways(
        p,
        ("canopy",),
        unit,
        parts_price=1_500,
        look_hours=3,
        share=Share(96.0, 187.0),
        points_lost=1.0,
        draws=200,
    )
    assert both.money == 4_500
    assert both.moved_days < 0
    assert both.share_before > 0.51 > both.share_after
    assert not both.keeps_major


def test_findings_feed_the_plan():
    p = plan()
    more = with_rework(p, "controls", number="7", title="New bracket", hours=6)
    assert "rework 7" in next(t for t in more.tasks if t.key == "interior").needs
    held = with_discrepancy(p, "controls", number="8", answer_days=400)
    assert simulated(network(held), draws=50).ends.mean() >= simulated(network(p), draws=50).ends.mean()


def test_the_same_fault_of_many_tasks_is_one_sentence():
    alone = replace(plan(), week=replace(plan().week, helper_hours=(0.0,) * 7))
    _, faults = checked(alone)
    said = sentences(faults)
    many = [fault for fault in faults if fault.found == "needs helper"]
    assert len(many) > 3
    assert len(said) < len(faults)
    (one,) = [sentence for sentence in said if "(found: needs helper)" in sentence]
    assert one.startswith(f"{len(many)} in all: ")
    assert many[0].field in one
    assert "can never run" in one
