"""Orders: by when, what a month costs, all of them together under the money there is."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np

from ribwright.core.planning.arrivals import MOST, Arrival, Floats, latest_arrivals
from ribwright.core.planning.cash import OrderPlan, Purse, Scenarios, band, best_orders, shortfall
from ribwright.core.planning.drawings import purse_picture
from ribwright.core.planning.network import network
from ribwright.core.planning.orders import MONTH, OrderBy, kept_month, leads, order_by
from ribwright.core.planning.risk import shift_days, simulated, with_item
from ribwright.core.planning.tasks import Item, Plan
from ribwright.core.scene import Scene
from ribwright.errors import RibwrightError

SCENARIOS = 500
FRESH_SEED = 1_000_003
MOST_MONTHS = 120


@dataclass(frozen=True, slots=True)
class OrderLine:
    """An order on the page.

    Attributes:
        item: what it is.
        by: the dates; None when it is ordered already or nothing open uses it.
        day: the day by which to order, as advised; None when `by` is.
        comes: middle of the days on which one that is out comes.
        later_days: days by which a month later moves the 4-in-5 date; None where nothing uses it, or where there are too many
            orders to try each.
        later_error: standard error of that.
        says: the answer to "order now?".
        now: whether the answer is yes.
    """

    item: Item
    by: OrderBy | None
    day: date | None
    comes: date | None
    later_days: float | None
    later_error: float | None
    says: str
    now: bool


@dataclass(frozen=True, slots=True)
class CashView:
    """All orders together under the money.

    Attributes:
        purse: as entered.
        months: each order's title and the month in which to place it; those that are out stand at the first.
        plan: cost and shortfall on the scenarios that it was chosen on.
        fresh: share of as many fresh scenarios in which the money runs short.
        scenarios: how many of each.
        looked: months ahead.
        picture: the purse with its band.
        beyond: what is needed too late to be looked at.
        last: what finds no month that the money allows before the last one looked at.
        flight: by how many days these months move the 4-in-5 date, against each order on its own day.
        flight_error: standard error of that.
    """

    purse: Purse
    months: tuple[tuple[str, date, float], ...]
    plan: OrderPlan
    fresh: float
    scenarios: int
    looked: int
    picture: Scene
    beyond: tuple[str, ...]
    last: tuple[str, ...]
    flight: float
    flight_error: float

    @property
    def says(self) -> str:
        """How often the money runs short, as chosen and on fresh scenarios, against what is allowed."""
        text = (
            f"With these months the money runs short in {100 * self.fresh:.0f} of 100 fresh scenarios"
            f" ({100 * self.plan.shortfall:.0f} of 100 on those they were chosen on; {100 * self.purse.risk:g} are allowed)"
        )
        if not self.plan.affordable:
            text += ": it can’t be kept with this money"
        text += ". "
        if self.last:
            text += f"The money does not reach in the {self.looked} months looked at for: {', '.join(self.last)}. "
        if abs(self.flight) < max(0.5, 2.0 * self.flight_error):
            return text + "Waiting for money moves the 4-in-5 date by less than can be told."
        return (
            text
            + f"Waiting for money moves the 4-in-5 date by {self.flight:+.0f} ± {self.flight_error:.0f} days."
        )


def order_lines(
    plan: Plan, *, late_day: float, capital_year: float = 0.0, draws: int = SCENARIOS,
    arrivals: dict[str, Arrival] | None = None, report: Callable[[str], None], said: list[str],
) -> tuple[OrderLine, ...]:  # fmt: skip
    """Every order that is not here, the most pressing first; what is wrong with one is said.

    Args:
        plan: a checked plan.
        late_day: what a day of waiting costs.
        capital_year: what a year of money tied up costs, as a share of it.
        draws: for each run.
        arrivals: what `latest_arrivals` says with as many draws, if that was called before.
        report: told how far it is; may raise `Stopped`.
        said: sentences are added to it.
    """
    open_items = [item for item in plan.items if not item.arrived and not item.key.startswith("answer ")]
    if not open_items:
        return ()
    if arrivals is None:
        arrivals = latest_arrivals(plan, draws=draws, report=report)
    base = simulated(network(plan), draws=draws).ends
    if len(open_items) > MOST:
        said.append(
            f"{len(open_items):,} orders are too many to try how late each may come: each is planned for its first work."
        )
    lines = []
    for place, item in enumerate(open_items):
        report(f"orders: {place} of {len(open_items)}")
        if item.key not in arrivals:
            lines.append(OrderLine(item, None, None, None, None, None, "no open task uses it", False))
            continue
        moved = _month_later(plan, item, base, draws) if len(open_items) <= MOST else None
        try:
            if item.ordered:
                lines.append(_out(plan, item, arrivals[item.key], moved))
            else:
                lines.append(_to_order(plan, item, arrivals[item.key], moved, late_day, capital_year, said))
        except RibwrightError as error:
            said.append(error.sentence())
    return tuple(sorted(lines, key=_press))


def _press(line: OrderLine) -> tuple[bool, date, str]:
    return line.day is None, line.day or line.comes or date.max, line.item.key


def _month_later(plan: Plan, item: Item, base: np.ndarray, draws: int) -> tuple[float, float]:
    if item.ordered:
        later = with_item(plan, item.key, lead_days=item.lead_days + 30.0)
    else:
        later = with_item(plan, item.key, order_on=(item.order_on or plan.start) + timedelta(days=30))
    return shift_days(base, simulated(network(later), draws=draws).ends)


def _out(plan: Plan, item: Item, arrival: Arrival, moved: tuple[float, float] | None) -> OrderLine:
    """An order that is out: when it comes, and what waits for it."""
    begun = ((item.order_on or plan.start) - plan.start).days
    comes = plan.start + timedelta(days=max(0, round(begun + item.lead_days)))
    there = begun + leads(item, draws=len(arrival.latest), seed=1)
    words = (
        f"ordered; comes about {comes:%d %b %Y}, {_in_ten(float(np.mean(arrival.first_use < there)))} that work waits for it,"
        f" {_in_ten(float(np.mean(arrival.latest < there)))} that the first flight does"
    )
    days, error = moved or (None, None)
    return OrderLine(item, None, None, comes, days, error, words, False)


def _to_order(
    plan: Plan, item: Item, arrival: Arrival, moved: tuple[float, float] | None, late_day: float, capital_year: float,
    said: list[str],
) -> OrderLine:  # fmt: skip
    """An order still to be placed: by when, why then, and what a month more does."""
    found = order_by(plan, item.key, late_cost_day=late_day, capital_year=capital_year, arrival=arrival)
    name = item.title or item.key
    kept = kept_month(item, capital_year) * max(0, (found.need - found.first_use).days) / MONTH
    # What costs less to keep than a day of waiting is had for its first work: the order of the work stays free.
    cheap = kept <= late_day
    day = min(found.by_first_use if cheap else found.cheapest, found.by)
    now = day <= plan.start
    words = "order now" if now else "not yet"
    if cheap:
        words += f": cheap to keep, so have it here for its first work, about {found.first_use:%b %Y}"
    elif found.by_first_use < day:
        words += f": its first work may begin about {found.first_use:%b %Y}, other work fills the wait"
    if not arrival.tried:
        words += f"; {_in_ten(found.chance_today)} that it is here for its first work if it is ordered today"
    elif found.by < plan.start:
        words += f"; {_in_ten(found.chance_today)} that the first flight doesn’t wait for it"
    elif found.by == day:
        words += "; later, and the first flight begins to wait for it"
    else:
        words += f"; the first flight holds if it is ordered by {found.by:%d %b %Y}"
    if moved is not None and abs(moved[0]) >= max(0.5, 2.0 * moved[1]):
        words += f"; a month later moves its date by {moved[0]:+.0f} ± {moved[1]:.0f} days"
    if item.order_on is not None and item.order_on > found.need:
        said.append(
            f"{name}: it is to be ordered on {item.order_on}, after the day, about {found.need}, by which it must be here for the first flight’s date."
        )
    if item.order_on is not None and item.order_on > found.by:
        meant = (item.order_on - plan.start).days
        chance = float(np.mean(arrival.latest - leads(item, draws=len(arrival.latest), seed=1) >= meant))
        words += f"; meant for {item.order_on:%d %b %Y}, that is too late: {_in_ten(chance)} that the first flight doesn’t wait for it"
    if item.refundable and item.deposit > 0 and not now:
        words += f"; a place can be held for {item.deposit:,.0f}, which comes back"
    days, error = moved or (None, None)
    return OrderLine(item, found, day, None, days, error, words, now)


def _in_ten(chance: float) -> str:
    if chance < 0.05:
        return "hardly a chance"
    if chance > 0.95:
        return "almost certain"
    tens = min(9, max(1, round(10 * chance)))
    return f"{tens} chance{'s' if tens > 1 else ''} in 10"


def cash_view(
    plan: Plan, purse: Purse, *, late_day: float, months: int, capital_year: float = 0.0,
    lines: Sequence[OrderLine] = (), arrivals: dict[str, Arrival] | None = None, report: Callable[[str], None], scenarios: int = SCENARIOS,
) -> CashView | None:  # fmt: skip
    """Choose every order's month under the money there is, and check it on fresh scenarios.

    Args:
        plan: a checked plan.
        purse: the money.
        late_day: what a day of waiting costs.
        months: how far ahead at most.
        capital_year: what a year of money tied up costs, as a share of it.
        lines: the orders, each by itself: what the months are held against.
        arrivals: what `latest_arrivals` says with as many draws, if that was called before.
        report: told how far it is; may raise `Stopped`.
        scenarios: how many to choose on, and as many fresh ones to check.
    """
    if arrivals is None:
        arrivals = latest_arrivals(plan, draws=scenarios, report=report)
    fresh_arrivals = latest_arrivals(plan, draws=scenarios, seed=FRESH_SEED, report=report)
    need = {key: one.latest for key, one in arrivals.items()}
    fresh_need = {key: one.latest for key, one in fresh_arrivals.items()}
    every = [item for item in plan.items if item.key in need and item.price > 0]
    near = [i for i in every if float(np.quantile(need[i.key], 0.1)) - i.lead_days < (months - 6) * MONTH]
    if not near:
        return None
    made = _scenarios(plan.start, near, need, late_day, capital_year, 1)
    fresh = _scenarios(plan.start, near, fresh_need, late_day, capital_year, FRESH_SEED)
    out = tuple(i for i, item in enumerate(near) if item.ordered)
    report("cash: the month of every order")
    found = best_orders(made, purse, months=months, fixed=out)
    report("cash: checked on fresh scenarios")
    shown = band(made, purse, found.months, months=months)
    days = {
        item.key: plan.start + timedelta(days=round(month * MONTH))
        for item, month in zip(near, found.months, strict=True)
    }
    own = on_their_days(plan, lines)
    moved, error = shift_days(
        simulated(network(own), draws=scenarios).ends,
        simulated(network(_ordered_on(own, days)), draws=scenarios).ends,
    )
    when = tuple((item.title or item.key, days[item.key], item.price) for item in near)
    return CashView(
        purse=purse,
        months=tuple(sorted(when, key=lambda row: (row[1], row[0]))),
        plan=found,
        fresh=shortfall(fresh, purse, found.months, months),
        scenarios=scenarios,
        looked=months,
        picture=purse_picture(plan.start, shown, purse.least),
        beyond=tuple(item.title or item.key for item in every if item not in near),
        last=tuple(i.title or i.key for i, m in zip(near, found.months, strict=True) if m == months - 1),
        flight=moved,
        flight_error=error,
    )


def on_their_days(plan: Plan, lines: Sequence[OrderLine]) -> Plan:
    """The plan with every order placed on the day advised."""
    return _ordered_on(
        plan, {line.item.key: max(plan.start, line.day) for line in lines if line.day is not None}
    )


def moved_in_words(days: float, error: float) -> str:
    """By how much a date moves, said no more exactly than it is known."""
    if abs(days) < max(0.5, 2.0 * error):
        return "The 4-in-5 date moves by less than can be told."
    way = "earlier" if days < 0 else "later"
    return f"The 4-in-5 date moves {abs(days):.0f} days {way} (± {error:.0f} by chance of the drawing)."


def put_off(plan: Plan, lines: tuple[OrderLine, ...]) -> str:
    """Each order alone leaves the date; whether all of them together do is simulated."""
    if not any(line.day is not None for line in lines):
        return ""
    own = on_their_days(plan, lines)
    moved, error = shift_days(
        simulated(network(plan), draws=SCENARIOS).ends, simulated(network(own), draws=SCENARIOS).ends
    )
    said = moved_in_words(moved, error)
    return f"All ordered on these days, not as planned now: {said[0].lower()}{said[1:]}"


def _ordered_on(plan: Plan, days: dict[str, date]) -> Plan:
    """The plan with these orders placed on these days; those that are out stay."""
    items = tuple(
        replace(item, order_on=days[item.key]) if item.key in days and not item.ordered else item
        for item in plan.items
    )
    return replace(plan, items=items)


def _scenarios(
    start: date, items: list[Item], need: dict[str, Floats], late_day: float, capital_year: float, seed: int
) -> Scenarios:
    draws = len(next(iter(need.values())))
    lead = np.column_stack([_lead(start, item, draws, seed) for item in items]) / MONTH
    return Scenarios(
        need=np.column_stack([need[item.key] for item in items]) / MONTH,
        lead=lead,
        # Of an order that is out the deposit is paid; the rest comes with the door.
        price=np.array([item.price - (item.deposit if item.ordered else 0.0) for item in items]),
        deposit=np.array([0.0 if item.ordered else item.deposit for item in items]),
        late_month=np.full(len(items), late_day * MONTH),
        holding_month=np.array([kept_month(item, capital_year) for item in items]),
    )


def _lead(start: date, item: Item, draws: int, seed: int) -> Floats:
    begun = (item.order_on - start).days if item.ordered and item.order_on is not None else 0
    days: Floats = np.maximum(0.0, begun + leads(item, draws=draws, seed=seed))
    return days


__all__ = ["MOST_MONTHS", "CashView", "OrderLine", "cash_view", "moved_in_words", "order_lines", "put_off"]
