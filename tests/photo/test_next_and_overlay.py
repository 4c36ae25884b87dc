"""What a photo leads to: the picture of a row with its rims, and words that say what to do next."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest

from photo.render_profile import nose_outline, true_deviation
from ribwright import __version__
from ribwright.core.metrology.best_fit import best_fit
from ribwright.core.metrology.layout import layout_from
from ribwright.core.metrology.row_findings import HeadReading, RowReading
from ribwright.core.metrology.row_overlay import row_overlay
from ribwright.core.metrology.typed import row_input
from ribwright.services.photo_measure import read_json, row_reading
from ribwright.services.photo_next import holes_next, largest_of, profile_next, profile_said, row_next
from ribwright.services.photo_overlay import row_jpeg, row_svg

DATA = Path(__file__).parents[1] / "data" / "photo"


def _head(number: int, finding: str, reasons: tuple[str, ...] = (), turn: float = 0.0) -> HeadReading:
    return HeadReading(15.0 * number, 40.0, 5.2, 4.6, 15.0, 8.0, 0.3, finding, reasons, 0.9, turn)


def test_the_overlay_of_a_row_has_every_rim_boxes_rejects_and_hatches_the_undecided():
    heads = (_head(1, "nothing wrong seen"), _head(2, "reject"), _head(3, "undecided"))
    drawn = row_overlay(RowReading("measured", "", heads, {}, ()))
    kinds = [stroke.kind for stroke in drawn.strokes]
    assert kinds.count("rim") == 3
    assert kinds.count("box") == 1
    assert kinds.count("hatch") >= 12
    assert [label.words for label in drawn.labels if label.words[0] in "123"] == ["1 ok", "2 R", "3 ?"]
    hatched = np.vstack([stroke.points for stroke in drawn.strokes if stroke.kind == "hatch"])
    assert np.abs(hatched[:, 0] - 45.0).max() < 3.0
    # a row to be taken again decides nothing
    again = row_overlay(RowReading("retake", "blurred", heads, {}, ()))
    assert not [stroke for stroke in again.strokes if stroke.kind == "box"]
    assert "taken again" in again.feet[0]


@pytest.mark.parametrize("turn", [0.0, 0.7, -1.2])
def test_the_drawn_rim_has_the_head_s_diameters_in_its_direction(turn):
    drawn = row_overlay(RowReading("measured", "", (_head(1, "reject", (), turn),), {}, ()))
    rim = next(stroke.points for stroke in drawn.strokes if stroke.kind == "rim") - np.array([15.0, 40.0])
    along = rim @ np.array([np.cos(turn), np.sin(turn)])
    across = rim @ np.array([-np.sin(turn), np.cos(turn)])
    assert np.ptp(along) == pytest.approx(5.2, abs=0.02)
    assert np.ptp(across) == pytest.approx(4.6, abs=0.06)


def test_the_overlay_of_a_photo_lies_on_its_heads():
    layout = read_json(DATA / "b02.strip.json", "layout")
    answer, reading, taken = row_reading(
        DATA / "b02.jpg", layout=layout, typed=read_json(DATA / "b02.input.json", "input")
    )
    assert reading is not None
    svg = row_svg(reading, taken)
    assert svg is not None
    assert f"ribwright {__version__}" in svg
    assert svg.count("<title>traced rim</title>") == len(answer["heads"])
    assert "sheet's edge" in svg
    picture = row_jpeg(reading, taken)
    assert picture is not None
    assert picture[:2] == b"\xff\xd8"
    drawn = row_overlay(reading)
    edge = next(stroke.points for stroke in drawn.strokes if stroke.kind == "sheet")
    head = answer["heads"][3]
    slope = (edge[1, 1] - edge[0, 1]) / (edge[1, 0] - edge[0, 0])
    beyond = abs(edge[0, 1] + slope * (head["cx"] - edge[0, 0]) - head["cy"])
    assert beyond == pytest.approx(head["edge_distance_mm"], abs=0.3)


def _answer(*findings: tuple[str, tuple[str, ...]]) -> dict:
    return {"heads": [{"finding": word, "reasons": why} for word, why in findings]}


def test_heads_to_replace_are_named_with_why_and_how():
    good = ("nothing wrong seen", ())
    narrow, wide = ("reject", ("too narrow",)), ("reject", ("too wide",))
    said = row_next(_answer(good, good, good, narrow, good, good, good, good, wide), {"rivet_D_mm": 3.175})
    assert said.startswith(
        "Heads 4 and 9 from the left: replace once a gauge on them says the same. 4 (too narrow)"
    )
    flush = row_next(_answer(good, wide), {"rivet_D_mm": 3.175, "flush": True})
    assert flush.startswith("Head 2 from the left: replace. 2 (too wide)")
    assert "#40 no deeper than the head" in said
    assert "#30 through the clamped stack" in said
    assert "Head 4 only too narrow" in said
    assert "How:\n1. Centre-mark" in said
    near = row_next(_answer(good, ("reject", ("too near the edge",))), {"rivet_D_mm": 2.0})
    assert "spoiled hole" in near
    assert "How:" not in near  # of no size that the tables know
    unsure = row_next(_answer(good, ("undecided", ())), {"rivet_D_mm": 3.2})
    assert unsure.startswith("Head 2 can't be told")
    assert "replace" not in unsure
    assert "Most of the row" in row_next(_answer(wide, wide, wide, good), {"rivet_D_mm": 3.2})


@pytest.mark.parametrize(("sign", "word"), [(1, "tighter"), (-1, "flatter")])
def test_a_zone_off_the_template_says_where_and_which_way(sign, word):
    arc = np.linspace(-60, 60, 61)
    off = sign * 1.4 * np.exp(-0.5 * ((arc - 10) / 8) ** 2)
    answer = {"finding": "rework", "deviation_bestfit_mm": off.tolist(), "arc_positions_mm": arc.tolist()}
    said = profile_next(answer, 0.8)
    assert word in said
    assert ("stands out" if sign > 0 else "lies in") in said
    assert "1.4 mm" in said
    assert "after the roll" in said
    assert profile_next({**answer, "finding": "within limits"}, 0.8) == "It fits: stop."


def test_a_fit_comes_to_rest_where_the_part_slid_along_its_target():
    """Legs that close slide out of the target's ends: places met in one turn would be missed in the next."""
    nose = nose_outline(11, 18, 52)
    run = np.gradient(nose, axis=0)
    out = np.column_stack([-run[:, 1], run[:, 0]]) / np.hypot(*run.T)[:, None]
    out *= np.sign((out * (nose - [15, 0])).sum(axis=1))[:, None]
    along = np.r_[0, np.cumsum(np.hypot(*np.diff(nose, axis=0).T))]
    along -= along[-1] / 2
    made = nose - 3.5 * (np.abs(along) / along[-1])[:, None] ** 1.5 * out
    places = np.linspace(4 - along[-1], along[-1] - 4, 61)
    at, normal = (np.column_stack([np.interp(places, along, a[:, i]) for i in (0, 1)]) for a in (nose, out))
    normal /= np.hypot(*normal.T)[:, None]
    true, _, _ = true_deviation(at, normal, made)
    traced = made[np.abs(along) <= along[-1] - 2.4]
    found, _, _ = best_fit(at, normal, traced)
    assert np.abs(found - true).max() < 0.02


