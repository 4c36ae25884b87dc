"""One order of work for the whole plan: day by day, how far from the shortest, with a proof where there can be one."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

from ribwright.core.planning.bench_time import bench_time
from ribwright.core.planning.proof import prove, solver_module
from ribwright.core.planning.schedule import search
from ribwright.errors import OutOfRangeError
from ribwright.services.plan import Inputs, inputs
from ribwright.services.project import Project
from ribwright.services.running import Report, Standing, Workshop

SCHEDULES = 500
"""Tried where nobody says how many: a second or two, and within a part in a hundred of many more."""
MOST_SCHEDULES = 1_000_000
MOST_WORK = 10_000.0


@dataclass(frozen=True, slots=True)
class Row:
    """A task in the order of work."""

    key: str
    title: str
    first: date
    last: date
    hours: float


@dataclass(frozen=True, slots=True)
class WorkOrder:
    """An order of work, every hour of the usual week worked and every task at its middle.

    Attributes:
        rows: tasks as they begin.
        hours: at the bench, from the first to the last.
        done: the day on which the last one ends.
        bound: no order of work ends before this day.
        bound_hours: nor within fewer hours at the bench.
        shortest: whether it is shown that nothing shorter exists.
        made: orders of work that were tried.
        stopped: whether it was told to stop before all were.
        solved: whether the exact solver had its say.
        problems: what could not be planned, one sentence each.
    """

    rows: tuple[Row, ...]
    hours: float
    done: date
    bound: date
    bound_hours: float
    shortest: bool
    made: int
    stopped: bool
    solved: bool
    problems: tuple[str, ...]

    @property
    def says(self) -> str:
        """How far it is from the shortest."""
        if self.shortest:
            return "No order of work is shorter: that is proved."
        away = self.hours - self.bound_hours
        return f"None ends before {self.bound:%d %B %Y}; so this one is at most {away:.0f} h at the bench longer than the shortest."


_WORKSHOP: Workshop[WorkOrder] = Workshop()


def work_order(
    project: Project, *, schedules: int, exact: bool = False, work: float = 5.0,
    progress: Callable[[int, int], None] | None = None,
) -> WorkOrder:  # fmt: skip
    """Search for a short order of work, and have it proved or bounded by the exact solver if asked.

    Args:
        schedules: how many to try.
        exact: whether the exact solver goes on from there; it needs the extra `proof`.
        work: how long it may, in its own measure, which is the same on every machine.
        progress: told (tried, in all); it may raise `Stopped`, and the best so far is returned.

    Raises:
        OutOfRangeError: nothing is left to do; none, or too many, may be tried; the solver may not work, or without end.
        ConflictError: the extra is not installed.
    """
    if not 1 <= schedules <= MOST_SCHEDULES:
        raise OutOfRangeError("schedules", found=schedules, allowed=f"1 to {MOST_SCHEDULES:,}")
    if not 0.0 < work <= MOST_WORK:  # nan neither
        raise OutOfRangeError("work", found=work, allowed=f"more than 0, at most {MOST_WORK:g}")
    if exact:
        solver_module()  # its absence is said before the search, not after it
    return _ordered(inputs(project), schedules, exact, work, progress)


def work_order_standing(project: Project, *, wait: float | None = 0.0) -> Standing[WorkOrder]:
    """An order of work of the plan as it stands, as far as it is worked out; it goes on beside.

    Args:
        wait: seconds to wait for it at most; None waits until it is done.
    """
    given = inputs(project)

    def search_on(report: Report, _: Callable[[WorkOrder], None]) -> WorkOrder:
        def told(made: int, of: int) -> None:
            report(f"{made:,} of {of:,} orders of work tried")

        return _ordered(given, SCHEDULES, exact=False, work=1.0, progress=told)

    return _WORKSHOP.standing(given.mark, search_on, wait=wait)


def stop_work_order(project: Project) -> bool:
    """Ask the search to stop; the best so far stays."""
    return _WORKSHOP.stop(inputs(project).mark)


def _ordered(
    given: Inputs, schedules: int, exact: bool, work: float, progress: Callable[[int, int], None] | None
) -> WorkOrder:
    made = bench_time(given.plan)

    def told(count: int, _: int) -> None:
        if progress is not None:
            progress(count, schedules)

    found = search(made.instance, schedules=schedules, progress=told)
    starts, length, bound, shortest = found.starts, found.makespan, found.bound, found.proven
    solved = exact and not found.stopped
    if solved:
        proof = prove(made.instance, found, work=work)
        starts, length, bound, shortest = proof.starts, proof.makespan, proof.bound, proof.proven
    rows = []
    for number, task in enumerate(made.tasks):
        first, last = made.span(number, starts)
        quarters = sum(int(made.instance.durations[i]) for i in made.pieces[number])
        rows.append((starts[made.pieces[number][0]], Row(task.key, task.title, first, last, quarters / 4.0)))
    rows.sort(key=lambda row: row[0])
    return WorkOrder(
        tuple(row for _, row in rows), length / 4.0, made.day_of(length, ends=length > 0), made.day_of(bound, ends=bound > 0),
        bound / 4.0, shortest, found.made, found.stopped, solved, given.problems,
    )  # fmt: skip


__all__ = ["SCHEDULES", "Row", "WorkOrder", "stop_work_order", "work_order", "work_order_standing"]
