"""A project: making, opening and finding one; and who acts in it."""

from __future__ import annotations

import os
import re
import secrets
import sys
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType
from typing import Self

from ribwright.core.record.entry import ROLES, check_name, check_request_id
from ribwright.errors import DiskError, NoProjectError, ProjectExistsError, UnknownNameError
from ribwright.services.links import checked_database
from ribwright.store import chain, ddl, engine, files, migrations
from ribwright.store.engine import DATABASE_NAME, Store, is_url
from ribwright.store.unfinished import being_made

ENVIRONMENT_NAME = "RIBWRIGHT_PROJECT"
WAYS = ("here", "tls", "plain")


@dataclass(frozen=True, slots=True)
class Actor:
    """Who acts.

    Attributes:
        name: of the person.
        role: builder, helper, adviser or inspector.
        way: how it reached the program: "here" (this machine), or from a paired device over "tls" or
            "plain" http. Over plain http anybody in the network could have sent it.
    """

    name: str
    role: str = "builder"
    way: str = "here"

    def __post_init__(self) -> None:
        object.__setattr__(self, "name", unicodedata.normalize("NFC", check_name(self.name, "who acts")))
        if self.role not in ROLES:
            raise UnknownNameError("role", found=self.role, allowed=", ".join(ROLES))
        if self.way not in WAYS:
            raise UnknownNameError("way", found=self.way, allowed=", ".join(WAYS))


def utc_now() -> str:
    """The time now, as entries write it."""
    return datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


@dataclass(frozen=True, slots=True)
class Project:
    """An open project; closes itself at the end of a ``with`` block.

    Attributes:
        id: its name inside the database.
        name: as the builder calls it.
        store: the open database.
        now: the clock that stamps entries.
    """

    id: str
    name: str
    store: Store
    now: Callable[[], str] = utc_now

    @property
    def folder(self) -> Path | None:
        """The project folder; None when it lives in PostgreSQL."""
        return self.store.folder

    @property
    def where(self) -> str:
        """What opens it again: the folder, or the URL (without its password) and the id."""
        return self.store.where if self.folder else f"{self.store.where}#{self.id}"

    def close(self) -> None:
        """Give the database back."""
        self.store.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


def create_project(
    folder: str | Path, *, name: str, actor: Actor, request_id: str, now: Callable[[], str] = utc_now
) -> Project:
    """Make a project and open it.

    Args:
        folder: a folder that is new, empty, or holds no project; or a ``postgresql://`` URL.
        name: as the builder calls it.
        actor: who makes it.
        request_id: of the form; sent twice, the project that it made is opened.
        now: the clock.

    Raises:
        ProjectExistsError: there is one already.
        DiskError: the folder can't be written.
        OutOfRangeError: the name is empty or too long.
    """
    name = check_name(unicodedata.normalize("NFC", name), "project name")
    check_request_id(request_id)
    if is_url(folder):
        return _create_in_postgres(str(folder), name, actor, request_id, now)
    path = Path(folder).expanduser().resolve()
    if (path / DATABASE_NAME).exists():
        project = open_project(path, now=now)
        with project.store.read() as connection:
            first = chain.by_seq(connection, project.id, 1)
        if first is not None and first.request_id == request_id:
            return project
        project.close()
        raise ProjectExistsError("folder", found=path, mend="Choose another folder")
    try:
        with being_made(path / DATABASE_NAME) as making:
            store = engine.sqlite_store(making, create=True)
            try:
                engine.set_journal(store)
                migrations.migrate(store, at=now(), fresh=True)
                _begin(store, _new_id(name), name, actor, request_id, now)
            finally:
                store.close()
            # The whole file appears at once: a crash before this line leaves no project.
            os.replace(making / DATABASE_NAME, path / DATABASE_NAME)
            files.sync_folder(path)
    except OSError as error:
        raise DiskError(
            "folder", found=f"{path}: {error.strerror or error}", mend="Choose a folder that can be written"
        ) from error
    return open_project(path, now=now)


