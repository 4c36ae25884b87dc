"""A movable surface: skins with a rolled nose, spar, ribs, wedge and hinges, from its plan-form numbers."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from ribwright.dunlin.inputs import bend_inputs, nose_inputs, pull_row, template_inputs, wedge_row
from ribwright.dunlin.kinds import Stages, nut_plates, operation
from ribwright.dunlin.parts import bought_part, extrusion_part, sheet_part
from ribwright.dunlin.rows import UNIVERSAL, Joined, row
from ribwright.dunlin.things import Outline, Point, Thing, box, inch

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


def surface(seed: int, s: Surface, *, weight_order: str = "DN-P14") -> tuple[Thing, ...]:
    """All parts, spaces and operations of a surface, in the order in which they are made."""
    things: list[Thing] = []
    parent, hand = s.assembly, s.hand
    number = iter(range(s.first, s.first + 60))
    arm = s.hinge_arm + 0.35 * sum(s.chord) / 2
    marked = f"{s.word}, {hand} hand" if hand != "none" else s.word

    def ref() -> str:
        return f"DN-{s.number}{next(number):02d}"

    axes, web_axes = f"{s.span} x", f"{s.span} {'z' if s.span == 'y' else 'y'}"
    origin = "hinge line, developed along the skin"
    skins = [
        sheet_part(ref(), parent, f"{side} skin, {marked}", _skin(s), thickness=s.skin, arm=arm, axes=axes, origin=origin, hand=hand)
        for side in (("upper", "lower") if s.span == "y" else ("left", "right"))
    ]  # fmt: skip
    upper, lower = skins
    spar = sheet_part(
        ref(), parent, f"spar, {marked}", _spar(s), thickness=s.spar, arm=s.hinge_arm, axes=web_axes,
        origin="hinge line", hand=hand, primary=True,
    )  # fmt: skip
    wedge = extrusion_part(
        ref(),
        parent,
        f"wedge, {marked}",
        "wedge bar 7/8",
        _wedge(s),
        arm=arm + 5,
        axes=axes,
        origin=origin,
        hand=hand,
    )
    ribs = [
        sheet_part(
            ref(), parent, f"rib {n}, {marked}", _rib(s, p), thickness=s.rib, arm=arm,
            axes="x z" if s.span == "y" else "x y", origin="hinge line", hand=hand,
        )
        for n, p in enumerate(s.ribs, start=1)
    ]  # fmt: skip
    doublers = [
        sheet_part(
            ref(), parent, f"hinge doubler {n}, {marked}",
            box(s.at(p - 1.5), -s.half_depth(p) + 0.25, s.at(p + 1.5), s.half_depth(p) - 0.25),
            thickness=".040", arm=s.hinge_arm, axes=web_axes, origin="hinge line", hand=hand, primary=True,
        )
        for n, p in enumerate(s.hinges, start=1)
    ]  # fmt: skip
    brackets = [
        sheet_part(
            ref(), parent, f"hinge bracket {n}, {marked}", box(s.at(p - 0.6), -0.7, s.at(p + 2.0), 0.7), thickness=".125",
            material="6061-T6", arm=s.hinge_arm, axes=web_axes, origin="hinge line", hand=hand, primary=True,
        )
        for n, p in enumerate(s.hinges, start=1)
    ]  # fmt: skip
    weight = bought_part(
        ref(), parent, f"balance weight, {marked}" if s.word != "flap" else f"drive rod, {marked}", weight=1.1 if s.word != "flap" else 0.6,
        arm=s.hinge_arm - 1.0, order=weight_order, primary=True,
    )  # fmt: skip
    things += [*skins, spar, wedge, *ribs, *doublers, *brackets, replace(weight, hand=hand)]

    op = f"{parent}-{'' if s.first == 1 else 'M'}"
    box_space, noses = f"{op}A", [f"{op}N{n}" for n in range(1, len(s.sections) + 1)]
    seams = _Counter(f"{op}S")
    bends = _Counter(f"{op}B")

    def bent(members: Sequence[Thing], what: str, how: str, hours: float) -> Thing:
        calculation, inputs = bend_inputs(members[0], how)
        stages: Stages = (("blank", 0.4 * hours), ("bend", 0.5 * hours), ("deburr", 0.1 * hours))
        return operation(
            seed, bends.next(), parent, f"bend {what}, {marked}", stages, parts=[one.ref for one in members], calculation=calculation,
            inputs=inputs, hand=hand, primary=members[0].data["primary"] == "yes",
        )  # fmt: skip

    spar_bend = bent([spar], "spar", "channel", 1.6)
    if s.taper:  # no two ribs alike: each has its own blank
        rib_bends = [bent([one], f"rib {n}", "flanges", 0.9) for n, one in enumerate(ribs, 1)]
    else:
        rib_bends = [bent(ribs, "ribs", "flanges", 0.7 * len(ribs))] * len(ribs)
    bracket_bends = [bent(brackets, "hinge brackets", "bracket", 1.5)] * len(brackets)
    things += [spar_bend, *(rib_bends if s.taper else rib_bends[:1]), bracket_bends[0]]

    # the skeleton
    skeleton: list[Thing] = []
    for n, (p, rib, made) in enumerate(zip(s.ribs, ribs, rib_bends, strict=True), start=1):
        half = s.half_depth(p) - 0.55
        side = _flange_side(s, n)
        skeleton.append(
            row(
                seed, seams.next(), parent, f"rib {n} to spar, {marked}",
                (Joined(rib, (-0.3, -half), (-0.3, half)), Joined(spar, (s.at(p + 0.3 * side), -half), (s.at(p + 0.3 * side), half))),
                2 * half, hand=hand, head=UNIVERSAL, pitch=half if half >= 0.3 else 2 * half, ends=(0.3, 0.3), runs="lower to upper", space=box_space,
                after=(f"{made.ref}/deburr", f"{spar_bend.ref}/deburr"), called=s.number != "21",
            )
        )  # fmt: skip
    doubled: list[Thing] = []
    plates: list[Thing] = []
    for n, (p, doubler, bracket) in enumerate(zip(s.hinges, doublers, brackets, strict=True), start=1):
        across = ((s.at(p - 1.2), 0.0), (s.at(p + 1.2), 0.0))
        doubled.append(
            row(
                seed, seams.next(), parent, f"hinge doubler {n} to spar, {marked}",
                (Joined(doubler, *across), Joined(spar, *across)), 2.4, hand=hand, head=UNIVERSAL, pitch=0.8,
                ends=(0.3, 0.3), primary=True, space=box_space, after=(f"{spar_bend.ref}/deburr",),
            )
        )  # fmt: skip
        plates.append(
            nut_plates(
                seed, f"{op}P{n:02d}", parent, f"nut plates for hinge bracket {n}, {marked}", doubler, 2, hand=hand,
                space=box_space, after=(f"{doubled[-1].ref}/rivet",),
            )
        )  # fmt: skip
        things.append(
            operation(
                seed, f"{op}H{n:02d}", parent, f"bolt hinge bracket {n} on, {marked}", (("fit", 0.5), ("bolt", 0.3)),
                parts=(bracket.ref, doubler.ref, spar.ref), hand=hand, primary=True,
                after=(f"{plates[-1].ref}/rivet", f"{bracket_bends[n - 1].ref}/deburr"),
                joins=[
                    {"part": one.ref, "axes": web_axes, "row": [[inch(s.at(p)), "-0.3"], [inch(s.at(p)), "0.3"]]}
                    for one in (bracket, doubler, spar)
                ],
                fasteners=[{"part_number": "AN3-4A", "count": "2"}, {"part_number": "AN960-10", "count": "4"}],
            )
        )  # fmt: skip
    things += [*skeleton, *doubled, *plates]

    # skins on the ribs and the spar
    standing = [f"{one.ref}/rivet" for one in (*skeleton, *doubled, *plates)]
    on_ribs: list[Thing] = []
    for skin, up in ((upper, 1), (lower, -1)):
        for n, (p, rib) in enumerate(zip(s.ribs, ribs, strict=True), start=1):
            y = s.at(p + 0.3 * _flange_side(s, n))
            run = s.back(p) - 1.1 - 1.5
            one = row(
                seed, seams.next(), parent, f"{skin.title.split(',')[0]} to rib {n}, {marked}",
                (Joined(skin, (y, 1.1), (y, s.back(p))), Joined(rib, *_on_rib(s, p, up, 1.1, run))),
                run, hand=hand, pitch=s.pitch, ends=(1.1, 1.5), runs="forward to aft", space=box_space,
                after=(f"{rib_bends[n - 1].ref}/deburr",), called=s.number != "21",
            )  # fmt: skip
            on_ribs.append(rivet_after(one, standing))
    end = 0.375
    run = s.length - 2 * end
    line = [s.at(end), s.at(s.length - end)]

    def on_spar(skin: Thing, up: int, **more: object) -> Thing:
        z = [s.half_depth(end) + SPAR_FLANGE_IN / 2, s.half_depth(s.length - end) + SPAR_FLANGE_IN / 2]
        return row(
            seed, seams.next(), parent, f"{skin.title.split(',')[0]} to spar, {marked}",
            (
                Joined(skin, (line[0], SPAR_FLANGE_IN / 2), (line[1], SPAR_FLANGE_IN / 2)),
                Joined(spar, (line[0], up * z[0]), (line[1], up * z[1])),
            ),
            run, hand=hand, pitch=s.pitch, after=(f"{spar_bend.ref}/deburr",), called=s.number != "21", **more,  # type: ignore[arg-type]
        )  # fmt: skip

    holes = max(1, math.ceil(run / s.pitch - 0.001 / s.pitch)) + 1
    stay = [
        {"hole": str(1 + round((place - end) / (run / (holes - 1)))), "what": "left open", "reason": "the hinge bracket's screw goes in here later"}
        for place in s.hinges
    ]  # fmt: skip
    first_row = rivet_after(on_spar(upper, 1, space=box_space, exceptions=stay), standing)
    trailing = wedge_row(
        seed, seams.next(), parent, f"trailing edge, {marked}", upper, wedge, lower, s.number != "21", space=box_space,
        start=(line[0], s.back(end) - 0.4), end=(line[1], s.back(s.length - end) - 0.4), hand=hand, pitch=s.pitch,
        after_rivet=[f"{one.ref}/rivet" for one in on_ribs],
    )  # fmt: skip
    closing = rivet_after(
        on_spar(lower, -1, closes=box_space, space=""),
        [f"{one.ref}/rivet" for one in (first_row, trailing, *on_ribs)],
    )
    things += [*on_ribs, first_row, trailing]

    # nose: roll each section before anything is riveted, close each at the end
    rolls, laps = [], []
    calculation, inputs = template_inputs(
        part=f"nose of the skins, {marked}", drawing=f"{parent}00", hand=hand, length=s.length, radius=s.radius, thickness=s.skin,
        places=[(p0 + p1) / 2 for p0, p1 in s.sections],
    )  # fmt: skip
    boards = operation(
        seed, f"{op}T01", parent, f"templates of the nose, {marked}", (("print", 0.3), ("cut", 0.7)), parts=(upper.ref, lower.ref),
        calculation=calculation, inputs=inputs, hand=hand,
    )  # fmt: skip
    things.append(boards)
    for n, (p0, p1) in enumerate(s.sections, start=1):
        calculation, inputs = nose_inputs(
            title=f"roll nose section {n}, {marked}", drawing=f"{parent}00", hand=hand, length=p1 - p0,
            radius=(s.between(s.radius, p0), s.between(s.radius, p1)), thickness=s.skin,
        )  # fmt: skip
        rolls.append(
            operation(
                seed, f"{op}R{n:02d}", parent, f"roll nose section {n}, {marked}", (("trial", 0.8), ("roll", 1.2), ("check", 0.3)),
                parts=(upper.ref, lower.ref), calculation=calculation, inputs=inputs, hand=hand, after=(f"{boards.ref}/cut",),
            )
        )  # fmt: skip
        a, b = p0 + 0.4, p1 - 0.4
        laps.append(
            pull_row(
                seed, f"{op}L{n:02d}", parent, f"nose lap, section {n}, {marked}",
                (
                    Joined(upper, (s.at(a), -s.front(a)), (s.at(b), -s.front(b))),
                    Joined(lower, (s.at(a), -s.front(a)), (s.at(b), -s.front(b))),
                ),
                math.hypot(b - a, s.front(b) - s.front(a)), hand=hand, pitch=1.25, closes=noses[n - 1], after=(f"{rolls[-1].ref}/check",),
                after_rivet=(f"{closing.ref}/rivet",),
            )
        )  # fmt: skip
    rolled = [f"{one.ref}/check" for one in rolls]
    things = [rivet_after(one, rolled) if one in on_ribs else one for one in things]
    things += [*rolls, closing, *laps]
    things += [
        Thing(
            "space", box_space, parent, f"behind the spar, {marked}", hand,
            {
                "bays": [f"bay {n}" for n in range(1, len(s.ribs))], "holds": [spar.ref, *(one.ref for one in (*ribs, *doublers, *skins))],
                "twist": "yes", "film": "yes", "loose_hardware": "yes", "second_person": "yes",
            },
        ),
        *(
            Thing(
                "space", ref_, parent, f"nose section {n}, {marked}", hand,
                {
                    "bays": ["nose"], "holds": [upper.ref, lower.ref], "twist": "yes" if n == len(noses) else "no", "film": "yes",
                    "loose_hardware": "yes", "second_person": "yes",
                },
            )
            for n, ref_ in enumerate(noses, start=1)
        ),
    ]  # fmt: skip
    last = [f"{one.ref}/rivet" for one in laps]
    things += [
        operation(
            seed, f"{op}X01", parent, f"check twist and balance, {marked}", (("measure", 0.8), ("balance", 1.2)),
            parts=(spar.ref, weight.ref), hand=hand, after=last, primary=True,
            fasteners=[{"part_number": "AN3-6A", "count": "2"}, {"part_number": "AN365-1032A", "count": "2"}],
        )
    ]  # fmt: skip
    return tuple(things)


def rivet_after(one: Thing, more: Sequence[str]) -> Thing:
    """The operation with further stages that come before its riveting."""
    stages = [
        {**stage, "after": [*stage.get("after", ()), *more]} if stage["name"] == "rivet" else stage
        for stage in one.data["stages"]
    ]
    return replace(one, data={**one.data, "stages": stages})


class _Counter:
    """References one after another: ``DN-21-S01``."""

    def __init__(self, stem: str) -> None:
        self.stem, self.count = stem, 0

    def next(self) -> str:
        self.count += 1
        return f"{self.stem}{self.count:02d}"


def _flange_side(s: Surface, n: int) -> int:
    """Flanges look inward: those of the last rib the other way than those of the first."""
    return -1 if n == len(s.ribs) else 1


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


def _slope(s: Surface, p: float, along: float, off: float) -> Point:
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
        _slope(s, p, 0.0, RIB_FLANGE_IN),
        _slope(s, p, s.back(p) - 1.0, RIB_FLANGE_IN),
    ]
    return (*top, *((x, -z) for x, z in reversed(top)))


def _on_rib(s: Surface, p: float, up: int, first: float, run: float) -> tuple[Point, Point]:
    x0, z0 = _slope(s, p, first, RIB_FLANGE_IN / 2)
    x1, z1 = _slope(s, p, first + run, RIB_FLANGE_IN / 2)
    return (x0, up * z0), (x1, up * z1)
