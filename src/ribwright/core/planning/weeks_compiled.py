# mypy: ignore-errors
"""The weeks of one draw, compiled: which are worked, and where in the calendar a place in the builder's time is.

The builder's time counts hundredths of an hour at the bench: nights and weeks without work do not count in it.
Of the arrays, `begin` (hundredths before each day) and `week_sum` (hundredths of each week) are the same for all
draws; `worked` (whether a week is), `passed` (hundredths passed by each week's end) and `state` (weeks known, closed
until) are filled in by each.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from ribwright.core.planning.chance_compiled import normal_of, uniform_of

U = np.uint64
DAY = 2400
WEEKS = U(0x5765656B00000003)
STOPS = U(0x53746F7000000004)
SOME = 32
SCARCE = 3
WARM = 4


@njit(cache=True, _nrt=False)
def know(week, key, odds, begin, week_sum, worked, passed, state):
    """Draw the weeks up to `week`: idle ones fall out singly, long stops close a run of them.

    Args:
        week: The last week that must be known.
        key: The draw's stream.
        odds: Chance of an idle week; chance that a stop begins; logarithm of its weeks and their spread.
        begin, week_sum, worked, passed, state: As at the head.
    """
    idle, stop_chance, stop_log, stop_sigma = odds[0], odds[1], odds[2], odds[3]
    least = stop_chance + (1.0 - stop_chance) * idle
    while state[0] <= week:
        first = state[0]
        state[0] = min(first + SOME, week_sum.shape[0])
        for w in range(first, state[0]):
            x = uniform_of(key, WEEKS + U(w))
            if x < stop_chance and w >= state[1]:
                y = normal_of(key, STOPS + U(w))
                state[1] = w + max(1, np.int64(min(math.exp(stop_log + stop_sigma * y), 500.0) + 0.5))
            worked[w] = np.int64(w >= state[1]) & np.int64(x >= least)
            passed[w + 1] = passed[w] + worked[w] * week_sum[w]


@njit(cache=True, _nrt=False, inline="always")
def place_of(day, in_day, key, odds, begin, week_sum, worked, passed, state):
    """A day, so many hundredths of work into it, as a place in the builder's time."""
    week = day // 7
    if state[0] <= week:
        know(week, key, odds, begin, week_sum, worked, passed, state)
    return passed[week] + worked[week] * (begin[day] - begin[7 * week] + in_day)


@njit(cache=True, _nrt=False, inline="always")
def week_of(at, week, key, odds, begin, week_sum, worked, passed, state):
    """The week, not before `week`, in which work after `at` goes on; the number of weeks if there is none."""
    while week < week_sum.shape[0]:
        if state[0] <= week:
            know(week, key, odds, begin, week_sum, worked, passed, state)
        if passed[week + 1] > at:
            break
        week += 1
    return week


@njit(cache=True, _nrt=False)
def clock(at, ends, week, key, odds, begin, week_sum, worked, passed, state):
    """The calendar's hundredths at a place in the builder's time.

    Args:
        at: The place.
        ends: Whether work ends there: then a place between two days is the evening, else the morning.
        week: A week that is not after it.
    """
    week = week_of(at - ends, week, key, odds, begin, week_sum, worked, passed, state)
    if week >= week_sum.shape[0]:
        return week_sum.shape[0] * 7 * DAY
    place = at - passed[week] + begin[7 * week]
    day = 7 * week
    while begin[day + 1] <= place - ends:
        day += 1
    return day * DAY + place - begin[day]


@njit(cache=True)
def days_of(hours, there):
    """For each day: the longest that scarce work can go on in it, the next day on which any can, the next that
    is too cold for paint, and the next that is warm enough."""
    horizon = hours.shape[1] // 7 * 7
    most = np.zeros(horizon, np.int64)
    scarce = np.full(horizon + 1, horizon, np.int64)
    cold = np.full(horizon + 1, horizon, np.int64)
    warm = np.full(horizon + 1, horizon, np.int64)
    for day in range(horizon - 1, -1, -1):
        for k in range(hours.shape[0]):
            if there[k] and k & SCARCE != 0:
                most[day] = max(most[day], hours[k, day])
        scarce[day] = day if most[day] > 0 else scarce[day + 1]
        cold[day] = day if hours[WARM, day] < hours[0, day] else cold[day + 1]
        warm[day] = day if hours[WARM, day] > 0 else warm[day + 1]
    return most, scarce, cold, warm
