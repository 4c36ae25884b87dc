"""A benchmark that ends, however it ends, takes with it what it started: servers, workers, PostgreSQL, browsers.

``takes_all_with_it()`` stands first in the ``main`` of each benchmark that starts processes. These carry a mark in their
environment, also where they leave its group or change their user; a watcher, which knows that the benchmark has ended
because the pipe between them closes, ends whoever has the mark. So it holds for Ctrl-C, SIGTERM (``timeout``) and
SIGKILL, and for ``all.py`` with the benchmark that it runs.
"""

from __future__ import annotations

import os
import secrets
import signal
import subprocess
import sys
import time
from pathlib import Path

MARK = "MARK_OF_BENCHMARK"
"""Not of the program's own names, which workers are not given."""

PATIENCE_S = 2.0

_pipe: list[subprocess.Popen[bytes]] = []
"""Held as long as the benchmark lives."""


def takes_all_with_it() -> None:
    """From here on whatever this process starts ends with it, and SIGTERM unwinds it as Ctrl-C does."""
    signal.signal(signal.SIGTERM, lambda number, frame: sys.exit(128 + number))
    if _pipe or sys.platform != "linux":
        return
    mark = secrets.token_hex(8)
    _pipe.append(
        subprocess.Popen(
            [sys.executable, "-S", __file__, mark],
            stdin=subprocess.PIPE,
            stdout=subprocess.DEVNULL,
            start_new_session=True,
        )
    )
    os.environ[MARK] = mark


def with_mark(mark: str) -> list[int]:
    """Who of the running processes carries this mark."""
    wanted, found = f"{MARK}={mark}".encode(), []
    for folder in Path("/proc").iterdir():
        try:
            if folder.name.isdigit() and wanted in (folder / "environ").read_bytes().split(b"\0"):
                found.append(int(folder.name))
        except OSError:  # it has ended, or is somebody else's
            continue
    return found


def watch(mark: str) -> None:
    """Wait until the pipe closes, then end whoever carries the mark: asked first, then at once."""
    for number in (signal.SIGTERM, signal.SIGINT, signal.SIGHUP):
        signal.signal(number, signal.SIG_IGN)
    sys.stdin.buffer.read()
    until = time.monotonic() + PATIENCE_S
    # PostgreSQL waits for its clients when it is asked with SIGTERM, and doesn't with SIGINT
    asked = (signal.SIGTERM, signal.SIGINT)
    while time.monotonic() < until and (left := with_mark(mark)):
        for pid in left:
            for number in asked:
                _send(pid, number)
        asked = ()
        time.sleep(0.1)
    for pid in with_mark(mark):
        _send(pid, signal.SIGKILL)


def _send(pid: int, number: int) -> None:
    try:
        os.kill(pid, number)
    except OSError:
        return


if __name__ == "__main__":
    watch(sys.argv[1])
