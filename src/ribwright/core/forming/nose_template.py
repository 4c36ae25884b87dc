"""The templates of a rolled edge at full size: boards that lie on the inside of the skin, one for each place."""

from __future__ import annotations

import numpy as np

from ribwright.core.forming.fibre import Array
from ribwright.core.forming.nose_spec import NoseRoll
from ribwright.core.forming.target import Target
from ribwright.core.scene import Hand, Item, Polyline, Scene, Text
from ribwright.core.scene.lettering import width_of

BACKING_IN = 1.25
"""Board behind the ends of the curve, to hold it by."""
BETWEEN_IN = 0.6
_SMALL, _LARGE, _HAND = 0.09, 0.14, 0.2


def inside_in(target: Target, thickness_in: float) -> Array:
    """The inside of the skin at a station, its chord along x from the free edge, the curve below it; shape (n, 2)."""
    points = target.points_in - target.normals * (0.5 * thickness_in)
    points = points - points[0]
    x, y = points[-1] / np.hypot(*points[-1])
    return np.asarray(points @ np.array([[x, -y], [y, x]]))


def board_in(target: Target, thickness_in: float) -> Array:
    """The board of a station: the skin's inside below, square sides and a straight back above; shape (n + 2, 2)."""
    curve = inside_in(target, thickness_in)
    back = np.array([[curve[-1, 0], BACKING_IN], [0.0, BACKING_IN]])
    return np.vstack([curve, back])


def templates_of(spec: NoseRoll, targets: tuple[Target, ...]) -> Scene:
    """All boards of the edge side by side, cut on their lines, with what each is for written on and under it."""
    thickness = float(spec.thickness.value)
    items: list[Item] = []
    left, lowest = 0.0, 0.0
    for target in targets:
        board = board_in(target, thickness)
        wide = float(np.ptp(board[:, 0]))
        corner = left - float(board[:, 0].min())
        low = float(board[:, 1].min())
        lowest = min(lowest, low)
        items.append(
            Polyline(
                tuple((float(x) + corner, float(y)) for x, y in board),
                closed=True,
                style="outline",
                layer="cut",
            )
        )
        place = f"{target.station_in:g} in"
        radius = 1.0 / max(float(np.max(target.curvature_per_in)), 1e-9) - 0.5 * thickness
        under = f"inside radius {radius:.3f} in" if _round(target) else f"least inside radius {radius:.3f} in"
        items += [
            Text((left + wide / 2, 0.62 * BACKING_IN), place, _LARGE, "middle"),
            Text((corner + 0.07, 0.12), "edge", _SMALL),
            Text((corner + float(board[-3, 0]) - 0.07, 0.12), "skin", _SMALL, "end"),
            Text((left, low - 0.2), under, _SMALL),
        ]
        left += max(wide, width_of(under, _SMALL)) + BETWEEN_IN
    said = "; ".join(
        part for part in (spec.title, f"{spec.drawing} {_revision(spec)}".strip(), f"sheet {spec.thickness.text}") if part
    )  # fmt: skip
    items += [
        Text((0.0, lowest - 0.5), said, _SMALL),
        Text((0.0, lowest - 0.68), "Each lies on the inside of the skin at its place, measured from the lever's end.", _SMALL),
    ]  # fmt: skip
    if spec.hand != "none":
        items.append(Hand((0.0, lowest - 1.0), spec.hand, _HAND))  # type: ignore[arg-type]
    places = ", ".join(f"{target.station_in:g}" for target in targets)
    described = f"{len(targets)} full-size template{'s' if len(targets) != 1 else ''} for the inside of the skin, at {places} in."
    return Scene(tuple(items), f"Templates: {spec.title}", described)


def _round(target: Target) -> bool:
    """Whether the curve is one arc of a circle: what turns, turns alike."""
    bent = target.curvature_per_in[target.curvature_per_in > 1e-9]
    return bool(np.median(bent) > 0.98 * np.max(bent) and np.mean(bent > 0.98 * np.max(bent)) > 0.95)


def _revision(spec: NoseRoll) -> str:
    return f"revision {spec.revision}" if spec.revision else ""
