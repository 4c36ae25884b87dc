"""The closing list as a pure function: each line from plain values, done and open."""

from __future__ import annotations

from dataclasses import replace

import pytest

from ribwright.core.bench.closing import closing_list, closing_stage
from ribwright.core.bench.standing import Said, Thing, open_lines, ready, stage_done

STAGES = [{"name": "drill"}, {"name": "finish"}, {"name": "rivet"}]
BOX = Thing(
    "A-BOX", "space", "inside", "left", "A",
    {"bays": ["bay 1"], "holds": ["A1"], "film": "yes", "loose_hardware": "yes", "twist": "yes", "second_person": "yes"},
)  # fmt: skip
PART = Thing("A1", "part", "rib", "left", "A", {})
TOP = Thing("A", "assembly", "aileron", "left", "", {})
ROW = Thing(
    "A-S1", "operation", "rib to spar", "left", "A",
    {"calculation": "seam", "stages": STAGES, "space": "A-BOX", "fasteners": [{"part_number": "MS20470AD3-4", "count": "3"}]},
)  # fmt: skip
CLOSER = Thing("A-S2", "operation", "skin to spar", "left", "A", {"stages": STAGES, "closes": "A-BOX"})
THINGS = (TOP, BOX, PART, ROW, CLOSER)


def said(kind, about, seq, stage="", by="Ann", **body):
    return Said(kind, about, seq, by, stage, "2027-03-01", body)


def work(about, seq, stage, done="yes"):
    return said("work", about, seq, stage, done=done)


DONE = (
    *(work("A-S1", n, stage) for n, stage in enumerate(("drill", "finish", "rivet"), 1)),
    said("material", "A-S1", 4, "finish", item="PRIMER", lot="1", expires="2027-03-01"),
    work("A-S2", 5, "drill"),
    work("A-S2", 6, "finish"),
    said("material", "A-S2", 7, "finish", item="PRIMER", lot="1"),
    said("reading", "A-S1", 8, requirement="heads looked at", value="3"),
    said("finding", "A-BOX", 9, requirement={"name": "twist"}, verdict="within limits"),
    said("reading", "A-BOX", 10, requirement="protective film left", value="0"),
    said("reading", "A-BOX", 11, requirement="loose hardware missing", value="0"),
    said("photo", "A-BOX", 12, position="bay 1"),
    said("visit", "A-BOX", 13, by="Tom"),
)


def keys(entries=DONE, things=THINGS, closer=CLOSER):
    return {line.key for line in open_lines(closing_list(closer, things, entries, today="2027-03-01"))}


def test_all_done_is_ready():
    lines = closing_list(CLOSER, THINGS, DONE, today="2027-03-01")
    assert ready(lines)
    assert {line.key for line in lines} == {
        "work",
        "heads",
        "finish",
        "film",
        "hardware",
        "twist",
        "photo",
        "second",
        "discrepancy",
        "hand",
    }


def test_nothing_done_is_not_ready():
    assert keys(()) == {"work", "heads", "finish", "film", "hardware", "twist", "photo", "second"}


@pytest.mark.parametrize(
    ("seq", "key"),
    [(1, "work"), (3, "work"), (4, "finish"), (5, "work"), (7, "finish"), (8, "heads"), (9, "twist"), (10, "film"), (11, "hardware"), (12, "photo"), (13, "second")],
)  # fmt: skip
def test_each_entry_answers_its_own_line_alone(seq, key):
    assert keys(tuple(e for e in DONE if e.seq != seq)) == {key}


def test_a_finish_stage_undone_opens_work_and_finish():
    assert keys(tuple(e for e in DONE if e.seq != 2)) == {"work", "finish"}


def test_a_stage_said_to_be_unfinished_again_is_open():
    assert keys((*DONE, work("A-S1", 14, "drill", done="no"))) == {"work"}
    assert stage_done((work("X", 1, "a"), work("X", 2, "a", "no")), "a") is None


def test_primer_past_its_date_on_the_day_of_use_is_open():
    old = said("material", "A-S1", 14, "finish", item="PRIMER", lot="1", expires="2027-02-28")
    assert keys((*DONE, old)) == {"finish"}


def test_a_head_found_bad_stays_open_until_the_same_hole_is_good():
    bad = said("finding", "A-S1", 14, requirement="formed head height", verdict="rework", where="hole 2")
    other = said(
        "finding", "A-S1", 15, requirement="formed head height", verdict="within limits", where="hole 3"
    )
    good = said(
        "finding", "A-S1", 16, requirement="formed head height", verdict="within limits", where="hole 2"
    )
    assert keys((*DONE, bad)) == {"heads"}
    assert keys((*DONE, bad, other)) == {"heads"}
    assert keys((*DONE, bad, other, good)) == set()


def test_a_bad_trial_piece_is_no_bad_head():
    assert (
        keys(
            (
                *DONE,
                said(
                    "finding", "A-S1", 14, requirement="formed head height", verdict="rework", where="trial"
                ),
            )
        )
        == set()
    )


def test_a_discrepancy_counts_until_it_is_closed():
    assert keys((*DONE, said("discrepancy", "A1", 14, ref="D14", state="open", what="oil can"))) == {
        "discrepancy"
    }
    assert keys((*DONE, said("discrepancy", "A1", 14, ref="D14", state="decided"))) == {"discrepancy"}
    assert keys((*DONE, said("discrepancy", "A1", 14, ref="D14", state="closed"))) == set()
    assert keys((*DONE, said("discrepancy", "B1", 14, ref="D14", state="open"))) == set()


def test_a_part_of_the_other_hand_is_open():
    right = replace(PART, hand="right")
    assert keys(things=(TOP, BOX, right, ROW, CLOSER)) == {"hand"}
    assert keys((*DONE, said("reading", "A1", 14, requirement="hand as made", value="right"))) == {"hand"}
    assert keys((*DONE, said("reading", "A1", 14, requirement="hand as made", value="left"))) == set()


def test_something_made_to_an_earlier_revision_is_open():
    assert keys(things=(TOP, BOX, PART, replace(ROW, outdated=True), CLOSER)) == {"revision"}


def test_a_part_or_a_space_that_is_not_there_is_open():
    assert keys(things=(TOP, BOX, ROW, CLOSER)) == {"part"}
    assert keys(things=(TOP, PART, ROW, CLOSER)) == {"space"}


def test_what_closes_nothing_has_no_list():
    assert closing_list(ROW, THINGS, DONE) == ()
    assert closing_stage(ROW) == ""


def test_the_stage_that_ends_the_access():
    def one(*names):
        return replace(CLOSER, data={"closes": "A-BOX", "stages": [{"name": n} for n in names]})

    assert closing_stage(one("rivet", "close")) == "close"
    assert closing_stage(one("drill", "rivet", "clean")) == "rivet"
    assert closing_stage(one("fit", "screw")) == "screw"
    assert closing_stage(one()) == ""
