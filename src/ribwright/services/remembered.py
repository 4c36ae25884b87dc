"""What is worked out from the whole record is kept until the record or the day moves: seal and clock say when."""

from __future__ import annotations

import functools
import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import Concatenate, ParamSpec, TypeVar

from ribwright.core.record.projections import MOVE_OBJECTS
from ribwright.services.project import Project
from ribwright.services.seals import seal
from ribwright.store import chain

P = ParamSpec("P")
R = TypeVar("R")

MOST_KEPT = 256
MOST_OBJECTS = 8192
PATIENCE_S = 20.0
"""How long a request waits for another one that reads the same, before it reads for itself."""


def until_the_record_moves(
    function: Callable[Concatenate[Project, P], R],
) -> Callable[Concatenate[Project, P], R]:
    """Keep a reading of the project; it is read again after the next entry, and the next day.

    Requests that want the same at the same time wait for the first of them. The further arguments must be hashable,
    and the result a value that nobody changes: several requests share it.
    """
    return _kept(function, lambda project: f"{seal(project)} {project.now()[:10]}")


def until_the_breakdown_moves(
    function: Callable[Concatenate[Project, P], R],
) -> Callable[Concatenate[Project, P], R]:
    """Keep what is read from the objects of the project alone: hours, readings, notes, photos don't move it.

    Otherwise as ``until_the_record_moves``. A long row of objects (more than ``MOST_OBJECTS``) is not kept.
    """
    return _kept(function, _breakdown_mark, most=MOST_OBJECTS)


def _kept(
    function: Callable[Concatenate[Project, P], R],
    mark_of: Callable[[Project], str],
    *,
    most: int | None = None,
) -> Callable[Concatenate[Project, P], R]:
    kept: OrderedDict[Hashable, tuple[str, R]] = OrderedDict()
    being_read: dict[Hashable, threading.Lock] = {}
    door = threading.Lock()

    def known(key: Hashable, mark: str) -> tuple[R] | None:
        with door:
            found = kept.get(key)
            if found is None or found[0] != mark:
                return None
            kept.move_to_end(key)
            return (found[1],)

    @functools.wraps(function)
    def reading(project: Project, /, *args: P.args, **named: P.kwargs) -> R:
        key = (project.where, project.id, args, tuple(sorted(named.items())))
        mark = mark_of(project)
        found = known(key, mark)
        if found is not None:
            return found[0]
        with door:
            mine = being_read.setdefault(key, threading.Lock())
        mine_alone = mine.acquire(timeout=PATIENCE_S)
        try:
            found = known(key, mark)
            if found is not None:
                return found[0]
            made = function(project, *args, **named)
            # An entry made while it was read shows in the seal: then it is not kept under the older one.
            if mark_of(project) == mark and not (
                most is not None and isinstance(made, tuple) and len(made) > most
            ):
                with door:
                    kept[key] = (mark, made)
                    while len(kept) > MOST_KEPT:
                        kept.popitem(last=False)
            return made
        finally:
            with door:
                being_read.pop(key, None)
            if mine_alone:
                mine.release()

    return reading


def _breakdown_mark(project: Project) -> str:
    with project.store.read() as connection:
        seq, digest = chain.newest_of(connection, project.id, MOVE_OBJECTS)
    return f"{seq}-{digest}"
