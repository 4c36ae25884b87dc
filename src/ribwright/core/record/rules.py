"""Who may enter what, and what the state of a project still allows."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from typing import Any

from ribwright.core.bench.closing import closing_stage
from ribwright.core.bench.standing import Thing
from ribwright.core.record.bodies import check_body
from ribwright.core.record.entry import ENTRY_KINDS, Entry, check_ref
from ribwright.core.record.projections import CORRECTED_ROWS, first_corrected
from ribwright.core.record.rows import Row, Rows
from ribwright.errors import ConflictError, MissingError, RefusedError, UnknownNameError

_ALL = frozenset(ENTRY_KINDS)
MAY_ENTER: Mapping[str, frozenset[str]] = {
    "builder": _ALL,
    "helper": _ALL - {"sign", "disposition", "departure", "withdraw", "answer", "notice"},
    "adviser": frozenset(("question", "answer")),
    "inspector": frozenset(
        ("visit", "reading", "finding", "photo", "discrepancy", "question", "answer", "sign", "note")
    ),
}

LOCKED_BY_SIGNING = frozenset(("set", "withdraw", "work", "reading", "finding", "material", "undo"))
"""What a signed operation takes no more. A crack found later can still be entered and settled."""

UNDONE = _ALL - {"sign", "undo"}
CORRECTED = frozenset((*CORRECTED_ROWS, "sign", "note", "visit", "departure", "notice"))


def check_role(kind: str, *, by: str, role: str) -> None:
    """Refuse a kind of entry that a role doesn't make.

    Raises:
        RefusedError: the role may not.
    """
    if kind not in MAY_ENTER[role]:
        raise RefusedError(
            f"entry “{kind}”",
            found=f"{by}, {role}",
            allowed=f"for the {role}: " + ", ".join(sorted(MAY_ENTER[role])),
            mend="Ask the builder to enter it",
        )


def check_allowed(
    kind: str,
    about: str,
    body: Mapping[str, Any],
    corrects: int | None,
    *,
    by: str,
    role: str,
    rows: Rows,
    plain: bool = False,
) -> None:
    """Refuse what this person may not do, or what can't be done now.

    Args:
        kind: of the entry to be made.
        about: reference of its object, or "".
        body: already checked for its form.
        corrects: the entry that it takes back or puts right, or None.
        by: who acts.
        role: as what.
        rows: the projections before the entry.
        plain: it came over a connection on which anybody in the network could have sent it.

    Raises:
        RefusedError: the role may not, or not over such a connection.
        UnknownNameError: it is about something that isn't there.
        ConflictError: signed, still blocked, already taken back, or going in a circle.
        MissingError: an undo or a correction that points at nothing.
    """
    check_role(kind, by=by, role=role)
    if plain:
        _check_plain(kind, about, body, corrects, rows)
    if kind == "set":
        _check_set(body, rows)
    elif about and rows.get("object", about) is None:
        raise UnknownNameError("about", found=about, mend="Make the object first, or correct its reference")
    # A reading that closes a discrepancy found after signing belongs to the discrepancy.
    of_discrepancy = kind in ("reading", "finding") and body.get("discrepancy")
    if kind in LOCKED_BY_SIGNING and not of_discrepancy:
        _check_unsigned(about, _stage(body), rows)
    if kind == "sign":
        _check_sign(about, body, rows)
    elif kind == "withdraw":
        _check_withdraw(about, rows)
    elif kind in ("disposition", "finding", "reading", "question") and body.get("discrepancy"):
        _check_discrepancy(kind, about, body, rows)
    elif kind == "answer":
        _check_answer(body, rows)
    elif kind in ("undo", "correction"):
        _check_target(kind, body, corrects, by=by, role=role, about=about, rows=rows)


def _check_plain(kind: str, about: str, body: Mapping[str, Any], corrects: int | None, rows: Rows) -> None:
    """Over plain http anybody in the network could have sent it: what can't be undone is not taken from there."""
    because = "this phone came in over an open connection, where somebody in the network could have sent this"
    mend = "Do it on the laptop, or start with: ribwright serve --lan --tls"
    target = rows.entry(corrects) if corrects else None
    first = first_corrected(target, rows) if target is not None else None
    if kind == "sign" or (first is not None and first.kind == "sign"):
        raise RefusedError("signature", because=because, mend=mend)
    work = (
        body
        if kind == "work"
        else body.get("instead")
        if first is not None and first.kind == "work"
        else None
    )
    if isinstance(work, Mapping) and work.get("done") == "yes" and _closes(about, _stage(work), rows):
        raise RefusedError(f"{about}, {_stage(work)}: closing a space", because=because, mend=mend)


