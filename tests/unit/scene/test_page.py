from __future__ import annotations

import math

import pytest

from ribwright.core.scene import Circle, Line, Polygon, Scene, Text, TitleBlock, bounds, full_size
from ribwright.core.scene.page import PAPERS
from ribwright.core.scene.strokes import drawn
from ribwright.errors import DoesNotFitError, MissingError, OutOfRangeError, UnknownNameError


def _rectangle(width, height):
    return Scene((Line((0, 0), (width, 0)), Line((width, 0), (width, height)), Line((0, height), (0, 0))))


def test_what_fits_is_one_sheet():
    (page,) = full_size(_rectangle(6, 8))
    assert (page.width, page.height, page.of) == (8.5, 11, 1)
    box = bounds(page.drawing)
    assert (box.width, box.height) == pytest.approx((6, 8))
    assert page.window.left < box.left
    assert box.top < page.window.top


def test_turned_when_that_needs_fewer_sheets():
    (page,) = full_size(_rectangle(9, 6))
    assert (page.width, page.height) == (11, 8.5)
    assert len(full_size(_rectangle(9, 6), orientation="portrait")) == 2


@pytest.mark.parametrize("paper", [p for p in PAPERS if not p.startswith("roll")])
def test_no_other_way_round_needs_fewer(paper):
    scene = _rectangle(31, 19)
    both = [len(full_size(scene, paper, orientation=way)) for way in ("portrait", "landscape")]
    assert len(full_size(scene, paper)) == min(both)


def test_every_place_is_on_some_sheet_and_neighbours_lap():
    scene = _rectangle(30, 25)
    pages = full_size(scene)
    shifts = {}
    for page in pages:
        # the drawing was moved so that its own origin lies somewhere on the page
        line = next(p for p in drawn(page.drawing) if isinstance(p, Line)) if page.drawing.items else None
        shifts[(page.row, page.column)] = line
        assert page.of == len(pages)
    assert [p.number for p in pages] == list(range(1, len(pages) + 1))
    rows, columns = max(p.row for p in pages) + 1, max(p.column for p in pages) + 1
    assert rows * columns == len(pages)
    w = pages[0].window
    assert columns * w.width - (columns - 1) * 0.5 >= 30
    assert rows * w.height - (rows - 1) * 0.5 >= 25


def test_crosses_of_neighbours_come_to_lie_together():
    scene = _rectangle(14, 9)
    left, right = full_size(scene, orientation="portrait")
    step = left.window.width - 0.5
    lines = [
        {_key(i, dx) for i in page.furniture.items if _is_cross(i)} for page, dx in ((left, 0), (right, step))
    ]
    assert len(lines[0]) == 6
    assert lines[0] == lines[1]


def _is_cross(item):
    return isinstance(item, Line) and math.isclose(math.dist(item.a, item.b), 0.24, abs_tol=1e-9)


def _key(item, dx):
    return tuple(round(v, 9) for v in (item.a[0] + dx, item.a[1], item.b[0] + dx, item.b[1]))


@pytest.mark.parametrize("size", [(5, 5), (30, 25), (200, 3)])
@pytest.mark.parametrize("paper", list(PAPERS))
def test_check_figures_in_both_directions_on_every_sheet(size, paper):
    for page in full_size(_rectangle(*size), paper):
        lines = [i for i in page.furniture.items if isinstance(i, Line) and i.style == "outline"]
        across = sorted(i.b[0] - i.a[0] for i in lines if i.a[1] == i.b[1])
        along = sorted(i.b[1] - i.a[1] for i in lines if i.a[0] == i.b[0])
        assert across == pytest.approx([100 / 25.4, 4.0])
        assert along == pytest.approx([100 / 25.4, 4.0])
        words = {i.text for i in page.furniture.items if isinstance(i, Text)}
        assert {"4.000 in", "100.0 mm"} <= words


def test_furniture_stays_on_the_paper():
    for paper in ("letter", "a4", "a3"):
        for page in full_size(
            _rectangle(30, 25), paper, title_block=TitleBlock("T" * 80, "R-1", "DN-1", "A", "left", "s")
        ):
            box = bounds(page.furniture)
            assert box.left >= 0.24
            assert box.bottom >= 0.24
            assert box.right <= page.width - 0.2
            assert box.top <= page.height - 0.2


