"""Lettering beside its point: nothing runs through it, it stays inside, and from afar a line leads back."""

from __future__ import annotations

from ribwright.core.scene import Bounds, Circle, Item, Line, Text
from ribwright.core.scene.placing import Clear
from ribwright.core.scene.scene import Scene
from ribwright.core.scene.strokes import box_of, drawn

PAPER = Bounds(0.0, 0.0, 6.0, 4.0)


def placed(items: list[Item], *points: tuple[float, float], words: str = "most aft") -> tuple[Item, ...]:
    clear = Clear(PAPER)
    clear.draw(items)
    return clear.letter(words, 0.12, *points)


def text_of(items: tuple[Item, ...]) -> Text:
    (text,) = (one for one in items if isinstance(one, Text))
    return text


def test_free_paper_letters_to_the_right_of_the_point() -> None:
    text = text_of(placed([], (3.0, 2.0)))
    assert text.anchor == "start"
    assert text.at[0] > 3.0


def test_a_line_to_the_right_sends_the_words_to_the_left() -> None:
    wall = Line((3.2, 0.0), (3.2, 4.0), "heavy")
    box = box_of(text_of(placed([wall], (3.0, 2.0))))
    assert box.right < 3.2


def test_ruled_paper_is_written_on() -> None:
    ruled = Line((3.2, 0.0), (3.2, 4.0), "ruled")
    assert text_of(placed([ruled], (3.0, 2.0))).anchor == "start"


def test_the_words_stay_inside_the_frame() -> None:
    box = box_of(text_of(placed([], (5.9, 2.0))))
    assert box.right <= PAPER.right


def test_two_words_at_one_point_do_not_lie_on_each_other() -> None:
    clear = Clear(PAPER)
    boxes = [box_of(text_of(clear.letter(words, 0.12, (3.0, 2.0)))) for words in ("fuel", "baggage", "pilot")]
    for n, a in enumerate(boxes):
        for b in boxes[n + 1 :]:
            assert a.right <= b.left or b.right <= a.left or a.top <= b.bottom or b.top <= a.bottom


def test_the_second_point_is_taken_where_the_first_is_hemmed_in() -> None:
    hedge: list[Item] = [Line((0.0, y / 20), (3.5, y / 20)) for y in range(20, 60)]
    text = text_of(placed(hedge, (2.0, 2.0), (4.5, 2.0)))
    assert text.at[0] > 4.0


def test_words_that_had_to_go_far_have_a_line_back() -> None:
    hedge: list[Item] = [
        Circle((3.0 + dx / 10, 2.0 + dy / 10), 0.04) for dx in range(-4, 5) for dy in range(-2, 3)
    ]
    items = placed(hedge, (3.0, 2.0), words="x")
    (line,) = (one for one in items if isinstance(one, Line))
    assert line.a == (3.0, 2.0)
    text = box_of(text_of(items))
    assert not any(
        box_of(c).left < text.right and text.left < box_of(c).right and box_of(c).bottom < text.top and text.bottom < box_of(c).top
        for c in drawn(Scene(tuple(hedge)))
    )  # fmt: skip
