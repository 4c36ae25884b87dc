"""The tables. Entries are the truth; the projections are derived from their description in the core."""

from __future__ import annotations

from sqlalchemy import (
    BigInteger,
    Column,
    ForeignKeyConstraint,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    PrimaryKeyConstraint,
    Table,
    Text,
    UniqueConstraint,
)

from ribwright.core.record.tables import PROJECTIONS

metadata = MetaData()


def _text(name: str) -> Column[str]:
    return Column(name, Text, nullable=False)


def _number(name: str) -> Column[int]:
    return Column(name, BigInteger().with_variant(Integer, "sqlite"), nullable=False)


def _of_project(*columns: str) -> ForeignKeyConstraint:
    return ForeignKeyConstraint(["project"], ["project.project"])


schema_version = Table(
    "schema_version",
    metadata,
    Column("version", Integer, primary_key=True),
    _text("note"),
    _text("at"),
    _text("row_digest"),
)
"""One row a migration that was applied."""

project = Table(
    "project", metadata, Column("project", Text, primary_key=True), _text("name"), _text("made_at")
)

head = Table(
    "head",
    metadata,
    Column("project", Text, primary_key=True),
    _number("seq"),
    _text("digest"),
    _text("at"),
    _of_project(),
)
"""Where the chain ends. Locked while an entry is linked."""

entry = Table(
    "entry",
    metadata,
    _text("project"),
    _number("seq"),
    _text("request_id"),
    _text("kind"),
    _text("about"),
    _text("at"),
    _text("entered_by"),
    _text("role"),
    _number("corrects"),
    _text("digest"),
    _text("text"),
    PrimaryKeyConstraint("project", "seq"),
    UniqueConstraint("project", "request_id"),
    _of_project(),
)
"""``text`` is what is hashed; the other columns repeat it, so that entries can be found."""

Index("entry_about", entry.c.project, entry.c.about, entry.c.seq)
Index("entry_kind", entry.c.project, entry.c.kind, entry.c.seq)

projections: dict[str, Table] = {}
for _p in PROJECTIONS:
    projections[_p.name] = Table(
        _p.name,
        metadata,
        _text("project"),
        *(_text(name) for name in _p.texts),
        *(_number(name) for name in _p.numbers),
        PrimaryKeyConstraint("project", *_p.key),
        _of_project(),
    )
    for _column in _p.looked_up:
        _t = projections[_p.name]
        Index(f"{_p.name}_{_column}", _t.c.project, _t.c[_column])

_object = projections["object"]
Index("object_noun", _object.c.project, _object.c.noun, _object.c.ref)

device = Table(
    "device",
    metadata,
    _text("project"),
    _text("device"),
    _text("name"),
    _text("person"),
    _text("role"),
    _text("kind"),
    _text("token_digest"),
    _text("made_at"),
    _text("seen_at"),
    _text("expires_at"),
    _text("revoked_at"),
    _text("row_digest"),
    PrimaryKeyConstraint("project", "device"),
    UniqueConstraint("project", "token_digest"),
    _of_project(),
)
"""A paired phone or an invited person: one server-side session each, revoked one at a time."""

pairing = Table(
    "pairing",
    metadata,
    _text("project"),
    _text("code_digest"),
    _text("person"),
    _text("role"),
    _text("made_at"),
    _text("expires_at"),
    _text("used_at"),
    _text("row_digest"),
    PrimaryKeyConstraint("project", "code_digest"),
    _of_project(),
)
"""Codes that may be redeemed once."""

throttle = Table(
    "throttle",
    metadata,
    _text("project"),
    _text("source"),
    _number("failures"),
    _text("until"),
    _text("row_digest"),
    PrimaryKeyConstraint("project", "source"),
    _of_project(),
)
"""Wrong codes tried from one place, and until when it must wait."""

photo_file = Table(
    "photo_file",
    metadata,
    _text("project"),
    _text("digest"),
    Column("content", LargeBinary, nullable=False),
    PrimaryKeyConstraint("project", "digest"),
    _of_project(),
)
"""Photos by digest, where a project has no folder (PostgreSQL). Empty in a project folder."""

SEALED_TABLES = (schema_version, device, pairing, throttle)
"""No projections: each row carries the digest of its own values, so that a changed one is found."""
