"""Order among things that wait for each other: a valid order, and the shortest circle when there is none."""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence


def topological_order(successors: Sequence[Sequence[int]]) -> list[int]:
    """An order in which nothing comes before what it waits for; shorter than the input if there is a circle.

    Among the free ones the lowest number comes first, so that the order is reproducible.
    """
    import heapq

    waiting = [0] * len(successors)
    for row in successors:
        for other in set(row):
            waiting[other] += 1
    free = [i for i, count in enumerate(waiting) if count == 0]
    order: list[int] = []
    while free:
        i = heapq.heappop(free)
        order.append(i)
        for other in set(successors[i]):
            waiting[other] -= 1
            if waiting[other] == 0:
                heapq.heappush(free, other)
    return order


def shortest_cycle(successors: Sequence[Sequence[int]]) -> list[int]:
    """The shortest circle, as indices in order of waiting, or an empty list.

    Breadth-first from every member of what a topological order leaves over.
    """
    left = set(range(len(successors))) - set(topological_order(successors))
    best: list[int] = []
    for start in sorted(left):
        if start in successors[start]:
            return [start]
        came: dict[int, int] = {start: start}
        queue = deque([start])
        depth = {start: 0}
        while queue:
            i = queue.popleft()
            if best and depth[i] + 1 >= len(best):
                break
            if start in successors[i]:
                path = [i]
                while path[-1] != start:
                    path.append(came[path[-1]])
                best = path[::-1]
                break
            for other in successors[i]:
                if other in left and other not in came:
                    came[other] = i
                    depth[other] = depth[i] + 1
                    queue.append(other)
    return best
