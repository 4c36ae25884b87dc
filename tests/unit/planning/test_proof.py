"""The exact solver's bound and proof beside the search, and the sentence when it isn't installed."""

from __future__ import annotations

import sys

import pytest

from ribwright.core.planning.feasibility import faults
from ribwright.core.planning.instance import make_instance
from ribwright.core.planning.proof import prove
from ribwright.core.planning.schedule import Schedule, search
from ribwright.errors import ConflictError

# Three of 2 days and two of 3 days, two places: 12 days of work can't be split better than 6 and 6.
FIVE = ([2, 2, 2, 3, 3], [[1]] * 5, [[2]], [[]] * 5)


def test_a_proof_of_a_schedule_that_a_count_by_hand_gives():
    pytest.importorskip("ortools")
    instance = make_instance("five", *FIVE)
    found = search(instance, schedules=200)
    proof = prove(instance, found)
    assert proof.proven
    assert proof.makespan == proof.bound == 6
    assert faults(instance, proof.starts) == []


def test_it_shortens_a_schedule_that_is_not_the_best():
    pytest.importorskip("ortools")
    instance = make_instance("five", *FIVE)
    slow = Schedule(starts=(0, 2, 4, 6, 9), makespan=12, bound=6, made=1, stopped=False)
    proof = prove(instance, slow)
    assert (proof.makespan, proof.proven) == (6, True)
    assert faults(instance, proof.starts) == []


def test_a_bound_above_the_simple_one_where_the_count_of_work_is_too_kind():
    pytest.importorskip("ortools")
    # Three of 2 days that need 2 of 3 places each: never two at once, though 12 of 3 would fit in 4 days.
    instance = make_instance("alone", [2, 2, 2], [[2]] * 3, [[3]], [[]] * 3)
    found = search(instance, schedules=50)
    assert found.bound == 4
    proof = prove(instance, found)
    assert (proof.bound, proof.makespan, proof.proven) == (6, 6, True)


def test_capacity_that_changes_with_time_is_kept():
    pytest.importorskip("ortools")
    # Nothing on days 2 and 3: one of 2 days before, one of 3 from day 4 on.
    instance = make_instance("gap", [2, 3], [[1], [1]], [[1, 1, 0, 0, 1]], [[], []])
    proof = prove(instance, search(instance, schedules=50))
    assert (proof.makespan, proof.proven) == (7, True)
    assert faults(instance, proof.starts) == []


def test_without_the_extra_one_sentence_says_what_to_do(monkeypatch):
    monkeypatch.setitem(sys.modules, "ortools.sat.python", None)
    instance = make_instance("five", *FIVE)
    with pytest.raises(ConflictError, match="not installed"):
        prove(instance, search(instance, schedules=10))
