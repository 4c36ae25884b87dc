"""Ruled paper of a drawing office: graphs, calendars and strip charts share its lines, its lettering and its signs.

Ruled lines are the thinnest, the frame is an outline, what the graph says is heavy, a limit is dashed, what is doubtful is
hatched, and what lies beyond a limit is filled with the darkest step of the scale. Numbers stand outside the frame; the title
stands above its left corner.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from ribwright.core.scene.items import Circle, Hatch, Item, Line, Point, Polygon, Polyline, Style, Text

NUMBERS = 0.12
"""Height of the numbers along an edge, and of what is lettered on a graph."""
NAMES = 0.13
"""Height of what an axis measures."""
TITLES = 0.14
"""Height of a title, which is bold."""
_TICK = 0.06


@dataclass(frozen=True, slots=True)
class Graph:
    """Where values lie on the paper: ``left`` to ``right`` across, ``bottom`` to ``top`` up."""

    left: float
    right: float
    bottom: float
    top: float
    width: float = 6.0
    height: float = 4.0
    at: Point = (0.0, 0.0)

    def place(self, x: float, y: float) -> Point:
        """The point on the paper of a pair of values."""
        across = (x - self.left) / (self.right - self.left) * self.width
        up = (y - self.bottom) / (self.top - self.bottom) * self.height
        return (self.at[0] + across, self.at[1] + up)


def ticks(low: float, high: float, about: int = 6) -> tuple[float, ...]:
    """Round values from at or below ``low`` to at or above ``high``, about this many."""
    span = high - low
    if not (math.isfinite(span) and span > 0):
        low, high = low - 0.5, high + 0.5
        span = high - low
    rough = span / about
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(m * power for m in (1.0, 2.0, 2.5, 5.0, 10.0) if m * power >= rough * (1 - 1e-9))
    first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
    return tuple(round(k * step, 10) for k in range(first, max(last, first + 1) + 1))


def graph(
    xs: Sequence[float],
    ys: Sequence[float],
    *,
    across: str,
    up: str,
    width: float = 6.0,
    height: float = 4.0,
    at: Point = (0.0, 0.0),
) -> tuple[Graph, list[Item]]:
    """A ruled graph that holds all the values given, with its lettering; more is drawn on it by the caller."""
    x_ticks, y_ticks = ticks(min(xs), max(xs)), ticks(min(ys), max(ys))
    made = Graph(x_ticks[0], x_ticks[-1], y_ticks[0], y_ticks[-1], width, height, at)
    items: list[Item] = []
    for x in x_ticks:
        items.append(Line(made.place(x, made.bottom), made.place(x, made.top), "ruled"))
        items += tick_below(made.place(x, made.bottom), f"{x:g}")
    for y in y_ticks:
        items.append(Line(made.place(made.left, y), made.place(made.right, y), "ruled"))
        items += tick_beside(made.place(made.left, y), f"{y:g}")
    corners = (
        (made.left, made.bottom),
        (made.right, made.bottom),
        (made.right, made.top),
        (made.left, made.top),
    )
    items.append(Polyline(tuple(made.place(*c) for c in corners), closed=True))
    items.append(Text((at[0] + width / 2, at[1] - 0.5), across, NAMES, "middle"))
    items.append(Text((at[0] - 0.75, at[1] + height / 2), up, NAMES, "middle", 90.0))
    return made, items


def title(at: Point, words: str) -> Text:
    """The title above the left upper corner of a frame."""
    return Text((at[0], at[1] + 0.14), words, TITLES, bold=True)


def tick_below(at: Point, number: str) -> tuple[Item, ...]:
    """A tick below the frame with its number."""
    x, y = at
    return (Line((x, y - _TICK), (x, y), "thin"), Text((x, y - _TICK - 0.17), number, NUMBERS, "middle"))


def tick_beside(at: Point, number: str) -> tuple[Item, ...]:
    """A tick left of the frame with its number."""
    x, y = at
    return (Line((x - _TICK, y), (x, y), "thin"), Text((x - _TICK - 0.05, y - 0.05), number, NUMBERS, "end"))


def beyond(points: Sequence[Point]) -> Polygon:
    """An area that lies beyond a limit, filled with the darkest step of the scale."""
    return Polygon(tuple(points), "thin", fill="grade-0")


def curve(on: Graph, xs: Sequence[float], ys: Sequence[float], style: Style = "outline") -> Polyline:
    """A line through pairs of values."""
    return Polyline(tuple(on.place(float(x), float(y)) for x, y in zip(xs, ys, strict=True)), style=style)


def band(on: Graph, xs: Sequence[float], low: Sequence[float], high: Sequence[float]) -> Hatch:
    """What is doubtful, hatched between two curves and kept inside the frame."""

    def kept(y: float) -> float:
        return min(max(float(y), on.bottom), on.top)

    lower = [on.place(float(x), kept(y)) for x, y in zip(xs, low, strict=True)]
    upper = [on.place(float(x), kept(y)) for x, y in zip(xs, high, strict=True)]
    return Hatch((*lower, *reversed(upper)), spacing=0.08)


def dot(on: Graph, x: float, y: float, size: float = 0.05) -> Circle:
    """A measured point."""
    return Circle(on.place(x, y), size, "heavy")
