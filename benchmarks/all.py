"""Every benchmark in a short form, one after the other: figure, floor and ratio as each prints them.

``python benchmarks/all.py [--only NAME …] [--limit 180]``

First machine, versions and commit. A benchmark that takes longer than the limit is stopped and said so; one that
fails makes the whole end with 1.
"""

from __future__ import annotations

import argparse
import os
import platform
import subprocess
import sys
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
    parser.add_argument("--only", nargs="*", choices=sorted(SHORT), help="Only these.")
    parser.add_argument("--limit", type=float, default=180.0, help="Seconds for each at most.")
    said = parser.parse_args()
    print(machine(), flush=True)
    failed = []
    for name in said.only or SHORT:
        print(f"\n## {name}", flush=True)
        start = time.perf_counter()
        with TemporaryDirectory() as folder:
            options = [one.format(state=f"{folder}/state.json") for one in SHORT[name]]
            try:
                ended = subprocess.run(
                    [sys.executable, HERE / f"{name}.py", *options],
                    cwd=HERE.parent,
                    timeout=said.limit,
                    check=False,
                ).returncode
                word = "done" if ended == 0 else f"failed with {ended}"
            except subprocess.TimeoutExpired:
                ended, word = 1, "stopped: longer than the limit"
        if ended:
            failed.append(name)
        print(f"{name}: {word}, {time.perf_counter() - start:.0f} s", flush=True)
    print(f"\n{'Not done: ' + ', '.join(failed) if failed else 'All done.'}")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
