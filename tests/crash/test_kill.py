"""Killed while writing: what was acknowledged is there. Full form: benchmarks/record_kill.py."""

from __future__ import annotations

import importlib.util
import os
import random
import sys
from pathlib import Path
from types import ModuleType

import pytest

BENCHMARKS = Path(__file__).parent.parent.parent / "benchmarks"


def benchmark(name: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(name, BENCHMARKS / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module


@pytest.mark.skipif(os.name != "posix", reason="kill -9 is POSIX")
def test_killed_at_random_moments_nothing_acknowledged_is_lost(tmp_path: Path) -> None:
    kill = benchmark("record_kill")
    where = kill.make_project(tmp_path / "project")
    acknowledged = [
        kill.one_run(where, random.Random(seed), processes=2, threads=4, longest_s=0.3) for seed in range(3)
    ]
    assert sum(acknowledged) > 3
