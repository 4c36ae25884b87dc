"""The scheduling problem with limited resources, as plain arrays, and the two texts it comes in.

Activities may not be interrupted. Times are whole numbers from 0; a resource's capacity may vary
with time, and after the end of what is given its last value holds.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from ribwright.core.planning.graph import shortest_cycle
from ribwright.errors import CycleError, FormatError, NeverRunsError, OutOfRangeError

Ints = npt.NDArray[np.int64]

LARGEST = 2**30


@dataclass(frozen=True, slots=True)
class Instance:
    """A project to schedule.

    Attributes:
        name: What it is called.
        durations: Duration of each activity, shape (n,).
        demands: Units of each resource while it runs, shape (n, k).
        capacity: Units there are over time, shape (k, t); column t−1 holds for ever after.
        successors: For each activity the activities that wait for its end.
    """

    name: str
    durations: Ints
    demands: Ints
    capacity: Ints
    successors: tuple[tuple[int, ...], ...]

    @property
    def size(self) -> int:
        return len(self.durations)

    @property
    def varies(self) -> bool:
        """Whether any capacity changes with time."""
        return bool(self.capacity.shape[1] > 1)


def make_instance(
    name: str,
    durations: Sequence[int],
    demands: Sequence[Sequence[int]],
    capacity: Sequence[Sequence[int]],
    successors: Sequence[Sequence[int]],
) -> Instance:
    """Check the numbers and freeze them.

    Args:
        name: What it is called; named in every refusal.
        durations: One whole number ≥ 0 an activity.
        demands: One row an activity, one column a resource.
        capacity: One row a resource: its units over time, or a single number.
        successors: One row an activity, indices from 0.

    Raises:
        OutOfRangeError: Negative numbers, unequal lengths, an index outside.
        CycleError: Work that waits for itself; the shortest such circle is named.
        NeverRunsError: An activity that needs more than there ever is, for long enough.
    """
    n = len(durations)
    if n == 0:
        raise OutOfRangeError(name, found="no activities", allowed="at least one")
    if len(demands) != n or len(successors) != n:
        raise OutOfRangeError(
            name,
            found=f"{n} durations, {len(demands)} rows of demands, {len(successors)} rows of successors",
            allowed="one of each for every activity",
        )
    length = max((len(row) for row in capacity), default=1)
    if any(len(row) == 0 for row in capacity):
        raise OutOfRangeError(name, found="a resource without a capacity", allowed="at least one number")
    padded = [list(row) + [row[-1]] * (length - len(row)) for row in capacity]
    if any(len(row) != len(capacity) for row in demands):
        raise OutOfRangeError(
            name, found="a row of demands of another length", allowed=f"{len(capacity)} numbers in each"
        )
    for what, rows in (("duration", [durations]), ("demand", demands), ("capacity", padded)):
        for row in rows:
            for value in row:
                if not 0 <= value <= LARGEST:
                    raise OutOfRangeError(f"{name}: {what}", found=value, allowed=f"0 to {LARGEST}")
    for number, row in enumerate(successors):
        for other in row:
            if not 0 <= other < n:
                raise OutOfRangeError(
                    f"{name}: successors of activity {number + 1}", found=other + 1, allowed=f"1 to {n}"
                )
    circle = shortest_cycle(successors)
    if circle:
        shown = " → ".join(str(i + 1) for i in [*circle, circle[0]])
        raise CycleError(name, found=shown, mend="Take one of these needs away")
    made = Instance(
        name=name,
        durations=np.array(durations, dtype=np.int64),
        demands=np.array(demands, dtype=np.int64).reshape(n, len(capacity)),
        capacity=np.array(padded, dtype=np.int64).reshape(len(capacity), length),
        successors=tuple(tuple(sorted(set(row))) for row in successors),
    )
    _refuse_impossible(made)
    return made


def _refuse_impossible(instance: Instance) -> None:
    """Every activity must fit somewhere on its own: for ever after the end, or in a long enough window."""
    for i in range(instance.size):
        duration = int(instance.durations[i])
        if duration == 0:
            continue
        enough = np.all(instance.capacity >= instance.demands[i][:, None], axis=0)
        if enough.size == 0 or enough[-1]:
            continue
        run = best = 0
        for good in enough:
            run = run + 1 if good else 0
            best = max(best, run)
        if best < duration:
            raise NeverRunsError(
                f"{instance.name}: activity {i + 1}",
                found=f"needs {instance.demands[i].tolist()} for {duration}",
                allowed="what the resources ever have at once, for long enough",
                mend="Lower what it needs, or give the resource more",
            )


def read_rcp(name: str, text: str) -> Instance:
    """Read the `.rcp` text: `n k`, the capacities, then a line an activity.

    A line is: duration, k demands, number of successors, the successors counted from 1. Line breaks
    carry no meaning.

    Raises:
        FormatError: Not such a text.
        PlanError, OutOfRangeError: As `make_instance`.
    """
    words = text.split()
    try:
        numbers = [int(word) for word in words]
    except ValueError as problem:
        raise FormatError(name, found=str(problem), allowed="whole numbers only") from None
    place = 0

    def take(count: int, what: str) -> list[int]:
        nonlocal place
        if count < 0 or place + count > len(numbers):
            raise FormatError(name, found=f"the file ends within {what}", allowed="a whole .rcp file")
        piece = numbers[place : place + count]
        place += count
        return piece

    n, k = take(2, "the counts")
    if not (1 <= n <= 100_000 and 0 <= k <= 64):
        raise FormatError(name, found=f"{n} activities, {k} resources", allowed="1 to 100,000 and 0 to 64")
    capacity = [[value] for value in take(k, "the capacities")]
    durations: list[int] = []
    demands: list[list[int]] = []
    successors: list[list[int]] = []
    for number in range(1, n + 1):
        durations += take(1, f"activity {number}")
        demands.append(take(k, f"activity {number}"))
        (count,) = take(1, f"activity {number}")
        successors.append([other - 1 for other in take(count, f"the successors of activity {number}")])
    if place != len(numbers):
        raise FormatError(
            name, found=f"{len(numbers) - place} numbers after the last activity", allowed="none"
        )
    return make_instance(name, durations, demands, capacity, successors)


def read_calendar_line(line: str, bases: dict[str, Instance]) -> Instance:
    """Read one line of a calendar file: a base instance with capacities that change over time.

    Args:
        line: A JSON object with ``base`` and ``capacity_rle``: per resource ``[[value, length], …]``.
        bases: The instances that ``base`` may name.

    Raises:
        FormatError: Not such a line, or its base is not there.
    """
    try:
        row = json.loads(line)
        base, coded = row["base"], row["capacity_rle"]
        capacity = [[int(v) for v, length in part for _ in range(int(length))] for part in coded]
    except (ValueError, TypeError, KeyError) as problem:
        raise FormatError(
            "calendar line",
            found=f"{type(problem).__name__}: {problem}",
            allowed='{"base": …, "capacity_rle": [[[value, length], …], …]}',
        ) from None
    if base not in bases:
        raise FormatError("calendar line", found=f"base {base}", allowed="the name of a .rcp file at hand")
    known = bases[base]
    if len(capacity) != known.demands.shape[1]:
        raise FormatError(
            f"calendar of {base}",
            found=f"{len(capacity)} resources",
            allowed=f"{known.demands.shape[1]}, as its base has",
        )
    return make_instance(
        str(row.get("name", base)),
        [int(v) for v in known.durations],
        [[int(v) for v in r] for r in known.demands],
        capacity,
        known.successors,
    )
