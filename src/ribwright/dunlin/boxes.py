"""A fixed surface: front and rear spar, ribs, skins and a nose skin; wing panel, stabiliser, fin, centre section."""

from __future__ import annotations

from dataclasses import dataclass

from ribwright.dunlin.inputs import bend_inputs
from ribwright.dunlin.kinds import nut_plates, operation
from ribwright.dunlin.parts import EXTRUSIONS, extrusion_part, sheet_part, strip
from ribwright.dunlin.rows import UNIVERSAL, Joined, between_holes, row
from ribwright.dunlin.surfaces import rivet_after
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


def box_structure(seed: int, b: Box) -> tuple[Thing, ...]:
    """All parts, spaces and operations of a box, in the order in which they are made."""
    parent, hand = f"DN-{b.number}", b.hand
    count = iter(range(b.first, b.first + 90))
    marked = f"{b.word}, {hand} hand" if hand != "none" else b.word
    p0, p1 = b.at(0.0), b.at(b.length)
    up_axis = "z" if b.span == "y" else "y"
    rib_axes, web_axes, skin_axes = f"x {up_axis}", f"{b.span} {up_axis}", f"{b.span} x"
    half = b.height / 2
    leg = b.leg

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
            f"DN-{b.number}{next(count):02d}", parent, f"{title}, {marked}", outline, thickness=thickness, arm=arm, axes=axes,
            origin="front spar", hand=hand, primary=primary, keeps=keeps,
        )  # fmt: skip

    web = sheet(
        "front spar web", box(p0, -half, p1, half), b.spar, web_axes, b.arm - b.depth / 2, primary=True
    )
    caps = []
    for name in ("upper", "lower") if b.span == "y" else ("left", "right"):
        caps.append(
            extrusion_part(
                f"DN-{b.number}{next(count):02d}", parent, f"{name} spar cap, {marked}", b.cap, strip(p0, p1, 2 * leg),
                arm=b.arm - b.depth / 2, axes=f"{b.span} developed", origin="edge of the leg on the web", hand=hand, primary=True,
            )
        )  # fmt: skip
    rear_half = 0.7 * half
    rear = sheet(
        "rear spar", box(p0, -rear_half - FLANGE_IN, p1, rear_half + FLANGE_IN), b.rear, web_axes, b.arm + b.depth / 2, primary=True
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
    wrap = b.nose + 0.5 * half  # from the spar line to the leading edge, along the skin
    nose_skin = (
        sheet(
            "nose skin",
            box(p0, -wrap - ahead, p1, wrap + ahead),
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
        for n, c in enumerate(_cover_places(b), 1)
    ]
    covers = [
        sheet(
            f"inspection cover {n}",
            box(b.at(c - 2.5), b.depth / 2 - 2.5, b.at(c + 2.5), b.depth / 2 + 2.5),
            ".032",
            skin_axes,
            b.arm,
        )
        for n, c in enumerate(_cover_places(b), 1)
    ]
    parts = [
        web,
        *caps,
        rear,
        *ribs,
        *nose_ribs,
        *skins,
        *([nose_skin] if nose_skin else []),
        *stiffeners,
        *frames,
        *covers,
    ]

    op = f"{parent}-{b.letter}"
    main, nose_space = f"{op}A", f"{op}N"
    made: list[Thing] = []
    numbers = iter(range(1, 400))

    def seam(title: str, joined: tuple[Joined, ...], run: float, **more: object) -> Thing:
        return row(
            seed, f"{op}S{next(numbers):02d}", parent, f"{title}, {marked}", joined, run, hand=hand, **more,  # type: ignore[arg-type]
        )  # fmt: skip

    def bend(title: str, ref: str, members: list[Thing], hours: float) -> Thing:
        calculation, inputs = bend_inputs(members[0], "flanges")
        return operation(
            seed, ref, parent, f"{title}, {marked}", (("blank", 0.4 * hours), ("bend", 0.5 * hours), ("deburr", 0.1 * hours)),
            parts=[one.ref for one in members], calculation=calculation, inputs=inputs, hand=hand,
        )  # fmt: skip

    bend_ribs = bend("bend rib flanges", f"{op}B01", ribs, 0.6 * len(ribs))
    bend_spar = bend("bend rear spar", f"{op}B02", [rear], 1.5)
    made += [bend_ribs, bend_spar]
    bent = f"{bend_ribs.ref}/deburr"
    if nose_ribs:
        made.append(bend("bend nose rib flanges", f"{op}B03", nose_ribs, 0.5 * len(nose_ribs)))
        assert nose_skin is not None
        made.append(
            operation(
                seed, f"{op}B04", parent, f"bend nose skin, {marked}", (("trial", 0.5), ("bend", 2.0), ("check", 0.5)),
                parts=(nose_skin.ref,), hand=hand, helper=True,
            )
        )  # fmt: skip
    # spar: caps on the web, along the whole length
    along = (b.at(0.6), b.at(b.length - 0.6))
    run = b.length - 1.2
    spar_rows = [
        seam(
            f"{cap.title.split(',')[0]} to web",
            (
                Joined(web, (along[0], sign * (half - leg / 2)), (along[1], sign * (half - leg / 2))),
                Joined(cap, (along[0], leg / 2), (along[1], leg / 2)),
            ),
            run, head=UNIVERSAL, size="1/8", pitch=1.0, ends=(0.6, 0.6), primary=True, space=main,
        )
        for cap, sign in zip(caps, (1, -1), strict=True)
    ]  # fmt: skip
    made += spar_rows
    skeleton: list[Thing] = []
    low = half - leg - 0.45
    for n, (p, rib) in enumerate(zip(b.ribs, ribs, strict=True), 1):
        y = b.at(p + 0.35 * _look(b, n))
        before = [Joined(nose_ribs[n - 1], (-0.35, -low), (-0.35, low))] if b.nose else []
        skeleton.append(
            seam(
                f"rib {n}{' and nose rib' if b.nose else ''} to front spar",
                (*before, Joined(web, (y, -low), (y, low)), Joined(rib, (-0.35, -low), (-0.35, low))), 2 * low, head=UNIVERSAL, size="1/8",
                pitch=1.0, ends=(0.3, 0.3), runs="lower to upper", space=main, after=(bent, *((f"{op}B03/deburr",) if b.nose else ())),
            )
        )  # fmt: skip
        r = rear_half - 0.35
        skeleton.append(
            seam(
                f"rib {n} to rear spar",
                (Joined(rib, (b.depth + 0.35, -r), (b.depth + 0.35, r)), Joined(rear, (y, -r), (y, r))), 2 * r, head=UNIVERSAL,
                size="1/8", pitch=1.0, ends=(0.3, 0.3), runs="lower to upper", space=main, after=(bent, f"{bend_spar.ref}/deburr"),
            )
        )  # fmt: skip
    made += skeleton
    standing = [f"{one.ref}/rivet" for one in (*spar_rows, *skeleton)]
    rib_rows: list[Thing] = []
    for skin, sign in zip(skins, (1, -1), strict=True):
        for n, (p, rib) in enumerate(zip(b.ribs, ribs, strict=True), 1):
            y = b.at(p + 0.35 * _look(b, n))
            z = sign * (half + 0.35)
            one = seam(
                f"{skin.title.split(',')[0]} to rib {n}",
                (Joined(skin, (y, 1.2), (y, b.depth - 1.2)), Joined(rib, (1.2, z), (b.depth - 1.2, z))), b.depth - 2.4,
                pitch=b.pitch, ends=(1.0, 1.0), runs="forward to aft", space=main, after=(bent,),
            )  # fmt: skip
            rib_rows.append(rivet_after(one, standing))
    stiff_rows = [
        rivet_after(
            seam(
                f"stiffener {n} to {skin.title.split(',')[0]}",
                (
                    Joined(skin, (b.at(b.ribs[0] + 1.5), s), (b.at(b.ribs[-1] - 1.5), s)),
                    Joined(one, (b.at(b.ribs[0] + 1.5), 0.375), (b.at(b.ribs[-1] - 1.5), 0.375)),
                ),
                b.ribs[-1] - b.ribs[0] - 3.0, pitch=2.0, ends=(0.5, 0.5), space=main,
            ),
            [],
        )
        for n, (one, skin, s) in enumerate(
            [(one, skins[k % 2], _stiffener_at(b, k)) for k, one in enumerate(stiffeners)], 1
        )
    ]  # fmt: skip
    made += [*rib_rows, *stiff_rows]
    plates: list[Thing] = []
    for n, frame in enumerate(frames, 1):
        c = _cover_places(b)[n - 1]
        for edge, name in ((-2.75, "forward"), (2.75, "aft")):
            s = b.depth / 2 + edge
            made.append(
                seam(
                    f"frame of inspection opening {n}, {name} row",
                    (Joined(skins[1], (b.at(c - 2.6), s), (b.at(c + 2.6), s)), Joined(frame, (b.at(c - 2.6), s), (b.at(c + 2.6), s))),
                    5.2, pitch=1.04, ends=(0.4, 0.4), space=main,
                )
            )  # fmt: skip
        plates.append(
            nut_plates(seed, f"{op}P{n:02d}", parent, f"nut plates of inspection opening {n}, {marked}", frame, 8, hand=hand, space=main, plate="MS21059-08")
        )  # fmt: skip
    made += plates
    over = [nose_skin] if nose_skin is not None else []

    def spar_line(skin: Thing, cap: Thing, sign: int, **more: object) -> Thing:
        """Main skin and nose skin lap on the cap."""
        return seam(
            f"{skin.title.split(',')[0]} to front spar",
            (
                *(Joined(n_, (along[0], sign * wrap), (along[1], sign * wrap)) for n_ in over),
                Joined(skin, (along[0], 0.0), (along[1], 0.0)),
                Joined(cap, (along[0], 1.5 * leg), (along[1], 1.5 * leg)),
            ),
            run, size="1/8", pitch=b.pitch, ends=(0.6, 0.6), primary=True, **more,
        )  # fmt: skip

    def rear_line(skin: Thing, sign: int, **more: object) -> Thing:
        z = sign * (rear_half + FLANGE_IN / 2)
        return seam(
            f"{skin.title.split(',')[0]} to rear spar",
            (Joined(skin, (along[0], b.depth), (along[1], b.depth)), Joined(rear, (along[0], z), (along[1], z))), run,
            pitch=b.pitch, ends=(0.6, 0.6), **more,
        )  # fmt: skip

    upper_rear = rivet_after(rear_line(skins[0], 1, space=main), standing)
    upper_front = rivet_after(spar_line(skins[0], caps[0], 1, space=nose_space if b.nose else main), standing)
    made += [upper_rear, upper_front]
    nose_rows: list[Thing] = []
    if nose_skin is not None:
        for n, (p, rib) in enumerate(zip(b.ribs, nose_ribs, strict=True), 1):
            y = b.at(p + 0.35 * _look(b, n))
            for name, sign in (("upper", 1), ("lower", -1)):
                z = sign * (half + NOSE_FLANGE_IN / 2)
                nose_rows.append(
                    seam(
                        f"nose skin to nose rib {n}, {name} row",
                        (
                            Joined(nose_skin, (y, sign * (wrap - 1.3)), (y, sign * 0.25 * wrap)),
                            Joined(rib, (-1.3, z), (-b.nose, z)),
                        ),
                        b.nose - 3.0, pitch=b.pitch, ends=(1.0, 1.0), runs="lower to upper", space=nose_space,
                        after=(f"{op}B03/deburr", f"{op}B04/check"),
                    )
                )  # fmt: skip
        made += [rivet_after(one, standing) for one in nose_rows]
    sealing: list[Thing] = []
    if b.sealed:
        sealing = [
            operation(
                seed, f"{op}T01", parent, f"seal the tank seams, {marked}", (("clean", 1.5), ("seal", 5.0), ("cure", 0.2)),
                parts=[one.ref for one in nose_ribs[:4]], hand=hand, space=nose_space, kind="sealing", sealant="tank sealant",
                after=[f"{one.ref}/rivet" for one in nose_rows[:8]],
            )
        ]  # fmt: skip
        made += sealing
    before_nose = [f"{one.ref}/rivet" for one in (upper_front, *nose_rows)] + [
        f"{one.ref}/cure" for one in sealing
    ]
    lower_front = rivet_after(
        spar_line(skins[1], caps[1], -1, **({"closes": nose_space} if b.nose else {"space": main})),
        before_nose or standing,
    )
    inside = [f"{one.ref}/rivet" for one in (*rib_rows, *stiff_rows, *plates, upper_rear)]
    lower_rear = rivet_after(rear_line(skins[1], -1, closes=main), [*inside, f"{lower_front.ref}/rivet"])
    made += [lower_front, lower_rear]
    if b.sealed:
        made.append(
            operation(
                seed, f"{op}T02", parent, f"tank leak test, {marked}", (("test", 3.0),), parts=(nose_skin.ref,) if nose_skin else (),
                hand=hand, after=(f"{lower_front.ref}/rivet",),
            )
        )  # fmt: skip
    for n, cover in enumerate(covers, 1):
        made.append(
            operation(
                seed, f"{op}C{n:02d}", parent, f"screw inspection cover {n} on, {marked}", (("fit", 0.2), ("close", 0.2)),
                parts=(cover.ref, frames[n - 1].ref), hand=hand, after=(f"{lower_rear.ref}/rivet",),
                fasteners=[{"part_number": "MS24694-S4", "count": "8"}],
            )
        )  # fmt: skip
    # with open ends and inspection openings a box still has a closing row: its lower skin at the rear spar
    spaces = [
        Thing(
            "space", main, parent, f"between the spars, {marked}", hand,
            {
                "bays": [f"bay {n}" for n in range(1, len(b.ribs))],
                "holds": [one.ref for one in (web, *caps, rear, *ribs, *skins, *stiffeners, *frames)],
                "twist": "yes", "twist_deg": "0.2", "film": "yes", "loose_hardware": "yes", "second_person": "yes",
            },
        )
    ]  # fmt: skip
    if nose_skin is not None:
        spaces.append(
            Thing(
                "space", nose_space, parent, f"nose, {marked}", hand,
                {
                    "bays": [f"bay {n}" for n in range(1, len(b.ribs))], "holds": [nose_skin.ref, *(one.ref for one in nose_ribs)],
                    "twist": "no", "film": "yes", "loose_hardware": "yes", "second_person": "yes",
                    "sealed": "yes" if b.sealed else "no",
                },
            )
        )  # fmt: skip
    return (*parts, *made, *spaces)


def _look(b: Box, n: int) -> int:
    """Flanges of the last rib look inward."""
    return -1 if n == len(b.ribs) else 1


def _cover_places(b: Box) -> list[float]:
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


def _stiffener_at(b: Box, k: int) -> float:
    """Stiffeners lie a third of the depth from either spar, clear of the inspection openings and of the rib holes."""
    return between_holes(1.2, b.depth - 1.2, b.pitch, 0.2 * b.depth if k < 2 else 0.8 * b.depth)
