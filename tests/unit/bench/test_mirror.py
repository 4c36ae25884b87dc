"""The other hand: signs and names change, sides of the skin don't; twice gives back every digit."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ribwright.core.bench.hole_table import hole_table, inside
from ribwright.core.bench.mirror import mirrored, mirrored_inputs, negated
from ribwright.core.record.breakdown import object_digest
from ribwright.dunlin import dunlin
from ribwright.errors import GeometryError, MissingError
from ribwright.services.calculations import run_calculation

LEFT = [t for t in dunlin() if t.parent == "DN-21" or t.ref == "DN-21"]
PAIRS = (("DN-21", "DN-22"),)


def other(thing, pairs=PAIRS):
    return mirrored(
        noun=thing.noun, ref=thing.ref, parent=thing.parent, title=thing.title, hand=thing.hand, data=thing.data,
        made_from=thing.made_from, pairs=pairs,
    )  # fmt: skip


def digest(thing):
    return object_digest(
        noun=thing.noun,
        ref=thing.ref,
        hand=thing.hand,
        data=thing.data,
        made_from=dict.fromkeys(thing.made_from, "0"),
    )


def test_a_reference_that_names_its_side_is_changed_once():
    """An assembly called "left aileron" gives its name to the words of its seams too."""
    made = mirrored(
        noun="operation", ref="left aileron-S01", parent="left aileron", title="skin to spar, left aileron, left end",
        hand="left", data={"parts": ["left aileron skin", "rib, left"]}, made_from=("left aileron",),
        pairs=(("left aileron", "right aileron"),),
    )  # fmt: skip
    assert (made.ref, made.parent) == ("right aileron-S01", "right aileron")
    assert made.title == "skin to spar, right aileron, right end"
    assert made.data == {"parts": ["right aileron skin", "rib, right"]}
    back = other(made, pairs=(("right aileron", "left aileron"),))
    assert back.title == "skin to spar, left aileron, left end"


@pytest.mark.parametrize("thing", LEFT, ids=lambda t: t.ref)
def test_twice_mirrored_is_the_same_to_the_digest(thing):
    once = other(thing)
    assert once.ref != thing.ref
    assert once.hand == "right"
    assert digest(once) != digest(thing)
    twice = other(once)
    assert digest(twice) == digest(thing)
    assert (twice.title, twice.parent) == (thing.title, thing.parent)


def test_a_mirrored_hole_table_differs_in_sign_only():
    rows = [t for t in LEFT if t.data.get("calculation") in ("seam", "wedge-row", "pull-rivet-row")]
    turned = 0
    for row in rows:
        there = other(row)
        along = np.linspace(0.0, 1.0, 5)
        for mine, theirs in zip(row.data["joins"], there.data["joins"], strict=True):
            start, end = (np.array([float(v) for v in point]) for point in mine["row"])
            run = float(np.hypot(*(end - start)))
            a, b = hole_table(mine, along * run), hole_table(theirs, along * run)
            for axis, name in enumerate(mine["axes"].split()):
                expected = -a[:, axis] if name == "y" else a[:, axis]
                assert np.array_equal(b[:, axis], expected)
                turned += name == "y"
    assert turned > 30


def test_a_mirrored_hole_lies_inside_the_mirrored_part():
    parts = {t.ref: t for t in LEFT if t.noun == "part"}
    for row in (t for t in LEFT if t.data.get("calculation") == "seam"):
        for join in other(row).data["joins"]:
            part = other(parts[join["part"].replace("DN-22", "DN-21")])
            ends = np.array([[float(v) for v in point] for point in join["row"]])
            assert inside(part.data["outline"], ends)[0].all()


def test_dimples_still_point_to_the_same_side_of_the_skin():
    row = next(t for t in LEFT if t.title.startswith("upper skin to spar"))
    there = other(row)
    assert there.data["head_side"] == row.data["head_side"] == "outside"
    left, right = (run_calculation("seam", one.data["inputs"]).outcome for one in (row, there))
    assert [s.split(": ")[1] for s in left.results["treatments"].value.split("; ")] == [
        s.split(": ")[1] for s in right.results["treatments"].value.split("; ")
    ]
    assert left.results["hole_positions"].value == right.results["hole_positions"].value
    steps = {
        side: [s for sheet in o.sheets if sheet.stage.startswith("dimple") for s in sheet.steps]
        for side, o in (("l", left), ("r", right))
    }
    assert [s.split(": ")[1] for s in steps["l"] if "male die" in s] == [
        s.split(": ")[1] for s in steps["r"] if "male die" in s
    ]


def test_every_drawing_of_a_handed_row_says_its_hand_in_large_letters():
    for name in ("upper skin to spar", "trailing edge", "nose lap, section 1"):
        row = next(t for t in LEFT if t.title.startswith(name))
        for one, said in ((row, "left"), (other(row), "right")):
            outcome = run_calculation(one.data["calculation"], one.data["inputs"]).outcome
            for scene in (outcome.picture, *(sheet.picture for sheet in outcome.sheets)):
                if scene is None:
                    continue
                hands = [item.hand for item in scene.items if type(item).__name__ == "Hand"]
                # a stage sheet without the letters in its picture prints them above it
                assert set(hands) <= {said}, (one.ref, name)
            assert {sheet.hand for sheet in outcome.sheets} == {said}
            assert [i for i in outcome.picture.items if type(i).__name__ == "Hand"], (one.ref, name)


def test_words_that_are_no_side_stay():
    inputs = mirrored_inputs({
        "title": "left skin", "hand": "left", "exceptions": [{"hole": "3", "what": "left open", "reason": "at a right angle to the left rib"}],
    })  # fmt: skip
    assert inputs == {
        "title": "right skin", "hand": "right", "exceptions": [{"hole": "3", "what": "left open", "reason": "at a right angle to the right rib"}],
    }  # fmt: skip


@given(st.decimals(allow_nan=False, allow_infinity=False, min_value=-9999, max_value=9999, places=4))
def test_a_sign_turned_twice_is_the_number_as_written(value):
    said = format(value, "f")
    if float(value) == 0:
        assert negated(said) == said.removeprefix("-")
    else:
        assert negated(negated(said)) == said
        assert float(negated(said)) == -float(value)


@pytest.mark.parametrize(
    "pairs", [(("DN-2", "DN-22"),), (("DN-21", "DN-21"),), (("DN-21", ""),), (("A", "B"), ("B", "C"))]
)
def test_references_that_cant_be_told_apart_are_refused(pairs):
    with pytest.raises(GeometryError):
        other(LEFT[0], pairs)


def test_an_object_without_another_name_is_refused():
    with pytest.raises(MissingError):
        other(LEFT[0], (("DN-31", "DN-32"),))


def test_a_point_that_is_none_is_refused():
    with pytest.raises(GeometryError):
        mirrored(
            noun="part", ref="A1", parent="", title="", hand="left", data={"axes": "y x", "outline": [["1"]]}
        )


def test_a_row_that_is_not_as_long_as_laid_out_is_refused():
    with pytest.raises(GeometryError):
        hole_table({"part": "A1", "row": [["0", "0"], ["10", "0"]]}, [0.0, 5.0, 9.9])
