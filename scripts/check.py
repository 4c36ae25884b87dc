"""Everything that must hold before a change lands, with the time of each part.

`./check` runs all; `./check NAME …` only the parts named (format, lint, types, imports, generated, tests/…).
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import time
from concurrent.futures import Future, ThreadPoolExecutor, as_completed
from itertools import pairwise
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
BIN = ROOT / ".venv" / "bin"
DEBIAN = {"chromium": "chromium", "postgresql": "/usr/lib/postgresql", "poppler-utils": "pdftoppm"}


def install_debian_packages() -> None:
    """Chromium, PostgreSQL and poppler, when root on a Debian; otherwise say the one line."""
    missing = [name for name, probe in DEBIAN.items() if not (shutil.which(probe) or Path(probe).is_dir())]
    if not missing:
        return
    line = f"apt-get install -y {' '.join(missing)}"
    if hasattr(os, "geteuid") and os.geteuid() == 0 and shutil.which("apt-get"):
        subprocess.run(["apt-get", "update", "-qq"], check=False)
        subprocess.run(["apt-get", "install", "-y", "-qq", *missing], check=False, stdout=subprocess.DEVNULL)
    else:
        print(f"For all tests install once: sudo {line}", file=sys.stderr)


def parts() -> dict[str, list[str]]:
    """Name and command of each part; tests one part a folder, so that each folder's time is printed."""
    python = str(BIN / "python")
    made = {
        "format": [
            str(BIN / "ruff"),
            "format",
            "--check",
            "--quiet",
            "src",
            "tests",
            "scripts",
            "benchmarks",
        ],
        "lint": [str(BIN / "ruff"), "check", "--quiet", "src", "tests", "scripts", "benchmarks"],
        "types": [str(BIN / "mypy")],
        "imports": [str(BIN / "lint-imports"), "--config", ".importlinter"],
        "generated": [python, "scripts/generate.py", "--check"],
    }
    for folder in sorted(p for p in (ROOT / "tests").iterdir() if p.is_dir() and any(p.rglob("test_*.py"))):
        made[f"tests/{folder.name}"] = [
            python,
            "-m",
            "pytest",
            f"tests/{folder.name}",
            "-p",
            "no:cacheprovider",
        ]
    return made


HEAVY = (
    "types",
    "tests/unit",
    "tests/browser",
    "tests/store",
    "tests/web",
    "tests/reference",
    "tests/property",
    "tests/docs",
    "tests/cli",
    "tests/photo",
    "tests/crash",
)
"""Parts that take longest: begun first, so that no core idles at the end. The first two need nothing from Debian and run
while it is installed."""

MOSTLY_WAITS = "tests/soak"
"""Takes a third of a core for a minute, so it runs beside the others, as soon as what it needs is installed."""


def run(
    name: str, command: list[str], ready: Future[None]
) -> tuple[str, subprocess.CompletedProcess[str], float]:
    """One part with its output and its time, begun when what it needs is there."""
    if name not in HEAVY[:2]:
        ready.result()
    start = time.monotonic()
    done = subprocess.run(command, text=True, stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
    return name, done, time.monotonic() - start


def main() -> int:
    """Run the parts, one a core and one more (the browser's tests mostly wait); the closing line counts the tests."""
    os.chdir(ROOT)
    chosen = sys.argv[1:]
    wanted = {name: command for name, command in parts().items() if not chosen or name in chosen}
    order = sorted(wanted, key=lambda name: HEAVY.index(name) if name in HEAVY else len(HEAVY))
    failed: list[str] = []
    counts = {"passed": 0, "failed": 0, "skipped": 0}
    began = time.monotonic()
    with (
        ThreadPoolExecutor(max_workers=1) as beside,
        ThreadPoolExecutor(max_workers=min(3, (os.cpu_count() or 1) + 1)) as pool,
    ):
        ready = beside.submit(install_debian_packages)
        runs = [
            (beside if name == MOSTLY_WAITS else pool).submit(run, name, wanted[name], ready)
            for name in order
        ]
        for coming in as_completed(runs):
            name, done, took = coming.result()
            tail = done.stdout.strip().splitlines()[-1:] or [""]
            words = tail[0].replace(",", "").split()
            for number, word in pairwise(words):
                key = "failed" if word in ("error", "errors") else word
                if name.startswith("tests/") and key in counts and number.isdigit():
                    counts[key] += int(number)
            bad = done.returncode != 0
            if os.environ.get("CI") and name.startswith("tests/") and " skipped" in tail[0]:
                bad = True  # a browser or PostgreSQL test that did not run proves nothing
            said = tail[0] if name.startswith("tests/") else ""
            print(f"{'FAILED' if bad else 'ok':<7} {name:<22} {took:6.1f} s  {said}", flush=True)
            if bad:
                failed.append(name)
                print(done.stdout, flush=True)
    print(f"{time.monotonic() - began:.0f} s in all")
    if failed:
        print(f"Not in order: {', '.join(failed)}")
    print(
        f"{counts['passed']} passed, {max(counts['failed'], len(failed))} failed, {counts['skipped']} skipped"
    )
    return 1 if failed else 0


if __name__ == "__main__":
    raise SystemExit(main())
