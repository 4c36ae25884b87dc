"""Windows of the pilot's dates before the first flight: the rules' calendar-month arithmetic, no advice.

A period of n calendar months runs from the day of the event to the last day of the nth month after it.
"""

from __future__ import annotations

import calendar
from dataclasses import dataclass
from datetime import date, timedelta

from ribwright.errors import OutOfRangeError


@dataclass(frozen=True, slots=True)
class Rule:
    """A rule of time.

    Attributes:
        name: What it is about.
        text: What it says, in short.
        source: Where it stands.
        rung: How sure we are of it: `seen` or `memory`; check the current text before relying on it.
        calendar_months: How long it holds, in calendar months; 0 if it is counted in days.
        days: How long it holds, in days; 0 if it is counted in months.
    """

    name: str
    text: str
    source: str
    rung: str
    calendar_months: int = 0
    days: int = 0


RULES: tuple[Rule, ...] = (
    Rule(
        "flight review",
        "a flight review since the beginning of the 24th calendar month before the month of the flight",
        "14 CFR 61.56",
        "memory",
        calendar_months=24,
    ),
    Rule(
        "recent take-offs and landings",
        "to carry passengers, three take-offs and landings within the preceding 90 days; to a full stop at "
        "night or in a tailwheel aeroplane",
        "14 CFR 61.57",
        "memory",
        days=90,
    ),
    Rule(
        "medical examination under part 68",
        "a medical examination by a physician every 48 calendar months",
        "89 FR 90572, 14 CFR part 68",
        "seen",
        calendar_months=48,
    ),
    Rule(
        "medical course under part 68",
        "the medical education course every 24 calendar months",
        "14 CFR 61.23(c)(3), 68.3",
        "memory",
        calendar_months=24,
    ),
    Rule(
        "transponder test",
        "tests within the preceding 24 calendar months before a transponder is used",
        "14 CFR 91.413",
        "memory",
        calendar_months=24,
    ),
    Rule(
        "emergency locator inspection",
        "inspected within 12 calendar months after the last inspection",
        "14 CFR 91.207(d)",
        "memory",
        calendar_months=12,
    ),
)

_CERTIFICATE = "third-class medical certificate"
UNDER_40 = Rule(
    _CERTIFICATE,
    "it ends with the last day of the 60th month after the month of the examination for a pilot who was not yet 40 on "
    "the day of the examination",
    "14 CFR 61.23(d)",
    "memory",
    calendar_months=60,
)
FROM_40 = Rule(
    _CERTIFICATE,
    "it ends with the last day of the 24th month after the month of the examination for a pilot who was 40 or over on "
    "the day of the examination",
    "14 CFR 61.23(d)",
    "memory",
    calendar_months=24,
)
_MEDICAL: dict[str, tuple[Rule, ...]] = {
    "part 68 examination and course": RULES[2:4],
    "third-class certificate (under 40 at the examination)": (UNDER_40,),
    "third-class certificate (40 or over at the examination)": (FROM_40,),
    "none of these": (),
}
ROUTES = tuple(_MEDICAL)
"""Medical routes of 14 CFR 61.23; which one is open to a pilot is not said here."""


def rules_of(route: str) -> tuple[Rule, ...]:
    """The rules that count on one of the `ROUTES`."""
    return (*RULES[:2], *_MEDICAL[route], *RULES[4:])


def end_of_calendar_months(event: date, months: int) -> date:
    """Last day of the month that lies `months` after the month of the event."""
    if not 0 <= months <= 1200:
        raise OutOfRangeError("calendar months", found=months, allowed="0 to 1200")
    index = event.year * 12 + event.month - 1 + months
    year, month = divmod(index, 12)
    return date(year, month + 1, calendar.monthrange(year, month + 1)[1])


def holds_until(rule: Rule, event: date) -> date:
    """The last day on which the event still counts."""
    if rule.calendar_months:
        return end_of_calendar_months(event, rule.calendar_months)
    return event + timedelta(days=rule.days)


@dataclass(frozen=True, slots=True)
class Window:
    """When something must be done so that it counts on the day of the flight.

    Attributes:
        rule: The rule.
        opens: First day on which doing it still counts on the last possible flight day.
        closes: Last day: the earliest flight day.
        covered_until: Until when the last one counts; None if there was none.
        needed: Whether the last one runs out before the last possible flight day.
    """

    rule: Rule
    opens: date
    closes: date
    covered_until: date | None
    needed: bool

    @property
    def says(self) -> str:
        """When to do it."""
        if not self.needed and self.covered_until is not None:
            return f"covered until {self.covered_until:%d %b %Y}"
        if self.opens > self.closes:
            return f"not before {self.opens:%d %b %Y}, and again if the flight is late"
        return f"{self.opens:%d %b %Y} to {self.closes:%d %b %Y}"


def window(rule: Rule, *, flight_first: date, flight_last: date, last_done: date | None) -> Window:
    """The window of a rule for a flight between two dates.

    Args:
        rule: The rule.
        flight_first: The earliest day of the flight.
        flight_last: The latest day of the flight.
        last_done: When it was last done.

    Raises:
        OutOfRangeError: The last flight day before the first.
    """
    if flight_last < flight_first:
        raise OutOfRangeError(
            "flight dates", found=f"{flight_first} to {flight_last}", allowed="first to last"
        )
    if rule.calendar_months:
        index = flight_last.year * 12 + flight_last.month - 1 - rule.calendar_months
        opens = date(index // 12, index % 12 + 1, 1)
    else:
        opens = flight_last - timedelta(days=rule.days)
    until = holds_until(rule, last_done) if last_done else None
    return Window(rule, opens, flight_first, until, until is None or until < flight_last)
