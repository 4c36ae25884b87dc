"""Line weights and dashes of a drawing office, the same on screen and on paper."""

from __future__ import annotations

from ribwright.core.scene.items import Style

PT_PER_IN = 72.0
_PT_PER_MM = 72 / 25.4

WEIGHT_MM: dict[Style, float] = {
    "heavy": 0.6,
    "outline": 0.3,
    "hidden": 0.25,
    "fold": 0.25,
    "centre": 0.18,
    "dimension": 0.18,
    "thin": 0.18,
    "ruled": 0.09,
}
"""ISO 128 steps, one step lighter than usual for outlines: a cut follows the middle of its line. What paper is ruled with
before anything is drawn on it is half as wide as the thinnest line drawn."""

DASH_MM: dict[Style, tuple[float, ...]] = {
    "hidden": (3.0, 1.2),
    "centre": (9.0, 1.5, 1.0, 1.5),
    "fold": (9.0, 1.5, 1.0, 1.5, 1.0, 1.5),
}


def weight_pt(style: Style) -> float:
    """Line width in points."""
    return WEIGHT_MM[style] * _PT_PER_MM


def dash_pt(style: Style) -> tuple[float, ...]:
    """Lengths of stroke and gap in points; empty for an unbroken line."""
    return tuple(length * _PT_PER_MM for length in DASH_MM.get(style, ()))


GRADES = ("#4a1942", "#96304f", "#cf6b45", "#e6b866", "#f4efd0")
"""Five steps from tightest to easiest: each clearly lighter than the one before, so that they keep their order
in grey, on a poor print and for every kind of colour-blindness."""
