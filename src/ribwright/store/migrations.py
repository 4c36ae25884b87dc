"""Bringing a database up to this version: numbered functions, each in one transaction.

A copy is made before. A database of a later version is refused politely and never touched.
"""

from __future__ import annotations

from collections.abc import Callable

from sqlalchemy import Connection, func, inspect, select

from ribwright.errors import MigrationError, NewerProjectError, NoProjectError, RibwrightError
from ribwright.store import ddl, schema
from ribwright.store.engine import Store
from ribwright.store.sealed import sealed_row

Migration = Callable[[Connection], None]

MIGRATIONS: tuple[tuple[str, Migration], ...] = ()
"""Step n brings version n to n + 1. Never changed once released; a later one is added at the end.
An empty database gets the newest schema at once; a test holds the two ways equal."""


def newest() -> int:
    """The version that this program writes."""
    return 1 + len(MIGRATIONS)


def version_of(store: Store) -> int:
    """The version of a database; 0 when it holds nothing of ours."""
    with store.read() as connection:
        if not inspect(connection).has_table("schema_version"):
            return 0
        version: int = connection.execute(
            select(func.coalesce(func.max(schema.schema_version.c.version), 0))
        ).scalar_one()
        return version


def migrate(
    store: Store, *, at: str, before: Callable[[int], None] | None = None, fresh: bool = False
) -> int:
    """Apply what is missing.

    Args:
        store: the open database.
        at: the time now, for the note.
        before: makes the copy; called with the old version when a stored project must be changed.
        fresh: the database may be empty.

    Returns:
        The version that it had.

    Raises:
        NoProjectError: it is no project.
        NewerProjectError: written by a later version.
        MigrationError: a step failed; it left nothing behind, and the copy stands.
    """
    old, new = version_of(store), newest()
    if old == 0 and not fresh:
        raise NoProjectError("project", found=store.where, because="this is not a project")
    if old > new:
        raise NewerProjectError(
            "project", found=f"version {old}", allowed=f"up to version {new}", mend="Use the newer program"
        )
    if old == 0:
        _apply(store, "the schema", ddl.create_all, new, at)
        return 0
    if old < new and before is not None:
        before(old)
    for number, (note, step) in enumerate(MIGRATIONS[old - 1 :], start=old + 1):
        _apply(store, note, step, number, at)
    return old


def _apply(store: Store, note: str, step: Migration, number: int, at: str) -> None:
    try:
        with store.write() as connection:
            step(connection)
            row = sealed_row(schema.schema_version, {"version": number, "note": note, "at": at})
            connection.execute(schema.schema_version.insert(), row)
    except RibwrightError as error:
        raise MigrationError("project", found=f"step {number}, {note}: {error}") from error