def open_project(where: str | Path, *, now: Callable[[], str] = utc_now) -> Project:
    """Open a project and bring it up to this version (a copy is made before).

    Args:
        where: its folder, or ``postgresql://…/database#project-id``.
        now: the clock.

    Raises:
        NoProjectError: there is none.
        NewerProjectError: written by a later version.
        MigrationError: bringing it up to this version failed.
        DiskError: it is torn or can't be read.
    """
    if is_url(where):
        url, _, project_id = str(where).partition("#")
        if not project_id:
            raise NoProjectError(
                "project", found="a URL without #project-id", mend="Add # and the project's id"
            )
        store = engine.postgres_store(checked_database(url), project_id)
    else:
        store = engine.sqlite_store(Path(where).expanduser().resolve())
    try:
        from ribwright.store import backup

        migrations.migrate(
            store, at=now(), before=lambda version: backup.copy_before_migration(store, version, now())
        )
        with store.read() as connection:
            row = chain.project_row(connection, store.project)
    except BaseException:
        store.close()
        raise
    if row is None:
        store.close()
        # without the password that an address may hold
        raise NoProjectError("project", found=f"{store.where}#{store.project}" if is_url(where) else where)
    return Project(
        row[0], row[1], Store(store.engine, store.where, store.folder, row[0], store.read_only), now
    )


def find_project(folder: str | Path | None = None) -> Path | str:
    """Which project is meant: the one named, else ``RIBWRIGHT_PROJECT``, else the nearest folder
    above, else the one that ``./run`` made.

    Raises:
        NoProjectError: none of them.
    """
    named = folder if folder is not None else os.environ.get(ENVIRONMENT_NAME) or None
    if named is not None:
        if is_url(named):
            return str(named)
        path = Path(named).expanduser().resolve()
        if not (path / DATABASE_NAME).is_file():
            raise NoProjectError("project", found=path, mend=f"Make one with: ribwright project new {path}")
        return path
    here = Path.cwd()
    for path in (here, *here.parents):
        if (path / DATABASE_NAME).is_file():
            return path
    try:
        made = Path(_pointer().read_text(encoding="utf-8").strip())
    except OSError:
        made = None
    if made is not None and (made / DATABASE_NAME).is_file():
        return made
    raise NoProjectError(
        "project",
        found=here,
        mend=f"Say which with --project FOLDER or {ENVIRONMENT_NAME}, or make one: ribwright project new FOLDER",
    )


def is_project(folder: Path) -> bool:
    """Whether a project lies in this folder (readable or not)."""
    return (folder / DATABASE_NAME).exists()


def remember_project(folder: Path) -> None:
    """Note, in this environment, the project that is meant when none is named."""
    _pointer().write_text(f"{folder.resolve()}\n", encoding="utf-8")


def prepare_database(url: str, *, login: str | None = None, now: Callable[[], str] = utc_now) -> None:
    """Make the tables in a PostgreSQL database, as their owner.

    Args:
        url: of the owner's login.
        login: name of an existing role that owns nothing; it is given what the program needs.
        now: the clock.
    """
    store = engine.postgres_store(checked_database(url), pooled=False)
    try:
        migrations.migrate(store, at=now(), fresh=True)
        with store.write() as connection:
            ddl.let_advisers_read(connection)
            if login is not None:
                ddl.grant(connection, login)
    finally:
        store.close()


def _create_in_postgres(
    url: str, name: str, actor: Actor, request_id: str, now: Callable[[], str]
) -> Project:
    address, _, project_id = url.partition("#")
    project_id = project_id or _new_id(name)
    store = engine.postgres_store(checked_database(address), project_id)
    try:
        migrations.migrate(store, at=now(), fresh=True)
        with store.read() as connection:
            there = chain.project_row(connection, project_id) is not None
            first = chain.by_seq(connection, project_id, 1) if there else None
        if first is not None and first.request_id != request_id:
            raise ProjectExistsError("project", found=project_id, mend="Choose another id")
        if first is None:
            _begin(store, project_id, name, actor, request_id, now)
    finally:
        store.close()
    return open_project(f"{address}#{project_id}", now=now)


def _begin(
    store: Store, project_id: str, name: str, actor: Actor, request_id: str, now: Callable[[], str]
) -> None:
    from ribwright.services.record import add_entries, new_object

    at = now()
    with Store(store.engine, store.where, store.folder, project_id).write() as connection:
        if chain.project_row(connection, project_id) is None:
            chain.start_chain(connection, project_id, name, at)
    project = Project(
        project_id, name, Store(store.engine, store.where, store.folder, project_id), lambda: at
    )
    add_entries(
        project,
        actor=actor,
        request_id=request_id,
        items=[new_object("setting", "project", {"name": name}, title=name)],
    )


def _new_id(name: str) -> str:
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    slug = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:24] or "project"
    return f"{slug}-{secrets.token_hex(4)}"


def _pointer() -> Path:
    return Path(sys.prefix) / "ribwright-project.txt"
