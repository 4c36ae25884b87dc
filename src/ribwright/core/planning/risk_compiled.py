# mypy: ignore-errors
"""One builder at work, drawn many times, compiled: counter-based numbers, whole hundredths, whole days.

A draw depends on (seed, draw, item) alone. Hours are drawn as floats and at once rounded to whole
hundredths; from there on everything is whole numbers, so that a draw is the same in any chunk, thread or
process. Tasks are numbered by priority: task 0 is what the builder takes first when it is possible.
"""

from __future__ import annotations

import math

import numpy as np
from llvmlite import ir
from numba import njit, types
from numba.extending import intrinsic

U = np.uint64
DAY = 2400
SHARED = U(0x5368617265640001)
IDLE = U(0x49646C6500000002)
WEEKS = U(0x5765656B00000003)
TRADES = U(0x5472616465000004)
SCARCE = 3


@intrinsic
def _lowest_bit(context, word):
    """Position of the lowest set bit of a non-zero word."""

    def build(ctx, builder, signature, args):
        return builder.cttz(args[0], ir.Constant(ir.IntType(1), 0))

    return types.int64(types.uint64), build


@njit(cache=True, inline="always")
def mixed(seed, draw, item):
    """64 bits that depend on all three: two rounds of SplitMix64's finisher."""
    z = (seed ^ (draw * U(0x9E3779B97F4A7C15))) + item * U(0xD1B54A32D192ED03)
    z = (z ^ (z >> U(30))) * U(0xBF58476D1CE4E5B9)
    z = (z ^ (z >> U(27))) * U(0x94D049BB133111EB)
    z ^= z >> U(31)
    z = (z + U(0x9E3779B97F4A7C15)) * U(0xBF58476D1CE4E5B9)
    z = (z ^ (z >> U(29))) * U(0x94D049BB133111EB)
    return z ^ (z >> U(32))


@njit(cache=True, inline="always")
def uniform(seed, draw, item):
    """A number in the open interval (0, 1)."""
    return ((mixed(seed, draw, item) >> U(12)) + 0.5) * (1.0 / 4503599627370496.0)


@njit(cache=True)
def quantile(p):
    """The standard normal quantile: Wichura, algorithm AS 241, Applied Statistics 37 (1988), PPND7."""
    q = p - 0.5
    if abs(q) <= 0.425:
        r = 0.180625 - q * q
        return (
            q
            * (((5.9109374720e1 * r + 1.5929113202e2) * r + 5.0434271938e1) * r + 3.3871327179)
            / (((6.7187563600e1 * r + 7.8757757664e1) * r + 1.7895169469e1) * r + 1.0)
        )
    r = p if q < 0.0 else 1.0 - p
    r = math.sqrt(-math.log(r))
    if r <= 5.0:
        r -= 1.6
        z = (((1.7023821103e-1 * r + 1.3067284816) * r + 2.7568153900) * r + 1.4234372777) / (
            (1.2021132975e-1 * r + 7.3700164250e-1) * r + 1.0
        )
    else:
        r -= 5.0
        z = (((1.7337203997e-2 * r + 4.2868294337e-1) * r + 3.0812263860) * r + 6.6579051150) / (
            (1.2258202635e-2 * r + 2.4197894225e-1) * r + 1.0
        )
    return -z if q < 0.0 else z


@njit(cache=True)
def normal(seed, draw, item):
    return quantile(uniform(seed, draw, item))


@njit(cache=True)
def _push(heap, size, value):
    at = size
    while at > 0:
        up = (at - 1) >> 1
        if heap[up] <= value:
            break
        heap[at] = heap[up]
        at = up
    heap[at] = value
    return size + 1


@njit(cache=True)
def _pop(heap, size):
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


