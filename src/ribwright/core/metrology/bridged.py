"""Stretches of an edge that were not seen: what they may do to the best fit of the whole.

The best fit is over all places of a target. Left out, a nose of a few places that a lamp whites out moves the whole
part by a quarter of a millimetre along its chord, and all that was seen well is wrong by as much. So the fit takes what
its neighbours say of an unseen stretch, and every place's uncertainty what that guess may be wrong by. The stretch
itself stays unseen.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

BESIDE_MM = 8.0  # of edge on either side that says how an unseen stretch runs
LEAST_SIGMA_MM = 0.05  # of a guess, however smooth the rest is
UNTOLD_SIGMA_MM = 0.5  # of one that could be tried nowhere else
EVERY = 3  # tried again from so many rows on: the next row tells nothing new


def bridged(arc_mm: Floats, offset_mm: Floats, seen: Mask) -> tuple[Floats, Floats]:
    """An edge with its unseen stretches filled in from their neighbours, and how wrong that may be.

    A stretch between two seen ones is a parabola through both, one at an end a straight line. The same is tried
    wherever as long a stretch was seen: how wrong it is there is its uncertainty here.

    Args:
        arc_mm: shape (rows,), evenly spaced.
        offset_mm: shape (rows,), of the edge across the target.
        seen: shape (rows,), where it is to be believed.

    Returns:
        Offsets and one sigma, 0 where seen; both of shape (rows,).
    """
    filled, sigma = offset_mm.copy(), np.zeros(len(offset_mm))
    if seen.all() or seen.sum() < 4:
        return filled, sigma
    step = float(arc_mm[1] - arc_mm[0])
    beside = max(2, round(BESIDE_MM / step))
    known = np.flatnonzero(seen)
    bounds = np.flatnonzero(np.diff(np.r_[False, ~seen, False].astype(np.int8))).reshape(-1, 2)
    for first, end in bounds:
        gap = np.arange(first, end)
        before, after = known[known < first][-beside:], known[known >= end][:beside]
        filled[gap] = _carried(gap, np.r_[before, after], offset_mm, bool(len(before) and len(after)))
        sigma[gap] = _tried(
            offset_mm, seen, len(gap), beside if len(before) else 0, beside if len(after) else 0
        )
    return filled, sigma


def _carried(gap: NDArray[np.int64], known: NDArray[np.int64], offset: Floats, within: bool) -> Floats:
    """Offsets in a gap by the curve through known rows."""
    return np.asarray(_weights(gap, known, within) @ offset[known])


def _weights(gap: NDArray[np.int64], known: NDArray[np.int64], within: bool) -> Floats:
    """What each known row counts in each row of the gap."""
    middle, size = gap.mean(), float(len(gap) + len(known))
    power = np.arange(3 if within else 2)
    base, wanted = (((rows - middle) / size)[:, None] ** power for rows in (known, gap))
    return np.asarray(wanted @ np.linalg.pinv(base))


def _tried(offset: Floats, seen: Mask, gap: int, before: int, after: int) -> float:
    """One sigma of such a guess, from all stretches of the same length that were seen with their neighbours."""
    whole = before + gap + after
    if not before or not after:  # an end: either end of a seen stretch tells as much
        before, after = max(before, after), 0
    if whole > len(offset):
        return UNTOLD_SIGMA_MM
    rows = np.arange(whole)
    inner = (rows >= before) & (rows < before + gap)
    weights = _weights(rows[inner], rows[~inner], after > 0)
    runs = []
    for line, there in ((offset, seen), (offset[::-1], seen[::-1]))[: 1 if after else 2]:
        all_there = np.lib.stride_tricks.sliding_window_view(there, whole).all(axis=1)
        runs.append(np.lib.stride_tricks.sliding_window_view(line, whole)[all_there][::EVERY])
    tried = np.concatenate(runs)
    if not len(tried):
        return UNTOLD_SIGMA_MM
    miss = np.abs(tried[:, inner] - tried[:, ~inner] @ weights.T).max(axis=1)
    return max(LEAST_SIGMA_MM, float(np.quantile(miss, 0.95)) / 2)
