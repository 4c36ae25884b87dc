"""Every benchmark, one after the other: figure, floor and ratio as each prints them, then its time and memory.

``python benchmarks/all.py [--quick | --full] [--only NAME …] [--limit SECONDS]``

The short form is the usual one; the full form has the Dunlin once, 10 and 100 times and 500 builds, and takes hours.
First machine, versions and commit. A benchmark that takes longer than the limit is stopped and said so; one that
fails makes the whole end with 1.
"""

from __future__ import annotations

import argparse
import os
import platform
import signal
import subprocess
import sys
import threading
import time
from importlib import metadata
from pathlib import Path
from tempfile import TemporaryDirectory

STATE = "{state}"
HERE = Path(__file__).resolve().parent
SHORT: dict[str, tuple[str, ...]] = {
    "adviser_list": ("--projects", "20", "--calls", "50"),
    "nightly_dates": ("--builds", "2"),
    "plan_draws": ("--tasks", "200", "--draws", "2000"),
    "record_speed": ("--objects", "5000", "--notes", "5000"),
    "workers_speed": ("--seconds", "1"),
    "dunlin_load": ("1",),
    "evidence_pack": (),
    "fastening_seams": (),
    "forming_speed": (),
    "fullsize_output": ("--scale", "1"),
    "live_pages": (),
    "photo_speed": (),
    "record_bytes": ("--changes", "300", "--state", STATE),
    "record_exports": ("--changes", "100", "--state", STATE),
}
"""Benchmarks of speed and size, with the options of their short form. Those of accuracy run for hours: by hand."""

FULL: dict[str, tuple[tuple[str, ...], ...]] = {
    "adviser_list": (("--projects", "50"), ("--projects", "500")),
    "plan_draws": ((),),
    "record_speed": ((),),
    "workers_speed": (("--seconds", "20"),),
    "nightly_dates": (("--builds", "20"),),
    "dunlin_load": (("1",), ("10",), ("100",)),
    "fullsize_output": (("--scale", "1"), ("--scale", "10")),
    "live_pages": (("--times", "1"), ("--times", "10"), ("--times", "100")),
    "record_bytes": (("--changes", "100000", "--state", STATE),),
    "record_exports": (("--changes", "10000", "--state", STATE),),
}
"""Options of the full form, a run each; the others have one form."""


def machine() -> str:
    """Machine, versions and commit."""
    commit = subprocess.run(
        ["git", "rev-parse", "--short", "HEAD"], cwd=HERE, capture_output=True, text=True, check=False
    ).stdout.strip()
    names = ("numpy", "numba", "sqlalchemy", "distributed", "opencv-python-headless", "reportlab")
    versions = ", ".join(f"{name} {metadata.version(name)}" for name in names)
    return (
        f"{platform.machine()}, {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}, {platform.system()} "
        f"{platform.release()}, Python {platform.python_version()}, {versions}, commit {commit or 'not known'}"
    )


def main() -> int:
    parser = argparse.ArgumentParser()
    form = parser.add_mutually_exclusive_group()
    form.add_argument("--quick", action="store_true", help="The short form, as without it.")
    form.add_argument("--full", action="store_true", help="All of it, to 100 Dunlins.")
    parser.add_argument("--only", nargs="*", choices=sorted(SHORT), help="Only these.")
    parser.add_argument("--limit", type=float, help="Seconds for each at most; 180, or with --full 7200.")
    said = parser.parse_args()
    limit = said.limit or (7200.0 if said.full else 180.0)
    print(machine(), flush=True)
    failed = []
    for name in said.only or SHORT:
        for options in FULL.get(name, (SHORT[name],)) if said.full else (SHORT[name],):
            print(f"\n## {' '.join((name, *options))}", flush=True)
            word, done = run(name, options, limit)
            if not done:
                failed.append(name)
            print(f"{name}: {word}", flush=True)
    print(f"\n{'Not done: ' + ', '.join(failed) if failed else 'All done.'}")
    return 1 if failed else 0


def run(name: str, options: tuple[str, ...], limit: float) -> tuple[str, bool]:
    """How it ended, its time and the most memory of its process; and whether it was done."""
    start = time.perf_counter()
    with TemporaryDirectory() as folder:
        given = [one.format(state=f"{folder}/state.json") for one in options]
        process = subprocess.Popen(
            [sys.executable, HERE / f"{name}.py", *given], cwd=HERE.parent, start_new_session=True
        )
        late = threading.Event()

        def stop() -> None:
            late.set()
            os.killpg(process.pid, signal.SIGTERM)  # with the servers it started

        timer = threading.Timer(limit, stop)
        timer.start()
        _, status, used = os.wait4(process.pid, 0)
        timer.cancel()
        process.returncode = os.waitstatus_to_exitcode(status)
    ended = "done" if process.returncode == 0 else f"failed with {process.returncode}"
    word = f"stopped: longer than the limit, {limit:g} s" if late.is_set() else ended
    taken = f"{time.perf_counter() - start:.0f} s, {used.ru_utime + used.ru_stime:.0f} s of a core"
    return f"{word}, {taken}, at most {used.ru_maxrss / 1024:.0f} MB", process.returncode == 0


if __name__ == "__main__":
    sys.exit(main())
