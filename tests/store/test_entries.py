"""Entering: once, in order, by whom it is open to, and never over what somebody else wrote."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from ribwright.errors import (
    ConflictError,
    FormatError,
    MissingError,
    OutOfRangeError,
    RefusedError,
    StaleRevisionError,
    UnknownNameError,
)
from ribwright.services.project import Actor, Project
from ribwright.services.record import (
    add_entries,
    add_entry,
    get_object,
    history,
    new_object,
    objects,
    search,
    set_object,
)

BUILDER = Actor("Ann Bell", "builder")
HELPER = Actor("Tom", "helper")
ADVISER = Actor("Ida", "adviser")
Enter = Callable[..., int]


def test_an_entry_follows_the_one_before(project: Project) -> None:
    first = add_entry(project, actor=BUILDER, request_id="a", kind="note", body={"words": "one"})
    second = add_entry(project, actor=BUILDER, request_id="b", kind="note", body={"words": "two"})
    assert (first.seq, second.seq) == (2, 3)
    assert second.previous == first.digest


def test_a_form_sent_twice_counts_once(project: Project, seam: str) -> None:
    body = {"hours": "1.25", "stage": "drill"}
    one = add_entry(project, actor=BUILDER, request_id="same", kind="work", about=seam, body=body)
    two = add_entry(project, actor=BUILDER, request_id="same", kind="work", about=seam, body=body)
    assert one == two
    assert [line.entry.kind for line in history(project, seam)] == ["set", "work"]


def test_one_request_id_on_two_forms_is_heard(project: Project, seam: str) -> None:
    add_entry(project, actor=BUILDER, request_id="same", kind="work", about=seam, body={"hours": "1"})
    with pytest.raises(ConflictError, match="sent before with other values"):
        add_entry(project, actor=BUILDER, request_id="same", kind="work", about=seam, body={"hours": "2"})
    with pytest.raises(ConflictError):
        add_entry(project, actor=HELPER, request_id="same", kind="work", about=seam, body={"hours": "1"})


def test_setting_twice_with_one_request_makes_one_revision(project: Project, seam: str) -> None:
    for _ in range(2):
        made = set_object(
            project,
            actor=BUILDER,
            request_id="r",
            noun="part",
            ref="DN-2101",
            parent="DN",
            data={"thickness": ".025"},
        )
    assert made.revision == 2


def test_an_old_page_does_not_overwrite_a_newer_one(project: Project, seam: str) -> None:
    set_object(
        project,
        actor=HELPER,
        request_id="r1",
        noun="part",
        ref="DN-2101",
        data={"thickness": ".025"},
        seen_revision=1,
    )
    with pytest.raises(StaleRevisionError) as refused:
        set_object(
            project,
            actor=BUILDER,
            request_id="r2",
            noun="part",
            ref="DN-2101",
            data={"thickness": ".032"},
            seen_revision=1,
        )
    assert "revision 2 by Tom" in str(refused.value)
    assert ".025" in str(refused.value)
    assert get_object(project, "DN-2101").data == {"thickness": ".025"}
    with pytest.raises(StaleRevisionError):
        set_object(project, actor=BUILDER, request_id="r3", noun="part", ref="DN-9", data={}, seen_revision=2)
    assert set_object(
        project, actor=BUILDER, request_id="r4", noun="part", ref="DN-9", data={}, seen_revision=0
    )


def test_many_entries_are_all_made_or_none(project: Project) -> None:
    items = [new_object("part", f"DN-{n}", {"n": str(n)}) for n in range(400)]
    made = add_entries(project, actor=BUILDER, request_id="batch", items=items)
    assert len(made) == 400
    assert add_entries(project, actor=BUILDER, request_id="batch", items=items) == made
    assert len(objects(project, noun="part")) == 400
    bad = [new_object("part", "DN-new", {}), new_object("part", "DN-lost", {}, parent="nowhere")]
    with pytest.raises(UnknownNameError):
        add_entries(project, actor=BUILDER, request_id="bad", items=bad)
    with pytest.raises(UnknownNameError):
        get_object(project, "DN-new")


def test_a_new_revision_marks_what_was_made_from_it(project: Project, seam: str) -> None:
    set_object(
        project,
        actor=BUILDER,
        request_id="s",
        noun="task",
        ref="sheet",
        data={"kind": "bench sheet"},
        made_from=[seam],
    )
    set_object(
        project,
        actor=BUILDER,
        request_id="t",
        noun="part",
        ref="DN-2101",
        parent="DN",
        data={"thickness": ".025"},
    )
    assert [found.ref for found in objects(project, outdated=True)] == [seam, "sheet"]
    # Made anew from the new revision, the seam is in order; the sheet still shows the old seam.
    set_object(
        project,
        actor=BUILDER,
        request_id="u",
        noun="operation",
        ref=seam,
        parent="DN-2101",
        data={"rivet": "AN426AD3"},
        made_from=["DN-2101"],
    )
    assert [found.ref for found in objects(project, outdated=True)] == ["sheet"]


def test_putting_a_revision_back_takes_the_mark_away(project: Project, seam: str) -> None:
    set_object(
        project,
        actor=BUILDER,
        request_id="t",
        noun="part",
        ref="DN-2101",
        parent="DN",
        data={"thickness": ".025"},
    )
    assert get_object(project, seam).outdated
    entry = history(project, "DN-2101")[-1].entry
    add_entry(
        project, actor=BUILDER, request_id="z", kind="undo", about="DN-2101", body={}, corrects=entry.seq
    )
    assert not get_object(project, seam).outdated
    assert get_object(project, "DN-2101").revision == 1
    again = set_object(
        project, actor=BUILDER, request_id="v", noun="part", ref="DN-2101", parent="DN", data={}
    )
    assert again.revision == 3, "a number that was once shown is not given again"


def test_what_a_role_may_enter(project: Project, seam: str, enter: Enter) -> None:
    enter("work", seam, actor=HELPER, hours="2")
    enter("question", seam, actor=ADVISER, words="Which alloy is the spar?")
    for actor, kind, body in (
        (HELPER, "sign", {}),
        (HELPER, "disposition", {"discrepancy": "D9", "decision": "rework"}),
        (ADVISER, "note", {"words": "x"}),
        (ADVISER, "work", {"hours": "1"}),
        (ADVISER, "sign", {}),
    ):
        with pytest.raises(RefusedError):
            enter(kind, seam, actor=actor, **body)
    with pytest.raises(RefusedError):
        set_object(project, actor=ADVISER, request_id="q", noun="part", ref="DN-2101", data={})


def test_bad_input_is_a_sentence(project: Project, seam: str, enter: Enter) -> None:
    for error, kind, about, body in (
        (FormatError, "note", "", {"words": "x", "value2": 3.5}),
        (FormatError, "reading", seam, {"requirement": "r", "value": 0.032}),
        (FormatError, "note", "", {"words": "bell \x07"}),
        (FormatError, "note", "", {"words": "\ud800"}),
        (MissingError, "note", "", {}),
        (MissingError, "finding", seam, {"requirement": "r", "verdict": "rework"}),
        (UnknownNameError, "finding", seam, {"requirement": "r", "verdict": "fine", "reason": "x"}),
        (UnknownNameError, "note", "no-such-part", {"words": "x"}),
        (UnknownNameError, "gossip", "", {"words": "x"}),
        (OutOfRangeError, "work", seam, {"hours": "-1"}),
        (OutOfRangeError, "work", seam, {"hours": "nan"}),
        (OutOfRangeError, "work", seam, {"hours": "lots"}),
        (OutOfRangeError, "note", " DN", {"words": "x"}),
        (MissingError, "disposition", seam, {"discrepancy": "D1", "decision": "use as is"}),
    ):
        with pytest.raises(error):
            enter(kind, about, **body)
    for request_id in ("", "a b", "x" * 81, "a#1", "é"):
        with pytest.raises(FormatError):
            add_entry(project, actor=BUILDER, request_id=request_id, kind="note", body={"words": "x"})


def test_an_object_is_never_inside_or_made_from_itself(project: Project, seam: str) -> None:
    with pytest.raises(ConflictError):
        set_object(
            project, actor=BUILDER, request_id="a", noun="aircraft", ref="DN", parent="DN-2101", data={}
        )
    with pytest.raises(ConflictError):
        set_object(
            project,
            actor=BUILDER,
            request_id="b",
            noun="part",
            ref="DN-2101",
            parent="DN",
            data={},
            made_from=[seam],
        )
    with pytest.raises(ConflictError):
        set_object(project, actor=BUILDER, request_id="c", noun="tool", ref="DN-2101", data={})


@pytest.mark.parametrize(
    "ref", ["'; DROP TABLE entry; --", '"quoted" #1', "Flügel/ü", "%_", "../../etc/passwd", "a\\b"]
)
def test_hostile_references_are_only_names(project: Project, ref: str) -> None:
    made = set_object(project, actor=BUILDER, request_id="h", noun="part", ref=ref, data={"x": ref})
    assert get_object(project, ref) == made
    assert [line.entry.body["ref"] for line in history(project, ref)] == [ref]
    assert objects(project, parent=ref) == ()


def test_one_spelling_of_a_reference(project: Project) -> None:
    set_object(project, actor=BUILDER, request_id="n", noun="part", ref="Flu\u0308gel", data={})
    assert get_object(project, "Fl\u00fcgel").ref == "Fl\u00fcgel"


def test_search_wants_all_words_and_shows_the_newest_first(project: Project, seam: str, enter: Enter) -> None:
    first = enter("note", seam, words="Déburred the inboard rib, 3/32 holes")
    second = enter("note", seam, words="Dimpled the inboard rib")
    enter("note", "", words="bought rivets")
    found = [entry.seq for entry in search(project, "rib inb", 10)]
    assert found == [second, first]
    assert [entry.seq for entry in search(project, "deburred 3/32", 10)] == [first]
    assert [entry.seq for entry in search(project, "rib inboard", 10, before=second)] == [first]
    assert search(project, "rib outboard", 10) == ()
    for nonsense in ("", "  ", "'\"*&|!:()", "NEAR(", "a AND OR"):
        assert search(project, nonsense, 10) == ()
    assert [entry.seq for entry in search(project, "-rib* 'inboard'", 10)] == [second, first]
