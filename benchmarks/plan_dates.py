"""Does the 8-in-10 date hold in 8 of 10 worlds? Builders made up, their logs learned, their dates foretold.

    python benchmarks/plan_dates.py [--builders 200] [--draws 400]

Each builder has an own pace drawn from the prior that a new plan assumes and logs the first half of the tasks;
the second half is foretold from that log and then lived through once with the true pace, on fresh numbers.
Worlds: as assumed (any half of the tasks is logged); trades in order (the log has the first trades only);
4 % of the tasks still to do take three times as long. Simulating the true world uses the same simulator as
the forecast, so this tests the learning and the spread, not the builder's calendar itself.
"""

from __future__ import annotations

import argparse
import sys
import time
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "src"))

from ribwright.core.planning.network import network
from ribwright.core.planning.pace import Logged, learned
from ribwright.core.planning.risk import chance_day, drawn
from ribwright.core.planning.tasks import Pace, Plan, Task

TRADES = ("sheet", "systems", "engine", "finish", "paper")
TASKS = 100


def lived(world: str, number: int, draws: int) -> bool:
    """Whether one builder was done by the 8-in-10 date."""
    g = np.random.default_rng([number, 20])
    prior = Pace()
    hours = np.round(np.exp(g.normal(1.5, 0.7, TASKS)), 1) + 0.1
    trade = np.sort(g.integers(0, 5, TASKS)) if world == "in order" else g.integers(0, 5, TASKS)
    shared = prior.shared + prior.shared_sd * g.normal()
    own = prior.trade_sd_new * g.normal(size=5)
    tasks = [Task(f"t{i}", "", float(hours[i]), trade=TRADES[trade[i]]) for i in range(TASKS)]
    half = TASKS // 2
    log = []
    for i in range(half):
        sd = np.log(tasks[i].spread) * prior.noise_scale
        took = float(hours[i] * np.exp(shared + own[trade[i]] + sd * g.normal()))
        log.append(Logged(TRADES[trade[i]], float(hours[i]), took, tasks[i].spread))
    plan = Plan(date(2026, 3, 2), tuple(tasks[half:]), pace=learned(log).pace)
    foretold = chance_day(plan.start, drawn(network(plan), 1, 0, draws).ends, 0.8).days
    slow = g.random(TASKS) < 0.04 if world == "4 % thrice" else np.zeros(TASKS, bool)
    truth = replace(
        prior,
        shared=float(shared),
        shared_sd=0.0,
        trade=tuple((name, float(own[k])) for k, name in enumerate(TRADES)),
        trade_sd=tuple((name, 0.0) for name in TRADES),
    )
    real = tuple(
        replace(task, hours=task.hours * (3.0 if slow[half + i] else 1.0))
        for i, task in enumerate(tasks[half:])
    )
    end = drawn(network(replace(plan, tasks=real, pace=truth)), 1_000_003 + number, 0, 1).ends[0]
    return bool(end / 2400 <= foretold)


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--builders", type=int, default=200)
    parser.add_argument("--draws", type=int, default=400)
    options = parser.parse_args()
    for world in ("as assumed", "in order", "4 % thrice"):
        begun = time.process_time()
        kept = sum(lived(world, k, options.draws) for k in range(options.builders))
        share = kept / options.builders
        error = (share * (1.0 - share) / options.builders) ** 0.5
        used = time.process_time() - begun
        print(
            f"{world:11} {kept} of {options.builders} = {share:.3f} +- {error:.3f}, {used:.1f} CPU-s",
            flush=True,
        )


if __name__ == "__main__":
    main()
