"""Small parts: hinge brackets of the wing, gussets of the fuselage, tips and fairings, with the work of fitting them."""

from __future__ import annotations

from ribwright.dunlin.kinds import operation
from ribwright.dunlin.parts import bought_part, sheet_part
from ribwright.dunlin.things import Thing, box


def wing_details(seed: int) -> tuple[Thing, ...]:
    """Hinge brackets with their doublers, tie-down, tip and root fairing of the left wing panel."""
    parent, hand = "DN-31", "left"
    hinges = [
        ("flap", 21.0),
        ("flap", 42.0),
        ("flap", 72.0),
        ("aileron", 87.0),
        ("aileron", 114.5),
        ("aileron", 135.0),
    ]
    parts: list[Thing] = []
    for n, (word, place) in enumerate(hinges, 1):
        y = -22.0 - place
        for what, thickness, half in (("bracket", ".125", 1.3), ("doubler", ".063", 2.0)):
            parts.append(
                sheet_part(
                    f"DN-31{60 + len(parts)}", parent, f"{word} hinge {what} {n}, wing panel, left hand", box(y - half, -1.6, y + half, 1.6),
                    thickness=thickness, material="6061-T6", arm=97.5, axes="y z", origin="rear spar", hand=hand, primary=True,
                )
            )  # fmt: skip
    others = [
        bought_part("DN-3180", parent, "wing tip, left hand", weight=2.4, arm=84.0, order="DN-P22"),
        bought_part("DN-3181", parent, "root fairing, left hand", weight=0.8, arm=86.0, order="DN-P22"),
        bought_part("DN-3182", parent, "tie-down, left hand", weight=0.3, arm=72.0, order="DN-P20"),
    ]
    fit = operation(
        seed, "DN-31-H01", parent, "bolt aileron and flap hinge brackets on, wing panel, left hand",
        (("fit", 5.0), ("drill", 1.5), ("bolt", 2.0)), parts=[one.ref for one in parts], hand=hand, primary=True,
        after=("DN-31-S02/rivet",),
        fasteners=[
            {"part_number": "AN3-5A", "count": "24"}, {"part_number": "AN960-10", "count": "48"},
            {"part_number": "AN365-1032A", "count": "24"},
        ],
    )  # fmt: skip
    tip = operation(
        seed, "DN-31-H02", parent, "fit tip, root fairing and tie-down, wing panel, left hand", (("fit", 6.0), ("install", 2.0)),
        parts=[one.ref for one in others], hand=hand, fasteners=[{"part_number": "MS24694-S4", "count": "22"}],
    )  # fmt: skip
    return (*parts, *others, fit, tip)


def gussets(
    seed: int, number: str, word: str, frames: tuple[float, ...], width: float, height: float
) -> tuple[Thing, ...]:
    """Corner gussets that tie longerons to frames, all but the first frame."""
    parent = f"DN-{number}"
    parts: list[Thing] = []
    for n, x in enumerate(frames[1:], 2):
        for hand, side in (("left", -1), ("right", 1)):
            for name, up in (("lower", -1), ("upper", 1)):
                y, z = side * (width / 2 - 1.8), up * (height / 2 - 1.8)
                parts.append(
                    sheet_part(
                        f"{parent}{60 + len(parts)}", parent, f"{name} gusset of frame {n}, {hand} hand, {word}",
                        box(y - 1.6, z - 1.6, y + 1.6, z + 1.6), thickness=".040", arm=x, axes="y z", origin="middle of the section",
                        hand=hand, keeps=0.6,
                    )
                )  # fmt: skip
    work = operation(
        seed, f"{parent}-G01", parent, f"rivet gussets on, {word}",
        (("drill", 0.1 * len(parts)), ("deburr", 0.05 * len(parts)), ("finish", 0.5), ("rivet", 0.15 * len(parts))),
        parts=[one.ref for one in parts], after=(f"{parent}-J01/measure",), space=f"{parent}-A",
        fasteners=[{"part_number": "MS20470AD4-4", "count": str(6 * len(parts))}],
    )  # fmt: skip
    return (*parts, work)
