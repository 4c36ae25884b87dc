"""New dates for many builds in one night, from PostgreSQL: each record read, its plan made, 10,000 builds of it simulated.

``python benchmarks/nightly_dates.py [--builds 40] [--draws 10000] [--processes 2]``

No order is optimised. The builds are handed to so many processes, one at a time; each opens its build by its address,
as a night's run would. The floor is reading the record and making the plan. The figure is given in processor time a
build, the database's own included, at a quarter, a half and all of the builds (linear when they agree), and worked
out for 500 builds on two cores.
"""

from __future__ import annotations

import argparse
import os
import resource
import statistics
import time
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

import psutil
from adviser_list import COPIED, cluster, fill
from ending import takes_all_with_it
from figures import figure
from plan_draws import simpy_us

from ribwright.core.planning.network import network
from ribwright.core.planning.risk import outlook, simulated
from ribwright.core.planning.tasks import Plan
from ribwright.services.plan import inputs
from ribwright.services.project import open_project
from ribwright.store import schema

THE_REST = ("head", *sorted(set(schema.projections) - set(COPIED)))
"""Tables that a plan is read from beside those of an adviser's list."""


def plan_of(where: str) -> Plan:
    with open_project(where) as project:
        return inputs(project).plan


def dated(where: str, draws: int, seed: int) -> tuple[float, float, str, float]:
    """One build: seconds of processor to read it and to work it out, its earliest day, the process's most memory, MB."""
    start = time.process_time()
    plan = plan_of(where)
    read = time.process_time()
    net = network(plan)
    dates = outlook(net, simulated(net, draws=draws, seed=seed)).dates
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    return read - start, time.process_time() - read, str(dates[0].day), most


def of_database(folder: str) -> float:
    """Seconds of processor that the database server has used, its ended connections included."""
    used = psutil.Process(int(Path(folder, "data", "postmaster.pid").read_text().split()[0]))
    each = [used.cpu_times(), *(one.cpu_times() for one in used.children())]
    return sum(one.user + one.system for one in each) + each[0].children_user + each[0].children_system


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--builds", type=int, default=40)
    parser.add_argument("--draws", type=int, default=10_000)
    parser.add_argument("--processes", type=int, default=2)
    said = parser.parse_args()
    with cluster() as folder:
        address = f"postgresql://app@/ribwright?host={folder}"
        fill(address, f"postgresql://owner@/ribwright?host={folder}", said.builds + 2, also=THE_REST)
        first, *builds = [f"{address}#copy-{n}" for n in range(1, said.builds + 2)]
        plan = plan_of(first)
        with ProcessPoolExecutor(said.processes, mp_context=get_context("spawn")) as pool:
            # what is compiled and read once is not a build's cost
            list(
                pool.map(
                    dated,
                    [first] * 2 * said.processes,
                    [10] * 2 * said.processes,
                    range(2 * said.processes),
                )
            )
            served, start = of_database(folder), time.perf_counter()
            made, at = [], []
            for one in pool.map(dated, builds, [said.draws] * len(builds), range(1, len(builds) + 1)):
                made.append(one)
                at.append(time.perf_counter() - start)
            served = (of_database(folder) - served) / len(builds)
    tasks = sum(not task.done for task in plan.tasks)
    print(f"{said.builds} builds, {tasks} tasks to do, {said.draws:,} draws each, {said.processes} processes; load {os.getloadavg()[0]:.1f}")  # fmt: skip
    print(f"the database's own: {1000 * served:.0f} ms of a core a build")
    for part in sorted({max(1, len(made) // 4), max(1, len(made) // 2), len(made)}):
        used = sum(read + work for read, work, _, _ in made[:part]) + served * part
        print(
            f"{part} builds: {used:.1f} s of a core, {used / part:.3f} a build; {at[part - 1]:.1f} s by the clock"
        )
    floor = statistics.fmean(read for read, *_ in made) + served
    total = used / len(made)
    print(
        f"floor, record read and plan made: {1000 * floor:.0f} ms of a core a build; new dates x{total / floor:.1f} of it"
    )
    print(f"500 builds on two cores: {500 * total / 2 / 60:.1f} min, worked out of {len(made)}; earliest of the first {made[0][2]}")  # fmt: skip
    print(f"most memory of a process: {max(most for *_, most in made):.0f} MB")
    figure(
        "new dates of a build", 1000 * total, "ms of a core", floor=("record read and plan made", 1000 * floor),
        against=(f"simpy, {said.draws:,} draws from 3, no calendar", simpy_us(plan, 3) * said.draws / 1000),
    )  # fmt: skip


if __name__ == "__main__":
    takes_all_with_it()
    main()
