"""Search for a short schedule: serial generation, justification to both sides, activity lists.

A *schedule* is one serial pass over all activities, forward or backward. Nothing else is counted, and
the search stops at a number of schedules, never at a time, so that it gives the same on every machine.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from ribwright.core.planning.graph import topological_order
from ribwright.core.planning.instance import Instance
from ribwright.errors import OutOfRangeError, Stopped

Ints = npt.NDArray[np.int64]
Words = npt.NDArray[np.uint64]

CHUNK = 160_000
"""Activities placed between two words on how far it is; a small project is asked less often, a large one soon."""


@dataclass(frozen=True, slots=True)
class Schedule:
    """The best schedule found.

    Attributes:
        starts: Start of each activity.
        makespan: When the last one ends.
        bound: No schedule can be shorter than this.
        made: How many schedules were made to find it.
        stopped: Whether the search was told to stop before its number was reached.
    """

    starts: tuple[int, ...]
    makespan: int
    bound: int
    made: int
    stopped: bool

    @property
    def proven(self) -> bool:
        """Whether the bound says that nothing shorter exists."""
        return self.makespan == self.bound


def search(
    instance: Instance,
    *,
    schedules: int = 5_000,
    seed: int = 1,
    progress: Callable[[int, int], None] | None = None,
) -> Schedule:
    """Find a short schedule.

    Args:
        instance: What to schedule.
        schedules: How many serial passes may be made, at least 1.
        seed: The same seed gives the same schedule.
        progress: Called with (schedules made, best makespan); it may raise `Stopped`, and then the best
            so far is returned, marked as stopped.

    Raises:
        OutOfRangeError: Fewer than one schedule asked for.
    """
    from ribwright.core.planning import schedule_compiled as compiled

    if schedules < 1:
        raise OutOfRangeError("schedules", found=schedules, allowed="1 or more")
    n = instance.size
    total = int(instance.durations.sum())
    words, guards, front, body = _packed(instance, total)
    origin = total + 1
    pred_at, preds, succ_at, succs = _arcs(instance)
    bound = lower_bound(instance)
    latest = _latest_finish(instance)
    pop = population(schedules, n)
    state = np.array([np.uint64(seed)], dtype=np.uint64)
    lists = np.zeros((2, pop, n), np.int64)
    fitness = np.zeros((2, pop), np.int64)
    side = np.zeros(5, np.int64)
    side[2] = np.int64(1) << 40
    filled = np.zeros(1, np.int64)
    best_start = np.zeros(n, np.int64)
    best_of = np.full(1, np.int64(1) << 40)
    counter = np.zeros(1, np.int64)
    base = np.vstack([front, body])
    keys = np.zeros((2, pop, n), np.int64)
    load = (instance.demands / np.maximum(1, instance.capacity.max(axis=1))).sum(axis=1) * instance.durations
    topo = np.array(topological_order(instance.successors), np.int64)
    stopped = False
    while counter[0] < schedules and best_of[0] > bound:
        compiled.search(
            state, instance.durations, words, guards, base, origin, pred_at, preds, succ_at, succs, latest,
            bound, lists, fitness, side, filled, best_start, best_of, counter,
            min(schedules, int(counter[0]) + max(20, CHUNK // n)), schedules, children(schedules), instance.varies, load, keys,
            topo, walk_steps(schedules),
        )  # fmt: skip
        if progress is not None:
            try:
                progress(int(counter[0]), int(best_of[0]))
            except Stopped:
                stopped = True
                break
    return Schedule(
        starts=tuple(int(t) for t in best_start),
        makespan=int(best_of[0]),
        bound=bound,
        made=int(counter[0]),
        stopped=stopped,
    )


def population(schedules: int, size: int) -> int:
    """Members of each population: rising with the square root of what may be spent, as generations then do too; a small
    project, which stagnates soon, has fewer of a large sum, so that more goes into walks and fresh starts."""
    return max(4, round(min(0.57 * math.sqrt(schedules), 6.2 * schedules**0.22 * max(1.0, size / 32))))


def walk_steps(schedules: int) -> int:
    """Passes of a walk from the best schedule when the populations stand still: an eighth of what may be spent."""
    return schedules // 8


def children(schedules: int) -> int:
    """Tries for each place of the next population, of which the shortest takes it: a short search gains more
    from one more generation than from a third try."""
    return 2 if schedules < 20_000 else 3


def _packed(instance: Instance, total: int) -> tuple[Words, Words, Words, Words]:
    """Demands, guards and free capacity in lanes of 64-bit words."""
    n, k = instance.demands.shape
    used = [r for r in range(k) if instance.demands[:, r].any()]
    peak = np.maximum(instance.capacity.max(axis=1), instance.demands.max(axis=0))
    biggest = int(max((peak[r] for r in used), default=0))
    lane = 16 if biggest < 2**15 else 32
    per = 64 // lane
    count = max(1, -(-len(used) // per))
    length = instance.capacity.shape[1] + total + 2
    words = np.zeros((n, count), np.uint64)
    guards = np.zeros(count, np.uint64)
    body = np.zeros((length, count), np.uint64)
    front = np.zeros((total + 1, count), np.uint64)
    for place, r in enumerate(used):
        q, shift = place // per, np.uint64(lane * (place % per))
        guards[q] |= np.uint64(1) << (shift + np.uint64(lane - 1))
        words[:, q] |= instance.demands[:, r].astype(np.uint64) << shift
        row = np.full(length, instance.capacity[r, -1], np.int64)
        row[: instance.capacity.shape[1]] = instance.capacity[r]
        body[:, q] |= row.astype(np.uint64) << shift
        front[:, q] |= np.uint64(int(peak[r])) << shift
    return words, guards, front, body


def _arcs(instance: Instance) -> tuple[Ints, Ints, Ints, Ints]:
    """Predecessors and successors as offset and index arrays."""
    n = instance.size
    succ_at = np.zeros(n + 1, np.int64)
    preds_of: list[list[int]] = [[] for _ in range(n)]
    flat: list[int] = []
    for i, row in enumerate(instance.successors):
        flat += row
        succ_at[i + 1] = len(flat)
        for other in row:
            preds_of[other].append(i)
    pred_at = np.zeros(n + 1, np.int64)
    pred_at[1:] = np.cumsum([len(row) for row in preds_of])
    preds = np.array([p for row in preds_of for p in row], np.int64)
    return pred_at, preds, succ_at, np.array(flat, np.int64)


def _latest_finish(instance: Instance) -> Ints:
    order = topological_order(instance.successors)
    tail = np.zeros(instance.size, np.int64)
    for i in reversed(order):
        tail[i] = max((tail[j] + instance.durations[j] for j in instance.successors[i]), default=0)
    latest: Ints = int(tail.max()) + int(instance.durations.max()) - tail
    return latest


def lower_bound(instance: Instance) -> int:
    """A makespan that no schedule can beat: the longest chain, each activity where its resources allow it
    alone, and the time by which each resource has had enough capacity in all."""
    ends = np.zeros(instance.size, np.int64)
    begun = np.zeros(instance.size, np.int64)
    length = instance.capacity.shape[1]
    for i in topological_order(instance.successors):
        t, d = int(begun[i]), int(instance.durations[i])
        if instance.varies and d and instance.demands[i].any():
            enough = np.all(instance.capacity >= instance.demands[i][:, None], axis=0)
            s, run = t, 0
            while run < d:
                run = run + 1 if enough[min(s, length - 1)] else 0
                s += 1
            t = s - d
        ends[i] = t + d
        for j in instance.successors[i]:
            begun[j] = max(begun[j], ends[i])
    best = int(ends.max())
    work = instance.durations @ instance.demands
    for r in range(instance.demands.shape[1]):
        if work[r] == 0:
            continue
        have = np.cumsum(instance.capacity[r])
        if have[-1] >= work[r]:
            best = max(best, int(np.searchsorted(have, work[r])) + 1)
        else:
            best = max(best, length + -(-int(work[r] - have[-1]) // int(instance.capacity[r, -1])))
    return best
