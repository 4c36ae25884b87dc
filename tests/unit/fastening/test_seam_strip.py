"""The drill strip: each centre at its place, and no lettering across the line where the part ends."""

from __future__ import annotations

import pytest

from ribwright.core.scene import Circle, Line, Text
from ribwright.core.scene.lettering import width_of
from ribwright.core.scene.strokes import drawn
from ribwright.services.calculations import run_calculation


@pytest.mark.parametrize("hand", ["none", "left"])
@pytest.mark.parametrize(("length", "first", "last"), [(1.0, 0.3, 0.7), (2.0, 0.3, 1.7), (3.0, 0.4, 2.6), (6.0, 0.4, 5.6), (58, 0.75, 57.25)])  # fmt: skip
@pytest.mark.parametrize("title", ["clip", "bracket to web, inboard end, with a nut plate on its far side"])
def test_lettering_keeps_clear_of_the_end_lines(
    hand: str, length: float, first: float, last: float, title: str
) -> None:
    layers = [{"part": "a", "thickness": ".020"}, {"part": "b", "thickness": ".032"}]
    done = run_calculation("seam", {
        "title": title, "drawing": "DN-2100", "revision": "B", "hand": hand, "first": f"{first} in", "last": f"{last} in",
        "part_length": f"{length} in", "layers": layers,
    })  # fmt: skip
    items = drawn(done.outcome.templates[0])
    ends = [i for i in items if isinstance(i, Line) and i.a[0] == i.b[0] and i.a[0] in (0.0, length)]
    assert len(ends) == 2
    low, high = min(ends[0].a[1], ends[0].b[1]), max(ends[0].a[1], ends[0].b[1])
    words = [i for i in items if isinstance(i, Text) and not i.text.split()[0].isdigit()]
    assert len(words) == (3 if hand == "left" else 2)
    boxes = []
    for word in words:
        left, right = word.at[0], word.at[0] + width_of(word.text, word.height, bold=True)
        bottom, top = word.at[1] - 0.25 * word.height, word.at[1] + word.height
        assert left > 0
        assert right <= length or top < low or bottom > high, word.text
        boxes.append((left, right, bottom, top))
    for n, a in enumerate(boxes):
        for b in boxes[:n]:
            assert a[1] <= b[0] or b[1] <= a[0] or a[3] <= b[2] or b[3] <= a[2]
    holes = [i.center[0] for i in items if isinstance(i, Circle)]
    assert (holes[0], holes[-1]) == (pytest.approx(first), pytest.approx(last))
