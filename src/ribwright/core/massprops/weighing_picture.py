"""The weighing drawn: points along the aeroplane, what each carries, and where it balances."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ribwright.core.scene import Circle, Dimension, Item, Line, Polygon, Scene, Text, orientation, together
from ribwright.core.units import number_text

if TYPE_CHECKING:
    from ribwright.core.massprops.weighing import Weighing

_WIDE = 7.0


def weighing_picture(spec: Weighing, weights: list[float], cg: float, u_cg: float) -> Scene:
    """Arms to scale along one line, seen from the left: nose to the left."""
    arms = [p.arm.value for p in spec.points] + [cg, 0.0]
    low, high = min(arms), max(arms)
    span = max(high - low, 1.0)

    def x(arm: float) -> float:
        return (arm - low) / span * _WIDE

    items: list[Item] = [Line((-0.3, 0.0), (_WIDE + 0.3, 0.0), "centre")]
    items += [Line((x(0.0), -0.4), (x(0.0), 0.9), "thin"), Text((x(0.0), 1.0), "datum", 0.13, "middle")]
    groups: dict[float, list[int]] = {}
    for i, p in enumerate(spec.points):
        groups.setdefault(round(x(p.arm.value), 1), []).append(i)
    for across, members in groups.items():
        items.append(Circle((across, -0.25), 0.2))
        for row, i in enumerate(members):
            p = spec.points[i]
            said = f"{p.name}: {number_text(weights[i], 1)} lb at {number_text(p.arm.value, 2)} in"
            items.append(Text((across, -0.75 - 0.36 * row), said, 0.12, "middle"))
    at = x(cg)
    items.append(Polygon(((at, 0.0), (at - 0.12, 0.3), (at + 0.12, 0.3)), fill="solid"))
    items.append(
        Text((at, 0.42), f"CG {number_text(cg, 2)} ± {number_text(u_cg, 2)} in", 0.14, "middle", bold=True)
    )
    if abs(at - x(0.0)) > 0.2:
        items.append(Dimension((x(0.0), 0.0), (at, 0.0), 1.4, f"{number_text(cg, 2)} in", along="x"))
    title = spec.title or "Weighing"
    said = "; ".join(
        f"{p.name} {number_text(w, 1)} lb at {number_text(p.arm.value, 2)} in"
        for p, w in zip(spec.points, weights, strict=False)
    )
    described = f"{title}: {said}. The CG lies {number_text(cg, 2)} in aft of the datum, known to ± {number_text(u_cg, 2)} in."
    return together(
        Scene(tuple(items)),
        orientation((_WIDE - 0.5, 1.2), fwd=(-1.0, 0.0), up=(0.0, 1.0), size=0.6),
        title=title,
        described=described,
    )
