"""How late each thing may come without moving the end of the plan.

In every draw an item has two days of its own: the one on which work with it could first begin, and the latest one
on which it may come while everything still ends when it would with the item at hand. Between the two other work
fills the wait; after the second the end waits for it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from ribwright.core.planning.calendars import DAY
from ribwright.core.planning.network import Network, network
from ribwright.core.planning.risk import worked_through
from ribwright.core.planning.tasks import Plan

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

HOLDS = DAY  # an end that moves by no more than a day is taken not to move
NEAR = 4 * DAY  # how closely an arrival is sought
SHARES = 100
MOST = 80
"""Of more orders than one aeroplane has only the first use is found: each costs ten builds of every draw."""


@dataclass(frozen=True, slots=True)
class Arrival:
    """Days from today, one a draw.

    Attributes:
        first_use: When work with it could first begin if everything not yet ordered were here.
        latest: The latest arrival that leaves the end where it is, all other orders coming at theirs. For an order that
            is out: with the others as they come.
        tried: Whether that was sought; else the first use stands for it.
    """

    first_use: Floats
    latest: Floats
    tried: bool = True


def latest_arrivals(
    plan: Plan, *, draws: int = 500, seed: int = 1, report: Callable[[str], None] = lambda _: None
) -> dict[str, Arrival]:
    """For each item that is not here and that open work uses: when it is first used, and how late it may come.

    Orders that are out come as drawn. Each item's own latest arrival is sought with all that could still be ordered at
    hand; then all are put off together by one share of the way from first use to that, the largest that leaves the end
    where it is: what fills the wait for one can't fill it for two. An arrival is sought to four days, and only one
    that was seen to hold is given. Of more than `MOST` orders the first use is taken for both.

    Args:
        plan: A sound plan.
        draws: How many.
        seed: As in `risk.simulated`.
        report: Told how far it is; may raise `Stopped`.
    """
    net = network(plan)
    items = {item.key: item for item in plan.items}
    gates = [g for g, name in enumerate(net.gate_names) if name in items]
    if not gates:
        return {}
    numbers = np.arange(draws, dtype=np.int64)
    here = np.full((draws, len(net.gate_names)), -1, np.int64)
    free = [g for g in gates if not items[net.gate_names[g]].ordered]
    here[:, free] = 0
    base = worked_through(net, seed, numbers, given=here, starts=True)
    users = {g: _users(net, g) for g in gates}
    first = {g: base.starts[:, users[g]].min(axis=1) for g in gates}
    if len(gates) > MOST:
        return {net.gate_names[g]: Arrival(first[g] / DAY, first[g] / DAY, tried=False) for g in gates}
    own: dict[int, Ints] = {}
    for place, g in enumerate(gates):
        report(f"how late each order may come: {place} of {len(gates)}")
        # an order for the very same work as another has the same answer
        twin = next((h for h in own if g in free and h in free and users[h] == users[g]), None)
        own[g] = _own_latest(net, seed, numbers, here, base.ends, g) if twin is None else own[twin]
    latest = dict(own)
    if len(free) > 1:
        report("how late all orders may come together")
        latest |= _together(net, seed, numbers, here, base.ends, free, first, own)
    return {net.gate_names[g]: Arrival(first[g] / DAY, latest[g] / DAY) for g in gates}


def first_uses(plan: Plan, *, draws: int = 500, seed: int = 1) -> dict[str, Floats]:
    """For each item that is not here and that open work uses: days to when work with it could first begin, were all here."""
    waiting = [item.key for item in plan.items if not item.arrived]
    net = network(plan, early=waiting)
    starts = worked_through(net, seed, np.arange(draws, dtype=np.int64), starts=True).starts
    users = {key: [i for i, task in enumerate(net.tasks) if key in task.parts] for key in waiting}
    return {key: starts[:, which].min(axis=1) / DAY for key, which in users.items() if which}


def _users(net: Network, gate: int) -> tuple[int, ...]:
    return tuple(i for i, task in enumerate(net.tasks) if net.gate_names[gate] in task.parts)


def _own_latest(net: Network, seed: int, numbers: Ints, here: Ints, ends: Ints, gate: int) -> Ints:
    """The latest arrival at one gate, the others as they are, shape (draws,).

    Halving needs nothing but that `low` holds and `high` doesn't: an end that jumps about with the helper's days and
    the weeks without work does no harm.
    """
    given = here.copy()
    if (here[:, gate] < 0).any():
        given[:, gate] = 0
        ends = worked_through(net, seed, numbers, given=given).ends
    limit = ends + HOLDS
    low, high = np.zeros(len(numbers), np.int64), limit + 1
    left = np.arange(len(numbers))
    while len(left):
        tried = (low[left] + high[left]) // 2
        given[left, gate] = tried
        holds = worked_through(net, seed, numbers[left], given=given[left]).ends <= limit[left]
        low[left[holds]], high[left[~holds]] = tried[holds], tried[~holds]
        left = left[high[left] - low[left] > NEAR]
    return low


def _together(
    net: Network, seed: int, numbers: Ints, here: Ints, ends: Ints, free: Sequence[int],
    first: dict[int, Ints], own: dict[int, Ints],
) -> dict[int, Ints]:  # fmt: skip
    """All orders put off by the largest common share of their own ways that leaves the end where it is."""
    start = np.column_stack([np.minimum(first[g], own[g]) for g in free])
    way = np.column_stack([own[g] for g in free]) - start
    low, high = np.zeros(len(numbers), np.int64), np.full(len(numbers), SHARES + 1, np.int64)
    given = here.copy()
    left = np.arange(len(numbers))
    while len(left):
        tried = (low[left] + high[left]) // 2
        given[np.ix_(left, np.array(free))] = start[left] + way[left] * tried[:, None] // SHARES
        holds = worked_through(net, seed, numbers[left], given=given[left]).ends <= ends[left] + HOLDS
        low[left[holds]], high[left[~holds]] = tried[holds], tried[~holds]
        left = left[high[left] - low[left] > 1]
    found = start + way * low[:, None] // SHARES
    return {g: found[:, k] for k, g in enumerate(free)}
