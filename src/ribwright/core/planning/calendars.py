"""The builder's days as hundredths of an hour, for each kind of need, and dates from and to them."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import numpy.typing as npt

from ribwright.core.planning.tasks import Week

Ints = npt.NDArray[np.int64]

HUNDREDTHS = 100
DAY = 24 * HUNDREDTHS
HELPER, DAYLIGHT, WARM = 1, 2, 4


def day_hours(week: Week, start: date, days: int) -> Ints:
    """Working hundredths of an hour of each day, for each combination of needs.

    Args:
        week: Who works when.
        start: Day 0.
        days: How many days.

    Returns:
        Shape (8, days): the row is the sum of `HELPER`, `DAYLIGHT` and `WARM` that a task needs.
    """
    weekday = (start.weekday() + np.arange(days)) % 7
    first = np.datetime64(start, "D")
    months = (first + np.arange(days)).astype("datetime64[M]").astype(np.int64) % 12 + 1
    alone = _hundredths(week.hours)[weekday]
    for day in week.off:
        _clear(alone, start, day, day)
    for begin, end in week.blocked:
        _clear(alone, start, begin, end)
    helper = _hundredths(week.helper_hours)[weekday]
    for day in week.helper_off:
        _clear(helper, start, day, day)
    light = _hundredths(week.daylight_hours)[weekday]
    warm = np.where(np.isin(months, np.array(week.warm_months, dtype=np.int64)), DAY, 0)
    rows = np.empty((8, days), np.int64)
    for need in range(8):
        row = alone
        for bit, limit in ((HELPER, helper), (DAYLIGHT, light), (WARM, warm)):
            if need & bit:
                row = np.minimum(row, limit)
        rows[need] = row
    return rows


def _hundredths(hours: tuple[float, ...]) -> Ints:
    whole: Ints = np.rint(np.array(hours) * HUNDREDTHS).astype(np.int64)
    return whole


def _clear(row: Ints, start: date, first: date, last: date) -> None:
    low, high = (first - start).days, (last - start).days + 1
    row[max(0, low) : max(0, high)] = 0


def date_of(start: date, hundredths: float) -> date:
    """The day in which a time lies, counted from the start of day 0."""
    return start + timedelta(days=int(hundredths // DAY))


def time_of(start: date, day: date) -> int:
    """The first hundredth of a day, counted from the start of day 0; negative before it."""
    return (day - start).days * DAY
