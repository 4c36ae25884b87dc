"""Sessions, pairing codes and throttles: rows that no entry explains, each sealed by its own digest."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy import Connection, Table, and_, delete, select

from ribwright.store import schema
from ribwright.store.sealed import sealed_row

Row = dict[str, Any]


def find(connection: Connection, table: Table, project: str, **where: str) -> Row | None:
    """The one row of these values, or None. Locked, where the database locks rows."""
    query = select(table).where(
        table.c.project == project, *(table.c[name] == value for name, value in where.items())
    )
    row = connection.execute(query.with_for_update()).mappings().one_or_none()
    return None if row is None else dict(row)


def seen(connection: Connection, project: str, token_digest: str) -> Row | None:
    """The device of a token, or None; nothing is locked."""
    table = schema.device
    query = select(table).where(table.c.project == project, table.c.token_digest == token_digest)
    row = connection.execute(query).mappings().one_or_none()
    return None if row is None else dict(row)


def every_device(connection: Connection, project: str) -> list[Row]:
    """All devices, the newest first."""
    table = schema.device
    query = select(table).where(table.c.project == project).order_by(table.c.made_at.desc(), table.c.device)
    return [dict(row) for row in connection.execute(query).mappings()]


def put(connection: Connection, table: Table, values: Mapping[str, Any]) -> None:
    """Add a row, or put it in the place of the one of its key."""
    row = sealed_row(table, values)
    key = and_(*(column == row[column.name] for column in table.primary_key))
    connection.execute(delete(table).where(key))
    connection.execute(table.insert(), row)


def forget_old_codes(connection: Connection, project: str, before: str) -> None:
    """Remove codes that ran out before this time, and throttles that ended."""
    pairing, throttle = schema.pairing, schema.throttle
    connection.execute(delete(pairing).where(pairing.c.project == project, pairing.c.expires_at < before))
    ended = (throttle.c.until != "", throttle.c.until < before)
    connection.execute(delete(throttle).where(throttle.c.project == project, *ended))
