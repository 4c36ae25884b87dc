"""A drawing as a value, and the few things that are done to a whole drawing."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

from ribwright.core.scene.items import (
    Anchor,
    Arc,
    Circle,
    Dimension,
    Hand,
    HandOf,
    Hatch,
    Item,
    Leader,
    Line,
    Marker,
    Point,
    Polygon,
    Polyline,
    Text,
)

_OTHER: dict[HandOf, HandOf] = {"left": "right", "right": "left", "none": "none"}
_FACING: dict[Anchor, Anchor] = {"start": "end", "end": "start", "middle": "middle"}


@dataclass(frozen=True, slots=True)
class Scene:
    """Items in drawing order; ``described`` is the text equivalent that a screen reader speaks.

    ``pieces`` is the same drawing cut into narrow ones, to be laid side by side and one under the other as the page is wide,
    each group beginning on a new line; empty for a drawing that stays whole. Paper always has it whole.
    """

    items: tuple[Item, ...] = ()
    title: str = ""
    described: str = ""
    pieces: tuple[tuple[Scene, ...], ...] = ()


@dataclass(frozen=True, slots=True)
class Bounds:
    """The smallest upright rectangle round a drawing."""

    left: float
    bottom: float
    right: float
    top: float

    @property
    def width(self) -> float:
        return self.right - self.left

    @property
    def height(self) -> float:
        return self.top - self.bottom


def bounds(scene: Scene) -> Bounds:
    """Rectangle round everything that will be drawn, lettering included; all zero for an empty scene."""
    from ribwright.core.scene.strokes import box_of, drawn

    return around(tuple(box_of(item) for item in drawn(scene)))


def around(boxes: tuple[Bounds, ...]) -> Bounds:
    """The rectangle round several; all zero for none."""
    if not boxes:
        return Bounds(0.0, 0.0, 0.0, 0.0)
    return Bounds(
        min(b.left for b in boxes),
        min(b.bottom for b in boxes),
        max(b.right for b in boxes),
        max(b.top for b in boxes),
    )


def together(*scenes: Scene, title: str = "", described: str = "") -> Scene:
    """Several drawings as one, in order; title and description of the first that has one unless given."""
    return Scene(
        tuple(item for scene in scenes for item in scene.items),
        title or next((s.title for s in scenes if s.title), ""),
        described or " ".join(s.described for s in scenes if s.described),
    )


def moved(scene: Scene, dx: float, dy: float) -> Scene:
    """The same drawing shifted by (dx, dy)."""
    return _mapped(scene, lambda p: (p[0] + dx, p[1] + dy))


def turned(scene: Scene, angle_deg: float, about: Point = (0.0, 0.0)) -> Scene:
    """The same drawing turned counter-clockwise; lettering turns with it."""
    c, s = math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))

    def place(p: Point) -> Point:
        x, y = p[0] - about[0], p[1] - about[1]
        return (about[0] + c * x - s * y, about[1] + s * x + c * y)

    return replace(scene, items=tuple(_turned(item, angle_deg, place) for item in scene.items), pieces=())


def mirrored(scene: Scene, about_x: float = 0.0) -> Scene:
    """The other hand: x is reflected, lettering stays readable, LEFT becomes RIGHT."""
    return replace(scene, items=tuple(_mirrored(item, about_x) for item in scene.items), pieces=())


def orientation(
    at: Point,
    *,
    up: Point | None = None,
    fwd: Point | None = None,
    inbd: Point | None = None,
    size: float = 0.6,
) -> Scene:
    """Arrows that say which way is UP, FWD and INBD; a direction left out points out of the paper.

    Args:
        at: where the arrows start.
        up, fwd, inbd: directions on the paper, of any length.
        size: length of an arrow; its lettering is a fifth of it.
    """
    items: list[Item] = []
    height = size * 0.2
    for word, way in (("UP", up), ("FWD", fwd), ("INBD", inbd)):
        if way is None or not any(way):
            continue
        run = math.hypot(*way)
        ux, uy = way[0] / run, way[1] / run
        tip = (at[0] + ux * size, at[1] + uy * size)
        back = (tip[0] - ux * height * 1.2, tip[1] - uy * height * 1.2)
        side = (-uy * height * 0.35, ux * height * 0.35)
        items.append(Line(at, back, style="thin"))
        items.append(
            Polygon(
                (tip, (back[0] + side[0], back[1] + side[1]), (back[0] - side[0], back[1] - side[1])),
                style="thin",
                fill="solid",
            )
        )
        reach = height * (0.5 + (1.4 * len(word) / 2 * abs(ux)) + 0.6 * abs(uy))
        items.append(
            Text(
                (tip[0] + ux * reach, tip[1] + uy * reach - height / 2), word, height=height, anchor="middle"
            )
        )
    return Scene(tuple(items))


def hand_mark(at: Point, hand: HandOf, height: float = 0.3) -> Scene:
    """The hand of a part in large letters; nothing for a part that has none."""
    return Scene((Hand(at, hand, height),) if hand != "none" else ())


def _mapped(scene: Scene, place: Callable[[Point], Point]) -> Scene:
    return replace(scene, items=tuple(_placed(item, place) for item in scene.items))


def _placed(item: Item, place: Callable[[Point], Point]) -> Item:
    match item:
        case Line() | Dimension():
            return replace(item, a=place(item.a), b=place(item.b))
        case Arc() | Circle():
            return replace(item, center=place(item.center))
        case Polyline() | Polygon() | Hatch():
            return replace(item, points=_all(item.points, place))
        case Leader():
            return replace(item, at=place(item.at), to=place(item.to))
        case Text() | Marker() | Hand():
            return replace(item, at=place(item.at))


def _all(points: Iterable[Point], place: Callable[[Point], Point]) -> tuple[Point, ...]:
    return tuple(place(p) for p in points)


def _turned(item: Item, angle_deg: float, place: Callable[[Point], Point]) -> Item:
    out = _placed(item, place)
    match out:
        case Arc():
            return replace(out, start_deg=out.start_deg + angle_deg, end_deg=out.end_deg + angle_deg)
        case Text() | Hatch():
            return replace(out, angle_deg=out.angle_deg + angle_deg)
        case Dimension() if out.along != "aligned":
            from ribwright.core.scene.strokes import as_aligned

            return _placed(as_aligned(item), place) if isinstance(item, Dimension) else out
        case _:
            return out


def _mirrored(item: Item, about_x: float) -> Item:
    def place(p: Point) -> Point:
        return (2 * about_x - p[0], p[1])

    out = _placed(item, place)
    match out:
        case Arc():
            return replace(out, start_deg=180 - out.end_deg, end_deg=180 - out.start_deg)
        case Polyline():
            return replace(out, bulges=tuple(-b for b in out.bulges))
        case Hatch():
            return replace(out, angle_deg=180 - out.angle_deg)
        case Text():
            return replace(out, anchor=_FACING[out.anchor], angle_deg=-out.angle_deg)
        case Dimension():
            return replace(out, offset=out.offset if out.along == "x" else -out.offset)
        case Hand():
            return replace(out, hand=_OTHER[out.hand], anchor=_FACING[out.anchor])
        case _:
            return out
