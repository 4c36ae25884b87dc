"""Entries in the database: adding to the chain, and reading it back."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from sqlalchemy import Connection, Row, and_, bindparam, select

from ribwright.core.record.canonical import JsonValue
from ribwright.core.record.entry import GENESIS, Entry, make_entry, read_entry
from ribwright.errors import FormatError, NoProjectError, RecordTamperedError
from ribwright.store import schema

_entry = schema.entry
_HEAD = select(schema.head.c.seq, schema.head.c.digest).where(schema.head.c.project == bindparam("project"))
"""Written once: every page asks for it several times, and putting it together costs as much as asking."""
_NEWEST_OF = (
    select(_entry.c.seq, _entry.c.digest)
    .where(_entry.c.project == bindparam("project"), _entry.c.kind == bindparam("kind"))
    .order_by(_entry.c.seq.desc())
    .limit(1)
)


class Linker:
    """Links new entries to the end of a chain whose head it holds locked.

    Args:
        connection: inside a transaction that writes.
        project: whose chain.

    Raises:
        NoProjectError: the database has no such project.
    """

    def __init__(self, connection: Connection, project: str) -> None:
        self._connection = connection
        self._project = project
        head = schema.head
        row = connection.execute(
            select(head.c.seq, head.c.digest, head.c.at).where(head.c.project == project).with_for_update()
        ).one_or_none()
        if row is None:
            raise NoProjectError("project", found=project)
        self.seq: int = row.seq
        self.digest: str = row.digest
        self.at: str = row.at
        self._waiting: list[dict[str, Any]] = []

    def link(
        self,
        *,
        request_id: str,
        kind: str,
        about: str,
        at: str,
        by: str,
        role: str,
        body: Mapping[str, JsonValue],
        corrects: int | None,
    ) -> tuple[Entry, str]:
        """Make the next entry.

        Returns:
            The entry, and when the one before was made.
        """
        entry, text = make_entry(
            project=self._project,
            seq=self.seq + 1,
            request_id=request_id,
            kind=kind,
            about=about,
            at=at,
            by=by,
            role=role,
            body=body,
            corrects=corrects,
            previous=self.digest,
        )
        return entry, self.take(entry, text)

    def take(self, entry: Entry, text: str) -> str:
        """Take an entry that was made elsewhere (an import); return when the one before was made."""
        self._waiting.append(columns_of(entry, text))
        before, self.seq, self.digest, self.at = self.at, entry.seq, entry.digest, entry.at
        return before

    def finish(self) -> None:
        """Write the entries and the new head."""
        if self._waiting:
            self._connection.execute(_entry.insert(), self._waiting)
            head = schema.head
            self._connection.execute(
                head.update()
                .where(head.c.project == self._project)
                .values(seq=self.seq, digest=self.digest, at=self.at)
            )
            self._waiting = []


def start_chain(connection: Connection, project: str, name: str, at: str) -> None:
    """A project with an empty chain."""
    connection.execute(schema.project.insert(), {"project": project, "name": name, "made_at": at})
    connection.execute(schema.head.insert(), {"project": project, "seq": 0, "digest": GENESIS, "at": ""})


def project_row(connection: Connection, project: str) -> tuple[str, str, str] | None:
    """(id, name, made at) of a project; with "" of the only one in a project folder."""
    table = schema.project
    query = select(table.c.project, table.c.name, table.c.made_at)
    if project:
        query = query.where(table.c.project == project)
    row = connection.execute(query.limit(1)).one_or_none()
    return None if row is None else (row.project, row.name, row.made_at)


def columns_of(entry: Entry, text: str) -> dict[str, Any]:
    """The stored row of an entry: its text, and the columns that repeat it."""
    return {
        "project": entry.project,
        "seq": entry.seq,
        "request_id": entry.request_id,
        "kind": entry.kind,
        "about": entry.about,
        "at": entry.at,
        "entered_by": entry.by,
        "role": entry.role,
        "corrects": entry.corrects or 0,
        "digest": entry.digest,
        "text": text,
    }


def by_request(connection: Connection, project: str, request_id: str) -> tuple[Entry, ...]:
    """The entries that this request made; none when it is new."""
    first = connection.execute(
        select(_entry.c.seq, _entry.c.text).where(
            _entry.c.project == project, _entry.c.request_id == request_id
        )
    ).one_or_none()
    if first is None:
        return ()
    rest = connection.execute(
        select(_entry.c.text)
        .where(
            _entry.c.project == project,
            # Ids of a batch are "id#1", "id#2" …; "$" is the character after "#".
            and_(_entry.c.request_id > request_id + "#", _entry.c.request_id < request_id + "$"),
        )
        .order_by(_entry.c.seq)
    )
    return (_read(first.text), *(_read(row.text) for row in rest))


def by_seq(connection: Connection, project: str, seq: int) -> Entry | None:
    """One entry by its place."""
    text = connection.execute(
        select(_entry.c.text).where(_entry.c.project == project, _entry.c.seq == seq)
    ).scalar_one_or_none()
    return None if text is None else _read(text)


def about(
    connection: Connection, project: str, refs: Sequence[str], *, kinds: Sequence[str] = ()
) -> list[Entry]:
    """The entries about some objects, in the order of the chain; of some kinds."""
    query = select(_entry.c.text).where(_entry.c.project == project, _entry.c.about.in_(refs))
    if kinds:
        query = query.where(_entry.c.kind.in_(kinds))
    return [_read(row.text) for row in connection.execute(query.order_by(_entry.c.seq))]


def moments(connection: Connection, project: str, refs: Sequence[str]) -> dict[int, str]:
    """When each entry about some objects was made, without reading what it says."""
    rows = connection.execute(
        select(_entry.c.seq, _entry.c.at).where(_entry.c.project == project, _entry.c.about.in_(refs))
    )
    return {row.seq: row.at for row in rows}


def newest(
    connection: Connection, project: str, *, kinds: Sequence[str] = (), before: int = 0, limit: int = 50
) -> list[Entry]:
    """The newest entries, newest first; of some kinds, and from before a place in the chain."""
    query = select(_entry.c.text).where(_entry.c.project == project)
    if kinds:
        query = query.where(_entry.c.kind.in_(kinds))
    if before:
        query = query.where(_entry.c.seq < before)
    return [_read(row.text) for row in connection.execute(query.order_by(_entry.c.seq.desc()).limit(limit))]


def newest_of(connection: Connection, project: str, kinds: Sequence[str]) -> tuple[int, str]:
    """Number and digest of the newest entry of these kinds; 0 and nothing where there is none."""
    newest = (0, "")
    for kind in kinds:  # one look into the index for each
        row = connection.execute(_NEWEST_OF, {"project": project, "kind": kind}).one_or_none()
        newest = max(newest, (row.seq, row.digest) if row is not None else newest)
    return newest


def about_since(connection: Connection, project: str, kinds: Sequence[str], seq: int) -> set[str]:
    """What the entries of these kinds after a place in the chain are about."""
    rows = connection.execute(
        select(_entry.c.about)
        .where(_entry.c.project == project, _entry.c.kind.in_(kinds), _entry.c.seq > seq)
        .distinct()
    )
    return {row.about for row in rows}


def digest_at(connection: Connection, project: str, seq: int) -> str:
    """Digest of the entry at a place in the chain; nothing where there is none."""
    found = connection.execute(
        select(_entry.c.digest).where(_entry.c.project == project, _entry.c.seq == seq)
    ).scalar_one_or_none()
    return found or ""


def head_of(connection: Connection, project: str) -> tuple[int, str]:
    """How many entries there are, and the digest of the last."""
    row = connection.execute(_HEAD, {"project": project}).one_or_none()
    if row is None:
        raise NoProjectError("project", found=project)
    return row.seq, row.digest


def every_row(connection: Connection, project: str) -> Iterator[Row[Any]]:
    """Every stored entry in order, for a check or an export."""
    yield from connection.execute(
        select(_entry).where(_entry.c.project == project).order_by(_entry.c.seq),
        execution_options={"yield_per": 5000},
    )


def _read(text: str) -> Entry:
    try:
        return read_entry(text, canonical=False)
    except FormatError as error:
        raise RecordTamperedError(
            "record", found=error.found, mend="See what differs: ribwright record check"
        ) from error
