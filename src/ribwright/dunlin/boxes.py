"""A fixed surface: front and rear spar, ribs, skins and a nose skin; wing panel, stabiliser, fin, centre section."""

from __future__ import annotations

from ribwright.dunlin.box_parts import FLANGE_IN, NOSE_FLANGE_IN, Box, box_parts, cover_places
from ribwright.dunlin.inputs import bend_inputs
from ribwright.dunlin.kinds import nut_plates, operation
from ribwright.dunlin.rows import UNIVERSAL, Joined, between_holes, row
from ribwright.dunlin.surfaces import rivet_after
from ribwright.dunlin.things import Thing


def box_structure(seed: int, b: Box) -> tuple[Thing, ...]:
    """All parts, spaces and operations of a box, in the order in which they are made."""
    parent, hand = f"DN-{b.number}", b.hand
    half, leg = b.height / 2, b.leg
    made_of = box_parts(b)
    web, caps, rear, ribs, nose_ribs = (
        made_of.web,
        made_of.caps,
        made_of.rear,
        made_of.ribs,
        made_of.nose_ribs,
    )
    skins, nose_skin, stiffeners = made_of.skins, made_of.nose_skin, made_of.stiffeners
    frames, covers = made_of.frames, made_of.covers
    op = f"{parent}-{b.letter}"
    main, nose_space = f"{op}A", f"{op}N"
    made: list[Thing] = []
    numbers = iter(range(1, 400))

    def seam(title: str, joined: tuple[Joined, ...], run: float, **more: object) -> Thing:
        return row(
            seed, f"{op}S{next(numbers):02d}", parent, f"{title}, {b.marked}", joined, run, hand=hand, **more,  # type: ignore[arg-type]
        )  # fmt: skip

    def bend(title: str, ref: str, members: list[Thing], hours: float) -> Thing:
        calculation, inputs = bend_inputs(members[0], "flanges")
        return operation(
            seed, ref, parent, f"{title}, {b.marked}", (("blank", 0.4 * hours), ("bend", 0.5 * hours), ("deburr", 0.1 * hours)),
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
                seed, f"{op}B04", parent, f"bend nose skin, {b.marked}", (("trial", 0.5), ("bend", 2.0), ("check", 0.5)),
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
        r = b.rear_half - 0.35
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
        c = cover_places(b)[n - 1]
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
            nut_plates(seed, f"{op}P{n:02d}", parent, f"nut plates of inspection opening {n}, {b.marked}", frame, 8, hand=hand, space=main, plate="MS21059-08")
        )  # fmt: skip
    made += plates
    over = [nose_skin] if nose_skin is not None else []

    def spar_line(skin: Thing, cap: Thing, sign: int, **more: object) -> Thing:
        """Main skin and nose skin lap on the cap."""
        return seam(
            f"{skin.title.split(',')[0]} to front spar",
            (
                *(Joined(n_, (along[0], sign * b.wrap), (along[1], sign * b.wrap)) for n_ in over),
                Joined(skin, (along[0], 0.0), (along[1], 0.0)),
                Joined(cap, (along[0], 1.5 * leg), (along[1], 1.5 * leg)),
            ),
            run, size="1/8", pitch=b.pitch, ends=(0.6, 0.6), primary=True, **more,
        )  # fmt: skip

    def rear_line(skin: Thing, sign: int, **more: object) -> Thing:
        z = sign * (b.rear_half + FLANGE_IN / 2)
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
                            Joined(nose_skin, (y, sign * (b.wrap - 1.3)), (y, sign * 0.25 * b.wrap)),
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
                seed, f"{op}T01", parent, f"seal the tank seams, {b.marked}", (("clean", 1.5), ("seal", 5.0), ("cure", 0.2)),
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
                seed, f"{op}T02", parent, f"tank leak test, {b.marked}", (("test", 3.0),), parts=(nose_skin.ref,) if nose_skin else (),
                hand=hand, after=(f"{lower_front.ref}/rivet",),
            )
        )  # fmt: skip
    for n, cover in enumerate(covers, 1):
        made.append(
            operation(
                seed, f"{op}C{n:02d}", parent, f"screw inspection cover {n} on, {b.marked}", (("fit", 0.2), ("close", 0.2)),
                parts=(cover.ref, frames[n - 1].ref), hand=hand, after=(f"{lower_rear.ref}/rivet",),
                fasteners=[{"part_number": "MS24694-S4", "count": "8"}],
            )
        )  # fmt: skip
    # with open ends and inspection openings a box still has a closing row: its lower skin at the rear spar
    spaces = [
        Thing(
            "space", main, parent, f"between the spars, {b.marked}", hand,
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
                "space", nose_space, parent, f"nose, {b.marked}", hand,
                {
                    "bays": [f"bay {n}" for n in range(1, len(b.ribs))], "holds": [nose_skin.ref, *(one.ref for one in nose_ribs)],
                    "twist": "no", "film": "yes", "loose_hardware": "yes", "second_person": "yes",
                    "sealed": "yes" if b.sealed else "no",
                },
            )
        )  # fmt: skip
    return (*made_of.all, *made, *spaces)


def _look(b: Box, n: int) -> int:
    """Flanges of the last rib look inward."""
    return -1 if n == len(b.ribs) else 1


def _stiffener_at(b: Box, k: int) -> float:
    """Stiffeners lie a third of the depth from either spar, clear of the inspection openings and of the rib holes."""
    return between_holes(1.2, b.depth - 1.2, b.pitch, 0.2 * b.depth if k < 2 else 0.8 * b.depth)
