"""New dates for many builds in one night: each record read, its plan made, 10,000 builds of it simulated.

``python benchmarks/nightly_dates.py [--builds 10] [--draws 10000]``

No order is optimised. The floor is reading the record and making the plan; the figure is given in processor time a
build, for the first and the second half of the builds (linear when they agree), and worked out for 500 builds on two cores.
"""

from __future__ import annotations

import argparse
import os
import resource
import tempfile
import time
from pathlib import Path

from ending import takes_all_with_it
from figures import figure
from plan_draws import simpy_us

from ribwright.core.planning.network import network
from ribwright.core.planning.risk import outlook, simulated
from ribwright.services.dunlin import make_dunlin
from ribwright.services.plan import inputs
from ribwright.services.project import Actor, open_project


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--builds", type=int, default=10)
    parser.add_argument("--draws", type=int, default=10_000)
    said = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        where = Path(folder) / "dunlin"
        make_dunlin(where, actor=Actor("Ann Bell"), request_id="made").close()
        with open_project(str(where)) as warm:  # what is compiled once is not a build's cost
            simulated(network(inputs(warm).plan), draws=10, seed=0)
        reading, working = [], []
        for build in range(said.builds):
            start = time.process_time()
            with open_project(str(where)) as project:
                plan = inputs(project).plan
            read = time.process_time()
            net = network(plan)
            dates = outlook(net, simulated(net, draws=said.draws, seed=build + 1)).dates
            reading.append(read - start)
            working.append(time.process_time() - read)
    tasks = sum(not task.done for task in plan.tasks)
    each = [a + b for a, b in zip(reading, working, strict=True)]
    half = max(1, len(each) // 2)
    floor, total = sum(reading) / len(each), sum(each) / len(each)
    print(
        f"{said.builds} builds, {tasks} tasks to do, {said.draws:,} draws each; load {os.getloadavg()[0]:.1f}"
    )
    print(f"floor, record read and plan made: {1000 * floor:.0f} ms of a core a build")
    print(f"new dates: {1000 * total:.0f} ms of a core a build (x{total / floor:.1f} of the floor)")
    print(
        f"first half {sum(each[:half]) / half:.3f} s, second half {sum(each[half:]) / max(1, len(each) - half):.3f} s a build"
    )
    print(
        f"500 builds on two cores: {500 * total / 2 / 60:.1f} min, worked out; the earliest of the dates {dates[0].day}"
    )
    figure(
        "new dates of a build", 1000 * total, "ms of a core", floor=("record read and plan made", 1000 * floor),
        against=(f"simpy, {said.draws:,} draws from 3, no calendar", simpy_us(plan, 3) * said.draws / 1000),
    )  # fmt: skip
    print(f"memory: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")


if __name__ == "__main__":
    takes_all_with_it()
    main()
