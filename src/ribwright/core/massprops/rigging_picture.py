"""Rigging measurements drawn: where the plumb lines, the straight edge and the level go, with what they read.

Schematic: angles are drawn larger than they are, so that a way can be told from the other.
"""

from __future__ import annotations

from math import copysign, cos, radians, sin
from typing import TYPE_CHECKING

from ribwright.core.scene import Arc, Circle, Item, Line, Polygon, Scene, Text, orientation, together
from ribwright.core.units import number_text

if TYPE_CHECKING:
    from ribwright.core.massprops.symmetry import Symmetry
    from ribwright.core.massprops.wheels import Wheels

_LETTERS = 0.13


def symmetry_picture(spec: Symmetry, offset_in: float, slope: float) -> Scene:
    """The floor from above, nose up: chalk line, plumbed points, and the fitted centreline.

    Args:
        offset_in: of the centreline to the right of the chalk line at the datum.
        slope: inches to the right an inch aft.

    Offsets from the chalk line are drawn to scale with the aeroplane; the fitted line twenty times too far off.
    """
    points = [
        (x, y)
        for p in spec.pairs
        for x, y in ((-p.left_out.value, p.left_aft.value), (p.right_out.value, p.right_aft.value))
    ] + [(c.right.value, c.aft.value) for c in spec.centres]
    aft = [y for _, y in points]
    low, high, out = min(aft), max(aft), max(abs(x) for x, _ in points) or 1.0
    scale = 6.0 / max(high - low, 2 * out)

    def at(right: float, back: float) -> tuple[float, float]:
        return right * scale, (low - back) * scale

    foot = at(0, high)[1] - 0.5
    items: list[Item] = [Line((0.0, 0.5), (0.0, foot), "thin"), Text((0.08, 0.4), "chalk line", _LETTERS)]
    for p in spec.pairs:
        left, right = (
            at(-p.left_out.value, p.left_aft.value),
            at(p.right_out.value, p.right_aft.value),
        )
        items += [Line(left, right, "dimension"), Circle(left, 0.06), Circle(right, 0.06)]
        items.append(Text((0.08, (left[1] + right[1]) / 2 + 0.1), p.name, _LETTERS))
    for c in spec.centres:
        items += [Circle(at(c.right.value, c.aft.value), 0.06), Text((0.12, at(0, c.aft.value)[1] - 0.2), c.name, _LETTERS)]  # fmt: skip

    def line(back: float) -> tuple[float, float]:
        return 20 * (offset_in + slope * back) * scale, at(0, back)[1]

    items.append(Line(line(low), line(high), "centre"))
    items.append(
        Text((0.0, foot - 0.25), "dash-dotted: centreline by least squares, 20 times too far from the chalk line", _LETTERS, "middle")
    )  # fmt: skip
    return together(
        Scene(tuple(items)),
        orientation((-out * scale, 0.4), fwd=(0.0, 1.0), size=0.5),
        title="Points on the floor",
        described=f"The floor seen from above, nose up, with {len(spec.pairs)} pairs and {len(spec.centres)} points on the centreline, "
        f"plumbed from the aeroplane. The fitted centreline lies {number_text(offset_in, 2)} in to the right of the chalk line at the datum.",
    )  # fmt: skip


def wheels_picture(spec: Wheels, toes_deg: dict[str, float]) -> Scene:
    """The main wheels from above with a straight edge against each, and the two distances to the centreline."""
    items: list[Item] = [Line((0.0, -1.9), (0.0, 1.9), "centre"), Text((0.08, 1.75), "centreline", _LETTERS)]
    for wheel in spec.wheels:
        way = -1.0 if wheel.side == "left" else 1.0
        turn = radians(min(max(4 * toes_deg[wheel.side], -12), 12)) * way
        middle = (2.2 * way, 0.0)

        def end(reach: float, across: float, middle: tuple[float, float] = middle, turn: float = turn) -> tuple[float, float]:  # fmt: skip
            return (
                middle[0] + across * cos(turn) - reach * sin(turn),
                middle[1] + across * sin(turn) + reach * cos(turn),
            )

        items.append(
            Polygon(tuple(end(r, a) for r, a in ((-0.7, -0.2), (-0.7, 0.2), (0.7, 0.2), (0.7, -0.2))))
        )
        inner = -0.26 * way
        front, rear = end(1.4, inner), end(-1.4, inner)
        items.append(Line(front, rear, "heavy"))
        for point, said, name in ((front, wheel.front, "front"), (rear, wheel.rear, "rear")):
            items.append(Line((0.0, point[1]), point, "dimension"))
            items.append(Text((point[0] / 2, point[1] + 0.07), f"{said.text}, {name}", _LETTERS, "middle"))
        toe = number_text(toes_deg[wheel.side], 2)
        items.append(Text((middle[0], -1.85), f"{wheel.side}: toe-in {toe}°", _LETTERS, "middle", bold=True))
    return together(
        Scene(tuple(items)),
        orientation((-3.4, 1.3), fwd=(0.0, 1.0), size=0.5),
        title="Straight edge against each wheel",
        described="The main wheels from above, nose up, a straight edge against each, the distances of its ends to the centreline: "
        + "; ".join(
            f"{w.side} front {w.front.text}, rear {w.rear.text}, toe-in {number_text(toes_deg[w.side], 2)} degrees"
            for w in spec.wheels
        )
        + ". Turned four times as far as measured.",
    )


