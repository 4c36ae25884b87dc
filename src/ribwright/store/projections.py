"""Projections in the database: the rows that a fold asks for, writing what it changed, comparing."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from sqlalchemy import Connection, bindparam, delete, select

from ribwright.core.record.chain import Problem
from ribwright.core.record.entry import Entry
from ribwright.core.record.rows import Key, Projection, Row, Rows
from ribwright.core.record.tables import PROJECTIONS
from ribwright.store import chain, schema, search


class _Stored:
    """Rows from the database, for a fold."""

    def __init__(self, connection: Connection, project: str) -> None:
        self._connection = connection
        self._project = project

    def one(self, table: Projection, key: Key) -> Row | None:
        row = (
            self._connection.execute(_ONE[table.name], _named(self._project, table, key))
            .mappings()
            .one_or_none()
        )
        return None if row is None else dict(row)

    def many(self, table: Projection, column: str, value: str | int) -> list[Row]:
        rows = self._connection.execute(
            _MANY[table.name, column], {"project": self._project, "value": value}
        ).mappings()
        return [dict(row) for row in rows]

    def entry(self, seq: int) -> Entry | None:
        return chain.by_seq(self._connection, self._project, seq)


def _named(project: str, table: Projection, key: Key) -> dict[str, str | int]:
    named: dict[str, str | int] = dict(zip(table.key, key, strict=True))
    return named | {"project": project}


def _columns(table: Projection) -> list[Any]:
    stored = schema.projections[table.name]
    return [stored.c[name] for name in table.columns]


def _whose(table: Projection) -> Any:
    return schema.projections[table.name].c.project == bindparam("project")


_ONE = {
    table.name: select(*_columns(table)).where(
        _whose(table), *(schema.projections[table.name].c[name] == bindparam(name) for name in table.key)
    )
    for table in PROJECTIONS
}
_MANY = {
    (table.name, column): select(*_columns(table)).where(
        _whose(table), schema.projections[table.name].c[column] == bindparam("value")
    )
    for table in PROJECTIONS
    for column in table.looked_up
}
_ALL = {table.name: select(*_columns(table)).where(_whose(table)) for table in PROJECTIONS}


def rows_of(connection: Connection, project: str, *, whole: bool = False, photos: bool = False) -> Rows:
    """The projections of a project, ready for a fold.

    Args:
        connection: inside a transaction.
        project: whose.
        whole: read the breakdown in at once; worth it when many entries follow.
        photos: read in what is kept of every photo.
    """
    rows = Rows(PROJECTIONS, _Stored(connection, project))
    names = ("object", "revision", "link", "signature", "discrepancy") if whole else ()
    for name in (*names, "photo") if photos else names:
        stored = connection.execute(_ALL[name], {"project": project}).mappings()
        rows.load(name, (dict(row) for row in stored), complete=True)
    return rows


def flush(connection: Connection, project: str, rows: Rows) -> None:
    """Write what a fold has changed."""
    for table in PROJECTIONS:
        keys = rows.changed[table.name]
        if not keys:
            continue
        stored = schema.projections[table.name]
        old = [key for key in keys if (table.name, key) in rows.stored]
        if table.name == "words":
            search.forget(connection, project, [int(key[0]) for key in old])
        if old:
            statement = delete(stored).where(
                _whose(table), *(stored.c[name] == bindparam(name) for name in table.key)
            )
            connection.execute(statement, [_named(project, table, key) for key in old])
        new = [row | {"project": project} for key in keys if (row := rows.get(table.name, *key)) is not None]
        if new:
            connection.execute(stored.insert(), new)
            if table.name == "words":
                search.learn(connection, new)


def compare(connection: Connection, project: str, rows: Rows) -> Iterator[Problem]:
    """Compare every stored projection with the rows rebuilt from the entries."""
    for table in PROJECTIONS:
        stored = connection.execute(
            _ALL[table.name], {"project": project}, execution_options={"yield_per": 5000}
        )
        expected = rows.all(table.name)
        names, key_at = table.columns, [table.columns.index(name) for name in table.key]
        seen = 0
        for row in stored:
            key = tuple(row[at] for at in key_at)
            right = expected.get(key)
            if right is None:
                yield Problem(0, f"{table.name} {_said(key)}", "this row comes from no entry")
                continue
            seen += 1
            wrong = [
                name
                for name, value in zip(names, row, strict=True)
                # 0 and 0.0 are equal, and not the same in the file.
                if value != right[name] or type(value) is not type(right[name])
            ]
            if wrong:
                name = wrong[0]
                yield Problem(
                    _seq(right),
                    f"{table.name} {_said(key)}",
                    f"{', '.join(wrong)}: stored {_short(row[names.index(name)])}, "
                    f"by the entries {_short(right[name])}",
                )
        if seen != len(expected):
            there = {
                tuple(row[at] for at in key_at)
                for row in connection.execute(_ALL[table.name], {"project": project})
            }
            for key, right in expected.items():
                if key not in there:
                    yield Problem(_seq(right), f"{table.name} {_said(key)}", "this row is missing")


def _seq(row: Row) -> int:
    seq = row.get("seq", 0)
    return seq if isinstance(seq, int) else 0


def _said(key: Key) -> str:
    return " ".join(str(part) for part in key)


def _short(value: object) -> str:
    text = repr(value)
    return text if len(text) <= 80 else text[:77] + "…"
