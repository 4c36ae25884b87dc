"""Next on the bench: what can be done tonight, ranked by what leaving it would cost; and while waiting."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import timedelta

import numpy as np

from ribwright.core.planning.calendars import HUNDREDTHS
from ribwright.core.planning.network import network
from ribwright.core.planning.risk import shift_days, simulated, with_item, with_task
from ribwright.core.planning.tasks import Plan, Task
from ribwright.errors import OutOfRangeError, Stopped, UnknownNameError

WAIT_WEEKS = 4


@dataclass(frozen=True, slots=True)
class Tonight:
    """What there is tonight.

    Attributes:
        hours: Hours to spend.
        helper: Whether the helper is there.
        warm: Whether the shop is warm enough for paint and sealant.
        daylight: Whether there is daylight.
        space: Shop space and slots that are free: name and amount; a name not given is all free.
        tools_missing: Tools that are not at hand.
        setup: The set-up that stands on the bench now.
    """

    hours: float = 2.0
    helper: bool = False
    warm: bool = True
    daylight: bool = False
    space: tuple[tuple[str, float], ...] = ()
    tools_missing: tuple[str, ...] = ()
    setup: str = ""


@dataclass(frozen=True, slots=True)
class Suggestion:
    """A task for tonight.

    Attributes:
        key: The task.
        title: Its title.
        waiting_costs_days: Days by which leaving it four weeks moves the 4-in-5 date.
        error_days: Standard error of that.
        fits: Whether it may be finished tonight.
        reasons: Why it is on the list, in words.
        same_setup: Other tasks on the list that the same set-up serves.
    """

    key: str
    title: str
    waiting_costs_days: float
    error_days: float
    fits: bool
    reasons: tuple[str, ...]
    same_setup: tuple[str, ...]


def ready_tasks(plan: Plan) -> tuple[Task, ...]:
    """Open tasks whose needs are done and whose parts are here."""
    done = {task.key for task in plan.tasks if task.done}
    here = {item.key for item in plan.items if item.arrived}
    return tuple(
        task
        for task in plan.tasks
        if not task.done
        and all(key in done for key in task.needs)
        and all(key in here for key in task.parts)
        and (task.not_before is None or task.not_before <= plan.start)
    )


def left_out(task: Task, tonight: Tonight) -> str:
    """Why a ready task can't be done tonight; empty if it can."""
    space = dict(tonight.space)
    if task.helper and not tonight.helper:
        return "needs the helper"
    if task.warm and not tonight.warm:
        return "needs a warm shop"
    if task.daylight and not tonight.daylight:
        return "needs daylight"
    for tool in task.tools:
        if tool in tonight.tools_missing:
            return f"needs {tool}"
    for name, amount in task.uses:
        if task.spent_hours == 0 and name in space and amount > space[name]:
            return f"takes {amount:g} of {name}, {space[name]:g} free"
    return ""


@dataclass(frozen=True, slots=True)
class WaitCost:
    """What leaving a task for four weeks costs.

    Attributes:
        days: Days by which it moves the 4-in-5 date.
        error_days: Standard error of that.
    """

    days: float
    error_days: float


def waiting_costs(
    plan: Plan, keys: Sequence[str], *, draws: int = 1_000, seed: int = 1,
    progress: Callable[[int, int], None] | None = None,
) -> dict[str, WaitCost]:  # fmt: skip
    """What leaving each task for four weeks would cost the 4-in-5 date, on common random numbers.

    Args:
        plan: The plan.
        keys: Open tasks that could be begun now.
        draws: Draws a task.
        seed: As in the simulation.
        progress: Called with (tasks looked at, tasks in all); it may raise `Stopped`: what was found is returned.
    """
    base = simulated(network(plan), draws=draws, seed=seed).ends
    later = plan.start + timedelta(weeks=WAIT_WEEKS)
    found: dict[str, WaitCost] = {}
    for key in keys:
        put_off = network(with_task(plan, key, not_before=later))
        found[key] = WaitCost(*shift_days(base, simulated(put_off, draws=draws, seed=seed).ends))
        if progress is not None:
            try:
                progress(len(found), len(keys))
            except Stopped:
                break
    return found


