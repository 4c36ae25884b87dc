"""What came into the record lately: for pages that stay open while somebody else enters."""

from __future__ import annotations

from dataclasses import dataclass

from ribwright.core.record.entry import Entry
from ribwright.services.project import Project
from ribwright.store import chain

AT_MOST = 200


@dataclass(frozen=True, slots=True)
class Moved:
    """What came about one object since a page was made.

    Attributes:
        ref: of the object.
        seq: the newest entry.
        kinds: kinds of the entries, each once, in order.
        by: who entered them, each once.
    """

    ref: str
    seq: int
    kinds: tuple[str, ...]
    by: tuple[str, ...]


def head(project: Project) -> int:
    """Number of the newest entry."""
    with project.store.read() as connection:
        return chain.head_of(connection, project.id)[0]


def moved_since(project: Project, seq: int) -> dict[str, Moved]:
    """By reference, what came after this entry; of very much only the newest ``AT_MOST`` entries are looked at."""
    made: dict[str, list[Entry]] = {}
    for entry in entries_since(project, seq):
        made.setdefault(entry.about, []).append(entry)
    return {
        ref: Moved(
            ref,
            some[-1].seq,
            tuple(dict.fromkeys(one.kind for one in some)),
            tuple(dict.fromkeys(one.by for one in some)),
        )
        for ref, some in made.items()
    }


def entries_since(project: Project, seq: int) -> list[Entry]:
    """The entries after this one, oldest first; at most the newest ``AT_MOST``."""
    with project.store.read() as connection:
        newest = chain.newest(connection, project.id, limit=AT_MOST)
    return [entry for entry in reversed(newest) if entry.seq > seq]
