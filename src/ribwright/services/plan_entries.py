"""What is typed on the plan's forms, read: hours by weekday, months, days, room, money."""

from __future__ import annotations

import math
import re
from calendar import month_name
from collections.abc import Callable
from datetime import date

from ribwright.errors import FormatError, OutOfRangeError

DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def day_hours_of(said: str, where: str = "hours") -> tuple[float, ...]:
    """``Mon 2, Sat 5`` as seven numbers, Monday first; ``Mon-Fri 2`` and ``none`` are understood.

    Raises:
        FormatError: a part that can't be read.
        OutOfRangeError: a day twice, or more hours than a day has.
    """
    out = [0.0] * 7
    seen: set[int] = set()
    if said.strip().casefold() in ("none", "never", "0", ""):
        return tuple(out)
    for part in re.split(r"[,;]", said):
        if not part.strip():
            continue
        found = re.fullmatch(
            r"\s*([A-Za-z]{3})[a-z]*(?:\s*(?:-|–|to)\s*([A-Za-z]{3})[a-z]*)?\s*:?\s*(\d{1,2}(?:[.]\d{1,2})?)\s*h?\s*",
            part,
        )
        days = {day.casefold(): k for k, day in enumerate(DAYS)}
        if (
            found is None
            or found.group(1).casefold() not in days
            or (found.group(2) or "mon").casefold() not in days
        ):
            raise FormatError(where, found=part.strip(), allowed="day and hours, such as Mon 2, Sat 5")
        first = days[found.group(1).casefold()]
        last = days[found.group(2).casefold()] if found.group(2) else first
        hours = float(found.group(3))
        if hours > 24:
            raise OutOfRangeError(where, found=part.strip(), allowed="at most 24 hours a day")
        span = range(first, last + 1) if last >= first else [*range(first, 7), *range(last + 1)]
        for day in span:
            if day in seen:
                raise OutOfRangeError(where, found=f"{DAYS[day]} twice", allowed="each day once")
            seen.add(day)
            out[day] = hours
    return tuple(out)


def shown_hours(hours: tuple[float, ...]) -> str:
    """Seven numbers as they are typed: ``Mon 2, Sat 5``."""
    return ", ".join(f"{DAYS[k]} {h:g}" for k, h in enumerate(hours) if h) or "none"


def months_of(said: str, where: str) -> tuple[int, ...]:
    """Months 1 to 12 of ``all year``, ``never`` or ``Apr to Oct``."""
    plain = said.strip().casefold()
    if plain in ("all year", "always", "heated", "yes"):
        return tuple(range(1, 13))
    if plain in ("never", "none", "no"):
        return ()
    known = {name.casefold(): k + 1 for k, name in enumerate(MONTHS)}
    out: list[int] = []
    for part in re.split(r"[,;]", plain):
        typed = [word for word in re.split(r"\s*[-–]\s*|\s+to\s+|\s+", part.strip()) if word]
        words = [word[:3] for word in typed if any(m.casefold().startswith(word) for m in month_name[1:])]
        words = words if len(words) == len(typed) else []
        if not 1 <= len(words) <= 2 or any(word not in known for word in words):
            raise FormatError(where, found=said, allowed="all year, never, or months such as Apr to Oct")
        first, last = known[words[0]], known[words[-1]]
        out += range(first, last + 1) if last >= first else [*range(first, 13), *range(1, last + 1)]
    return tuple(sorted(set(out)))


def days_of(said: str, where: str) -> tuple[date, ...]:
    """Dates separated by commas or spaces."""
    return tuple(day_of(part, where) for part in re.split(r"[,;\s]+", said) if part)


def day_of(said: str, where: str) -> date:
    """A date such as 2027-04-30, from 1970 to 2199."""
    try:
        day = date.fromisoformat(said.strip())
    except ValueError:
        raise FormatError(where, found=said, allowed="a date such as 2027-04-30") from None
    if not 1970 <= day.year < 2200:
        raise OutOfRangeError(where, found=day, allowed="1970 to 2199")
    return day


def day_or_none(said: str, where: str) -> date | None:
    """A date, or None where nothing was typed."""
    return day_of(said, where) if said.strip() else None


def room_of(said: str, where: str) -> tuple[tuple[str, float], ...]:
    """Name and amount of each kind of room: ``floor 60, bench 2``."""
    out: dict[str, float] = {}
    for part in re.split(r"[,;]", said):
        if not part.strip():
            continue
        found = re.fullmatch(r"\s*(.*?\S)\s*:?\s+(\d{1,5}(?:\.\d+)?)\s*", part)
        if found is None:
            raise FormatError(where, found=part.strip(), allowed="name and amount, such as floor 60")
        name, amount = found.group(1).rstrip(":"), float(found.group(2))
        if name in out:
            raise OutOfRangeError(where, found=f"{name} twice", allowed="each once")
        if amount > 30_000:
            raise OutOfRangeError(where, found=amount, allowed="at most 30,000")
        out[name] = amount
    return tuple(out.items())


def plain_number(said: str, where: str) -> float:
    """A finite number; commas only between thousands."""
    typed = said.strip().removeprefix("$").strip()
    if re.fullmatch(r"-?\d{1,3}(,\d{3})+(\.\d+)?", typed):
        typed = typed.replace(",", "")
    try:
        value = float(typed or "0")
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise FormatError(where, found=said, allowed="a number")
    return value


def money_of(said: str, where: str) -> float:
    """An amount of money, 0 or more."""
    value = plain_number(said, where)
    if not 0.0 <= value <= 1e9:
        raise OutOfRangeError(where, found=said, allowed="0 or more")
    return value


def in_100(said: str, where: str) -> float:
    """``10`` or ``10 %`` as 0.1; more than 0 and less than 1."""
    value = plain_number(said.strip().removesuffix("%"), where) / 100.0
    if not 0.0 < value < 1.0:
        raise OutOfRangeError(where, found=said, allowed="more than 0 and less than 100")
    return value


def number_in(low: float, high: float) -> Callable[[str, str], float]:
    """A reader of numbers between two limits."""

    def take(said: str, where: str) -> float:
        value = plain_number(said, where)
        if not low <= value <= high:
            raise OutOfRangeError(where, found=said, allowed=f"{low:g} to {high:g}")
        return value

    return take
