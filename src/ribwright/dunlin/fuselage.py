"""The fuselage in two lengths: frames, longerons, side, bottom and top skins, floor; from station to station."""

from __future__ import annotations

from dataclasses import dataclass

from ribwright.dunlin.inputs import bend_inputs, pull_row
from ribwright.dunlin.kinds import operation
from ribwright.dunlin.parts import extrusion_part, sheet_part
from ribwright.dunlin.rows import UNIVERSAL, Joined, between_holes, row
from ribwright.dunlin.surfaces import rivet_after
from ribwright.dunlin.things import Thing, box

FLANGE_IN = 0.75
LEG_IN = 1.0


@dataclass(frozen=True, slots=True)
class Length:
    """A length of fuselage, inches.

    Attributes:
        number: of the assembly.
        word: what it is.
        ahead, back: stations of its ends, which are its arms too.
        width, height: of its section (its mean, where it tapers).
        frames: stations of its frames.
        skin: thickness of its side skins.
        floor: stations between which a floor closes a space; none for the tail cone, which its top skin closes.
        stringers: on each side.
    """

    number: str
    word: str
    ahead: float
    back: float
    width: float
    height: float
    frames: tuple[float, ...]
    skin: str = ".032"
    frame: str = ".032"
    floor: tuple[float, float] | None = None
    stringers: int = 1
    pitch: float = 1.25


