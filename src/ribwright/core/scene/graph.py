"""A graph as a drawing office would rule it: frame, ticks, curves, hatched bands, points."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from ribwright.core.scene.items import Circle, Hatch, Item, Line, Point, Polyline, Style, Text


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
        items.append(Line(made.place(x, made.bottom), made.place(x, made.top), "thin"))
        px, py = made.place(x, made.bottom)
        items.append(Text((px, py - 0.22), f"{x:g}", 0.11, "middle"))
    for y in y_ticks:
        items.append(Line(made.place(made.left, y), made.place(made.right, y), "thin"))
        px, py = made.place(made.left, y)
        items.append(Text((px - 0.1, py - 0.05), f"{y:g}", 0.11, "end"))
    corners = (
        (made.left, made.bottom),
        (made.right, made.bottom),
        (made.right, made.top),
        (made.left, made.top),
    )
    items.append(Polyline(tuple(made.place(*c) for c in corners), closed=True))
    items.append(Text((at[0] + width / 2, at[1] - 0.5), across, 0.13, "middle"))
    items.append(Text((at[0] - 0.75, at[1] + height / 2), up, 0.13, "middle", 90.0))
    return made, items


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
