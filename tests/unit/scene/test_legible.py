"""Lettering that is raised for a narrow page, pieces of a drawing, strip charts."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import pytest

from ribwright.core.scene import Line, Scene, Text
from ribwright.core.scene.legible import least_height, raised
from ribwright.core.scene.lettering import CAPITAL_HEIGHT
from ribwright.core.scene.strip import Strip, strip_charts
from ribwright.core.scene.strokes import drawn
from ribwright.core.writers.to_svg import svg_of
from ribwright.services.calculations import run_calculation
from ribwright.web.pages import drawing
from seams import SEAM

FRAME = (Line((0.0, 0.0), (10.0, 0.0)), Line((0.0, 0.0), (0.0, 5.0)))


def seen(*words: Text) -> float | None:
    return least_height(drawn(Scene((*FRAME, *words))), across_px=330.0, letters_px=10.0)


def test_small_lettering_is_raised_to_what_is_read_and_large_is_left() -> None:
    small, large = Text((4.0, 1.0), "at 3", 0.1), Text((1.0, 3.0), "A", 1.0)
    height = seen(small, large)
    assert height
    assert height / CAPITAL_HEIGHT * 330.0 / 10.6 >= 10.0  # the width with its margins
    assert [i.height for i in raised((small, large), height)] == [height, 1.0]  # type: ignore[union-attr]
    assert seen(large) == 0.0
    assert seen() == 0.0


def test_lettering_that_would_run_into_other_lettering_is_not_raised() -> None:
    assert seen(Text((4.0, 1.0), "twelve", 0.1), Text((4.35, 1.0), "thirteen", 0.1)) is None
    assert seen(Text((1.0, 1.0), "twelve", 0.1), Text((6.0, 1.0), "thirteen", 0.1))
    long = Text((0.0, 1.0), "a line far too long for any phone " * 3, 0.1)
    assert seen(replace(long, bold=True)) is None
    assert seen(long) == 0.0  # a note: the page says it below


def test_a_sentence_on_a_drawing_is_said_under_it_on_a_phone() -> None:
    note = "cut by machine from thin hard sheet; measure with calipers before use"
    html = drawing(Scene((*FRAME, Text((0.0, 1.0), note, 0.1), Text((4.0, 2.0), "at 3", 0.1)), "plate"))
    assert re.findall(r'<text class="(rw-[a-z]+)"', html) == ["rw-note", "rw-small"]
    assert f'<p class="note-below">{note}</p>' in html
    large = drawing(Scene((*FRAME, Text((0.0, 1.0), note, 0.1), Text((1.0, 3.0), "A", 1.0)), "plate"))
    assert 'class="rw-note"' in large  # also where nothing else is too small
    assert "rw-small" not in large


def test_the_page_can_enlarge_what_is_small_and_there_is_room_for_it() -> None:
    scene = Scene((*FRAME, Text((9.5, 1.0), "at the end", 0.1), Text((1.0, 3.0), "A", 1.0)), "t", "d")
    plain, roomy = svg_of(scene), svg_of(scene, least=0.3)
    assert 'class="rw-small"' in roomy
    assert roomy.count("rw-small") == 1
    assert f'font-size="{0.3 / CAPITAL_HEIGHT:.5f}"' in roomy.split(">")[0]

    def width(svg: str) -> float:
        return float(re.findall(r'viewBox="[^ ]+ [^ ]+ ([^ ]+) ', svg)[0])

    assert width(roomy) > width(plain) + 0.8
    assert "rw-small" not in plain


def test_a_seam_lies_in_pieces_that_a_phone_has_room_for_and_each_hole_is_in_one() -> None:
    picture = run_calculation("seam", SEAM).outcome.picture
    assert picture is not None
    row, below = picture.pieces
    numbers = [t.text for piece in row for t in drawn(piece) if isinstance(t, Text) and t.text.isdigit()]
    assert numbers == [str(n) for n in range(1, 53)]
    letters = [t.text for piece in row for t in drawn(piece) if isinstance(t, Text) and t.text in "ENPH"]
    assert len(letters) == 52
    assert row[0].described == picture.described
    html = drawing(picture)
    assert max(sorted(int(w) for w in re.findall(r' width="(\d+)"', html))[:-1]) <= 330  # the section shrinks
    assert html.count("<svg") == len(row) + len(below)
    assert "slide" not in html


def test_a_strip_is_hatched_where_nothing_is_known_and_filled_beyond_the_tolerance() -> None:
    strips = [
        Strip("STA 4", [-2.0, -1.0, 0.0, 1.0, 2.0], [math.nan, 0.01, -0.005, 0.012, math.nan]),
        Strip("STA 8", [-2.0, 0.0, 2.0], [0.01, 0.045, -0.01]),
    ]
    made = strip_charts(strips, 0.03, unit="in", along="from the nose", title="Read", doubtful="not measured")
    kinds = [type(item).__name__ for item in made.items]
    filled = [i for i in made.items if getattr(i, "fill", "") == "grade-0"]
    assert kinds.count("Hatch") == 3  # two ends of the first strip, and what hatching means
    assert len(filled) == 3  # two strokes of the second strip, and what filling means
    assert "STA 8: at most +0.045 in" in made.described
    empty = strip_charts(
        [replace(strips[0], off=[math.nan] * 5)], 0.03, unit="in", along="", title="", doubtful=""
    )
    assert "nothing was measured" in empty.described


@pytest.mark.parametrize("limit", [0.01, 0.5])
def test_a_strip_keeps_its_curve_inside_its_frame(limit: float) -> None:
    made = strip_charts(
        [Strip("a", [0.0, 1.0], [-0.2, 0.2])], limit, unit="in", along="", title="", doubtful=""
    )
    heavy = [i for i in made.items if getattr(i, "style", "") == "heavy"]
    assert heavy
    assert max(abs(y) for i in heavy for _, y in i.points) <= 0.42 + 1e-9  # type: ignore[union-attr]
