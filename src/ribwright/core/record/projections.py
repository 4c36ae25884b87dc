"""The fold: what one entry does to the tables that people look at.

A pure function of the entries so far. ``fold`` is run once when an entry is added, and again over
all entries when the record is checked; the two must give the same rows.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ribwright.core.record.canonical import digest_of_text, dump_normal
from ribwright.core.record.entry import Entry
from ribwright.core.record.rows import Projection, Rows
from ribwright.core.record.words import words_of

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

CORRECTED_ROWS = ("work", "reading", "material")
"""Kinds whose row a correction replaces; of the other kinds only the story changes."""

DECISIONS = ("rework", "repair", "use as is", "replace")


def new_rows() -> Rows:
    """Empty tables, for a rebuild."""
    return Rows(PROJECTIONS)


def discrepancy_ref(seq: int) -> str:
    """How a discrepancy is called: by the entry that opened it."""
    return f"D{seq}"


def object_digest(
    *, noun: str, ref: str, hand: str, data: Mapping[str, Any], made_from: Mapping[str, str]
) -> str:
    """Digest of what an object is. Its title, its place and its revision number don't change it."""
    return digest_of_text(
        dump_normal(
            {"data": dict(data), "hand": hand, "made_from": dict(made_from), "noun": noun, "ref": ref}
        )
    )


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


# --- objects -----------------------------------------------------------------------------------


def _set(entry: Entry, body: Mapping[str, Any], rows: Rows) -> None:
    ref = body["ref"]
    made_from = {item["ref"]: item["digest"] for item in body.get("made_from") or ()}
    data = body.get("data") or {}
    old = rows.get("object", ref)
    digest = object_digest(
        noun=body["noun"], ref=ref, hand=body.get("hand") or "none", data=data, made_from=made_from
    )
    primary = data.get("primary")
    rows.put(
        "object",
        OBJECT.row(
            ref=ref,
            noun=body["noun"],
            parent=body.get("parent") or "",
            title=body.get("title") or "",
            hand=body.get("hand") or "none",
            data=dump_normal(data),
            digest=digest,
            revision=int(body["revision"]),
            seq=entry.seq,
            first_seq=old["first_seq"] if old else entry.seq,
            withdrawn=0,
            outdated=old["outdated"] if old else 0,
            is_primary=int(primary is True or primary == "yes"),
        ),
    )
    rows.put("revision", REVISION.row(ref=ref, seq=entry.seq, digest=digest, revision=int(body["revision"])))
    _relink(ref, made_from, rows)


def _relink(ref: str, made_from: Mapping[str, str], rows: Rows) -> None:
    for link in rows.where("link", "child", ref):
        if link["parent"] not in made_from:
            rows.drop("link", ref, link["parent"])
    for parent, digest in made_from.items():
        rows.put(
            "link",
            LINK.row(child=ref, parent=parent, digest=digest, moved=_moved(parent, digest, rows)),
        )
    _spread(ref, rows)


def _moved(parent: str, digest: str, rows: Rows) -> int:
    """Whether a parent is no longer what the child was made from. What the project doesn't hold
    (a table of the program, a formula) can't move here."""
    row = rows.get("object", parent)
    return int(row is not None and (row["digest"] != digest or bool(row["withdrawn"])))


def _spread(ref: str, rows: Rows) -> None:
    """Bring the mark *made to an earlier revision* up to date, here and downstream."""
    waiting = [ref]
    while waiting:
        at = waiting.pop()
        row = rows.get("object", at)
        if row is not None:
            outdated = 0
            for link in rows.where("link", "child", at):
                parent = rows.get("object", str(link["parent"]))
                if link["moved"] or (parent is not None and parent["outdated"]):
                    outdated = 1
            if outdated != row["outdated"]:
                rows.change("object", row, outdated=outdated)
                waiting.extend(str(link["child"]) for link in rows.where("link", "parent", at))
        if at == ref:
            for link in rows.where("link", "parent", ref):
                moved = _moved(ref, str(link["digest"]), rows)
                if moved != link["moved"]:
                    rows.change("link", link, moved=moved)
                waiting.append(str(link["child"]))


def _withdraw(entry: Entry, body: Mapping[str, Any], rows: Rows) -> None:
    row = rows.get("object", entry.about)
    if row is not None:
        rows.change("object", row, withdrawn=entry.seq)
        _spread(entry.about, rows)


def _restore(ref: str, rows: Rows) -> None:
    """Give an object the state of its newest revision that still stands, or take it away."""
    standing = [row for row in rows.where("revision", "ref", ref) if not row["undone"]]
    old = rows.get("object", ref)
    if not standing:
        for link in rows.where("link", "child", ref):
            rows.drop("link", ref, link["parent"])
        rows.drop("object", ref)
        _spread(ref, rows)
        return
    last = max(standing, key=lambda row: row["seq"])
    entry = rows.entry(int(last["seq"]))
    if entry is not None:
        _set(entry, entry.body, rows)
        row = rows.get("object", ref)
        if old is not None and row is not None and old["first_seq"] != row["first_seq"]:
            rows.change("object", row, first_seq=old["first_seq"])


# --- what was done, read and found ------------------------------------------------------------


