"""Reading the breakdown and what was entered about it."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

from sqlalchemy import Connection, Select, func, select

from ribwright.core.record.entry import Entry
from ribwright.store import schema

_object = schema.projections["object"]
_link = schema.projections["link"]

MOST_KEPT = 8192
"""Texts whose reading is kept: about seven whole aeroplanes, some 70 MB."""


@dataclass(frozen=True, slots=True)
class StoredObject:
    """One object of the breakdown, as its newest standing revision left it.

    Attributes:
        ref: its reference.
        noun: aircraft, assembly, part, operation, drawing …
        revision: counts from 1; a form carries the one that it saw.
        parent: reference of what it belongs to, or "".
        title: for people.
        hand: left, right or none.
        data: what was entered; every number as text. Shared by all who read it: never changed in place.
        digest: of what it is (not of its title, place or revision).
        made_from: (reference, digest) of what it was made from.
        seq: the entry that gave it this state.
        withdrawn: it no longer belongs to the aeroplane.
        outdated: made to an earlier revision of something above it in the line.
        primary: primary structure: nothing is proposed for a mistake.
    """

    ref: str
    noun: str
    revision: int
    parent: str
    title: str
    hand: str
    data: dict[str, Any]
    digest: str
    made_from: tuple[tuple[str, str], ...]
    seq: int
    withdrawn: bool
    outdated: bool
    primary: bool

    @property
    def reference(self) -> str:
        """What is printed on paper: reference, revision, first digits of the digest."""
        return f"{self.ref} r{self.revision} {self.digest[:8]}"


def one(connection: Connection, project: str, ref: str) -> StoredObject | None:
    """The object of this reference, or None."""
    row = connection.execute(_of(project).where(_object.c.ref == ref)).one_or_none()
    return None if row is None else _made(connection, project, [row])[0]


def some(
    connection: Connection,
    project: str,
    *,
    noun: str | None = None,
    parent: str | None = None,
    refs: Sequence[str] | None = None,
    withdrawn: bool = False,
    outdated: bool | None = None,
    after: str = "",
    limit: int | None = None,
) -> tuple[StoredObject, ...]:
    """Objects in the order of their references.

    Args:
        connection: inside a transaction.
        project: whose.
        noun: only of this kind.
        parent: only directly below this one.
        refs: only these.
        withdrawn: the withdrawn ones too.
        outdated: only those (not) made to an earlier revision.
        after: only references after this one (the next page).
        limit: at most so many.
    """
    query = _of(project)
    if noun is not None:
        query = query.where(_object.c.noun == noun)
    if parent is not None:
        query = query.where(_object.c.parent == parent)
    if refs is not None:
        query = query.where(_object.c.ref.in_(refs))
    if not withdrawn:
        query = query.where(_object.c.withdrawn == 0)
    if outdated is not None:
        query = query.where(_object.c.outdated == int(outdated))
    if after:
        query = query.where(_object.c.ref > after)
    query = query.order_by(_object.c.ref)
    if limit is not None:
        query = query.limit(limit)
    return tuple(_made(connection, project, list(connection.execute(query))))


def each(
    connection: Connection, project: str, nouns: Sequence[str], *, refs: Iterable[str] | None = None
) -> Iterator[StoredObject]:
    """Objects that stand, one after the other, for what looks through very many: none is kept.

    What they were made from is not read: ``made_from`` is empty.

    Args:
        connection: inside a transaction.
        project: whose.
        nouns: of these kinds; all without any.
        refs: only these; else all in the order of their references.
    """
    query = _of(project).where(_object.c.withdrawn == 0)
    if nouns:
        query = query.where(_object.c.noun.in_(nouns))
    if refs is None:
        rows = connection.execute(query.order_by(_object.c.ref), execution_options={"yield_per": 1000})
        yield from (_one(row, (), json.loads(row.data)) for row in rows)
        return
    wanted = list(refs)
    for start in range(0, len(wanted), 500):
        some_rows = connection.execute(query.where(_object.c.ref.in_(wanted[start : start + 500])))
        yield from (_one(row, (), json.loads(row.data)) for row in some_rows)


def refs_below(connection: Connection, project: str, nouns: Sequence[str]) -> dict[str, list[str]]:
    """References of what stands directly below each object, of these kinds."""
    rows = connection.execute(
        select(_object.c.parent, _object.c.ref)
        .where(_object.c.project == project, _object.c.withdrawn == 0, _object.c.noun.in_(nouns))
        .order_by(_object.c.ref)
    )
    below: dict[str, list[str]] = {}
    for parent, ref in rows:
        below.setdefault(parent, []).append(ref)
    return below


def count(connection: Connection, project: str) -> dict[str, int]:
    """How many objects of each noun stand."""
    rows = connection.execute(
        select(_object.c.noun, func.count())
        .where(_object.c.project == project, _object.c.withdrawn == 0)
        .group_by(_object.c.noun)
    )
    return {row[0]: row[1] for row in rows}


def count_below(connection: Connection, project: str, noun: str) -> dict[str, int]:
    """How many objects of a noun stand directly below each other one."""
    rows = connection.execute(
        select(_object.c.parent, func.count())
        .where(_object.c.project == project, _object.c.noun == noun, _object.c.withdrawn == 0)
        .group_by(_object.c.parent)
    )
    return {row[0]: row[1] for row in rows}


def rows_about(
    connection: Connection, project: str, table: str, *, about: Sequence[str] | None, **where: str | int
) -> list[dict[str, Any]]:
    """Rows of one projection (work, reading, finding …), in the order of the chain."""
    stored = schema.projections[table]
    query = select(*(column for column in stored.c if column.name != "project")).where(
        stored.c.project == project
    )
    if about is not None:
        query = query.where(stored.c.about.in_(about))
    for name, value in where.items():
        query = query.where(stored.c[name] == value)
    return [dict(row) for row in connection.execute(query.order_by(stored.c.seq)).mappings()]


def words_on_stages(connection: Connection, project: str) -> dict[tuple[str, str], str]:
    """The last word, yes or no, on whether a stage is finished, by object and stage."""
    work = schema.projections["work"]
    rows = connection.execute(
        select(work.c.about, work.c.stage, work.c.done)
        .where(work.c.project == project, work.c.done.in_(("yes", "no")))
        .order_by(work.c.seq)
    )
    return {(about, stage): done for about, stage, done in rows}


def standing(connection: Connection, project: str, seqs: Sequence[int]) -> dict[int, dict[str, int]]:
    """Which of these entries were taken back, corrected, or made by a clock that went back."""
    stored = schema.projections["standing"]
    rows = connection.execute(
        select(stored).where(stored.c.project == project, stored.c.seq.in_(seqs))
    ).mappings()
    names = ("undone_by", "corrected_by", "clock_back")
    return {row["seq"]: {name: row[name] for name in names} for row in rows}


def revisions(connection: Connection, project: str, ref: str) -> list[dict[str, Any]]:
    """Every revision that an object ever had: revision, entry, digest, undone."""
    stored = schema.projections["revision"]
    rows = connection.execute(
        select(stored.c.revision, stored.c.seq, stored.c.digest, stored.c.undone)
        .where(stored.c.project == project, stored.c.ref == ref)
        .order_by(stored.c.seq)
    )
    return [dict(row) for row in rows.mappings()]


def links_from(connection: Connection, project: str, parent: str) -> list[tuple[str, str, bool]]:
    """What was made from this: (child, digest of the parent then, whether the parent moved since)."""
    rows = connection.execute(
        select(_link.c.child, _link.c.digest, _link.c.moved)
        .where(_link.c.project == project, _link.c.parent == parent)
        .order_by(_link.c.child)
    )
    return [(row.child, row.digest, bool(row.moved)) for row in rows]


def as_entered(entry: Entry, digest: str, now: StoredObject) -> StoredObject:
    """An earlier revision of an object, from the entry that made it."""
    body = entry.body
    return replace(
        now,
        revision=int(body["revision"]),
        parent=body.get("parent") or "",
        title=body.get("title") or "",
        hand=body.get("hand") or "none",
        data=dict(body.get("data") or {}),
        digest=digest,
        made_from=tuple((item["ref"], item["digest"]) for item in body.get("made_from") or ()),
        seq=entry.seq,
    )


@lru_cache(maxsize=MOST_KEPT)
def _data(text: str) -> dict[str, Any]:
    """What stands in one object, read once: the same text gives the same dictionary, which nobody changes."""
    made: dict[str, Any] = json.loads(text)
    return made


def _of(project: str) -> Select[Any]:
    return select(_object).where(_object.c.project == project)


def _made(connection: Connection, project: str, rows: list[Any]) -> list[StoredObject]:
    made_from: dict[str, list[tuple[str, str]]] = {}
    for start in range(0, len(rows), 500):
        refs = [row.ref for row in rows[start : start + 500]]
        links = connection.execute(
            select(_link.c.child, _link.c.parent, _link.c.digest)
            .where(_link.c.project == project, _link.c.child.in_(refs))
            .order_by(_link.c.child, _link.c.parent)
        )
        for child, parent, digest in links:
            made_from.setdefault(child, []).append((parent, digest))
    return [_one(row, tuple(made_from.get(row.ref, ())), _data(row.data)) for row in rows]


def _one(row: Any, made_from: tuple[tuple[str, str], ...], data: dict[str, Any]) -> StoredObject:
    return StoredObject(
        row.ref,
        row.noun,
        row.revision,
        row.parent,
        row.title,
        row.hand,
        data,
        row.digest,
        made_from,
        row.seq,
        bool(row.withdrawn),
        bool(row.outdated),
        bool(row.is_primary),
    )
