"""All orders together under the cash there is: month by month, with the risk of running short stated."""

from __future__ import annotations

import itertools
import math
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


LONGEST = 360
"""Months that money is followed for at most: past the last order to the last delivery."""
TINY = 1e-6
SWEEPS = 4
"""Rounds over all pairs of items at most; it ends with the first that finds nothing."""
FAR, NEARBY = 20, 4
"""Months of the first of a pair that are tried: so many spread over all, and so many to either side of where it is."""


def check_purse(purse: Purse) -> None:
    """Raise if the purse can't be."""
    if not 0.0 <= purse.risk < 1.0:
        raise OutOfRangeError("risk of running short", found=purse.risk, allowed="0 to less than 1")
    if not np.isfinite([purse.now, purse.monthly, purse.least]).all():
        raise OutOfRangeError(
            "money at hand, monthly and kept back", found="not a number", allowed="amounts of money"
        )


def item_costs(made: Scenarios, months: int) -> Floats:
    """Mean cost of being early or late, shape (items, months), for an order in each month."""
    order = np.arange(months)[None, None, :]
    slack = made.need[:, :, None] - made.lead[:, :, None] - order
    late = np.maximum(0.0, -slack) * made.late_month[None, :, None]
    early = np.maximum(0.0, slack) * made.holding_month[None, :, None]
    costs: Floats = (late + early).mean(axis=0)
    return costs


def paid(made: Scenarios, chosen: Sequence[int], months: int) -> Floats:
    """Money out, summed up to each month, shape (scenarios, months until the last delivery).

    The deposit goes out in the month of the order, the rest in the month in which it comes.

    Args:
        made: What may happen.
        chosen: Month of each order.
        months: How far ahead orders may lie.
    """
    out = np.zeros((made.need.shape[0], _followed(made, months)))
    for i, month in enumerate(chosen):
        out += _paid_for(made, i, month, out.shape[1])
    return out


def _paid_for(made: Scenarios, i: int, month: int, months: int) -> Floats:
    time = np.arange(months)[None, :]
    comes = _comes(made, i, np.array([month]), months)
    out: Floats = made.deposit[i] * (time >= month) + (made.price[i] - made.deposit[i]) * (time >= comes)
    return out


def _followed(made: Scenarios, months: int) -> int:
    last = float(made.lead.max()) if made.lead.size else 0.0
    return min(LONGEST, months + math.ceil(last) + 1)


def _comes(made: Scenarios, i: int, order: Ints, months: int) -> Ints:
    """Month in which item i comes, shape (scenarios, orders); the last that is followed, if it is later."""
    there: Ints = np.minimum(months - 1, np.ceil(order[None, :] + made.lead[:, i, None])).astype(np.int64)
    return there


def shortfall(made: Scenarios, purse: Purse, chosen: Sequence[int], months: int) -> float:
    """Share of the scenarios in which the purse goes below its least in any month."""
    return float(np.mean((_slack(made, purse, chosen, months) < -TINY).any(axis=1)))


def _slack(made: Scenarios, purse: Purse, chosen: Sequence[int], months: int) -> Floats:
    """What is there above the least, shape (scenarios, months)."""
    out = paid(made, chosen, months)
    slack: Floats = purse.now - purse.least + purse.monthly * np.arange(out.shape[1])[None, :] - out
    return slack


