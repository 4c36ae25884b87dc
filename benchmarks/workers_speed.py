"""Work on workers against the embedded run: overhead by size of a chunk, two processes against one.

``python benchmarks/workers_speed.py [--seconds 8]``

The floor is the same work embedded in this process. The chunks are whole plans of one size, simulated on one
thread; the answers are compared. Processor time is that of the workers and of this process. On cores that others use, the ratios are of that moment.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

from plan_draws import made_up

from ribwright.core.planning.network import network
from ribwright.core.planning.risk import simulated
from ribwright.core.planning.tasks import Plan
from ribwright.services import compute
from workers import running


def chunk(plan: Plan, draws: int, seed: int) -> bytes:
    """Ends of so many builds; the plan travels with it."""
    return simulated(network(plan), draws=draws, seed=seed).ends.tobytes()


def timed(plan: Plan, draws: int, count: int) -> tuple[float, list[bytes]]:
    """Seconds of so many chunks, and their answers."""
    start = time.perf_counter()
    answers = list(compute.spread(chunk, ((plan, draws, seed) for seed in range(count))))
    return time.perf_counter() - start, answers


def main() -> None:
    os.environ |= {"NUMBA_NUM_THREADS": "1", "PYTHONPATH": str(Path(__file__).resolve().parent)}
    parser = argparse.ArgumentParser()
    parser.add_argument("--seconds", type=float, default=8.0, help="Of embedded work at each size.")
    said = parser.parse_args()
    plan = made_up(500)
    timed(plan, 50, 1)
    here = {}
    sizes = []
    for draws in (1000, 4000):
        once = min(timed(plan, draws, 1)[0] for _ in range(3))
        count = max(4, 2 * round(said.seconds / once / 2))
        sizes.append((draws, count))
        here[draws] = timed(plan, draws, count)
    for processes in (1, 2):
        with (
            tempfile.TemporaryDirectory() as folder,
            running(Path(folder), count=processes, wait_s=120) as made,
            compute.workers(made.url, **made.files),
        ):
            made.wait_for(processes)
            timed(plan, 50, 4 * processes)
            for draws, count in sizes:
                cpu = spent(made.processes) + time.process_time()
                there, answers = timed(plan, draws, count)
                cpu = spent(made.processes) + time.process_time() - cpu
                assert answers == here[draws][1], "answers differ"
                own = time.process_time()
                alone = timed_alone(plan, draws, count)
                own = time.process_time() - own
                print(
                    f"{processes} process(es), {count} chunks of {1000 * own / count:.0f} ms processor time: "
                    f"embedded {alone:.2f} s, workers {there:.2f} s, embedded / workers {alone / there:.2f}; "
                    f"processor time of workers and client {cpu:.2f} s, embedded {own:.2f} s, "
                    f"overhead {100 * (cpu / own - 1):.0f} %; load {os.getloadavg()[0]:.1f}",
                    flush=True,
                )


def spent(processes: list[subprocess.Popen[bytes]]) -> float:
    """Seconds of processor time of these; on a busy machine it says more than the clock."""
    import psutil

    return sum(sum(psutil.Process(one.pid).cpu_times()[:2]) for one in processes)


def timed_alone(plan: Plan, draws: int, count: int) -> float:
    """The embedded run again, beside the other, so that both saw the same machine."""
    start = time.perf_counter()
    for seed in range(count):
        chunk(plan, draws, seed)
    return time.perf_counter() - start


if __name__ == "__main__":
    import workers_speed  # by its own name, so that workers can import what they are handed

    workers_speed.main()
