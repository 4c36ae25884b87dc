"""Does the 8-in-10 date hold in 8 of 10 worlds? Builders made up, their logs learned, their dates foretold.

    python benchmarks/plan_dates.py [--builders 1000] [--draws 600]

A builder's world here is plain Python that lives day by day and shares no code with the forecast: an own pace and an
own habit of idle weeks, drawn once; long stops; a helper on Saturdays; glue that dries; three deliveries. The builder
works through the first half of the tasks and logs hours and weeks; pace and weeks are learned from that log alone, the
second half is foretold from the day on which it begins, and then the same world is lived to its end.

Worlds: as assumed (any half of the tasks is logged); trades in order (the log has the first trades only); 4 % of all
tasks take three times as long; 4 % of those still to do and none of the logged ones, so that the log gives no warning;
and weeks that stick together (an idle week makes the next one likelier, which the forecast does not know).
"""

from __future__ import annotations

import argparse
import sys
import time
from datetime import date, timedelta
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "src"))

from ribwright.core.planning.network import network
from ribwright.core.planning.pace import Logged, learned, learned_weeks
from ribwright.core.planning.risk import chance_day, drawn
from ribwright.core.planning.tasks import Item, Pace, Plan, Task

TRADES = ("sheet", "systems", "engine", "finish", "paper")
HOURS = (2.0, 2.0, 0.0, 2.0, 0.0, 5.0, 3.0)
HELPED = (0.0, 0.0, 0.0, 0.0, 0.0, 3.0, 0.0)
TASKS = 120
WORLDS = ("as assumed", "in order", "4 % thrice", "4 % to come", "weeks stick")


