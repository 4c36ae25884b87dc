"""The story of an operation: taking back, putting right, discrepancies, signing."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal

import pytest

from ribwright.errors import ConflictError, MissingError, RefusedError, UnknownNameError
from ribwright.services import amending, record
from ribwright.services.project import Actor, Project

BUILDER = Actor("Ann Bell", "builder")
HELPER = Actor("Tom", "helper")
ADVISER = Actor("Ida", "adviser")
Enter = Callable[..., int]


def test_what_is_undone_no_longer_counts_and_stays_in_the_story(
    project: Project, seam: str, enter: Enter
) -> None:
    enter("work", seam, hours="1.25")
    wrong = enter("work", seam, hours="12.5")
    undone = amending.undo(project, actor=BUILDER, request_id="u", seq=wrong, because="a slip")
    assert record.hours(project, seam) == Decimal("1.25")
    line = record.get_entry(project, wrong)
    assert line.undone_by == undone.seq
    assert not line.stands
    with pytest.raises(ConflictError, match="no longer stands"):
        amending.undo(project, actor=BUILDER, request_id="u2", seq=wrong)


def test_a_correction_stands_in_the_place_of_the_old_entry(project: Project, seam: str, enter: Enter) -> None:
    old = enter("reading", seam, requirement="shop head", value=".140", unit="in")
    new = amending.correct(
        project,
        actor=BUILDER,
        request_id="c",
        seq=old,
        because="misread",
        instead={"requirement": "shop head", "value": ".141", "unit": "in"},
    )
    assert [(row["seq"], row["value"]) for row in record.readings(project, seam)] == [(new.seq, ".141")]
    assert record.get_entry(project, old).corrected_by == new.seq
    # A correction of the correction, taken back again: the first correction stands.
    third = amending.correct(
        project,
        actor=BUILDER,
        request_id="d",
        seq=new.seq,
        because="again",
        instead={"requirement": "shop head", "value": ".142"},
    )
    assert [row["value"] for row in record.readings(project, seam)] == [".142"]
    amending.undo(project, actor=BUILDER, request_id="e", seq=third.seq)
    assert [row["value"] for row in record.readings(project, seam)] == [".141"]
    amending.undo(project, actor=BUILDER, request_id="f", seq=new.seq)
    assert [row["value"] for row in record.readings(project, seam)] == [".140"]
    with pytest.raises(MissingError):
        amending.correct(project, actor=BUILDER, request_id="g", seq=old, because="no new value")


def test_a_helper_takes_back_only_what_is_his(project: Project, seam: str, enter: Enter) -> None:
    hers = enter("work", seam, hours="1")
    his = enter("work", seam, actor=HELPER, hours="2")
    with pytest.raises(RefusedError):
        amending.undo(project, actor=HELPER, request_id="u", seq=hers)
    amending.undo(project, actor=HELPER, request_id="v", seq=his)
    assert record.hours(project, seam) == 1


def test_refer_opens_a_discrepancy_that_blocks_until_it_is_settled(
    project: Project, seam: str, enter: Enter
) -> None:
    seq = enter(
        "finding", seam, requirement="edge distance", verdict="refer", margin="-.012", reason="too short"
    )
    (found,) = record.discrepancies(project, seam, unsettled=True)
    assert (found["ref"], found["state"], found["what"]) == (f"D{seq}", "open", "too short")
    with pytest.raises(ConflictError, match="discrepancy is open"):
        amending.sign(project, actor=BUILDER, request_id="s", about=seam)
    with pytest.raises(MissingError, match="authority"):
        amending.settle(
            project,
            actor=BUILDER,
            request_id="d1",
            discrepancy=found["ref"],
            decision="use as is",
            reason="it is fine",
        )
    amending.settle(
        project, actor=BUILDER, request_id="d2", discrepancy=found["ref"], decision="rework", closes=False
    )
    with pytest.raises(ConflictError, match="discrepancy is open"):
        amending.sign(project, actor=BUILDER, request_id="s2", about=seam)
    again = enter("reading", seam, requirement="edge distance", value=".26", unit="in")
    amending.settle(
        project,
        actor=BUILDER,
        request_id="d3",
        discrepancy=found["ref"],
        decision="repair",
        closing_reading=again,
    )
    assert record.discrepancies(project, seam, unsettled=True) == ()
    amending.sign(project, actor=BUILDER, request_id="s3", about=seam)
    assert [row["signed_by"] for row in record.signatures(project, seam)] == ["Ann Bell"]
    with pytest.raises(ConflictError, match="closed already"):
        amending.settle(project, actor=BUILDER, request_id="d4", discrepancy=found["ref"], decision="replace")


def test_what_is_signed_is_only_corrected(project: Project, seam: str, enter: Enter) -> None:
    work = enter("work", seam, hours="3")
    amending.sign(project, actor=BUILDER, request_id="s", about=seam)
    for kind, body in (
        ("work", {"hours": "1"}),
        ("reading", {"requirement": "r", "value": "1"}),
        ("finding", {"requirement": "r", "verdict": "rework", "reason": "x"}),
        ("material", {"item": "AN426AD3-4"}),
    ):
        with pytest.raises(ConflictError, match="signed by Ann Bell"):
            enter(kind, seam, **body)
    with pytest.raises(ConflictError):
        amending.undo(project, actor=BUILDER, request_id="u", seq=work)
    with pytest.raises(ConflictError):
        record.set_object(project, actor=BUILDER, request_id="o", noun="operation", ref=seam, data={})
    with pytest.raises(ConflictError):
        amending.sign(project, actor=BUILDER, request_id="s2", about=seam)
    amending.correct(
        project, actor=BUILDER, request_id="c", seq=work, because="clock ran on", instead={"hours": "2"}
    )
    assert record.hours(project, seam) == 2
    # A crack found later is entered and settled all the same.
    crack = enter("discrepancy", seam, what="crack at the third dimple")
    reading = enter("reading", seam, requirement="crack", value=".1", unit="in", discrepancy=f"D{crack}")
    amending.settle(
        project,
        actor=BUILDER,
        request_id="d",
        discrepancy=f"D{crack}",
        decision="replace",
        closing_reading=reading,
    )


def test_a_signature_is_lifted_only_with_a_reason(project: Project, seam: str, enter: Enter) -> None:
    signed = amending.sign(project, actor=BUILDER, request_id="s", about=seam)
    with pytest.raises(MissingError):
        amending.correct(project, actor=BUILDER, request_id="c", seq=signed.seq, because="")
    amending.correct(project, actor=BUILDER, request_id="d", seq=signed.seq, because="one rivet still to do")
    assert record.signatures(project, seam) == ()
    enter("work", seam, hours="1")


def test_one_stage_is_signed_by_itself(project: Project, seam: str, enter: Enter) -> None:
    amending.sign(project, actor=BUILDER, request_id="s", about=seam, stage="drill")
    enter("work", seam, hours="1", stage="dimple")
    with pytest.raises(ConflictError):
        enter("work", seam, hours="1", stage="drill")


def test_signing_reaches_what_lies_below(project: Project, seam: str, enter: Enter) -> None:
    record.set_object(
        project, actor=BUILDER, request_id="x", noun="operation", ref="row", parent=seam, data={}
    )
    amending.sign(project, actor=BUILDER, request_id="s", about=seam)
    with pytest.raises(ConflictError):
        enter("work", "row", hours="1")


def test_a_question_is_answered_once_by_whom_it_was_put_to(project: Project, seam: str, enter: Enter) -> None:
    seq = enter("question", seam, words="May the third hole be 5/32?")
    assert [row["seq"] for row in record.questions(project, seam, unanswered=True)] == [seq]
    enter(
        "answer", seam, actor=ADVISER, question=str(seq), words="Yes, with an AN470AD5.", authority="designer"
    )
    (row,) = record.questions(project, seam)
    assert (row["answered_by"], row["authority"]) == ("Ida", "designer")
    with pytest.raises(ConflictError):
        enter("answer", seam, question=str(seq), words="No.")
    with pytest.raises(UnknownNameError):
        enter("answer", seam, question="1", words="No.")


def test_primary_structure_is_known_by_its_discrepancies(project: Project, enter: Enter) -> None:
    record.set_object(
        project, actor=BUILDER, request_id="a", noun="part", ref="spar", data={"primary": "yes"}
    )
    record.set_object(
        project, actor=BUILDER, request_id="b", noun="operation", ref="spar/web", parent="spar", data={}
    )
    enter("discrepancy", "spar/web", what="oversize hole")
    assert [row["is_primary"] for row in record.discrepancies(project)] == [1]


def test_lots_are_traced_both_ways(project: Project, seam: str, enter: Enter) -> None:
    enter("material", seam, item="AN426AD3-4", lot="L77", quantity="34", unit="each")
    assert [row["about"] for row in record.materials(project, lot="L77")] == [seam]
    assert [row["lot"] for row in record.materials(project, seam)] == ["L77"]


def test_nothing_is_undone_that_something_stands_on(project: Project, seam: str, enter: Enter) -> None:
    made = record.history(project, "DN-2101")[0].entry.seq
    with pytest.raises(ConflictError, match="stands on it"):
        amending.undo(project, actor=BUILDER, request_id="u", seq=made)
    with pytest.raises(ConflictError):
        amending.undo(project, actor=BUILDER, request_id="v", seq=1)
    record.set_object(project, actor=BUILDER, request_id="n", noun="part", ref="loose", data={})
    amending.undo(project, actor=BUILDER, request_id="w", seq=record.history(project, "loose")[0].entry.seq)
    with pytest.raises(UnknownNameError):
        record.get_object(project, "loose")


def test_withdrawing_leaves_the_story(project: Project, seam: str, enter: Enter) -> None:
    with pytest.raises(ConflictError, match="below it"):
        enter("withdraw", "DN-2101", because="replaced")
    gone = enter("withdraw", seam, because="replaced by DN-2102")
    assert record.objects(project, noun="operation") == ()
    assert record.get_object(project, seam).withdrawn
    amending.undo(project, actor=BUILDER, request_id="u", seq=gone)
    assert not record.get_object(project, seam).withdrawn


def test_revisions_are_shown_side_by_side(project: Project, seam: str) -> None:
    record.set_object(
        project,
        actor=BUILDER,
        request_id="t",
        noun="part",
        ref="DN-2101",
        parent="DN",
        data={"thickness": ".025"},
    )
    old, new = record.revisions(project, "DN-2101")
    assert (old.revision, old.data["thickness"], new.revision, new.data["thickness"]) == (
        1,
        ".020",
        2,
        ".025",
    )


def test_a_clock_that_goes_back_is_said_and_the_order_stays(project: Project) -> None:
    from dataclasses import replace

    times = iter(["2026-03-01T10:00:00Z", "2026-02-01T10:00:00Z", "2026-02-01T10:00:01Z"])
    late = replace(project, now=lambda: next(times))
    for number in range(3):
        record.add_entry(
            late, actor=BUILDER, request_id=f"t{number}", kind="note", body={"words": str(number)}
        )
    lines = record.recent(project, kinds=["note"])
    assert [line.entry.body["words"] for line in lines] == ["2", "1", "0"]
    # The first note too: the project was made by the machine's own clock, after that date.
    assert [line.clock_back for line in lines] == [
        False,
        True,
        lines[2].entry.at < record.get_entry(project, 1).entry.at,
    ]
