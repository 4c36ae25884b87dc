"""Rows that no entry explains (sessions, pairing codes, versions): each carries its own digest."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from sqlalchemy import Connection, Table, select

from ribwright.core.record.canonical import digest_of
from ribwright.core.record.chain import Problem
from ribwright.store import schema


def sealed_row(table: Table, values: Mapping[str, Any]) -> dict[str, Any]:
    """The row with the digest of its values."""
    row = {name: values[name] for name in (column.name for column in table.columns) if name != "row_digest"}
    return row | {"row_digest": _digest(table, row)}


def check_sealed(connection: Connection, project: str) -> Iterator[Problem]:
    """Report each row whose values don't give its digest."""
    for table in schema.SEALED_TABLES:
        query = select(table)
        if "project" in table.c:
            query = query.where(table.c.project == project)
        for row in connection.execute(query).mappings():
            values = {name: value for name, value in row.items() if name != "row_digest"}
            if _digest(table, values) != row["row_digest"]:
                key = " ".join(str(row[column.name]) for column in table.primary_key)
                yield Problem(0, f"{table.name} {key}", "its values do not give its digest")


def _digest(table: Table, values: Mapping[str, Any]) -> str:
    return digest_of(
        {"table": table.name} | {name: f"{type(value).__name__} {value}" for name, value in values.items()}
    )
