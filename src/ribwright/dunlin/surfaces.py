"""A movable surface: skins with a rolled nose, spar, ribs, wedge and hinges, from its plan-form numbers."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from ribwright.dunlin.inputs import bend_inputs, nose_inputs, pull_row, template_inputs, wedge_row
from ribwright.dunlin.kinds import Stages, nut_plates, operation
from ribwright.dunlin.rows import UNIVERSAL, Joined, row
from ribwright.dunlin.surface_parts import RIB_FLANGE_IN, SPAR_FLANGE_IN, Surface, slope, surface_parts
from ribwright.dunlin.things import Point, Thing, inch


def surface(seed: int, s: Surface, *, weight_order: str = "DN-P14") -> tuple[Thing, ...]:
    """All parts, spaces and operations of a surface, in the order in which they are made."""
    parent, hand = s.assembly, s.hand
    made_of = surface_parts(s, weight_order=weight_order)
    spar, wedge, ribs, weight = made_of.spar, made_of.wedge, made_of.ribs, made_of.weight
    skins, doublers, brackets = made_of.skins, made_of.doublers, made_of.brackets
    upper, lower = skins
    web_axes = f"{s.span} {'z' if s.span == 'y' else 'y'}"
    things = list(made_of.all)
    op = f"{parent}-{'' if s.first == 1 else 'M'}"
    box_space, noses = f"{op}A", [f"{op}N{n}" for n in range(1, len(s.sections) + 1)]
    seams = _Counter(f"{op}S")
    bends = _Counter(f"{op}B")

    def bent(members: Sequence[Thing], what: str, how: str, hours: float) -> Thing:
        calculation, inputs = bend_inputs(members[0], how)
        stages: Stages = (("blank", 0.4 * hours), ("bend", 0.5 * hours), ("deburr", 0.1 * hours))
        return operation(
            seed, bends.next(), parent, f"bend {what}, {s.marked}", stages, parts=[one.ref for one in members], calculation=calculation,
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
                seed, seams.next(), parent, f"rib {n} to spar, {s.marked}",
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
                seed, seams.next(), parent, f"hinge doubler {n} to spar, {s.marked}",
                (Joined(doubler, *across), Joined(spar, *across)), 2.4, hand=hand, head=UNIVERSAL, pitch=0.8,
                ends=(0.3, 0.3), primary=True, space=box_space, after=(f"{spar_bend.ref}/deburr",),
            )
        )  # fmt: skip
        plates.append(
            nut_plates(
                seed, f"{op}P{n:02d}", parent, f"nut plates for hinge bracket {n}, {s.marked}", doubler, 2, hand=hand,
                space=box_space, after=(f"{doubled[-1].ref}/rivet",),
            )
        )  # fmt: skip
        things.append(
            operation(
                seed, f"{op}H{n:02d}", parent, f"bolt hinge bracket {n} on, {s.marked}", (("fit", 0.5), ("bolt", 0.3)),
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
                seed, seams.next(), parent, f"{skin.title.split(',')[0]} to rib {n}, {s.marked}",
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
            seed, seams.next(), parent, f"{skin.title.split(',')[0]} to spar, {s.marked}",
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
        seed, seams.next(), parent, f"trailing edge, {s.marked}", upper, wedge, lower, s.number != "21", space=box_space,
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
        part=f"nose of the skins, {s.marked}", drawing=f"{parent}00", hand=hand, length=s.length, radius=s.radius, thickness=s.skin,
        places=[(p0 + p1) / 2 for p0, p1 in s.sections],
    )  # fmt: skip
    boards = operation(
        seed, f"{op}T01", parent, f"templates of the nose, {s.marked}", (("print", 0.3), ("cut", 0.7)), parts=(upper.ref, lower.ref),
        calculation=calculation, inputs=inputs, hand=hand,
    )  # fmt: skip
    things.append(boards)
    for n, (p0, p1) in enumerate(s.sections, start=1):
        calculation, inputs = nose_inputs(
            title=f"roll nose section {n}, {s.marked}", drawing=f"{parent}00", hand=hand, length=p1 - p0,
            radius=(s.between(s.radius, p0), s.between(s.radius, p1)), thickness=s.skin,
        )  # fmt: skip
        rolls.append(
            operation(
                seed, f"{op}R{n:02d}", parent, f"roll nose section {n}, {s.marked}", (("trial", 0.8), ("roll", 1.2), ("check", 0.3)),
                parts=(upper.ref, lower.ref), calculation=calculation, inputs=inputs, hand=hand, after=(f"{boards.ref}/cut",),
            )
        )  # fmt: skip
        a, b = p0 + 0.4, p1 - 0.4
        laps.append(
            pull_row(
                seed, f"{op}L{n:02d}", parent, f"nose lap, section {n}, {s.marked}",
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
            "space", box_space, parent, f"behind the spar, {s.marked}", hand,
            {
                "bays": [f"bay {n}" for n in range(1, len(s.ribs))], "holds": [spar.ref, *(one.ref for one in (*ribs, *doublers, *skins))],
                "twist": "yes", "film": "yes", "loose_hardware": "yes", "second_person": "yes",
            },
        ),
        *(
            Thing(
                "space", ref_, parent, f"nose section {n}, {s.marked}", hand,
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
            seed, f"{op}X01", parent, f"check twist and balance, {s.marked}", (("measure", 0.8), ("balance", 1.2)),
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


def _on_rib(s: Surface, p: float, up: int, first: float, run: float) -> tuple[Point, Point]:
    x0, z0 = slope(s, p, first, RIB_FLANGE_IN / 2)
    x1, z1 = slope(s, p, first + run, RIB_FLANGE_IN / 2)
    return (x0, up * z0), (x1, up * z1)
