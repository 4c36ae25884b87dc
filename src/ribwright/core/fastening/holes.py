"""The hole: drill by stage, and for each layer dimple, countersink or neither, with the rule behind it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ribwright.core.audit import formula
from ribwright.core.bench import Because
from ribwright.core.tables import table

TREATMENTS = ("dimple", "countersink", "neither")


@dataclass(frozen=True, slots=True)
class Treatment:
    """What one layer gets: ``dimple``, ``countersink`` or ``neither``; the reason; extra depth of a countersink."""

    kind: str
    because: Because
    extra_depth_in: float = 0.0


@formula(
    "countersink.extra_depth",
    symbol="e",
    shown="0.305 * skin_thickness_in",
    unit="in",
    source="statics",
    locator="a 100° cone seats a dimpled sheet of this thickness deeper: t (1/sin 50° - 1)",
    rung="derived",
    limits={"skin_thickness_in": (0.0, 0.063)},
    excuse="geometry of one cone; shop lore says .007 in for .020 in, the cone itself gives .006",
)
def extra_depth_in(*, skin_thickness_in: ArrayLike) -> NDArray[np.float64]:
    """How much deeper a countersink under a dimpled skin goes than for the bare head."""
    return 0.305 * np.asarray(skin_thickness_in, float)


def treatments(*, head: str, size: str, thickness_in: tuple[float, ...]) -> tuple[Treatment, ...]:
    """What each layer needs, from the manufactured head down, when the drawing is silent.

    A protruding head needs nothing. Under a flush head a layer as thick as the strict least sheet is
    countersunk and everything below it is left plain; a thinner one is dimpled, and so the layer below
    must take the dimple: dimpled itself, or countersunk deeper by what the dimpled sheet above takes up.
    """
    if head == "universal":
        because = Because.worked_out("a protruding head sits on a plain hole")
        return tuple(Treatment("neither", because) for _ in thickness_in)
    least = table("rivets/countersink-least-sheet").cell(size, "strict")
    made: list[Treatment] = []
    nested = 0.0  # thickness of the dimpled stack that sits in the layer below
    closed = False  # a countersunk layer ends the cone: below it holes are plain
    for number, t in enumerate(thickness_in):
        if closed:
            made.append(
                Treatment("neither", Because.worked_out("the countersink above holds the whole cone"))
            )
        elif t >= least.canonical - 1e-9:
            said = f"{t:.3f} in is not thinner than the least sheet for a countersink, {least.text} in"
            made.append(
                Treatment(
                    "countersink", Because.cell(least, said), float(extra_depth_in(skin_thickness_in=nested))
                )
            )
            closed = True
        else:
            under = "under a dimpled layer" if number else "under a flush head"
            said = f"{t:.3f} in {under} is thinner than the least sheet for a countersink, {least.text} in"
            made.append(Treatment("dimple", Because.cell(least, said)))
            nested += t
    return tuple(made)