def _undecided(finding):
    return {"d_max": 2.5, "d_min": 2.5, "finding": finding, "reasons": ["too narrow?"]}


def test_holes_that_can_not_be_told_are_named_and_never_called_right():
    good = {"d_max": 2.5, "d_min": 2.5, "finding": "nothing wrong seen", "reasons": []}
    said = holes_next({"heads": [good, _undecided("undecided"), good, _undecided("undecided")]}, "holes")
    assert "Holes 2 and 4 can't be told" in said
    assert "Nothing wrong" not in said
    one = holes_next({"heads": [_undecided("undecided")]}, "dimples")
    assert "Hole 1 can't be told from here: try it with" in one
    assert "Nothing wrong seen" in holes_next({"heads": [good]}, "holes")


def test_the_figures_of_a_profile_are_those_of_its_worst_place():
    answer = {
        "deviation_bestfit_mm": [0.1, None, -0.9, 0.2], "u95_mm": [0.6, None, 0.08, 0.1], "seen_share": 0.75, "rotation_deg": -0.42,
    }  # fmt: skip
    assert largest_of(answer) == (0.9, 0.08)
    assert profile_said(answer).startswith("Largest deviation 0.90 ± 0.08 mm")
    assert "75 % of the arc seen; turned -0.4°" in profile_said(answer)


@pytest.mark.parametrize("what", ["flush heads", "holes", "dimples"])
def test_only_a_formed_head_has_a_height(what):
    layout = layout_from(read_json(DATA / "b02.strip.json", "layout"))
    typed = dict(read_json(DATA / "b02.input.json", "input")) | {"nominal_head_height_mm": 1.2}
    typed.pop("flush", None)
    assert row_input(layout, typed | {"what": what}).head_height_mm == 0.0
    assert row_input(layout, typed | {"what": "formed heads"}).head_height_mm == 1.2


@pytest.mark.parametrize(("count", "across"), [(5, 3), (9, 3), (8, 4), (1, 1)])
def test_the_words_below_a_row_are_as_large_as_those_in_it(count, across, monkeypatch):
    """One head left over made a narrow band, and the words were shrunk to it."""
    layout = read_json(DATA / "b02.strip.json", "layout")
    _, reading, taken = row_reading(
        DATA / "b02.jpg", layout=layout, typed=read_json(DATA / "b02.input.json", "input")
    )
    heads = tuple(_head(k, "nothing wrong seen") for k in range(count))
    sizes, drawn = [], cv2.putText

    def put(picture, words, at, face, size, *rest):
        sizes.append((words[:2], round(size, 3)))
        return drawn(picture, words, at, face, size, *rest)

    monkeypatch.setattr(cv2, "putText", put)
    picture = row_jpeg(replace(reading, heads=heads), taken)
    assert picture is not None
    wide = cv2.imdecode(np.frombuffer(picture, np.uint8), cv2.IMREAD_COLOR).shape[1] / 20.0
    assert wide == pytest.approx(15.0 * (across - 1) + 5.2 + 6.0, abs=0.5)
    words = {size for what, size in sizes if what in ("ok", "R,")}
    inside = {size for what, size in sizes if what[0].isdigit()}
    assert min(words) >= (0.99 if across > 1 else 0.3) * max(inside)
