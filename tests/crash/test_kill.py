"""Killed while writing: what was acknowledged is there. Full form: benchmarks/record_kill.py."""

from __future__ import annotations

import importlib
import os
import random
import sys
from pathlib import Path
from types import ModuleType

import pytest

BENCHMARKS = Path(__file__).parent.parent.parent / "benchmarks"


def benchmark(name: str) -> ModuleType:
    if str(BENCHMARKS) not in sys.path:
        sys.path.append(str(BENCHMARKS))
    return importlib.import_module(name)


@pytest.mark.skipif(os.name != "posix", reason="kill -9 is POSIX")
def test_killed_at_random_moments_nothing_acknowledged_is_lost(tmp_path: Path) -> None:
    kill = benchmark("record_kill")
    where = kill.make_project(tmp_path / "project")
    acknowledged = [
        kill.one_run(where, random.Random(seed), processes=2, threads=4, longest_s=0.3) for seed in range(3)
    ]
    assert sum(acknowledged) > 3
