"""What there is to do, what must come, and who works when: the plan's input, as frozen values.

Hours of work and elapsed hours are two things: glue and paint take elapsed time and nobody's hands.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

ALONE = "alone"


@dataclass(frozen=True, slots=True)
class Task:
    """One piece of work.

    Attributes:
        key: Short name, unique in the plan.
        title: What it is, in the builder's words.
        hours: Hands-on hours as estimated, before any pace is learned.
        spread: Factor up or down within which two of three such tasks end; 1 means no doubt at all.
        trade: Kind of work; tasks of one trade share its pace.
        needs: Keys of tasks that must be done before.
        parts: Keys of items that must have come.
        helper: Whether a second pair of hands is needed.
        warm: Whether it needs the shop warm (paint, sealant, resin).
        daylight: Whether it needs daylight.
        cure_hours: Elapsed hours after the work before anything may follow.
        uses: Shop space and slots it holds from start until cured: name and amount.
        tools: Tools that must be at hand.
        setup: Name of the set-up; tasks with the same one are worth doing together.
        spent_hours: Hours logged on it so far.
        done: Whether it is finished.
        not_before: A date before which it can't start.
        source: Where the hours come from.
    """

    key: str
    title: str
    hours: float
    spread: float = 1.5
    trade: str = "general"
    needs: tuple[str, ...] = ()
    parts: tuple[str, ...] = ()
    helper: bool = False
    warm: bool = False
    daylight: bool = False
    cure_hours: float = 0.0
    uses: tuple[tuple[str, float], ...] = ()
    tools: tuple[str, ...] = ()
    setup: str = ""
    spent_hours: float = 0.0
    done: bool = False
    not_before: date | None = None
    source: str = ""


@dataclass(frozen=True, slots=True)
class Item:
    """Something that must be ordered and come.

    Attributes:
        key: Short name, unique among the items.
        title: What it is.
        lead_days: Days from the order to the door: as likely longer as shorter.
        lead_spread: Factor up or down that two of three deliveries keep within; never 1 for a lead time.
        price: What it costs in all, in the plan's money.
        deposit: What is paid with the order; the rest is paid on delivery.
        refundable: Whether the deposit comes back when the order is withdrawn.
        order_on: The day it is, or is meant to be, ordered; None means: today.
        ordered: Whether the order is out.
        arrived: Whether it is here.
        holding_month: What keeping it a month costs: space, capital, warranty running out.
        queue_position: Place in the maker's queue, if known; for the record only.
    """

    key: str
    title: str
    lead_days: float
    lead_spread: float
    price: float = 0.0
    deposit: float = 0.0
    refundable: bool = False
    order_on: date | None = None
    ordered: bool = False
    arrived: bool = False
    holding_month: float = 0.0
    queue_position: int | None = None


@dataclass(frozen=True, slots=True)
class Week:
    """The builder's week and the year around it.

    Attributes:
        hours: Hours on Monday to Sunday.
        helper_hours: Hours of those days on which the helper is there.
        daylight_hours: Hours of those days that are in daylight.
        warm_months: Months (1 to 12) in which the shop is warm enough; all of them if it is heated.
        off: Single days without work.
        blocked: Stretches without work, both ends included.
        helper_off: Single days without the helper.
    """

    hours: tuple[float, ...] = (2.0, 2.0, 0.0, 2.0, 0.0, 5.0, 3.0)
    helper_hours: tuple[float, ...] = (0.0, 0.0, 0.0, 0.0, 0.0, 3.0, 0.0)
    daylight_hours: tuple[float, ...] = (0.0, 0.0, 0.0, 0.0, 0.0, 5.0, 3.0)
    warm_months: tuple[int, ...] = tuple(range(1, 13))
    off: tuple[date, ...] = ()
    blocked: tuple[tuple[date, date], ...] = ()
    helper_off: tuple[date, ...] = ()


@dataclass(frozen=True, slots=True)
class Pace:
    """How this builder's hours compare with the estimates, as natural logarithms, and how weeks fall out.

    Attributes:
        shared: Mean of the common factor's logarithm; 0 means that the estimates are right.
        shared_sd: How unsure it is.
        trade: Mean of each trade's own factor's logarithm, beyond the shared one.
        trade_sd: How unsure each is, the shared pace given.
        trade_load: How much of the shared pace's doubt each trade carries; 1 for one without history.
        trade_sd_new: For a trade without any history.
        idle_week: Chance that a week has no work in it.
        idle_known: Weeks' worth of knowledge behind `idle_week`; few means unsure.
        stop_week: Chance that a long stop begins in a week.
        stop_weeks: How long such a stop lasts, middle value.
        stop_spread: Factor up or down for two of three stops.
        noise_scale: Multiplies the logarithm of every task's own spread.
    """

    shared: float = 0.0
    shared_sd: float = 0.35
    trade: tuple[tuple[str, float], ...] = ()
    trade_sd: tuple[tuple[str, float], ...] = ()
    trade_load: tuple[tuple[str, float], ...] = ()
    trade_sd_new: float = 0.25
    idle_week: float = 0.25
    idle_known: float = 8.0
    stop_week: float = 1.0 / 104.0
    stop_weeks: float = 10.0
    stop_spread: float = 1.8
    noise_scale: float = 1.0


@dataclass(frozen=True, slots=True)
class Plan:
    """All of it.

    Attributes:
        start: Today: nothing can happen before.
        tasks: The work.
        items: What must come.
        week: Who works when.
        shop: Space and slots there are: name and amount.
        pace: The builder against the estimates.
    """

    start: date
    tasks: tuple[Task, ...]
    items: tuple[Item, ...] = ()
    week: Week = field(default_factory=Week)
    shop: tuple[tuple[str, float], ...] = ()
    pace: Pace = field(default_factory=Pace)
