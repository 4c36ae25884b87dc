"""Opening a database: SQLite in a project folder, or PostgreSQL by URL.

The SQLite driver's own transactions lose updates silently under threads, so every transaction is
begun here: ``BEGIN`` to read, ``BEGIN IMMEDIATE`` to write. The journal mode is set once, when the
file is made; the other settings belong to each connection.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import quote

from sqlalchemy import Connection, Engine, create_engine, event, text
from sqlalchemy.pool import NullPool

from ribwright.errors import DiskError, NoProjectError, StoreError
from ribwright.store.faults import own_errors

Transaction = Connection
"""What a service hands from one store function to the next."""

DATABASE_NAME = "record.sqlite"
BUSY_MS = 60_000
ANSWERS_WITHIN_S = 10
"""How long a database on a server may take to let somebody in; a machine that is off never answers."""


@dataclass(frozen=True, slots=True)
class Store:
    """An open database, and the one project in it that is worked on.

    Attributes:
        engine: of SQLAlchemy.
        where: for messages: the folder or the URL without its password.
        folder: the project's folder, or None for PostgreSQL.
        project: its id; "" before it is known.
        read_only: nothing can be written (a disc, a folder of somebody else).
    """

    engine: Engine
    where: str
    folder: Path | None
    project: str = ""
    read_only: bool = False

    @property
    def dialect(self) -> str:
        return self.engine.dialect.name

    @contextmanager
    def read(self) -> Iterator[Connection]:
        """A transaction that only reads; it sees one moment of the record."""
        with own_errors(self.where), self.engine.connect() as connection, connection.begin():
            self._scope(connection)
            yield connection

    @contextmanager
    def write(self) -> Iterator[Connection]:
        """A transaction that writes: all of it is kept when the block ends, or nothing."""
        if self.read_only:
            raise DiskError(
                self.where,
                found="a folder that can't be written",
                mend="Copy the project to a folder of your own",
            )
        with own_errors(self.where), self.engine.connect() as connection:
            connection = connection.execution_options(writes=True)
            with connection.begin():
                self._scope(connection)
                yield connection

    def _scope(self, connection: Connection) -> None:
        # Local to the transaction, so that a pooled connection never carries it to another project.
        if self.dialect == "postgresql":
            connection.execute(
                text("SELECT set_config('ribwright.project', :id, true)"), {"id": self.project}
            )

    def close(self) -> None:
        """Give back every connection. The last one of a project folder also empties the journal."""
        self.engine.dispose()


def sqlite_store(folder: Path, *, create: bool = False) -> Store:
    """Open the database of a project folder.

    Args:
        folder: the project folder.
        create: make the file; without it a missing file is refused.

    Raises:
        NoProjectError: there is none.
        DiskError: it can't be read, or is on a disc with unfinished work.
    """
    path = folder / DATABASE_NAME
    if not create and not path.is_file():
        raise NoProjectError("project", found=folder, mend="Make one with: ribwright project new FOLDER")
    writable = os.access(folder, os.W_OK) and (create or os.access(path, os.W_OK))
    journal = path.with_name(path.name + "-wal")
    address = f"file:{quote(str(path))}"
    if not writable:
        if journal.exists() and journal.stat().st_size:
            raise DiskError(
                str(folder),
                because="it can't be written, and its last changes are not yet in the main file",
                mend="Copy the folder to a place that can be written, and open it there",
            )
        address += "?mode=ro&immutable=1"
    else:
        address += "?mode=rwc" if create else "?mode=rw"
    engine = create_engine(
        f"sqlite:///{address}&uri=true",
        connect_args={"check_same_thread": False, "timeout": BUSY_MS / 1000},
        pool_size=8,
        max_overflow=64,
    )

    @event.listens_for(engine, "connect")
    def _settings(connection: Any, record: Any) -> None:
        connection.isolation_level = None  # the driver begins nothing by itself
        cursor = connection.cursor()
        for setting in ("synchronous=FULL", "foreign_keys=ON", "trusted_schema=OFF", "cell_size_check=ON"):
            cursor.execute(f"PRAGMA {setting}")
        cursor.execute(f"PRAGMA busy_timeout={BUSY_MS}")
        cursor.execute("PRAGMA cache_size=-16000")
        cursor.close()

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        writes = connection.get_execution_options().get("writes", False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return Store(engine, str(folder), folder, read_only=not writable)


def set_journal(store: Store) -> None:
    """Write-ahead journal, once, when the file is made: it is kept in the file."""
    with own_errors(store.where), store.engine.connect() as connection:
        raw = connection.connection.driver_connection
        assert raw is not None
        mode = raw.execute("PRAGMA journal_mode=WAL").fetchone()[0]
        if mode != "wal":
            raise StoreError(
                store.where, found=f"journal mode {mode}", allowed="wal", mend="Use a local disk"
            )


def postgres_store(url: str, project: str = "", *, pooled: bool = True) -> Store:
    """Open a PostgreSQL database.

    Args:
        url: ``postgresql://user@host/database``.
        project: id of the project that is worked on.
        pooled: keep connections between transactions.

    Raises:
        StoreError: the driver is not installed, or the URL is none.
    """
    try:
        plain = url.replace("postgres://", "postgresql://", 1)
        address = plain.replace("postgresql://", "postgresql+psycopg://", 1)
        options: dict[str, Any] = {"pool_size": 8, "max_overflow": 64} if pooled else {"poolclass": NullPool}
        if "connect_timeout" not in address:
            options["connect_args"] = {"connect_timeout": ANSWERS_WITHIN_S}
        engine = create_engine(address, **options)
    except ModuleNotFoundError as error:
        raise StoreError("database", found=error.name, mend="pip install 'ribwright[postgres]'") from error
    except Exception as error:
        raise StoreError(
            "database", found="a URL that can't be read", allowed="postgresql://user@host/name"
        ) from error
    return Store(
        engine, engine.url.set(drivername="postgresql").render_as_string(hide_password=True), None, project
    )


def is_url(where: object) -> bool:
    """Whether a project is named by a database URL and not by a folder."""
    return isinstance(where, str) and where.startswith(("postgresql://", "postgres://"))
