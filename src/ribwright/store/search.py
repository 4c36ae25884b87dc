"""Search: all words, the last as the beginning of one, newest first.

SQLite's FTS5 and PostgreSQL's tsvector index the same words (``core.record.words``), so they give
the same set. Nothing is ranked: to rank a million notes takes a second, and the newest is wanted.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy import Connection, text

from ribwright.core.record.words import words_in

_FTS = text(
    "SELECT e.text FROM words_index i JOIN entry e ON e.project = :project AND e.seq = i.rowid "
    "WHERE words_index MATCH :words AND i.rowid < :before ORDER BY i.rowid DESC LIMIT :limit"
)
_TSVECTOR = text(
    "SELECT e.text FROM words w JOIN entry e ON e.project = w.project AND e.seq = w.seq "
    "WHERE w.project = :project AND w.seq < :before AND ribwright_words(w.words) @@ CAST(:words AS tsquery) "
    "ORDER BY w.seq DESC LIMIT :limit"
)
_END = 2**62


def find(connection: Connection, project: str, typed: str, *, limit: int, before: int = 0) -> list[str]:
    """Texts of the entries that hold all words typed, newest first.

    Args:
        connection: inside a transaction.
        project: whose entries.
        typed: as somebody types it; the last word may be unfinished.
        limit: at most so many.
        before: only entries before this place (the next page), or 0.
    """
    words = list(dict.fromkeys(words_in(typed)))
    if not words:
        return []
    last = words_in(typed)[-1]
    if connection.dialect.name == "sqlite":
        whole = [f'"{word}"' for word in words if word != last]
        query, statement = " AND ".join([*whole, f'"{last}"*']), _FTS
    else:
        whole = [f"'{word}'" for word in words if word != last]
        query, statement = " & ".join([*whole, f"'{last}':*"]), _TSVECTOR
    rows = connection.execute(
        statement, {"project": project, "words": query, "limit": limit, "before": before or _END}
    )
    return [row.text for row in rows]


def learn(connection: Connection, rows: Sequence[Mapping[str, Any]]) -> None:
    """Bring new words into the index (PostgreSQL does so by itself)."""
    if connection.dialect.name == "sqlite":
        connection.execute(text("INSERT INTO words_index(rowid, words) VALUES (:seq, :words)"), list(rows))


def forget(connection: Connection, project: str, seqs: Sequence[int]) -> None:
    """Take words out of the index before their rows are replaced."""
    if connection.dialect.name == "sqlite" and seqs:
        connection.execute(
            text(
                "INSERT INTO words_index(words_index, rowid, words) "
                "SELECT 'delete', seq, words FROM words WHERE project = :project AND seq = :seq"
            ),
            [{"project": project, "seq": seq} for seq in seqs],
        )
