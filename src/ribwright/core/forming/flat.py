"""Flat patterns of bent strips: legs, bends, sight lines, and an order of bending that the brake allows."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import permutations

import numpy as np

from ribwright.core.forming.fibre import Array
from ribwright.errors import GeometryError, OutOfRangeError

MOST_BENDS = 7


@dataclass(frozen=True, slots=True)
class Bend:
    """One bend: angle turned (positive up, negative down), inside radius, length of sheet it takes, setback."""

    angle_deg: float
    radius_in: float
    allowance_in: float
    setback_in: float


@dataclass(frozen=True, slots=True)
class Flat:
    """A developed strip.

    Attributes:
        flats_in: straight parts.
        lines_in: start and end of each bend along the strip, shape (bends, 2).
        sight_in: for each bend, the line to see exactly under the brake's nose, one radius inside its start.
        length_in: whole developed length.
    """

    flats_in: tuple[float, ...]
    lines_in: tuple[tuple[float, float], ...]
    sight_in: tuple[float, ...]
    length_in: float


def developed(legs_in: tuple[float, ...], bends: tuple[Bend, ...]) -> Flat:
    """Lay out a strip from its mold-line legs.

    Raises:
        GeometryError: numbers of legs and bends don't go together, or a leg is shorter than its setbacks.
    """
    if len(legs_in) != len(bends) + 1:
        raise GeometryError(
            "legs", found=f"{len(legs_in)} legs, {len(bends)} bends", allowed="one leg more than bends"
        )
    flats: list[float] = []
    for i, leg in enumerate(legs_in):
        taken = (bends[i - 1].setback_in if i > 0 else 0.0) + (bends[i].setback_in if i < len(bends) else 0.0)
        flat = leg - taken
        if flat < 0.0:
            raise GeometryError(
                f"leg {i + 1}",
                because="the leg is shorter than its bends need",
                found=f"{leg:g} in",
                allowed=f"at least {taken:.3f} in",
                mend="use a smaller radius or a longer leg",
            )
        flats.append(flat)
    at, lines = 0.0, []
    for flat, bend in zip(flats, bends, strict=False):
        at += flat
        lines.append((at, at + bend.allowance_in))
        at += bend.allowance_in
    return Flat(
        flats_in=tuple(flats),
        lines_in=tuple(lines),
        sight_in=tuple(a + b.radius_in for (a, _), b in zip(lines, bends, strict=True)),
        length_in=at + flats[-1],
    )


def outline_of(legs_in: tuple[float, ...], angles_deg: tuple[float, ...]) -> Array:
    """Mold-line outline of a partly bent strip; shape (legs + 1, 2), first leg along x."""
    heading = np.radians(np.concatenate(([0.0], np.cumsum(angles_deg))))
    steps = np.array(legs_in)[:, None] * np.column_stack([np.cos(heading), np.sin(heading)])
    return np.vstack([[0.0, 0.0], np.cumsum(steps, axis=0)])


@dataclass(frozen=True, slots=True)
class Brake:
    """A folding brake: its nose bar is a block above the sheet, seen from the end.

    Attributes:
        nose_height_in: height of the nose bar above the sheet.
        nose_depth_in: from the bend line back to the far side of the bar.
        bed_in: room below the bed for flanges already bent down.
    """

    nose_height_in: float
    nose_depth_in: float
    bed_in: float


def bend_order(
    legs_in: tuple[float, ...], angles_deg: tuple[float, ...], *, brake: Brake
) -> tuple[tuple[int, bool], ...] | None:
    """An order in which every bend can be made, or None: pairs of bend number and whether the strip is turned over.

    At each bend one side of the strip lies flat under the nose bar; what is bent there already must clear
    the bar above (or lie behind it) and the bed below, and the side that swings up must clear the bar too.

    Raises:
        OutOfRangeError: more bends than are searched, or a brake that can't be.
    """
    n = len(angles_deg)
    if n > MOST_BENDS:
        raise OutOfRangeError("bends", found=n, allowed=f"up to {MOST_BENDS}", mend="split the part")
    if min(brake.nose_height_in, brake.nose_depth_in) <= 0.0 or brake.bed_in < 0.0:
        raise OutOfRangeError("brake", found="a size of 0 or less", allowed="sizes above 0")
    for order in permutations(range(n)):
        done: list[int] = []
        turns: list[tuple[int, bool]] = []
        for bend in order:
            way = _clears(legs_in, angles_deg, tuple(done), bend, brake)
            if way is None:
                break
            turns.append((bend, way))
            done.append(bend)
        if len(turns) == n:
            return tuple(turns)
    return None


def _clears(
    legs: tuple[float, ...], angles: tuple[float, ...], done: tuple[int, ...], bend: int, brake: Brake
) -> bool | None:
    """Whether this bend can be made now; True when the other side must be clamped, None when it can't."""
    # a folding brake bends the free side up; a down bend is made with the strip turned face down
    face = 1.0 if angles[bend] >= 0.0 else -1.0
    bent = tuple(face * a if j in done else 0.0 for j, a in enumerate(angles))
    before = (legs[bend::-1], bent[bend - 1 :: -1] if bend > 0 else ())
    after = (legs[bend + 1 :], bent[bend + 1 :])
    for turned, clamped, free in ((False, before, after), (True, after, before)):
        if not _free_of_bar(outline_of(*clamped), brake):
            continue
        # the free side swings up towards the bar: it must clear it when the bend is done
        swung = outline_of((1e-9, *free[0]), (abs(angles[bend]), *free[1]))
        if _free_of_bar(swung * [-1.0, 1.0], brake, bed=False):
            return turned
    return None


def _free_of_bar(shape: Array, brake: Brake, *, bed: bool = True) -> bool:
    points = np.vstack([shape[:-1] + f * np.diff(shape, axis=0) for f in np.linspace(0.0, 1.0, 21)])
    x, y = points.T
    in_bar = (y > 1e-6) & (y < brake.nose_height_in) & (x > 1e-6) & (x < brake.nose_depth_in)
    below = y < -max(brake.bed_in, 1e-6)
    return not bool(np.any(in_bar) or (bed and np.any(below)))
