"""Lettering that stands clear: beside its point, where no line runs through it and no other lettering stands."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from ribwright.core.scene.items import Anchor, Arc, Circle, Item, Line, Point, Polygon, Polyline, Text
from ribwright.core.scene.lettering import width_of
from ribwright.core.scene.scene import Bounds, Scene
from ribwright.core.scene.strokes import box_of, drawn

_LARGER = 1.45
"""A narrow page letters so much larger: there must be room for that too."""
_WAYS: tuple[tuple[float, float], ...] = (
    (1, 0), (-1, 0), (1, 1), (-1, 1), (1, -1), (-1, -1), (0, 1), (0, -1),
)  # fmt: skip
"""Right, left, then the corners, then above and below."""


@dataclass(slots=True)
class Clear:
    """What is drawn already, as far as lettering must keep off it; what is lettered here is added to it."""

    within: Bounds
    lines: list[tuple[Point, Point]] = field(default_factory=list)
    boxes: list[Bounds] = field(default_factory=list)

    def draw(self, items: Iterable[Item]) -> None:
        """Keep off these too; ruled paper is written on."""
        for item in drawn(Scene(tuple(items))):
            match item:
                case Line():
                    if item.style != "ruled":
                        self.lines.append((item.a, item.b))
                case Polyline() | Polygon():
                    ring = item.points + (item.points[:1] if getattr(item, "closed", True) else ())
                    self.lines += pairwise(ring)
                case Circle() | Arc():
                    self.boxes.append(box_of(item))
                case Text():
                    if item.text.strip() and not item.angle_deg:
                        self.boxes.append(_room(item, _LARGER))

    def letter(
        self,
        words: str,
        height: float,
        *points: Point,
        off: float = 0.1,
        bold: bool = False,
        ruled: bool = False,
    ) -> tuple[Item, ...]:
        """The words beside one of the points where nothing is in their way; from farther off, with a line back to it.

        Args:
            words, height: what is lettered, and how high.
            points: where they may stand, the best first.
            off: how far from the point they begin.
            ruled: on ruled paper, whose lines are left out under the words.
        """
        best: tuple[float, Text, Bounds, Point] | None = None
        for step, larger in ((1.0, _LARGER), (1.0, 1.1), (2.5, _LARGER), (4.0, _LARGER), (6.0, _LARGER)):
            for at in points:
                for n, (way_x, way_y) in enumerate(_WAYS):
                    text = _beside(at, words, height, way_x, way_y, off * step, bold=bold)
                    box = _room(text, larger)
                    bad = self._in_the_way(box) + 0.01 * n
                    if best is None or bad < best[0]:
                        best = (bad, text, box, at)
            if best is not None and best[0] < 1.0:
                break
        if best is None:
            return ()
        _, text, box, at = best
        self.boxes.append(box)
        foot = (min(max(at[0], box.left), box.right), min(max(at[1], box.bottom), box.top))
        far = (foot[0] - at[0]) ** 2 + (foot[1] - at[1]) ** 2 > (1.5 * off) ** 2
        made: tuple[Item, ...] = (text, Line(at, foot, "thin")) if far else (text,)
        return (_bare(_room(text, 1.0)), *made) if ruled else made

    def _in_the_way(self, box: Bounds) -> float:
        out = box.left < self.within.left or box.right > self.within.right
        out = out or box.bottom < self.within.bottom or box.top > self.within.top
        return (
            4.0 * out
            + 3.0 * sum(_overlap(box, other) for other in self.boxes)
            + 2.0 * sum(_cuts(box, a, b) for a, b in self.lines)
        )


def _bare(box: Bounds) -> Polygon:
    corners = ((box.left, box.bottom), (box.right, box.bottom), (box.right, box.top), (box.left, box.top))
    return Polygon(corners, "thin", fill="bare")


def _beside(
    at: Point, words: str, height: float, way_x: float, way_y: float, reach: float, *, bold: bool
) -> Text:
    anchor: Anchor = "start" if way_x > 0 else "end" if way_x < 0 else "middle"
    if way_x and way_y:
        reach *= 0.75
    drop = height / 2 if not way_y else height if way_y < 0 else 0.0
    return Text((at[0] + way_x * reach, at[1] + way_y * reach - drop), words, height, anchor, bold=bold)


def _room(text: Text, larger: float) -> Bounds:
    """Where it stands, as large as a narrow page letters it."""
    tall = larger * text.height
    wide = 0.9 * width_of(text.text, tall, bold=text.bold)
    left = text.at[0] - {"start": 0.0, "middle": wide / 2, "end": wide}[text.anchor]
    return Bounds(left, text.at[1] - 0.25 * tall, left + wide, text.at[1] + 1.05 * tall)


def _overlap(a: Bounds, b: Bounds) -> bool:
    return a.left < b.right and b.left < a.right and a.bottom < b.top and b.bottom < a.top


def _cuts(box: Bounds, a: Point, b: Point) -> bool:
    """Whether any of the line lies in the box: what is left of it between the four sides."""
    first, last = 0.0, 1.0
    run: Sequence[tuple[float, float, float, float]] = (
        (a[0], b[0] - a[0], box.left, box.right),
        (a[1], b[1] - a[1], box.bottom, box.top),
    )
    for start, along, low, high in run:
        if along == 0.0:
            if not low < start < high:
                return False
            continue
        near, far = sorted(((low - start) / along, (high - start) / along))
        first, last = max(first, near), min(last, far)
    return first < last
