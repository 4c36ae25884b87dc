# mypy: ignore-errors
"""One builder at work, drawn many times, compiled: whole hundredths of an hour, whole days and weeks.

Tasks are numbered by priority: task 0 is what the builder takes first when it is possible. Where the builder
stands (`at`) is counted in the builder's own time, see `weeks_compiled`: most tasks only add to it, and the day in the
calendar is looked up where something hangs on it: the helper, daylight, a warm shop, glue that dries, a delivery.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from ribwright.core.planning.chance_compiled import begun_hours, hours_drawn, normal_of, stream
from ribwright.core.planning.ready_compiled import first_fitting, pop, push, rarest, release
from ribwright.core.planning.weeks_compiled import DAY, SCARCE, WARM, clock, days_of, place_of, week_of

U = np.uint64
NEVER = np.int64(1) << 50
SHARED = U(0x5368617265640001)
IDLE = U(0x49646C6500000002)
NODE = 0xFFFFF
LOG2_E = 1.4426950408889634


@njit(cache=True, _nrt=False, nogil=True)
def _live(
    seed, numbers, given, ident, log_hours, sigma, trade, spent, shared, shared_sd, trade_ident, trade_mean,
    trade_sd, trade_load, idle_logit, idle_sd, odds, cure, words, guard, room,
    gate_ident, gate_from, gate_log, gate_sigma, hours, ends, worked, dry, starts, decides, begin, week_sum,
    opened, passed, state, need_of, row, ready0, top0, open0, scarce0, seasons, most, next_scarce, next_warm,
    next_cold, ready, top, item, log2_sd, log2_mean, mean, some, begins, after, first_waiting, bits, left,
    waiting, ready_at, began, by, cause, shift, heap,
):  # fmt: skip
    """The draws themselves, for `simulate`, which made the room. Without numba's counting of references, which
    costs more than the work."""
    want_starts = starts.shape[0] > 0
    want_dry = dry.shape[0] > 0
    want_given = given.shape[0] > 0
    want_decides = decides.shape[0] > 0
    n = left.shape[0]
    gates = gate_ident.shape[0]
    weeks = week_sum.shape[0]
    horizon = weeks * 7
    plain = ready[0]
    scarce = ready[1]
    for q in range(numbers.shape[0]):
        key = stream(seed, U(numbers[q]))
        swing = shared_sd * normal_of(key, SHARED)
        for k in range(trade_ident.shape[0]):
            own = trade_sd[k] * normal_of(key, trade_ident[k])
            shift[k] = shared + trade_load[k] * swing + trade_mean[k] + own
        for i in range(n):
            mean[i] = log_hours[i] + shift[trade[i]]
        for i in range(n):
            log2_mean[i] = mean[i] * LOG2_E
        worked[q] = hours_drawn(key, item, log2_mean, log2_sd, bits, left)
        if some.shape[0] > 0:
            worked[q] += begun_hours(key, ident, mean, sigma, spent, some, left)
        odds[0] = 0.0
        if idle_logit > -30.0:
            odds[0] = 1.0 / (1.0 + math.exp(-(idle_logit + idle_sd * normal_of(key, IDLE))))
        state[0] = 0
        state[1] = 0
        for b in range(ready.shape[1]):
            ready[0, b] = ready0[0, b]
            ready[1, b] = ready0[1, b]
        for a in range(top.shape[0]):
            top[a] = top0[a]
        for i in range(n):
            waiting[i] = first_waiting[i]
        for i in range(n):
            began[i] = 0
        if want_decides:
            for i in range(n):
                by[i] = -1
                ready_at[i] = 0
        open_count = open0
        scarce_count = scarce0
        size = 0
        for g in range(gates):
            t = gate_from[g]
            if gate_log[g] > -1e8:
                lead = math.exp(gate_log[g] + gate_sigma[g] * normal_of(key, gate_ident[g]))
                t += np.int64(min(lead, 4e4) * 2400.0 + 0.5)
            if want_given and given[q, g] >= 0:
                t = given[q, g]
            size = push(heap, size, (max(t, 0) << 20) | (n + g))
        free = room
        at = np.int64(0)
        week = 0
        lost = 0
        current = -1
        last = -1
        left_over = n
        cured = np.int64(0)
        final = -1
        milestone = False
        event = NEVER
        seen = np.int64(-1)
        over = False
        rare_at = np.int64(0)
        season_at = np.int64(0) if seasons else NEVER
        cold = False
        crowded = False
        while left_over > 0:
            head = heap[0] if size > 0 else NEVER
            if head != seen:
                # The next event from outside, as a place in the builder's own time.
                seen = head
                event = NEVER
                day = head // (DAY << 20)
                if size > 0 and day < horizon:
                    in_day = min((head >> 20) - day * DAY, hours[0, day])
                    event = place_of(
                        day,
                        in_day,
                        key,
                        odds,
                        begin,
                        week_sum,
                        opened,
                        passed,
                        state,
                    )
            if event <= at:
                node = head & NODE
                size = pop(heap, size)
                if node < n:
                    free += words[node]
                    rare_at *= np.int64(not (crowded and words[node] != U(0)))
                    left_over -= 1
                    cured = head >> 20
                    final = node
                opens, rare = release(
                    want_decides, node, event, begins, after, waiting, ready_at, by, ready, top, row
                )
                open_count += opens
                scarce_count += rare
                rare_at *= np.int64(rare == 0)
                continue
            if open_count == 0:
                if event == NEVER:
                    over = True
                    break
                lost += event - at
                at = event
                continue
            now = scarce_count > 0 and at >= rare_at
            turned = at >= season_at
            day = 0
            used = 0
            if now or turned:
                week = week_of(
                    at,
                    week,
                    key,
                    odds,
                    begin,
                    week_sum,
                    opened,
                    passed,
                    state,
                )
                if week >= weeks:
                    over = True
                    break
                place = at - passed[week] + begin[7 * week]
                day = 7 * week
                for d in range(7 * week + 1, 7 * week + 7):
                    day += np.int64(begin[d] <= place)
                used = place - begin[day]
            if turned:
                cold = hours[WARM, day] < hours[0, day]
                turn = next_warm[day] if cold else next_cold[day]
                season_at = NEVER
                if turn < horizon:
                    season_at = place_of(
                        turn,
                        0,
                        key,
                        odds,
                        begin,
                        week_sum,
                        opened,
                        passed,
                        state,
                    )
            pick = -1
            if now:
                if most[day] > used:
                    pick = rarest(day, used, scarce, need_of, hours, began, words, free, guard)
                if pick < 0:
                    crowded = most[day] > used
                    rare_at = NEVER
                    if next_scarce[day + 1] < horizon:
                        rare_at = place_of(
                            next_scarce[day + 1],
                            0,
                            key,
                            odds,
                            begin,
                            week_sum,
                            opened,
                            passed,
                            state,
                        )
            if pick < 0:
                if current >= 0 and not (cold and need_of[current] == WARM):
                    pick = current
                else:
                    pick = first_fitting(top, plain, cold, need_of, began, words, free, guard)
            if pick < 0:
                # Nothing that is open can be done now: on to the next day on which it may, or to an event.
                then = min(event, season_at)
                if scarce_count > 0:
                    then = min(then, rare_at)
                if then == NEVER:
                    over = True
                    break
                at = then
                continue
            u = U(pick)
            if began[u] == 0:
                began[u] = 1
                free -= words[u]
                if want_decides:
                    pressed = ready_at[u] < at and last >= 0
                    cause[u] = last if pressed else (n if by[u] < 0 else by[u])
                if want_starts:
                    starts[q, pick] = clock(
                        at,
                        0,
                        week,
                        key,
                        odds,
                        begin,
                        week_sum,
                        opened,
                        passed,
                        state,
                    )
            rest = np.int64(left[u])
            need = need_of[u]
            # How far it can go on: to an event, to the end of the helper's hours, to something scarcer, to the cold.
            limit = event
            if row[u] != 0:
                limit = min(limit, at + hours[need, day] - used)
            elif scarce_count > 0:
                limit = min(limit, rare_at)
            if need == WARM:
                limit = min(limit, season_at)
            if limit < at + rest:
                left[u] = at + rest - limit
                at = limit
                if row[u] == 0:
                    current = pick
                continue
            at += rest
            kind = U(row[u])
            ready[kind, u >> U(6)] &= ~(U(1) << (u & U(63)))
            top[u >> U(12)] &= ~(U(plain[u >> U(6)] == U(0)) << ((u >> U(6)) & U(63)))
            open_count -= 1
            scarce_count -= row[u]
            last = pick
            if current == pick:
                current = -1
            if cure[u] > 0:
                done = clock(
                    at,
                    np.int64(rest > 0),
                    week,
                    key,
                    odds,
                    begin,
                    week_sum,
                    opened,
                    passed,
                    state,
                )
                size = push(heap, size, ((done + cure[u]) << 20) | pick)
                continue
            free += words[u]
            rare_at *= np.int64(not (crowded and words[u] != U(0)))
            left_over -= 1
            final = pick
            milestone = rest == 0
            opens, rare = release(
                want_decides, pick, at, begins, after, waiting, ready_at, by, ready, top, row
            )
            open_count += opens
            scarce_count += rare
            rare_at *= np.int64(rare == 0)
        finish = horizon * DAY
        if not over:
            finish = cured
            if cure[final] == 0:
                finish = max(
                    cured,
                    clock(
                        at,
                        np.int64(not milestone),
                        0,
                        key,
                        odds,
                        begin,
                        week_sum,
                        opened,
                        passed,
                        state,
                    ),
                )
        ends[q] = finish
        if want_dry:
            dry[q] = lost
        if want_decides and not over:
            node = final
            for _ in range(n + 1):
                decides[node] += 1
                if node >= n:
                    break
                up = cause[node]
                if up == n and by[node] < 0:
                    break
                node = up


@njit(cache=True, nogil=True)
def simulate(
    seed, numbers, given, ident, log_hours, sigma, trade, spent, shared, shared_sd, trade_ident, trade_mean,
    trade_sd, trade_load, idle_logit, idle_sd, stop_chance, stop_log, stop_sigma, needs, cure, words, guard, room,
    waiting0, succ_at, succs, gate_ident, gate_from, gate_log, gate_sigma, hours, upto_day, ends, worked, dry,
    starts, decides,
):  # fmt: skip
    """Simulate the draws of these numbers; fills `ends` and `worked`, and `dry`, `starts` and `decides` where they
    have room.

    Gates are what must come from outside: numbered after the tasks, each opens at a drawn time, or at that of
    `given`, shape (draws, gates) or none, where it is not negative. A task in hand
    is put down when scarcer work (the helper, daylight) can be done, and taken up again after it.
    """
    n = ident.shape[0]
    gates = gate_ident.shape[0]
    weeks = hours.shape[1] // 7
    begin = upto_day[0]
    week_sum = begin[7::7] - begin[:-1:7][:weeks]
    opened = np.zeros(weeks, np.int64)
    passed = np.zeros(weeks + 1, np.int64)
    state = np.zeros(2, np.int64)
    odds = np.array([0.0, stop_chance, stop_log, stop_sigma])
    need_of = needs.astype(np.int32)
    row = (needs & SCARCE != 0).astype(np.int64)
    there = np.zeros(hours.shape[0], np.bool_)
    ready0 = np.zeros((2, (n + 63) >> 6), U)
    top0 = np.zeros((n + 4095) >> 12, U)
    open0 = 0
    scarce0 = 0
    for i in range(n):
        there[needs[i]] = True
        if waiting0[i] == 0:
            ready0[row[i], i >> 6] |= U(1) << U(i & 63)
            top0[i >> 12] |= U(1 - row[i]) << U((i >> 6) & 63)
            open0 += 1
            scarce0 += row[i]
    most, next_scarce, next_cold, next_warm = days_of(hours, there)
    seasons = there[WARM]
    ready = ready0.copy()
    top = top0.copy()
    item = ident * U(0xD1B54A32D192ED03)
    log2_sd = (sigma * LOG2_E).astype(np.float32)
    log2_mean = np.zeros(n, np.float32)
    mean = np.zeros(n)
    some = np.nonzero(spent > 0.0)[0]
    begins = succ_at.astype(np.int32)
    after = succs.astype(np.int32)
    first_waiting = waiting0.astype(np.int32)
    bits = np.zeros(n, np.int32)
    left = np.zeros(n, np.int32)
    waiting = np.zeros(n, np.int32)
    ready_at = np.zeros(n, np.int64)
    began = np.zeros(n, np.uint8)
    by = np.zeros(n, np.int32)
    cause = np.zeros(n, np.int32)
    shift = np.zeros(trade_ident.shape[0])
    heap = np.zeros(n + gates + 1, np.int64)
    _live(
        seed, numbers, given, ident, log_hours, sigma, trade, spent, shared, shared_sd, trade_ident,
        trade_mean, trade_sd, trade_load, idle_logit, idle_sd, odds, cure,
        words, guard, room, gate_ident, gate_from, gate_log, gate_sigma, hours, ends, worked, dry,
        starts, decides, begin, week_sum, opened, passed, state, need_of, row, ready0, top0, open0,
        scarce0, seasons, most, next_scarce, next_warm, next_cold, ready, top, item, log2_sd, log2_mean, mean,
        some, begins, after, first_waiting, bits, left, waiting, ready_at, began, by, cause, shift, heap,
    )  # fmt: skip
