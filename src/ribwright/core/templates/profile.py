"""Profile templates: the board that shows whether a nose is round enough, at one station.

A *female* template goes over the nose and checks its outside; a *male* one goes inside. The profile is
given at the outside or the inside of the sheet, and the template is made for the surface that it touches.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from ribwright.core.geometry import Outline, crossing, flattened, length_in, offset_outline
from ribwright.core.geometry.outlines import FloatArray
from ribwright.core.scene import Circle, Item, Line, Marker, Scene, Text, hand_mark, orientation, together
from ribwright.core.scene.items import HandOf
from ribwright.core.scene.lettering import width_of
from ribwright.core.templates.shape import as_item, is_inside, joined, surface
from ribwright.errors import GeometryError, OutOfRangeError

Surface = Literal["outside", "inside"]
Kind = Literal["female", "male"]

NOTCH_IN = 0.12
FINGER_HOLE_IN = 0.875


@dataclass(frozen=True, slots=True, eq=False)
class ProfileTemplate:
    """A template ready to print: its drawing, the surface that it checks, the path to cut.

    ``arc_error_in`` is how far the cut arcs leave the exact curve.
    """

    scene: Scene
    profile: Outline
    body: Outline
    arc_error_in: float


@dataclass(frozen=True, slots=True)
class Label:
    """What stands on the board. ``faces`` says which way the lettered face looks when it is held in place."""

    part: str
    station_in: float
    hand: HandOf = "none"
    faces: str = "outboard"


@dataclass(frozen=True, slots=True)
class BoardHole:
    """A hole in the board itself, such as the hinge centre: a rod through all boards shows the hinge line."""

    at_in: tuple[float, float]
    diameter_in: float
    words: str


def profile_template(
    profile: Outline | FloatArray,
    label: Label,
    *,
    given: Surface,
    touches: Surface,
    thickness_in: float,
    kind: Kind,
    backing_in: float = 1.25,
    kerf_in: float = 0.0,
    datum_y_in: float = 0.0,
    holes: Sequence[BoardHole] = (),
) -> ProfileTemplate:
    """The template of one station.

    Args:
        profile: open profile in inches, x aft, y up, from the upper aft end round the nose to the lower.
        label: part, station, hand.
        given: which surface of the sheet ``profile`` is.
        touches: which surface the template is held against.
        thickness_in: of the sheet.
        kind: female (over the nose) or male (inside it).
        backing_in: width of the board round a female profile.
        kerf_in: width of the cut; the path is moved by half of it into the waste.
        datum_y_in: height of the chord line, marked and notched.
        holes: holes in the board, in the profile's axes.

    Raises:
        GeometryError: the profile bends tighter than the sheet is thick, its ends don't leave a board, or a
            hole lies off the board.
        OutOfRangeError: a negative kerf, or a backing too narrow to hold.
    """
    if not 0 <= kerf_in <= 0.25:
        raise OutOfRangeError("kerf", found=kerf_in, allowed="0 to 1/4 in")
    if not 0.4 <= backing_in <= 12:
        raise OutOfRangeError("backing", found=backing_in, allowed="0.4 to 12 in")
    if not 0 < thickness_in <= 0.5:
        raise OutOfRangeError("sheet thickness", found=thickness_in, allowed="more than 0 and at most 1/2 in")
    outwards = 0.0 if given == touches else thickness_in if touches == "outside" else -thickness_in
    edge, error = surface(profile, outwards, "sheet thickness")
    body = _female(edge, backing_in, datum_y_in) if kind == "female" else _male(edge, datum_y_in)
    if (found := crossing(flattened(body, chord_error_in=0.002))) is not None:
        raise GeometryError(
            "profile",
            because="the template's board would cross itself",
            found=f"near ({found[2][0]:.3f}, {found[2][1]:.3f}) in",
            mend="Shorten the profile, or make the other kind of template",
        )
    path = offset_outline(body, kerf_in / 2, corners="mitre", field="kerf") if kerf_in else body
    items: list[Item] = [as_item(path)]
    if kerf_in:
        items.append(as_item(edge, "thin", "printed"))
    items += _marks(edge, kind, datum_y_in)
    items += _board_holes(body, holes)
    lettering = _lettering(edge, label, kind, touches, backing_in)
    described = (
        f"{kind.capitalize()} template of {label.part} at station {label.station_in:g} in, held against the "
        f"{touches} of the sheet. Profile {length_in(edge):.2f} in along the curve."
    )
    scene = together(
        Scene(tuple(items)),
        lettering,
        title=f"{label.part}, {kind} template, station {label.station_in:g} in",
        described=described,
    )
    return ProfileTemplate(scene, edge, path, error)


def _extent(edge: Outline) -> tuple[FloatArray, FloatArray]:
    dense = flattened(edge, chord_error_in=0.001)
    return dense.min(axis=0), dense.max(axis=0)


def _female(edge: Outline, backing: float, datum_y: float) -> Outline:
    low, high = _extent(edge)
    first, last = edge.points_in[0], edge.points_in[-1]
    left, bottom, top = low[0] - backing, low[1] - backing, high[1] + backing
    n = NOTCH_IN / 2
    notch = [(left, datum_y - n), (left + n, datum_y), (left, datum_y + n)]
    if not bottom + n < datum_y < top - n:
        notch = []
    return joined(edge, [(last[0], bottom), (left, bottom), *notch, (left, top), (first[0], top)])


def _male(edge: Outline, datum_y: float) -> Outline:
    first, last = edge.points_in[0], edge.points_in[-1]
    n = NOTCH_IN / 2
    span = first - last
    if abs(span[1]) < 4 * n or not min(first[1], last[1]) + n < datum_y < max(first[1], last[1]) - n:
        return joined(edge, [])
    share = (datum_y - last[1]) / span[1]
    at = last + span * share
    way = span / np.hypot(*span)
    inwards = np.array([-way[1], way[0]])
    return joined(edge, np.array([at - way * n, at + inwards * n, at + way * n]))


def _board_holes(body: Outline, holes: Sequence[BoardHole]) -> list[Item]:
    items: list[Item] = []
    for hole in holes:
        if not is_inside(body, hole.at_in, hole.diameter_in / 2):
            raise GeometryError(
                hole.words,
                because="this hole lies off the board",
                found=f"at ({hole.at_in[0]:.3f}, {hole.at_in[1]:.3f}) in",
                mend="Make the other kind of template, or a wider board",
            )
        items.append(Marker(hole.at_in, "hole", hole.words, hole.diameter_in, 0.08))
    return items


def _marks(edge: Outline, kind: Kind, datum_y: float) -> list[Item]:
    """Chord line, and a stroke square to the profile where an arc begins or ends: where the bend starts."""
    low, high = _extent(edge)
    side = 1.0 if kind == "female" else -1.0
    start = low[0] - 0.7 if kind == "female" else low[0] + 0.05
    end = low[0] - 0.05 if kind == "female" else high[0]
    items: list[Item] = [Line((float(start), datum_y), (float(end), datum_y), "centre", "marked")]
    if len(edge.points_in) > 8:
        return items
    for n in range(1, len(edge.points_in) - 1):
        chord = edge.points_in[n + 1] - edge.points_in[n]
        half = 2 * np.arctan(edge.bulges[n])
        c, s = np.cos(-half), np.sin(-half)
        way = np.array([c * chord[0] - s * chord[1], s * chord[0] + c * chord[1]]) / np.hypot(*chord)
        out = np.array([way[1], -way[0]]) * side
        a, b = edge.points_in[n] + out * 0.03, edge.points_in[n] + out * 0.3
        items.append(Line((float(a[0]), float(a[1])), (float(b[0]), float(b[1])), "outline", "marked"))
    return items


def _within(lines: list[str], height: float, wide: float) -> list[str]:
    """The lines, broken between words where they would run over the board's edge."""
    made: list[str] = []
    for line in lines:
        made.append("")
        for word in line.split(" "):
            longer = f"{made[-1]} {word}" if made[-1] else word
            if made[-1] and width_of(longer, height) > wide:
                made.append(word)
            else:
                made[-1] = longer
    return made


