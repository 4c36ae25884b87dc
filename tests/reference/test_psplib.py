"""PSPLIB (Kolisch & Sprecher 1996, EJOR 96:205): a sample with best-known values, and calendar variants."""

from __future__ import annotations

import csv
import gzip
import json
import zipfile
from pathlib import Path

import pytest

from ribwright.core.planning.feasibility import faults, makespan
from ribwright.core.planning.instance import read_calendar_line, read_rcp
from ribwright.core.planning.schedule import lower_bound, search

DATA = Path(__file__).parents[1] / "data" / "planning"


@pytest.fixture(scope="module")
def instances():
    with zipfile.ZipFile(DATA / "psplib_sample.zip") as bundle:
        return {n[:-4]: read_rcp(n[:-4], bundle.read(n).decode()) for n in bundle.namelist()}


@pytest.fixture(scope="module")
def best_known():
    with (DATA / "psplib_best_known.csv").open() as text:
        return {row["name"]: int(row["best_known"]) for row in csv.DictReader(text)}


def test_sample_is_scheduled_near_the_best_known(instances, best_known):
    gaps = []
    for name, instance in instances.items():
        found = search(instance, schedules=5_000, seed=1)
        assert faults(instance, found.starts) == []
        assert makespan(instance, found.starts) == found.makespan
        assert found.made <= 5_000
        assert lower_bound(instance) <= best_known[name] <= found.makespan
        gaps.append(found.makespan / best_known[name] - 1)
    assert sum(gaps) / len(gaps) <= 0.006


def test_calendar_variants_reach_the_proved_optimum(instances):
    with gzip.open(DATA / "j30_calendar.jsonl.gz", "rt") as text:
        lines = list(text)
    optimal = 0
    for line in lines:
        instance = read_calendar_line(line, instances)
        known = json.loads(line)
        assert faults(instance, known["starts"]) == []
        found = search(instance, schedules=5_000, seed=1)
        assert faults(instance, found.starts) == []
        assert found.makespan >= known["ub"]
        optimal += found.makespan == known["ub"]
    assert len(lines) == 48
    assert optimal >= 46


def test_checker_sees_a_broken_schedule(instances):
    instance = instances["j301_1"]
    found = search(instance, schedules=200)
    early = list(found.starts)
    early[-1] = 0
    assert faults(instance, early)
    assert faults(instance, [0] * instance.size)
    assert faults(instance, found.starts[:-1])


def test_same_seed_same_schedule_and_more_never_worse(instances):
    instance = instances["j6013_5"]
    a, b = search(instance, schedules=2_000, seed=3), search(instance, schedules=2_000, seed=3)
    assert a.starts == b.starts
    assert search(instance, schedules=1, seed=3).made == 1
