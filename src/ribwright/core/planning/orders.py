"""By when each item must be ordered, and what a month earlier or later costs.

An item's *need* is the latest arrival that leaves the end of the plan where it is (`arrivals`). It is drawn with the
rest of the plan; the lead time is drawn beside it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from datetime import date, timedelta
from statistics import NormalDist

import numpy as np

from ribwright.core.planning.arrivals import Arrival, Floats, latest_arrivals
from ribwright.core.planning.network import ident
from ribwright.core.planning.tasks import Item, Plan
from ribwright.errors import OutOfRangeError, UnknownNameError

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


@dataclass(frozen=True, slots=True)
class OrderBy:
    """When to order an item.

    Attributes:
        key: The item.
        by: The last day on which ordering it leaves the plan's end where it is, with the chance asked for; before today
            means: too late.
        by_first_use: The last day that has it here, with that chance, when work with it could first begin.
        cheapest: The day on which being early and being late cost least together, never before today.
        chance_today: Chance that the plan's end doesn't wait for it if it is ordered today.
        need: Middle of the latest arrivals that leave the end where it is.
        first_use: Middle of the days on which work with it could first begin.
        month_earlier: What ordering a month before `cheapest` costs more.
        month_later: What ordering a month after `cheapest` costs more.
        order_now: Whether `by` or `cheapest` has come.
    """

    key: str
    by: date
    by_first_use: date
    cheapest: date
    chance_today: float
    need: date
    first_use: date
    month_earlier: float
    month_later: float
    order_now: bool


def order_by(
    plan: Plan, key: str, *, chance: float = 0.8, late_cost_day: float = 10.0, capital_year: float = 0.0,
    draws: int = 500, seed: int = 1, arrival: Arrival | None = None,
) -> OrderBy:  # fmt: skip
    """By when an item must be ordered.

    With slack = need − lead time, an order x days from today moves no date when x ≤ slack. The last day that
    holds with chance p is the (1−p) quantile of slack, and the cheapest day is the newsvendor's: the
    quantile at 1 − fractile of (cost of a day late, cost of a day of keeping).

    Args:
        plan: The plan.
        key: The item.
        chance: Chance of being in time.
        late_cost_day: What a day of waiting for it costs.
        capital_year: What a year of money tied up costs, as a share of the price.
        draws: How many draws.
        seed: As in the simulation.
        arrival: What `latest_arrivals` says of it, if that was called before, with this seed.

    Raises:
        UnknownNameError: No such item, or no task uses it.
        OutOfRangeError: A chance or cost that can't be.
    """
    if not 0.0 < chance < 1.0:
        raise OutOfRangeError("chance", found=chance, allowed="more than 0 and less than 1")
    item = next((item for item in plan.items if item.key == key), None)
    if item is None:
        raise UnknownNameError("item", found=key, allowed=", ".join(item.key for item in plan.items))
    if arrival is None:
        arrival = latest_arrivals(plan, draws=draws, seed=seed).get(key)
        if arrival is None:
            raise UnknownNameError(
                "item", found=key, allowed="an item that is not here and that an open task uses"
            )
    slack = np.sort(arrival.latest - leads(item, draws=len(arrival.latest), seed=seed))
    holding_day = kept_month(item, capital_year) / MONTH
    # Where neither costs anything only the chance asked for is left to go by.
    free = late_cost_day == 0.0 and holding_day == 0.0
    fractile = chance if free else critical_fractile(under_cost=late_cost_day, over_cost=holding_day)

    def cost(days: float) -> float:
        late = np.maximum(0.0, days - slack)
        early = np.maximum(0.0, slack - days)
        return float(np.mean(late_cost_day * late + holding_day * early))

    best = max(0.0, _low_quantile(slack, 1.0 - fractile))
    by = last_day(plan, item, arrival.latest, chance=chance, seed=seed)
    cheapest = plan.start + timedelta(days=math.floor(best))
    return OrderBy(
        key=key,
        by=by,
        by_first_use=last_day(plan, item, arrival.first_use, chance=chance, seed=seed),
        cheapest=cheapest,
        chance_today=float(np.mean(slack >= 0.0)),
        need=plan.start + timedelta(days=int(np.median(arrival.latest))),
        first_use=plan.start + timedelta(days=int(np.median(arrival.first_use))),
        month_earlier=cost(best - MONTH) - cost(best),
        month_later=cost(best + MONTH) - cost(best),
        order_now=min(by, cheapest) <= plan.start,
    )


def last_day(plan: Plan, item: Item, needed: Floats, *, chance: float = 0.8, seed: int = 1) -> date:
    """The last day on which to order an item so that it is there in time with a chance.

    Args:
        plan: Whose start is today.
        item: Not ordered yet.
        needed: Days from today to the moment at which it must be there, one a draw.
        chance: More than 0 and less than 1.
        seed: With which `needed` was drawn.
    """
    slack = np.sort(needed - leads(item, draws=len(needed), seed=seed))
    return plan.start + timedelta(days=math.floor(_low_quantile(slack, 1.0 - chance)))


def kept_month(item: Item, capital_year: float) -> float:
    """What keeping an item a month costs: space and warranty as entered, and the money tied up in it."""
    return item.holding_month + item.price * capital_year / 12.0


def _low_quantile(ranked: Floats, p: float) -> float:
    """The largest x with at most a share p of the values below it."""
    at = min(len(ranked) - 1, math.floor(p * len(ranked) + 1e-9))
    return float(ranked[at])
