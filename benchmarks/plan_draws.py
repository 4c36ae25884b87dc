"""Draws of the whole plan a CPU-second: the floor first, then the rate, then the ratio to simpy.

python benchmarks/plan_draws.py [--tasks 500] [--draws 10000]
"""

from __future__ import annotations

import argparse
import math
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
from figures import figure

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "src"))

from ribwright.core.planning import chance_compiled
from ribwright.core.planning.cash import Purse
from ribwright.core.planning.network import network
from ribwright.core.planning.risk import drawn, simulated, what_moves_the_date
from ribwright.core.planning.tasks import Item, Plan, Task, Week
from ribwright.core.planning.tornado import usual_changes
from ribwright.services.plan_orders import cash_view


def made_up(n: int, seed: int = 1, items: int = 12) -> Plan:
    """A plan of n tasks: five trades, some with helper, warmth, cure, floor space, and long-lead items."""
    g = np.random.default_rng(seed)
    trades = ("sheet", "systems", "engine", "finish", "paper")
    tasks = []
    for i in range(n):
        before = g.integers(max(0, i - 40), i, size=min(i, int(g.integers(0, 3)))) if i else ()
        tasks.append(
            Task(
                key=f"t{i}",
                title=f"task {i}",
                hours=float(np.round(np.exp(g.normal(1.0, 0.7)), 1)),
                trade=trades[int(g.integers(5))],
                needs=tuple({f"t{j}" for j in before}),
                parts=(f"i{int(g.integers(items))}",) if g.random() < 0.05 else (),
                helper=bool(g.random() < 0.05),
                warm=bool(g.random() < 0.05),
                cure_hours=24.0 if g.random() < 0.08 else 0.0,
                uses=(("floor", float(g.integers(10, 40))),) if g.random() < 0.2 else (),
            )
        )
    bought = tuple(Item(f"i{k}", f"item {k}", float(g.integers(20, 400)), 1.3, 1000.0) for k in range(items))
    warm = Week(warm_months=(4, 5, 6, 7, 8, 9, 10))
    return Plan(date(2026, 3, 2), tuple(tasks), bought, warm, (("floor", 120.0),))


def floor_us(net, draws: int) -> float:
    """CPU microseconds a draw for the random hours alone."""
    n = len(net.tasks)
    ident, log_hours, sigma = net.arrays[:3]
    mean, sd = (
        (log_hours * math.log2(math.e)).astype(np.float32),
        (sigma * math.log2(math.e)).astype(np.float32),
    )
    bits, out = np.zeros(n, np.int32), np.zeros(n, np.int32)
    chance_compiled.hours_drawn(np.uint64(1), ident, mean, sd, bits, out)
    begun = time.process_time()
    for q in range(draws):
        chance_compiled.hours_drawn(np.uint64(q), ident, mean, sd, bits, out)
    return (time.process_time() - begun) / draws * 1e6


def simpy_us(plan: Plan, draws: int) -> float:
    """CPU microseconds a draw of simpy for the same number of tasks, one builder, no calendar at all."""
    import simpy

    g = np.random.default_rng(1)
    begun = time.process_time()
    for _ in range(draws):
        env = simpy.Environment()
        builder = simpy.PriorityResource(env, 1)
        done = {task.key: env.event() for task in plan.tasks}

        def run(task, place, env=env, builder=builder, done=done):
            for key in task.needs:
                yield done[key]
            with builder.request(priority=place) as turn:
                yield turn
                yield env.timeout(task.hours * math.exp(0.4 * g.normal()))
            if task.cure_hours:
                yield env.timeout(task.cure_hours)
            done[task.key].succeed()

        for place, task in enumerate(plan.tasks):
            env.process(run(task, place))
        env.run()
    return (time.process_time() - begun) / draws * 1e6


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--tasks", type=int, default=500)
    parser.add_argument("--draws", type=int, default=10_000)
    options = parser.parse_args()
    plan = made_up(options.tasks)
    net = network(plan)
    drawn(net, 1, 0, 10)
    floor = floor_us(net, 2_000)
    print(f"floor: random hours of {options.tasks} tasks {floor:.1f} us a draw (with the call from Python)")
    begun = time.process_time()
    drawn(net, 1, 0, options.draws)
    rate = (time.process_time() - begun) / options.draws * 1e6
    print(f"draw: {rate:.1f} us, {1e6 / rate:,.0f} draws a CPU-second, {rate / floor:.2f} times the floor")
    theirs = simpy_us(plan, 20)
    print(f"simpy, without calendar: {theirs:,.0f} us a draw, {theirs / rate:,.0f} times ours")
    figure(
        f"one draw of {options.tasks} tasks", rate, "us of a core", floor=("random hours alone", floor),
        against=("simpy, no calendar", theirs),
    )  # fmt: skip
    for n in (250, 500, 1000, 2000):
        other = network(made_up(n))
        begun = time.process_time()
        drawn(other, 1, 0, 1_000)
        print(f"{n:5} tasks: {(time.process_time() - begun) / 1_000 / n * 1e9:.0f} ns a task and draw")
    walls = []
    for workers in (1, 2):
        with ThreadPoolExecutor(workers) as pool:
            begun = time.perf_counter()
            ends = simulated(net, draws=options.draws, mapper=pool.map).ends
            walls.append((time.perf_counter() - begun, ends))
    same = np.array_equal(walls[0][1], walls[1][1])
    print(
        f"one thread {walls[0][0]:.2f} s, two {walls[1][0]:.2f} s, ratio {walls[0][0] / walls[1][0]:.2f}, identical {same}"
    )
    changes = usual_changes(plan)
    begun = time.process_time()
    what_moves_the_date(plan, changes, draws=1_000)
    print(
        f"what moves the date: {len(changes)} changes both ways, {time.process_time() - begun:.2f} CPU-seconds"
    )
    orders_s(8, 500)


def orders_s(items: int, scenarios: int) -> None:
    """All orders together: how late each may come, on two sets of scenarios, then the months under the money."""
    plan = made_up(500, seed=2, items=items)
    g = np.random.default_rng(3)
    bought = tuple(
        replace(
            item, price=float(g.uniform(1_500, 9_000)), deposit=float(g.uniform(0, 1_500)), holding_month=15.0
        )
        for item in plan.items
    )
    plan = replace(plan, items=bought)
    begun = time.process_time()
    purse = Purse(4_000.0, 700.0, 0.0, 0.1)
    view = cash_view(plan, purse, late_day=10.0, months=60, report=lambda _: None, scenarios=scenarios)
    taken = time.process_time() - begun
    assert view is not None
    begun = time.process_time()
    drawn(network(plan), 1, 0, scenarios)
    floor = time.process_time() - begun
    print(
        f"orders: {items} items, {scenarios} scenarios {taken:.2f} CPU-seconds, {taken / floor:.0f} times drawing them once; "
        f"runs short in {100 * view.plan.shortfall:.1f} of 100, on fresh ones in {100 * view.fresh:.1f} (10 allowed)"
    )


if __name__ == "__main__":
    main()
