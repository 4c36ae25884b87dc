"""The newsvendor's fractile in closed form (Arrow, Harris & Marschak 1951), and brute force on few orders."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from ribwright.core.planning.cash import Purse, Scenarios, best_orders, item_costs, shortfall
from ribwright.core.planning.orders import critical_fractile
from ribwright.errors import OutOfRangeError


def made(items: int, count: int, seed: int) -> Scenarios:
    g = np.random.default_rng(seed)
    return Scenarios(
        need=g.uniform(4, 20, items) + g.normal(0, 2, (count, items)),
        lead=np.exp(np.log(g.uniform(1, 10, items)) + 0.3 * g.normal(size=(count, items))),
        price=g.uniform(2_000, 9_000, items),
        deposit=g.uniform(0, 1_500, items),
        late_month=g.uniform(100, 600, items),
        holding_month=g.uniform(10, 80, items),
    )


def payments(world: Scenarios, months: int) -> np.ndarray:
    """Money out, summed up to each month, shape (items, months of order, scenarios, months): one row after another."""
    scenarios, items = world.need.shape
    last = months + int(np.ceil(world.lead.max())) + 1
    out = np.zeros((items, months, scenarios, last))
    for i, m, q in itertools.product(range(items), range(months), range(scenarios)):
        out[i, m, q, m:] += world.deposit[i]
        out[i, m, q, int(np.ceil(m + world.lead[q, i])) :] += world.price[i] - world.deposit[i]
    return out


def test_fractile():
    assert critical_fractile(under_cost=3.0, over_cost=1.0) == 0.75
    with pytest.raises(OutOfRangeError):
        critical_fractile(under_cost=0.0, over_cost=0.0)


def test_cheapest_month_of_an_exponential_need_is_the_fractile():
    g = np.random.default_rng(1)
    need = g.exponential(20.0, (200_000, 1))
    one = np.ones(1)
    world = Scenarios(need, np.zeros_like(need), one, 0 * one, 3 * one, one)
    best = int(np.argmin(item_costs(world, 60)[0]))
    # In time with chance cu/(cu+co) = .75: order at the .25 quantile of the need, −20 ln .75 = 5.75.
    assert best == round(-20 * np.log(0.75))


@pytest.mark.parametrize(
    "purse", [Purse(1e9, 0.0), Purse(2_000, 900.0, 0.0, 0.1), Purse(6_000, 500.0, 500.0, 0.3)]
)
@pytest.mark.parametrize("items", [2, 3])
def test_brute_force_on_few_items_under_three_purses(items, purse):
    world = made(items, 60, 10 + items)
    months = 24
    costs, table = item_costs(world, months), payments(world, months)
    there = purse.now - purse.least + purse.monthly * np.arange(table.shape[-1])
    best = np.inf
    for one in itertools.product(range(months), repeat=items):
        out = sum(table[i, m] for i, m in enumerate(one))
        if np.mean(np.any(out > there + 1e-6, axis=1)) <= purse.risk:
            best = min(best, sum(costs[i, m] for i, m in enumerate(one)))
    found = best_orders(world, purse, months=months)
    assert found.affordable == np.isfinite(best)
    if found.affordable:
        assert found.cost == pytest.approx(best)
        assert found.shortfall <= purse.risk


def test_eight_items_keep_the_risk_on_fresh_scenarios():
    world = made(8, 1_500, 5)

    def part(low, high):
        return Scenarios(
            world.need[low:high],
            world.lead[low:high],
            world.price,
            world.deposit,
            world.late_month,
            world.holding_month,
        )

    purse = Purse(9_000, 2_200.0, 0.0, 0.1)
    found = best_orders(part(0, 500), purse, months=36)
    assert found.affordable
    assert shortfall(part(500, 1_500), purse, found.months, 36) <= purse.risk + 0.02


@pytest.mark.parametrize("seed", [0, 1, 5, 7, 9])
def test_the_search_finds_what_complete_enumeration_finds(seed):
    """A fourth item that costs nothing sends the same problem to the search that more than three items get."""
    three, purse = made(3, 60, seed), Purse(2_000 + 300 * seed, 800.0, 0.0, 0.1)
    nothing = np.zeros((60, 1))
    four = Scenarios(
        np.hstack([three.need, nothing]), np.hstack([three.lead, nothing]),
        *(np.append(one, 0.0) for one in (three.price, three.deposit, three.late_month, three.holding_month)),
    )  # fmt: skip
    whole, searched = best_orders(three, purse, months=36), best_orders(four, purse, months=36)
    assert whole.affordable
    assert searched.affordable
    assert searched.cost == pytest.approx(whole.cost)
