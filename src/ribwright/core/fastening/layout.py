"""Rows of holes along a straight or curved line: equal pitch, one or two rows, kept clear of what is there."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from ribwright.core.audit import Outcome, Result, Worksheet, calculation, choice, quantity, rows, text
from ribwright.core.bench import CAUTIONS, Because, Finding, Reading, Requirement, compare
from ribwright.core.fastening.rivets import HEADS, SIZES
from ribwright.core.fastening.row import USUAL_PITCH_D, edge_requirement, kind_of, pitch_requirement
from ribwright.core.geometry import flattened, outline
from ribwright.core.scene import Circle, Hand, Item, Line, Polyline, Scene, Text
from ribwright.core.tables import table
from ribwright.core.units import Quantity, shown
from ribwright.errors import GeometryError

Floats = NDArray[np.float64]
ROWS = ("single", "double, side by side", "double, staggered")
CHORD_ERROR_IN = 1e-5
MOST_HOLES = 4000


@dataclass(frozen=True, slots=True)
class Corner:
    """A point of a line or outline, with the arc to the next point where it is curved."""

    x: Quantity = quantity(
        "in", "x", help="in the part's coordinates", example="0 in", low="-500 in", high="2000 in"
    )
    y: Quantity = quantity(
        "in", "y", help="in the part's coordinates", example="0 in", low="-500 in", high="2000 in"
    )
    bulge: Quantity = quantity(
        "", "Bulge", help="tangent of a quarter of the arc's angle, positive to the left; 0 is straight", example="0",
        low="-5", high="5", default="0",
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Hole:
    """A hole that is there already."""

    x: Quantity = quantity(
        "in", "x", help="in the part's coordinates", example="3 in", low="-500 in", high="2000 in"
    )
    y: Quantity = quantity(
        "in", "y", help="in the part's coordinates", example="1/2 in", low="-500 in", high="2000 in"
    )
    clear: Quantity = quantity(
        "in", "Keep centres apart by", help="three diameters of the larger fastener is usual", example="3/8 in", low="0.02 in", high="5 in"
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Bend:
    """A bend, flange or stiffener that the row must keep off."""

    x1: Quantity = quantity("in", "From x", help="one end", example="2 in", low="-500 in", high="2000 in")
    y1: Quantity = quantity("in", "From y", help="one end", example="-1 in", low="-500 in", high="2000 in")
    x2: Quantity = quantity("in", "To x", help="other end", example="2 in", low="-500 in", high="2000 in")
    y2: Quantity = quantity("in", "To y", help="other end", example="1 in", low="-500 in", high="2000 in")
    clear: Quantity = quantity(
        "in",
        "Keep off by",
        help="room for head, set and bend radius",
        example="1/4 in",
        low="0.01 in",
        high="5 in",
    )


@dataclass(frozen=True, slots=True)
class Layout:
    """A row, or two, along a line on a part."""

    title: str = text("Row", help="what is drilled", example="rib 3 to skin, lower edge")
    drawing: str = text("Drawing number", help="where it is drawn", example="DN-2101", default="")
    revision: str = text("Drawing revision", help="as printed on the drawing", example="B", default="")
    hand: str = choice(
        "Hand", ("none", "left", "right"), help="which side of the aeroplane the part is for", default="none"
    )
    line: tuple[Corner, ...] = rows(
        Corner, "Line of the row", help="from the first hole to the last", least=2
    )
    outline: tuple[Corner, ...] = rows(
        Corner, "Edge of the part", help="all round, so that edge distances can be checked"
    )
    arrangement: str = choice(
        "Rows", ROWS, help="the second row lies to the left of the line", default="single"
    )
    row_distance: Quantity | None = quantity(
        "in", "Row to row", help="if drawn; else three quarters of the pitch", example="1/2 in", low="0.1 in", high="10 in", optional=True
    )  # fmt: skip
    size: str = choice("Rivet diameter", SIZES, help="as drawn", default="3/32")
    head: str = choice("Head", HEADS, help="flush or protruding", default="flush 100°")
    pitch: Quantity | None = quantity("in", "Pitch", help="none wider than this, along the line", example="1-1/8 in", low="0.1 in", high="24 in", optional=True)  # fmt: skip
    holes: tuple[Hole, ...] = rows(Hole, "Holes that are there", help="existing holes to keep clear of")
    bends: tuple[Bend, ...] = rows(Bend, "Bends and flanges", help="lines to keep off")


def along(points_in: Floats, at_in: Floats) -> tuple[Floats, Floats]:
    """Points and left normals of a polyline at arc lengths ``at_in``; both (n, 2)."""
    steps = np.diff(points_in, axis=0)
    length = np.hypot(steps[:, 0], steps[:, 1])
    s = np.concatenate([[0.0], np.cumsum(length)])
    k = np.clip(np.searchsorted(s, at_in, side="right") - 1, 0, len(length) - 1)
    unit = steps[k] / length[k, None]
    point = points_in[k] + unit * (at_in - s[k])[:, None]
    return point, np.stack([-unit[:, 1], unit[:, 0]], axis=1)


def distance_to_line_in(points_in: Floats, line_in: Floats) -> Floats:
    """Least distance from each point (n, 2) to a polyline (m, 2)."""
    a, b = line_in[:-1], line_in[1:]
    ab = b - a
    square = np.maximum((ab**2).sum(1), 1e-300)
    best = np.full(len(points_in), np.inf)
    for i in range(0, len(points_in), 256):  # bounded memory for long rows on finely flattened outlines
        p = points_in[i : i + 256, None, :]
        t = np.clip(((p - a) * ab).sum(2) / square, 0.0, 1.0)
        best[i : i + 256] = np.hypot(*np.moveaxis(p - (a + t[..., None] * ab), 2, 0)).min(1)
    return best


def inside(points_in: Floats, ring_in: Floats) -> NDArray[np.bool_]:
    """Whether each point lies inside a closed ring (first point repeated at the end), by crossing number."""
    x, y = points_in[:, 0, None], points_in[:, 1, None]
    x1, y1, x2, y2 = ring_in[:-1, 0], ring_in[:-1, 1], ring_in[1:, 0], ring_in[1:, 1]
    spans = (y1 > y) != (y2 > y)
    with np.errstate(divide="ignore", invalid="ignore"):
        right = x < x1 + (y - y1) / np.where(y2 == y1, np.inf, y2 - y1) * (x2 - x1)
    return np.asarray((spans & right).sum(1) % 2 == 1)


@dataclass(frozen=True, slots=True)
class Laid:
    """Holes in part coordinates, row by row, with pitch and row distance."""

    points_in: Floats
    pitch_in: float
    row_distance_in: float
    spaces: int


def lay_out(
    line_in: Floats, *, spaces: int, arrangement: str, row_distance_in: float | None, diameter_in: float
) -> Laid:
    """Equal pitch along the line; the second row on its left, side by side or at the middles (a fan on a curve)."""
    length = float(np.hypot(*np.diff(line_in, axis=0).T).sum())
    at = np.linspace(0.0, length, spaces + 1)
    pitch = length / spaces
    first, normal = along(line_in, at)
    if arrangement == "single":
        return Laid(first, pitch, 0.0, spaces)
    off = row_distance_in if row_distance_in is not None else max(0.75 * pitch, 2.5 * diameter_in)
    if arrangement == "double, staggered":
        first2, normal = along(line_in, (at[:-1] + at[1:]) / 2)
    else:
        first2 = first
    return Laid(np.concatenate([first, first2 + normal * off]), pitch, off, spaces)


def _path(corners: tuple[Corner, ...], field: str, *, closed: bool) -> Floats:
    points = [(c.x.value, c.y.value) for c in corners]
    bulges = [c.bulge.value for c in corners]
    if not closed:
        bulges[-1] = 0.0
    flat = np.asarray(
        flattened(outline(points, bulges, closed=closed, field=field), chord_error_in=CHORD_ERROR_IN), float
    )
    return np.concatenate([flat, flat[:1]]) if closed and not np.allclose(flat[0], flat[-1]) else flat


def _in_the_way(spec: Layout, points: Floats) -> list[tuple[int, str, float, float]]:
    """(hole, what, distance, wanted) for every hole that is too near to something."""
    found: list[tuple[int, str, float, float]] = []
    things = [
        (f"existing hole {n}", np.array([[h.x.value, h.y.value]] * 2), h.clear.value) for n, h in enumerate(spec.holes, 1)
    ] + [
        (f"bend {n}", np.array([[b.x1.value, b.y1.value], [b.x2.value, b.y2.value]]), b.clear.value)
        for n, b in enumerate(spec.bends, 1)
    ]  # fmt: skip
    for name, where, clear in things:
        distance = distance_to_line_in(points, where)
        found += [
            (int(i) + 1, name, float(distance[i]), clear) for i in np.flatnonzero(distance < clear - 1e-9)
        ]
    return found


@calculation(
    "hole-layout",
    title="Holes along a line",
    summary="One or two rows at equal pitch along a straight or curved line, kept clear of edges, bends and existing holes; hole table and full-size template.",
    spec=Layout,
    results=("holes", "pitch", "row_distance", "x", "y", "least_edge", "least_spacing", "length", "weight"),
)
def hole_layout(spec: Layout, ws: Worksheet) -> Outcome:
    """Lay the row out, moving to a closer equal pitch where something is in the way, and check every hole."""
    d = float(Fraction(spec.size))
    line = _path(spec.line, "Line of the row", closed=False)
    length = float(np.hypot(*np.diff(line, axis=0).T).sum())
    least = pitch_requirement(d, 1 if spec.arrangement == "single" else 2)
    assert least.low is not None
    asked = spec.pitch.value if spec.pitch else USUAL_PITCH_D * d
    if spec.pitch:
        ws.called_out("pitch", spec.pitch, f"drawing {spec.drawing or 'without number'}")
    else:
        ws.worked_out(
            "pitch aimed at",
            f"{asked:.3f} in",
            "6 D, the middle of the usual 4 to 8 D",
            value=asked,
            unit="in",
            rung="seen",
        )
    spaces = max(1, int(np.ceil(length / asked - 1e-6)))
    if 2 * (spaces + 1) > MOST_HOLES:
        raise GeometryError(
            "Pitch",
            found=f"{asked:.3f} in over {length:.1f} in",
            allowed=f"at most {MOST_HOLES} holes",
            mend="Check pitch and line.",
        )
    ring = _path(spec.outline, "Edge of the part", closed=True) if spec.outline else None
    made = None
    for trial in range(spaces, max(spaces, int(length / least.low)) + 1):
        laid = lay_out(
            line, spaces=trial, arrangement=spec.arrangement, diameter_in=d,
            row_distance_in=spec.row_distance.value if spec.row_distance else None,
        )  # fmt: skip
        clash = _in_the_way(spec, laid.points_in)
        if made is None or len(clash) < len(made[1]):
            made = (laid, clash)
        if not clash:
            break
        if 2 * trial > MOST_HOLES:
            break
    assert made is not None
    laid, clash = made
    if laid.spaces != spaces:
        ws.note(
            f"At {length / spaces:.3f} in a hole met something that it must keep clear of; {laid.pitch_in:.3f} in is the widest equal pitch that fits best."
        )
    ws.worked_out(
        "pitch",
        f"{laid.pitch_in:.3f} in",
        f"{laid.spaces} equal spaces over {length:.3f} in of line",
        value=laid.pitch_in,
        unit="in",
    )
    points = laid.points_in
    findings: list[Finding] = []
    requirements = [least]
    spacing = _least_spacing(points)
    if len(points) > 1:
        findings.append(compare(least, Reading(spacing, "in", where="nearest two holes")))
    edge_least = float("inf")
    edge = edge_requirement(kind_of(spec.head), d)
    if ring is not None:
        if not inside(points, ring).all():
            out = int(np.flatnonzero(~inside(points, ring))[0]) + 1
            raise GeometryError(
                "Line of the row",
                found=f"hole {out} lies outside the part",
                allowed="on the part",
                mend="Check line, row distance and edge.",
            )
        distance = distance_to_line_in(points, ring)
        edge_least = float(distance.min())
        requirements.append(edge)
        findings.append(compare(edge, Reading(edge_least, "in", where=f"hole {int(distance.argmin()) + 1}")))
    for hole, name, near, wanted in clash[:50]:
        off = Requirement(
            name=f"clear of {name}", unit="in", low=wanted, nominal=None, high=None, because=Because.worked_out("as entered"),
            how="steel rule, centre to centre or to the line", when_low="No equal pitch keeps clear: ask for a hole left out or moved.",
            when_high="Go on.", refer_low=wanted,
        )  # fmt: skip
        findings.append(compare(off, Reading(near, "in", where=f"hole {hole}")))
    from ribwright.core.fastening.hardware import rivet_weight_lb

    weight = len(points) * float(
        rivet_weight_lb(diameter_in=d, length_in=max(0.1 + 1.5 * d, 0.15), head=kind_of(spec.head))
    )
    results = {
        "holes": Result("holes", float(len(points)), "", places=0),
        "pitch": Result("pitch along the line", laid.pitch_in, "in"),
        "row_distance": Result("row to row", laid.row_distance_in, "in"),
        "x": Result("x of each hole", tuple(float(v) for v in points[:, 0]), "in"),
        "y": Result("y of each hole", tuple(float(v) for v in points[:, 1]), "in"),
        "least_edge": Result("least edge distance", edge_least, "in", limit="least") if ring is not None else Result("least edge distance", "the part's edge was not entered"),
        "least_spacing": Result("nearest two holes", spacing, "in") if len(points) > 1 else Result("nearest two holes", "one hole"),
        "length": Result("length of the line", length, "in"),
        "weight": Result("rivets, about, for a .1 in stack", weight, "lb", places=3),
    }  # fmt: skip
    scene = _template(spec, laid, ring, line)
    return Outcome(
        tuple(ws.steps), results, tuple(requirements), tuple(findings), CAUTIONS, scene, (), (scene,)
    )


def _least_spacing(points: Floats) -> float:
    best = float("inf")
    for i in range(0, len(points), 512):
        gap = np.hypot(*np.moveaxis(points[i : i + 512, None, :] - points[None, :, :], 2, 0))
        gap[np.arange(len(gap)), np.arange(i, i + len(gap))] = np.inf
        best = min(best, float(gap.min()))
    return best


def _template(spec: Layout, laid: Laid, ring: Floats | None, line: Floats) -> Scene:
    items: list[Item] = []
    if ring is not None:
        items.append(Polyline(tuple((float(x), float(y)) for x, y in ring[:-1]), closed=True, layer="marked"))
    items.append(Polyline(tuple((float(x), float(y)) for x, y in line), style="centre", layer="marked"))
    hole = table("rivets/nominal-hole").cell(spec.size, "diameter").canonical
    for n, (x, y) in enumerate(laid.points_in, start=1):
        at = (float(x), float(y))
        items.append(Circle(at, hole / 2, "outline", "drilled"))
        items += [
            Line((at[0] - 0.12, at[1]), (at[0] + 0.12, at[1]), "thin"),
            Line((at[0], at[1] - 0.12), (at[0], at[1] + 0.12), "thin"),
        ]
        items.append(Text((at[0] + 0.05, at[1] + 0.14), str(n), 0.09))
    for n, h in enumerate(spec.holes, 1):
        items.append(Circle((h.x.value, h.y.value), 0.06, "hidden"))
        items.append(Text((h.x.value + 0.08, h.y.value - 0.3), f"existing {n}", 0.09))
    for b in spec.bends:
        items.append(Line((b.x1.value, b.y1.value), (b.x2.value, b.y2.value), "fold"))
    if spec.hand != "none":
        low = laid.points_in.min(0)
        items.append(Hand((float(low[0]), float(low[1]) - 0.8), spec.hand, 0.3))  # type: ignore[arg-type]
    said = f"{len(laid.points_in)} holes of {spec.title} in part coordinates, {shown(laid.pitch_in, 'in')} apart along the line."
    return Scene(tuple(items), f"Holes: {spec.title}", said)
