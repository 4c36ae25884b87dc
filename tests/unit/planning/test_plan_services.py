"""Settings, orders, tasks from the record, pace from the log, and work that can be stopped."""

from __future__ import annotations

import threading
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from filled import ANN, filled
from ribwright.core.planning.orders import still_out
from ribwright.core.planning.tasks import Item, Plan, Task
from ribwright.errors import InputError, Stopped
from ribwright.services.operations import enter_work
from ribwright.services.plan_entries import day_hours_of, money_of, months_of
from ribwright.services.plan_items import order_data
from ribwright.services.plan_orders import OrderLine, order_lines
from ribwright.services.plan_pace import pace_view, weeks_worked
from ribwright.services.plan_preview import preview
from ribwright.services.plan_settings import parsed, save_settings, settings
from ribwright.services.plan_sources import sources
from ribwright.services.plan_tasks import plan_of
from ribwright.services.record import set_object
from ribwright.services.running import Workshop

TODAY = date(2026, 11, 25)


def test_hours_months_and_money_as_typed():
    assert day_hours_of("Mon-Wed 2, Sat 5.5") == (2, 2, 2, 0, 0, 5.5, 0)
    assert day_hours_of("none") == (0,) * 7
    assert months_of("October to March", "") == (1, 2, 3, 10, 11, 12)
    assert months_of("all year", "") == tuple(range(1, 13))
    assert money_of("$1,500", "") == 1500.0


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("hours", "none"), ("hours", "Mon 25"), ("hours", "Mon two"), ("hours", "Mon 2, Monday 3"), ("warm", "Aprilish"),
        ("off", "tomorrow"), ("off", "0001-01-01"), ("shop", "floor"), ("cash_risk", "0"), ("cash_now", "1,5"),
        ("major", "120"), ("starter", "some"), ("answer_days", "nan"), ("review", "2026-02-30"),
    ],
)  # fmt: skip
def test_a_setting_that_cant_be_names_its_entry(name, value):
    with pytest.raises(InputError) as wrong:
        parsed({name: value, **({"cash_month": "1"} if name.startswith("cash") else {})})
    assert wrong.value.name == name


def test_blocked_weeks_backwards_are_refused_and_defaults_are_marked():
    with pytest.raises(InputError) as wrong:
        parsed({"blocked": [{"first": "2027-05-10", "last": "2027-05-01"}]})
    assert wrong.value.name == "blocked.0.last"
    made = parsed({"hours": "Sat 6"})
    assert "hours" not in made.defaults
    assert {"helper", "major", "cash_now"} <= made.defaults
    assert made.purse is None


ORDER = {"title": "engine", "state": "to order", "lead_weeks_likely": "20", "lead_weeks_late": "30"}


@pytest.mark.parametrize(
    ("changes", "name"),
    [
        ({"lead_weeks_late": "20"}, "lead_weeks_late"), ({"lead_weeks_likely": "-1"}, "lead_weeks_likely"),
        ({"order_on": "2026-01-01"}, "order_on"), ({"state": "ordered", "order_on": "2027-01-01"}, "order_on"),
        ({"price_usd": "100", "deposit_usd": "200"}, "deposit_usd"),
    ],
)  # fmt: skip
def test_an_order_that_cant_be_names_its_entry(changes, name):
    with pytest.raises(InputError) as wrong:
        order_data(ORDER | changes, today=TODAY)
    assert wrong.value.name == name


def test_an_order_that_is_out_keeps_its_date_and_an_overdue_one_is_not_at_the_door():
    out = Item("e", "engine", 140.0, 1.4, ordered=True, order_on=date(2026, 11, 1))
    assert still_out(out, TODAY) == out
    overdue = still_out(replace(out, order_on=date(2026, 4, 1)), TODAY)
    assert overdue.order_on == TODAY
    assert 5 < overdue.lead_days < 140