@njit(cache=True)
def _drawn(seed, draw, ident, log_hours, sigma, trade, spent, shift, bits, floats, out):
    """Hundredths of an hour still to work on each task of one draw.

    In passes over all tasks that the compiler can vectorise: random bits, the middle of the normal
    quantile, its tails where needed, the exponential as 2^n times a polynomial, rounding.
    """
    n = ident.shape[0]
    z = floats[1]
    u = floats[0]
    for i in range(n):
        bits[0, i] = (mixed(seed, draw, ident[i]) >> U(12)) | U(0x3FF0000000000000)
    for i in range(n):
        q = (u[i] - (1.0 - 1.1102230246251565e-16)) - 0.5
        r = 0.180625 - q * q
        z[i] = (
            q
            * (((5.9109374720e1 * r + 1.5929113202e2) * r + 5.0434271938e1) * r + 3.3871327179)
            / (((6.7187563600e1 * r + 7.8757757664e1) * r + 1.7895169469e1) * r + 1.0)
        )
    tails = 0
    for i in range(n):
        out[tails] = i
        tails += np.int64(abs(u[i] - (1.0 - 1.1102230246251565e-16) - 0.5) > 0.425)
    for k in range(tails):
        i = out[k]
        z[i] = quantile(u[i] - (1.0 - 1.1102230246251565e-16))
    for i in range(n):
        x = (log_hours[i] + shift[trade[i]] + sigma[i] * z[i]) * 1.4426950408889634
        x = min(max(x, -40.0), 40.0)
        m = x + 6755399441055744.0
        f = (x - (m - 6755399441055744.0)) * 0.6931471805599453
        z[i] = m
        u[i] = 1.0 + f * (
            1.0 + f * (0.5 + f * (1.0 / 6 + f * (1.0 / 24 + f * (1.0 / 120 + f * (1.0 / 720 + f / 5040)))))
        )
    for i in range(n):
        bits[1, i] = (bits[1, i] + U(1023)) << U(52)
    total = 0
    for i in range(n):
        d = np.int64(min(u[i] * z[i], 1e6) * 100.0 + 0.5)
        out[i] = d
        total += d
    for i in range(n):
        if spent[i] > 0.0:
            mean = log_hours[i] + shift[trade[i]]
            p = 0.0
            if sigma[i] > 0.0:
                p = 0.5 * math.erfc(-(math.log(spent[i]) - mean) / (sigma[i] * 1.4142135623730951))
            elif math.exp(mean) < spent[i]:
                p = 1.0
            p = min(p, 0.999999)
            x = p + (1.0 - p) * uniform(seed, draw, ident[i])
            x = max(0.01, math.exp(mean + sigma[i] * quantile(x)) - spent[i])
            d = np.int64(min(x, 1e6) * 100.0 + 0.5)
            total += d - out[i]
            out[i] = d
    return total


