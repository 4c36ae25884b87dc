"""Instances of our own to tune the search on, so that it is never tuned on the published sets.

    python benchmarks/schedule_own.py [--sizes 30 60 90 120] [--first 0] [--count 24] [--schedules 5000 50000] [--best FILE]

Layered random networks with four resources: network complexity 1.5, 1.8 or 2.1 successors an activity, a share of
half to all of the resources in use, and resource strength .1 to .3 (the hard ones) between what the hungriest activity needs and the
peak of the earliest-start schedule (the parameters of Kolisch, Sprecher and Drexl, Management Science 41 (1995) 1693;
the generator is ours and simpler). Gaps are to the best makespan ever seen in `--best`, which long runs lower.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from itertools import product
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "src"))

from ribwright.core.planning.graph import topological_order
from ribwright.core.planning.instance import Instance, make_instance
from ribwright.core.planning.schedule import search

KINDS = tuple(product((1.5, 1.8, 2.1), (0.5, 0.75, 1.0), (0.1, 0.2, 0.3)))


def own(size: int, number: int) -> Instance:
    """Instance `number` of `size` activities, a dummy before and behind."""
    g = np.random.default_rng([size, number, 7])
    complexity, factor, strength = KINDS[number % len(KINDS)]
    after: list[set[int]] = [set() for _ in range(size + 2)]
    for j in range(2, size + 1):
        if j > 4:
            after[int(g.integers(max(1, j - size // 2), j))].add(j)
    while sum(len(row) for row in after) < complexity * size:
        i = int(g.integers(1, size))
        j = int(g.integers(i + 1, size + 1))
        if len(after[i]) < 3:
            after[i].add(j)
    has_before = {j for row in after for j in row}
    after[0] = {j for j in range(1, size + 1) if j not in has_before}
    for i in range(1, size + 1):
        if not after[i]:
            after[i].add(size + 1)
    durations = np.array([0, *g.integers(1, 11, size), 0])
    demands = np.zeros((size + 2, 4), np.int64)
    for i in range(1, size + 1):
        used = g.random(4) < factor
        used[int(g.integers(4))] = True
        demands[i] = used * g.integers(1, 11, 4)
    starts = np.zeros(size + 2, np.int64)
    rows = [tuple(sorted(row)) for row in after]
    for i in topological_order(rows):
        for j in rows[i]:
            starts[j] = max(starts[j], starts[i] + durations[i])
    load = np.zeros((4, int(starts.max()) + 11), np.int64)
    for i in range(size + 2):
        load[:, starts[i] : starts[i] + durations[i]] += demands[i][:, None]
    least = demands.max(axis=0)
    capacity = least + np.rint(strength * (load.max(axis=1) - least)).astype(np.int64)
    return make_instance(
        f"own{size}_{number}", durations.tolist(), demands.tolist(), [[int(c)] for c in capacity], rows
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sizes", type=int, nargs="+", default=[30, 60, 90, 120])
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--count", type=int, default=36)
    parser.add_argument("--schedules", type=int, nargs="+", default=[5_000, 50_000])
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--best", type=Path, default=Path("schedule_own_best.json"))
    options = parser.parse_args()
    best: dict[str, int] = json.loads(options.best.read_text()) if options.best.exists() else {}
    made: dict[tuple[int, int], list[tuple[str, int]]] = {}
    used: dict[tuple[int, int], float] = {}
    for size, schedules in product(options.sizes, options.schedules):
        begun = time.process_time()
        for number in range(options.first, options.first + options.count):
            instance = own(size, number)
            found = search(instance, schedules=schedules, seed=options.seed).makespan
            best[instance.name] = min(found, best.get(instance.name, found))
            made.setdefault((size, schedules), []).append((instance.name, found))
        used[size, schedules] = time.process_time() - begun
    options.best.write_text(json.dumps(best))
    for (size, schedules), rows in made.items():
        gaps = [100.0 * (found / best[name] - 1.0) for name, found in rows]
        print(
            f"{size:4} activities, {schedules:7,} schedules: mean gap {np.mean(gaps):.3f} %, {sum(g == 0 for g in gaps)} of {len(gaps)} "
            f"at the best seen, {used[size, schedules]:.1f} CPU-s"
        )


if __name__ == "__main__":
    main()
