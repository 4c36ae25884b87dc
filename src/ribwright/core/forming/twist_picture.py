"""Twist before closing drawn: both ends seen along the span, a level on each."""

from __future__ import annotations

from math import copysign, cos, radians, sin

from ribwright.core.scene import Dimension, Item, Line, Polygon, Scene, Text
from ribwright.core.units import number_text

_LETTERS = 0.13


def twist_picture(first: str, second: str, twist_deg: float, u_deg: float, wanted_deg: float) -> Scene:
    """Both ends of a structure seen along its span, the second turned against the first; five times too far."""
    items: list[Item] = []
    for x, name, angle in ((0.0, first, 0.0), (3.6, second, twist_deg)):
        turn = radians(copysign(min(abs(5 * angle), 25), angle))

        def at(along: float, lift: float, x: float = x, turn: float = turn) -> tuple[float, float]:
            return (
                x + 1.3 + (along - 1.3) * cos(turn) - lift * sin(turn),
                (along - 1.3) * sin(turn) + lift * cos(turn),
            )

        items += [
            Line((x - 0.2, 0.0), (x + 2.8, 0.0), "centre"),
            Polygon(tuple(at(a, h) for a, h in ((0.0, 0.0), (0.25, 0.28), (2.6, 0.05), (2.6, -0.05), (0.25, -0.28)))),
            Polygon(tuple(at(a, h) for a, h in ((0.6, 0.34), (2.0, 0.2), (2.0, 0.34), (0.6, 0.48)))),
            Text((x + 1.3, -0.9), name, _LETTERS, "middle"),
        ]  # fmt: skip
    items.append(
        Dimension((1.3, 0.9), (4.9, 0.9), 1.1, f"twist {number_text(twist_deg, 2)}° ± {number_text(u_deg, 2)}°", along="x")
    )  # fmt: skip
    return Scene(
        tuple(items), "Twist before closing",
        f"Both ends seen along the span with a level on each: the second is turned {number_text(twist_deg, 2)} degrees against the first, "
        f"good to {number_text(u_deg, 2)}; {number_text(wanted_deg, 2)} is wanted. Drawn five times too far.",
    )  # fmt: skip
