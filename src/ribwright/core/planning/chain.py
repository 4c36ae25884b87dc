"""The textbook's critical path and three-point estimates: a check of the arithmetic, never a date.

Without the builder's hours the longest chain is far too early; the simulation gives the dates.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from ribwright.core.planning.graph import shortest_cycle, topological_order
from ribwright.errors import CycleError, OutOfRangeError


@dataclass(frozen=True, slots=True)
class Chain:
    """The longest chain.

    Attributes:
        length: Its mean length.
        variance: Sum of its activities' variances.
        critical: Indices of the activities without slack, in order.
        slack: Slack of every activity.
    """

    length: float
    variance: float
    critical: tuple[int, ...]
    slack: tuple[float, ...]

    def chance_within(self, deadline: float) -> float:
        """Chance of the chain being done by then, by the normal approximation: other chains are ignored,
        so it is too high."""
        if self.variance == 0:
            return 1.0 if deadline >= self.length else 0.0
        return 0.5 * math.erfc(-(deadline - self.length) / math.sqrt(2.0 * self.variance))


def three_point(low: float, likely: float, high: float) -> tuple[float, float]:
    """Mean (a + 4m + b)/6 and variance ((b − a)/6)² of a three-point estimate.

    Raises:
        OutOfRangeError: Not 0 ≤ low ≤ likely ≤ high.
    """
    if not 0.0 <= low <= likely <= high or not math.isfinite(high):
        raise OutOfRangeError(
            "least, likely and most",
            found=f"{low:g}, {likely:g}, {high:g}",
            allowed="least no more than likely, likely no more than most, none below 0",
        )
    return (low + 4.0 * likely + high) / 6.0, ((high - low) / 6.0) ** 2


def longest_chain(
    estimates: Sequence[tuple[float, float, float]], successors: Sequence[Sequence[int]]
) -> Chain:
    """The longest chain of activities with three-point estimates.

    Args:
        estimates: Low, likely and high of each activity.
        successors: For each activity those that wait for it.

    Raises:
        CycleError: Work that waits for itself.
        OutOfRangeError: An estimate that can't be, or none at all.
    """
    if not estimates:
        raise OutOfRangeError("activities", found="none", allowed="at least one")
    circle = shortest_cycle(successors)
    if circle:
        raise CycleError("activities", found=" → ".join(str(i + 1) for i in [*circle, circle[0]]))
    both = [three_point(*row) for row in estimates]
    order = topological_order(successors)
    early = [0.0] * len(both)
    for i in order:
        for j in successors[i]:
            early[j] = max(early[j], early[i] + both[i][0])
    length = max(early[i] + both[i][0] for i in range(len(both)))
    late = [length] * len(both)
    for i in reversed(order):
        for j in successors[i]:
            late[i] = min(late[i], late[j] - both[j][0])
    slack = [late[i] - both[i][0] - early[i] for i in range(len(both))]
    critical = tuple(i for i in order if slack[i] < 1e-9 * max(1.0, length))
    return Chain(length, _worst_variance(both, successors, critical), critical, tuple(slack))


def _worst_variance(
    both: Sequence[tuple[float, float]], successors: Sequence[Sequence[int]], critical: Sequence[int]
) -> float:
    """The largest variance among the critical chains, as the textbook asks when there are several."""
    total = {i: both[i][1] for i in critical}
    for i in reversed(critical):
        ahead = [total[j] for j in successors[i] if j in total]
        total[i] = both[i][1] + max(ahead, default=0.0)
    return max(total.values(), default=0.0)
