"""An exact solver's bound and proof for a schedule: the optional extra `proof`."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from ribwright.core.planning.instance import Instance
from ribwright.core.planning.schedule import Schedule
from ribwright.errors import ConflictError

Ints = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Proof:
    """What the exact solver says: the best schedule, and what none can beat."""

    starts: tuple[int, ...]
    makespan: int
    bound: int
    proven: bool


def solver_module() -> Any:
    """The exact solver, or the sentence that says how to get it.

    Raises:
        ConflictError: The extra is not installed.
    """
    try:
        from ortools.sat.python import cp_model
    except ImportError:
        raise ConflictError(
            "proof of optimality",
            found="the extra `proof` is not installed",
            mend="Install it: pip install 'ribwright[proof]'",
        ) from None
    return cp_model


def prove(instance: Instance, found: Schedule, *, work: float = 10.0, seed: int = 1) -> Proof:
    """Bound a schedule by constraint programming, starting from it.

    Args:
        instance: What was scheduled.
        found: The search's schedule: its makespan bounds the time, its starts are the hint.
        work: The solver's own deterministic measure of work, not seconds.
        seed: The solver's seed; it runs on one thread.

    Raises:
        ConflictError: The extra is not installed.
    """
    cp_model = solver_module()
    model = cp_model.CpModel()
    horizon = found.makespan
    starts = [model.new_int_var(0, horizon, f"s{i}") for i in range(instance.size)]
    spans = [
        model.new_fixed_size_interval_var(starts[i], int(instance.durations[i]), f"i{i}")
        for i in range(instance.size)
    ]
    end = model.new_int_var(found.bound, horizon, "end")
    for i, row in enumerate(instance.successors):
        model.add(starts[i] + int(instance.durations[i]) <= end)
        model.add_hint(starts[i], found.starts[i])
        for j in row:
            model.add(starts[j] >= starts[i] + int(instance.durations[i]))
    for r in range(instance.demands.shape[1]):
        top = int(instance.capacity[r].max())
        used = [i for i in range(instance.size) if instance.demands[i, r] > 0 and instance.durations[i] > 0]
        blocks = [spans[i] for i in used]
        amounts = [int(instance.demands[i, r]) for i in used]
        for first, last, less in _missing(instance.capacity[r], top, horizon):
            blocks.append(model.new_fixed_size_interval_var(first, last - first, f"c{r}_{first}"))
            amounts.append(less)
        if blocks:
            model.add_cumulative(blocks, amounts, top)
    model.minimize(end)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = seed
    solver.parameters.max_deterministic_time = work
    status = solver.solve(model)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return Proof(found.starts, found.makespan, found.bound, found.proven)
    return Proof(
        starts=tuple(int(solver.value(s)) for s in starts),
        makespan=int(solver.value(end)),
        bound=round(solver.best_objective_bound),
        proven=status == cp_model.OPTIMAL,
    )


def _missing(capacity: Ints, top: int, horizon: int) -> list[tuple[int, int, int]]:
    """Stretches of time with less than `top`: first, end and how much less; equal neighbours are one stretch."""
    change = [0, *(int(t) + 1 for t in np.flatnonzero(np.diff(capacity)))]
    ends = [*change[1:], max(horizon, len(capacity))]
    return [
        (first, min(last, horizon), top - int(capacity[first]))
        for first, last in zip(change, ends, strict=True)
        if first < horizon and capacity[first] < top
    ]