def _risks(made: Scenarios, slack: Floats, i: int, months: int) -> Floats:
    """Risk of running short for every month of item i, shape (months,), with what is there without it.

    The deposit may not exceed the price: then it is enough that what is there stays at 0 before the order, at the deposit
    from the order on, and at the price from the delivery on.
    """
    lowest_from = np.minimum.accumulate(slack[:, ::-1], axis=1)[:, ::-1]
    lowest_before = np.minimum.accumulate(slack, axis=1)
    order = np.arange(months)
    before = np.concatenate([np.full((len(slack), 1), np.inf), lowest_before[:, : months - 1]], axis=1)
    comes = _comes(made, i, order, slack.shape[1])
    short = (
        (before < -TINY)
        | (lowest_from[:, :months] < made.deposit[i] - TINY)
        | (np.take_along_axis(lowest_from, comes, axis=1) < made.price[i] - TINY)
    )
    risks: Floats = short.mean(axis=0)
    return risks


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

    Up to three items are searched completely. More are searched by coordinate and pair moves from several starts; that
    gives no proof. If no choice keeps the risk, the one that comes nearest to it is returned, marked as not affordable.

    Raises:
        OutOfRangeError: A purse that can't be, fewer than one month, or a deposit above its price.
    """
    check_purse(purse)
    if not 1 <= months <= 240:
        raise OutOfRangeError("months", found=months, allowed="1 to 240")
    if np.any(made.deposit > made.price):
        raise OutOfRangeError("deposit", found=float(made.deposit.max()), allowed="at most the price")
    costs = item_costs(made, months)
    items = costs.shape[0]
    if items == 0:
        return OrderPlan((), 0.0, 0.0, True)
    free = [i for i in range(items) if i not in fixed]
    search = _complete if len(free) <= 3 else _moves
    chosen = search(made, costs, purse, months, rounds, free) if free else [0] * items
    risk = shortfall(made, purse, chosen, months)
    total = float(sum(costs[i, m] for i, m in enumerate(chosen)))
    return OrderPlan(tuple(chosen), total, risk, risk <= purse.risk + 1e-12)


def _complete(
    made: Scenarios, costs: Floats, purse: Purse, months: int, rounds: int, free: list[int]
) -> list[int]:
    """All months of all but one of the free items, the cheapest first, and of the last one all at once."""
    *others, last = free
    every = list(itertools.product(range(months), repeat=len(others)))
    pairs = np.array(every, np.int64).reshape(len(every), len(others))
    total = sum((costs[i][pairs[:, k]] for k, i in enumerate(others)), np.zeros(len(pairs)))
    chosen = [0] * costs.shape[0]
    best, best_cost, nearest, least = list(chosen), math.inf, list(chosen), math.inf
    for at in np.argsort(total, kind="stable"):
        if total[at] + float(costs[last].min()) >= best_cost:
            break
        for k, i in enumerate(others):
            chosen[i] = int(pairs[at, k])
        slack = _slack(made, purse, chosen, months)
        risks = _risks(made, slack + _paid_for(made, last, chosen[last], slack.shape[1]), last, months)
        if risks.min() < least:
            least, nearest = float(risks.min()), [*chosen]
            nearest[last] = int(np.argmin(risks))
        kept = np.where(risks <= purse.risk + 1e-12, costs[last], math.inf)
        if total[at] + kept.min() < best_cost:
            best_cost, best = float(total[at] + kept.min()), [*chosen]
            best[last] = int(np.argmin(kept))
    return best if math.isfinite(best_cost) else nearest


def _moves(
    made: Scenarios, costs: Floats, purse: Purse, months: int, rounds: int, free: list[int]
) -> list[int]:
    """Each item's month in turn, then pairs, from several starts; a risk above the one allowed costs more than any month."""
    steep = 1e3 * (float(costs.max() - costs.min()) * costs.shape[0] + 1.0)

    def cost_of(chosen: list[int]) -> float:
        return float(sum(costs[i, m] for i, m in enumerate(chosen)))

    def over(risks: Floats) -> Floats:
        above: Floats = steep * np.maximum(0.0, risks - purse.risk - 1e-12)
        return above

    def settle(chosen: list[int]) -> tuple[float, list[int]]:
        slack = _slack(made, purse, chosen, months)
        for _ in range(rounds):
            before = list(chosen)
            for i in free:
                slack += _paid_for(made, i, chosen[i], slack.shape[1])
                chosen[i] = int(np.argmin(costs[i] + over(_risks(made, slack, i, months))))
                slack -= _paid_for(made, i, chosen[i], slack.shape[1])
            if chosen == before:
                break
        return cost_of(chosen) + float(over((slack < -TINY).any(axis=1).mean())), chosen

    def give_way(value: float, chosen: list[int], i: int, j: int) -> tuple[float, list[int]]:
        """What one item can't do alone two can: every month of j beside a spread of months of i."""
        slack = _slack(made, purse, chosen, months)
        slack += _paid_for(made, i, chosen[i], slack.shape[1]) + _paid_for(made, j, chosen[j], slack.shape[1])
        others = cost_of(chosen) - costs[i, chosen[i]] - costs[j, chosen[j]]
        spread = {round(k * (months - 1) / (FAR - 1)) for k in range(FAR)}
        near = {min(months - 1, max(0, chosen[i] + k)) for k in range(-NEARBY, NEARBY + 1)}
        for month in sorted(spread | near):
            if others + costs[i, month] + costs[j].min() >= value - 1e-9:
                continue
            beside = slack - _paid_for(made, i, month, slack.shape[1])
            both = others + costs[i, month] + costs[j] + over(_risks(made, beside, j, months))
            at = int(np.argmin(both))
            if both[at] < value - 1e-9:
                value, chosen = float(both[at]), [*chosen]
                chosen[i], chosen[j] = month, at
        return value, chosen

    cheapest = [int(np.argmin(costs[i])) if i in free else 0 for i in range(costs.shape[0])]
    starts = [
        [min(months - 1, m + shift) if i in free else 0 for i, m in enumerate(cheapest)]
        for shift in (0, 3, 6, 12, months)
    ]
    value, best = min((settle(start) for start in starts), key=lambda pair: pair[0])
    for sweep in range(SWEEPS):
        before = value
        for i, j in itertools.combinations(free if sweep % 2 else free[::-1], 2):
            value, best = give_way(value, best, i, j)
        if value >= before - 1e-9:
            break
    return best


def band(made: Scenarios, purse: Purse, chosen: Sequence[int], *, months: int = 48) -> Floats:
    """What is in the purse at each month's end at 1, 5 and 9 chances in 10 of being less, shape (3, months)."""
    left = _slack(made, purse, chosen, months)[:, :months] + purse.least
    shown: Floats = np.quantile(left, (0.1, 0.5, 0.9), axis=0)
    return shown
