"""The tables that are folded from the entries, described once for the core and for every database."""

from __future__ import annotations

from ribwright.core.record.rows import Projection, Rows

OBJECT = Projection(
    "object",
    ("ref",),
    ("ref", "noun", "parent", "title", "hand", "data", "digest"),
    ("revision", "seq", "first_seq", "withdrawn", "outdated", "is_primary"),
    ("parent",),
)
REVISION = Projection("revision", ("ref", "seq"), ("ref", "digest"), ("seq", "revision", "undone"), ("ref",))
LINK = Projection("link", ("child", "parent"), ("child", "parent", "digest"), ("moved",), ("child", "parent"))
STANDING = Projection("standing", ("seq",), (), ("seq", "undone_by", "corrected_by", "clock_back"))
WORK = Projection(
    "work",
    ("seq",),
    ("about", "stage", "hours", "person", "worked_as", "started", "ended", "day", "done"),
    ("seq",),
    ("about",),
)
READING = Projection(
    "reading",
    ("seq",),
    ("about", "stage", "requirement", "value", "unit", "u", "instrument", "body"),
    ("seq",),
    ("about",),
)
FINDING = Projection(
    "finding",
    ("seq",),
    ("about", "stage", "requirement", "verdict", "margin", "reason", "next", "body"),
    ("seq", "reading_seq"),
    ("about",),
)
DISCREPANCY = Projection(
    "discrepancy",
    ("ref",),
    ("ref", "about", "state", "what", "decision", "reason", "authority", "decided_by", "body"),
    ("seq", "disposition_seq", "closing_seq", "is_primary"),
    ("about",),
)
QUESTION = Projection(
    "question",
    ("seq",),
    ("about", "discrepancy", "words", "asked_by", "answer", "answered_by", "authority"),
    ("seq", "answer_seq"),
    ("about",),
)
SIGNATURE = Projection(
    "signature", ("seq",), ("about", "stage", "signed_by", "role", "at"), ("seq", "lifted_by"), ("about",)
)
PHOTO = Projection(
    "photo",
    ("seq",),
    ("about", "stage", "digest", "report", "thumb", "media", "name", "caption", "taken_at", "position"),
    ("seq",),
    ("about",),
)
MATERIAL = Projection(
    "material",
    ("seq",),
    ("about", "item", "lot", "supplier", "quantity", "unit", "body"),
    ("seq",),
    ("about",),
)
WORDS = Projection("words", ("seq",), ("words",), ("seq",))

PROJECTIONS = (
    OBJECT,
    REVISION,
    LINK,
    STANDING,
    WORK,
    READING,
    FINDING,
    DISCREPANCY,
    QUESTION,
    SIGNATURE,
    PHOTO,
    MATERIAL,
    WORDS,
)


def new_rows() -> Rows:
    """Empty tables, for a rebuild."""
    return Rows(PROJECTIONS)