def fuselage_length(seed: int, f: Length) -> tuple[Thing, ...]:
    """All parts, spaces and operations of a length of fuselage, in the order in which they are made."""
    parent = f"DN-{f.number}"
    count = iter(range(1, 90))
    middle = (f.ahead + f.back) / 2
    w, h = f.width / 2, f.height / 2

    def ref() -> str:
        return f"DN-{f.number}{next(count):02d}"

    frames = [
        sheet_part(
            ref(), parent, f"frame {n}, {f.word}", box(-w - FLANGE_IN, -h - FLANGE_IN, w + FLANGE_IN, h + FLANGE_IN),
            thickness=f.frame, arm=x, axes="y z", origin="middle of the section, flanges laid flat", primary=True,
            keeps=1.0 if n == 1 else 0.35,
        )
        for n, x in enumerate(f.frames, 1)
    ]  # fmt: skip
    longerons, stringers, sides = [], [], []
    for hand in ("left", "right"):
        for name in ("lower", "upper"):
            longerons.append(
                extrusion_part(
                    ref(), parent, f"{name} longeron, {hand} hand, {f.word}", "angle 1 x 1 x 1/16",
                    box(f.ahead, 0.0, f.back, 2 * LEG_IN), arm=middle, axes="x developed", origin="edge of the upright leg",
                    hand=hand, primary=True,
                )
            )  # fmt: skip
        for n in range(1, f.stringers + 1):
            stringers.append(
                sheet_part(
                    ref(), parent, f"stringer {n}, {hand} hand, {f.word}", box(f.ahead + 1.0, 0.0, f.back - 1.0, 1.5), thickness=".025",
                    arm=middle, axes="x developed", origin="edge of the outer leg", hand=hand,
                )
            )  # fmt: skip
        sides.append(
            sheet_part(
                ref(), parent, f"side skin, {hand} hand, {f.word}", box(f.ahead, -h - 0.1, f.back, h + 0.1), thickness=f.skin,
                arm=middle, axes="x z", origin="middle of the section", hand=hand,
            )
        )  # fmt: skip
    bottom = sheet_part(
        ref(), parent, f"bottom skin, {f.word}", box(f.ahead, -w - 0.1, f.back, w + 0.1), thickness=f.skin, arm=middle, axes="x y",
        origin="centre line",
    )  # fmt: skip
    top = sheet_part(
        ref(), parent, f"top skin, {f.word}",
        box(f.ahead, -w - 0.1, f.back if f.floor is None else f.frames[2], w + 0.1), thickness=".025", arm=middle, axes="x y",
        origin="centre line",
    )  # fmt: skip
    floors = (
        [
            sheet_part(
                ref(), parent, f"floor, {hand} hand, {f.word}", box(f.floor[0], lo, f.floor[1], hi), thickness=".032",
                arm=sum(f.floor) / 2, axes="x y", origin="centre line", hand=hand,
            )
            for hand, lo, hi in (("left", -w, -0.2), ("right", 0.2, w))
        ]
        if f.floor
        else []
    )  # fmt: skip
    beams = (
        [
            sheet_part(
                ref(), parent, f"floor beam {n}, {f.word}", box(f.floor[0], -3.0, f.floor[1], 3.0), thickness=".025",
                arm=sum(f.floor) / 2, axes="x z", origin="middle of the beam", primary=False,
            )
            for n in range(1, 5)
        ]
        if f.floor
        else []
    )  # fmt: skip
    parts = [*frames, *longerons, *stringers, *sides, bottom, top, *floors, *beams]
    space = f"{parent}-A"
    numbers = iter(range(1, 300))

    def seam(title: str, joined: tuple[Joined, ...], run: float, **more: object) -> Thing:
        return row(seed, f"{parent}-S{next(numbers):02d}", parent, f"{title}, {f.word}", joined, run, **more)  # type: ignore[arg-type]

    calculation, inputs = bend_inputs(frames[0], "flanges")
    bends = operation(
        seed, f"{parent}-B01", parent, f"bend frame flanges, {f.word}",
        (("blank", 0.5 * len(frames)), ("bend", 0.9 * len(frames)), ("deburr", 0.3 * len(frames))), parts=[one.ref for one in frames],
        calculation=calculation, inputs=inputs, primary=True,
    )  # fmt: skip
    made: list[Thing] = [bends]
    jig = operation(
        seed, f"{parent}-J01", parent, f"set frames and longerons up, {f.word}", (("fit", 14.0), ("measure", 3.0)),
        parts=[one.ref for one in (*frames, *longerons)], after=(f"{bends.ref}/deburr",), helper=True, primary=True,
    )  # fmt: skip
    made.append(jig)
    up = f"{jig.ref}/measure"
    body: list[Thing] = []
    for hand, sign, side in zip(("left", "right"), (-1, 1), sides, strict=True):
        ends = [(f.ahead + 0.75, f.back - 0.75)]
        (a, b), run = ends[0], f.back - f.ahead - 1.5
        for name, edge, longeron in (
            ("lower", -1, _find(longerons, f"lower longeron, {hand}")),
            ("upper", 1, _find(longerons, f"upper longeron, {hand}")),
        ):
            z = edge * (h - LEG_IN / 2 + 0.1)
            body.append(
                seam(
                    f"side skin to {name} longeron, {hand} hand",
                    (Joined(side, (a, z), (b, z)), Joined(longeron, (a, LEG_IN / 2), (b, LEG_IN / 2))), run, hand=hand, head=UNIVERSAL,
                    size="1/8", pitch=f.pitch, ends=(0.75, 0.75), runs="forward to aft", primary=True, space=space, after=(up,),
                )
            )  # fmt: skip
        for n, (x, frame) in enumerate(zip(f.frames, frames, strict=True), 1):
            low = h - 2.0
            body.append(
                seam(
                    f"side skin to frame {n}, {hand} hand",
                    (Joined(side, (x, -low), (x, low)), Joined(frame, (sign * (w + 0.375), -low), (sign * (w + 0.375), low))), 2 * low,
                    hand=hand, head=UNIVERSAL, size="1/8", pitch=f.pitch, ends=(1.5, 1.5), runs="lower to upper", space=space, after=(up,),
                )
            )  # fmt: skip
        mine = [one for one in stringers if one.hand == hand]
        for n, one in enumerate(mine, 1):
            z = between_holes(2.0 - h, h - 2.0, f.pitch, f.height * (n / (len(mine) + 1) - 0.5))
            body.append(
                seam(
                    f"stringer {n} to side skin, {hand} hand",
                    (Joined(side, (f.ahead + 1.5, z), (f.back - 1.5, z)), Joined(one, (f.ahead + 1.5, 0.4), (f.back - 1.5, 0.4))),
                    f.back - f.ahead - 3.0, hand=hand, head=UNIVERSAL, pitch=2.17, ends=(0.5, 0.5), runs="forward to aft", space=space,
                )
            )  # fmt: skip
    for n, (x, frame) in enumerate(zip(f.frames, frames, strict=True), 1):
        across = w - 2.0
        body.append(
            seam(
                f"bottom skin to frame {n}", (Joined(bottom, (x, -across), (x, across)), Joined(frame, (-across, -h - 0.375), (across, -h - 0.375))),
                2 * across, head=UNIVERSAL, size="1/8", pitch=f.pitch, ends=(1.5, 1.5), space=space, after=(up,),
            )
        )  # fmt: skip
    for hand, sign in (("left", -1), ("right", 1)):
        longeron = _find(longerons, f"lower longeron, {hand}")
        y = sign * (w - LEG_IN / 2 + 0.1)
        body.append(
            seam(
                f"bottom skin to lower longeron, {hand} hand",
                (
                    Joined(bottom, (f.ahead + 1.3, y), (f.back - 1.3, y)),
                    Joined(longeron, (f.ahead + 1.3, 1.5 * LEG_IN), (f.back - 1.3, 1.5 * LEG_IN)),
                ),
                f.back - f.ahead - 2.6, hand=hand, head=UNIVERSAL, size="1/8", pitch=f.pitch, ends=(1.3, 1.3), runs="forward to aft",
                primary=True, space=space, after=(up,),
            )
        )  # fmt: skip
    made += body
    done = [f"{one.ref}/rivet" for one in body]
    if f.floor:
        for n, beam in enumerate(beams, 1):
            y = _beam_at(f, n - 1)
            run = f.floor[1] - f.floor[0] - 1.5
            made.append(
                seam(
                    f"floor beam {n} to bottom skin",
                    (
                        Joined(bottom, (f.floor[0] + 0.75, y), (f.floor[1] - 0.75, y)),
                        Joined(beam, (f.floor[0] + 0.75, -2.6), (f.floor[1] - 0.75, -2.6)),
                    ),
                    run, head=UNIVERSAL, size="1/8", pitch=1.55, ends=(0.75, 0.75), runs="forward to aft", space=space, after=(up,),
                )
            )  # fmt: skip
            done.append(f"{made[-1].ref}/rivet")
        closing: list[Thing] = []
        # the first floor row ends the access; the others follow it
        for k, beam in enumerate(beams):
            panel = floors[0] if k < 2 else floors[1]
            y = _beam_at(f, k)
            closing.append(
                pull_row(
                    seed, f"{parent}-L{k + 1:02d}", parent, f"{panel.title.split(',')[0]} to floor beam {k + 1}, {f.word}",
                    (
                        Joined(panel, (f.floor[0] + 0.8, y), (f.floor[1] - 0.8, y)),
                        Joined(beam, (f.floor[0] + 0.8, 2.6), (f.floor[1] - 0.8, 2.6)),
                    ),
                    f.floor[1] - f.floor[0] - 1.6, hand="none", pitch=1.6, closes="" if k else space,
                    after_rivet=[*done, *(f"{one.ref}/rivet" for one in closing)],
                )
            )  # fmt: skip
        made += closing
        top_run = f.frames[2] - f.ahead - 1.5
    else:
        top_run = f.back - f.ahead - 1.5
    for hand, sign in (("left", -1), ("right", 1)):
        longeron = _find(longerons, f"upper longeron, {hand}")
        y = sign * (w - LEG_IN / 2 + 0.1)
        closes = space if f.floor is None and hand == "right" else ""
        made.append(
            rivet_after(
                seam(
                    f"top skin to upper longeron, {hand} hand",
                    (
                        Joined(top, (f.ahead + 0.75, y), (f.ahead + 0.75 + top_run, y)),
                        Joined(longeron, (f.ahead + 0.75, 1.5 * LEG_IN), (f.ahead + 0.75 + top_run, 1.5 * LEG_IN)),
                    ),
                    top_run, hand=hand, head=UNIVERSAL, size="1/8", pitch=f.pitch, ends=(0.75, 0.75), runs="forward to aft", primary=True,
                    closes=closes, space="" if closes or f.floor else space,
                ),
                [*done, *([f"{made[-1].ref}/rivet"] if closes else [])],
            )
        )  # fmt: skip
    made.append(
        Thing(
            "space", space, parent, f"{'under the floor' if f.floor else 'inside'}, {f.word}", "none",
            {
                "bays": [f"bay {n}" for n in range(1, len(f.frames))],
                "holds": [one.ref for one in (*frames, *longerons, *stringers, *sides, bottom, *beams)],
                "twist": "yes" if f.floor is None else "no", "film": "yes", "loose_hardware": "yes", "second_person": "yes",
            },
        )
    )  # fmt: skip
    return (*parts, *made)


def _find(parts: list[Thing], title: str) -> Thing:
    return next(one for one in parts if one.title.startswith(title))


def _beam_at(f: Length, k: int) -> float:
    """Floor beams pass between the holes of the frames."""
    w = f.width / 2
    return between_holes(2.0 - w, w - 2.0, f.pitch, -w + 4.5 + (f.width - 9.0) * k / 3)
