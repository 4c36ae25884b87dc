"""The form block of a rib or former as a calculation."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ribwright.core.audit import Outcome, Result, Worksheet, calculation, choice, quantity, rows, text
from ribwright.core.bench import CAUTIONS
from ribwright.core.forming.flange import flute_takeup_in
from ribwright.core.geometry import (
    Outline,
    area_in2,
    filleted,
    flattened,
    naca_section,
    outline,
    respaced,
    with_arcs,
)
from ribwright.core.geometry.outlines import FloatArray, counter_clockwise
from ribwright.core.scene.items import HandOf
from ribwright.core.templates.blocks import form_block
from ribwright.core.templates.shape import FIT_IN
from ribwright.core.units import Quantity
from ribwright.errors import ConflictError, MissingError, OutOfRangeError


@dataclass(frozen=True, slots=True)
class Corner:
    """A corner of an outline, in order round it."""

    x: Quantity = quantity("in", "x", help="from any datum", example="4", low="-200 in", high="200 in")
    y: Quantity = quantity("in", "y", help="from the same datum", example="2", low="-200 in", high="200 in")
    radius: Quantity = quantity(
        "in", "Radius", help="of this corner; 0 is sharp", example=".5", low="0 in", high="24 in", default="0"
    )


@dataclass(frozen=True, slots=True)
class Pin:
    """A tooling hole that web and block share."""

    x: Quantity = quantity("in", "x", help="in the outline's axes", example="5", low="-200 in", high="300 in")
    y: Quantity = quantity(
        "in", "y", help="in the outline's axes", example=".3", low="-200 in", high="200 in"
    )


@dataclass(frozen=True, slots=True)
class RibBlock:
    """A block over which a rib's or former's flange is formed."""

    part: str = text("Part", help="which rib or former", example="DN-3112 nose rib")
    hand: str = choice("Hand", ("none", "left", "right"), help="side of the aeroplane", default="none")
    section: str | None = text(
        "Section",
        help="NACA number of the wing section; leave empty and give corners for a former",
        example="23012",
        optional=True,
    )
    chord: Quantity | None = quantity(
        "in", "Chord", help="of the section", example="48", low="1 in", high="300 in", optional=True
    )
    fore: Quantity = quantity(
        "%", "Rib begins", help="share of the chord", example="0", low="0 %", high="90 %", default="0"
    )
    aft: Quantity = quantity(
        "%", "Rib ends", help="share of the chord", example="25", low="5 %", high="98 %", default="98"
    )
    corners: tuple[Corner, ...] = rows(
        Corner, "Corners", help="of a former or bulkhead, in order round it", least=0
    )
    skin: Quantity = quantity(
        "in", "Skin thickness", help="that lies outside the flange; 0 when the outline is the rib's own", example=".025",
        low="0 in", high="0.125 in", default="0",
    )  # fmt: skip
    thickness: Quantity = quantity(
        "in", "Sheet thickness", help="of the rib", example=".025", low="0.01 in", high="0.125 in"
    )
    radius: Quantity = quantity(
        "in",
        "Inside bend radius",
        help="rounded on the block's upper edge",
        example="3/32",
        low="0.01 in",
        high="1 in",
    )
    flange: Quantity = quantity(
        "in", "Flange", help="outside width", example="5/8", low="0.2 in", high="4 in", default="5/8"
    )
    springback: Quantity = quantity(
        "deg",
        "Springback",
        help="how far a flange of this sheet opens when it is let go",
        example="3",
        low="0 deg",
        high="15 deg",
    )
    block: Quantity = quantity(
        "in",
        "Block height",
        help="more than the flange",
        example="3/4",
        low="0.25 in",
        high="4 in",
        default="3/4",
    )
    flute: Quantity = quantity(
        "in", "Flute width", help="by the pliers", example="3/8", low="0.2 in", high="2 in", default="3/8"
    )
    pin: Quantity = quantity(
        "in",
        "Pin diameter",
        help="of the tooling holes",
        example="1/4",
        low="1/16 in",
        high="1 in",
        default="1/4",
    )
    pins: tuple[Pin, ...] = rows(Pin, "Tooling pins", help="holes that web and block share", least=0)


def rib_outline(spec: RibBlock) -> Outline:
    """The mold line: part of a wing section cut square at both ends, or the corners with their radii.

    Raises:
        ConflictError, MissingError: both ways given, or neither.
        GeometryError: the outline crosses itself, or a side is too short for its radii.
    """
    if spec.corners and spec.section:
        raise ConflictError(
            "Section",
            found="a section and corners",
            allowed="one of them",
            mend="Empty the section, or remove the corners",
        )
    if spec.corners:
        if len(spec.corners) < 3:
            raise MissingError(
                "Corners", found=f"{len(spec.corners)} corners", allowed="at least 3", mend="Add a row"
            )
        points = [(c.x.value, c.y.value) for c in spec.corners]
        radii = [c.radius.value for c in spec.corners]
        # area_in2 wants an outline; the shoelace of the corners tells the direction first.
        x, y = np.array(points).T
        if float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)) < 0:
            points, radii = points[::-1], radii[::-1]
        return filleted(points, radii, field="Corners")
    if not spec.section or spec.chord is None:
        raise MissingError(
            "Section", allowed="a NACA number with its chord, or corners", mend="Enter one of the two"
        )
    low, high = spec.fore.value, spec.aft.value
    if high - low < 0.05:
        raise OutOfRangeError(
            "Rib ends", found=f"{100 * high:g} %", allowed=f"at least 5 % after {100 * low:g} %"
        )
    if 0 < low < 0.02:
        raise OutOfRangeError(
            "Rib begins", found=f"{100 * low:g} %", allowed="0 %, or 2 % and more", mend="Begin at the nose."
        )
    # A front cut is read off a dense section, a nose part off its own spline.
    section = (
        naca_section(spec.section, count=1601)
        if low
        else respaced(naca_section(spec.section, count=161), count=161)
    )
    return counter_clockwise(_cut_section(section, low, high, spec.chord.value))


def _cut_section(section: FloatArray, low: float, high: float, chord: float) -> Outline:
    """Upper side from the aft cut forward, round the nose or down the front cut, lower side back."""
    nose = int(np.argmin(section[:, 0]))
    if low <= 1e-9:
        from ribwright.core.templates.section_set import fore_part

        fit = with_arcs(fore_part(section, high) * chord, tolerance_in=FIT_IN)
        return outline(fit.points_in, fit.bulges, closed=True, field="rib outline")
    upper, lower = section[: nose + 1][::-1], section[nose:]
    xs = low + (high - low) * (1 - np.cos(np.linspace(0, np.pi, 61))) / 2
    over = np.column_stack([xs, np.interp(xs, upper[:, 0], upper[:, 1])])[::-1] * chord
    under = np.column_stack([xs, np.interp(xs, lower[:, 0], lower[:, 1])]) * chord
    a, b = with_arcs(over, tolerance_in=FIT_IN), with_arcs(under, tolerance_in=FIT_IN)
    bulges = np.concatenate([a.bulges[:-1], [0.0], b.bulges[:-1], [0.0]])
    return outline(np.concatenate([a.points_in, b.points_in]), bulges, closed=True, field="rib outline")


@calculation(
    "form-block",
    title="Form block for a rib or former",
    summary="The block under a flanged rib: smaller by sheet and skin, its side leaning in by the springback, pins, and the flutes it will need.",
    spec=RibBlock,
    results=(
        "relief",
        "foot_inset",
        "length",
        "height",
        "bend_line_area",
        "excess",
        "flutes",
        "flute_depth",
        "pins",
    ),
)
def rib_block(spec: RibBlock, ws: Worksheet) -> Outcome:
    """Block outline, lean of its side, and how much too long a curved flange becomes."""
    if spec.block.value < spec.flange.value:
        raise OutOfRangeError(
            "Block height",
            found=spec.block.text,
            allowed=f"at least the flange, {spec.flange.text}",
            mend="Use a thicker board.",
        )
    hand: HandOf = spec.hand  # type: ignore[assignment]
    mold = rib_outline(spec)
    made = form_block(
        mold, thickness_in=spec.thickness.value, skin_in=spec.skin.value, block_in=spec.block.value,
        springback_deg=spec.springback.value, edge_radius_in=spec.radius.value,
        pins=[(p.x.value, p.y.value) for p in spec.pins], pin_in=spec.pin.value, title=spec.part, hand=hand,
    )  # fmt: skip
    ring = flattened(made.top, chord_error_in=0.001)
    size = np.ptp(ring, axis=0)
    ws.worked_out(
        "block smaller than the mold line by", f"{spec.thickness.value + spec.skin.value:.4f} in all round", "sheet of the rib and skin outside it",
        value=spec.thickness.value + spec.skin.value, unit="in",
    )  # fmt: skip
    ws.worked_out(
        "side leans in", f"{spec.springback.value:g} degrees, {made.relief_in:.4f} in at the far face",
        "a flange pressed against it opens to square when it is let go", value=made.relief_in, unit="in",
    )  # fmt: skip
    turn = curved_turn(mold)
    excess = turn * spec.flange.value
    ws.worked_out(
        "curved flange too long by", f"{excess:.3f} in",
        "flange width times the angle that its curved sides turn: the free edge of the flat is that much longer than where it ends",
        value=excess, unit="in",
    )  # fmt: skip
    deepest = 0.125
    one = ws.step(
        "one flute of 1/8 in takes up", flute_takeup_in, depth_in=deepest, width_in=spec.flute.value
    )
    flutes = int(np.ceil(excess / one - 1e-9)) if excess > 1e-6 else 0
    depth = float(np.sqrt(excess / flutes * 4 * spec.flute.value / np.pi**2)) if flutes else 0.0
    if flutes:
        ws.note(
            "Flutes go between the rivets, most where the flange curves most; fewer are needed where the sheet gathers under the mallet."
        )
    return Outcome(
        tuple(ws.steps),
        {
            "relief": Result("relief angle of the side", spec.springback.value, "deg"),
            "foot_inset": Result("far face smaller all round by", made.relief_in, "in", places=4),
            "length": Result("block length", float(size[0]), "in"),
            "height": Result("block width", float(size[1]), "in"),
            "bend_line_area": Result("web inside the flange", abs(area_in2(made.top)), "in²"),
            "excess": Result("curved flange too long by", excess, "in"),
            "flutes": Result("flutes at most 1/8 in deep", float(flutes), "", places=0),
            "flute_depth": Result("depth of each", depth, "in"),
            "pins": Result("tooling pins", float(len(spec.pins)), "", places=0),
        },
        cautions=("Round the block's edge to the full bend radius: a sharp edge cracks the flange.", *CAUTIONS),
        picture=made.scene,
        templates=(made.scene,),
    )  # fmt: skip


def curved_turn(made: Outline) -> float:
    """Angle in radians that an outline turns to the left along its arcs, sharp corners left out.

    A flange that turns with it has a free edge too long by its width times this angle; at a corner the
    flange is cut.
    """
    turned = 4 * np.arctan(made.bulges)
    return float(turned[turned > 0].sum())
