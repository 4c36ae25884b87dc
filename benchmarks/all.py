"""Every benchmark, one after the other: figure, floor and ratio as each prints them, then its time and memory.

``python benchmarks/all.py [--quick | --series | --full] [--state FOLDER] [--only NAME …] [--limit SECONDS]``

``--quick``, as without it, is the short form: some ten minutes. ``--series`` has the Dunlin once, 10 and 100 times:
made and loaded, its pages, its pages' cost, its full-size output. ``--full`` has all of it, also what takes hours:
builds by the hundred, accuracy, attacks and the soak.

First machine, versions and commit; last a table of what each took and of what grew with the Dunlin. With ``--state`` a
run that was broken off goes on where it was: what is done at this commit is not run again, its figures are printed as
they were, and the Dunlin a hundred times is made once. A benchmark that takes longer than the limit is stopped and
said so; one that fails makes the whole end with 1.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import signal
import subprocess
import sys
import tempfile
import threading
import time
from dataclasses import asdict, dataclass
from importlib import metadata
from pathlib import Path

from ending import takes_all_with_it
from figures import MARK

HERE = Path(__file__).resolve().parent
STATE, KEPT = "{state}", "{kept}"
"""In options: a file for what the benchmark itself goes on from; a folder that is kept between benchmarks."""

Runs = dict[str, tuple[tuple[str, ...], ...]]
QUICK: Runs = {
    "adviser_list": (("--projects", "20", "--calls", "50"),),
    "nightly_dates": (("--builds", "2"),),
    "plan_draws": (("--tasks", "200", "--draws", "2000"),),
    "record_speed": (("--objects", "5000", "--notes", "5000"),),
    "workers_speed": (("--seconds", "2", "--rounds", "2"),),
    "dunlin_load": (("1",),),
    "evidence_pack": ((),),
    "fastening_seams": ((),),
    "forming_speed": ((),),
    "fullsize_output": (("--scale", "1"),),
    "live_pages": ((),),
    "page_costs": ((),),
    "photo_speed": ((),),
    "record_bytes": (("--changes", "300", "--state", STATE),),
    "record_exports": (("--changes", "100", "--state", STATE),),
}
"""Benchmarks of speed and size in their short form; each prints a floor and a ratio to something named."""

SERIES: Runs = {
    "dunlin_load": (("1",), ("10",), ("100",)),
    "page_costs": tuple(
        ("--times", times, "--folder", f"{KEPT}/dunlin-{times}") for times in ("1", "10", "100")
    ),
    "live_pages": tuple(
        ("--times", times, "--folder", f"{KEPT}/dunlin-{times}") for times in ("1", "10", "100")
    ),
    "fullsize_output": (("--dunlin", "--scale", "10"),),
}
"""The same Dunlin once, 10 and 100 times; its full-size output stops at ten, 4,200 parts."""

FULL: Runs = {
    **QUICK,
    **SERIES,
    "adviser_list": (("--projects", "50"), ("--projects", "500")),
    "nightly_dates": (("--builds", "40"),),
    "plan_draws": ((),),
    "record_speed": ((),),
    "workers_speed": (("--seconds", "20"),),
    "fullsize_output": ((), *SERIES["fullsize_output"]),
    "record_bytes": (("--changes", "100000", "--state", STATE),),
    "record_exports": (("--changes", "10000", "--state", STATE),),
    "record_kill": (("--runs", "1000", "--state", STATE),),
    "fastening_random": ((),),
    "forming_random": ((),),
    "forming_fe": ((),),
    "forming_shops": (("bands",), ("rolls",)),
    "plan_dates": ((),),
    "flight_bands": (("1000",),),
    "weight_forms": (("300", "2026"),),
    "twist_guide": (("300",),),
    "malformed_requests": (("20000", "--state", STATE),),
    "offline_queue": ((),),
    "upload_attack": ((),),
    "first_paint": ((),),
    "soak": (("--minutes", "30", "--database", "--workers"),),
}
"""All but what needs data from elsewhere (published networks, fitted weights) or a folder of photos: by hand."""


@dataclass(frozen=True, slots=True)
class Done:
    """One run: what it printed, how it ended, wall and processor seconds, most memory of a process."""

    name: str
    options: tuple[str, ...]
    commit: str
    printed: str
    ended: str
    wall_s: float
    core_s: float
    most_mb: float

    @property
    def good(self) -> bool:
        return self.ended == "done"

    def line(self) -> str:
        return (
            f"{self.ended}, {self.wall_s:.0f} s, {self.core_s:.0f} s of a core, at most {self.most_mb:.0f} MB"
        )


def commit() -> str:
    """The commit, with a mark when files differ from it; "not known" outside a repository."""

    def said(*words: str) -> str:
        done = subprocess.run(["git", *words], cwd=HERE, capture_output=True, text=True, check=False)
        return done.stdout.strip()

    name = said("rev-parse", "--short", "HEAD")
    return (
        name + ("+" if said("status", "--porcelain", "--untracked-files=no") else "") if name else "not known"
    )


def machine() -> str:
    """Machine and versions."""
    names = ("numpy", "numba", "sqlalchemy", "distributed", "opencv-python-headless", "reportlab")
    versions = ", ".join(f"{name} {metadata.version(name)}" for name in names)
    return (
        f"{platform.machine()}, {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}, {platform.system()} "
        f"{platform.release()}, Python {platform.python_version()}, {versions}"
    )


def main() -> int:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    form = parser.add_mutually_exclusive_group()
    form.add_argument("--quick", action="store_true", help="the short form, as without it")
    form.add_argument("--series", action="store_true", help="the Dunlin once, 10 and 100 times")
    form.add_argument("--full", action="store_true", help="all of it; hours")
    parser.add_argument("--state", type=Path, help="folder to go on from; else a broken run begins anew")
    parser.add_argument("--only", nargs="*", choices=sorted(FULL), help="only these")
    parser.add_argument("--limit", type=float, help="seconds for each at most; 600, else 7200")
    said = parser.parse_args()
    runs = FULL if said.full else SERIES if said.series else QUICK
    limit = said.limit or (7200.0 if said.full or said.series else 600.0)
    now = commit()
    print(f"{machine()}, commit {now}", flush=True)
    made: list[Done] = []
    with tempfile.TemporaryDirectory() as passing:
        state = (said.state or Path(passing)).resolve()
        state.mkdir(parents=True, exist_ok=True)
        for name in said.only or runs:
            for options in runs.get(name, ()):
                print(f"\n## {' '.join((name, *options))}", flush=True)
                kept = state / f"{'-'.join((name, *options)).replace('/', '_')}.json"
                known = before(kept, now)
                if known is not None:
                    print(known.printed, end="")
                one = known or run(name, options, now, state, limit)
                if one.good:
                    kept.write_text(json.dumps(asdict(one), indent=1), encoding="utf-8")
                made.append(one)
                print(f"{name}: {one.line()}{' (before)' if known else ''}", flush=True)
    print("\n| benchmark | time s | of a core s | most MB | |\n|---|---|---|---|---|")
    for one in made:
        print(
            f"| {' '.join((one.name, *one.options))} | {one.wall_s:.0f} | {one.core_s:.0f} | {one.most_mb:.0f} | {one.ended} |"
        )
    print("\n| figure | measured | floor | another way |\n|---|---|---|---|")
    for one in made:
        for line in one.printed.splitlines():
            if line.startswith(MARK):
                print(f"| {line.removeprefix(MARK)} |")
    failed = [one.name for one in made if not one.good]
    print(f"\n{'Not done: ' + ', '.join(failed) if failed else 'All done.'}")
    return 1 if failed else 0


def before(kept: Path, now: str) -> Done | None:
    """A run that was finished at this very commit."""
    try:
        found = json.loads(kept.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
    one = Done(**{**found, "options": tuple(found["options"])})
    return one if one.commit == now and not now.endswith("+") else None


def run(name: str, options: tuple[str, ...], now: str, state: Path, limit: float) -> Done:
    """Run one; what it prints is passed on as it comes."""
    start = time.perf_counter()
    own = state / f"{'-'.join((name, *options)).replace('/', '_')}.own.json"
    given = [one.replace(STATE, str(own)).replace(KEPT, str(state)) for one in options]
    process = subprocess.Popen(
        [sys.executable, "-u", HERE / f"{name}.py", *given], cwd=HERE.parent, start_new_session=True, text=True,
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
    )  # fmt: skip
    late = threading.Event()

    def stop() -> None:
        late.set()
        os.killpg(process.pid, signal.SIGTERM)  # with the servers it started

    timer = threading.Timer(limit, stop)
    timer.start()
    printed = []
    assert process.stdout is not None
    for line in process.stdout:
        printed.append(line)
        print(line, end="", flush=True)
    _, status, used = os.wait4(process.pid, 0)
    timer.cancel()
    process.returncode = os.waitstatus_to_exitcode(status)
    ended = "done" if process.returncode == 0 else f"failed with {process.returncode}"
    if late.is_set():
        ended = f"stopped: longer than the limit, {limit:g} s"
    core = used.ru_utime + used.ru_stime
    return Done(
        name, options, now, "".join(printed), ended, time.perf_counter() - start, core, used.ru_maxrss / 1024
    )


if __name__ == "__main__":
    takes_all_with_it()
    sys.exit(main())
