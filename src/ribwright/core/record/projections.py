"""The fold: what one entry does to the tables that people look at.

A pure function of the entries so far. ``fold`` is run once when an entry is added, and again over
all entries when the record is checked; the two must give the same rows.
"""

from __future__ import annotations

from ribwright.core.record import bookings, breakdown
from ribwright.core.record.bookings import text_of
from ribwright.core.record.entry import Entry
from ribwright.core.record.rows import Rows
from ribwright.core.record.tables import STANDING, WORDS
from ribwright.core.record.words import words_of

CORRECTED_ROWS = ("work", "reading", "material")
"""Kinds whose row a correction replaces; of the other kinds only the story changes."""


def fold(entry: Entry, rows: Rows, *, at_before: str = "") -> None:
    """Let one entry act on the rows.

    Args:
        entry: the next in the chain.
        rows: the tables as all entries before have left them.
        at_before: when the entry before was made; a clock that went back is marked.
    """
    rows.remember(entry)
    if entry.at < at_before:
        _mark(rows, entry.seq, clock_back=1)
    _apply(entry, rows)
    if entry.kind == "undo" and entry.corrects is not None:
        _undo(entry, rows)
    elif entry.kind == "correction" and entry.corrects is not None:
        _correct(entry, rows)
    rows.add("words", WORDS.row(seq=entry.seq, words=words_of(entry)))


def _apply(entry: Entry, rows: Rows) -> None:
    act = _ACTS.get(entry.kind)
    if act is not None:
        act(entry, entry.body, rows)


def _mark(rows: Rows, seq: int, **values: int) -> None:
    row = rows.get("standing", seq) or STANDING.row(seq=seq)
    rows.change("standing", row, **values)


_ACTS = {
    "set": breakdown.set_object,
    "withdraw": breakdown.withdraw,
    "work": bookings.work,
    "reading": bookings.reading,
    "finding": bookings.finding,
    "discrepancy": bookings.discrepancy,
    "disposition": bookings.disposition,
    "question": bookings.question,
    "answer": bookings.answer,
    "sign": bookings.sign,
    "photo": bookings.photo,
    "material": bookings.material,
}

MOVE_OBJECTS = ("set", "withdraw", "undo")
"""Kinds of entries that change objects or what was made from them; every other kind leaves those tables alone."""

_BY_SEQ = {
    "work": "work",
    "reading": "reading",
    "finding": "finding",
    "question": "question",
    "photo": "photo",
    "material": "material",
}


def _take_away(target: Entry, rows: Rows) -> None:
    """Remove what an entry put into the tables."""
    if target.kind in _BY_SEQ:
        rows.drop(_BY_SEQ[target.kind], target.seq)
    if target.kind in ("finding", "discrepancy"):
        rows.drop("discrepancy", bookings.discrepancy_ref(target.seq))


def _undo(entry: Entry, rows: Rows) -> None:
    target = rows.entry(entry.corrects or 0)
    if target is None:
        return
    _mark(rows, target.seq, undone_by=entry.seq)
    _take_away(target, rows)
    if target.kind == "correction":
        _uncorrect(target, rows)
    if target.kind == "set":
        revision = rows.get("revision", target.body["ref"], target.seq)
        if revision is not None:
            rows.change("revision", revision, undone=entry.seq)
            breakdown.restore(target.body["ref"], rows)
    elif target.kind == "withdraw":
        row = rows.get("object", target.about)
        if row is not None:
            rows.change("object", row, withdrawn=0)
            breakdown.spread(target.about, rows)
    elif target.kind == "disposition":
        _reopen(text_of(target.body, "discrepancy"), rows)
    elif target.kind == "answer":
        row = rows.get("question", int(text_of(target.body, "question") or 0))
        if row is not None:
            rows.change("question", row, answer="", answered_by="", authority="", answer_seq=0)


def _reopen(ref: str, rows: Rows) -> None:
    row = rows.get("discrepancy", ref)
    if row is not None:
        rows.change(
            "discrepancy",
            row,
            state="open",
            decision="",
            reason="",
            authority="",
            decided_by="",
            disposition_seq=0,
            closing_seq=0,
        )


def _correct(entry: Entry, rows: Rows) -> None:
    """A correction stands in the place of the entry that it points at."""
    target = rows.entry(entry.corrects or 0)
    if target is None:
        return
    _mark(rows, target.seq, corrected_by=entry.seq)
    if target.kind == "sign":
        row = rows.get("signature", target.seq)
        if row is not None:
            rows.change("signature", row, lifted_by=entry.seq)
        return
    first = first_corrected(target, rows)
    if first.kind in CORRECTED_ROWS:
        rows.drop(_BY_SEQ[first.kind], target.seq)
        _ACTS[first.kind](entry, entry.body.get("instead") or {}, rows)


def _uncorrect(correction: Entry, rows: Rows) -> None:
    """A correction was taken back: what it had replaced stands again."""
    target = rows.entry(correction.corrects or 0)
    if target is None:
        return
    _mark(rows, target.seq, corrected_by=0)
    if target.kind == "sign":
        row = rows.get("signature", target.seq)
        if row is not None:
            rows.change("signature", row, lifted_by=0)
        return
    first = first_corrected(target, rows)
    if first.kind in CORRECTED_ROWS:
        rows.drop(_BY_SEQ[first.kind], correction.seq)
        body = target.body.get("instead") or {} if target.kind == "correction" else target.body
        _ACTS[first.kind](target, body, rows)


def first_corrected(entry: Entry, rows: Rows) -> Entry:
    """The entry at the bottom of a pile of corrections."""
    while entry.kind == "correction" and entry.corrects is not None:
        earlier = rows.entry(entry.corrects)
        if earlier is None:
            break
        entry = earlier
    return entry
