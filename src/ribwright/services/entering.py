"""Entering: every change that a person makes passes here, in one transaction, once."""

from __future__ import annotations

import json
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from ribwright.core.record.bodies import check_body
from ribwright.core.record.canonical import JsonValue, normal
from ribwright.core.record.entry import Entry, check_kind, check_ref, check_request_id
from ribwright.core.record.projections import fold
from ribwright.core.record.rows import Rows
from ribwright.core.record.rules import check_allowed
from ribwright.errors import (
    ConflictError,
    MissingError,
    StaleRevisionError,
    UnknownNameError,
)
from ribwright.services.project import Actor, Project
from ribwright.store import chain, projections
from ribwright.store import objects as stored_objects
from ribwright.store.engine import Transaction
from ribwright.store.objects import StoredObject

WHOLE_FROM = 300
"""From so many entries at once the whole breakdown is read in, instead of row by row."""

TOLD = 8
"""Values of an object that a refusal tells."""


@dataclass(frozen=True, slots=True)
class NewEntry:
    """One entry to be made.

    Attributes:
        kind: one of ``ENTRY_KINDS``.
        body: what is entered; numbers as text.
        about: reference of its object, or "".
        corrects: the earlier entry that it takes back or puts right.
        seen_revision: the revision of the object that the form showed.
    """

    kind: str
    body: Mapping[str, Any] = field(default_factory=dict)
    about: str = ""
    corrects: int | None = None
    seen_revision: int | None = None


MadeFrom = Sequence[str | tuple[str, str] | Mapping[str, str]]
"""What an object is made from: references (their digest now is taken), or (reference, digest)."""


def new_object(
    noun: str,
    ref: str,
    data: Mapping[str, Any],
    *,
    parent: str = "",
    title: str = "",
    hand: str = "none",
    revision: int | None = None,
    made_from: MadeFrom = (),
    seen_revision: int | None = None,
) -> NewEntry:
    """The entry that gives an object its state."""
    made = [
        {"ref": item, "digest": ""}
        if isinstance(item, str)
        else {"ref": item[0], "digest": item[1]}
        if isinstance(item, tuple)
        else dict(item)
        for item in made_from
    ]
    body = {
        "noun": noun,
        "ref": ref,
        "revision": "" if revision is None else str(revision),
        "parent": parent,
        "title": title,
        "hand": hand,
        "data": dict(data),
        "made_from": made,
    }
    return NewEntry("set", body, ref, None, seen_revision)


def add_entry(
    project: Project,
    *,
    actor: Actor,
    request_id: str,
    kind: str,
    about: str = "",
    body: Mapping[str, Any],
    corrects: int | None = None,
    seen_revision: int | None = None,
) -> Entry:
    """Make one entry. The same request sent again gives the entry that it made before.

    Args:
        project: an open project.
        actor: who acts.
        request_id: made by the form's server or device.
        kind: one of ``ENTRY_KINDS``.
        about: reference of the object, or "".
        body: what is entered; numbers as text.
        corrects: the earlier entry that it takes back or puts right.
        seen_revision: the revision that the form showed; refused when another came since.

    Raises:
        InputError: what was entered can't be used.
        RefusedError: the role may not.
        ConflictError: signed, blocked, or the request id was used for something else.
        StaleRevisionError: the object changed since the page was opened.
    """
    item = NewEntry(kind, body, about, corrects, seen_revision)
    return add_entries(project, actor=actor, request_id=request_id, items=[item])[0]


def add_entries(
    project: Project, *, actor: Actor, request_id: str, items: Sequence[NewEntry]
) -> tuple[Entry, ...]:
    """Make many entries in one transaction: all or none. Errors as ``add_entry``."""
    prepared = _checked(request_id, items)
    with project.store.write() as connection:
        return _enter(connection, project, actor, request_id, prepared)


def set_object(
    project: Project,
    *,
    actor: Actor,
    request_id: str,
    noun: str,
    ref: str,
    data: Mapping[str, Any],
    parent: str = "",
    title: str = "",
    hand: str = "none",
    revision: int | None = None,
    made_from: MadeFrom = (),
    seen_revision: int | None = None,
) -> StoredObject:
    """Give an object its state, new or changed.

    Args:
        project: an open project.
        actor: who acts.
        request_id: of the form.
        noun: aircraft, assembly, part, operation, drawing, stock, tool, person, order, task, setting, space.
        ref: its reference.
        data: what was entered; numbers as text. ``"primary": "yes"`` marks primary structure.
        parent: reference of what it belongs to.
        title: for people.
        hand: left, right or none.
        revision: None for the next.
        made_from: what it was made from; a bare reference takes that object's digest now.
        seen_revision: the revision that the form showed (0: it showed none yet).

    Returns:
        The object as this form left it, whoever changed it since.

    Raises:
        As ``add_entry``.
    """
    item = new_object(
        noun,
        ref,
        data,
        parent=parent,
        title=title,
        hand=hand,
        revision=revision,
        made_from=made_from,
        seen_revision=seen_revision,
    )
    prepared = _checked(request_id, [item])
    with project.store.write() as connection:
        # Read in the same transaction: a moment later it may be somebody else's.
        (entry,) = _enter(connection, project, actor, request_id, prepared)
        now = stored_objects.one(connection, project.id, entry.about)
        if now is None:
            raise UnknownNameError("reference", found=ref, because="this form was taken back since")
        if now.seq == entry.seq:
            return now
        for row in stored_objects.revisions(connection, project.id, entry.about):
            if row["seq"] == entry.seq:
                return stored_objects.as_entered(entry, row["digest"], now)
    return now


