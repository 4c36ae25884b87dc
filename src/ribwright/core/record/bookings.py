"""What was done, read and found: the row that each kind of entry adds."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ribwright.core.record.canonical import dump_normal
from ribwright.core.record.entry import Entry
from ribwright.core.record.rows import Rows
from ribwright.core.record.tables import (
    DISCREPANCY,
    FINDING,
    MATERIAL,
    PHOTO,
    QUESTION,
    READING,
    SIGNATURE,
    WORK,
)

DECISIONS = ("rework", "repair", "use as is", "replace")


def discrepancy_ref(seq: int) -> str:
    """How a discrepancy is called: by the entry that opened it."""
    return f"D{seq}"


def work(entry: Entry, body: Mapping[str, Any], rows: Rows) -> None:
    rows.add(
        "work",
        WORK.row(
            seq=entry.seq,
            about=entry.about,
            stage=text_of(body, "stage"),
            hours=text_of(body, "hours"),
            person=text_of(body, "person") or entry.by,
            worked_as=text_of(body, "as") or entry.role,
            started=text_of(body, "from"),
            ended=text_of(body, "to"),
            day=text_of(body, "day") or entry.at[:10],
            done=text_of(body, "done"),
        ),
    )


def reading(entry: Entry, body: Mapping[str, Any], rows: Rows) -> None:
    rows.add(
        "reading",
        READING.row(
            seq=entry.seq,
            about=entry.about,
            stage=text_of(body, "stage"),
            requirement=_requirement(body),
            value=text_of(body, "value"),
            unit=text_of(body, "unit"),
            u=text_of(body, "u"),
            instrument=text_of(body, "instrument"),
            body=dump_normal(dict(body)),
        ),
    )


def finding(entry: Entry, body: Mapping[str, Any], rows: Rows) -> None:
    rows.add(
        "finding",
        FINDING.row(
            seq=entry.seq,
            about=entry.about,
            stage=text_of(body, "stage"),
            requirement=_requirement(body),
            verdict=text_of(body, "verdict"),
            margin=text_of(body, "margin"),
            reason=text_of(body, "reason"),
            next=text_of(body, "next"),
            reading_seq=int(text_of(body, "reading") or 0),
            body=dump_normal(dict(body)),
        ),
    )
    # A finding that closes or belongs to a discrepancy doesn't open another.
    if text_of(body, "verdict") == "refer" and not text_of(body, "discrepancy"):
        _open(entry, body, text_of(body, "reason"), rows)


def discrepancy(entry: Entry, body: Mapping[str, Any], rows: Rows) -> None:
    _open(entry, body, text_of(body, "what"), rows)


def _open(entry: Entry, body: Mapping[str, Any], what: str, rows: Rows) -> None:
    part = rows.get("object", entry.about)
    primary = bool(part and part["is_primary"]) or text_of(body, "primary") == "yes"
    while part is not None and part["parent"] and not primary:
        part = rows.get("object", str(part["parent"]))
        primary = bool(part and part["is_primary"])
    rows.put(
        "discrepancy",
        DISCREPANCY.row(
            ref=discrepancy_ref(entry.seq),
            about=entry.about,
            state="open",
            what=what,
            body=dump_normal(dict(body)),
            seq=entry.seq,
            is_primary=int(primary),
        ),
    )


def disposition(entry: Entry, body: Mapping[str, Any], rows: Rows) -> None:
    row = rows.get("discrepancy", text_of(body, "discrepancy"))
    if row is not None:
        rows.change(
            "discrepancy",
            row,
            state="decided" if text_of(body, "closes") == "no" else "closed",
            decision=text_of(body, "decision"),
            reason=text_of(body, "reason"),
            authority=text_of(body, "authority"),
            decided_by=entry.by,
            disposition_seq=entry.seq,
            closing_seq=int(text_of(body, "closing_reading") or 0),
        )


def question(entry: Entry, body: Mapping[str, Any], rows: Rows) -> None:
    rows.add(
        "question",
        QUESTION.row(
            seq=entry.seq,
            about=entry.about,
            discrepancy=text_of(body, "discrepancy"),
            words=text_of(body, "words"),
            asked_by=entry.by,
        ),
    )


def answer(entry: Entry, body: Mapping[str, Any], rows: Rows) -> None:
    row = rows.get("question", int(text_of(body, "question") or 0))
    if row is not None:
        rows.change(
            "question",
            row,
            answer=text_of(body, "words"),
            answered_by=text_of(body, "who") or entry.by,
            authority=text_of(body, "authority"),
            answer_seq=entry.seq,
        )


def sign(entry: Entry, body: Mapping[str, Any], rows: Rows) -> None:
    rows.add(
        "signature",
        SIGNATURE.row(
            seq=entry.seq,
            about=entry.about,
            stage=text_of(body, "stage"),
            signed_by=entry.by,
            role=entry.role,
            at=entry.at,
        ),
    )


def photo(entry: Entry, body: Mapping[str, Any], rows: Rows) -> None:
    names = ("stage", "digest", "report", "thumb", "media", "name", "caption", "taken_at", "position")
    rows.add(
        "photo",
        PHOTO.row(seq=entry.seq, about=entry.about, **{name: text_of(body, name) for name in names}),
    )


def material(entry: Entry, body: Mapping[str, Any], rows: Rows) -> None:
    names = ("item", "lot", "supplier", "quantity", "unit")
    rows.add(
        "material",
        MATERIAL.row(
            seq=entry.seq,
            about=entry.about,
            body=dump_normal(dict(body)),
            **{name: text_of(body, name) for name in names},
        ),
    )


def text_of(body: Mapping[str, Any], name: str) -> str:
    value = body.get(name)
    return value if isinstance(value, str) else ""


def _requirement(body: Mapping[str, Any]) -> str:
    requirement = body.get("requirement")
    if isinstance(requirement, str):
        return requirement
    if isinstance(requirement, Mapping):
        return text_of(requirement, "name") or text_of(requirement, "ref")
    return ""
