"""A benchmark that is ended in whatever way leaves nothing running that it started."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

BENCHMARKS = Path(__file__).parents[2] / "benchmarks"
BENCHMARK = """
import subprocess, sys, time
from ending import takes_all_with_it
takes_all_with_it()
there = "import time; time.sleep(300)"
stubborn = "import signal, time; signal.signal(signal.SIGTERM, signal.SIG_IGN); signal.signal(signal.SIGINT, signal.SIG_IGN); print(flush=True); time.sleep(300)"
one = subprocess.Popen([sys.executable, "-c", there], start_new_session=True)
two = subprocess.Popen([sys.executable, "-c", stubborn], stdout=subprocess.PIPE)
two.stdout.readline()
print(one.pid, two.pid, flush=True)
time.sleep(300)
"""


@pytest.mark.skipif(sys.platform != "linux", reason="processes are looked for in /proc")
@pytest.mark.parametrize("how", [signal.SIGTERM, signal.SIGKILL])
def test_what_a_benchmark_started_ends_with_it(how: signal.Signals, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PYTHONPATH", str(BENCHMARKS))
    command = [sys.executable, "-S", "-c", BENCHMARK.replace("sleep(300)", "sleep(60)")]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as benchmark:
        assert benchmark.stdout is not None
        started = [int(word) for word in benchmark.stdout.readline().split()]
        assert all(_runs(pid) for pid in started)
        benchmark.send_signal(how)
        assert benchmark.wait(10) in (-how, 128 + how)
        until = time.monotonic() + 15
        while any(_runs(pid) for pid in started) and time.monotonic() < until:
            time.sleep(0.05)
        left = [pid for pid in started if _runs(pid)]
        for pid in left:
            os.kill(pid, signal.SIGKILL)
        assert len(started) == 2
        assert not left


def _runs(pid: int) -> bool:
    """Whether it runs; one that ended and that nobody has asked for doesn't."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False
