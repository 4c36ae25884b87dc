"""Whatever is entered, in whatever order: the fold of one entry at a time equals the rebuild of all."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from ribwright.core.record.canonical import canonical_text, read_canonical
from ribwright.core.record.entry import ENTRY_KINDS, ROLES
from ribwright.core.record.words import words_in
from ribwright.errors import RibwrightError
from ribwright.services.project import Actor, create_project
from ribwright.services.record import NewEntry, add_entries, objects
from ribwright.services.seals import check


def refusal(call: Callable[[], object]) -> str:
    """The sentence with which it is refused, or "" when it isn't; any other error fails the test."""
    try:
        call()
    except RibwrightError as error:
        return str(error)
    return ""


plain_text = st.text(st.characters(exclude_categories=("Cs", "Cc")) | st.sampled_from("\n\t"), max_size=30)
values = st.recursive(
    plain_text | st.booleans() | st.none(),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(plain_text, inner, max_size=4),
    max_leaves=12,
)
anything = st.recursive(
    st.text(max_size=10) | st.booleans() | st.none() | st.integers() | st.floats() | st.binary(max_size=4),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=6), inner, max_size=3),
    max_leaves=8,
)


@given(values)
def test_canonical_text_reads_back_and_is_its_own_spelling(value: Any) -> None:
    sentence = refusal(lambda: canonical_text(value))
    if sentence:
        assert "twice" in sentence, "only two names that become one are refused"
        return
    text = canonical_text(value)
    back = read_canonical(text)
    assert canonical_text(back) == text
    assert json.loads(text) == back


@given(anything)
def test_anything_is_text_or_a_sentence(value: Any) -> None:
    sentence = refusal(lambda: canonical_text(value))
    assert len(sentence) > 10 or isinstance(canonical_text(value), str)


@given(st.text(max_size=60))
def test_words_are_plain_and_found_by_themselves(text: str) -> None:
    for word in words_in(text):
        assert word.isascii()
        assert word.isalnum()
        assert word == word.lower()
        assert words_in(word) == (word,)


REFS = ("A", "B", "C", "D")
ref = st.sampled_from(REFS)
small = st.sampled_from(("1", "2", ".025", "x"))
number = st.integers(1, 30)
body_of: dict[str, st.SearchStrategy[dict[str, Any]]] = {
    "withdraw": st.just({"because": "b"}),
    "work": st.fixed_dictionaries({"hours": small}, optional={"stage": st.sampled_from(("drill", "rivet"))}),
    "reading": st.fixed_dictionaries({"requirement": small, "value": small}),
    "finding": st.fixed_dictionaries(
        {"requirement": small, "verdict": st.sampled_from(("refer", "rework")), "reason": small}
    ),
    "material": st.fixed_dictionaries({"item": small}),
    "discrepancy": st.fixed_dictionaries({"what": small}),
    "disposition": st.fixed_dictionaries(
        {
            "discrepancy": st.builds("D{}".format, number),
            "decision": st.sampled_from(("rework", "use as is")),
            "reason": small,
            "authority": small,
            "closes": st.sampled_from(("yes", "no")),
        }
    ),
    "question": st.fixed_dictionaries({"words": small}),
    "answer": st.fixed_dictionaries({"question": st.builds(str, number), "words": small}),
    "sign": st.fixed_dictionaries({}, optional={"stage": st.sampled_from(("drill", "rivet"))}),
    "correction": st.fixed_dictionaries(
        {
            "because": small,
            "instead": st.fixed_dictionaries(
                {"hours": small, "requirement": small, "value": small, "item": small}
            ),
        }
    ),
    "undo": st.just({}),
    "note": st.fixed_dictionaries({"words": plain_text}),
}


@st.composite
def changes(draw: st.DrawFn) -> NewEntry:
    """A change that may well be refused: what counts is that it is refused with a sentence."""
    kind = draw(st.sampled_from((*ENTRY_KINDS, "set", "set", "undo")))
    about = draw(ref)
    if kind == "set":
        body = {
            "noun": "operation",
            "ref": about,
            "revision": draw(st.sampled_from(("", "", "", "5"))),
            "parent": draw(st.sampled_from(("", *REFS))),
            "data": {"t": draw(small)},
            "made_from": [{"ref": parent, "digest": ""} for parent in draw(st.sets(ref, max_size=2))],
        }
        return NewEntry("set", body, about)
    body = draw(body_of.get(kind, body_of["note"]))
    corrects = draw(number) if kind in ("undo", "correction") else None
    return NewEntry(kind, body, about, corrects)


@settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    st.lists(changes(), min_size=5, max_size=30), st.lists(st.sampled_from(ROLES), min_size=1, max_size=30)
)
def test_entering_one_by_one_equals_rebuilding_all(items: list[NewEntry], roles: list[str]) -> None:
    with (
        tempfile.TemporaryDirectory() as folder,
        create_project(Path(folder) / "p", name="P", actor=Actor("Ann"), request_id="made") as project,
    ):
        first = [
            NewEntry("set", {"noun": "operation", "ref": name, "revision": "", "data": {}}, name)
            for name in "AB"
        ]
        made = list(add_entries(project, actor=Actor("Ann"), request_id="first", items=first))
        for at, item in enumerate(items):
            role = roles[at % len(roles)] if at % 3 == 0 else "builder"
            actor, before = Actor("Ann", role), len(made)
            sentence = refusal(
                lambda: made.extend(add_entries(project, actor=actor, request_id=f"i{at}", items=[item]))  # noqa: B023
            )
            assert len(made) == before + (not sentence)
        assert check(project).problems == ()
        assert [entry.seq for entry in made] == list(range(2, 2 + len(made)))
        for found in objects(project, withdrawn=True):
            above, steps = found.parent, 0
            while above:
                above = next(one.parent for one in objects(project, withdrawn=True) if one.ref == above)
                steps += 1
                assert steps < 10, "an object is inside itself"


@pytest.mark.parametrize("kind", ENTRY_KINDS)
@settings(max_examples=25, deadline=None)
@given(
    body=st.dictionaries(
        st.sampled_from(
            (
                "words",
                "hours",
                "value",
                "requirement",
                "ref",
                "noun",
                "revision",
                "data",
                "made_from",
                "digest",
                "instead",
                "because",
                "question",
                "discrepancy",
            )
        ),
        anything,
        max_size=5,
    )
)
def test_any_body_is_taken_or_refused_with_a_sentence(kind: str, body: dict[str, Any]) -> None:
    from ribwright.core.record.bodies import check_body
    from ribwright.core.record.canonical import normal

    sentence = refusal(lambda: check_body(kind, normal(body)))
    assert sentence == "" or len(sentence) > 10
