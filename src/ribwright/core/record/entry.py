"""An entry: one change that one person made, in the form that is hashed and chained.

The digest of an entry is the SHA-256 of its canonical text, and that text holds the digest of the
entry before. So the chain can be followed with nothing but ``sha256`` and a JSON reader.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from ribwright.core.record.canonical import (
    JsonValue,
    digest_of_text,
    dump_normal,
    read_canonical,
)
from ribwright.errors import FormatError, OutOfRangeError, UnknownNameError

ENTRY_KINDS = (
    "set",
    "withdraw",
    "work",
    "reading",
    "finding",
    "photo",
    "material",
    "notice",
    "departure",
    "visit",
    "discrepancy",
    "disposition",
    "question",
    "answer",
    "sign",
    "correction",
    "undo",
    "note",
)
ROLES = ("builder", "helper", "adviser", "inspector")

GENESIS = "0" * 64
"""What stands in the place of the entry before the first."""

_TEXT_KEYS = frozenset(
    ("about", "at", "body", "by", "corrects", "kind", "previous", "project", "request_id", "role", "seq")
)
_AT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ")
_DIGEST = re.compile(r"[0-9a-f]{64}")
_REQUEST = re.compile(r"[A-Za-z0-9][A-Za-z0-9._:~-]{0,79}")
_REQUEST_STORED = re.compile(r"[A-Za-z0-9][A-Za-z0-9._:~-]{0,79}(#[1-9]\d{0,8})?")


@dataclass(frozen=True, slots=True)
class Entry:
    """One link of the chain.

    Attributes:
        project: the project that it belongs to.
        seq: its place in the chain, from 1.
        request_id: made by the form that sent it; the same one never counts twice.
        kind: one of ``ENTRY_KINDS``.
        about: reference of the object that it is about, or "".
        at: when it was entered, UTC, ``YYYY-MM-DDTHH:MM:SSZ``, by the clock of the machine.
        by: the name of who entered it.
        role: builder, helper, adviser or inspector.
        body: what was entered; every number as text.
        corrects: the place of the entry that this one corrects or takes back, or None.
        previous: digest of the entry before.
        digest: SHA-256 of the canonical text.
    """

    project: str
    seq: int
    request_id: str
    kind: str
    about: str
    at: str
    by: str
    role: str
    body: Mapping[str, Any]
    corrects: int | None
    previous: str
    digest: str


def make_entry(
    *,
    project: str,
    seq: int,
    request_id: str,
    kind: str,
    about: str,
    at: str,
    by: str,
    role: str,
    body: Mapping[str, JsonValue],
    corrects: int | None,
    previous: str,
) -> tuple[Entry, str]:
    """Build an entry and the canonical text that is hashed.

    Args are as in ``Entry``; ``about``, ``by`` and ``body`` have been through ``canonical.normal``,
    which is where numbers and odd characters are refused.

    Returns:
        The entry with its digest, and its text.

    Raises:
        FormatError: the entry is too large.
    """
    text = dump_normal(
        {
            "about": about,
            "at": at,
            "body": body,
            "by": by,
            "corrects": "" if corrects is None else str(corrects),
            "kind": kind,
            "previous": previous,
            "project": project,
            "request_id": request_id,
            "role": role,
            "seq": str(seq),
        }
    )
    digest = digest_of_text(text)
    return Entry(project, seq, request_id, kind, about, at, by, role, body, corrects, previous, digest), text


def read_entry(text: str, *, canonical: bool = True) -> Entry:
    """Read an entry back from its text.

    Args:
        text: one line of an export, or the stored text.
        canonical: also refuse any other spelling of the same value; False when the digest of the
            text has already been found right.

    Raises:
        FormatError: it isn't an entry.
    """
    value = read_canonical(text) if canonical else _loads(text)
    if not isinstance(value, dict) or value.keys() != _TEXT_KEYS:
        raise FormatError("record text", found=text[:80], because="this is not an entry")
    body = value["body"]
    fields = {name: item for name, item in value.items() if name != "body"}
    if not isinstance(body, dict) or not all(isinstance(item, str) for item in fields.values()):
        raise FormatError("record text", found=text[:80], because="this is not an entry")
    plain: dict[str, str] = fields
    seq, corrects = _number(plain["seq"]), plain["corrects"]
    if (
        plain["kind"] not in ENTRY_KINDS
        or plain["role"] not in ROLES
        or not _AT.fullmatch(plain["at"])
        or not _DIGEST.fullmatch(plain["previous"])
        or not _REQUEST_STORED.fullmatch(plain["request_id"])
    ):
        raise FormatError("record text", found=text[:80], because="this entry has a field that can't be")
    return Entry(
        plain["project"],
        seq,
        plain["request_id"],
        plain["kind"],
        plain["about"],
        plain["at"],
        plain["by"],
        plain["role"],
        body,
        _number(corrects) if corrects else None,
        plain["previous"],
        digest_of_text(text),
    )


def check_request_id(request_id: str) -> str:
    """Refuse a request id that could not have been made by a form."""
    if not isinstance(request_id, str) or not _REQUEST.fullmatch(request_id):
        raise FormatError(
            "request id", found=request_id, allowed="1 to 80 letters, digits, dots, colons and hyphens"
        )
    return request_id


def check_ref(ref: str, field: str = "reference") -> str:
    """Refuse a reference that can't be printed, read aloud or typed again."""
    if (
        not isinstance(ref, str)
        or not 1 <= len(ref) <= 120
        or not ref.isprintable()
        or ref != ref.strip()
        or "  " in ref
    ):
        raise OutOfRangeError(
            field, found=ref, allowed="1 to 120 printable characters without spaces at the ends"
        )
    return ref


def check_name(name: str, field: str = "name") -> str:
    """Refuse a person's or device's name that is empty, too long, or can't be printed."""
    if (
        not isinstance(name, str)
        or not 1 <= len(name) <= 80
        or not name.isprintable()
        or name != name.strip()
    ):
        raise OutOfRangeError(field, found=name, allowed="1 to 80 printable characters")
    return name


def check_kind(kind: str) -> str:
    """Refuse an unknown kind of entry."""
    if kind not in ENTRY_KINDS:
        raise UnknownNameError("kind of entry", found=kind, allowed=", ".join(ENTRY_KINDS))
    return kind


def _number(text: str) -> int:
    if not text.isascii() or not text.isdigit() or len(text) > 12 or (text[0] == "0"):
        raise FormatError("record text", found=text[:20], because="this is not the number of an entry")
    return int(text)


def _loads(text: str) -> Any:
    import json

    try:
        return json.loads(text)
    except (ValueError, RecursionError) as error:
        raise FormatError("record text", found=text[:80], because="this is not an entry") from error