def _lettering(edge: Outline, label: Label, kind: Kind, touches: Surface, backing: float) -> Scene:
    low, high = _extent(edge)
    height = float(np.clip(backing / 11, 0.05, 0.11))
    lines = [
        f"STA {label.station_in:g}  {label.part}",
        f"{kind} template, against the {touches} of the sheet; this face looks {label.faces}",
    ]
    if kind == "female":
        lines = _within(lines, height, backing + float(high[0] - low[0]) - 0.2)
        x, y = float(low[0]) - backing + 0.1, float(high[1]) + backing - 0.1 - height
        items: list[Item] = [Text((x, y - n * 1.7 * height), line, height) for n, line in enumerate(lines)]
        letters = hand_mark((x, y - len(lines) * 1.7 * height - 0.12), label.hand, min(0.2, backing / 5))
        arrows = orientation((x + 0.75, float(low[1]) - backing + 0.12), up=(0, 1), fwd=(-1, 0), size=0.35)
        return together(Scene(tuple(items)), letters, arrows)
    deep, tall = float(high[0] - low[0]), float(high[1] - low[1])
    radius = FINGER_HOLE_IN / 2
    items = []
    middle = (float(low[0]) + 0.45 * deep, float((low[1] + high[1]) / 2))
    if tall > FINGER_HOLE_IN + 1.0 and deep > FINGER_HOLE_IN + 1.5:
        items.append(Circle(middle, radius, layer="cut"))
    height = float(np.clip(min(deep / 60, tall / 12), 0.05, 0.11))
    big = min(0.2, tall / 9)
    x = float(low[0]) + 0.14 * deep
    clear = radius if items else 0.0
    y = middle[1] + clear + 0.08
    items += [
        Text((x + 0.1 * deep, y + (1 - n) * 1.7 * height), line, height) for n, line in enumerate(lines)
    ]
    foot = middle[1] - clear - 0.08 - big
    size = min(0.3, tall / 6)
    return together(
        Scene(tuple(items)),
        hand_mark((x, foot), label.hand, big),
        orientation((float(low[0]) + 0.82 * deep, foot), up=(0, 1), fwd=(-1, 0), size=size),
    )
