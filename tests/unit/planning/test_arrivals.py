"""How late a thing may come: against small plans whose answer can be worked out by hand, and against brute force.

Source of the expected days: arithmetic on a builder of one hour every day, no doubt in any hours (own cases).
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from ribwright.core.planning.arrivals import MOST, first_uses, latest_arrivals
from ribwright.core.planning.calendars import DAY
from ribwright.core.planning.cash import Purse
from ribwright.core.planning.network import network
from ribwright.core.planning.orders import order_by
from ribwright.core.planning.risk import simulated, with_item, worked_through
from ribwright.core.planning.tasks import Item, Pace, Plan, Task, Week
from ribwright.errors import Stopped
from ribwright.services.plan_orders import CashView, cash_view, order_lines

START = date(2026, 3, 2)
SURE = Pace(shared_sd=0.0, trade_sd_new=0.0, idle_week=0.0, stop_week=0.0)
DAILY = Week(hours=(1.0,) * 7)


def sure(tasks: tuple[Task, ...], items: tuple[Item, ...]) -> Plan:
    return Plan(START, tuple(replace(t, spread=1.0) for t in tasks), items, DAILY, pace=SURE)


def test_other_work_fills_the_wait_for_one():
    """100 h of other work: a part for 10 h may come after 100 days; the end stays at 110."""
    plan = sure(
        (Task("fit", "", 10.0, parts=("spar",)), Task("other", "", 100.0)), (Item("spar", "", 30, 1.1),)
    )
    found = latest_arrivals(plan, draws=4)["spar"]
    assert np.all((found.latest > 95.0) & (found.latest <= 101.0))
    assert np.all(first_uses(plan, draws=4)["spar"] <= found.first_use)


def test_nothing_fills_the_wait():
    plan = sure(
        (Task("fit", "", 10.0, parts=("spar",)), Task("rest", "", 50.0, needs=("fit",))),
        (Item("spar", "", 30, 1.1),),
    )
    assert np.all(latest_arrivals(plan, draws=4)["spar"].latest <= 1.0 + 4.0)


def test_what_fills_the_wait_for_one_does_not_fill_it_for_two():
    """One, 10 h, waits for a and has 200 h behind it; two, 20 h, for b and 195 h; 100 h wait for nothing; 525 h in all.

    Alone, a may come after 20 + 195 + 100 = 315 days and b after 10 + 200 + 100 = 310; they are first used after 20 days
    and at once. Together only the 100 h fill the wait: the share of the way goes up to where b comes after 100 days,
    100/310, and there a comes after 20 + 295 · 100/310 = 115.
    """
    tasks = (
        Task("one", "", 10.0, parts=("a",)), Task("more of one", "", 200.0, needs=("one",)),
        Task("two", "", 20.0, parts=("b",)), Task("more of two", "", 195.0, needs=("two",)), Task("other", "", 100.0),
    )  # fmt: skip
    plan = sure(tasks, (Item("a", "", 30, 1.1), Item("b", "", 30, 1.1)))
    both = latest_arrivals(plan, draws=2)
    assert np.allclose(both["b"].first_use, 0.0)
    assert np.allclose(both["a"].first_use, 20.0)
    assert np.all(np.abs(both["b"].latest - 100.0) < 5.0)
    assert np.all(np.abs(both["a"].latest - 115.2) < 5.0)
    # With b out and here within days, a has its own 315 again.
    out = with_item(plan, "b", ordered=True, order_on=START, lead_days=3.0)
    assert np.all(np.abs(latest_arrivals(out, draws=2)["a"].latest - 315.0) < 5.0)


def doubtful() -> Plan:
    tasks = (
        Task("fit", "", 20.0, parts=("spar",)), Task("close", "", 40.0, needs=("fit",), helper=True),
        Task("engine", "", 60.0, parts=("engine",), trade="engine"), Task("paint", "", 30.0, needs=("close",), cure_hours=72),
        *(Task(f"other {k}", "", 25.0, trade="systems") for k in range(16)),
        Task("fly", "", 5.0, needs=("paint", "engine")),
    )  # fmt: skip
    return Plan(
        START, tasks, (Item("spar", "", 10, 1.4, 900.0), Item("engine", "", 20, 1.3, 20_000.0)), shop=()
    )


def test_every_draw_ends_when_it_would_with_all_at_hand():
    plan = doubtful()
    net = network(plan)
    found = latest_arrivals(plan, draws=150, seed=3)
    numbers = np.arange(150, dtype=np.int64)
    here = worked_through(net, 3, numbers, given=np.zeros((150, 2), np.int64)).ends
    late = np.column_stack([found[name].latest for name in net.gate_names])
    put_off = worked_through(net, 3, numbers, given=np.round(late * DAY).astype(np.int64)).ends
    assert np.all(put_off <= here + DAY)
    # And it is the most: all of them three weeks later moves the end in nearly every draw.
    more = worked_through(net, 3, numbers, given=np.round((late + 21.0) * DAY).astype(np.int64)).ends
    assert np.mean(more > here + DAY) > 0.9
    for one in found.values():
        assert np.median(one.latest) > np.median(one.first_use)


@pytest.mark.parametrize("chance", [0.6, 0.8, 0.95])
def test_the_last_day_holds_the_end_with_the_chance_asked_for(chance: float):
    """Brute force: order on that day, simulate with the lead times drawn, and count how often the end moved."""
    plan = doubtful()
    plan = replace(
        plan,
        items=(plan.items[0],),
        tasks=tuple(replace(t, parts=t.parts if "spar" in t.parts else ()) for t in plan.tasks),
    )
    found = order_by(plan, "spar", chance=chance, draws=400)
    assert found.by > found.by_first_use
    there = simulated(network(plan, early=["spar"]), draws=400).ends
    ordered = simulated(network(with_item(plan, "spar", order_on=found.by)), draws=400).ends
    assert abs(float(np.mean(ordered <= there + DAY)) - chance) < 0.03
    month = simulated(
        network(with_item(plan, "spar", order_on=found.by + timedelta(days=60))), draws=400
    ).ends
    assert np.mean(month <= there + DAY) < chance - 0.1


def test_money_that_is_not_there_puts_an_order_off_and_the_flight_with_it():
    """A saver of 100 a month has 900 after nine; a spar at 900 paid with the order goes out then, whatever waits for it."""
    tasks = (Task("fit", "", 10.0, parts=("spar",)), Task("rest", "", 50.0, needs=("fit",)))
    plan = sure(
        tasks, (Item("spar", "spar", 30, 1.05, 900.0, deposit=900.0), Item("far", "far", 30, 1.05, 50_000.0))
    )
    plan = replace(
        plan, tasks=(*plan.tasks, replace(tasks[1], key="last", needs=("rest",), parts=("far",), spread=1.0))
    )
    view = under(plan, Purse(0.0, 100.0, 0.0, 0.1))
    assert not view.plan.affordable
    assert "it can’t be kept with this money" in view.says
    rich = under(plan, Purse(60_000.0, 100.0, 0.0, 0.1))
    assert rich.plan.affordable
    assert abs(rich.flight) <= 31.0  # a month is the grain of the money
    poor = under(replace(plan, items=plan.items[:1], tasks=plan.tasks[:2]), Purse(0.0, 100.0, 0.0, 0.1))
    assert poor.plan.affordable
    assert poor.plan.months == (9,)  # 9 months of 100 are 900
    assert abs(poor.flight - 9 * 30.4) < 5.0
    assert f"moves the 4-in-5 date by {poor.flight:+.0f}" in poor.says


def under(plan: Plan, purse: Purse) -> CashView:
    lines = order_lines(plan, late_day=10.0, draws=100, report=lambda _: None, said=[])
    view = cash_view(plan, purse, late_day=10.0, months=24, lines=lines, report=lambda _: None, scenarios=100)
    assert view is not None
    return view


def test_of_very_many_orders_only_the_first_use_is_found_and_that_is_said():
    items = tuple(Item(f"i{k}", f"item {k}", 20, 1.2, 5_000.0) for k in range(MOST + 1))
    tasks = tuple(Task(f"t{k}", "", 1.0, parts=(f"i{k}",)) for k in range(MOST + 1))
    plan = sure(tasks, items)
    found = latest_arrivals(plan, draws=3)
    assert len(found) == MOST + 1
    assert not any(one.tried for one in found.values())
    said: list[str] = []
    lines = order_lines(plan, late_day=10.0, draws=3, report=lambda _: None, said=said)
    assert f"{MOST + 1} orders are too many" in said[0]
    assert all(line.later_days is None for line in lines)
    assert not any("first flight" in line.says for line in lines)


def test_it_can_be_stopped():
    def stop(_: str) -> None:
        raise Stopped("plan")

    with pytest.raises(Stopped):
        latest_arrivals(doubtful(), draws=10, report=stop)