@pytest.fixture
def project(tmp_path: Path):
    with filled(tmp_path / "p") as made:
        yield made


def test_hours_on_a_begun_stage_count_beside_finished_ones(project):
    enter_work(project, actor=ANN, request_id="b1", ref="DN-21-S01", stage="drill", hours="0.75")
    plan, _ = plan_of(sources(project))
    task = next(task for task in plan.tasks if task.key == "DN-21-S01")
    assert task.spent_hours == pytest.approx(0.75)
    view = pace_view(sources(project))
    assert (view.finished, view.in_progress, view.enough) == (1, 1, False)
    assert "too few to know" in view.says


def test_an_order_holds_up_everything_below_what_it_is_needed_for(project):
    set_object(project, actor=ANN, request_id="c1", noun="aircraft", ref="DN", data={}, title="Dunlin")
    set_object(
        project, actor=ANN, request_id="c2", noun="assembly", ref="DN-21", data={}, parent="DN", title="x"
    )
    data = {"lead_weeks_likely": "20", "lead_weeks_late": "30", "state": "ordered", "needed_for": ["DN"]}
    set_object(project, actor=ANN, request_id="c3", noun="order", ref="P1", data=data, title="kit")
    plan, problems = plan_of(sources(project))
    assert "P1" in next(task for task in plan.tasks if task.key == "DN-21-S01").parts
    item = next(item for item in plan.items if item.key == "P1")
    assert item.order_on == date.fromisoformat(project.now()[:10]), "the day on which it was entered"
    assert not problems


def test_an_open_discrepancy_holds_and_a_rework_adds_its_task(project):
    plan, _ = plan_of(sources(project))
    task = next(task for task in plan.tasks if task.key == "DN-21-S01")
    assert any(part.startswith("answer D") for part in task.parts)
    assert any(t.key.startswith("discrepancy D") for t in plan.tasks)


def test_weaving_operations_are_no_circle(project):
    for ref, other in (("W1", "W2"), ("W2", "W1")):
        stages = [
            {"name": "drill", "hours": "1"},
            {"name": "rivet", "hours": "1", "after": [f"{other}/drill"]},
        ]
        set_object(
            project, actor=ANN, request_id=f"w{ref}", noun="operation", ref=ref, parent="DN-21", data={"stages": stages, "after": []},
        )  # fmt: skip
    from ribwright.core.planning.problems import checked

    _, faults = checked(plan_of(sources(project))[0])
    assert not faults


def test_settings_show_their_effect_before_they_are_saved(project):
    more = parsed({"hours": "Mon-Fri 4, Sat 8, Sun 8"})
    before = settings(project)
    effect = preview(project, replace(sources(project), settings=more))
    assert effect.days < -30
    assert "earlier" in effect.says
    assert settings(project) == before
    kept = save_settings(
        project, actor=ANN, request_id="s1", raw={"hours": "Mon-Fri 4, Sat 8, Sun 8"}, seen_revision=0
    )
    assert sum(kept.week.hours) == 36
    assert preview(project, sources(project)).says == "This changes no date."


def test_blocked_weeks_are_not_idle(project):
    read = sources(project)
    rows = tuple(
        {"about": "DN-21-S01", "stage": "fit", "hours": "2", "worked_as": "builder", "day": day, "done": ""}
        for day in ("2026-10-05", "2026-11-09")
    )
    read = replace(read, work=rows, today=TODAY)
    assert [hours > 0 for hours in weeks_worked(read)] == [True, False, False, False, False, True, False]
    away = parsed({"blocked": [{"first": "2026-10-12", "last": "2026-10-25"}]})
    assert len(weeks_worked(replace(read, settings=away))) == 5


def test_long_work_stops_with_the_best_so_far():
    shop: Workshop[int] = Workshop()
    gate = threading.Event()

    def work(report, keep):
        keep(1)
        gate.wait(5)
        report("second")
        raise AssertionError("it was asked to stop")

    assert shop.standing("k", work, wait=0.0).running
    assert shop.stop("k")
    gate.set()
    done = shop.standing("k", work, wait=5.0)
    assert (done.result, done.running) == (1, False)
    assert not shop.stop("k")
    assert issubclass(Stopped, Exception)