def test_title_block_says_where_it_comes_from():
    block = TitleBlock("Nose template", "TPL-12-A-1f3c", "DN-2100", "B", "right", "ab12 cd34")
    (page,) = full_size(_rectangle(3, 3), title_block=block)
    words = " | ".join(p.text for p in drawn(page.furniture) if isinstance(p, Text))
    for part in (
        "Nose template",
        "DN-2100 revision B",
        "TPL-12-A-1f3c",
        "ab12 cd34",
        "RIGHT HAND",
        "Sheet 1 of 1",
    ):
        assert part in words
    assert "The designer's drawings win. Not approved data." in words


def test_without_tiling_it_is_refused_with_the_sizes():
    with pytest.raises(DoesNotFitError) as caught:
        full_size(_rectangle(30, 5), tile=False)
    assert "30.00 by 5.00 in" in str(caught.value)
    assert "several sheets" in str(caught.value)


def test_absurd_sizes_are_refused():
    with pytest.raises(DoesNotFitError, match="sheets"):
        full_size(_rectangle(900, 900))
    with pytest.raises(DoesNotFitError):
        full_size(Scene((Line((0, 0), (float("nan"), 1)),)))
    with pytest.raises(DoesNotFitError):
        full_size(Scene((Circle((0, 0), float("inf")),)))


def test_a_roll_takes_a_long_piece_at_once():
    (page,) = full_size(_rectangle(70, 20), "roll-24in")
    assert {round(page.width, 6), round(page.height, 6)} >= {24.0}
    assert max(page.width, page.height) < 75
    assert len(full_size(_rectangle(300, 20), "roll-24in")) == 3


def test_unknown_paper_lists_those_there_are():
    with pytest.raises(UnknownNameError, match="letter, a4"):
        full_size(_rectangle(1, 1), "foolscap")


def test_nothing_to_print():
    with pytest.raises(MissingError):
        full_size(Scene())


@pytest.mark.parametrize("factor", [1.031, 0.96, float("nan")])
def test_correction_beyond_three_per_cent_is_refused(factor):
    with pytest.raises(OutOfRangeError, match="actual size"):
        full_size(_rectangle(1, 1), correction=(factor, 1.0))


@pytest.mark.parametrize("orientation", ["portrait", "landscape"])
@pytest.mark.parametrize("correction", [(0.97, 1.03), (1.03, 0.985), (1.0, 1.0)])
def test_corrected_page_stays_on_the_paper(correction, orientation):
    for page in full_size(_rectangle(30, 25), correction=correction, orientation=orientation):
        fx, fy = page.correction
        box = bounds(Scene(page.furniture.items))
        mx, my = page.width / 2, page.height / 2
        assert mx + (box.left - mx) * fx >= 0.2
        assert my + (box.bottom - my) * fy >= 0.2
        assert mx + (page.window.right - mx) * fx <= page.width - 0.3
        assert my + (page.window.top - my) * fy <= page.height - 0.3
        assert {fx, fy} == set(correction)
        if page.width > page.height:
            assert (fy, fx) == correction


def test_page_map_shows_every_sheet_with_this_one_filled():
    pages = full_size(_rectangle(30, 25))
    rows, columns = max(p.row for p in pages) + 1, max(p.column for p in pages) + 1
    for page in pages:
        cells = [i for i in page.furniture.items if isinstance(i, Polygon) and len(i.points) == 4][1:]
        assert len(cells) == rows * columns
        (here,) = [c for c in cells if c.fill == "solid"]
        lefts = sorted({round(c.points[0][0], 6) for c in cells})
        foots = sorted({round(c.points[0][1], 6) for c in cells}, reverse=True)
        assert (len(lefts), len(foots)) == (columns, rows)
        assert lefts.index(round(here.points[0][0], 6)) == page.column
        assert foots.index(round(here.points[0][1], 6)) == page.row
        frame = next(i for i in page.furniture.items if isinstance(i, Polygon))
        for cell in cells:
            assert all(frame.points[0][1] <= y <= frame.points[2][1] for _, y in cell.points)