def _work(entry: Entry, body: Mapping[str, Any], rows: Rows) -> None:
    rows.add(
        "work",
        WORK.row(
            seq=entry.seq,
            about=entry.about,
            stage=_text(body, "stage"),
            hours=_text(body, "hours"),
            person=_text(body, "person") or entry.by,
            worked_as=_text(body, "as") or entry.role,
            started=_text(body, "from"),
            ended=_text(body, "to"),
            day=_text(body, "day") or entry.at[:10],
            done=_text(body, "done"),
        ),
    )


def _reading(entry: Entry, body: Mapping[str, Any], rows: Rows) -> None:
    rows.add(
        "reading",
        READING.row(
            seq=entry.seq,
            about=entry.about,
            stage=_text(body, "stage"),
            requirement=_requirement(body),
            value=_text(body, "value"),
            unit=_text(body, "unit"),
            u=_text(body, "u"),
            instrument=_text(body, "instrument"),
            body=dump_normal(dict(body)),
        ),
    )


def _finding(entry: Entry, body: Mapping[str, Any], rows: Rows) -> None:
    rows.add(
        "finding",
        FINDING.row(
            seq=entry.seq,
            about=entry.about,
            stage=_text(body, "stage"),
            requirement=_requirement(body),
            verdict=_text(body, "verdict"),
            margin=_text(body, "margin"),
            reason=_text(body, "reason"),
            next=_text(body, "next"),
            reading_seq=int(_text(body, "reading") or 0),
            body=dump_normal(dict(body)),
        ),
    )
    # A finding that closes or belongs to a discrepancy doesn't open another.
    if _text(body, "verdict") == "refer" and not _text(body, "discrepancy"):
        _open(entry, body, _text(body, "reason"), rows)


def _discrepancy(entry: Entry, body: Mapping[str, Any], rows: Rows) -> None:
    _open(entry, body, _text(body, "what"), rows)


def _open(entry: Entry, body: Mapping[str, Any], what: str, rows: Rows) -> None:
    part = rows.get("object", entry.about)
    primary = bool(part and part["is_primary"]) or _text(body, "primary") == "yes"
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


def _disposition(entry: Entry, body: Mapping[str, Any], rows: Rows) -> None:
    row = rows.get("discrepancy", _text(body, "discrepancy"))
    if row is not None:
        rows.change(
            "discrepancy",
            row,
            state="decided" if _text(body, "closes") == "no" else "closed",
            decision=_text(body, "decision"),
            reason=_text(body, "reason"),
            authority=_text(body, "authority"),
            decided_by=entry.by,
            disposition_seq=entry.seq,
            closing_seq=int(_text(body, "closing_reading") or 0),
        )


def _question(entry: Entry, body: Mapping[str, Any], rows: Rows) -> None:
    rows.add(
        "question",
        QUESTION.row(
            seq=entry.seq,
            about=entry.about,
            discrepancy=_text(body, "discrepancy"),
            words=_text(body, "words"),
            asked_by=entry.by,
        ),
    )


def _answer(entry: Entry, body: Mapping[str, Any], rows: Rows) -> None:
    row = rows.get("question", int(_text(body, "question") or 0))
    if row is not None:
        rows.change(
            "question",
            row,
            answer=_text(body, "words"),
            answered_by=_text(body, "who") or entry.by,
            authority=_text(body, "authority"),
            answer_seq=entry.seq,
        )


def _sign(entry: Entry, body: Mapping[str, Any], rows: Rows) -> None:
    rows.add(
        "signature",
        SIGNATURE.row(
            seq=entry.seq,
            about=entry.about,
            stage=_text(body, "stage"),
            signed_by=entry.by,
            role=entry.role,
            at=entry.at,
        ),
    )


def _photo(entry: Entry, body: Mapping[str, Any], rows: Rows) -> None:
    names = ("stage", "digest", "report", "thumb", "media", "name", "caption", "taken_at", "position")
    rows.add(
        "photo",
        PHOTO.row(seq=entry.seq, about=entry.about, **{name: _text(body, name) for name in names}),
    )


def _material(entry: Entry, body: Mapping[str, Any], rows: Rows) -> None:
    names = ("item", "lot", "supplier", "quantity", "unit")
    rows.add(
        "material",
        MATERIAL.row(
            seq=entry.seq,
            about=entry.about,
            body=dump_normal(dict(body)),
            **{name: _text(body, name) for name in names},
        ),
    )


_ACTS = {
    "set": _set,
    "withdraw": _withdraw,
    "work": _work,
    "reading": _reading,
    "finding": _finding,
    "discrepancy": _discrepancy,
    "disposition": _disposition,
    "question": _question,
    "answer": _answer,
    "sign": _sign,
    "photo": _photo,
    "material": _material,
}


# --- taking back and putting right ------------------------------------------------------------

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
        rows.drop("discrepancy", discrepancy_ref(target.seq))


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
            _restore(target.body["ref"], rows)
    elif target.kind == "withdraw":
        row = rows.get("object", target.about)
        if row is not None:
            rows.change("object", row, withdrawn=0)
            _spread(target.about, rows)
    elif target.kind == "disposition":
        _reopen(_text(target.body, "discrepancy"), rows)
    elif target.kind == "answer":
        row = rows.get("question", int(_text(target.body, "question") or 0))
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


def _text(body: Mapping[str, Any], name: str) -> str:
    value = body.get(name)
    return value if isinstance(value, str) else ""


def _requirement(body: Mapping[str, Any]) -> str:
    requirement = body.get("requirement")
    if isinstance(requirement, str):
        return requirement
    if isinstance(requirement, Mapping):
        return _text(requirement, "name") or _text(requirement, "ref")
    return ""