def _checked(request_id: str, items: Sequence[NewEntry]) -> list[NewEntry]:
    check_request_id(request_id)
    if not items:
        raise MissingError("entries", mend="Enter at least one")
    return [_prepared(item) for item in items]


def _enter(
    connection: Transaction, project: Project, actor: Actor, request_id: str, prepared: Sequence[NewEntry]
) -> tuple[Entry, ...]:
    linker = chain.Linker(connection, project.id)
    before = chain.by_request(connection, project.id, request_id)
    if before:
        _check_same(before, prepared, actor, request_id)
        return before
    rows = projections.rows_of(connection, project.id, whole=len(prepared) >= WHOLE_FROM)
    at = project.now()
    made = tuple(
        _link(
            linker,
            rows,
            item,
            actor=actor,
            request_id=request_id if number == 0 else f"{request_id}#{number}",
            at=at,
        )
        for number, item in enumerate(prepared)
    )
    linker.finish()
    projections.flush(connection, project.id, rows)
    return made


def _prepared(item: NewEntry) -> NewEntry:
    check_kind(item.kind)
    body: Any = normal(dict(item.body))
    about = unicodedata.normalize("NFC", item.about)
    if item.kind == "set":
        about = str(body.get("ref") or about)
        # Filled in when it is linked; 1 stands for it while the form is checked.
        check_body("set", body | {"revision": body.get("revision") or "1"})
    else:
        check_body(item.kind, body)
    if about:
        check_ref(about, "about")
    return NewEntry(item.kind, body, about, item.corrects, item.seen_revision)


def _link(
    linker: chain.Linker, rows: Rows, item: NewEntry, *, actor: Actor, request_id: str, at: str
) -> Entry:
    body: Any = item.body
    current = rows.get("object", item.about) if item.about else None
    if item.seen_revision is not None:
        _check_seen(item, current, rows)
    if item.kind == "set":
        body = _completed(item, body, rows)
    check_allowed(
        item.kind,
        item.about,
        body,
        item.corrects,
        by=actor.name,
        role=actor.role,
        rows=rows,
        plain=actor.way == "plain",
    )
    entry, before = linker.link(
        request_id=request_id,
        kind=item.kind,
        about=item.about,
        at=at,
        by=actor.name,
        role=actor.role,
        body=body,
        corrects=item.corrects,
    )
    fold(entry, rows, at_before=before)
    return entry


def _completed(item: NewEntry, body: dict[str, JsonValue], rows: Rows) -> dict[str, JsonValue]:
    """A "set" with its revision and the digests of what it is made from."""
    last = max((int(row["revision"]) for row in rows.where("revision", "ref", item.about)), default=0)
    revision = int(str(body.get("revision") or last + 1))
    if revision <= last:
        raise ConflictError(
            "revision", found=revision, allowed=f"{last + 1} or later", because=f"{item.about} has it already"
        )
    made_from: list[JsonValue] = []
    listed: Any = body.get("made_from") or []
    for link in listed:
        digest = link["digest"]
        if not digest:
            parent = rows.get("object", link["ref"])
            if parent is None:
                raise UnknownNameError("made_from", found=link["ref"], mend="Make it first, or give its mark")
            digest = str(parent["digest"])
        made_from.append({"ref": link["ref"], "digest": digest})
    return body | {"revision": str(revision), "made_from": made_from}


def _check_seen(item: NewEntry, current: Mapping[str, Any] | None, rows: Rows) -> None:
    now = int(current["revision"]) if current else 0
    if item.seen_revision == now:
        return
    entry = rows.entry(int(current["seq"])) if current else None
    who = f" by {entry.by}, {entry.at[:10]} {entry.at[11:16]}" if entry else ""
    raise StaleRevisionError(
        item.about,
        found=f"revision {now}{who}{_told(current)}",
        allowed=f"revision {item.seen_revision}, which your page showed"
        if item.seen_revision
        else "a reference that is not taken yet",
        mend="Look at both, and send again what should stand",
    )


def _told(current: Mapping[str, Any] | None) -> str:
    """What stands there now, in words: what is said of it in one word each."""
    if current is None:
        return ""
    data = current["data"]
    if isinstance(data, str):
        data = json.loads(data)
    plain = [
        f"{name.replace('_', ' ')} {value}"
        for name, value in data.items()
        if value and isinstance(value, str)
    ]
    return ": " + ", ".join(plain[:TOLD]) if plain else ""


def _check_same(before: Sequence[Entry], items: Sequence[NewEntry], actor: Actor, request_id: str) -> None:
    """The same form sent again is the same; the same number on another form is a mistake that must
    be heard, or what was entered on it would be lost in silence."""
    same = len(before) == len(items) and all(
        entry.by == actor.name
        and entry.kind == item.kind
        and entry.about == item.about
        and entry.corrects == item.corrects
        and _as_sent(entry.kind, entry.body) == _as_sent(item.kind, item.body)
        for entry, item in zip(before, items, strict=False)
    )
    if not same:
        raise ConflictError(
            "form",
            found=f"request {request_id}, entry {before[0].seq}",
            because="this form has been sent before with other values; nothing was changed",
            mend="Open the page again and enter it anew",
        )


def _as_sent(kind: str, body: Mapping[str, Any]) -> dict[str, Any]:
    """A body without what was filled in when it was linked."""
    if kind != "set":
        return dict(body)
    made_from = sorted(item["ref"] for item in body.get("made_from") or ())
    return {name: value for name, value in body.items() if name != "revision"} | {"made_from": made_from}