def _closes(about: str, stage: str, rows: Rows) -> bool:
    """Whether this stage of this operation ends the access to a space."""
    row = rows.get("object", about)
    data = json.loads(str(row["data"])) if row is not None else {}
    return bool(data.get("closes")) and closing_stage(Thing(about, "", "", "", "", data)) == stage


def check_imported(entry: Entry, rows: Rows) -> None:
    """Refuse an entry from elsewhere that could not stand in a record, whoever was allowed to make it.

    Roles and signing were judged when it was made; what is judged again is what tables and pages rely on.

    Raises:
        InputError, ConflictError: the body doesn't fit, or an object would be inside or made from itself.
    """
    check_body(entry.kind, entry.body)
    if entry.about:
        check_ref(entry.about, "about")
    if entry.kind == "set":
        if entry.about != entry.body["ref"]:
            raise ConflictError("about", found=entry.about, allowed=entry.body["ref"])
        _check_set(entry.body, rows)
    elif entry.kind == "correction":
        target = rows.entry(entry.corrects or 0)
        first = first_corrected(target, rows) if target else None
        if first is None:
            raise MissingError("correction", found=entry.corrects)
        if first.kind in CORRECTED_ROWS:
            check_body(first.kind, entry.body.get("instead") or {})


def signatures(about: str, stage: str, rows: Rows) -> Iterator[Row]:
    """Signatures in force over an object (its own, or of an operation above it) for a stage."""
    ref, steps = about, 0
    while ref and steps < 64:
        for row in rows.where("signature", "about", ref):
            if not row["lifted_by"] and row["stage"] in ("", stage):
                yield row
        above = rows.get("object", ref)
        ref, steps = (str(above["parent"]) if above else ""), steps + 1


def _stage(body: Mapping[str, Any]) -> str:
    stage = body.get("stage")
    return stage if isinstance(stage, str) else ""


def _check_unsigned(about: str, stage: str, rows: Rows) -> None:
    for row in signatures(about, stage, rows):
        raise ConflictError(
            f"{about}{' ' + stage if stage else ''}",
            because="this has been signed, and what is signed is not changed",
            found=f"signed by {row['signed_by']} on {row['at']}, entry {row['seq']}",
            mend="Enter a correction that points at the old entry, or a discrepancy",
        )


def _check_set(body: Mapping[str, Any], rows: Rows) -> None:
    ref, parent = body["ref"], body.get("parent") or ""
    above, steps = parent, 0
    while above:
        row = rows.get("object", above)
        if row is None:
            raise UnknownNameError("belongs to", found=above, mend="Make it first, or correct the reference")
        if above == ref or steps > 64:
            raise ConflictError("belongs to", found=parent, because=f"{ref} would be inside itself")
        above, steps = str(row["parent"]), steps + 1
    old = rows.get("object", ref)
    if old is None:
        return
    if old["noun"] != body["noun"]:
        raise ConflictError(
            "kind", found=body["noun"], allowed=old["noun"], because=f"{ref} is a {old['noun']} already"
        )
    waiting, seen = [item["ref"] for item in body.get("made_from") or ()], set()
    while waiting:
        at = waiting.pop()
        if at == ref:
            raise ConflictError("made from", found=ref, because="it would be made from itself")
        if at not in seen:
            seen.add(at)
            waiting.extend(str(link["parent"]) for link in rows.where("link", "child", at))


def _check_sign(about: str, body: Mapping[str, Any], rows: Rows) -> None:
    if not about:
        raise MissingError("sign", mend="Say which operation is signed")
    _check_unsigned(about, _stage(body), rows)
    for row in rows.where("discrepancy", "about", about):
        if row["state"] != "closed":
            raise ConflictError(
                about,
                because="it can't be signed while a discrepancy is open",
                found=f"{row['ref']}: {row['what']}",
                mend="Settle it first: rework, repair, use as is, or replace",
            )


