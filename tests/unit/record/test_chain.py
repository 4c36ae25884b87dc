"""The chain can be followed with nothing but SHA-256 and a JSON reader."""

from __future__ import annotations

import hashlib
import json
from dataclasses import replace
from itertools import pairwise

import pytest

from ribwright.core.record.chain import follow
from ribwright.core.record.entry import GENESIS, Entry, check_ref, check_request_id, make_entry, read_entry
from ribwright.errors import FormatError, OutOfRangeError


def chain(count: int) -> list[tuple[Entry, str]]:
    made: list[tuple[Entry, str]] = []
    for seq in range(1, count + 1):
        made.append(
            make_entry(
                project="dunlin",
                seq=seq,
                request_id=f"r{seq}",
                kind="note",
                about="",
                at="2026-03-01T18:00:00Z",
                by="Ann “Bell”",
                role="builder",
                body={"words": f'ends like a tail ,"previous":"{GENESIS}","seq":"{seq}"}}'},
                corrects=None,
                previous=made[-1][0].digest if made else GENESIS,
            )
        )
    return made


def problems(made: list[tuple[Entry, str]]) -> list[tuple[int, str]]:
    rows = [(entry.seq, entry.request_id, entry.role, entry.digest, text) for entry, text in made]
    return [(problem.seq, problem.what) for problem in follow("dunlin", rows)]


def test_a_whole_chain_has_no_problems_and_reads_back() -> None:
    made = chain(6)
    assert problems(made) == []
    for entry, text in made:
        assert read_entry(text) == entry
        assert entry.digest == hashlib.sha256(text.encode()).hexdigest()
    for (before, _), (_, text) in pairwise(made):
        assert json.loads(text)["previous"] == before.digest


def test_each_break_is_named_where_it_is() -> None:
    made = chain(6)
    changed = [*made[:2], (made[2][0], made[2][1].replace("ends", "ENDS")), *made[3:]]
    assert problems(changed) == [(3, "its text does not give its digest")]
    assert problems(made[:3] + made[4:])[0] == (5, "entry 4 is missing, or out of its place")
    assert problems([made[1], made[0], *made[2:]])[0][0] == 2
    assert problems(made[1:])[0] == (2, "entry 1 is missing, or out of its place")
    forged, text = make_entry(
        project="dunlin", seq=3, request_id="r3", kind="note", about="", at="2026-03-01T18:00:00Z",
        by="Eve", role="builder", body={"words": "x"}, corrects=None, previous=made[1][0].digest,
    )  # fmt: skip
    assert problems([*made[:2], (forged, text), *made[3:]]) == [(4, "it does not follow the entry before it")]
    other = replace(made[0][0], role="helper")
    assert problems([(other, made[0][1]), *made[1:]]) == [(1, "it does not follow the entry before it")]


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("kind", "gossip"),
        ("role", "owner"),
        ("at", "yesterday"),
        ("previous", "0"),
        ("seq", "0"),
        ("seq", "01"),
        ("seq", "-1"),
        ("corrects", "x"),
        ("request_id", "a b"),
        ("body", "text"),
        ("by", None),
        ("more", "x"),
    ],
)
def test_an_entry_with_a_field_that_can_not_be_is_refused(field: str, value: object) -> None:
    plain = json.loads(chain(1)[0][1]) | {field: value}
    with pytest.raises(FormatError):
        read_entry(json.dumps(plain, sort_keys=True, separators=(",", ":"), ensure_ascii=False))


def test_names_that_can_not_be_read_aloud_are_refused() -> None:
    for ref in ("", " x", "x ", "a  b", "a\nb", "x" * 121, "\u200b"):
        with pytest.raises(OutOfRangeError):
            check_ref(ref)
    for ref in ("DN-2101", "left aileron / skin #3", "Flügel"):
        assert check_ref(ref) == ref
    with pytest.raises(FormatError):
        check_request_id("a#2")
