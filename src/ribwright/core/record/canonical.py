"""Canonical text: the one way in which a value is written before it is hashed.

Sorted keys, no spaces, UTF-8, strings in normal form C. Numbers are text as entered, so that a
digest never depends on how a machine prints a float.
"""

from __future__ import annotations

import hashlib
import json
import unicodedata
from collections.abc import Mapping, Sequence
from typing import Union

from ribwright.errors import FormatError

JsonValue = Union[str, bool, None, Sequence["JsonValue"], Mapping[str, "JsonValue"]]  # noqa: UP007
"""What an entry may hold: text, yes/no, nothing, lists and named values. No numbers."""

MAX_DEPTH = 24
MAX_TEXT_BYTES = 2_000_000

_ALLOWED_CONTROLS = "\n\t"


def canonical_text(value: JsonValue) -> str:
    """Write a value in the one form that is hashed.

    Args:
        value: text, bool, None, lists and dicts of them. Numbers must be text already.

    Returns:
        JSON with sorted keys and no spaces, every string in normal form C.

    Raises:
        FormatError: a number, another type, a control character, or nesting beyond the limit.
    """
    return dump_normal(normal(value))


def normal(value: JsonValue) -> JsonValue:
    """A copy of the value with every string in normal form C; refuses what can't be written."""
    return _normal(value, 0)


def dump_normal(value: JsonValue) -> str:
    """The canonical text of a value that ``normal`` has already put right."""
    text = _dump(value)
    if len(text) > MAX_TEXT_BYTES // 4 and len(text.encode()) > MAX_TEXT_BYTES:
        raise FormatError("entry", found=f"{len(text)} characters", allowed=f"up to {MAX_TEXT_BYTES} bytes")
    return text


def digest_of(value: JsonValue) -> str:
    """SHA-256, as 64 hex digits, of the canonical text of a value."""
    return digest_of_text(canonical_text(value))


def digest_of_text(text: str) -> str:
    """SHA-256, as 64 hex digits, of a text in UTF-8."""
    return hashlib.sha256(text.encode()).hexdigest()


def read_canonical(text: str) -> JsonValue:
    """Read a canonical text back; refuse any other spelling of the same value.

    Raises:
        FormatError: not JSON, or not written canonically (so that two texts never mean one value).
    """
    try:
        value: JsonValue = json.loads(text)
        again = canonical_text(value)
    except (ValueError, RecursionError) as error:
        raise FormatError("record text", found=text[:80], because="this is not an entry") from error
    if again != text:
        raise FormatError(
            "record text", found=text[:80], because="this is not written as the record writes it"
        )
    return value


_encoder = json.JSONEncoder(ensure_ascii=False, sort_keys=True, separators=(",", ":"))
_dump = _encoder.encode


def _normal(value: object, depth: int) -> JsonValue:
    kind = type(value)  # the common types are told by identity: this runs for every value of an import
    if kind is str or isinstance(value, str):
        return _normal_text(str(value))
    if value is None or kind is bool:
        return value  # type: ignore[return-value]
    if depth >= MAX_DEPTH:
        raise FormatError("entry", found="values nested too deeply", allowed=f"{MAX_DEPTH} levels")
    if kind is dict or isinstance(value, Mapping):
        out: dict[str, JsonValue] = {}
        for key, item in value.items():  # type: ignore[attr-defined]
            if not isinstance(key, str):
                raise FormatError("entry", found=f"the name {key!r}", allowed="names that are text")
            name = _normal_text(key)
            if name in out:
                raise FormatError("entry", found=f"the name {name!r} twice", allowed="each name once")
            out[name] = _normal_text(item) if type(item) is str else _normal(item, depth + 1)
        return out
    if isinstance(value, list | tuple):
        return [_normal(item, depth + 1) for item in value]
    raise FormatError(
        "entry",
        found=f"{value!r} ({kind.__name__})",
        allowed="text, yes/no, nothing, lists and named values",
        mend="write numbers as text, just as they were entered",
    )


def _normal_text(text: str) -> str:
    if text.isascii() and text.isprintable():
        return text
    for character in text:
        # Control characters can't be stored everywhere, and hide what is written; a lone surrogate
        # is not text at all.
        code = ord(character)
        if (code < 32 and character not in _ALLOWED_CONTROLS) or code == 127 or 0xD800 <= code <= 0xDFFF:
            raise FormatError(
                "entry", found=f"the character U+{code:04X}", allowed="printable text, new lines and tabs"
            )
    return unicodedata.normalize("NFC", text)