@njit(cache=True, nogil=True)
def simulate(
    seed, first, count, ident, log_hours, sigma, trade, spent, shared, shared_sd, trade_ident, trade_mean,
    trade_sd, trade_load, idle_logit, idle_sd, stop_chance, stop_log, stop_sigma, needs, cure, words, guard, room,
    waiting0, succ_at, succs, gate_ident, gate_from, gate_log, gate_sigma, hours, upto_day, bits, floats, ends, worked,
    dry, starts, decides,
):  # fmt: skip
    """Simulate draws `first` to `first + count`; fills `ends` and `worked`, and `dry`, `starts` and
    `decides` where they have room.

    Gates are what must come from outside: numbered after the tasks, each opens at a drawn time.
    """
    n = ident.shape[0]
    gates = gate_ident.shape[0]
    horizon = hours.shape[1]
    block = (n + 63) >> 6
    ready = np.zeros((2, block), U)
    plain = ready[0]
    scarce = ready[1]
    row = np.zeros(n, np.int64)
    ready0 = np.zeros((2, block), U)
    scarce0 = 0
    waiting_count0 = 0
    kinds = np.zeros(hours.shape[0], np.bool_)
    for i in range(n):
        row[i] = np.int64(needs[i] & SCARCE != 0)
        if row[i]:
            kinds[needs[i]] = True
        if waiting0[i] == 0:
            ready0[row[i], i >> 6] |= U(1) << U(i & 63)
            scarce0 += row[i]
            waiting_count0 += 1
    # The longest that any scarce kind of work can go on in a day, and the next day on which one can at all.
    most = np.zeros(horizon, np.int64)
    next_scarce = np.full(horizon + 1, horizon, np.int64)
    for day in range(horizon - 1, -1, -1):
        for k in range(kinds.shape[0]):
            if kinds[k]:
                most[day] = max(most[day], hours[k, day])
        next_scarce[day] = day if most[day] > 0 else next_scarce[day + 1]
    left = np.zeros(n, np.int64)
    waiting = np.zeros(n, np.int64)
    ready_at = np.zeros(n, np.int64)
    began = np.zeros(n, np.bool_)
    by = np.full(n, -1, np.int64)
    cause = np.zeros(n, np.int64)
    shift = np.zeros(trade_ident.shape[0])
    heap = np.zeros(n + gates + 1, np.int64)
    want_starts = starts.shape[0] > 0
    want_dry = dry.shape[0] > 0
    want_decides = decides.shape[0] > 0
    for q in range(count):
        draw = U(first + q)
        swing = shared_sd * normal(seed, draw, SHARED)
        for k in range(trade_ident.shape[0]):
            own = trade_sd[k] * normal(seed, draw, trade_ident[k])
            shift[k] = shared + trade_load[k] * swing + trade_mean[k] + own
        worked[q] = _drawn(seed, draw, ident, log_hours, sigma, trade, spent, shift, bits, floats, left)
        idle = 0.0
        if idle_logit > -30.0:
            idle = 1.0 / (1.0 + math.exp(-(idle_logit + idle_sd * normal(seed, draw, IDLE))))
        size = 0
        scarce_count = scarce0
        waiting_count = waiting_count0
        for b in range(block):
            plain[b] = ready0[0, b]
            scarce[b] = ready0[1, b]
        for i in range(n):
            waiting[i] = waiting0[i]
        for i in range(n):
            began[i] = False
        for g in range(gates):
            t = gate_from[g]
            if gate_log[g] > -1e8:
                lead = math.exp(gate_log[g] + gate_sigma[g] * normal(seed, draw, gate_ident[g]))
                t += np.int64(min(lead, 4e4) * 2400.0 + 0.5)
            size = _push(heap, size, (max(t, 0) << 20) | (n + g))
        free = room
        day = 0
        used = 0
        week = -1
        week_end = 0
        closed_until = 0
        open_now = True
        current = -1
        last = -1
        left_over = n
        first_block = 0
        finish = 0
        final = -1
        lost = 0
        while left_over > 0:
            now = day * DAY + used
            while size > 0 and (heap[0] >> 20) <= now:
                node = heap[0] & 0xFFFFF
                at = heap[0] >> 20
                size = _pop(heap, size)
                if node < n:
                    free += words[node]
                    left_over -= 1
                    if at >= finish:
                        finish = at
                        final = node
                for e in range(succ_at[node], succ_at[node + 1]):
                    s = succs[e]
                    waiting[s] -= 1
                    opens = np.int64(waiting[s] == 0)
                    ready_at[s] = at
                    by[s] = node
                    waiting_count += opens
                    scarce_count += opens & row[s]
                    ready[row[s], s >> 6] |= U(opens) << U(s & 63)
                    first_block = min(first_block, s >> 6)
            if left_over == 0:
                break
            if day >= horizon:
                finish = horizon * DAY
                break
            if day >= week_end:
                week += 1
                week_end += 7
                open_now = week >= closed_until
                if open_now and (idle > 0.0 or stop_chance > 0.0):
                    x = uniform(seed, draw, WEEKS + U(week))
                    if x < stop_chance:
                        y = normal(seed, draw, WEEKS + U(1000000 + week))
                        length = math.exp(stop_log + stop_sigma * y)
                        closed_until = week + max(1, np.int64(min(length, 500.0) + 0.5))
                        open_now = False
                    elif x < stop_chance + (1.0 - stop_chance) * idle:
                        open_now = False
            pick = -1
            if open_now and waiting_count > 0:
                if scarce_count > 0 and most[day] > used:
                    for b in range(block):
                        word = scarce[b]
                        while word != U(0):
                            i = (b << 6) + _lowest_bit(word)
                            word &= word - U(1)
                            if hours[needs[i], day] > used and (
                                began[i] or ((free | guard) - words[i]) & guard == guard
                            ):
                                pick = i
                                break
                        if pick >= 0:
                            break
                if pick < 0 and current >= 0 and hours[needs[current], day] > used:
                    pick = current
                if pick < 0 and hours[0, day] > used:
                    while first_block < block and plain[first_block] == U(0):
                        first_block += 1
                    for b in range(first_block, block):
                        word = plain[b]
                        while word != U(0):
                            i = (b << 6) + _lowest_bit(word)
                            word &= word - U(1)
                            if hours[needs[i], day] > used and (
                                began[i] or ((free | guard) - words[i]) & guard == guard
                            ):
                                pick = i
                                break
                        if pick >= 0:
                            break
            if pick < 0:
                upto = (day + 1) * DAY
                if size > 0 and (waiting_count == 0 or (heap[0] >> 20) < upto):
                    upto = max(now + 1, heap[0] >> 20)
                if want_dry and open_now and waiting_count == 0:
                    spare = hours[0, day] - used
                    if upto < (day + 1) * DAY:
                        spare = min(spare, upto - now)
                    lost += max(0, spare)
                    upto = min(upto, (day + 1) * DAY)
                upto = min(upto, week_end * DAY) if open_now else week_end * DAY
                day = upto // DAY
                used = upto - day * DAY
                continue
            need = needs[pick]
            bit = U(1) << U(pick & 63)
            ready[row[pick], pick >> 6] &= ~bit
            scarce_count -= row[pick]
            waiting_count -= 1
            if not began[pick]:
                began[pick] = True
                free -= words[pick]
                if want_starts:
                    starts[q, pick] = day * DAY + used
                if want_decides:
                    cause[pick] = (
                        last if ready_at[pick] < now and last >= 0 else (n if by[pick] < 0 else by[pick])
                    )
            rest = left[pick]
            top = heap[0] >> 20 if size > 0 else np.int64(1) << 40
            done = False
            if need == 0:
                # Where the work ends by the sum of hours, within the week and up to the first morning on
                # which something else may come first: the end of a cure or wait, or scarce help.
                until = week_end
                if scarce_count > 0:
                    until = min(until, next_scarce[day + 1])
                until = max(day + 1, min(until, (top + DAY - 1) // DAY))
                target = upto_day[0, day] + used + rest
                ended = week_end - 7
                for d in range(week_end - 6, week_end + 1):
                    ended += np.int64(upto_day[0, d] < target)
                ended = max(ended, day)
                done = ended < until
                day = ended if done else until
                used = target - upto_day[0, day] if done else 0
                rest = 0 if done else target - upto_day[0, day]
            while need != 0:
                can = hours[need, day] - used
                if rest <= can:
                    used += rest
                    done = True
                    break
                if can > 0:
                    rest -= can
                    used += can
                if hours[0, day] > used:
                    break
                day += 1
                used = 0
                if day == week_end or scarce_count > 0 or top <= day * DAY:
                    break
            if done:
                left[pick] = 0
                last = pick
                if current == pick:
                    current = -1
                at = day * DAY + used
                if cure[pick] > 0:
                    size = _push(heap, size, ((at + cure[pick]) << 20) | pick)
                else:
                    free += words[pick]
                    left_over -= 1
                    if at >= finish:
                        finish = at
                        final = pick
                    for e in range(succ_at[pick], succ_at[pick + 1]):
                        s = succs[e]
                        waiting[s] -= 1
                        opens = np.int64(waiting[s] == 0)
                        ready_at[s] = at
                        by[s] = pick
                        waiting_count += opens
                        scarce_count += opens & row[s]
                        ready[row[s], s >> 6] |= U(opens) << U(s & 63)
                        first_block = min(first_block, s >> 6)
            else:
                left[pick] = rest
                waiting_count += 1
                ready[row[pick], pick >> 6] |= bit
                scarce_count += row[pick]
                first_block = min(first_block, pick >> 6)
                if row[pick] == 0:
                    current = pick
        ends[q] = finish
        if want_dry:
            dry[q] = lost
        if want_decides and final >= 0:
            node = final
            for _ in range(n + 1):
                decides[node] += 1
                if node >= n:
                    break
                up = cause[node]
                if up == n and by[node] < 0:
                    break
                node = up
