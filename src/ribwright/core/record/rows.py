"""Rows of the projections, in memory, asked of the database only when they aren't there yet.

One fold serves two uses: rebuilding everything from the entries (nothing to ask), and adding one
entry to a project that already stands in a database (``fetch`` brings the few rows it touches).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Protocol

from ribwright.core.record.entry import Entry

Row = dict[str, str | int]
Key = tuple[str | int, ...]


@dataclass(frozen=True, slots=True)
class Projection:
    """One table that is folded from the entries.

    Attributes:
        name: of the table.
        key: the columns that name a row.
        texts: columns of text (never null).
        numbers: columns of whole numbers (places in the chain, counts, flags).
        looked_up: columns by which the fold finds rows.
    """

    name: str
    key: tuple[str, ...]
    texts: tuple[str, ...]
    numbers: tuple[str, ...] = ()
    looked_up: tuple[str, ...] = ()

    @property
    def columns(self) -> tuple[str, ...]:
        """All columns, texts first."""
        return self.texts + self.numbers

    def row(self, **values: str | int) -> Row:
        """A full row; what isn't given is "" or 0."""
        row: Row = dict.fromkeys(self.texts, "")
        row.update(dict.fromkeys(self.numbers, 0))
        row.update(values)
        return row


class Fetch(Protocol):
    """Where rows come from that aren't in memory."""

    def one(self, table: Projection, key: Key) -> Row | None: ...
    def many(self, table: Projection, column: str, value: str | int) -> list[Row]: ...
    def entry(self, seq: int) -> Entry | None: ...


class Rows:
    """Tables of rows, with what was changed since they were read."""

    def __init__(self, tables: Iterable[Projection], fetch: Fetch | None = None) -> None:
        self.tables = {table.name: table for table in tables}
        self.fetch = fetch
        self._rows: dict[str, dict[Key, Row | None]] = {name: {} for name in self.tables}
        self._index: dict[tuple[str, str], dict[str | int, set[Key]]] = {
            (table.name, column): {} for table in self.tables.values() for column in table.looked_up
        }
        self._asked: set[tuple[str, str, str | int]] = set()
        self._entries: dict[int, Entry] = {}
        self._complete: set[str] = set()
        self.stored: set[tuple[str, Key]] = set()
        self.changed: dict[str, dict[Key, None]] = {name: {} for name in self.tables}

    def get(self, name: str, *key: str | int) -> Row | None:
        """The row of this key, or None."""
        rows = self._rows[name]
        if key in rows:
            return rows[key]
        if self.fetch is None or name in self._complete:
            return None
        row = self.fetch.one(self.tables[name], key)
        self._learn(name, key, row)
        return row

    def where(self, name: str, column: str, value: str | int) -> list[Row]:
        """The rows whose looked-up column has this value, in the order of their keys."""
        if self.fetch is not None and name not in self._complete and (name, column, value) not in self._asked:
            self._asked.add((name, column, value))
            self.load(name, self.fetch.many(self.tables[name], column, value))
        keys = self._index[name, column].get(value, ())
        rows = self._rows[name]
        return [row for key in sorted(keys) if (row := rows[key]) is not None]

    def put(self, name: str, row: Row) -> None:
        """Add a row, or put it in the place of the one of its key."""
        key = tuple(row[part] for part in self.tables[name].key)
        self.get(name, *key)  # so that it is known whether the database holds one already
        self.add(name, row)

    def add(self, name: str, row: Row) -> None:
        """Add a row whose key the database can't hold yet (its place in the chain is new)."""
        key = tuple(row[part] for part in self.tables[name].key)
        self._unindex(name, key, self._rows[name].get(key))
        self._rows[name][key] = row
        self._reindex(name, key, row)
        self.changed[name][key] = None

    def change(self, name: str, row: Row, **values: str | int) -> None:
        """Put a row back with some values changed."""
        self.put(name, row | values)

    def drop(self, name: str, *key: str | int) -> None:
        """Take a row away, if it is there."""
        old = self.get(name, *key)
        if old is not None:
            self._unindex(name, key, old)
            self._rows[name][key] = None
            self.changed[name][key] = None

    def load(self, name: str, rows: Iterable[Row], *, complete: bool = False) -> None:
        """Take in stored rows; ``complete`` when they are all there are, so that none is asked for."""
        table = self.tables[name]
        for row in rows:
            key = tuple(row[part] for part in table.key)
            if key not in self._rows[name]:
                self._learn(name, key, row)
        if complete:
            self._complete.add(name)

    def remember(self, entry: Entry) -> None:
        """Keep an entry for a later undo or correction."""
        self._entries[entry.seq] = entry

    def entry(self, seq: int) -> Entry | None:
        """An earlier entry, by its place in the chain."""
        if seq in self._entries or self.fetch is None:
            return self._entries.get(seq)
        entry = self.fetch.entry(seq)
        if entry is not None:
            self._entries[seq] = entry
        return entry

    def all(self, name: str) -> dict[Key, Row]:
        """Every row in memory, by key."""
        return {key: row for key, row in self._rows[name].items() if row is not None}

    def _learn(self, name: str, key: Key, row: Row | None) -> None:
        self._rows[name][key] = row
        if row is not None:
            self.stored.add((name, key))
            self._reindex(name, key, row)

    def _reindex(self, name: str, key: Key, row: Row) -> None:
        for column in self.tables[name].looked_up:
            self._index[name, column].setdefault(row[column], set()).add(key)

    def _unindex(self, name: str, key: Key, row: Row | None) -> None:
        if row is not None:
            for column in self.tables[name].looked_up:
                self._index[name, column].get(row[column], set()).discard(key)
