"""Copies of a project: before a migration, in rotation, and restoring one."""

from __future__ import annotations

import os
import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

from ribwright.errors import DiskError, StoreError
from ribwright.store.engine import DATABASE_NAME, Store
from ribwright.store.files import sync_folder
from ribwright.store.unfinished import being_made

BACKUPS = "backups"
PHOTOS = "photos"


def copy_before_migration(store: Store, version: int, at: str) -> None:
    """Keep the database as it was, beside the project.

    Args:
        store: a project folder; PostgreSQL is copied by its own tools, and its steps are one
            transaction each.
        version: that it has.
        at: the time now.
    """
    if store.folder is not None:
        target = store.folder / BACKUPS / f"before-version-{version + 1}-{_stamp(at)}"
        copy_project(store, target)


def copy_project(store: Store, target: Path, progress: Callable[[int], None] | None = None) -> Path:
    """Copy a project folder: the database by SQLite's own backup, the photos by hard links.

    The copy appears under its name only when it is whole.

    Args:
        store: a project folder, open.
        target: a folder that isn't there.
        progress: called with the pages still to copy; may raise ``Stopped``.

    Returns:
        The target.
    """
    if store.folder is None:
        raise StoreError(
            "backup",
            found=store.where,
            because="a database server is backed up by its own tools",
            mend="Use pg_dump, or: ribwright project export",
        )
    try:
        if target.exists():
            raise DiskError("backup", found=target, because="there is something of this name already")
        with being_made(target) as making:
            _copy_database(store.folder / DATABASE_NAME, making / DATABASE_NAME, progress)
            _copy_photos(store.folder / PHOTOS, making / PHOTOS)
            os.replace(making, target)
            sync_folder(target.parent)
    except OSError as error:
        raise DiskError("backup", found=f"{target}: {error.strerror or error}") from error
    except sqlite3.Error as error:
        raise DiskError("backup", found=str(error), because="the project file could not be copied") from error
    return target


def rotate(folder: Path, keep: int) -> None:
    """Remove the oldest copies of one folder of backups; those before a migration stay."""
    copies = sorted(path for path in folder.iterdir() if path.name.startswith("backup-"))
    for path in copies[: max(0, len(copies) - keep)]:
        shutil.rmtree(path, ignore_errors=True)


def backup_name(at: str) -> str:
    """The name of a copy made now."""
    return f"backup-{_stamp(at)}"


def _stamp(at: str) -> str:
    return at.replace(":", "").replace("-", "")


def _copy_database(source: Path, target: Path, progress: Callable[[int], None] | None) -> None:
    def told(status: int, remaining: int, total: int) -> None:
        if progress is not None:
            progress(remaining)

    with closing(sqlite3.connect(source)) as old, closing(sqlite3.connect(target)) as new:
        old.backup(new, pages=2000, progress=told)
        new.execute("PRAGMA journal_mode=WAL").fetchone()
        new.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()


def _copy_photos(source: Path, target: Path) -> None:
    for path in sorted(source.glob("*/*")) if source.is_dir() else ():
        if path.name.startswith("."):
            continue
        copy = target / path.parent.name / path.name
        copy.parent.mkdir(parents=True, exist_ok=True)
        try:
            # Photos never change once they are named by their digest, so that a link is a copy.
            os.link(path, copy)
        except OSError:
            shutil.copyfile(path, copy)
