"""Long work on a thread beside the pages: it says how far it is, can be stopped, and keeps the best so far."""

from __future__ import annotations

import threading
from collections.abc import Callable, Hashable
from dataclasses import dataclass, field
from typing import Generic, TypeVar

from ribwright.errors import PlanError, RibwrightError, Stopped

R = TypeVar("R")
Report = Callable[[str], None]
MOST_KEPT = 8
"""A plan of the whole aeroplane is about a megabyte, and one whose record has moved on is hardly asked for again."""


@dataclass(frozen=True, slots=True)
class Standing(Generic[R]):
    """How a piece of work stands.

    Attributes:
        result: what there is of it; the best so far when it was stopped; None before there is any.
        says: how far it is, in words; empty when it is done.
        running: whether it goes on.
        error: why there is nothing, if it was refused.
    """

    result: R | None
    says: str
    running: bool
    error: RibwrightError | None = None


@dataclass(slots=True)
class _Job(Generic[R]):
    line: Hashable = None
    says: str = "begun"
    result: R | None = None
    error: RibwrightError | None = None
    stop: threading.Event = field(default_factory=threading.Event)
    done: threading.Event = field(default_factory=threading.Event)


class Workshop(Generic[R]):
    """Keeps one piece of work for each key; the same key never runs twice.

    The work must be pure: it is given a report and nothing of the record, so that a project may be closed while
    it goes on. It may raise `Stopped` from the report; what it gave to `keep` before is then its result.
    """

    def __init__(self, most: int = MOST_KEPT) -> None:
        self._most = most
        self._jobs: dict[Hashable, _Job[R]] = {}
        self._lock = threading.Lock()

    def standing(
        self,
        key: Hashable,
        work: Callable[[Report, Callable[[R], None]], R],
        *,
        wait: float | None = None,
        line: Hashable = None,
    ) -> Standing[R]:
        """The work of this key, begun now if it never was.

        Args:
            key: what it is worked out from.
            work: called with a report (how far it is; raises `Stopped` when asked to) and a keep (the best so far).
            wait: seconds to wait for its end at most; None waits until it is done.
            line: work of the same line that still goes on under another key is given up: nobody waits for what
                has moved on.
        """
        with self._lock:
            job = self._jobs.get(key)
            if job is None:
                for other, older in list(self._jobs.items()):
                    if line is not None and older.line == line and not older.done.is_set():
                        self._jobs.pop(other).stop.set()
                while len(self._jobs) >= self._most:
                    oldest = next(iter(self._jobs))
                    self._jobs.pop(oldest).stop.set()
                job = self._jobs[key] = _Job(line)
                threading.Thread(target=_run, args=(job, work), daemon=True, name="ribwright-work").start()
        job.done.wait(wait)
        done = job.done.is_set()
        return Standing(job.result, job.says if not done or job.stop.is_set() else "", not done, job.error)

    def stop(self, key: Hashable) -> bool:
        """Ask the work of this key to stop; whether there was any to stop."""
        with self._lock:
            job = self._jobs.get(key)
        if job is None or job.done.is_set():
            return False
        job.stop.set()
        return True

    def forget(self, key: Hashable) -> None:
        """Let a stopped or refused piece of work be begun again."""
        with self._lock:
            job = self._jobs.pop(key, None)
        if job is not None:
            job.stop.set()


def _run(job: _Job[R], work: Callable[[Report, Callable[[R], None]], R]) -> None:
    def report(says: str) -> None:
        if job.stop.is_set():
            raise Stopped("plan")
        job.says = says

    def keep(best: R) -> None:
        job.result = best

    try:
        job.result = work(report, keep)
        job.stop.clear()
    except Stopped:
        job.says = f"stopped after: {job.says}"
        job.stop.set()
    except RibwrightError as error:
        job.error = error
    except BaseException as error:  # a thread has nobody above it: the page says that it failed
        job.error = PlanError("plan", because=f"it could not be worked out ({type(error).__name__})")
        raise
    finally:
        job.done.set()
