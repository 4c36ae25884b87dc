"""All orders together under the cash there is: month by month, with the risk of running short stated."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from ribwright.errors import OutOfRangeError

Floats = npt.NDArray[np.floating]
Ints = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Purse:
    """Savings. Money is in the plan's currency.

    Attributes:
        now: What is there today.
        monthly: What is added each month.
        least: What must never be gone below.
        risk: Chance that may be run, over the whole time, of going below it.
    """

    now: float
    monthly: float
    least: float = 0.0
    risk: float = 0.1


@dataclass(frozen=True, slots=True)
class Scenarios:
    """What may happen, one row a scenario and one column an item; months from today.

    Attributes:
        need: Month in which the item is needed.
        lead: Months from order to delivery.
        price: What it costs, per item, shape (items,).
        deposit: What is paid with the order, per item.
        late_month: What a month of waiting for it costs, per item.
        holding_month: What a month of keeping it costs, per item.
    """

    need: Floats
    lead: Floats
    price: Floats
    deposit: Floats
    late_month: Floats
    holding_month: Floats


@dataclass(frozen=True, slots=True)
class OrderPlan:
    """When to order what.

    Attributes:
        months: Month of the order of each item, from today.
        cost: Mean cost of being early and late.
        shortfall: Share of the scenarios in which the purse went below its least.
        affordable: Whether that share is within the risk chosen.
    """

    months: tuple[int, ...]
    cost: float
    shortfall: float
    affordable: bool


def check_purse(purse: Purse) -> None:
    """Raise if the purse can't be."""
    if not 0.0 <= purse.risk < 1.0:
        raise OutOfRangeError("risk of running short", found=purse.risk, allowed="0 to less than 1")
    if not np.isfinite([purse.now, purse.monthly, purse.least]).all():
        raise OutOfRangeError("purse", found="not a number", allowed="amounts of money")


def item_costs(made: Scenarios, months: int) -> Floats:
    """Mean cost of being early or late, shape (items, months), for an order in each month."""
    order = np.arange(months)[None, None, :]
    slack = made.need[:, :, None] - made.lead[:, :, None] - order
    late = np.maximum(0.0, -slack) * made.late_month[None, :, None]
    early = np.maximum(0.0, slack) * made.holding_month[None, :, None]
    costs: Floats = (late + early).mean(axis=0)
    return costs


def payments(made: Scenarios, months: int) -> Floats:
    """Money out, summed up to each month, shape (items, months of order, scenarios, months)."""
    scenarios, items = made.need.shape
    out = np.zeros((items, months, scenarios, months), np.float32)
    time = np.arange(months)
    for i in range(items):
        for m in range(months):
            paid = np.where(time >= m, made.deposit[i], 0.0)[None, :]
            there = np.ceil(m + made.lead[:, i])[:, None]
            out[i, m] = paid + np.where(time[None, :] >= there, made.price[i] - made.deposit[i], 0.0)
    return out


def shortfall(made: Scenarios, purse: Purse, chosen: Sequence[int], months: int) -> float:
    """Share of the scenarios in which the purse goes below its least in any month."""
    table = payments(made, months)
    return _short(table, purse, chosen, months)


def _short(table: Floats, purse: Purse, chosen: Sequence[int], months: int) -> float:
    out = sum(table[i, m] for i, m in enumerate(chosen))
    return float(np.mean((out > _there(purse, months)[None, :] + 1e-6).any(axis=1)))


def _there(purse: Purse, months: int) -> Floats:
    there: Floats = purse.now - purse.least + purse.monthly * np.arange(months)
    return there


