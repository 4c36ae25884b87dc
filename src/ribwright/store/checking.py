"""Checking a project against itself: file, chain, projections, search, sessions and photos."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import cache, partial
from typing import Any

from sqlalchemy import Connection, create_engine, select, text
from sqlalchemy.exc import DatabaseError

from ribwright.core.record.chain import Problem, follow
from ribwright.core.record.entry import GENESIS, Entry, read_entry
from ribwright.core.record.projections import fold
from ribwright.core.record.rows import Rows
from ribwright.core.record.tables import new_rows
from ribwright.errors import FormatError, RibwrightError
from ribwright.store import chain, ddl, photos, projections, schema, sealed
from ribwright.store.engine import Store

Progress = Callable[[str, int], None]


def check_store(store: Store, progress: Progress | None = None) -> Iterator[Problem]:
    """Everything in a project that doesn't agree with its entries, first entry first.

    Args:
        store: of one project.
        progress: told the step and how many entries it has passed; may raise ``Stopped``.
    """
    told = progress or (lambda step, count: None)
    with store.read() as connection, _as_stored(connection):
        if store.dialect == "sqlite":
            told("file", 0)
            yield from _guarded("file", _check_file(connection))
            yield from _guarded("tables", _check_whose(connection, store.project))
        told("chain", 0)
        yield from _guarded("chain", follow(store.project, chain_rows(connection, store.project)))
        rows = new_rows()
        yield from _guarded("entries", _rebuild(connection, store.project, rows, told))
        told("tables", 0)
        yield from _guarded("tables", projections.compare(connection, store.project, rows))
        yield from _guarded("sessions", sealed.check_sealed(connection, store.project))
    if store.dialect == "sqlite" and not store.read_only:
        yield from _guarded("search", _check_search(store))
    told("photos", 0)
    yield from _guarded("photos", photos.check_photos(store, rows))


def _guarded(where: str, problems: Iterator[Problem]) -> Iterator[Problem]:
    """A file so torn that the database can't read it is a problem found, not a crash."""
    try:
        yield from problems
    except DatabaseError as error:
        yield Problem(0, where, f"the database can't read it: {error.orig}")
    except (sqlite3.DatabaseError, RibwrightError) as error:
        yield Problem(0, where, f"the database can't read it: {error}")
    except (TypeError, ValueError, AttributeError, LookupError) as error:
        # One changed byte can make bytes of a text and a text of a number; what then trips over it
        # has found it. (UnicodeDecodeError is a ValueError.)
        yield Problem(0, where, f"a stored value is not of its kind: {error}")


@contextmanager
def _as_stored(connection: Connection) -> Iterator[None]:
    """Text that is no longer UTF-8 comes out as it is, so that it can be located."""
    raw: Any = connection.connection.driver_connection
    if connection.dialect.name != "sqlite":
        yield
        return
    raw.text_factory = partial(str, encoding="utf-8", errors="surrogateescape")
    try:
        yield
    finally:
        raw.text_factory = str


def chain_rows(connection: Connection, project: str) -> Iterator[tuple[int, str, str, str, str]]:
    """(seq, request_id, role, digest, text) of every entry, in order: what following the chain needs."""
    entry = schema.entry
    statement = (
        select(entry.c.seq, entry.c.request_id, entry.c.role, entry.c.digest, entry.c.text)
        .where(entry.c.project == project)
        .order_by(entry.c.seq)
    )
    if connection.dialect.name == "sqlite":
        # Past the row objects, which would cost more than the hashing.
        raw: Any = connection.connection.driver_connection
        yield from raw.execute(str(statement.compile(dialect=connection.dialect)), (project,))
        return
    for part in connection.execute(statement, execution_options={"yield_per": 5000}).partitions(5000):
        yield from part


