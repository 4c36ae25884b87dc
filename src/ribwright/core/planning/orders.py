"""By when each item must be ordered, and what a month earlier or later costs.

An item's *need* is the moment at which the first task that uses it could begin if the item were there
already. It is drawn with the rest of the plan; the lead time is drawn beside it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from datetime import date, timedelta
from statistics import NormalDist

import numpy as np
import numpy.typing as npt

from ribwright.core.planning.calendars import DAY
from ribwright.core.planning.network import ident, network
from ribwright.core.planning.risk import shift_days, simulated, with_item
from ribwright.core.planning.tasks import Item, Plan
from ribwright.errors import OutOfRangeError, UnknownNameError

Floats = npt.NDArray[np.float64]

MONTH = 365.25 / 12.0


def critical_fractile(*, under_cost: float, over_cost: float) -> float:
    """The newsvendor's fractile cu / (cu + co): the chance of being in time that costs least.

    Args:
        under_cost: Cost of a day too late, more than 0.
        over_cost: Cost of a day too early, 0 or more.

    Raises:
        OutOfRangeError: Negative costs, or both zero.
    """
    if (
        under_cost < 0
        or over_cost < 0
        or not math.isfinite(under_cost + over_cost)
        or under_cost + over_cost == 0
    ):
        raise OutOfRangeError(
            "costs of being late and early",
            found=f"{under_cost:g}, {over_cost:g}",
            allowed="0 or more, not both 0",
        )
    return under_cost / (under_cost + over_cost)


def leads(item: Item, *, draws: int, seed: int) -> Floats:
    """Drawn lead times in days, shape (draws,), from the same counter as the simulation's."""
    from ribwright.core.planning import chance_compiled

    name = ident(f"item {item.key}")
    z = np.array([chance_compiled.normal(np.uint64(seed), np.uint64(q), name) for q in range(draws)])
    days: Floats = item.lead_days * np.exp(math.log(item.lead_spread) * z)
    return days


def still_out(item: Item, today: date) -> Item:
    """An order that is out keeps its date; once it might have come, what is left is drawn anew.

    With L log-normal and e days gone, the rest given L > e has the quantile L(F(e) + p·(1 − F(e))) − e. A
    log-normal through its middle and its 84 in 100 point stands for it, so that a delivery that is overdue is
    never taken for one that stands at the door.
    """
    gone = (today - item.order_on).days if item.order_on is not None else 0
    if item.arrived or not item.ordered or gone <= 0 or item.lead_days <= 0 or item.lead_spread <= 1.0:
        return item
    law = NormalDist(math.log(item.lead_days), math.log(item.lead_spread))
    passed = law.cdf(math.log(gone))
    if passed < 0.02:
        return item
    middle, high = (
        max(1.0, math.exp(law.inv_cdf(min(1.0 - 1e-9, passed + p * (1.0 - passed)))) - gone)
        for p in (0.5, 0.8413447460685429)
    )
    return replace(item, order_on=today, lead_days=middle, lead_spread=min(5.0, max(1.05, high / middle)))


def needs(plan: Plan, *, draws: int = 500, seed: int = 1) -> dict[str, Floats]:
    """For each item not yet here: days from today to the need of it, one a draw, were everything here."""
    waiting = [item.key for item in plan.items if not item.arrived]
    net = network(plan, early=waiting)
    made = simulated(net, draws=draws, seed=seed, starts=True)
    out: dict[str, Floats] = {}
    for key in waiting:
        users = [i for i, task in enumerate(net.tasks) if key in task.parts]
        if users:
            out[key] = made.starts[:, users].min(axis=1) / DAY
    return out


@dataclass(frozen=True, slots=True)
class OrderBy:
    """When to order an item.

    Attributes:
        key: The item.
        by: The last day that keeps it in time with the chance asked for; before today means: too late.
        cheapest: The day on which being early and being late cost least together, never before today.
        chance_today: Chance of being in time if ordered today.
        need: Middle of the days on which it is first needed.
        month_earlier: What ordering a month before `cheapest` costs more.
        month_later: What ordering a month after `cheapest` costs more.
        order_now: Whether `by` or `cheapest` has come.
    """

    key: str
    by: date
    cheapest: date
    chance_today: float
    need: date
    month_earlier: float
    month_later: float
    order_now: bool


def order_by(
    plan: Plan, key: str, *, chance: float = 0.8, late_cost_day: float = 10.0, draws: int = 500, seed: int = 1,
    need: Floats | None = None,
) -> OrderBy:  # fmt: skip
    """By when an item must be ordered.

    With slack = need − lead time, ordering x days from today is in time when x ≤ slack. The last day that
    holds with chance p is the (1−p) quantile of slack, and the cheapest day is the newsvendor's: the
    quantile at 1 − fractile of (cost of a day late, cost of a day of keeping).

    Args:
        plan: The plan.
        key: The item.
        chance: Chance of being in time.
        late_cost_day: What a day of waiting for it costs.
        draws: How many draws.
        seed: As in the simulation.
        need: Its needs, if `needs` was called before.

    Raises:
        UnknownNameError: No such item, or no task uses it.
        OutOfRangeError: A chance or cost that can't be.
    """
    if not 0.0 < chance < 1.0:
        raise OutOfRangeError("chance", found=chance, allowed="more than 0 and less than 1")
    item = next((item for item in plan.items if item.key == key), None)
    if item is None:
        raise UnknownNameError("item", found=key, allowed=", ".join(item.key for item in plan.items))
    if need is None:
        need = needs(plan, draws=draws, seed=seed).get(key)
        if need is None:
            raise UnknownNameError(
                "item", found=key, allowed="an item that is not here and that an open task uses"
            )
    slack = np.sort(need - leads(item, draws=len(need), seed=seed))
    holding_day = item.holding_month / MONTH
    fractile = critical_fractile(under_cost=late_cost_day, over_cost=holding_day)

    def cost(days: float) -> float:
        late = np.maximum(0.0, days - slack)
        early = np.maximum(0.0, slack - days)
        return float(np.mean(late_cost_day * late + holding_day * early))

    last = _low_quantile(slack, 1.0 - chance)
    best = max(0.0, _low_quantile(slack, 1.0 - fractile))
    by = plan.start + timedelta(days=math.floor(last))
    cheapest = plan.start + timedelta(days=math.floor(best))
    return OrderBy(
        key=key,
        by=by,
        cheapest=cheapest,
        chance_today=float(np.mean(slack >= 0.0)),
        need=plan.start + timedelta(days=int(np.median(need))),
        month_earlier=cost(best - MONTH) - cost(best),
        month_later=cost(best + MONTH) - cost(best),
        order_now=min(by, cheapest) <= plan.start,
    )


def _low_quantile(ranked: Floats, p: float) -> float:
    """The largest x with at most a share p of the values below it."""
    at = min(len(ranked) - 1, math.floor(p * len(ranked) + 1e-9))
    return float(ranked[at])


def month_later_days(plan: Plan, key: str, *, draws: int = 1_000, seed: int = 1) -> tuple[float, float]:
    """By how many days the 4-in-5 date moves if the item is ordered a month later, with standard error."""
    item = next(item for item in plan.items if item.key == key)
    later = with_item(plan, key, order_on=(item.order_on or plan.start) + timedelta(days=30), ordered=False)
    base = simulated(network(plan), draws=draws, seed=seed).ends
    return shift_days(base, simulated(network(later), draws=draws, seed=seed).ends)