def test_work_on_what_has_moved_on_is_given_up():
    shop: Workshop[int] = Workshop(most=3)
    gate, given_up = threading.Event(), threading.Event()

    def work(report, keep):
        gate.wait(5)
        try:
            report("second")
        except Stopped:
            given_up.set()
            raise
        return 1

    assert shop.standing("before", work, wait=0.0, line="a").running
    assert shop.standing("beside", work, wait=0.0, line="b").running
    assert shop.standing("now", work, wait=0.0, line="a").running
    gate.set()
    assert shop.standing("now", work, wait=5.0, line="a").result == 1
    assert shop.standing("beside", work, wait=5.0, line="b").result == 1
    assert given_up.wait(5)


def test_a_circle_is_named_and_the_rest_of_the_bench_list_stands(project):
    from ribwright.services.bench import next_on_bench

    for ref, other in (("C1", "C2"), ("C2", "C1")):
        data = {"stages": [{"name": "do", "hours": "1"}], "after": [other]}
        set_object(
            project, actor=ANN, request_id=f"q{ref}", noun="operation", ref=ref, parent="DN-21", data=data
        )
    made = next_on_bench(project)
    assert len(made.problems) == 1
    assert "C1/do waits for C2/do waits for C1/do" in made.problems[0]
    assert {line.ref for line in made.waiting} >= {"C1", "C2"}
    assert any(line.ref == "DN-21-S01" for line in (*made.ready, *made.waiting))


def test_papers_stand_in_the_plan_once_and_the_first_flight_waits_for_them(tmp_path: Path):
    with filled(tmp_path / "p") as project:
        plan, problems = plan_of(sources(project))
        tasks = {task.key: task for task in plan.tasks}
        assert not problems
        assert "paper-registration" not in tasks, "it is the starter's registration"
        assert tasks["registration"].cure_hours == 1440.0
        assert "paper-number" in tasks["registration"].needs
        assert {"paper-limits", "paper-insurance"} <= set(tasks["first-flight"].needs)
        assert all(need in tasks for task in plan.tasks for need in task.needs)
        save_settings(project, actor=ANN, request_id="none", raw={"starter": "none of it"})
        assert not any(task.key.startswith("paper-") for task in plan_of(sources(project))[0].tasks)


def test_an_order_says_what_a_month_does_to_the_date_when_other_work_fills_the_wait_and_when_none_does():
    """The part comes after 400 days. The long work behind it comes first by right; other work may stand beside it, or none."""

    def line(others: int, price: float = 9_000.0) -> OrderLine:
        beside = tuple(Task(f"other {k}", "", 250.0) for k in range(others))
        tasks = (Task("fit", "", 1.0, parts=("spar",)), Task("rest", "", 300.0, needs=("fit",)), *beside)
        plan = Plan(TODAY, tasks, (Item("spar", "spar", 400, 1.05, price),))
        (one,) = order_lines(
            plan, late_day=10.0, capital_year=0.04, draws=200, report=lambda _: None, said=[]
        )
        return one

    alone, beside, cheap = line(0), line(8), line(8, price=1.0)
    assert alone.now
    assert "order now" in alone.says
    assert "hardly a chance that the first flight doesn’t wait for it" in alone.says
    assert not beside.now
    assert "other work fills the wait" in beside.says
    assert abs(beside.later_days) < 0.5
    # What is cheap to keep is there for its first work all the same.
    assert cheap.now
    assert "have it here for its first work" in cheap.says
    moved = float(alone.says.rsplit("its date by ", 1)[1].split(" ±")[0])
    assert 15 < moved < 60  # a month, stretched or shrunk by idle weeks and long stops
