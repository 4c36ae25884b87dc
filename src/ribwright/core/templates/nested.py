"""Blanks as they lie on sheets: their lengths used, the check of every placement from scratch, and the picture."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from ribwright.core.geometry import Outline, flattened
from ribwright.core.geometry.outlines import FloatArray
from ribwright.core.scene import Item, Line, Polygon, Scene, Text, lettering_for, orientation, together
from ribwright.core.scene.lettering import width_of

Grain = Literal["along", "across", "any", "free"]
TURNS: dict[Grain, tuple[float, ...] | None] = {
    "along": (0.0, 180.0),
    "across": (90.0, 270.0),
    "any": (0.0, 90.0, 180.0, 270.0),
    "free": None,
}
"""Turns that keep the grain where the drawing wants it; ``free`` is any angle."""


@dataclass(frozen=True, slots=True, eq=False)
class Blank:
    """A flat part: outline with the grain along x, how many, and which way the grain may run."""

    name: str
    shape: Outline
    count: int = 1
    grain: Grain = "along"


@dataclass(frozen=True, slots=True)
class Sheet:
    """A sheet or offcut at hand, grain along its length."""

    name: str
    length_in: float
    width_in: float


@dataclass(frozen=True, slots=True)
class Placed:
    """A blank on a sheet: turned about its own origin, then moved."""

    name: str
    sheet: int
    turn_deg: float
    dx_in: float
    dy_in: float


@dataclass(frozen=True, slots=True)
class Nest:
    """All placements, the sheets used in order, and how much of each one's used length is blanks."""

    placed: tuple[Placed, ...]
    sheets: tuple[Sheet, ...]
    used_length_in: tuple[float, ...]
    use: float
    check: str = ""


CHORD_IN = 0.005


def laid_out(
    placed: Sequence[Placed],
    blanks: Sequence[Blank],
    sheets: Sequence[Sheet],
    *,
    gap_in: float,
    margin_in: float,
) -> Nest:
    """Placements as a nest: lengths used, share of them that is blanks, and the check from scratch.

    Args:
        placed: from the packer, or kept from an earlier time.
        blanks: what is needed.
        sheets: the sheets used, in the order in which placements number them.
    """
    rings = {b.name: flattened(b.shape, chord_error_in=CHORD_IN) for b in blanks}
    lengths = [
        max((float(moved(rings[p.name], p)[:, 0].max()) for p in placed if p.sheet == n), default=0.0)
        + margin_in
        for n in range(len(sheets))
    ]
    area = sum(abs(ring_area(rings[p.name])) for p in placed)
    whole = sum(length * sheet.width_in for length, sheet in zip(lengths, sheets, strict=True))
    made = Nest(tuple(placed), tuple(sheets), tuple(lengths), float(area / whole))
    return Nest(
        made.placed, made.sheets, made.used_length_in, made.use, checked(made, blanks, gap_in, margin_in)
    )


def checked(made: Nest, blanks: Sequence[Blank], gap_in: float, margin_in: float) -> str:
    """Empty when every piece lies inside its sheet's margins, none overlap, gaps and grain are kept and the
    numbers agree; otherwise what is wrong. Worked out with shapely, which the packer does not use."""
    from shapely import STRtree
    from shapely.geometry import Polygon as Area
    from shapely.geometry import box

    by_name = {b.name: b for b in blanks}
    counted: dict[str, int] = {}
    for at in made.placed:
        counted[at.name] = counted.get(at.name, 0) + 1
        allowed = TURNS[by_name[at.name].grain]
        if allowed is not None and min(abs((at.turn_deg - a + 180) % 360 - 180) for a in allowed) > 1e-3:
            return f"{at.name} is turned by {at.turn_deg:g} degrees across its grain"
    for blank in blanks:
        if counted.get(blank.name, 0) != blank.count:
            return f"{counted.get(blank.name, 0)} of {blank.count} {blank.name} are placed"
    for number, sheet in enumerate(made.sheets):
        here = [at for at in made.placed if at.sheet == number]
        areas = [Area(moved(flattened(by_name[at.name].shape, chord_error_in=CHORD_IN), at)) for at in here]
        inside = box(margin_in, margin_in, sheet.length_in - margin_in, sheet.width_in - margin_in).buffer(
            1e-6
        )
        for at, area in zip(here, areas, strict=True):
            if not inside.contains(area):
                return f"{at.name} runs over the margin of {sheet.name}"
        tree = STRtree(areas)
        for i, area in enumerate(areas):
            for j in tree.query(area.buffer(gap_in)):
                # The packer keeps its gap to single precision.
                if j > i and area.distance(areas[int(j)]) < gap_in * (1 - 1e-3) - 1e-5:
                    return f"{here[i].name} and {here[int(j)].name} lie {area.distance(areas[int(j)]):.4f} in apart"
                if j > i and area.intersection(areas[int(j)]).area > 1e-6:
                    return f"{here[i].name} and {here[int(j)].name} overlap"
    return ""


def nest_picture(made: Nest, blanks: Sequence[Blank]) -> tuple[Scene, ...]:
    """One drawing a sheet: pieces with their names, grain arrow, and where the rest can be sheared off."""
    by_name = {b.name: b for b in blanks}
    scenes = []
    for number, sheet in enumerate(made.sheets):
        height = lettering_for(sheet.length_in)
        length, wide = sheet.length_in, sheet.width_in
        items: list[Item] = [Polygon(((0, 0), (length, 0), (length, wide), (0, wide)), style="thin")]
        end = made.used_length_in[number]
        if end < length - 0.5:
            items.append(Line((end, 0), (end, wide), "fold", "marked"))
            rest = f"rest {length - end:.1f} in"
            fits = width_of(rest, 1.3 * height) + 2 * height < length - end
            items.append(Text((end + height if fits else length + height, wide / 2), rest, height))
        for at in (p for p in made.placed if p.sheet == number):
            ring = moved(flattened(by_name[at.name].shape, chord_error_in=CHORD_IN), at)
            middle = (ring.min(axis=0) + ring.max(axis=0)) / 2
            items.append(Polygon(tuple((float(x), float(y)) for x, y in ring), layer="cut"))
            items.append(Text((float(middle[0]), float(middle[1])), at.name, height * 0.8, "middle"))
        items.append(
            Text(
                (0, -2.2 * height), f"{sheet.name}: {length:g} by {wide:g} in, grain along its length", height
            )
        )
        scenes.append(
            together(
                Scene(tuple(items)),
                orientation((0, wide + 2 * height), size=6 * height),
                title=f"Blanks on {sheet.name}",
                described=f"{sum(p.sheet == number for p in made.placed)} blanks on {sheet.name}.",
            )
        )
    return tuple(scenes)


def ring_area(ring: FloatArray) -> float:
    """Area inside a ring of points, positive counter-clockwise."""
    x, y = ring.T
    return float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y) / 2)


def moved(ring: FloatArray, at: Placed) -> FloatArray:
    """A blank's ring of points where it lies on its sheet."""
    c, s = np.cos(np.radians(at.turn_deg)), np.sin(np.radians(at.turn_deg))
    return np.asarray(ring @ np.array([[c, s], [-s, c]]) + np.array([at.dx_in, at.dy_in]), dtype=np.float64)
