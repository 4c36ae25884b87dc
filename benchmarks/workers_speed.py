"""Work on workers against the embedded run: overhead by size of a chunk, two processes against one.

``python benchmarks/workers_speed.py [--seconds 8] [--rounds 5]``

The floor is the same work embedded in this process. The chunks are whole plans of one size, simulated on one
thread; the answers are compared. Each piece says when and where it was worked on, so that it is seen what a worker waited
for: before its first piece, between two, after its last. Embedded, one process and two take turns on the same chunks, and each ratio is made
inside such a round. Processor time is that of the workers and of this process. On cores that others use, the
ratios by the clock are of that moment.
"""

from __future__ import annotations

import argparse
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from contextlib import ExitStack
from dataclasses import asdict, dataclass
from itertools import pairwise
from multiprocessing import get_context
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

from ending import takes_all_with_it
from figures import figure
from plan_draws import made_up

from ribwright.core.planning.network import network
from ribwright.core.planning.risk import simulated
from ribwright.core.planning.tasks import Plan
from ribwright.services import compute
from workers import Workers, running

Worked = tuple[bytes, int, float, float, float]


def chunk(plan: Plan, draws: int, seed: int) -> Worked:
    """Ends of so many builds; in which process, from when to when, by how many seconds of it. The plan travels with it."""
    begun, used = time.monotonic(), time.process_time()
    ends = simulated(network(plan), draws=draws, seed=seed).ends.tobytes()
    return ends, os.getpid(), begun, time.monotonic(), time.process_time() - used


@dataclass(frozen=True, slots=True)
class Idle:
    """What the workers waited for, seconds: before the first piece, between pieces, after the last, each summed over them;
    and how much longer a piece took by the clock than of its core, beside."""

    before: float
    between: float
    after: float
    stretched: float


def idle(worked: list[Worked], start: float, end: float) -> Idle:
    each: dict[int, list[tuple[float, float]]] = {}
    for _, process, begun, ended, _ in worked:
        each.setdefault(process, []).append((begun, ended))
    rows = [sorted(one) for one in each.values()]
    return Idle(
        sum(row[0][0] - start for row in rows),
        sum(b[0] - a[1] for row in rows for a, b in pairwise(row)),
        sum(end - row[-1][1] for row in rows),
        sum(ended - begun - used for _, _, begun, ended, used in worked),
    )


def timed(plan: Plan, draws: int, seeds: range) -> tuple[float, float, list[bytes], Idle]:
    """Seconds by the clock and of this process, the answers, what was waited for; where it is worked out is as it stands."""
    start, own = time.monotonic(), time.process_time()
    worked = list(compute.spread(chunk, ((plan, draws, seed) for seed in seeds)))
    end = time.monotonic()
    return end - start, time.process_time() - own, [one[0] for one in worked], idle(worked, start, end)


def main() -> None:
    os.environ |= {"NUMBA_NUM_THREADS": "1", "PYTHONPATH": str(Path(__file__).resolve().parent)}
    parser = argparse.ArgumentParser()
    parser.add_argument("--seconds", type=float, default=8.0, help="Of embedded work at each size.")
    parser.add_argument("--rounds", type=int, default=5, help="Into how many turns they are parted.")
    said = parser.parse_args()
    plan = made_up(500)
    timed(plan, 50, range(1))
    with ExitStack() as stack:
        crews = {}
        for processes in (1, 2):
            folder = Path(stack.enter_context(tempfile.TemporaryDirectory()))
            crews[processes] = stack.enter_context(running(folder, count=processes, wait_s=120))
            with compute.workers(crews[processes].url, **crews[processes].files):
                crews[processes].wait_for(processes)
                timed(plan, 50, range(4 * processes))  # their functions are compiled now
        for draws in (1000, 4000):
            once = min(timed(plan, draws, range(1))[0] for _ in range(3))
            each = max(4, 2 * round(said.seconds / said.rounds / once / 2))
            rows = [in_turn(plan, draws, range(n * each, (n + 1) * each), crews) for n in range(said.rounds)]
            report(rows, each)


