"""Form blocks for flanged ribs, and the egg-crate that holds a nose."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ribwright.core.geometry import Outline, flattened, offset_outline, outline
from ribwright.core.geometry.outlines import FloatArray, counter_clockwise
from ribwright.core.scene import Circle, Item, Scene, Text, hand_mark, together
from ribwright.core.scene.items import HandOf
from ribwright.core.templates.shape import as_item, is_inside, surface, turned_outline
from ribwright.errors import GeometryError, OutOfRangeError


@dataclass(frozen=True, slots=True, eq=False)
class FormBlock:
    """A block's two faces and its drawing. ``top`` lies against the web, ``foot`` is the far face."""

    scene: Scene
    top: Outline
    foot: Outline
    relief_in: float


def form_block(
    mold_line: Outline,
    *,
    thickness_in: float,
    skin_in: float = 0.0,
    block_in: float,
    springback_deg: float,
    edge_radius_in: float,
    pins: Sequence[tuple[float, float]] = (),
    pin_in: float = 0.25,
    title: str = "Form block",
    hand: HandOf = "none",
) -> FormBlock:
    """The block over which a rib's flange is formed.

    Args:
        mold_line: closed outline of the finished part's outside, or of the skin's outside with ``skin_in``.
        thickness_in: of the rib's sheet.
        skin_in: thickness of the skin that lies outside the flange, 0 when the outline is the rib's own.
        block_in: height of the block.
        springback_deg: how far the flange will spring open; the block's side leans in by as much.
        edge_radius_in: inside bend radius, rounded on the block's upper edge.
        pins: places of the tooling pins.
        pin_in: their diameter.

    Raises:
        GeometryError: the outline is too tight for these thicknesses, or a pin lies off the block.
        OutOfRangeError: an impossible height, angle or radius.
    """
    if not 0 <= springback_deg <= 20:
        raise OutOfRangeError("springback", found=f"{springback_deg:g} degrees", allowed="0 to 20 degrees")
    if not 0.1 <= block_in <= 4:
        raise OutOfRangeError("block height", found=f"{block_in:g} in", allowed="0.1 to 4 in")
    if not 0 <= edge_radius_in < block_in:
        raise OutOfRangeError(
            "edge radius", found=f"{edge_radius_in:g} in", allowed="less than the block's height"
        )
    if not 0 < thickness_in <= 0.25 or not 0 <= skin_in <= 0.25:
        raise OutOfRangeError(
            "sheet thickness", found=f"{thickness_in:g} in", allowed="more than 0, at most 1/4 in"
        )
    top = offset_outline(mold_line, -(thickness_in + skin_in), corners="mitre", field="rib outline")
    relief = block_in * float(np.tan(np.radians(springback_deg)))
    foot = offset_outline(top, -relief, corners="mitre", field="relief") if relief else top
    items: list[Item] = [as_item(top)]
    if relief:
        items.append(as_item(foot, "hidden", "marked"))
    ring = flattened(top, chord_error_in=0.001)
    for n, pin in enumerate(pins):
        if not is_inside(top, pin, pin_in / 2):
            raise GeometryError(
                "tooling pins",
                because=f"pin {n + 1} lies off the block",
                found=f"at ({pin[0]:g}, {pin[1]:g}) in",
            )
        items.append(Circle(pin, pin_in / 2, layer="drilled"))
    low, high = ring.min(axis=0), ring.max(axis=0)
    x, y = float(low[0]), float(low[1]) - 0.3
    lines = (
        f"{title}: face against the web; block {block_in:g} in high",
        f"round this edge {edge_radius_in:.3f} in; lean the side in {springback_deg:g} degrees "
        f"({relief:.3f} in at the far face, broken line)",
    )
    items += [Text((x, y - 0.19 * n), line, 0.1) for n, line in enumerate(lines)]
    return FormBlock(
        together(
            Scene(tuple(items)),
            hand_mark((x, y - 0.75), hand, 0.25),
            title=title,
            described=f"{title}, {float(high[0] - low[0]):.2f} by {float(high[1] - low[1]):.2f} in, {len(pins)} pins.",
        ),
        top,
        foot,
        relief,
    )


