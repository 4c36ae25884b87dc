# mypy: ignore-errors
"""What is ready and what comes first, compiled: ready tasks as bits by priority, coming events as a heap.

Nothing here makes room for arrays, so that it may do without numba's counting of references.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from ribwright.core.planning.chance_compiled import lowest_bit
from ribwright.core.planning.weeks_compiled import WARM

U = np.uint64


@njit(cache=True, _nrt=False)
def push(heap, size, value):
    at = size
    while at > 0:
        up = (at - 1) >> 1
        if heap[up] <= value:
            break
        heap[at] = heap[up]
        at = up
    heap[at] = value
    return size + 1


@njit(cache=True, _nrt=False)
def pop(heap, size):
    """Drop the least; the caller has read it at heap[0]."""
    size -= 1
    value = heap[size]
    at = 0
    while True:
        down = 2 * at + 1
        if down >= size:
            break
        if down + 1 < size and heap[down + 1] < heap[down]:
            down += 1
        if heap[down] >= value:
            break
        heap[at] = heap[down]
        at = down
    heap[at] = value
    return size


@njit(cache=True, _nrt=False, inline="always")
def room(i, began, words, free, guard):
    """Whether the shop has room for a task, or holds it already."""
    return began[i] != 0 or ((free | guard) - words[i]) & guard == guard


@njit(cache=True, _nrt=False, inline="always")
def first_fitting(top, plain, cold, need_of, began, words, free, guard):
    """The first plain task that there is room for, and that it is not too cold for."""
    found = np.int64(-1)
    for a in range(U(top.shape[0])):
        high = top[a]
        while high != U(0):
            b = (a << U(6)) + lowest_bit(high)
            high &= high - U(1)
            word = plain[b]
            while word != U(0):
                i = (b << U(6)) + lowest_bit(word)
                word &= word - U(1)
                if room(i, began, words, free, guard) and not (cold and need_of[i] == WARM):
                    found = np.int64(i)
                    break
            if found >= 0:
                break
        if found >= 0:
            break
    return found


@njit(cache=True, _nrt=False)
def rarest(day, used, scarce, need_of, hours, began, words, free, guard):
    """The first scarce task that this hour of this day allows and there is room for."""
    for b in range(U(scarce.shape[0])):
        word = scarce[b]
        while word != U(0):
            i = (b << U(6)) + lowest_bit(word)
            word &= word - U(1)
            if hours[need_of[i], day] > used and room(i, began, words, free, guard):
                return np.int64(i)
    return np.int64(-1)


@njit(cache=True, _nrt=False, inline="always")
def release(told, node, when, begins, after, waiting, ready_at, by, ready, top, row):
    """Tell what waits for a node that it is done; returns how many tasks that opens, and how many scarce."""
    opened = 0
    rare = 0
    for e in range(U(begins[U(node)]), U(begins[U(node) + U(1)])):
        # Unsigned places: numba looks no further whether they count from the end.
        s = U(after[e])
        waits = waiting[s] - 1
        waiting[s] = waits
        opens = U(waits == 0)
        if told:
            ready_at[s] = when
            by[s] = node
        kind = U(row[s])
        opened += np.int64(opens)
        rare += np.int64(opens & kind)
        ready[kind, s >> U(6)] |= opens << (s & U(63))
        top[s >> U(12)] |= (opens & ~kind) << ((s >> U(6)) & U(63))
    return opened, rare