def in_turn(plan: Plan, draws: int, seeds: range, crews: dict[int, Workers]) -> dict[str, float]:
    """The same chunks here, on one process and on two, one right after the other; the answers must be the same."""
    clock, own, answers, _ = timed(plan, draws, seeds)
    row = {"here": clock, "own": own}
    for processes, crew in crews.items():
        with compute.workers(crew.url, **crew.files):
            timed(plan, 50, range(2 * processes))
            before = spent(crew.processes)
            assert crew.scheduler is not None
            steering = spent([crew.scheduler])
            clock, client, there, waited = timed(plan, draws, seeds)
            row[f"steer {processes}"] = spent([crew.scheduler]) - steering
            row |= {f"{name} {processes}": value for name, value in asdict(waited).items()}
            row[f"clock {processes}"] = clock
            row[f"work {processes}"] = spent(crew.processes) - before + client
            row[f"client {processes}"] = client
        assert there == answers, "answers differ"
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
        list(pool.map(chunk, [plan] * 4, [50] * 4, range(4)))
        start = time.monotonic()
        pooled = list(pool.map(chunk, [plan] * len(seeds), [draws] * len(seeds), seeds))
        end = time.monotonic()
        row["pool"] = end - start
        row |= {f"{name} pool": value for name, value in asdict(idle(pooled, start, end)).items()}
    assert [one[0] for one in pooled] == answers, "answers differ"
    return row


def report(rows: list[dict[str, float]], each: int) -> None:
    """The middle of the rounds; a ratio is made inside each round, so that both sides saw the same machine."""

    def middle(value: Callable[[dict[str, float]], float]) -> str:
        found = sorted(value(row) for row in rows)
        return f"{statistics.median(found):.2f} ({found[0]:.2f} to {found[-1]:.2f})"

    own = statistics.median(row["own"] for row in rows) / each
    print(
        f"\n{len(rows)} rounds of {each} chunks of {1000 * own:.0f} ms processor time, load {os.getloadavg()[0]:.1f}"
    )
    print(
        f"floor, embedded: {statistics.median(row['here'] for row in rows) / each * 1000:.0f} ms a chunk by the clock"
    )
    for n in (1, 2):
        client = statistics.median(row[f"client {n}"] for row in rows) / each
        print(
            f"{n} process(es): clock over embedded {middle(lambda row, n=n: row[f'clock {n}'] / row['here'])}, "
            f"processor time over embedded {middle(lambda row, n=n: row[f'work {n}'] / row['own'])}, "
            f"of it {1000 * client:.1f} ms a chunk handing out and taking back",
        )
    for n in (1, 2, "pool"):
        waits = ", ".join(
            f"{words} {1000 * statistics.median(row[f'{name} {n}'] for row in rows) / each:.1f}"
            for name, words in (("before", "before the first"), ("between", "between"), ("after", "after the last"), ("stretched", "longer by the clock than of its core"))
        )  # fmt: skip
        steering = (
            ""
            if n == "pool"
            else f"; the scheduler's own {1000 * statistics.median(row[f'steer {n}'] for row in rows) / each:.1f}"
        )
        print(f"    {n}: waited, ms a chunk: {waits}{steering}")
    each_ms = {n: statistics.median(row[f"clock {n}"] for row in rows) / each * 1000 for n in (1, 2)}
    here = statistics.median(row["here"] for row in rows) / each * 1000
    pool = statistics.median(row["pool"] for row in rows) / each * 1000
    figure(
        f"a chunk of {1000 * own:.0f} ms on two processes", each_ms[2], "ms by the clock", floor=("half of it embedded", here / 2),
        against=("ProcessPoolExecutor of two", pool),
    )  # fmt: skip
    print(
        f"two processes against one: {middle(lambda row: row['clock 1'] / row['clock 2'])}; "
        f"a pool of two against embedded: {middle(lambda row: row['here'] / row['pool'])}", flush=True,
    )  # fmt: skip


def spent(processes: list[subprocess.Popen[bytes]]) -> float:
    """Seconds of processor time of these; on a busy machine it says more than the clock."""
    import psutil

    return sum(sum(psutil.Process(one.pid).cpu_times()[:2]) for one in processes)


if __name__ == "__main__":
    import workers_speed  # by its own name, so that workers can import what they are handed

    takes_all_with_it()
    workers_speed.main()
