"""What an adviser reads over many projects of one PostgreSQL database, in one statement each.

Which projects these are is decided by the database from the builders' own entries (row policies).
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy import Connection, func, select, text

from ribwright.errors import StoreError
from ribwright.store import schema
from ribwright.store.engine import Store

_question = schema.projections["question"]
_finding = schema.projections["finding"]
_object = schema.projections["object"]


@contextmanager
def as_adviser(store: Store, ref: str) -> Iterator[Connection]:
    """A transaction that reads what the builders let this adviser read, and of no project more.

    Args:
        store: of a PostgreSQL database, on no project.
        ref: of the builders' entry about him.

    Raises:
        StoreError: not PostgreSQL.
    """
    if store.dialect != "postgresql":
        raise StoreError("--database", found=store.where, allowed="postgresql://user@host/name")
    with store.read() as connection:
        connection.execute(text("SELECT set_config('ribwright.adviser', :ref, true)"), {"ref": ref})
        yield connection


@contextmanager
def as_owner(store: Store) -> Iterator[Connection]:
    """A transaction that writes what belongs to no project; the database refuses a login that does not own it."""
    if store.dialect != "postgresql":
        raise StoreError("--database", found=store.where, allowed="postgresql://user@host/name")
    with store.write() as connection:
        yield connection


def invited(connection: Connection, ref: str) -> list[tuple[str, str, str]]:
    """Project, its name and what was entered about the adviser, of every project that invited him."""
    project = schema.project
    rows = connection.execute(
        select(project.c.project, project.c.name, _object.c.data)
        .join(_object, _object.c.project == project.c.project)
        .where(_object.c.noun == "setting", _object.c.ref == ref)
        .order_by(project.c.name, project.c.project)
    )
    return [(row[0], row[1], row[2]) for row in rows]


def open_questions(
    connection: Connection, *, limit: int
) -> list[tuple[str, str, int, str, str, str, str, str]]:
    """Questions without an answer, the oldest first: project, its name, number, about, discrepancy, words, who, when."""
    project, entry = schema.project, schema.entry
    rows = connection.execute(
        select(
            project.c.project, project.c.name, _question.c.seq, _question.c.about, _question.c.discrepancy,
            _question.c.words, _question.c.asked_by, entry.c.at,
        )
        .join(_question, _question.c.project == project.c.project)
        .join(entry, (entry.c.project == _question.c.project) & (entry.c.seq == _question.c.seq))
        .where(_question.c.answer_seq == 0)
        .order_by(entry.c.at, project.c.project, _question.c.seq)
        .limit(limit)
    )  # fmt: skip
    return [(r[0], r[1], r[2], r[3], r[4], r[5], r[6], r[7]) for r in rows]


def findings_together(connection: Connection) -> list[tuple[str, str, int, int]]:
    """Requirement, verdict, how many findings, in how many projects; of those that share."""
    rows = connection.execute(
        select(
            _finding.c.requirement,
            _finding.c.verdict,
            func.count(),
            func.count(_finding.c.project.distinct()),
        )
        .group_by(_finding.c.requirement, _finding.c.verdict)
        .order_by(_finding.c.requirement, _finding.c.verdict)
    )
    return [(row[0], row[1], row[2], row[3]) for row in rows]


def put_key(connection: Connection, *, digest: str, adviser: str, at: str) -> None:
    """Note the digest of an adviser's new key; only the database's owner may."""
    connection.execute(
        text("INSERT INTO adviser_key VALUES (:digest, :adviser, :at, '')"),
        {"digest": digest, "adviser": adviser, "at": at},
    )


def end_keys(connection: Connection, *, adviser: str, at: str) -> int:
    """End every key of an adviser that is still good; how many these were."""
    return connection.execute(
        text("UPDATE adviser_key SET ended_at = :at WHERE adviser = :adviser AND ended_at = ''"),
        {"adviser": adviser, "at": at},
    ).rowcount


def holder(connection: Connection, digest: str) -> str | None:
    """Whose good key this is."""
    found: str | None = connection.execute(
        text("SELECT adviser FROM adviser_key WHERE key_digest = :digest AND ended_at = ''"),
        {"digest": digest},
    ).scalar()
    return found