def next_on_the_bench(
    plan: Plan, tonight: Tonight, *, draws: int = 1_000, seed: int = 1, most: int = 12
) -> tuple[tuple[Suggestion, ...], tuple[tuple[str, str], ...]]:
    """What to do tonight, and what is ready but left out, each with its reason.

    A task's rank is what leaving it for four weeks would cost the 4-in-5 date, on common random numbers;
    between equals, one that the standing set-up serves, then one that opens more work.

    Raises:
        OutOfRangeError: Hours that can't be.
        PlanError: A plan that can't be.
    """
    if not 0.0 < tonight.hours <= 24.0:
        raise OutOfRangeError("tonight's hours", found=tonight.hours, allowed="more than 0, at most 24")
    ready = ready_tasks(plan)
    out = tuple((task.key, why) for task in ready if (why := left_out(task, tonight)))
    able = [task for task in ready if not left_out(task, tonight)]
    if not able:
        return (), out
    costs = waiting_costs(plan, [task.key for task in able], draws=draws, seed=seed)
    opens = {
        task.key: sum(task.key in other.needs for other in plan.tasks if not other.done) for task in able
    }
    rows = []
    for task in able:
        moved, error = costs[task.key].days, costs[task.key].error_days
        mates = tuple(o.key for o in able if o.setup and o.setup == task.setup and o.key != task.key)
        rest = max(0.0, task.hours - task.spent_hours)
        reasons = [cost_in_words(moved, error)]
        if opens[task.key]:
            reasons.append(f"opens {opens[task.key]} further task{'s' if opens[task.key] > 1 else ''}")
        if task.setup and task.setup == tonight.setup:
            reasons.append("its set-up stands on the bench")
        elif mates:
            reasons.append(f"one set-up serves {len(mates) + 1} tasks")
        if task.helper:
            reasons.append("the helper is there")
        if task.spent_hours > 0:
            reasons.append("already begun")
        fits = rest <= tonight.hours
        reasons.append("may be finished tonight" if fits else f"about {rest:.0f} hours still to go")
        rows.append((task, Suggestion(task.key, task.title, moved, error, fits, tuple(reasons), mates)))
    rows.sort(
        key=lambda row: (
            -round(row[1].waiting_costs_days),
            row[0].setup != tonight.setup or not row[0].setup,
            -opens[row[0].key],
            row[0].key,
        )
    )
    return tuple(suggestion for _, suggestion in rows[:most]), out


def cost_in_words(moved: float, error: float) -> str:
    """The cost of leaving a task, said no more exactly than it is known."""
    if abs(moved) < max(1.0, 2.0 * error):
        return "leaving it four weeks costs nothing that can be told"
    return f"leaving it four weeks costs about {moved:.0f} days"


@dataclass(frozen=True, slots=True)
class Waiting:
    """What is left to do while an item is missing.

    Attributes:
        tasks: Open tasks that do not wait for it, directly or through others.
        hours: Their hours at the middle of the pace.
        runs_dry: Chance that working time finds nothing to do before it comes.
        dry_hours: Mean working hours lost in that time when it does.
    """

    tasks: tuple[str, ...]
    hours: float
    runs_dry: float
    dry_hours: float


def while_waiting(plan: Plan, item_key: str, *, draws: int = 1_000, seed: int = 1) -> Waiting:
    """What remains when an item is missing, and the chance of running dry before it comes.

    Compared on common random numbers with the same plan in which the item is here: a draw runs dry when
    the missing item costs at least one working hour.

    Raises:
        UnknownNameError: No such item.
    """
    if item_key not in {item.key for item in plan.items}:
        raise UnknownNameError("item", found=item_key, allowed=", ".join(item.key for item in plan.items))
    blocked = _behind(plan, item_key)
    free = [task for task in plan.tasks if not task.done and task.key not in blocked]
    shared = float(np.exp(plan.pace.shared))
    hours = sum(max(0.0, task.hours * shared - task.spent_hours) for task in free)
    missing = simulated(network(plan), draws=draws, seed=seed, dry=True).dry
    there = simulated(network(with_item(plan, item_key, arrived=True)), draws=draws, seed=seed, dry=True).dry
    lost = missing - there
    dry = lost >= HUNDREDTHS
    return Waiting(
        tasks=tuple(task.key for task in free),
        hours=hours,
        runs_dry=float(np.mean(dry)),
        dry_hours=float(lost[dry].mean()) / HUNDREDTHS if dry.any() else 0.0,
    )


def _behind(plan: Plan, item_key: str) -> set[str]:
    behind = {task.key for task in plan.tasks if item_key in task.parts}
    grown = True
    while grown:
        more = {task.key for task in plan.tasks if task.key not in behind and behind & set(task.needs)}
        behind |= more
        grown = bool(more)
    return behind
