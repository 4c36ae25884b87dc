"""The breakdown: what an entry makes of an object, and the mark *made to an earlier revision*."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ribwright.core.record.canonical import digest_of_text, dump_normal
from ribwright.core.record.entry import Entry
from ribwright.core.record.rows import Rows
from ribwright.core.record.tables import LINK, OBJECT, REVISION


def object_digest(
    *, noun: str, ref: str, hand: str, data: Mapping[str, Any], made_from: Mapping[str, str]
) -> str:
    """Digest of what an object is. Its title, its place and its revision number don't change it."""
    return digest_of_text(
        dump_normal(
            {"data": dict(data), "hand": hand, "made_from": dict(made_from), "noun": noun, "ref": ref}
        )
    )


def set_object(entry: Entry, body: Mapping[str, Any], rows: Rows) -> None:
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
    spread(ref, rows)


def _moved(parent: str, digest: str, rows: Rows) -> int:
    """Whether a parent is no longer what the child was made from. What the project doesn't hold
    (a table of the program, a formula) can't move here."""
    row = rows.get("object", parent)
    return int(row is not None and (row["digest"] != digest or bool(row["withdrawn"])))


def spread(ref: str, rows: Rows) -> None:
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


def withdraw(entry: Entry, body: Mapping[str, Any], rows: Rows) -> None:
    row = rows.get("object", entry.about)
    if row is not None:
        rows.change("object", row, withdrawn=entry.seq)
        spread(entry.about, rows)


def restore(ref: str, rows: Rows) -> None:
    """Give an object the state of its newest revision that still stands, or take it away."""
    standing = [row for row in rows.where("revision", "ref", ref) if not row["undone"]]
    old = rows.get("object", ref)
    if not standing:
        for link in rows.where("link", "child", ref):
            rows.drop("link", ref, link["parent"])
        rows.drop("object", ref)
        spread(ref, rows)
        return
    last = max(standing, key=lambda row: row["seq"])
    entry = rows.entry(int(last["seq"]))
    if entry is not None:
        set_object(entry, entry.body, rows)
        row = rows.get("object", ref)
        if old is not None and row is not None and old["first_seq"] != row["first_seq"]:
            rows.change("object", row, first_seq=old["first_seq"])