def cradle(
    profiles: Sequence[tuple[float, Outline | FloatArray]],
    *,
    outwards_in: float,
    board_in: float,
    depth_in: float,
    base_in: float = 2.0,
    side_in: float = 1.5,
    clearance_in: float = 0.01,
    title: str = "Nose cradle",
    hand: HandOf = "none",
) -> tuple[Scene, ...]:
    """An egg-crate in which a nose stands with its leading edge down: a cross piece a station, two runners.

    Args:
        profiles: station and open profile (x aft, y up), all in one set of axes.
        outwards_in: from the given profile to the outside of the skin.
        board_in: thickness of the board.
        depth_in: how far the nose sits in, from the foremost point of all stations.
        base_in: from the bench to the foremost point of all.
        side_in: board beside the widest profile.
        clearance_in: added to the width of a slot.

    Raises:
        GeometryError: fewer than two stations, two at one place, or a profile that ends inside the cradle.
        OutOfRangeError: a base too low for its slots.
    """
    if len(profiles) < 2:
        raise GeometryError("stations", because="a cradle needs at least two stations")
    order = sorted(profiles, key=lambda one: one[0])
    gaps = np.diff([station for station, _ in order])
    if (gaps < 2 * board_in).any():
        raise GeometryError(
            "stations", because="two cross pieces would touch", found=f"{gaps.min():g} in apart"
        )
    if base_in < 1.0 or not 0 < board_in <= 1:
        raise OutOfRangeError(
            "base of the cradle", found=f"{base_in:g} in", allowed="at least 1 in, board up to 1 in"
        )
    # Aft becomes up: a quarter turn, so that the nose points down.
    edges = [(station, turned_outline(surface(profile, outwards_in)[0], 90.0)) for station, profile in order]
    dense = [flattened(edge, chord_error_in=0.002) for _, edge in edges]
    nose = min(float(d[:, 1].min()) for d in dense)
    wide = max(float(np.abs(d[d[:, 1] < nose + depth_in][:, 0]).max()) for d in dense) + side_in
    slot = board_in + clearance_in
    at = wide - side_in / 2
    half = base_in / 2 - 0.25
    floor, rim = nose - base_in, nose + depth_in
    pieces = []
    for (station, _), d in zip(edges, dense, strict=True):
        cup = _cup(d, rim, station)
        body = [(-wide, rim), *cup, (wide, rim), (wide, floor)]
        for x in (at, -at):
            body += [
                (x + slot / 2, floor),
                (x + slot / 2, floor + half),
                (x - slot / 2, floor + half),
                (x - slot / 2, floor),
            ]
        body.append((-wide, floor))
        made = counter_clockwise(outline(body, field=f"cross piece at {station:g} in"))
        pieces.append(
            _piece(made, f"{title}: cross piece STA {station:g}", (-wide + 0.15, floor + base_in / 2), hand)
        )
    first, last = edges[0][0], edges[-1][0]
    ring: list[tuple[float, float]] = [
        (first - side_in, 0.0),
        (last + side_in, 0.0),
        (last + side_in, base_in - 0.5),
    ]
    top = base_in - 0.5
    for station in (s for s, _ in reversed(edges)):
        ring += [
            (station + slot / 2, top),
            (station + slot / 2, half),
            (station - slot / 2, half),
            (station - slot / 2, top),
        ]
    ring.append((first - side_in, top))
    runner = outline(ring, field="runner")
    pieces.append(_piece(runner, f"{title}: runner, two needed", (first - side_in + 0.15, 0.15), hand))
    return tuple(pieces)


def _cup(d: FloatArray, rim: float, station: float) -> list[tuple[float, float]]:
    """The part of a profile below the rim, from left to right, cut off at the rim."""
    below = d[:, 1] < rim
    if below[0] or below[-1]:
        raise GeometryError(
            "cradle depth",
            because=f"the profile at station {station:g} in ends inside the cradle",
            mend="Make the cradle shallower",
        )
    inside = np.flatnonzero(below)
    first, last = int(inside[0]), int(inside[-1])
    ends = []
    for i, j in ((first - 1, first), (last + 1, last)):
        share = (rim - d[i, 1]) / (d[j, 1] - d[i, 1])
        ends.append((float(d[i, 0] + share * (d[j, 0] - d[i, 0])), rim))
    middle = [(float(x), float(y)) for x, y in d[first : last + 1]]
    cup = [ends[0], *middle, ends[1]]
    return cup if cup[0][0] < cup[-1][0] else cup[::-1]


def _piece(made: Outline, words: str, at: tuple[float, float], hand: HandOf) -> Scene:
    items: tuple[Item, ...] = (as_item(made), Text(at, words, 0.11))
    return together(
        Scene(items), hand_mark((at[0], at[1] + 0.22), hand, 0.2), title=words, described=f"{words}."
    )


def lightening_hole(center: tuple[float, float], diameter_in: float, flange_in: float) -> tuple[Item, ...]:
    """A hole as it is cut, and the circle where its flange begins."""
    if not 0 <= flange_in < 2 or diameter_in <= 0.3:
        raise OutOfRangeError("lightening hole", found=f"{diameter_in:g} in", allowed="more than 0.3 in")
    cut = Circle(center, diameter_in / 2, layer="cut")
    return (cut, Circle(center, diameter_in / 2 + flange_in, "fold", "marked")) if flange_in else (cut,)
