"""The parts of a movable surface, as its plan-form numbers make them."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from ribwright.dunlin.parts import bought_part, extrusion_part, sheet_part
from ribwright.dunlin.things import Outline, Point, Thing, box

WEDGE_HALF_ANGLE_DEG = 5.5
SPAR_FLANGE_IN = 0.70
RIB_FLANGE_IN = 0.60
OPENING_IN = 2.5
LAP_BEYOND_IN = 0.25
WEDGE_IN = 0.875


@dataclass(frozen=True, slots=True)
class Surface:
    """A surface by its drawing's numbers, inches.

    Attributes:
        number: of the assembly, ``21``.
        first: number of its first part inside the assembly.
        word: ``aileron``.
        hand: left, right or none.
        side: −1 when its outboard end lies to the left, else 1.
        inboard: distance of its inboard end from the centre line (or its lower end's height).
        length: along the hinge line.
        chord: behind the hinge line, at the inboard and the outboard end.
        radius: inside radius of the nose, at both ends.
        ribs: places of the ribs from the inboard end.
        hinges: places of the hinge openings.
        hinge_arm: arm of the hinge line.
        span: axis along which it lies, ``y`` or ``z``.
    """

    number: str
    first: int
    word: str
    hand: str
    side: int
    inboard: float
    length: float
    chord: tuple[float, float]
    radius: tuple[float, float]
    ribs: tuple[float, ...]
    hinges: tuple[float, ...]
    hinge_arm: float
    skin: str = ".020"
    spar: str = ".040"
    rib: str = ".025"
    pitch: float = 1.125
    span: str = "y"

    @property
    def taper(self) -> bool:
        """Whether its chord changes so much that its ribs have nothing in common."""
        return abs(self.chord[0] - self.chord[1]) > 2.0

    @property
    def assembly(self) -> str:
        return f"DN-{self.number}"

    def at(self, place: float) -> float:
        """Coordinate along the span of a place measured from the inboard end."""
        return self.side * (self.inboard + place)

    def between(self, ends: tuple[float, float], place: float) -> float:
        """A tapering value at a place."""
        return ends[0] + (ends[1] - ends[0]) * place / self.length

    def half_depth(self, place: float) -> float:
        """Half the depth of the section at the hinge line."""
        return self.between(self.chord, place) * math.tan(math.radians(WEDGE_HALF_ANGLE_DEG))

    def back(self, place: float) -> float:
        """The trailing edge, along the skin from the hinge line."""
        return self.between(self.chord, place) / math.cos(math.radians(WEDGE_HALF_ANGLE_DEG))

    def front(self, place: float) -> float:
        """The foremost line of the nose, along the skin from the hinge line: a quarter turn of the rolled nose."""
        return math.pi / 2 * (self.between(self.radius, place) + float(self.skin) / 2)

    @property
    def sections(self) -> tuple[tuple[float, float], ...]:
        """The nose between the hinge openings."""
        cuts = [0.0]
        for hinge in self.hinges:
            cuts += [hinge - OPENING_IN / 2, hinge + OPENING_IN / 2]
        cuts.append(self.length)
        return tuple(zip(cuts[::2], cuts[1::2], strict=True))

    @property
    def marked(self) -> str:
        """Its word with its hand, as titles end."""
        return f"{self.word}, {self.hand} hand" if self.hand != "none" else self.word


@dataclass(frozen=True, slots=True)
class SurfaceParts:
    """The parts of a surface by what they are; of the skins the upper (or left) one first."""

    skins: list[Thing]
    spar: Thing
    wedge: Thing
    ribs: list[Thing]
    doublers: list[Thing]
    brackets: list[Thing]
    weight: Thing

    @property
    def all(self) -> tuple[Thing, ...]:
        """In the order of their numbers."""
        return (*self.skins, self.spar, self.wedge, *self.ribs, *self.doublers, *self.brackets, self.weight)


def surface_parts(s: Surface, *, weight_order: str) -> SurfaceParts:
    """All parts of a surface."""
    parent, hand = s.assembly, s.hand
    number = iter(range(s.first, s.first + 60))
    arm = s.hinge_arm + 0.35 * sum(s.chord) / 2

    def ref() -> str:
        return f"DN-{s.number}{next(number):02d}"

    axes, web_axes = f"{s.span} x", f"{s.span} {'z' if s.span == 'y' else 'y'}"
    origin = "hinge line, developed along the skin"
    skins = [
        sheet_part(ref(), parent, f"{side} skin, {s.marked}", _skin(s), thickness=s.skin, arm=arm, axes=axes, origin=origin, hand=hand)
        for side in (("upper", "lower") if s.span == "y" else ("left", "right"))
    ]  # fmt: skip
    spar = sheet_part(
        ref(), parent, f"spar, {s.marked}", _spar(s), thickness=s.spar, arm=s.hinge_arm, axes=web_axes,
        origin="hinge line", hand=hand, primary=True,
    )  # fmt: skip
    wedge = extrusion_part(
        ref(),
        parent,
        f"wedge, {s.marked}",
        "wedge bar 7/8",
        _wedge(s),
        arm=arm + 5,
        axes=axes,
        origin=origin,
        hand=hand,
    )
    ribs = [
        sheet_part(
            ref(), parent, f"rib {n}, {s.marked}", _rib(s, p), thickness=s.rib, arm=arm,
            axes="x z" if s.span == "y" else "x y", origin="hinge line", hand=hand,
        )
        for n, p in enumerate(s.ribs, start=1)
    ]  # fmt: skip
    doublers = [
        sheet_part(
            ref(), parent, f"hinge doubler {n}, {s.marked}",
            box(s.at(p - 1.5), -s.half_depth(p) + 0.25, s.at(p + 1.5), s.half_depth(p) - 0.25),
            thickness=".040", arm=s.hinge_arm, axes=web_axes, origin="hinge line", hand=hand, primary=True,
        )
        for n, p in enumerate(s.hinges, start=1)
    ]  # fmt: skip
    brackets = [
        sheet_part(
            ref(), parent, f"hinge bracket {n}, {s.marked}", box(s.at(p - 0.6), -0.7, s.at(p + 2.0), 0.7), thickness=".125",
            material="6061-T6", arm=s.hinge_arm, axes=web_axes, origin="hinge line", hand=hand, primary=True,
        )
        for n, p in enumerate(s.hinges, start=1)
    ]  # fmt: skip
    weight = bought_part(
        ref(), parent, f"balance weight, {s.marked}" if s.word != "flap" else f"drive rod, {s.marked}", weight=1.1 if s.word != "flap" else 0.6,
        arm=s.hinge_arm - 1.0, order=weight_order, primary=True,
    )  # fmt: skip
    return SurfaceParts(skins, spar, wedge, ribs, doublers, brackets, replace(weight, hand=hand))


def _skin(s: Surface) -> Outline:
    """Trailing edge, then round the nose edge with an opening at each hinge."""
    edge: list[Point] = [(s.at(0.0), s.back(0.0)), (s.at(s.length), s.back(s.length))]
    for p0, p1 in reversed(s.sections):
        edge += [(s.at(p1), -s.front(p1) - LAP_BEYOND_IN), (s.at(p0), -s.front(p0) - LAP_BEYOND_IN)]
        if p0 > 0:
            edge += [(s.at(p0), -0.5), (s.at(p0 - OPENING_IN), -0.5)]
    return tuple(edge)


def _spar(s: Surface) -> Outline:
    """The channel laid flat: web and both flanges."""
    z0, z1 = s.half_depth(0.0) + SPAR_FLANGE_IN, s.half_depth(s.length) + SPAR_FLANGE_IN
    a, b = s.at(0.0), s.at(s.length)
    return ((a, -z0), (b, -z1), (b, z1), (a, z0))


def _wedge(s: Surface) -> Outline:
    a, b = s.at(0.0), s.at(s.length)
    return (
        (a, s.back(0.0) - WEDGE_IN),
        (b, s.back(s.length) - WEDGE_IN),
        (b, s.back(s.length)),
        (a, s.back(0.0)),
    )


def slope(s: Surface, p: float, along: float, off: float) -> Point:
    """A point on the flange of a rib laid flat: this far aft along the skin line, this far off it."""
    angle = math.radians(WEDGE_HALF_ANGLE_DEG)
    return (
        along * math.cos(angle) + off * math.sin(angle),
        s.half_depth(p) - along * math.sin(angle) + off * math.cos(angle),
    )


def _rib(s: Surface, p: float) -> Outline:
    """Web, tab to the spar, and a flange along each skin, laid flat."""
    tab = s.half_depth(p) - 0.25
    top = [
        (-0.6, tab),
        (0.0, tab),
        slope(s, p, 0.0, RIB_FLANGE_IN),
        slope(s, p, s.back(p) - 1.0, RIB_FLANGE_IN),
    ]
    return (*top, *((x, -z) for x, z in reversed(top)))
