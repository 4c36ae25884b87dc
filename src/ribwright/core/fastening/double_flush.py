"""A rivet flush on both sides: grip in a wedge, its seats, how far the shank stands proud, lengths along a row."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ribwright.core.audit import (
    formula,
)
from ribwright.core.fastening.length import rounded_length_16
from ribwright.core.fastening.rivets import rivet
from ribwright.core.tables import table

Floats = NDArray[np.float64]
HALF_CONE_RAD = math.radians(50.0)


@formula(
    "wedge.grip",
    symbol="g",
    shown="edge_thickness_in + 2 * from_edge_in * tan(half_angle_rad) + skins_in / cos(half_angle_rad)",
    unit="in",
    source="statics",
    locator="a wedge and two sheets cut square to the chord",
    rung="derived",
    limits={
        "edge_thickness_in": (0.0, 0.25),
        "from_edge_in": (0.0, 6.0),
        "half_angle_rad": (0.0, 0.35),
        "skins_in": (0.02, 0.25),
    },
    excuse="geometry of a wedge",
)
def wedge_grip_in(
    *, edge_thickness_in: ArrayLike, from_edge_in: ArrayLike, half_angle_rad: ArrayLike, skins_in: ArrayLike
) -> Floats:
    """Stack along a hole square to the chord: wedge there, and both skins cut slantwise."""
    angle = np.asarray(half_angle_rad, float)
    wedge = np.asarray(edge_thickness_in, float) + 2 * np.asarray(from_edge_in, float) * np.tan(angle)
    return wedge + np.asarray(skins_in, float) / np.cos(angle)


@formula(
    "flush.cone_depth",
    symbol="h",
    shown="(head_in - hole_in) / (2 * tan(radians(50)))",
    unit="in",
    source="statics",
    locator="a 100° cone from the head's diameter down to the hole",
    rung="derived",
    limits={"head_in": (0.1, 0.5), "hole_in": (0.05, 0.4)},
    excuse="geometry of one cone",
)
def cone_depth_in(*, head_in: ArrayLike, hole_in: ArrayLike) -> Floats:
    """Depth of a 100° seat from the face to where the plain hole begins."""
    return (np.asarray(head_in, float) - np.asarray(hole_in, float)) / (2 * math.tan(HALF_CONE_RAD))


@formula(
    "flush.double_proud",
    symbol="p",
    shown=(
        "((grip_in - 2 * depth_in) * (hole_in**2 - diameter_in**2) + depth_in * ((head_in**2 + head_in * hole_in "
        "+ hole_in**2) / 3 - diameter_in**2)) / diameter_in**2"
    ),
    unit="in",
    source="statics",
    locator="volume of the shank is kept: it fills the hole and the far cone",
    rung="derived",
    limits={
        "grip_in": (0.03, 2.0),
        "depth_in": (0.005, 0.15),
        "hole_in": (0.063, 0.4),
        "diameter_in": (0.0625, 0.375),
        "head_in": (0.1, 0.5),
    },
    excuse="a volume kept; the trade's .045 to .051 in for 3/32 has no published source, a unit test holds it there",
)
def double_flush_proud_in(
    *, grip_in: ArrayLike, depth_in: ArrayLike, hole_in: ArrayLike, diameter_in: ArrayLike, head_in: ArrayLike
) -> Floats:
    """How far the shank must stand proud of the far skin to fill its seat level, no more."""
    h, hole, d = np.asarray(depth_in, float), np.asarray(hole_in, float), np.asarray(diameter_in, float)
    head = np.asarray(head_in, float)
    plain = (np.asarray(grip_in, float) - 2 * h) * (hole**2 - d**2)
    cone = h * ((head**2 + head * hole + hole**2) / 3 - d**2)
    return (plain + cone) / d**2


@dataclass(frozen=True, slots=True)
class LengthRange:
    """Consecutive holes (numbered from 1) that one rivet length serves."""

    first: int
    last: int
    length_in: float
    part_number: str
    cut: bool

    def said(self) -> str:
        """For a sheet: ``holes 1 to 12: MS20426AD3-4 cut to .232 in``."""
        holes = f"hole {self.first}" if self.first == self.last else f"holes {self.first} to {self.last}"
        how = f" cut to {self.length_in:.3f} in" if self.cut else " as bought"
        return f"{holes}: {self.part_number}{how}"


def length_ranges(
    grips_in: Sequence[float], *, low_in: float, high_in: float, size: str, head: str, alloy: str = "AD"
) -> tuple[LengthRange, ...]:
    """Lengths by hole range: each length stands proud between ``low_in`` and ``high_in`` at every hole it serves.

    A length that is sold is taken where one fits; otherwise the next longer one is cut.
    """
    step = table("rivets/length").cell("half size", "step").value
    made: list[LengthRange] = []
    start = 0
    while start < len(grips_in):
        least, most = grips_in[start] + low_in, grips_in[start] + high_in
        end = start
        while end + 1 < len(grips_in):
            lower, upper = max(least, grips_in[end + 1] + low_in), min(most, grips_in[end + 1] + high_in)
            if lower > upper:
                break
            least, most, end = lower, upper, end + 1
        sold = rounded_length_16(least - 1e-6, step)
        fits = float(sold / 16) <= most + 1e-6
        length = float(sold / 16) if fits else (least + most) / 2
        number = rivet(head, alloy, size, sold).part_number
        made.append(LengthRange(start + 1, end + 1, length, number, not fits))
        start = end + 1
    return tuple(made)
