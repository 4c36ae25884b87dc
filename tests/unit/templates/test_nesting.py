"""Layouts checked from scratch, and the check itself checked with layouts that are wrong."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from ribwright.core.geometry import filleted, naca_section, outline
from ribwright.core.scene import Polygon
from ribwright.core.templates.nested import Blank, Nest, Placed, Sheet, checked, nest_picture
from ribwright.core.templates.nesting import nest
from ribwright.core.templates.shelves import in_columns
from ribwright.errors import (
    ConflictError,
    DoesNotFitError,
    GeometryError,
    OutOfRangeError,
    Stopped,
    UnknownNameError,
)

ELL = outline([[0, 0], [6, 0], [6, 1.5], [2, 1.5], [2, 4], [0, 4]])
RIB = outline(naca_section("2414", count=41, closed=True)[1:-1] * 11)
PLATE = filleted([[0, 0], [8, 0], [8, 3], [0, 3]], 0.25)
BLANKS = [Blank("ell", ELL, 6, "any"), Blank("rib", RIB, 4, "along"), Blank("plate", PLATE, 4, "across")]
SHEETS = [Sheet("offcut", 14, 12), Sheet("sheet", 48, 24)]


@pytest.fixture(scope="module")
def made():
    return nest(BLANKS, SHEETS, gap_in=0.125, margin_in=0.25, seconds=2)


def test_layout_holds_and_uses_the_offcut_first(made):
    assert made.check == ""
    assert made.sheets[0].name == "offcut"
    assert sum(p.name == "ell" for p in made.placed) == 6
    assert 0.3 < made.use < 1


def test_picture_shows_every_piece(made):
    scenes = nest_picture(made, BLANKS)
    assert len(scenes) == len(made.sheets)
    pieces = [i for s in scenes for i in s.items if isinstance(i, Polygon) and i.layer == "cut"]
    assert len(pieces) == 14


def _wrong(made, number, **change):
    placed = list(made.placed)
    placed[number] = replace(placed[number], **change)
    return checked(Nest(tuple(placed), made.sheets, made.used_length_in, made.use), BLANKS, 0.125, 0.25)


def test_the_check_sees_each_kind_of_mistake(made):
    same = [n for n, p in enumerate(made.placed) if p.sheet == made.placed[0].sheet]
    other = made.placed[same[1]]
    assert "margin" in _wrong(made, 0, dx_in=-3.0) or "overlap" in _wrong(made, 0, dx_in=-3.0)
    assert _wrong(made, same[0], dx_in=other.dx_in + 0.01, dy_in=other.dy_in + 0.01, turn_deg=other.turn_deg)
    rib = next(n for n, p in enumerate(made.placed) if p.name == "rib")
    assert "grain" in _wrong(made, rib, turn_deg=90.0)
    fewer = Nest(made.placed[1:], made.sheets, made.used_length_in, made.use)
    assert "are placed" in checked(fewer, BLANKS, 0.125, 0.25)


def test_the_check_sees_a_gap_that_is_too_small():
    square = outline([[0, 0], [2, 0], [2, 2], [0, 2]])
    blanks, sheet = [Blank("a", square, 2)], (Sheet("s", 10, 10),)
    for gap, right in ((0.2, True), (0.1, False)):
        layout = Nest((Placed("a", 0, 0, 1, 1), Placed("a", 0, 0, 3 + gap, 1)), sheet, (6.0,), 0.5)
        assert (checked(layout, blanks, 0.125, 0.25) == "") is right


def test_too_large_for_every_sheet_is_named():
    with pytest.raises(DoesNotFitError, match="blank plate"):
        nest([Blank("plate", PLATE, 1, "along")], [Sheet("s", 7, 24)], gap_in=0.1, margin_in=0.25)
    # it fits only across its grain
    with pytest.raises(DoesNotFitError, match="grain across"):
        nest([Blank("plate", PLATE, 1, "across")], [Sheet("s", 24, 7)], gap_in=0.1, margin_in=0.25)


def test_more_than_the_sheets_hold_says_what_is_left():
    with pytest.raises(DoesNotFitError, match="of plate"):
        nest([Blank("plate", PLATE, 9)], [Sheet("s", 18, 7)], gap_in=0.1, margin_in=0.25, seconds=1)


def test_bad_input():
    with pytest.raises(OutOfRangeError):
        nest([], SHEETS, gap_in=0.1, margin_in=0.1)
    with pytest.raises(OutOfRangeError):
        nest(BLANKS, SHEETS, gap_in=-1, margin_in=0.1)
    with pytest.raises(OutOfRangeError, match="sheet s"):
        nest(BLANKS, [Sheet("s", 1, 1)], gap_in=0.1, margin_in=0.6)
    with pytest.raises(GeometryError, match="one name"):
        nest([BLANKS[0], BLANKS[0]], SHEETS, gap_in=0.1, margin_in=0.1)


def test_it_stops_when_asked():
    def stop(_share: float) -> None:
        raise Stopped("nest")

    with pytest.raises(Stopped):
        nest(BLANKS, SHEETS, gap_in=0.1, margin_in=0.1, progress=stop)


def test_columns_do_not_overlap_and_stay_inside():
    rng = np.random.default_rng(4)
    boxes = [[rng.uniform(0.5, 4, 2), rng.uniform(0.5, 4, 2)] for _ in range(40)]
    places, length = in_columns(boxes, 12.0, 0.1)
    rects = [(x, y, x + boxes[k][turn][0], y + boxes[k][turn][1]) for k, (turn, x, y) in enumerate(places)]
    assert max(r[2] for r in rects) == pytest.approx(length)
    assert max(r[3] for r in rects) <= 12 + 1e-9
    for i, a in enumerate(rects):
        for b in rects[:i]:
            apart = max(a[0] - b[2], b[0] - a[2], a[1] - b[3], b[1] - a[3])
            assert apart >= 0.1 - 1e-9
    assert in_columns([[np.array([1.0, 20.0])]], 12.0, 0.1) is None


def test_a_kept_layout_comes_back_as_it_was_and_is_checked_anew():
    import tomllib
    from pathlib import Path

    from ribwright.core.templates.blank_nest import kept_rows
    from ribwright.services.calculations import run_calculation

    example = Path(__file__).parents[3] / "docs" / "examples" / "nest-blanks.toml"
    raw = tomllib.loads(example.read_text(encoding="utf-8")) | {"seconds": 0}
    first = run_calculation("nest-blanks", raw)
    rows = kept_rows(first.outcome)
    again = run_calculation("nest-blanks", raw | {"kept": rows, "seconds": 60})
    for key in ("x", "y", "turn", "sheet_of"):
        assert again.outcome.results[key].value == pytest.approx(first.outcome.results[key].value, abs=1e-6)
    assert again.outcome.results["use"].value == pytest.approx(first.outcome.results["use"].value)
    rows[1] = rows[1] | {"x": rows[0]["x"], "y": rows[0]["y"]}
    with pytest.raises(ConflictError, match="does not pass the check"):
        run_calculation("nest-blanks", raw | {"kept": rows})
    with pytest.raises(ConflictError, match="does not pass the check"):
        run_calculation("nest-blanks", raw | {"kept": rows[2:]})
    with pytest.raises(UnknownNameError):
        run_calculation("nest-blanks", raw | {"kept": [rows[0] | {"sheet": "another"}]})
