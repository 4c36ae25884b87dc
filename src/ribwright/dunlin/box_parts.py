"""The sheet-metal parts of a fixed surface, as its drawing's numbers make them."""

from __future__ import annotations

from dataclasses import dataclass

from ribwright.dunlin.parts import EXTRUSIONS, extrusion_part, sheet_part, strip
from ribwright.dunlin.things import Outline, Thing, box

FLANGE_IN = 0.75
NOSE_FLANGE_IN = 0.6


@dataclass(frozen=True, slots=True)
class Box:
    """A fixed surface by its drawing's numbers, inches.

    Attributes:
        number: of the assembly.
        first: number of its first part inside the assembly.
        letter: put before the numbers of its operations, so that two boxes of one assembly differ.
        word: what it is.
        hand: left, right or none.
        side: −1 when its outboard end lies to the left, else 1.
        inboard: distance of its inboard end from the centre line (or height of its lower end).
        length: along the span.
        depth: between the spars.
        height: of the front spar's web.
        nose: of the nose ribs; 0 for a box without a nose.
        ribs: places of the ribs from the inboard end.
        arm: of its middle.
        span: axis along which it lies, ``y`` or ``z``.
        covers: inspection openings in the lower skin, with nut plates.
        sealed: the nose is the fuel tank.
    """

    number: str
    first: int
    letter: str
    word: str
    hand: str
    side: int
    inboard: float
    length: float
    depth: float
    height: float
    nose: float
    ribs: tuple[float, ...]
    arm: float
    span: str = "y"
    skin: str = ".025"
    rib: str = ".025"
    spar: str = ".040"
    rear: str = ".032"
    pitch: float = 1.375
    cap: str = "angle 3/4 x 3/4 x 1/8"
    covers: int = 2
    sealed: bool = False
    stiffeners: int = 0

    @property
    def leg(self) -> float:
        """Width of one leg of a spar cap."""
        return EXTRUSIONS[self.cap][2] / 2

    def at(self, place: float) -> float:
        """Coordinate along the span of a place measured from the inboard end."""
        return self.side * (self.inboard + place)

    @property
    def marked(self) -> str:
        """Its word with its hand, as titles end."""
        return f"{self.word}, {self.hand} hand" if self.hand != "none" else self.word

    @property
    def rear_half(self) -> float:
        """Half the height of the rear spar's web."""
        return 0.7 * self.height / 2

    @property
    def wrap(self) -> float:
        """From the spar line to the leading edge, along the skin."""
        return self.nose + 0.5 * self.height / 2


@dataclass(frozen=True, slots=True)
class BoxParts:
    """The parts of a box by what they are; in pairs the upper (or left) one first."""

    web: Thing
    caps: list[Thing]
    rear: Thing
    ribs: list[Thing]
    nose_ribs: list[Thing]
    skins: list[Thing]
    nose_skin: Thing | None
    stiffeners: list[Thing]
    frames: list[Thing]
    covers: list[Thing]

    @property
    def all(self) -> tuple[Thing, ...]:
        """In the order of their numbers."""
        nose = (self.nose_skin,) if self.nose_skin else ()
        pairs = (*self.caps, self.rear, *self.ribs, *self.nose_ribs, *self.skins, *nose)
        return (self.web, *pairs, *self.stiffeners, *self.frames, *self.covers)


