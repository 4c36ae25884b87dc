"""A plan as one scheduling problem with limited resources, in the builder's own time.

Time counts quarters of an hour at the bench: nights, days off and blocked weeks do not count, so that work goes on in
the evening after as if there were no night between. The builder, the helper, daylight, a warm shop and each kind of
room are resources; what must come from outside is an activity that takes nobody and ends on that day.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from ribwright.core.planning.calendars import DAYLIGHT, HELPER, WARM, day_hours
from ribwright.core.planning.instance import Instance, make_instance
from ribwright.core.planning.problems import require_sound
from ribwright.core.planning.tasks import Plan, Task
from ribwright.errors import OutOfRangeError

Ints = npt.NDArray[np.int64]

QUARTER = 25
LONGEST_DAYS = 30 * 364
LIMITS = (HELPER, DAYLIGHT, WARM)


@dataclass(frozen=True, slots=True)
class BenchTime:
    """A plan to be scheduled, and the way back to its days.

    Attributes:
        instance: The problem, in quarters of an hour at the bench.
        tasks: What is left to do.
        pieces: For each task its activities, in order: more than one where the helper or daylight ends with the day.
        start: Day 0.
        passed: Quarters before each day, shape (days + 1,).
    """

    instance: Instance
    tasks: tuple[Task, ...]
    pieces: tuple[tuple[int, ...], ...]
    start: date
    passed: Ints

    def day_of(self, quarter: int, *, ends: bool = False) -> date:
        """The day in which a quarter begins, or with `ends` that in which work up to it ends."""
        at = int(np.searchsorted(self.passed, quarter - ends, side="right")) - 1
        return self.start + timedelta(days=min(at, len(self.passed) - 2))

    def span(self, number: int, starts: Sequence[int]) -> tuple[date, date]:
        """First and last day of a task in a schedule."""
        first, last = self.pieces[number][0], self.pieces[number][-1]
        end = starts[last] + int(self.instance.durations[last])
        return self.day_of(starts[first]), self.day_of(end, ends=end > starts[first])


def bench_time(plan: Plan) -> BenchTime:
    """Every task at the middle of what it may take at the learned pace, every hour of the week worked.

    A task that needs the helper or daylight is cut into pieces no longer than a day gives; drying takes at least as many
    quarters as can be worked meanwhile. Room is taken while a task is worked on and while it dries, but counts as free
    between pieces of work: where room is scarce the order of work can come out too short, never too long by it.

    Raises:
        PlanError, InputError: The first thing wrong with the plan.
        OutOfRangeError: Nothing left to do, or work for more than thirty years.
    """
    plan = require_sound(plan)
    todo = [task for task in plan.tasks if not task.done]
    if not todo:
        raise OutOfRangeError(
            "plan", found="nothing left to do", allowed="at least one task that is not done"
        )
    quarters = day_hours(plan.week, plan.start, LONGEST_DAYS) // QUARTER
    passed = np.concatenate([[0], np.cumsum(quarters[0])])
    rows = [_need(task) for task in todo]
    most = quarters.max(axis=1)
    kinds = [name for name, _ in plan.shop if any(name in dict(task.uses) for task in todo)]
    durations: list[int] = []
    demands: list[list[int]] = []
    after: list[list[int]] = []
    pieces: list[tuple[int, ...]] = []
    ends: list[int] = []

    def add(duration: int, demand: list[int]) -> int:
        durations.append(duration)
        demands.append(demand)
        after.append([])
        return len(durations) - 1

    nobody = [0] * (4 + len(kinds))
    for task, row in zip(todo, rows, strict=True):
        room = [math.ceil(dict(task.uses).get(name, 0.0)) for name in kinds]
        work = [1, *(int(bool(row & limit)) for limit in LIMITS), *room]
        left = _quarters(task, plan)
        longest = int(most[row]) if row & (HELPER | DAYLIGHT) else max(1, left)
        own: list[int] = []
        while left > 0 or not own:
            own.append(add(min(left, longest), work if left else nobody))
            left -= longest
        for one, other in pairwise(own):
            after[one].append(other)
        pieces.append(tuple(own))
        last = own[-1]
        if task.cure_hours > 0:
            last = add(_meanwhile(task.cure_hours, quarters[0]), [0, 0, 0, 0, *room])
            after[own[-1]].append(last)
        ends.append(last)
    _link(plan, todo, passed, add, after, pieces, ends, nobody)
    length = _enough(quarters, rows, todo, plan, durations, passed)
    shop = dict(plan.shop)
    capacity = [[1], *(_hours_of(quarters, limit, length) for limit in LIMITS)]
    capacity += [[math.floor(shop[name])] for name in kinds]
    instance = make_instance("plan", durations, demands, capacity, after)
    return BenchTime(instance, tuple(todo), tuple(pieces), plan.start, passed)


def _need(task: Task) -> int:
    return HELPER * task.helper + DAYLIGHT * task.daylight + WARM * task.warm


def _quarters(task: Task, plan: Plan) -> int:
    """What is left of a task at the middle; of one that took longer than expected, a tenth of the estimate."""
    hours = task.hours * math.exp(plan.pace.shared + dict(plan.pace.trade).get(task.trade, 0.0))
    left = max(hours - task.spent_hours, 0.1 * task.hours)
    return max(1, round(4.0 * left)) if task.hours > 0 else 0


def _meanwhile(cure_hours: float, quarters: Ints) -> int:
    """The most quarters that can be worked within so many hours, wherever they begin."""
    days = math.ceil(cure_hours / 24.0) + 1
    sums = np.cumsum(np.concatenate([[0], quarters[: 3 * 364 + days]]))
    return min(math.ceil(4.0 * cure_hours), int((sums[days:] - sums[:-days]).max()))


def _link(
    plan: Plan, todo: list[Task], passed: Ints, add: Callable[[int, list[int]], int], after: list[list[int]],
    pieces: list[tuple[int, ...]], ends: list[int], nobody: list[int],
) -> None:  # fmt: skip
    """What each task waits for: others' ends, deliveries and dates, the latter as activities that take nobody."""
    place = {task.key: i for i, task in enumerate(todo)}
    comes: dict[str, int] = {}
    for item in plan.items:
        if not item.arrived:
            day = ((item.order_on or plan.start) - plan.start).days + round(item.lead_days)
            comes[item.key] = int(passed[min(max(0, day), len(passed) - 1)])
    gates: dict[int, int] = {}
    for i, task in enumerate(todo):
        first = pieces[i][0]
        for need in task.needs:
            if need in place:
                after[ends[place[need]]].append(first)
        waits = [comes[part] for part in task.parts if part in comes]
        if task.not_before is not None:
            days = (task.not_before - plan.start).days
            waits.append(int(passed[min(max(0, days), len(passed) - 1)]))
        wait = max(waits, default=0)
        if wait > 0:
            if wait not in gates:
                gates[wait] = add(wait, nobody)
            after[gates[wait]].append(first)


def _enough(
    quarters: Ints, rows: list[int], todo: list[Task], plan: Plan, durations: list[int], passed: Ints
) -> int:
    """Days after which every kind of hours has been there twice over."""
    days = 400
    for row in {0, *rows}:
        wanted = sum(_quarters(task, plan) for task, own in zip(todo, rows, strict=True) if own & row == row)
        there = np.cumsum(quarters[row])
        if there[-1] < wanted:
            raise OutOfRangeError("plan", found="more than thirty years of work", allowed="thirty years")
        days = max(days, 2 * int(np.searchsorted(there, wanted)) + 400)
    longest = int(np.searchsorted(passed, max(durations)))
    return min(LONGEST_DAYS, days + longest)


def _hours_of(quarters: Ints, limit: int, days: int) -> list[int]:
    """Whether a limit is there in each quarter at the bench: it is at the beginning of each day."""
    have = np.minimum(quarters[limit, :days], quarters[0, :days])
    total = quarters[0, :days]
    starts = np.repeat(np.cumsum(total) - total, total)
    return [*((np.arange(total.sum()) - starts) < np.repeat(have, total)).astype(int).tolist(), 1]
