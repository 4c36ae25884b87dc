"""What is worked out from the whole record is kept until the record or the day moves: seal and clock say when."""

from __future__ import annotations

import functools
import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable, Iterator, Mapping
from typing import Concatenate, ParamSpec, TypeVar

from ribwright.core.record.projections import MOVE_OBJECTS
from ribwright.services.project import Project
from ribwright.services.seals import seal
from ribwright.store import chain
from ribwright.store import objects as stored_objects
from ribwright.store.objects import StoredObject

P = ParamSpec("P")
R = TypeVar("R")
S = TypeVar("S")

MOST_KEPT = 256
MOST_OBJECTS = 8192
MOST_PROJECTS = 8
"""Projects of which something is kept of each object."""
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


def of_each(
    *nouns: str,
) -> Callable[[Callable[[StoredObject], R | None]], Callable[[Project], Mapping[str, R]]]:
    """Keep what a function makes of each object of these kinds that stands, by its reference; None leaves it out.

    After an entry only the objects that it is about are read again, so that a hundred aeroplanes cost no more than
    one. The function is given one object without what it was made from, and must look at neither that nor at the
    mark *made to an earlier revision*: that one moves with entries about others. As long as nothing that it makes
    has changed, the same mapping is returned, which nobody may change.
    """

    def keep(make: Callable[[StoredObject], R | None]) -> Callable[[Project], Mapping[str, R]]:
        kept: OrderedDict[Hashable, tuple[int, str, dict[str, R]]] = OrderedDict()
        door = threading.Lock()

        @functools.wraps(make)
        def reading(project: Project) -> Mapping[str, R]:
            key = (project.where, project.id)
            with door, project.store.read() as connection:
                seq, digest = chain.newest_of(connection, project.id, MOVE_OBJECTS)
                before = kept.pop(key, None)
                if before is not None and before[:2] == (seq, digest):
                    made = before[2]
                elif before is not None and chain.digest_at(connection, project.id, before[0]) == before[1]:
                    refs = chain.about_since(connection, project.id, MOVE_OBJECTS, before[0])
                    few = stored_objects.each(connection, project.id, nouns, refs=refs)
                    made = _with(before[2], refs, _made_of(few, make))
                else:
                    made = _made_of(stored_objects.each(connection, project.id, nouns), make)
                kept[key] = (seq, digest, made)
                while len(kept) > MOST_PROJECTS:
                    kept.popitem(last=False)
            return made

        return reading

    return keep


def following(
    source: Callable[[Project], R],
) -> Callable[[Callable[[R, S | None], S]], Callable[[Project], S]]:
    """Keep what a function makes of a kept reading, for as long as that one returns the same.

    The function is given the reading, and what it made of the one before (None the first time), so that it can
    take over what has not changed.
    """

    def keep(make: Callable[[R, S | None], S]) -> Callable[[Project], S]:
        kept: OrderedDict[Hashable, tuple[R, S]] = OrderedDict()
        door = threading.Lock()

        @functools.wraps(make)
        def reading(project: Project) -> S:
            key, now = (project.where, project.id), source(project)
            with door:
                before = kept.pop(key, None)
                if before is not None and before[0] is now:
                    made = before[1]
                else:
                    made = make(now, None if before is None else before[1])
                kept[key] = (now, made)
                while len(kept) > MOST_PROJECTS:
                    kept.popitem(last=False)
            return made

        return reading

    return keep


def _made_of(objects: Iterator[StoredObject], make: Callable[[StoredObject], R | None]) -> dict[str, R]:
    pairs = ((one.ref, make(one)) for one in objects)
    return dict(sorted(((ref, made) for ref, made in pairs if made is not None), key=_ref))


def _with(before: dict[str, R], refs: set[str], anew: dict[str, R]) -> dict[str, R]:
    if all(before.get(ref) == anew.get(ref) for ref in refs):
        return before
    kept = {ref: one for ref, one in before.items() if ref not in refs} | anew
    return dict(sorted(kept.items(), key=_ref))


def _ref(pair: tuple[str, object]) -> str:
    return pair[0]


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