def best_orders(
    made: Scenarios, purse: Purse, *, months: int = 48, rounds: int = 12, fixed: Sequence[int] = ()
) -> OrderPlan:
    """Choose the month of every order: the cheapest in mean that keeps the risk of running short.

    Args:
        made: What may happen.
        purse: What there is.
        months: How far ahead.
        rounds: Rounds of moves.
        fixed: Items whose order is out already: month 0 is theirs, only the rest of the price is to come.

    Up to three items are searched completely, branch by branch in order of cost. More are searched by
    coordinate and pair moves from several starts; that gives no proof. If no choice keeps the risk, the one
    that comes nearest to it is returned, marked as not affordable.

    Raises:
        OutOfRangeError: A purse that can't be, or fewer than one month.
    """
    check_purse(purse)
    if not 1 <= months <= 240:
        raise OutOfRangeError("months", found=months, allowed="1 to 240")
    costs, table = item_costs(made, months), payments(made, months)
    items = costs.shape[0]
    if items == 0:
        return OrderPlan((), 0.0, 0.0, True)
    for i in fixed:
        # The same cost and the same payments in whatever month: no choice of month is a choice of its date.
        costs[i], table[i] = costs[i, 0], table[i, 0]
    if items <= 3:
        chosen = _complete(costs, table, purse, months)
    else:
        chosen = _moves(costs, table, purse, months, rounds)
    chosen = [0 if i in fixed else m for i, m in enumerate(chosen)]
    risk = _short(table, purse, chosen, months)
    total = float(sum(costs[i, m] for i, m in enumerate(chosen)))
    return OrderPlan(tuple(chosen), total, risk, risk <= purse.risk + 1e-12)


def _complete(costs: Floats, table: Floats, purse: Purse, months: int) -> list[int]:
    every = list(itertools.product(range(months), repeat=costs.shape[0]))
    total = np.array([sum(costs[i, m] for i, m in enumerate(one)) for one in every])
    nearest, least = every[0], 2.0
    for at in np.argsort(total, kind="stable"):
        risk = _short(table, purse, every[at], months)
        if risk <= purse.risk + 1e-12:
            return list(every[at])
        if risk < least:
            nearest, least = every[at], risk
    return list(nearest)


def _moves(costs: Floats, table: Floats, purse: Purse, months: int, rounds: int) -> list[int]:
    items = costs.shape[0]
    there = _there(purse, months)[None, :] + 1e-6
    scale = float(costs.max() - costs.min()) * items + 1.0

    def risks(others: Floats, i: int) -> Floats:
        """Risk for every month of item i, the others' payments given."""
        short = ((others[None] + table[i]) > there[None]).any(axis=2).mean(axis=1)
        return np.asarray(short, dtype=np.float64)

    def settle(chosen: list[int]) -> tuple[float, list[int]]:
        out = sum(table[i, m] for i, m in enumerate(chosen))
        for _ in range(rounds):
            before = list(chosen)
            for i in range(items):
                others = out - table[i, chosen[i]]
                over = np.maximum(0.0, risks(others, i) - purse.risk - 1e-12)
                chosen[i] = int(np.argmin(costs[i] + scale * over * 1e3))
                out = others + table[i, chosen[i]]
            if chosen == before:
                break
        over = max(0.0, float(((out > there).any(axis=1)).mean()) - purse.risk - 1e-12)
        return float(sum(costs[i, m] for i, m in enumerate(chosen))) + scale * over * 1e3, chosen

    cheapest = [int(np.argmin(row)) for row in costs]
    starts = [cheapest, [months - 1] * items]
    starts += [[min(months - 1, m + shift) for m in cheapest] for shift in (3, 6, 12)]
    best_value, best = min((settle(list(start)) for start in starts), key=lambda pair: pair[0])
    for i, j in itertools.combinations(range(items), 2):
        for step_i, step_j in ((1, -1), (-1, 1), (2, -2), (-2, 2)):
            trial = list(best)
            trial[i] = min(months - 1, max(0, trial[i] + step_i))
            trial[j] = min(months - 1, max(0, trial[j] + step_j))
            out = sum(table[k, m] for k, m in enumerate(trial))
            over = max(0.0, float(((out > there).any(axis=1)).mean()) - purse.risk - 1e-12)
            value = float(sum(costs[k, m] for k, m in enumerate(trial))) + scale * over * 1e3
            if value < best_value - 1e-12:
                best_value, best = value, trial
    return best


def band(made: Scenarios, purse: Purse, chosen: Sequence[int], *, months: int = 48) -> Floats:
    """What is in the purse at each month's end at 1, 5 and 9 chances in 10 of being less, shape (3, months)."""
    table = payments(made, months)
    left = _there(purse, months)[None, :] + purse.least - sum(table[i, m] for i, m in enumerate(chosen))
    shown: Floats = np.quantile(left, (0.1, 0.5, 0.9), axis=0)
    return shown
