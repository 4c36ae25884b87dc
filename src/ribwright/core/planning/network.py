"""A sound plan as the arrays that the simulation takes: tasks by priority, gates behind them."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
import numpy.typing as npt

from ribwright.core.planning.calendars import DAY, DAYLIGHT, HELPER, HUNDREDTHS, WARM, day_hours, time_of
from ribwright.core.planning.graph import topological_order
from ribwright.core.planning.problems import require_sound
from ribwright.core.planning.tasks import Item, Plan, Task
from ribwright.errors import OutOfRangeError, UnknownNameError

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]
Words = npt.NDArray[np.uint64]

HORIZON_WEEKS = 30 * 52
LANE = 16
KINDS = 4


@dataclass(frozen=True, slots=True)
class Network:
    """What `risk.simulated` takes. Tasks are in order of priority; gates follow them.

    Attributes:
        plan: The plan it was made from, checked.
        tasks: Those still to do, by priority.
        gate_names: What each gate is: an item's key, or "start of" and a task's key.
        arrays: The arguments of the compiled simulation that belong to the network, in its order.
    """

    plan: Plan
    tasks: tuple[Task, ...]
    gate_names: tuple[str, ...]
    arrays: tuple[object, ...]

    @property
    def keys(self) -> tuple[str, ...]:
        return tuple(task.key for task in self.tasks)

    @property
    def start(self) -> date:
        return self.plan.start


def ident(key: str) -> np.uint64:
    """A number that follows a name through every change of the plan, so that its random numbers do too."""
    return np.uint64(int.from_bytes(hashlib.blake2b(key.encode(), digest_size=8).digest(), "little"))


def network(plan: Plan, *, order: Sequence[str] = (), early: Sequence[str] = ()) -> Network:
    """Make the arrays.

    Args:
        plan: What to do.
        order: Keys by priority; tasks not named follow, those with the longest work behind them first.
        early: Items taken to be here already, whatever the plan says of them.

    Raises:
        PlanError, InputError: The first thing wrong with the plan.
        UnknownNameError: `order` or `early` names what is not in the plan.
    """
    plan = require_sound(plan)
    todo = [task for task in plan.tasks if not task.done]
    known = {task.key for task in plan.tasks}
    for key in order:
        if key not in known:
            raise UnknownNameError("order of tasks", found=key, allowed="keys of the plan's tasks")
    for key in early:
        if key not in {item.key for item in plan.items}:
            raise UnknownNameError("item", found=key, allowed="keys of the plan's items")
    if not todo:
        raise OutOfRangeError(
            "plan", found="nothing left to do", allowed="at least one task that is not done"
        )
    here = set(early)
    todo = _by_priority(plan, todo, order)
    items = [item for item in plan.items if not item.arrived and item.key not in here]
    used_items = {key for task in todo for key in task.parts}
    items = [item for item in items if item.key in used_items]
    held = [task for task in todo if task.not_before is not None and task.not_before > plan.start]
    gate_names = tuple([item.key for item in items] + [f"start of {task.key}" for task in held])
    return Network(
        plan=plan,
        tasks=tuple(todo),
        gate_names=gate_names,
        arrays=(
            *_work(plan, todo),
            *_world(plan, todo),
            *_links(todo, items, held),
            *_gates(plan, items, held),
        ),
    )


def _by_priority(plan: Plan, todo: list[Task], order: Sequence[str]) -> list[Task]:
    """As asked, then by the longest way to the end, in elapsed days at the middle of everything."""
    weekly = max(0.5, sum(plan.week.hours)) * (1.0 - plan.pace.idle_week)
    place = {task.key: i for i, task in enumerate(todo)}
    after: list[list[int]] = [[] for _ in todo]
    for i, task in enumerate(todo):
        for key in task.needs:
            if key in place:
                after[place[key]].append(i)
    tail = [0.0] * len(todo)
    for i in reversed(topological_order(after)):
        own = todo[i].hours / weekly * 7.0 + todo[i].cure_hours / 24.0
        tail[i] = own + max((tail[j] for j in after[i]), default=0.0)
    asked = {key: i for i, key in enumerate(order)}
    ranked = sorted(range(len(todo)), key=lambda i: (asked.get(todo[i].key, len(asked)), -tail[i], i))
    return [todo[i] for i in ranked]


def _work(plan: Plan, todo: list[Task]) -> tuple[object, ...]:
    pace = plan.pace
    trades = sorted({task.trade for task in todo})
    number = {trade: k for k, trade in enumerate(trades)}
    means, sds, loads = dict(pace.trade), dict(pace.trade_sd), dict(pace.trade_load)
    hours = np.array([task.hours for task in todo])
    idle_sd = 1.0 / math.sqrt(max(1e-9, pace.idle_known * pace.idle_week * (1.0 - pace.idle_week)))
    return (
        np.array([ident(task.key) for task in todo], np.uint64),
        np.where(hours > 0, np.log(np.maximum(hours, 1e-12)), -1e9),
        np.array([math.log(task.spread) * pace.noise_scale if task.hours > 0 else 0.0 for task in todo]),
        np.array([number[task.trade] for task in todo], np.int64),
        np.array([task.spent_hours if task.hours > 0 else 0.0 for task in todo]),
        pace.shared,
        pace.shared_sd,
        np.array([ident("trade " + trade) for trade in trades], np.uint64),
        np.array([means.get(trade, 0.0) for trade in trades]),
        np.array([sds.get(trade, pace.trade_sd_new) for trade in trades]),
        np.array([loads.get(trade, 1.0) for trade in trades]),
        math.log(pace.idle_week / (1.0 - pace.idle_week)) if pace.idle_week > 0 else -99.0,
        min(idle_sd, 1.5) if pace.idle_week > 0 else 0.0,
        pace.stop_week,
        math.log(max(pace.stop_weeks, 1e-3)),
        math.log(pace.stop_spread),
    )


def _world(plan: Plan, todo: list[Task]) -> tuple[object, ...]:
    needs = np.array([HELPER * t.helper + DAYLIGHT * t.daylight + WARM * t.warm for t in todo], np.int64)
    cure = np.array([round(t.cure_hours * HUNDREDTHS) for t in todo], np.int64)
    names = [name for name, _ in plan.shop if any(name in dict(t.uses) for t in todo)]
    if len(names) > KINDS:
        raise OutOfRangeError("shop", found=f"{len(names)} kinds in use", allowed=f"at most {KINDS}")
    words = np.zeros(len(todo), np.uint64)
    guard, room = 0, 0
    for place, name in enumerate(names):
        guard |= 1 << (LANE * place + LANE - 1)
        room |= math.floor(dict(plan.shop)[name]) << (LANE * place)
        words |= np.array([math.ceil(dict(t.uses).get(name, 0.0)) for t in todo], np.uint64) << np.uint64(
            LANE * place
        )
    return needs, cure, words, np.uint64(guard), np.uint64(room)


def _links(todo: list[Task], items: list[Item], held: list[Task]) -> tuple[Ints, Ints, Ints]:
    """How many things each task waits for, and who waits for each task and gate."""
    place = {task.key: i for i, task in enumerate(todo)}
    after: list[list[int]] = [[] for _ in range(len(todo) + len(items) + len(held))]
    gate = {item.key: len(todo) + g for g, item in enumerate(items)}
    for i, task in enumerate(todo):
        for key in set(task.needs):
            if key in place:
                after[place[key]].append(i)
        for key in set(task.parts):
            if key in gate:
                after[gate[key]].append(i)
    for g, task in enumerate(held):
        after[len(todo) + len(items) + g].append(place[task.key])
    waiting = np.zeros(len(todo), np.int64)
    for row in after:
        for i in row:
            waiting[i] += 1
    at = np.zeros(len(after) + 1, np.int64)
    at[1:] = np.cumsum([len(row) for row in after])
    return waiting, at, np.array([i for row in after for i in sorted(row)], np.int64)


def _gates(plan: Plan, items: list[Item], held: list[Task]) -> tuple[object, ...]:
    hours = day_hours(plan.week, plan.start, HORIZON_WEEKS * 7)
    begun = [time_of(plan.start, item.order_on or plan.start) for item in items]
    begun += [time_of(plan.start, task.not_before or plan.start) for task in held]
    log_lead = [math.log(item.lead_days) if item.lead_days > 0 else -1e9 for item in items]
    log_lead += [-1e9] * len(held)
    sigma = [math.log(item.lead_spread) for item in items] + [0.0] * len(held)
    names = [f"item {item.key}" for item in items] + [f"start of {task.key}" for task in held]
    return (
        np.array([ident(name) for name in names], np.uint64),
        np.array(begun, np.int64),
        np.array(log_lead, np.float64),
        np.array(sigma, np.float64),
        hours,
        np.cumsum(np.hstack([np.zeros((8, 1), np.int64), hours]), axis=1),
    )


def horizon_hundredths(net: Network) -> int:
    """The time at which a draw that never ends is cut off."""
    hours = net.arrays[-2]
    assert isinstance(hours, np.ndarray)
    return int(hours.shape[1]) * DAY