def box_parts(b: Box) -> BoxParts:
    """All parts of a box."""
    parent, hand = f"DN-{b.number}", b.hand
    count = iter(range(b.first, b.first + 90))
    p0, p1 = b.at(0.0), b.at(b.length)
    up_axis = "z" if b.span == "y" else "y"
    rib_axes, web_axes, skin_axes = f"x {up_axis}", f"{b.span} {up_axis}", f"{b.span} x"
    half, leg = b.height / 2, b.leg

    def sheet(
        title: str,
        outline: Outline,
        thickness: str,
        axes: str,
        arm: float,
        primary: bool = False,
        keeps: float = 1.0,
    ) -> Thing:
        return sheet_part(
            f"DN-{b.number}{next(count):02d}", parent, f"{title}, {b.marked}", outline, thickness=thickness, arm=arm, axes=axes,
            origin="front spar", hand=hand, primary=primary, keeps=keeps,
        )  # fmt: skip

    web = sheet(
        "front spar web", box(p0, -half, p1, half), b.spar, web_axes, b.arm - b.depth / 2, primary=True
    )
    caps = []
    for name in ("upper", "lower") if b.span == "y" else ("left", "right"):
        caps.append(
            extrusion_part(
                f"DN-{b.number}{next(count):02d}", parent, f"{name} spar cap, {b.marked}", b.cap, strip(p0, p1, 2 * leg),
                arm=b.arm - b.depth / 2, axes=f"{b.span} developed", origin="edge of the leg on the web", hand=hand, primary=True,
            )
        )  # fmt: skip
    rear = sheet(
        "rear spar", box(p0, -b.rear_half - FLANGE_IN, p1, b.rear_half + FLANGE_IN), b.rear, web_axes, b.arm + b.depth / 2, primary=True
    )  # fmt: skip
    ribs = [sheet(f"rib {n}", _rib(b), b.rib, rib_axes, b.arm, keeps=0.8) for n, _ in enumerate(b.ribs, 1)]
    nose_ribs = [
        sheet(f"nose rib {n}", _nose_rib(b), b.rib, rib_axes, b.arm - b.depth / 2 - b.nose / 2, keeps=0.85)
        for n, _ in enumerate(b.ribs, 1)
        if b.nose
    ]
    back = b.depth + 0.4
    ahead = 0.4
    skins = [
        sheet(f"{name} skin", box(p0, -ahead, p1, back), b.skin, skin_axes, b.arm)
        for name in (("upper", "lower") if b.span == "y" else ("left", "right"))
    ]
    nose_skin = (
        sheet(
            "nose skin",
            box(p0, -b.wrap - ahead, p1, b.wrap + ahead),
            b.skin,
            skin_axes,
            b.arm - b.depth / 2 - b.nose / 2,
        )
        if b.nose
        else None
    )
    stiffeners = [
        sheet(
            f"stiffener {n}",
            strip(b.at(b.ribs[0] + 1.0), b.at(b.ribs[-1] - 1.0), 1.5),
            ".025",
            f"{b.span} developed",
            b.arm,
        )
        for n in range(1, b.stiffeners + 1)
    ]
    frames = [
        sheet(
            f"frame of inspection opening {n}",
            box(b.at(c - 3.0), b.depth / 2 - 3.0, b.at(c + 3.0), b.depth / 2 + 3.0),
            ".032",
            skin_axes,
            b.arm,
            keeps=0.6,
        )
        for n, c in enumerate(cover_places(b), 1)
    ]
    covers = [
        sheet(
            f"inspection cover {n}",
            box(b.at(c - 2.5), b.depth / 2 - 2.5, b.at(c + 2.5), b.depth / 2 + 2.5),
            ".032",
            skin_axes,
            b.arm,
        )
        for n, c in enumerate(cover_places(b), 1)
    ]
    return BoxParts(web, caps, rear, ribs, nose_ribs, skins, nose_skin, stiffeners, frames, covers)


def cover_places(b: Box) -> list[float]:
    """Inspection openings sit in the middle of bays, spread along the span."""
    if not b.covers:
        return []
    step = (len(b.ribs) - 1) / b.covers
    return [(b.ribs[k] + b.ribs[k + 1]) / 2 for k in (int(step * (n + 0.5)) for n in range(b.covers))]


def _rib(b: Box) -> Outline:
    """Web with a flange above and below, and a tab to each spar, laid flat."""
    half, tab = b.height / 2, b.height / 2 - b.leg - 0.15
    r = 0.7 * half - 0.05
    right: Outline = (
        (0.0, half + FLANGE_IN), (b.depth, half + FLANGE_IN), (b.depth, r), (b.depth + 0.7, r),
    )  # fmt: skip
    left: Outline = ((-0.7, -tab), (-0.7, tab), (0.0, tab))
    return (*left, *right, *((x, -z) for x, z in reversed(right)), (0.0, -tab))


def _nose_rib(b: Box) -> Outline:
    """The nose rib with its flange laid flat."""
    half, tab = b.height / 2, b.height / 2 - b.leg - 0.15
    top = half + NOSE_FLANGE_IN
    return (
        (0.0, tab),
        (0.0, -tab),
        (-0.7, -tab),
        (-0.7, -top),
        (-b.nose, -top),
        (-b.nose, top),
        (-0.7, top),
        (-0.7, tab),
    )