def travels_picture(rows: list[tuple[str, str, float, float]]) -> Scene:
    """One little picture a row: the surface at neutral and at its stop, to scale.

    Args:
        rows: name, way (up, down, left, right), travel and its band in degrees.
    """
    items: list[Item] = []
    across = 3
    for n, (name, way, travel, u) in enumerate(rows):
        x, y = (n % across) * 3.2, -(n // across) * 2.4
        turn = radians(travel) * (1.0 if way in ("up", "left") else -1.0)
        tip = (x + 1.4 * cos(turn), y + 1.4 * sin(turn))
        items += [
            Circle((x, y), 0.08), Line((x - 0.7, y), (x + 1.5, y), "centre"), Line((x, y), (x + 1.4, y), "thin"), Line((x, y), tip, "heavy"),
            Text((x - 0.6, y - 0.95), f"{name} {way}: {number_text(travel, 1)}° ± {number_text(u, 1)}°", _LETTERS),
        ]  # fmt: skip
        if abs(travel) > 1:
            start, end = (0.0, travel) if turn > 0 else (-travel, 0.0)
            items.append(Arc((x, y), 1.1, start, end, "dimension"))
    said = "; ".join(f"{name} {way} {number_text(travel, 1)} degrees" for name, way, travel, _ in rows)
    return Scene(
        tuple(items), "Travels", f"Each surface at neutral and at its stop, seen along its hinge: {said}."
    )


def level_picture(rows: list[tuple[str, float, float]], board: bool) -> Scene:
    """A level laid on a place and turned end for end, and below it the angle of each place.

    Args:
        rows: place, its angle against the levelling points and its band, in degrees.
        board: whether a board or blocks lie under the level somewhere.
    """
    tilt = radians(6)

    def up(x: float, lift: float) -> tuple[float, float]:
        return x * cos(tilt) - lift * sin(tilt), x * sin(tilt) + lift * cos(tilt)

    items: list[Item] = [Line((0.0, 0.0), (4.4, 0.0), "thin"), Line(up(0, 0), up(4.2, 0), "heavy")]
    items.append(Arc((0.0, 0.0), 3.6, 0.0, 6.0, "dimension"))
    for start, mark in ((0.5, "A"), (2.3, "B")):
        box = [up(start, 0.05), up(start + 1.5, 0.05), up(start + 1.5, 0.35), up(start, 0.35)]
        items += [
            Polygon(tuple(box)),
            Circle(up(start + 0.75, 0.2), 0.08),
            Text(up(start + 0.1, 0.45), mark, _LETTERS),
        ]
    items.append(
        Text((0.0, -0.35), f"A: read; B: the same level turned end for end, read again{'; board under it' if board else ''}", _LETTERS)
    )  # fmt: skip
    for n, (name, angle, u) in enumerate(rows):
        y = -1.1 - 0.75 * n
        drawn = copysign(min(abs(angle) * 3, 30), angle)
        items += [
            Line((0.0, y), (1.4, y), "thin"), Line((0.0, y), (1.4 * cos(radians(drawn)), y + 1.4 * sin(radians(drawn))), "heavy"),
            Text((1.6, y + 1.9 * _LETTERS), name, _LETTERS),
            Text((1.6, y), f"{number_text(angle, 2)}° ± {number_text(u, 2)}°", _LETTERS),
        ]  # fmt: skip
    said = "; ".join(f"{name} {number_text(angle, 2)} degrees" for name, angle, _ in rows)
    return Scene(tuple(items), "Level read both ways round", f"A level on a slope, read and turned end for end. Drawn three times too steep: {said}.")  # fmt: skip
