"""Canonical text: one spelling of a value, and no numbers."""

from __future__ import annotations

import hashlib
import json

import pytest

from ribwright.core.record.canonical import canonical_text, digest_of, read_canonical
from ribwright.errors import FormatError


def test_keys_are_sorted_and_nothing_is_spaced() -> None:
    assert (
        canonical_text({"b": ["x", True, None], "a": {"ü": "“1/8 in”"}})
        == '{"a":{"ü":"“1/8 in”"},"b":["x",true,null]}'
    )


def test_one_spelling_of_a_letter() -> None:
    assert canonical_text("u\u0308") == canonical_text("\u00fc") == '"\u00fc"'
    with pytest.raises(FormatError, match="twice"):
        canonical_text({"u\u0308": "a", "\u00fc": "b"})


@pytest.mark.parametrize(
    "value",
    [1, 1.5, float("nan"), b"x", {1: "x"}, {"a": {2}}, object(), "\x00", "\x1b[31m", "\ud800", "\x7f"],
)
def test_what_has_no_one_spelling_is_refused(value: object) -> None:
    with pytest.raises(FormatError):
        canonical_text({"value": value})  # type: ignore[dict-item]


def test_nesting_and_length_have_an_end() -> None:
    deep: object = "x"
    for _ in range(60):
        deep = [deep]
    with pytest.raises(FormatError, match="deeply"):
        canonical_text(deep)  # type: ignore[arg-type]
    with pytest.raises(FormatError):
        canonical_text("é" * 1_100_000)


def test_the_digest_is_sha_256_of_the_text() -> None:
    value = {"requirement": "edge distance", "value": ".25"}
    plain = json.dumps(value, sort_keys=True, separators=(",", ":"))
    assert digest_of(value) == hashlib.sha256(plain.encode()).hexdigest()


@pytest.mark.parametrize(
    "text",
    [
        '{"a": "x"}',
        '{"b":"x","a":"y"}',
        '{"a":"x","a":"x"}',
        '{"a":1}',
        '{"a":1e999}',
        '{"a":NaN}',
        '{"a":"\\u00fc"}',
        '{"a":"x"} ',
        "",
        "[" * 100_000,
        '{"a":' + "9" * 5000 + "}",
    ],
)
def test_any_other_spelling_is_refused_when_it_is_read(text: str) -> None:
    with pytest.raises(FormatError):
        read_canonical(text)
