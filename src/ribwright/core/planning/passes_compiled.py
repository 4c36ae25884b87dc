# mypy: ignore-errors
"""Serial schedule generation, compiled: one pass over a list of activities, forward or backward.

Free capacity at a time is one or more 64-bit words: each resource has a lane whose top bit is a guard.
With the guards set, one subtraction tells for all lanes at once whether a demand fits. Functions here
take plain arrays that `schedule.py` has checked; nothing in here checks again.
"""

from __future__ import annotations

from numba import njit


@njit(cache=True)
def forward(order, durations, words, guards, free, pred_at, preds, start, origin):
    """Place every activity as early as it fits, in the order given; `free` is used up. Returns the end."""
    n = order.shape[0]
    w = words.shape[1]
    end = origin
    for place in range(n):
        i = order[place]
        t = origin
        for e in range(pred_at[i], pred_at[i + 1]):
            p = preds[e]
            f = start[p] + durations[p]
            if f > t:
                t = f
        d = durations[i]
        if d > 0:
            if w == 1:
                need = words[i, 0]
                guard = guards[0]
                if need != 0:
                    run = 0
                    s = t
                    while run < d:
                        if ((free[s, 0] | guard) - need) & guard == guard:
                            run += 1
                        else:
                            run = 0
                        s += 1
                    t = s - d
                    for s2 in range(t, s):
                        free[s2, 0] -= need
            else:
                run = 0
                s = t
                while run < d:
                    fits = True
                    for q in range(w):
                        if ((free[s, q] | guards[q]) - words[i, q]) & guards[q] != guards[q]:
                            fits = False
                            break
                    run = run + 1 if fits else 0
                    s += 1
                t = s - d
                for s2 in range(t, s):
                    for q in range(w):
                        free[s2, q] -= words[i, q]
        start[i] = t
        if t + d > end:
            end = t + d
    return end


@njit(cache=True)
def backward(order, durations, words, guards, free, succ_at, succs, start, deadline):
    """Place every activity as late as it fits before the deadline, in the order given. Returns the least
    start. Times here are those of `free`, whose front is long enough for every activity in a row."""
    n = order.shape[0]
    w = words.shape[1]
    least = deadline
    for place in range(n):
        i = order[place]
        t = deadline
        for e in range(succ_at[i], succ_at[i + 1]):
            s = start[succs[e]]
            if s < t:
                t = s
        d = durations[i]
        if d > 0:
            if w == 1:
                need = words[i, 0]
                guard = guards[0]
                if need != 0:
                    run = 0
                    s = t
                    while run < d:
                        s -= 1
                        if ((free[s, 0] | guard) - need) & guard == guard:
                            run += 1
                        else:
                            run = 0
                    t = s + d
                    for s2 in range(s, t):
                        free[s2, 0] -= need
            else:
                run = 0
                s = t
                while run < d:
                    s -= 1
                    fits = True
                    for q in range(w):
                        if ((free[s, q] | guards[q]) - words[i, q]) & guards[q] != guards[q]:
                            fits = False
                            break
                    run = run + 1 if fits else 0
                t = s + d
                for s2 in range(s, t):
                    for q in range(w):
                        free[s2, q] -= words[i, q]
        start[i] = t - d
        if t - d < least:
            least = t - d
    return least
