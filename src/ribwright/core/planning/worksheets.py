"""Calculations of the plan that stand on a worksheet of their own."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date, timedelta
from statistics import NormalDist

from ribwright.core.audit import Outcome, Result, Worksheet, calculation, quantity, rows, text
from ribwright.core.planning.chain import longest_chain
from ribwright.core.planning.orders import critical_fractile
from ribwright.core.planning.pace import Logged, learned
from ribwright.core.planning.pilot import RULES, window
from ribwright.core.units import Quantity
from ribwright.errors import FormatError, MissingError, OutOfRangeError, UnknownNameError


@dataclass(frozen=True, slots=True)
class Activity:
    """One activity with its three estimates."""

    name: str = text("Activity", help="a short name", default="")
    low: str = text("Least", help="duration if all goes well", default="")
    likely: str = text("Most likely", help="most likely duration", default="")
    high: str = text("Most", help="duration if much goes wrong", default="")
    needs: str = text("Needs", help="names of those before it, separated by semicolons", default="")


@dataclass(frozen=True, slots=True)
class ChainSpec:
    """Activities and a deadline, all in one unit of time."""

    activities: tuple[Activity, ...] = rows(Activity, "Activities", help="one row an activity", least=1)
    deadline: str = text("Deadline", help="in the same unit of time; empty for none", default="")


def _value(entered: str, where: str) -> float:
    try:
        value = float(entered.replace(",", "."))
    except ValueError:
        raise FormatError(where, found=entered or "nothing", allowed="a number") from None
    if not math.isfinite(value):
        raise OutOfRangeError(where, found=entered, allowed="a finite number")
    return value


@calculation(
    "critical-path",
    title="Longest chain of tasks, each with least, likely and most",
    summary="The textbook's critical path, its variance and the chance of a deadline; a check, never a date.",
    spec=ChainSpec,
    results=("length", "variance", "critical", "chance"),
)
def critical_path(spec: ChainSpec, ws: Worksheet) -> Outcome:
    """The longest chain, without anybody's hours: far too early as a date, and said so.

    Raises:
        CycleError, OutOfRangeError, UnknownNameError, FormatError: As the activities refuse.
    """
    names = [row.name for row in spec.activities]
    if len(set(names)) != len(names) or not all(names):
        raise OutOfRangeError("activities", found="a name twice or missing", allowed="each name once")
    after: list[list[int]] = [[] for _ in names]
    for j, row in enumerate(spec.activities):
        for need in [part.strip() for part in row.needs.split(";") if part.strip()]:
            if need not in names:
                raise UnknownNameError(f"activity {row.name}: needs", found=need, allowed=", ".join(names))
            after[names.index(need)].append(j)
    estimates = [
        (
            _value(row.low, f"{row.name}: least"),
            _value(row.likely, f"{row.name}: most likely"),
            _value(row.high, f"{row.name}: most"),
        )
        for row in spec.activities
    ]
    chain = longest_chain(estimates, after)
    critical = " ".join(names[i] for i in chain.critical)
    ws.worked_out("length of the longest chain", f"{chain.length:g}", "means (a + 4m + b)/6 added along it")
    ws.worked_out(
        "variance", f"{chain.variance:g}", "((b − a)/6)² added along it; the largest of equal chains"
    )
    ws.note("Without the builder's hours this is far too early as a date; the plan's simulation gives dates.")
    results = {
        "length": Result("length of the longest chain", chain.length),
        "variance": Result("spread of its length, squared", chain.variance),
        "critical": Result("activities that can't wait", critical),
    }
    if spec.deadline:
        chance = chain.chance_within(_value(spec.deadline, "deadline"))
        ws.worked_out(
            "chance of the deadline", f"{chance:.4f}", "normal approximation; other chains ignored: too high"
        )
        results["chance"] = Result("chance of the deadline", chance)
    else:
        results["chance"] = Result("chance of the deadline", "no deadline was entered")
    return Outcome(steps=tuple(ws.steps), results=results)


@dataclass(frozen=True, slots=True)
class LogRow:
    """A task of the log."""

    trade: str = text("Trade", help="kind of work", default="general")
    estimate: Quantity = quantity(
        "h", "Estimated hours", help="as estimated beforehand", example="10 h", low="0.01 h", high="20000 h"
    )
    actual: Quantity = quantity(
        "h", "Logged hours", help="hours logged on it", example="12.5 h", low="0 h", high="20000 h"
    )
    finished: str = text("Finished", help="yes or no.", default="yes")


@dataclass(frozen=True, slots=True)
class PaceSpec:
    """The log."""

    log: tuple[LogRow, ...] = rows(LogRow, "Log", help="one row a task", least=1)


@calculation(
    "pace",
    title="Pace from the log",
    summary="Hours taken against hours estimated, shared and by trade, with what is not yet known.",
    spec=PaceSpec,
    results=("factor", "trades", "enough", "says"),
)
def pace(spec: PaceSpec, ws: Worksheet) -> Outcome:
    """Learn the pace from the log.

    Raises:
        FormatError, OutOfRangeError: As the log refuses.
    """
    log = []
    for number, row in enumerate(spec.log, 1):
        if row.finished.strip().lower() not in ("yes", "no"):
            raise FormatError(f"row {number}: finished", found=row.finished, allowed="yes or no")
        log.append(
            Logged(
                row.trade,
                row.estimate.value,
                row.actual.value,
                finished=row.finished.strip().lower() == "yes",
            )
        )
    found = learned(log)
    factor = math.exp(found.pace.shared)
    wide = math.exp(1.959964 * found.pace.shared_sd)
    ws.worked_out(
        "shared factor", f"{factor:.3f}", "posterior mean of log(actual/estimate), conjugate normal"
    )
    ws.note(found.says)
    by_trade = "; ".join(f"{name} {math.exp(found.pace.shared + own):.2f}" for name, own in found.pace.trade)
    return Outcome(
        steps=tuple(ws.steps),
        results={
            "factor": Result(
                "hours taken for an estimated hour", factor, low=factor / wide, high=factor * wide
            ),
            "trades": Result("by trade", by_trade or "nothing known"),
            "enough": Result("enough is known", found.enough),
            "says": Result("in words", found.says),
        },
    )


def _date(entered: str, where: str) -> date:
    try:
        return date.fromisoformat(entered.strip())
    except ValueError:
        raise FormatError(where, found=entered or "nothing", allowed="a date such as 2027-04-30") from None


@dataclass(frozen=True, slots=True)
class PilotSpec:
    """When the first flight may be, and when what was last done."""

    first: str = text("Earliest first flight", help="the date", example="2027-05-01")
    last: str = text("Latest first flight", help="the date", example="2027-09-30")
    review: str = text("Last flight review", help="a date; empty if none", default="")
    landings: str = text("Third-last landing", help="a date; empty if none", default="")
    examination: str = text("Last medical examination, part 68", help="a date; empty if none", default="")
    course: str = text("Last medical course, part 68", help="a date; empty if none", default="")


@calculation(
    "pilot-dates",
    title="Pilot's dates before the first flight",
    summary="When flight review, recent landings and the medical route must be done to count on the day.",
    spec=PilotSpec,
    results=("review", "landings", "examination", "course"),
)
def pilot_dates(spec: PilotSpec, ws: Worksheet) -> Outcome:
    """Windows by the rules' own arithmetic; never advice beyond their text.

    Raises:
        FormatError: Not a date.
        OutOfRangeError: The last flight day before the first.
    """
    first, last = _date(spec.first, "earliest first flight"), _date(spec.last, "latest first flight")
    results = {}
    entered = {
        "review": spec.review,
        "landings": spec.landings,
        "examination": spec.examination,
        "course": spec.course,
    }
    for (name, said), rule in zip(entered.items(), RULES, strict=False):
        done = _date(said, f"last {rule.name}") if said.strip() else None
        found = window(rule, flight_first=first, flight_last=last, last_done=done)
        until = (
            f"the last one counts until {found.covered_until}" if found.covered_until else "none is entered"
        )
        answer = f"between {found.opens} and {found.closes}" if found.needed else "covered"
        if found.needed and found.opens > found.closes:
            answer = f"not before {found.opens}, for a flight as late as {last}"
        ws.worked_out(rule.name, answer, f"{rule.text}; {until}. {rule.source}", rung=rule.rung)
        results[name] = Result(rule.name, answer)
    ws.note("Check the current text of each rule; those marked as from memory were not held against it.")
    return Outcome(steps=tuple(ws.steps), results=results)


@dataclass(frozen=True, slots=True)
class OrderSpec:
    """One item, its need and its lead time."""

    today: str = text("Today", help="the date", example="2026-05-01")
    need: str = text(
        "Needed on, as likely before as after",
        help="the day the work begins, as it looks now",
        example="2027-04-01",
    )
    need_spread: Quantity = quantity(
        "d",
        "Needed two times in three within",
        help="days before or after",
        example="45 d",
        low="0 d",
        high="2000 d",
    )
    lead: Quantity = quantity(
        "d",
        "Lead time, as often longer as shorter",
        help="days from order to door",
        example="200 d",
        low="0 d",
        high="3650 d",
    )
    factor: str = text(
        "Lead time, spread",
        help="two of three deliveries take no more than so many times as long, and no less than that part of it",
        default="1.3",
    )
    late_day: str = text("A day late costs", help="in your money", default="10")
    early_month: str = text(
        "A month early costs", help="space, money tied up, warranty that runs off", default="30"
    )


@calculation(
    "order-by",
    title="Order-by date of one item",
    summary="The last day that keeps an item in time at 4 chances in 5, and the day that costs least.",
    spec=OrderSpec,
    results=("order_by", "cheapest", "fractile", "order_now"),
)
def order_by_date(spec: OrderSpec, ws: Worksheet) -> Outcome:
    """Order-by and cheapest day from the quantiles of slack = need − lead time.

    Raises:
        FormatError, OutOfRangeError, MissingError: As the entries refuse.
    """
    today, need_on = _date(spec.today, "Today"), _date(spec.need, "Needed on")
    if need_on < today:
        raise OutOfRangeError("Needed on", found=need_on, allowed=f"{today} or later")
    factor = _value(spec.factor, "Lead time, spread")
    if factor == 1.0 and spec.lead.value > 0:
        raise MissingError(
            "Lead time, spread", because="a lead time without a spread promises a day that nobody keeps"
        )
    if not 1.0 <= factor <= 5.0:
        raise OutOfRangeError("Lead time, spread", found=factor, allowed="more than 1, at most 5")
    late, early = (
        _value(spec.late_day, "a day late"),
        _value(spec.early_month, "a month early") / (365.25 / 12.0),
    )
    fractile = critical_fractile(under_cost=late, over_cost=early)
    slack = _slack((need_on - today).days, _days(spec.need_spread), _days(spec.lead), factor)
    by = today + timedelta(days=math.floor(_quantile(slack, 0.2)))
    cheapest = today + timedelta(days=max(0, math.floor(_quantile(slack, 1.0 - fractile))))
    ws.worked_out("order by", str(by), "4 chances in 5 that need − lead time is not negative")
    ws.worked_out(
        "chance of being in time that costs least",
        f"{fractile:.3f}",
        "cost of a day late over itself plus cost of a day early",
    )
    ws.worked_out(
        "cheapest day", str(cheapest), "the day with that chance of being in time; never before today"
    )
    return Outcome(
        steps=tuple(ws.steps),
        results={
            "order_by": Result("order by", str(by)),
            "cheapest": Result("cheapest day", str(cheapest)),
            "fractile": Result("chance of being in time that costs least", fractile),
            "order_now": Result("order now", min(by, cheapest) <= today),
        },
    )


def _days(value: Quantity) -> float:
    return value.to("d")


def _slack(need: float, need_sd: float, lead: float, factor: float) -> list[float]:
    """Slack on a fine grid of both chances, sorted: no random numbers where two distributions will do."""
    normal = NormalDist()
    points = [normal.inv_cdf((k + 0.5) / 200) for k in range(200)]
    lags = [lead * math.exp(math.log(factor) * z) for z in points]
    return sorted(need + need_sd * z - lag for z in points for lag in lags)


def _quantile(ranked: list[float], p: float) -> float:
    return ranked[min(len(ranked) - 1, math.floor(p * len(ranked)))]
