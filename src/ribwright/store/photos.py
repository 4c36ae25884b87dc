"""Photos by digest: files in a project folder, rows in PostgreSQL.

The file and its folder are synced before the entry that names it is committed, so that an entry
never points at a photo that a power cut took.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from pathlib import Path

from sqlalchemy import select

from ribwright.core.record.chain import Problem
from ribwright.core.record.rows import Rows
from ribwright.errors import DiskError, UnknownNameError
from ribwright.store import schema
from ribwright.store.engine import Store, Transaction
from ribwright.store.faults import own_errors
from ribwright.store.files import sync_folder, write_durably

PHOTOS = "photos"

_table = schema.photo_file


def photo_path(folder: Path, digest: str) -> Path:
    """Where a photo lies; no name from outside ever becomes part of a path."""
    if len(digest) != 64 or not all(character in "0123456789abcdef" for character in digest):
        raise UnknownNameError("photo", found=digest, allowed="the mark that its entry has")
    return folder / PHOTOS / digest[:2] / digest


def digest_of_photo(content: bytes) -> str:
    """SHA-256, as 64 hex digits: the name of a photo."""
    return hashlib.sha256(content).hexdigest()


def keep_photo(store: Store, content: bytes, connection: Transaction | None = None) -> str:
    """Keep a photo for good; return its digest. Keeping it twice keeps it once.

    Where photos are rows, ``connection`` keeps it in a transaction that is already open.
    """
    digest = digest_of_photo(content)
    if store.folder is None:
        _keep_in_database(store, digest, content, connection)
        return digest
    if store.read_only:
        raise DiskError(store.where, found="a folder that can't be written")
    path = photo_path(store.folder, digest)
    with own_errors(str(path)):
        if path.is_file() and path.stat().st_size == len(content):
            return digest
        if not path.parent.is_dir():
            path.parent.mkdir(parents=True, exist_ok=True)
            sync_folder(path.parent.parent)
            sync_folder(store.folder)
        write_durably(path, content)
    return digest


def read_photo(store: Store, digest: str) -> bytes:
    """The bytes of a photo.

    Raises:
        UnknownNameError: there is none of this digest.
    """
    content: bytes | None = None
    if store.folder is not None:
        path = photo_path(store.folder, digest)
        with own_errors(str(path)):
            content = path.read_bytes() if path.is_file() else None
    else:
        with store.read() as connection:
            content = connection.execute(
                select(_table.c.content).where(_table.c.project == store.project, _table.c.digest == digest)
            ).scalar_one_or_none()
    if content is None:
        raise UnknownNameError("photo", found=digest[:80], mend="Restore it from a backup")
    return bytes(content)


def has_photo(store: Store, digest: str) -> bool:
    """Whether a photo of this digest is kept."""
    if store.folder is not None:
        return photo_path(store.folder, digest).is_file()
    with store.read() as connection:
        query = select(_table.c.digest).where(_table.c.project == store.project, _table.c.digest == digest)
        return connection.execute(query).first() is not None


def check_photos(store: Store, rows: Rows) -> Iterator[Problem]:
    """Every photo that an entry names must be there, and give its digest."""
    for row in rows.all("photo").values():
        for name in ("digest", "report", "thumb"):
            digest = str(row[name])
            if not digest:
                continue
            if not has_photo(store, digest):
                # An export leaves out an original that says where it was taken, or might.
                if not (name == "digest" and row["position"] == "yes"):
                    yield Problem(int(row["seq"]), f"photo {digest[:12]}", f"the {_said(name)} is missing")
            elif digest_of_photo(read_photo(store, digest)) != digest:
                yield Problem(int(row["seq"]), f"photo {digest[:12]}", f"the {_said(name)} was changed")


def _said(name: str) -> str:
    return {"digest": "photo", "report": "report copy", "thumb": "thumbnail"}[name]


def _keep_in_database(store: Store, digest: str, content: bytes, connection: Transaction | None) -> None:
    from sqlalchemy.dialects.postgresql import insert

    statement = insert(_table).on_conflict_do_nothing()
    row = {"project": store.project, "digest": digest, "content": content}
    if connection is not None:
        connection.execute(statement, row)
    elif not has_photo(store, digest):
        with store.write() as writing:
            writing.execute(statement, row)
