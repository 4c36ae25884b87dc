"""The egg-crate cradle of a whole nose as a calculation."""

from __future__ import annotations

from dataclasses import dataclass

from ribwright.core.audit import Outcome, Result, Worksheet, calculation, choice, quantity, rows, text
from ribwright.core.scene import Hand, Scene, Text, bounds, hand_mark, lettering_for, moved, together
from ribwright.core.scene.items import HandOf
from ribwright.core.templates.blocks import cradle
from ribwright.core.templates.profile_set import AtStation, DrawnNose, between
from ribwright.core.templates.skin import nose_at
from ribwright.core.units import Quantity


@dataclass(frozen=True, slots=True)
class NoseCradle:
    """An egg-crate in which a whole rolled nose stands, leading edge down."""

    part: str = text("Part", help="the nose", example="DN-2101 nose skin, left aileron")
    hand: str = choice("Hand", ("none", "left", "right"), help="side of the aeroplane", default="none")
    thickness: Quantity = quantity(
        "in", "Skin thickness", help="of the rolled skin", example=".020", low="0.01 in", high="0.25 in"
    )
    ends: tuple[DrawnNose, ...] = rows(DrawnNose, "Drawn sections", help="at least the two ends", least=2)
    stations: tuple[AtStation, ...] = rows(
        AtStation, "Cross pieces at", help="one row a cross piece", least=2
    )
    board: Quantity = quantity(
        "in",
        "Board",
        help="thickness of the plywood",
        example="1/2",
        low="1/16 in",
        high="1 in",
        default="1/2",
    )
    depth: Quantity = quantity(
        "in", "Nose sits in by", help="from its foremost point", example="1.25", low="0.2 in", high="24 in"
    )
    base: Quantity = quantity(
        "in",
        "Base",
        help="from the bench to the foremost point",
        example="2",
        low="1 in",
        high="12 in",
        default="2",
    )
    side: Quantity = quantity(
        "in",
        "Beside the nose",
        help="board on each side",
        example="1.5",
        low="1 in",
        high="6 in",
        default="1.5",
    )
    clearance: Quantity = quantity(
        "in",
        "Slot clearance",
        help="added to the board's thickness",
        example=".010",
        low="0 in",
        high="0.1 in",
        default=".010",
    )
    felt: Quantity = quantity(
        "in",
        "Felt",
        help="lining of the cup; 0 for none",
        example="1/8",
        low="0 in",
        high="0.5 in",
        default="0",
    )


@calculation(
    "nose-cradle",
    title="Cradle for a nose",
    summary="An interlocking egg-crate, one cross piece a station and two runners, in which a whole nose stands leading edge down.",
    spec=NoseCradle,
    results=("pieces", "slot", "length", "widest", "cup_depth"),
)
def nose_cradle(spec: NoseCradle, ws: Worksheet) -> Outcome:
    """Cups of the outside of the skin (and its felt) at each station, slots half deep in pieces and runners."""
    hand: HandOf = spec.hand  # type: ignore[assignment]
    profiles = [
        (row.station.value, nose_at(between(spec.ends, row.station.value), 0.0)) for row in spec.stations
    ]
    pieces = cradle(
        profiles, outwards_in=spec.thickness.value + spec.felt.value, board_in=spec.board.value, depth_in=spec.depth.value,
        base_in=spec.base.value, side_in=spec.side.value, clearance_in=spec.clearance.value, title=spec.part, hand=hand,
    )  # fmt: skip
    slot = spec.board.value + spec.clearance.value
    runner = bounds(pieces[-1])
    ws.worked_out(
        "slot",
        f"{slot:.4f} in",
        "board and its clearance; half as deep as the base in each piece",
        value=slot,
        unit="in",
    )
    ws.worked_out(
        "cup", f"{spec.thickness.value + spec.felt.value:.4f} in outside the drawn inside", "skin and felt", value=spec.thickness.value + spec.felt.value,
        unit="in",
    )  # fmt: skip
    ws.note(
        "The runner is drawn once and cut twice. Cut one slot and try it with the board before the others."
    )
    h = lettering_for(runner.width)
    names = [f"STA {station:g}" for station, _ in profiles] + ["runner, two needed"]
    widest = max(bounds(one).width for one in pieces[:-1])
    below, stacked = 0.0, []
    for one, name in zip(pieces, names, strict=True):
        box = bounds(one)
        # each is named beside its outline: at full size the names stand on the pieces
        shape = Scene(tuple(item for item in one.items if not isinstance(item, Text | Hand)))
        beside = (widest + 2 * h, below - box.height / 2 - h / 2)
        under = (0.0, below - box.height - 2 * h)
        stacked += [
            moved(shape, -box.left, below - box.top),
            Scene((Text(under if one is pieces[-1] else beside, name, h),)),
        ]
        below -= box.height + 0.6
    stacked.append(hand_mark((widest + 14 * h, -4 * h), hand, 2 * h))
    return Outcome(
        tuple(ws.steps),
        {
            "pieces": Result("pieces to cut, the runner twice", float(len(pieces) + 1), "", places=0),
            "slot": Result("slot", slot, "in"),
            "length": Result("runner length", runner.width, "in"),
            "widest": Result("widest cross piece", widest, "in"),
            "cup_depth": Result("nose sits in by", spec.depth.value, "in"),
        },
        picture=together(
            *stacked,
            title=f"Cradle of {spec.part}",
            described=f"{len(pieces) - 1} cross pieces and the runner.",
        ),
        templates=pieces,
    )
