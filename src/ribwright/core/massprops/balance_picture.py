"""A control surface seen from its end: hinge line, pieces at their arms, the support, which way it is heavy."""

from __future__ import annotations

from collections.abc import Sequence

from ribwright.core.scene import Circle, Dimension, Item, Line, Polygon, Scene, Text, orientation, together
from ribwright.core.units import number_text

_WIDE = 7.0


def balance_picture(
    title: str, pieces: Sequence[tuple[str, float, float]], moment: float, u: float, support: float | None
) -> Scene:
    """Arms to scale along the chord, nose to the left.

    Args:
        pieces: name, weight in lb, arm in inches from the hinge.
        moment, u: about the hinge, and the half-width of its band.
        support: arm of the scale, when it was hung.
    """
    arms = [arm for _, _, arm in pieces] + ([support] if support is not None else [])
    low, high = min([*arms, -1.0]), max([*arms, 1.0])

    def x(arm: float) -> float:
        return (arm - low) / (high - low) * _WIDE

    items: list[Item] = [Line((-0.3, 0.0), (_WIDE + 0.3, 0.0), "centre")]
    hinge = x(0.0)
    items += [
        Circle((hinge, 0.0), 0.12, "heavy"),
        Line((hinge, -0.5), (hinge, 0.9), "thin"),
        Text((hinge, 0.95), "hinge line", 0.13, "middle"),
    ]
    # the foremost piece is named lowest, each to the right of its own line: no line runs through a name
    for row, (name, weight, arm) in enumerate(sorted(pieces, key=lambda p: -p[2])):
        at = x(arm)
        down = -0.75 - 0.26 * row
        items += [
            Line((at, 0.0), (at, down - 0.05), "thin"),
            Circle((at, 0.0), 0.05),
            Text((at + 0.07, down - 0.05), f"{name}: {number_text(weight, 2)} lb at {number_text(arm, 2)} in", 0.11),
        ]  # fmt: skip
    if support is not None:
        at = x(support)
        items.append(Polygon(((at, 0.0), (at - 0.12, -0.3), (at + 0.12, -0.3)), fill="solid"))
        items.append(Dimension((hinge, 0.0), (at, 0.0), 0.6, f"{number_text(support, 2)} in", along="x"))
    heavy = "tail-heavy" if moment > 0 else "nose-heavy"
    said = f"{heavy} by {number_text(abs(moment), 2)} ± {number_text(u, 2)} lb·in"
    items.append(Text((_WIDE / 2, 1.5), said, 0.15, "middle", bold=True))
    return together(
        Scene(tuple(items)),
        orientation((_WIDE - 0.4, 1.1), fwd=(-1.0, 0.0), up=(0.0, 1.0), size=0.6),
        title=title,
        described=f"{title}: {said}. "
        + "; ".join(f"{name} {number_text(w, 2)} lb at {number_text(a, 2)} in" for name, w, a in pieces),
    )
