"""What a drawing is made of: frozen values in inches, x to the right, y up.

An item never knows where it will be drawn. ``style`` says how a drawing office would draw the line,
``layer`` says what is done at it: *cut*, *drilled*, *marked* (with a felt tip: nothing is ever scribed on
a part that stays) or *printed* only. :func:`ribwright.core.scene.strokes.drawn` turns dimensions, leaders,
markers and hatching into plain strokes, once for all writers.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Point = tuple[float, float]
Style = Literal["outline", "hidden", "centre", "dimension", "thin", "heavy", "fold", "ruled"]
Layer = Literal["cut", "drilled", "marked", "printed"]
Anchor = Literal["start", "middle", "end"]
Fill = Literal[
    "none", "paper", "bare", "tint", "solid", "ink", "grade-0", "grade-1", "grade-2", "grade-3", "grade-4"
]
Along = Literal["aligned", "x", "y"]
HoleKind = Literal["hole", "dimple-up", "dimple-down", "countersink", "left-open"]
HandOf = Literal["left", "right", "none"]

STYLES: tuple[Style, ...] = ("outline", "hidden", "centre", "dimension", "thin", "heavy", "fold", "ruled")
LAYERS: tuple[Layer, ...] = ("cut", "drilled", "marked", "printed")


@dataclass(frozen=True, slots=True)
class Line:
    """A straight stroke from ``a`` to ``b``."""

    a: Point
    b: Point
    style: Style = "outline"
    layer: Layer = "printed"


@dataclass(frozen=True, slots=True)
class Arc:
    """A true arc, counter-clockwise from ``start_deg`` to ``end_deg``."""

    center: Point
    radius: float
    start_deg: float
    end_deg: float
    style: Style = "outline"
    layer: Layer = "printed"


@dataclass(frozen=True, slots=True)
class Circle:
    """A full circle."""

    center: Point
    radius: float
    style: Style = "outline"
    layer: Layer = "printed"


@dataclass(frozen=True, slots=True)
class Polyline:
    """Joined strokes, with true arcs where ``bulges`` says so.

    ``bulges[i]`` belongs to the stroke from point i to the next one: the tangent of a quarter of the arc's
    angle, positive when it turns to the left (counter-clockwise); 0 is straight. Empty means all straight.
    """

    points: tuple[Point, ...]
    closed: bool = False
    style: Style = "outline"
    layer: Layer = "printed"
    bulges: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Polygon:
    """A closed area; ``fill`` is none, paper (hides what lies under it), bare (paper without an outline),
    tint, solid, ink (solid, and not a hair larger: without an outline), or a step of the scale from grade-0 (tightest) to grade-4."""

    points: tuple[Point, ...]
    style: Style = "outline"
    layer: Layer = "printed"
    fill: Fill = "none"


@dataclass(frozen=True, slots=True)
class Hatch:
    """Section lining inside a closed area, without its edge."""

    points: tuple[Point, ...]
    angle_deg: float = 45.0
    spacing: float = 0.1
    style: Style = "thin"
    layer: Layer = "printed"


@dataclass(frozen=True, slots=True)
class Text:
    """One line of lettering; ``height`` is the height of its capitals, ``at`` lies on its base line."""

    at: Point
    text: str
    height: float = 0.12
    anchor: Anchor = "start"
    angle_deg: float = 0.0
    bold: bool = False
    layer: Layer = "printed"


@dataclass(frozen=True, slots=True)
class Dimension:
    """A length from ``a`` to ``b``; ``offset`` is how far its line lies to the left of a→b.

    ``text`` None letters the measured length in the trade's way (fraction where it is one). ``along`` "x"
    or "y" measures only that direction; ``offset`` then is upwards for x and to the right for y.
    """

    a: Point
    b: Point
    offset: float
    text: str | None = None
    height: float = 0.11
    along: Along = "aligned"
    layer: Layer = "printed"


@dataclass(frozen=True, slots=True)
class Leader:
    """A note at ``to`` with an arrow that points at ``at``."""

    at: Point
    to: Point
    text: str
    height: float = 0.11
    layer: Layer = "printed"


@dataclass(frozen=True, slots=True)
class Marker:
    """A hole of a true ``diameter``; kinds differ in shape, not only in colour. ``label`` is its letter."""

    at: Point
    kind: HoleKind = "hole"
    label: str = ""
    diameter: float = 0.098
    height: float = 0.09
    layer: Layer = "drilled"


@dataclass(frozen=True, slots=True)
class Hand:
    """LEFT or RIGHT in large letters; mirroring a scene changes the word, never its direction of reading."""

    at: Point
    hand: HandOf
    height: float = 0.3
    anchor: Anchor = "start"
    layer: Layer = "printed"


Primitive = Line | Arc | Circle | Polyline | Polygon | Text
Item = Line | Arc | Circle | Polyline | Polygon | Hatch | Text | Dimension | Leader | Marker | Hand
