"""Every mistake of the list gets one of three answers; primary parts get only the question."""

from __future__ import annotations

from typing import Any

import pytest

from ribwright.core.audit import Worksheet, read
from ribwright.core.fastening import mistakes
from ribwright.core.fastening.question import question_document
from ribwright.core.writers.to_text import text_of_document
from ribwright.errors import GeometryError, MissingError
from unit.fastening.test_first_calculations import run, value

LAYERS = [{"part": "skin", "thickness": ".020"}, {"part": "rib", "thickness": ".025"}]
HOLE: dict[str, Any] = {
    "title": "skin to rib 3",
    "layers": LAYERS,
    "part": "DN-2101",
    "drawing": "DN-2100",
    "revision": "B",
    "hole": 7,
}
FULL = {
    "largest": ".112",
    "smallest": ".104",
    "edge": ".4",
    "drawn_edge": ".4",
    "pitch": "1",
    "seat": ".2",
    "uncertainty": ".001",
}


@pytest.mark.parametrize("what", mistakes.WHATS)
@pytest.mark.parametrize("primary", ["no", "yes"])
def test_every_mistake_has_an_answer(what: str, primary: str) -> None:
    outcome = run("mistake", **HOLE, **FULL, what=what, primary=primary)
    answer = value(outcome, "answer")
    assert answer in ("within limits", "how to mend", "ask")
    sheet = outcome.sheets[0]
    if primary == "yes":
        assert answer == "ask"
        assert "none until" in value(outcome, "next_rivet")
        assert not sheet.tray
        assert not any(word in " ".join(sheet.steps) for word in ("Drill", "Replace", "drill it"))
    if answer == "ask":
        assert sheet.stage == "question to the designer"
        assert "DN-2101" in value(outcome, "question")
    elif answer == "how to mend":
        assert sheet.steps


def test_oversize_hole_takes_the_next_rivet_only_where_it_keeps_its_distances() -> None:
    good = run("mistake", **HOLE, what="oversize hole", **FULL)
    assert (value(good, "answer"), value(good, "next_rivet")) == ("how to mend", "1/8 in")
    near = run("mistake", **HOLE, what="oversize hole", **FULL | {"edge": ".30"})
    assert value(near, "answer") == "ask"
    silent = run("mistake", **HOLE, what="oversize hole", largest=".112")
    assert value(silent, "answer") == "ask"
    huge = run("mistake", **HOLE, what="oversize hole", **FULL | {"largest": ".150"})
    assert value(huge, "answer") == "ask"
    fine = run("mistake", **HOLE, what="oversize hole", **FULL | {"largest": ".0985", "smallest": ".098"})
    assert value(fine, "answer") == "within limits"


def test_a_hole_smaller_than_its_drill_is_finished_and_takes_no_larger_rivet() -> None:
    small = run("mistake", **HOLE, **FULL | {"largest": ".080", "smallest": ""}, what="oversize hole")
    assert value(small, "answer") == "how to mend"
    assert value(small, "next_rivet") == "3/32 in"
    assert "once more" in str(small.sheets[0].steps)
    assert "unfinished" in value(small, "why")


def test_a_reading_that_can_not_be_told_from_the_limit_is_not_called_good() -> None:
    edge = 2.5 * 0.09375
    outcome = run("mistake", **HOLE, what="short edge distance", edge=f"{edge + 0.001}", uncertainty=".002")
    assert outcome.findings[0].verdict.value == "undecided"
    assert value(outcome, "answer") == "ask"


def test_as_built_against_as_drawn_by_hand() -> None:
    outcome = run("mistake", **HOLE, what="short edge distance", edge=".20", drawn_edge=".25")
    assert value(outcome, "as_built_percent") == pytest.approx(
        100 * (0.20 - 0.048) / (0.25 - 0.048), rel=1e-9
    )


def test_new_cracked_part_is_replaced_and_never_stop_drilled() -> None:
    new = run("mistake", **HOLE, what="crack in a new part")
    assert "never stop-drilled" in value(new, "why")
    assert value(run("mistake", **HOLE, what="crack in service"), "answer") == "ask"


def test_the_question_fits_one_document_with_everything_in_it() -> None:
    made = read(
        mistakes.Mistake,
        HOLE
        | FULL
        | {"what": "figure-eight hole", "primary": "yes", "photo": "IMG 7", "proposal": "1/8 rivet"},
    )
    ruling = mistakes.judge(made, Worksheet())
    said = text_of_document(question_document(made, ruling))
    assert said == text_of_document(mistakes.question_for(made))
    for needed in (
        "DN-2101",
        "DN-2100",
        "revision B",
        "figure-eight",
        "0.112 in",
        "± .001",
        "IMG 7",
        "1/8 rivet",
        "As built against as drawn",
        "%",
    ):
        assert needed in said, needed


@pytest.mark.parametrize(
    ("raw", "error"),
    [
        ({"what": "oversize hole"}, MissingError),
        ({"what": "figure-eight hole", "largest": ".12"}, MissingError),
        ({"what": "oversize hole", "largest": ".1", "smallest": ".12"}, GeometryError),
        ({"what": "short edge distance", "edge": ".04", "largest": ".1"}, GeometryError),
    ],
)
def test_what_is_missing_or_impossible_is_named(raw: dict[str, str], error: type[Exception]) -> None:
    with pytest.raises(error):
        run("mistake", **HOLE, **raw)
