"""The record: looking up. (``entering`` makes the entries, ``amending`` takes back, puts right, signs and decides.)"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from ribwright.core.record.entry import Entry, check_kind, check_ref, read_entry
from ribwright.errors import OutOfRangeError, UnknownNameError
from ribwright.services.entering import NewEntry, add_entries, add_entry, new_object, set_object
from ribwright.services.project import Actor, Project
from ribwright.services.remembered import until_the_breakdown_moves
from ribwright.services.seals import CheckReport, check, seal, sign_seal
from ribwright.store import chain
from ribwright.store import objects as stored_objects
from ribwright.store import search as stored_search
from ribwright.store.engine import Transaction
from ribwright.store.objects import StoredObject

__all__ = [
    "Actor",
    "CheckReport",
    "Entry",
    "HistoryLine",
    "NewEntry",
    "StoredObject",
    "add_entries",
    "add_entry",
    "check",
    "count_below",
    "count_objects",
    "discrepancies",
    "findings",
    "get_entry",
    "get_object",
    "history",
    "hours",
    "made_from_this",
    "materials",
    "new_object",
    "objects",
    "objects_of",
    "photos",
    "questions",
    "readings",
    "recent",
    "revisions",
    "seal",
    "search",
    "set_object",
    "sign_seal",
    "signatures",
    "work",
]


def get_object(project: Project, ref: str) -> StoredObject:
    """The object of this reference.

    Raises:
        UnknownNameError: there is none.
    """
    wanted = unicodedata.normalize("NFC", check_ref(ref))
    with project.store.read() as connection:
        found = stored_objects.one(connection, project.id, wanted)
    if found is None:
        raise UnknownNameError(
            "reference", found=ref, mend="Look it up under Airframe, or: ribwright record search"
        )
    return found


@until_the_breakdown_moves
def objects(
    project: Project,
    *,
    noun: str | None = None,
    parent: str | None = None,
    withdrawn: bool = False,
    outdated: bool | None = None,
    after: str = "",
    limit: int | None = None,
) -> tuple[StoredObject, ...]:
    """Objects in the order of their references.

    Args:
        project: an open project.
        noun: only of this kind.
        parent: only directly below this one.
        withdrawn: the withdrawn ones too.
        outdated: only those (not) made to an earlier revision.
        after: only references after this one (the next page).
        limit: at most so many.
    """
    with project.store.read() as connection:
        return stored_objects.some(
            connection,
            project.id,
            noun=noun,
            parent=parent,
            withdrawn=withdrawn,
            outdated=outdated,
            after=after,
            limit=limit,
        )


def objects_of(project: Project, refs: Iterable[str]) -> dict[str, StoredObject]:
    """Objects that stand, by these references and in their order; what they were made from is not read."""
    wanted = list(dict.fromkeys(refs))
    with project.store.read() as connection:
        found = {one.ref: one for one in stored_objects.each(connection, project.id, (), refs=wanted)}
    return {ref: found[ref] for ref in wanted if ref in found}


@dataclass(frozen=True, slots=True)
class HistoryLine:
    """One entry in the story of an object.

    Attributes:
        entry: as it was made.
        undone_by: the entry that took it back, or 0.
        corrected_by: the entry that stands in its place, or 0.
        clock_back: the clock of the machine had gone back; the order is that of the chain.
    """

    entry: Entry
    undone_by: int = 0
    corrected_by: int = 0
    clock_back: bool = False

    @property
    def stands(self) -> bool:
        """Neither taken back nor corrected."""
        return not (self.undone_by or self.corrected_by)


def history(project: Project, about: str) -> tuple[HistoryLine, ...]:
    """The story of one object, oldest first."""
    wanted = unicodedata.normalize("NFC", check_ref(about, "about"))
    with project.store.read() as connection:
        return _lines(connection, project, chain.about(connection, project.id, [wanted]))


def recent(
    project: Project, *, kinds: Sequence[str] = (), before: int = 0, limit: int = 50
) -> tuple[HistoryLine, ...]:
    """The newest entries, newest first; ``before`` gives the next page."""
    for kind in kinds:
        check_kind(kind)
    with project.store.read() as connection:
        return _lines(
            connection, project, chain.newest(connection, project.id, kinds=kinds, before=before, limit=limit)
        )


def get_entry(project: Project, seq: int) -> HistoryLine:
    """One entry by its number.

    Raises:
        UnknownNameError: there is none.
    """
    with project.store.read() as connection:
        entry = chain.by_seq(connection, project.id, seq) if 0 < seq < 2**62 else None
        if entry is None:
            raise UnknownNameError("entry", found=seq, allowed="the number of an entry")
        return _lines(connection, project, [entry])[0]


def search(project: Project, words: str, limit: int = 50, *, before: int = 0) -> tuple[Entry, ...]:
    """Entries that hold all words, newest first; the last word may be unfinished.

    Args:
        project: an open project.
        words: as typed.
        limit: at most so many.
        before: only entries before this number (the next page).
    """
    if not 1 <= limit <= 1000:
        raise OutOfRangeError("limit", found=limit, allowed="1 to 1000")
    with project.store.read() as connection:
        texts = stored_search.find(connection, project.id, words, limit=limit, before=before)
    return tuple(read_entry(text, canonical=False) for text in texts)


def _lines(connection: Transaction, project: Project, entries: Sequence[Entry]) -> tuple[HistoryLine, ...]:
    standing: dict[int, dict[str, int]] = {}
    for start in range(0, len(entries), 500):
        seqs = [entry.seq for entry in entries[start : start + 500]]
        standing |= stored_objects.standing(connection, project.id, seqs)
    plain = {"undone_by": 0, "corrected_by": 0, "clock_back": 0}
    lines = []
    for entry in entries:
        row = standing.get(entry.seq, plain)
        lines.append(HistoryLine(entry, row["undone_by"], row["corrected_by"], bool(row["clock_back"])))
    return tuple(lines)


def revisions(project: Project, ref: str) -> tuple[StoredObject, ...]:
    """Every revision of an object that still stands, oldest first, each as it was.

    The form of an old page and the one that came since are compared with it.
    """
    found = []
    with project.store.read() as connection:
        now = stored_objects.one(connection, project.id, ref)
        for row in stored_objects.revisions(connection, project.id, ref):
            entry = None if row["undone"] else chain.by_seq(connection, project.id, row["seq"])
            if entry is not None and now is not None:
                found.append(stored_objects.as_entered(entry, row["digest"], now))
    return tuple(found)


def made_from_this(project: Project, ref: str) -> tuple[tuple[str, str, bool], ...]:
    """What was made from an object: (reference, digest of this object then, whether it moved since)."""
    with project.store.read() as connection:
        return tuple(stored_objects.links_from(connection, project.id, ref))


@until_the_breakdown_moves
def count_below(project: Project, noun: str) -> dict[str, int]:
    """How many objects of a noun stand directly below each other one, by its reference."""
    with project.store.read() as connection:
        return stored_objects.count_below(connection, project.id, noun)


def count_objects(project: Project) -> dict[str, int]:
    """How many objects of each noun stand."""
    with project.store.read() as connection:
        return stored_objects.count(connection, project.id)


Record = dict[str, Any]


def _rows(
    project: Project, table: str, about: str | Sequence[str] | None, **where: str | int
) -> tuple[Record, ...]:
    refs = [about] if isinstance(about, str) else about
    with project.store.read() as connection:
        return tuple(stored_objects.rows_about(connection, project.id, table, about=refs, **where))


def work(project: Project, about: str | Sequence[str] | None = None) -> tuple[Record, ...]:
    """Work done on these objects (all without any): stage, hours, person, worked_as, day, started, ended, seq."""
    return _rows(project, "work", about)


def hours(project: Project, about: str | Sequence[str] | None = None) -> Decimal:
    """Hours of work that stand, added exactly."""
    return sum((Decimal(row["hours"]) for row in work(project, about)), Decimal(0))


def readings(project: Project, about: str | Sequence[str] | None = None) -> tuple[Record, ...]:
    """Readings that stand: requirement, value, unit, u, instrument, stage, body, seq."""
    return _rows(project, "reading", about)


def findings(
    project: Project, about: str | Sequence[str] | None = None, *, verdict: str | None = None
) -> tuple[Record, ...]:
    """Findings that stand: requirement, verdict, margin, reason, next, reading_seq, stage, body, seq."""
    return _rows(project, "finding", about, **({} if verdict is None else {"verdict": verdict}))


def discrepancies(
    project: Project, about: str | Sequence[str] | None = None, *, unsettled: bool = False
) -> tuple[Record, ...]:
    """Discrepancies: ref, state (open, decided, closed), what, decision, reason, authority, is_primary, seq.

    Args:
        project: an open project.
        about: only on these objects.
        unsettled: only those that still block what stands on them.
    """
    rows = _rows(project, "discrepancy", about)
    return tuple(row for row in rows if row["state"] != "closed") if unsettled else rows


def questions(
    project: Project, about: str | Sequence[str] | None = None, *, unanswered: bool = False
) -> tuple[Record, ...]:
    """Questions to the designer and their answers: words, asked_by, answer, answered_by, authority, seq."""
    return _rows(project, "question", about, **({"answer_seq": 0} if unanswered else {}))


def signatures(project: Project, about: str | Sequence[str] | None = None) -> tuple[Record, ...]:
    """Signatures in force: stage, signed_by, role, at, seq."""
    return _rows(project, "signature", about, lifted_by=0)


def materials(
    project: Project, about: str | Sequence[str] | None = None, *, lot: str | None = None
) -> tuple[Record, ...]:
    """Materials and hardware used: item, lot, supplier, quantity, unit, about, seq; also by their lot."""
    return _rows(project, "material", about, **({} if lot is None else {"lot": lot}))


def photos(project: Project, about: str | Sequence[str] | None = None) -> tuple[Record, ...]:
    """Photos: digest, report, thumb, media, name, caption, taken_at, stage, about, seq."""
    return _rows(project, "photo", about)
