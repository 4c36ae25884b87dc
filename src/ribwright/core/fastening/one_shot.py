"""A hole that is drilled once: the zone in which it may lie for all parts at once, or that there is none."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from ribwright.core.audit import Outcome, Result, Worksheet, calculation, choice, flag, quantity, rows, text
from ribwright.core.bench import CAUTIONS, Because, Reading, Requirement, StageSheet, TrayItem, compare
from ribwright.core.scene import Bounds, Circle, Item, Line, Polygon, Scene
from ribwright.core.scene.placing import Clear
from ribwright.core.units import Quantity
from ribwright.errors import GeometryError, OutOfRangeError

Floats = NDArray[np.float64]
SIDES = {
    "left of the hole": (1.0, 0.0),
    "right of the hole": (-1.0, 0.0),
    "below the hole": (0.0, 1.0),
    "above the hole": (0.0, -1.0),
}
FAR_IN = 1e4
DRILL, MEASURE, SHIM = "drill", "measure better", "shim or ask"


@dataclass(frozen=True, slots=True)
class Limit:
    """An edge of one of the parts that the hole must keep away from."""

    part: str = text("Part", help="whose edge it is", example="spar attach plate")
    side: str = choice("The edge lies", tuple(SIDES), help="seen from the hole, before it is turned")
    at: Quantity = quantity(
        "in",
        "Edge at",
        help="x of an upright edge, y of a level one, from the common mark",
        example="-.40 in",
        low="-100 in",
        high="100 in",
    )
    turned: Quantity = quantity(
        "deg",
        "Turned by",
        help="if the edge is not square to the marks, counter-clockwise about its point on the axis",
        example="0 deg",
        low="-60 deg",
        high="60 deg",
        default="0 deg",
    )
    least: Quantity | None = quantity(
        "in",
        "Least edge distance",
        help="the drawing's; else from the bolt's diameter",
        example="3/8 in",
        low="0.02 in",
        high="10 in",
        optional=True,
    )
    error: Quantity = quantity(
        "in",
        "Plus or minus",
        help="of this offset",
        example=".010",
        low="0 in",
        high="0.5 in",
        default="0.010 in",
    )


@dataclass(frozen=True, slots=True)
class OneShot:
    """A hole through parts that were fitted together: where may it lie?

    All numbers are from one common mark near the wanted centre: x to the right, y up.
    """

    title: str = text("Hole", help="which one", example="rear spar attach, left")
    drawing: str = text("Drawing number", help="where it is drawn", example="DN-1102", default="")
    revision: str = text("Drawing revision", help="as printed on the drawing", example="A", default="")
    primary: bool = flag(
        "Primary structure", help="spar, attach fittings, controls, engine mount, gear", default=True
    )
    diameter: Quantity = quantity(
        "in", "Hole", help="final diameter", example="5/16 in", low="0.09 in", high="2 in"
    )
    edge_ratio: Quantity = quantity(
        "",
        "Edge distance in diameters",
        help="where the drawing gives none",
        example="2",
        low="1.5",
        high="5",
        default="2",
    )
    edges: tuple[Limit, ...] = rows(Limit, "Edges", help="of every part that the hole goes through", least=1)
    x: Quantity | None = quantity(
        "in",
        "Wanted, x",
        help="from incidence, sweep or the drawing",
        example="0 in",
        low="-100 in",
        high="100 in",
        optional=True,
    )
    x_room: Quantity | None = quantity(
        "in",
        "Wanted x, plus or minus",
        help="what sweep or the drawing allows",
        example=".06 in",
        low="0 in",
        high="10 in",
        optional=True,
    )
    y: Quantity | None = quantity(
        "in",
        "Wanted, y",
        help="from incidence, sweep or the drawing",
        example="0 in",
        low="-100 in",
        high="100 in",
        optional=True,
    )
    y_room: Quantity | None = quantity(
        "in",
        "Wanted y, plus or minus",
        help="if incidence is entered below it is worked out",
        example=".05 in",
        low="0 in",
        high="10 in",
        optional=True,
    )
    arm: Quantity | None = quantity(
        "in",
        "Arm to the front attach",
        help="for the room that incidence leaves",
        example="30 in",
        low="0.5 in",
        high="500 in",
        optional=True,
    )
    incidence_room: Quantity | None = quantity(
        "deg",
        "Incidence, plus or minus",
        help="what the drawing allows",
        example=".1 deg",
        low="0 deg",
        high="5 deg",
        optional=True,
    )
    error: Quantity = quantity(
        "in",
        "Wanted place, plus or minus",
        help="of the incidence or sweep measurement, at the hole",
        example=".010",
        low="0 in",
        high="1 in",
        default="0.010 in",
    )

    def __post_init__(self) -> None:
        if (self.arm is None) != (self.incidence_room is None):
            raise OutOfRangeError(
                "Arm to the front attach",
                found="one of arm and incidence",
                allowed="both or neither",
                mend="Enter both.",
            )
        for name, at, room in (("x", self.x, self.x_room), ("y", self.y, self.y_room or self.incidence_room)):
            if room is not None and at is None:
                raise OutOfRangeError(
                    f"Wanted, {name}",
                    found="room without a wanted place",
                    allowed="both",
                    mend=f"Enter the wanted {name}.",
                )


@dataclass(frozen=True, slots=True)
class Halves:
    """Half-planes: ``normal · p - offset`` must not be under ``least``; ``error`` is the doubt of each."""

    names: tuple[str, ...]
    normals: Floats
    offsets_in: Floats
    least_in: Floats
    error_in: Floats

    def spare_in(self, points_in: Floats, doubt: float) -> Floats:
        """Room left at points (n, 2) to every half-plane (n, m); ``doubt`` 1 takes the error off, -1 adds it."""
        return points_in @ self.normals.T - self.offsets_in - self.least_in - doubt * self.error_in


def halves_of(spec: OneShot) -> Halves:
    """Every edge and every wanted band as half-planes."""
    names: list[str] = []
    rows_of: list[tuple[float, float, float, float, float]] = []
    for edge in spec.edges:
        nx, ny = SIDES[edge.side]
        turn = math.radians(edge.turned.value)
        c, s = math.cos(turn), math.sin(turn)
        n = (nx * c - ny * s, nx * s + ny * c)
        foot = (edge.at.value, 0.0) if nx else (0.0, edge.at.value)
        least = edge.least.value if edge.least else spec.edge_ratio.value * spec.diameter.value
        names.append(f"{edge.part}, edge {edge.side.split(' of')[0].removesuffix(' the hole')}")
        rows_of.append((*n, n[0] * foot[0] + n[1] * foot[1], least, edge.error.value))
    room_y = spec.y_room.value if spec.y_room else None
    if spec.arm is not None and spec.incidence_room is not None:
        by_angle = spec.arm.value * math.tan(math.radians(spec.incidence_room.value))
        room_y = by_angle if room_y is None else min(room_y, by_angle)
    for name, at, room, axis in (
        ("x", spec.x, spec.x_room.value if spec.x_room else None, 0),
        ("y", spec.y, room_y, 1),
    ):
        if at is None or room is None:
            continue
        for sign in (1.0, -1.0):
            n = (sign, 0.0) if axis == 0 else (0.0, sign)
            names.append(f"wanted {name}")
            rows_of.append((*n, sign * at.value, -room, spec.error.value))
    data = np.array(rows_of)
    return Halves(tuple(names), data[:, :2], data[:, 2], data[:, 3], data[:, 4])


def zone_in(halves: Halves, doubt: float) -> Floats:
    """Corners (n, 2) of the zone that keeps every half-plane, counter-clockwise; empty when there is none."""
    ring = np.array([(-FAR_IN, -FAR_IN), (FAR_IN, -FAR_IN), (FAR_IN, FAR_IN), (-FAR_IN, FAR_IN)])
    for normal, offset, least, error in zip(
        halves.normals, halves.offsets_in, halves.least_in, halves.error_in, strict=True
    ):
        if not len(ring):
            break
        side = ring @ normal - (offset + least + doubt * error)
        made = []
        for i in range(len(ring)):
            a, b, sa, sb = ring[i], ring[(i + 1) % len(ring)], side[i], side[(i + 1) % len(ring)]
            if sa >= 0:
                made.append(a)
            if sa * sb < 0:
                made.append(a + (b - a) * sa / (sa - sb))
        ring = np.array(made).reshape(-1, 2)
    return ring


def roomiest(halves: Halves, doubt: float) -> tuple[Floats, float]:
    """The point with the most room to its nearest limit, and that room (negative: how much is lacking)."""
    slack = halves.offsets_in + halves.least_in + doubt * halves.error_in
    far_normals = np.array([(1.0, 0.0), (-1.0, 0.0), (0.0, 1.0), (0.0, -1.0)])
    normals = np.concatenate([halves.normals, far_normals])
    rights = np.concatenate([slack, np.full(4, -FAR_IN)])
    best, room = np.zeros(2), -math.inf
    for trio in combinations(range(len(normals)), 3):
        k = list(trio)
        matrix = np.c_[normals[k], -np.ones(3)]  # n · p - room = right for three limits at once
        if abs(np.linalg.det(matrix)) < 1e-10:
            continue
        x, y, r = np.linalg.solve(matrix, rights[k])
        if r > room + 1e-12 and (normals @ (x, y) - rights >= r - 1e-7 * max(1.0, abs(r))).all():
            best, room = np.array([x, y]), float(r)
    return best, room


@calculation(
    "one-shot-hole",
    title="A hole that is drilled once",
    summary="Measured offsets with their errors give the zone in which the hole may lie, or that there is none: drill, measure better, shim or ask.",
    spec=OneShot,
    results=("answer", "x", "y", "room", "tightest", "zone_width", "zone_height", "lacking"),
)
def one_shot_hole(spec: OneShot, ws: Worksheet) -> Outcome:
    """Zone, best place, answer, full-size drawing."""
    halves = halves_of(spec)
    for name, normal, least, error in zip(
        halves.names, halves.normals, halves.least_in, halves.error_in, strict=True
    ):
        ws.worked_out(
            name,
            f"{'within' if least < 0 else 'at least'} {abs(least):.3f} in, sure to {error:.3f} in",
            f"direction ({normal[0]:+.2f}, {normal[1]:+.2f})",
            value=float(abs(least)),
            unit="in",
        )
    sure, room = roomiest(halves, 1.0)
    hopeful, hope = roomiest(halves, -1.0)
    if abs(sure).max() > FAR_IN / 4 or abs(hopeful).max() > FAR_IN / 4:
        raise GeometryError(
            "Edges",
            found="a zone without end",
            allowed="limits on all sides",
            mend="Enter the edges on the other sides, or where the hole is wanted.",
        )
    answer = DRILL if room >= 0 else MEASURE if hope >= 0 else SHIM
    place = sure if answer == DRILL else hopeful
    wanted = np.array([spec.x.value if spec.x else place[0], spec.y.value if spec.y else place[1]])
    if answer == DRILL and (halves.spare_in(wanted[None, :], 1.0) >= 0).all() and (spec.x or spec.y):
        place = wanted
    spare = halves.spare_in(place[None, :], 1.0)[0]
    tight = int(spare.argmin())
    ring = zone_in(halves, 1.0)
    zone_w, zone_h = np.ptp(ring, axis=0) if len(ring) else np.zeros(2)
    ws.worked_out(
        "most room with every error against it",
        f"{room:+.4f} in",
        "the point whose nearest limit is farthest",
        value=room,
        unit="in",
    )
    ws.worked_out(
        "most room with every error in its favour",
        f"{hope:+.4f} in",
        "what better measuring could show at most",
        value=hope,
        unit="in",
    )
    requirement = Requirement(
        name="room to the nearest limit", unit="in", low=0.0, nominal=None, high=None,
        because=Because.worked_out("edge distance of every part and the wanted place at once"), how="this worksheet, from the offsets measured",
        when_low="There is no place for this hole: shim, or ask before drilling.", when_high="Go on.", refer_low=0.0,
    )  # fmt: skip
    middle, half = (room + hope) / 2, (hope - room) / 2
    finding = compare(requirement, Reading(middle, "in", max(half, 0.0), where=halves.names[tight]))
    results = {
        "answer": Result("answer", answer),
        "x": Result("place, x", float(place[0]), "in"), "y": Result("place, y", float(place[1]), "in"),
        "room": Result("room to the nearest limit", float(spare[tight]), "in", room, hope),
        "tightest": Result("tightest", halves.names[tight]),
        "zone_width": Result("zone, width", float(zone_w), "in"), "zone_height": Result("zone, height", float(zone_h), "in"),
        "lacking": Result("lacking in the best place", max(-hope, 0.0), "in"),
    }  # fmt: skip
    cautions = [*CAUTIONS]
    if spec.primary:
        cautions.insert(
            0,
            "Primary structure: the zone is arithmetic on your offsets. Without a zone nothing is proposed: ask.",
        )
    cautions.insert(
        0, "Measure every offset twice, another time of day, before the drill; second person reads them back."
    )
    scene = _picture(spec, halves, ring, place, answer)
    sheet = StageSheet(
        operation=spec.title, stage="drill once", title=f"Drill once: {spec.title}", hand="none", drawing=spec.drawing, revision=spec.revision,
        tray=(TrayItem("drill bushing or guide block", spec.diameter.text, "1"), TrayItem("clamps", "", "4"), TrayItem("reamer", spec.diameter.text, "1"), TrayItem("full-size drawing of the zone", "", "1")),
        settings=(), trial=None,
        steps=(
            ("Clamp all parts as they will fly; check incidence and sweep once more.", f"Mark x {place[0]:+.3f}, y {place[1]:+.3f} in from the common mark through the full-size drawing.", "Second person reads the offsets of the mark back.", "Small pilot through a guide block; look at every edge distance; then in steps; ream last.")
            if answer == DRILL
            else (f"Do not drill. {'The offsets are not sure enough: measure ' + halves.names[tight] + ' better.' if answer == MEASURE else f'{max(-hope, 0.0):.3f} in is lacking at best: shim, or ask the designer.'}",)
        ),
        requirements=(requirement,), cautions=tuple(cautions), picture=scene,
    )  # fmt: skip
    return Outcome(
        tuple(ws.steps), results, (requirement,), (finding,), tuple(cautions), scene, (sheet,), (scene,)
    )


def _picture(spec: OneShot, halves: Halves, ring: Floats, place: Floats, answer: str) -> Scene:
    d = spec.diameter.value
    reach = 4 * d + 0.5
    items: list[Item] = [
        Line((-0.3, 0.0), (0.3, 0.0), "centre", "marked"),
        Line((0.0, -0.3), (0.0, 0.3), "centre", "marked"),
    ]
    named: list[tuple[tuple[float, float], str]] = [((0.0, -0.3), "common mark")]
    for name, n, offset, least in zip(
        halves.names, halves.normals, halves.offsets_in, halves.least_in, strict=True
    ):
        along = np.array([-n[1], n[0]])
        foot = n * offset + along * float(place @ along)
        a, b = foot - along * reach, foot + along * reach
        if least >= 0:
            items.append(Line((float(a[0]), float(a[1])), (float(b[0]), float(b[1])), "heavy", "marked"))
            named.append(((float(b[0]), float(b[1])), name))
    if len(ring) >= 3:
        items.append(Polygon(tuple((float(x), float(y)) for x, y in ring), "outline", "marked", fill="tint"))
    at = (float(place[0]), float(place[1]))
    items.append(
        Circle(
            at, d / 2, "heavy" if answer == DRILL else "hidden", "drilled" if answer == DRILL else "printed"
        )
    )
    items += [
        Line((at[0] - d, at[1]), (at[0] + d, at[1]), "thin"),
        Line((at[0], at[1] - d), (at[0], at[1] + d), "thin"),
    ]
    clear = Clear(Bounds(-math.inf, -math.inf, math.inf, math.inf))
    clear.draw(items)
    for point, name in named:
        items += clear.letter(name, 0.08, point, off=0.07)
    said = f"{spec.title}: {answer}. Best place x {at[0]:+.3f}, y {at[1]:+.3f} in from the common mark."
    return Scene(tuple(items), f"Zone at full size: {spec.title}", said)