def _rebuild(connection: Connection, project: str, rows: Rows, told: Progress) -> Iterator[Problem]:
    at_before, first, last = "", None, None
    names = [column.name for column in schema.entry.columns]
    for row in chain.every_row(connection, project):
        try:
            entry = read_entry(row.text, canonical=False)
            expected = chain.columns_of(entry, row.text)
            wrong = [
                name
                for name, value in zip(names, row, strict=True)
                if value != expected[name] or type(value) is not type(expected[name])
            ]
            if wrong:
                yield Problem(row.seq, "entry", f"{', '.join(wrong)}: not what its text says")
            fold(entry, rows, at_before=at_before)
        except (FormatError, KeyError, TypeError, ValueError, AttributeError) as error:
            # A text that was changed need not be an entry any more; what it made is then missing below.
            yield Problem(
                row.seq if isinstance(row.seq, int) else 0, "entry", f"its text can't be read: {error}"
            )
            continue
        at_before, first, last = entry.at, first or entry, entry
        if entry.seq % 5000 == 0:
            told("entries", entry.seq)
    yield from _check_head(connection, project, first, last)


def _check_head(
    connection: Connection, project: str, first: Entry | None, last: Entry | None
) -> Iterator[Problem]:
    head = connection.execute(schema.head.select()).mappings().all()
    right: dict[str, str | int] = {
        "project": project,
        "seq": last.seq if last else 0,
        "digest": last.digest if last else GENESIS,
        "at": last.at if last else "",
    }
    mine = [dict(row) for row in head if row["project"] == project]
    if mine != [right] or (connection.dialect.name == "sqlite" and len(head) != 1):
        yield Problem(last.seq if last else 0, "head", "the end of the chain is not where it is noted")
    name = chain.project_row(connection, project)
    if first is None:
        yield Problem(1, "entry", "there are no entries")
    elif name is None or name != (project, (first.body.get("data") or {}).get("name"), first.at):
        yield Problem(1, "project", "name or date: not what the first entry says")


def _check_file(connection: Connection) -> Iterator[Problem]:
    for row in connection.exec_driver_sql("PRAGMA integrity_check(20)"):
        if row[0] != "ok":
            yield Problem(0, "file", str(row[0]))
    mode = connection.exec_driver_sql("PRAGMA journal_mode").scalar_one()
    if mode not in ("wal", "off", "memory") and not _immutable(connection):
        yield Problem(0, "file", f"its journal is “{mode}” and not “wal”")
    stored = _schema_of(connection)
    for name in sorted(stored.keys() | _right_schema().keys()):
        if stored.get(name) != _right_schema().get(name):
            yield Problem(0, f"schema {name[1]}", "the table's description was changed")


def _check_whose(connection: Connection, project: str) -> Iterator[Problem]:
    """A project folder holds one project. Read past the indexes: a changed name hides behind them."""
    for table in schema.metadata.sorted_tables:
        if "project" in table.c:
            query = f'SELECT rowid FROM "{table.name}" NOT INDEXED WHERE project IS NOT ?'
            for (rowid,) in connection.exec_driver_sql(query, (project,)):
                yield Problem(0, f"{table.name} row {rowid}", "it belongs to no project here")


def _immutable(connection: Connection) -> bool:
    return "immutable=1" in str(connection.engine.url)


def _schema_of(connection: Connection) -> dict[tuple[str, str], tuple[Any, ...]]:
    rows = connection.exec_driver_sql("SELECT type, name, tbl_name, sql FROM sqlite_schema")
    return {(row[0], row[1]): (row[2], row[3]) for row in rows}


@cache
def _right_schema() -> dict[tuple[str, str], tuple[Any, ...]]:
    engine = create_engine("sqlite://")
    with engine.begin() as connection:
        ddl.create_all(connection)
        right = _schema_of(connection)
    engine.dispose()
    return right


def _check_search(store: Store) -> Iterator[Problem]:
    # FTS5's own check compares the index with the words word by word. It is spelt as a write.
    with store.write() as connection:
        try:
            connection.execute(
                text("INSERT INTO words_index(words_index, rank) VALUES ('integrity-check', 1)")
            )
        except DatabaseError as error:
            yield Problem(0, "search", f"the index does not fit the entries ({error.orig})")