class Life:
    """A builder's days, one after the other, from a Monday on."""

    def __init__(self, g: np.random.Generator, sticks: bool) -> None:
        assumed = Pace()
        known = assumed.idle_known
        self.g, self.sticks = g, sticks
        self.idle = g.beta(known * assumed.idle_week, known * (1.0 - assumed.idle_week))
        self.day = date(2022, 1, 3)
        self.off_weeks = 0
        self.off = False
        self.worked: list[bool] = []
        self.used = 0.0

    def new_week(self) -> None:
        """Monday morning: is anything done this week?"""
        self.off_weeks = max(0, self.off_weeks - 1)
        if self.off_weeks == 0 and self.g.random() < Pace().stop_week:
            self.off_weeks = max(1, round(Pace().stop_weeks * Pace().stop_spread ** self.g.normal()))
        chance = self.idle
        if self.sticks:
            # As often idle in the long run, but in runs of twice the length.
            chance = 0.5 + 0.5 * self.idle if self.off else 0.5 * self.idle
        self.off = bool(self.g.random() < chance)
        self.worked.append(False)

    def live(self, tasks: list[Task], takes: dict[str, float], comes: dict[str, date]) -> date:
        """Work through the tasks in their order, each as soon as it can be done; the day on which all is done."""
        left = dict(takes)
        dry: dict[str, tuple[date, float]] = {}
        finish = self.day
        done: set[str] = set()
        if not self.worked:
            self.new_week()
        while left:
            weekday = self.day.weekday()
            hours = 0.0 if self.off or self.off_weeks else HOURS[weekday]
            here = 0.0 if self.off or self.off_weeks else HELPED[weekday]

            def ready(task: Task, today: date, used: float) -> bool:
                return (
                    task.key in left
                    and all(comes[part] <= today for part in task.parts)
                    and all(k in done and (k not in dry or dry[k] <= (today, used)) for k in task.needs)
                )

            while self.used < hours:
                # Saturday's help first, then the list.
                able = [task for task in tasks if ready(task, self.day, self.used)]
                helped = [task for task in able if task.helper and self.used < here]
                alone = [task for task in able if not task.helper]
                if not helped and not alone:
                    break
                task = (helped or alone)[0]
                upto = here if helped else hours
                spent = min(left[task.key], upto - self.used)
                self.used += spent
                left[task.key] -= spent
                self.worked[-1] = True
                if left[task.key] <= 1e-9:
                    del left[task.key]
                    done.add(task.key)
                    finish = max(finish, self.day)
                    if task.cure_hours:
                        dry[task.key] = (
                            self.day + timedelta(days=int((self.used + task.cure_hours) // 24)),
                            (self.used + task.cure_hours) % 24,
                        )
                        finish = max(finish, dry[task.key][0])
            if left:
                self.day += timedelta(days=1)
                self.used = 0.0
                if self.day.weekday() == 0:
                    self.new_week()
        return finish


def lived(world: str, number: int, draws: int) -> tuple[bool, float]:
    """Whether one builder was done by the 8-in-10 date, and how long both halves took against the middle date."""
    g = np.random.default_rng([number, 21])
    assumed = Pace()
    estimate = np.round(np.exp(g.normal(1.5, 0.7, TASKS)), 1) + 0.1
    trade = np.sort(g.integers(0, 5, TASKS)) if world == "in order" else g.integers(0, 5, TASKS)
    shared = assumed.shared + assumed.shared_sd * g.normal()
    own = assumed.trade_sd_new * g.normal(size=5)
    half = TASKS // 2
    tasks, takes = [], {}
    for i in range(TASKS):
        first = 0 if i < half else half
        needs = (f"t{int(g.integers(first, i))}",) if i > first and g.random() < 0.3 else ()
        tasks.append(
            Task(
                f"t{i}", "", float(estimate[i]), trade=TRADES[trade[i]], needs=needs, helper=bool(g.random() < 0.06),
                cure_hours=48.0 if g.random() < 0.08 else 0.0, parts=(f"i{i % 3}",) if i >= half and i % 19 == 0 else (),
            )
        )  # fmt: skip
        prone = world == "4 % thrice" or (world == "4 % to come" and i >= half)
        slow = 3.0 if prone and g.random() < 0.04 else 1.0
        takes[f"t{i}"] = float(
            estimate[i] * slow * np.exp(shared + own[trade[i]]) * tasks[-1].spread ** g.normal()
        )
    life = Life(g, world == "weeks stick")
    life.live(tasks[:half], {task.key: takes[task.key] for task in tasks[:half]}, {})
    log = [Logged(task.trade, task.hours, takes[task.key], task.spread) for task in tasks[:half]]
    pace = learned(log, learned_weeks(life.worked[:-1])).pace
    # The plan is made on the Monday after.
    begun = life.day + timedelta(days=7 - life.day.weekday())
    life.day, life.used = begun, 0.0
    life.new_week()
    items = tuple(Item(f"i{k}", "", 60.0, 1.4) for k in range(3))
    comes = {item.key: begun + timedelta(days=60.0 * 1.4 ** g.normal()) for item in items}
    plan = Plan(begun, tuple(tasks[half:]), items, pace=pace)
    net = network(plan, order=[task.key for task in tasks[half:]])
    ends = drawn(net, 1, 0, draws).ends
    finish = life.live(tasks[half:], {task.key: takes[task.key] for task in tasks[half:]}, comes)
    middle = chance_day(begun, ends, 0.5)
    return finish <= chance_day(begun, ends, 0.8).day, (finish - begun).days / max(1.0, middle.days)


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--builders", type=int, default=1_000)
    parser.add_argument("--draws", type=int, default=600)
    parser.add_argument("--worlds", nargs="+", default=WORLDS, choices=WORLDS)
    options = parser.parse_args()
    for world in options.worlds:
        begun = time.process_time()
        rows = [lived(world, k, options.draws) for k in range(options.builders)]
        share = float(np.mean([kept for kept, _ in rows]))
        error = (share * (1.0 - share) / options.builders) ** 0.5
        used = time.process_time() - begun
        middle = float(np.median([ratio for _, ratio in rows]))
        print(
            f"{world:11} {share:.3f} +- {error:.3f} of {options.builders} done by the 8-in-10 date; took {middle:.2f} of the middle "
            f"date's time in the middle; {used:.1f} CPU-s",
            flush=True,
        )


if __name__ == "__main__":
    main()
