# mypy: ignore-errors
"""The search over activity lists, compiled: two populations crossed in turn, one of schedules pushed to each side.

Functions here take plain arrays that `schedule.py` has checked; nothing in here checks again.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from ribwright.core.planning.passes_compiled import backward, forward

U = np.uint64
PATIENCE = 20
WINDOWS = 3
FAITH = 0.93
"""Share of places that a list near the best schedule takes from it; every second restart begins with such lists."""
SLIPS = 6.4
"""A walk takes a step that is a little longer with this chance over the number of activities: without it it ends on
plateaus that are closed, with too much of it a large project is led away faster than it finds back."""
MORE = 0.5
"""Chance of one more move in a step of a walk, up to four."""
SECOND_MOVES = 12.0
"""A second activity is moved with this chance over the number of activities: small projects stagnate sooner."""
UNIT = 1.0 / 9007199254740992.0


@njit(cache=True, inline="always")
def _next(state):
    """SplitMix64: the next 64 random bits."""
    state[0] += U(0x9E3779B97F4A7C15)
    z = state[0]
    z = (z ^ (z >> U(30))) * U(0xBF58476D1CE4E5B9)
    z = (z ^ (z >> U(27))) * U(0x94D049BB133111EB)
    return z ^ (z >> U(31))


@njit(cache=True, inline="always")
def _below(state, bound):
    """A random whole number in [0, bound)."""
    return np.int64((_next(state) >> U(33)) % U(bound))


@njit(cache=True)
def _sorted_by(key, previous, lowest, highest, count, out):
    """Activities by rising key, equal ones in reverse of `previous`: what was placed last in one direction
    comes first in the other, so that activities of no duration keep their order."""
    n = key.shape[0]
    span = highest - lowest + 2
    for t in range(span):
        count[t] = 0
    for i in range(n):
        count[key[i] - lowest + 1] += 1
    for t in range(1, span):
        count[t] += count[t - 1]
    for place in range(n - 1, -1, -1):
        i = previous[place]
        t = key[i] - lowest
        out[count[t]] = i
        count[t] += 1


@njit(cache=True)
def _sampled(
    state, pred_at, preds, succ_at, succs, latest, greedy, eligible, waiting, out, guide, faith,
):  # fmt: skip
    """A random list biased to what must end early (regret-based sampling of the latest finish), or with
    `faith` above 0 one near the schedule whose starts are `guide`."""
    n = out.shape[0]
    count = 0
    for i in range(n):
        waiting[i] = pred_at[i + 1] - pred_at[i]
        if waiting[i] == 0:
            eligible[count] = i
            count += 1
    for place in range(n):
        worst = latest[eligible[0]]
        best = worst
        best_at = 0
        for e in range(1, count):
            v = latest[eligible[e]]
            if v > worst:
                worst = v
            if v < best:
                best = v
                best_at = e
        pick = best_at
        if faith > 0.0 and (_next(state) >> U(11)) * UNIT < faith:
            pick = 0
            least = guide[eligible[0]]
            for e in range(1, count):
                if guide[eligible[e]] < least:
                    least = guide[eligible[e]]
                    pick = e
        elif not greedy:
            total = 0.0
            for e in range(count):
                r = float(worst - latest[eligible[e]] + 1)
                total += r * r
            u = (_next(state) >> U(11)) * UNIT * total
            for e in range(count):
                r = float(worst - latest[eligible[e]] + 1)
                u -= r * r
                pick = e
                if u < 0.0:
                    break
        i = eligible[pick]
        count -= 1
        eligible[pick] = eligible[count]
        out[place] = i
        for e in range(succ_at[i], succ_at[i + 1]):
            s = succs[e]
            waiting[s] -= 1
            if waiting[s] == 0:
                eligible[count] = s
                count += 1


@njit(cache=True)
def _crossed(mother, father, first, last, mark, out):
    """The mother's middle [first, last) as it is; before and after it her activities in the father's order."""
    n = mother.shape[0]
    for place in range(n):
        mark[mother[place]] = 0 if place < first else (1 if place < last else 2)
    a = 0
    c = last
    for place in range(n):
        i = father[place]
        if mark[i] == 0:
            out[a] = i
            a += 1
        elif mark[i] == 2:
            out[c] = i
            c += 1
    for place in range(first, last):
        out[place] = mother[place]


@njit(cache=True)
def _moved(state, order, at_place, before_at, before, after_at, after):
    """Move one random activity to a random place between what it waits for and what waits for it."""
    n = order.shape[0]
    place = _below(state, n)
    i = order[place]
    low = 0
    for e in range(before_at[i], before_at[i + 1]):
        q = at_place[before[e]] + 1
        if q > low:
            low = q
    high = n - 1
    for e in range(after_at[i], after_at[i + 1]):
        q = at_place[after[e]] - 1
        if q < high:
            high = q
    if high <= low:
        return
    to = low + _below(state, high - low + 1)
    if to > place:
        for q in range(place, to):
            order[q] = order[q + 1]
            at_place[order[q]] = q
    else:
        for q in range(place, to, -1):
            order[q] = order[q - 1]
            at_place[order[q]] = q
    order[to] = i
    at_place[i] = to


@njit(cache=True)
def _peak(state, order, key, load):
    """Of a few random windows of a list, a quarter to three quarters long, the one whose activities use the
    resources most densely: what is worth handing on."""
    n = order.shape[0]
    best = -1.0
    first = 0
    length = 1
    for _ in range(WINDOWS):
        share = (_next(state) >> U(11)) * UNIT
        span = max(1, min(n - 1, np.int64(n * (0.25 + 0.5 * share))))
        at = _below(state, n - span + 1)
        used = 0.0
        for place in range(at, at + span):
            used += load[order[place]]
        dense = used / (key[order[at + span - 1]] - key[order[at]] + 1)
        if dense > best:
            best = dense
            first = at
            length = span
    return first, length


@njit(cache=True)
def walk(
    state, durations, words, guards, base, origin, pred_at, preds, succ_at, succs, topo, bound, best_start, best_of,
    counter, steps, varies,
):  # fmt: skip
    """Go from the best schedule to neighbours no longer than where one stands, pushed to the back and to the front in
    turn, for so many passes. Equal ones are taken too: so it drifts over plateaus on which a population stands still.
    """
    n = durations.shape[0]
    free = base.copy()
    start = np.zeros(n, np.int64)
    stand = np.zeros(n, np.int64)
    trial = np.zeros(n, np.int64)
    at_place = np.zeros(n, np.int64)
    key = np.zeros(n, np.int64)
    count = np.zeros(base.shape[0] + 3, np.int64)
    here = best_of[0]
    for i in range(n):
        key[i] = here - best_start[i] - durations[i]
    _sorted_by(key, topo, 0, here, count, stand)
    back = True
    for _ in range(steps):
        if best_of[0] <= bound:
            break
        for q in range(n):
            trial[q] = stand[q]
            at_place[stand[q]] = q
        moves = 1
        while moves < 4 and (_next(state) >> U(11)) * UNIT < MORE:
            moves += 1
        for _ in range(moves):
            if back:
                _moved(state, trial, at_place, succ_at, succs, pred_at, preds)
            else:
                _moved(state, trial, at_place, pred_at, preds, succ_at, succs)
        free[:] = base
        counter[0] += 1
        if back:
            deadline = origin + best_of[0]
            first = backward(trial, durations, words, guards, free, succ_at, succs, start, deadline)
            made = deadline - first
        else:
            made = forward(trial, durations, words, guards, free, pred_at, preds, start, origin) - origin
            first = origin
        if made < best_of[0] and not (back and varies):
            best_of[0] = made
            for i in range(n):
                best_start[i] = start[i] - first
        near = made <= best_of[0] + 1 + best_of[0] // 50
        if made <= here or (near and (_next(state) >> U(11)) * UNIT < SLIPS / n):
            here = made
            for i in range(n):
                key[i] = start[i] - first if back else made + origin - start[i] - durations[i]
            _sorted_by(key, trial, 0, made, count, stand)
            back = not back


@njit(cache=True)
def search(
    state, durations, words, guards, base, origin, pred_at, preds, succ_at, succs, latest, bound,
    lists, fitness, side, filled, best_start, best_of, counter, budget, limit, children, varies, load, keys, topo, steps,
):  # fmt: skip
    """Go on with the search until `budget` schedules were made in all, or the bound is met.

    Two populations: 0 holds schedules pushed to the front, each kept as the list that the backward pass
    takes; 1 holds schedules pushed to the back, as lists for the forward pass. A generation crosses the
    members of one and thereby fills the other, so that every child costs one pass and is justified.
    """
    n = durations.shape[0]
    size = lists.shape[1]
    horizon = base.shape[0]
    free = base.copy()
    start = np.zeros(n, np.int64)
    child = np.zeros(n, np.int64)
    trial = np.zeros(n, np.int64)
    keep = np.zeros(n, np.int64)
    mark = np.zeros(n, np.int64)
    at_place = np.zeros(n, np.int64)
    count = np.zeros(horizon + 3, np.int64)
    key = np.zeros(n, np.int64)
    while counter[0] < budget and best_of[0] > bound:
        if filled[0] < size:
            _sampled(
                state, pred_at, preds, succ_at, succs, latest, filled[0] == 0 and side[4] == 0, mark, at_place, child,
                best_start, FAITH if side[4] % 2 == 1 else 0.0,
            )  # fmt: skip
            free[:] = base
            end = forward(child, durations, words, guards, free, pred_at, preds, start, origin)
            counter[0] += 1
            if end - origin < best_of[0]:
                best_of[0] = end - origin
                for i in range(n):
                    best_start[i] = start[i] - origin
            for i in range(n):
                key[i] = end - start[i] - durations[i]
            _sorted_by(key, child, 0, end - origin, count, lists[0, filled[0]])
            for i in range(n):
                keys[0, filled[0], i] = key[i]
            fitness[0, filled[0]] = end - origin
            filled[0] += 1
            continue
        a = side[0]
        b = 1 - a
        m = side[1]
        deadline = origin + best_of[0]
        found = np.int64(1) << 40
        for _ in range(children):
            if counter[0] >= limit:
                break
            f1 = _below(state, size - 1)
            if f1 >= m:
                f1 += 1
            f2 = _below(state, size - 1)
            if f2 >= m:
                f2 += 1
            father = f1 if fitness[a, f1] <= fitness[a, f2] else f2
            first, length = _peak(state, lists[a, m], keys[a, m], load)
            _crossed(lists[a, m], lists[a, father], first, first + length, mark, trial)
            for q in range(n):
                at_place[trial[q]] = q
            moves = 2 if (_next(state) >> U(11)) * UNIT < SECOND_MOVES / n else 1
            for _ in range(moves):
                if a == 0:
                    _moved(state, trial, at_place, succ_at, succs, pred_at, preds)
                else:
                    _moved(state, trial, at_place, pred_at, preds, succ_at, succs)
            free[:] = base
            counter[0] += 1
            if a == 0:
                least = backward(trial, durations, words, guards, free, succ_at, succs, start, deadline)
                made = deadline - least
                if not varies and made < best_of[0]:
                    best_of[0] = made
                    for i in range(n):
                        best_start[i] = start[i] - least
            else:
                end = forward(trial, durations, words, guards, free, pred_at, preds, start, origin)
                made = end - origin
                if made < best_of[0]:
                    best_of[0] = made
                    for i in range(n):
                        best_start[i] = start[i] - origin
            if made < found:
                found = made
                for i in range(n):
                    keep[i] = trial[i]
                    key[i] = start[i] - least if a == 0 else end - start[i] - durations[i]
        _sorted_by(key, keep, 0, found, count, lists[b, m])
        fitness[b, m] = found
        for i in range(n):
            keys[b, m, i] = key[i]
        side[1] += 1
        if side[1] == size:
            side[1] = 0
            side[0] = b
            least_of = fitness[b, 0]
            for i in range(1, size):
                if fitness[b, i] < least_of:
                    least_of = fitness[b, i]
            side[3] += 1
            if least_of < side[2]:
                side[2] = least_of
                side[3] = 0
            if side[3] >= PATIENCE:
                # Nothing new for so long: walk on from the best schedule, then start again, by turns near it
                # and from fresh lists.
                walk(
                    state, durations, words, guards, base, origin, pred_at, preds, succ_at, succs, topo, bound,
                    best_start, best_of, counter, min(steps, limit - counter[0]), varies,
                )  # fmt: skip
                filled[0] = 0
                side[0] = 0
                side[2] = np.int64(1) << 40
                side[3] = 0
                side[4] += 1
