"""Whether a schedule can be done: checked from the instance alone, knowing nothing of how it was found."""

from __future__ import annotations

from collections.abc import Sequence

from ribwright.core.planning.instance import Instance


def faults(instance: Instance, starts: Sequence[int]) -> list[str]:
    """What is wrong with a schedule, in words; empty if it can be done.

    Args:
        instance: What was scheduled.
        starts: Start of every activity.
    """
    if len(starts) != instance.size:
        return [f"{len(starts)} starts for {instance.size} activities"]
    found: list[str] = []
    ends = [s + int(d) for s, d in zip(starts, instance.durations, strict=True)]
    for i, row in enumerate(instance.successors):
        if starts[i] < 0:
            found.append(f"activity {i + 1} starts at {starts[i]}")
        for j in row:
            if starts[j] < ends[i]:
                found.append(f"activity {j + 1} starts at {starts[j]}, before {i + 1} ends at {ends[i]}")
    length = instance.capacity.shape[1]
    for r in range(instance.demands.shape[1]):
        use: dict[int, int] = {}
        for i in range(instance.size):
            for t in range(starts[i], ends[i]):
                use[t] = use.get(t, 0) + int(instance.demands[i, r])
        for t, amount in sorted(use.items()):
            there = int(instance.capacity[r, min(max(t, 0), length - 1)])
            if amount > there:
                found.append(f"resource {r + 1} at {t}: {amount} used of {there}")
    return found


def makespan(instance: Instance, starts: Sequence[int]) -> int:
    """When the last activity ends."""
    return max(s + int(d) for s, d in zip(starts, instance.durations, strict=True))