def _check_withdraw(about: str, rows: Rows) -> None:
    row = rows.get("object", about)
    if row is None:
        raise MissingError("withdraw", mend="Say what is withdrawn")
    if row["withdrawn"]:
        raise ConflictError(about, because="it has been withdrawn already")
    for below in rows.where("object", "parent", about):
        if not below["withdrawn"]:
            raise ConflictError(
                about,
                because="something still stands below it",
                found=below["ref"],
                mend="Withdraw that first",
            )


def _check_discrepancy(kind: str, about: str, body: Mapping[str, Any], rows: Rows) -> None:
    row = rows.get("discrepancy", str(body["discrepancy"]))
    if row is None:
        raise UnknownNameError("discrepancy", found=body["discrepancy"], allowed="such as D12")
    if row["about"] != about:
        raise ConflictError("discrepancy", found=f"{row['ref']} is about {row['about']}", allowed=about)
    if kind == "disposition" and row["state"] == "closed":
        raise ConflictError(str(row["ref"]), because="it is closed already", found=row["decision"])
    closing = body.get("closing_reading")
    if kind == "disposition" and closing:
        reading = rows.get("reading", int(closing)) or rows.get("finding", int(closing))
        if reading is None or reading["about"] != about:
            raise UnknownNameError(
                "closing_reading", found=closing, allowed=f"the number of a reading or finding on {about}"
            )


def _check_answer(body: Mapping[str, Any], rows: Rows) -> None:
    row = rows.get("question", int(body["question"]))
    if row is None:
        raise UnknownNameError("question", found=body["question"], allowed="the number of its entry")
    if row["answer_seq"]:
        raise ConflictError("question", found=body["question"], because="it has been answered already")


def _check_target(
    kind: str, body: Mapping[str, Any], corrects: int | None, *, by: str, role: str, about: str, rows: Rows
) -> None:
    target = rows.entry(corrects) if corrects else None
    if target is None:
        raise MissingError(kind, found=corrects, mend="Say which earlier entry is meant, by its number")
    field = f"entry {target.seq}"
    standing = rows.get("standing", target.seq)
    if standing is not None and (standing["undone_by"] or standing["corrected_by"]):
        later = standing["undone_by"] or standing["corrected_by"]
        raise ConflictError(field, because="it no longer stands", found=f"see entry {later}")
    if target.about != about:
        raise ConflictError(field, found=f"it is about “{target.about}”", allowed=f"about “{about}”")
    if role == "helper" and target.by != by:
        raise RefusedError(field, found=f"entered by {target.by}", allowed="your own entries")
    if kind == "undo":
        _check_undo(target, field, rows)
        return
    first = first_corrected(target, rows)
    if first.kind not in CORRECTED:
        raise ConflictError(
            field, found=first.kind, because="this kind of entry is not corrected", mend="Make a new one"
        )
    if first.kind == "sign" and role == "helper":
        raise RefusedError(field, found=role, allowed="builder")
    if first.kind in CORRECTED_ROWS:
        if not body.get("instead"):
            raise MissingError("correction: instead", mend="Give the entry as it should have been")
        check_body(first.kind, body["instead"])


def _check_undo(target: Entry, field: str, rows: Rows) -> None:
    if target.kind not in UNDONE:
        raise ConflictError(field, found=target.kind, because="this kind of entry is not taken back")
    body = target.body.get("instead") if target.kind == "correction" else target.body
    _check_unsigned(target.about, _stage(body or {}), rows)
    if target.seq == 1:
        raise ConflictError(field, because="the first entry is the project itself")
    if target.kind == "set":
        revisions = rows.where("revision", "ref", target.about)
        if len([row for row in revisions if not row["undone"]]) > 1:
            return
        for name in ("object", "link"):
            for row in rows.where(name, "parent", target.about):
                below = row["ref"] if name == "object" else row["child"]
                raise ConflictError(field, because="something stands on it already", found=below)
        for name in ("reading", "work", "finding", "photo", "material", "question", "discrepancy"):
            for row in rows.where(name, "about", target.about):
                raise ConflictError(
                    field,
                    because=f"a {name} is about it already",
                    found=row["about"],
                    mend="Take that back first; what is about it stands in its story",
                )
    opened = f"D{target.seq}"
    row_or_none = rows.get("discrepancy", opened)
    if target.kind in ("finding", "discrepancy") and row_or_none and row_or_none["disposition_seq"]:
        raise ConflictError(field, because=f"{opened} has a disposition already", mend="Take that back first")
