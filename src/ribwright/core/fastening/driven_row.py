"""A model of a row being driven: sheets grow at every rivet, slip is locked as it is set. See docs/physics/fastening.md.

It never overrules practice: until a driven coupon has agreed with it, it teaches and no more.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ribwright.core.audit import Outcome, Result, Worksheet, calculation, choice, quantity, rows, text, whole
from ribwright.core.bench import CAUTIONS
from ribwright.core.scene import Circle, Item, Line, Polyline, Scene, Text
from ribwright.core.units import Quantity
from ribwright.errors import OutOfRangeError

Floats = NDArray[np.float64]
ORDERS = ("one end to the other", "ends to the middle", "middle to the ends", "every tenth, then halving")


@dataclass(frozen=True, slots=True)
class Strip:
    """One layer along the row: bar of ``area_in2`` and ``inertia_in4`` whose middle lies ``height_in`` up."""

    area_in2: float
    inertia_in4: float
    height_in: float
    growth_in: float


@dataclass(frozen=True, slots=True)
class Driven:
    """State after the last rivet: deflection at the holes from the line of the ends, slips seen on the way."""

    deflection_in: Floats
    bow_in: float
    mismatch_in: float


def order_of(count: int, name: str) -> tuple[int, ...]:
    """Hole indices (from 0) in the order of a named practice."""
    whole_row = list(range(count))
    if name == "one end to the other":
        return tuple(whole_row)
    middle = sorted(whole_row, key=lambda i: (abs(2 * i - count + 1), i))
    if name == "middle to the ends":
        return tuple(middle)
    if name == "ends to the middle":
        return tuple(middle[::-1])
    made: list[int] = []
    step = 10
    while len(made) < count:
        made += [i for i in [*range(0, count, step), count - 1] if i not in made]
        step = max(1, step // 2)
    return tuple(dict.fromkeys(made))


def drive(
    strips: tuple[Strip, ...],
    *,
    count: int,
    pitch_in: float,
    modulus_psi: float,
    order: tuple[int, ...],
    held: frozenset[int],
) -> Driven:
    """Drive the row rivet by rivet.

    Args:
        strips: layers in their order.
        order: hole indices, each once.
        held: holes with tight temporary fasteners from the start.

    Between holes every strip stretches by what it carries; all share one curvature. A hole that is held or
    driven keeps the slip it had then. Each step solves the least-energy state under those locks.
    """
    layers, segments = len(strips), count - 1
    nodes = layers * count
    size = nodes + segments
    height = np.array([s.height_in for s in strips])
    stiff = np.array([s.area_in2 for s in strips]) * modulus_psi
    bend = sum(s.inertia_in4 for s in strips) * modulus_psi
    energy = np.zeros((size, size))
    # strain of layer k in segment j: (a_k,j+1 - a_k,j)/p - kappa_j z_k
    maps = np.zeros((layers, segments, size))
    for k in range(layers):
        for j in range(segments):
            maps[k, j, k * count + j + 1] = 1 / pitch_in
            maps[k, j, k * count + j] = -1 / pitch_in
            maps[k, j, nodes + j] = -height[k]
            energy += stiff[k] * pitch_in * np.outer(maps[k, j], maps[k, j])
    for j in range(segments):
        energy[nodes + j, nodes + j] += bend * pitch_in
    grown = np.zeros((layers, segments))
    locks: list[tuple[int, Floats]] = []

    def lock(hole: int, state: Floats) -> None:
        slips = np.array([state[(k + 1) * count + hole] - state[k * count + hole] for k in range(layers - 1)])
        locks.append((hole, slips))

    def solve() -> Floats:
        right = np.einsum("kjs,kj->s", maps, grown * stiff[:, None] * pitch_in)
        rows_of, values = [], []
        anchor = np.zeros(size)
        anchor[0] = 1.0  # one strip's end fixed in place; rigid motion costs nothing
        rows_of.append(anchor)
        values.append(0.0)
        for hole, slips in locks:
            for k in range(layers - 1):
                row = np.zeros(size)
                row[(k + 1) * count + hole], row[k * count + hole] = 1.0, -1.0
                rows_of.append(row)
                values.append(float(slips[k]))
        if not locks:  # loose strips still need a place
            for k in range(1, layers):
                row = np.zeros(size)
                row[k * count] = 1.0
                rows_of.append(row)
                values.append(0.0)
        c = np.array(rows_of)
        scale = energy.diagonal().max()
        matrix = np.block([[energy / scale, c.T], [c, np.zeros((len(c), len(c)))]])
        solved = np.linalg.solve(matrix, np.concatenate([right / scale, values]))
        return np.asarray(solved[:size], float)

    state = np.zeros(size)
    for hole in sorted(held):
        lock(hole, state)
    locked = set(held)
    mismatch = 0.0
    for hole in order:
        free = [i for i in range(count) if i not in locked]
        for k in range(layers - 1):
            if free:
                slip = state[(k + 1) * count + np.array(free)] - state[k * count + np.array(free)]
                mismatch = max(mismatch, float(np.abs(slip).max()))
        if hole not in locked:
            lock(hole, state)
            locked.add(hole)
        for k, strip in enumerate(strips):
            sides = [j for j in (hole - 1, hole) if 0 <= j < segments]
            for j in sides:
                grown[k, j] += strip.growth_in / len(sides) / pitch_in
        state = solve()
    curve = state[nodes:]
    turn = np.concatenate([[0.0], np.cumsum(curve) * pitch_in])
    lift = np.concatenate([[0.0], np.cumsum((turn[:-1] + turn[1:]) / 2) * pitch_in])
    lift -= np.linspace(0.0, lift[-1], count)
    return Driven(lift, float(lift[np.abs(lift).argmax()]), mismatch)


@dataclass(frozen=True, slots=True)
class Member:
    """One layer along the row."""

    part: str = text("Part", help="what it is", example="skin")
    thickness: Quantity = quantity(
        "in", "Thickness", help="of this layer", example=".020", low="0.01 in", high="1 in"
    )
    width: Quantity = quantity(
        "in",
        "Width that takes part",
        help="a strip of a few inches of skin; the whole of an edge member",
        example="2 in",
        low="0.05 in",
        high="50 in",
    )
    growth: Quantity = quantity(
        "in",
        "Growth a rivet",
        help="how much longer one rivet makes this layer; measure it on a coupon",
        example=".0003",
        low="-0.01 in",
        high="0.01 in",
    )


@dataclass(frozen=True, slots=True)
class Driving:
    """A row, its layers from below, and the order in which it is driven."""

    title: str = text("Seam", help="which row", example="trailing edge, left aileron")
    layers: tuple[Member, ...] = rows(Member, "Layers", help="from below", least=2)
    holes: int = whole("Rivets", help="in the row", example="31", low=3, high=61)
    pitch: Quantity = quantity(
        "in", "Pitch", help="between neighbours", example="1 in", low="0.1 in", high="10 in"
    )
    modulus: Quantity = quantity(
        "Msi",
        "Modulus",
        help="of all layers",
        example="10.5 Msi",
        low="1 Msi",
        high="40 Msi",
        default="10.5 Msi",
    )
    order: str = choice(
        "Order", ORDERS, help="in which the rivets are set", default="every tenth, then halving"
    )
    every: int = whole(
        "Temporary fasteners in every",
        help="hole: 1 is every hole, 0 none",
        example="3",
        low=0,
        high=120,
        default=3,
    )

    def __post_init__(self) -> None:
        if len(self.layers) > 4:
            raise OutOfRangeError(
                "Layers",
                found=len(self.layers),
                allowed="two to four",
                mend="Take layers that move together as one.",
            )


def strips_of(spec: Driving) -> tuple[Strip, ...]:
    """The layers stacked, heights from the middle of the lowest."""
    made, base = [], 0.0
    for layer in spec.layers:
        t, w = layer.thickness.value, layer.width.value
        made.append(Strip(t * w, w * t**3 / 12, base + t / 2, layer.growth.value))
        base += t
    return tuple(made)


@calculation(
    "driven-row",
    title="A row being driven (model)",
    summary="How growth at each rivet and the order of driving bow a row and shift its holes. A model, not yet held against a driven coupon.",
    spec=Driving,
    results=("bow", "mismatch", "bow_other_orders", "mismatch_other_orders", "order"),
)
def driven_row(spec: Driving, ws: Worksheet) -> Outcome:
    """Bow and hole mismatch for the order chosen and for the others."""
    held = frozenset(range(0, spec.holes, spec.every)) if spec.every else frozenset()
    strips = strips_of(spec)
    done = {
        name: drive(strips, count=spec.holes, pitch_in=spec.pitch.value, modulus_psi=spec.modulus.value, order=order_of(spec.holes, name), held=held)
        for name in ORDERS
    }  # fmt: skip
    made = done[spec.order]
    ws.worked_out(
        "bow",
        f"{made.bow_in:+.4f} in",
        "least-energy state with every slip locked as it was when its rivet was set",
        value=made.bow_in,
        unit="in",
    )
    ws.worked_out(
        "greatest hole mismatch on the way",
        f"{made.mismatch_in:.4f} in",
        "slip at holes neither held nor driven yet",
        value=made.mismatch_in,
        unit="in",
    )
    ws.assume(
        "left out",
        "friction, contact, metal pushed by the set",
        "so the drawing's order, else common practice, is kept whatever this says",
        rung="practice",
    )
    ws.note(
        "With tight temporary fasteners in every hole the bow does not depend on the order; skipping about limits hole mismatch."
    )
    others = [name for name in ORDERS if name != spec.order]
    results = {
        "bow": Result("bow", made.bow_in, "in", places=4),
        "mismatch": Result("greatest hole mismatch on the way", made.mismatch_in, "in", places=4),
        "bow_other_orders": Result("bow in other orders", "; ".join(f"{n}: {done[n].bow_in:+.4f} in" for n in others)),
        "mismatch_other_orders": Result("mismatch in other orders", "; ".join(f"{n}: {done[n].mismatch_in:.4f} in" for n in others)),
        "order": Result("first holes of the order", ", ".join(str(i + 1) for i in order_of(spec.holes, spec.order)[:12])),
    }  # fmt: skip
    long, k = 8.0, 1.0 / max(float(np.abs(made.deflection_in).max()), 1e-4)
    points = tuple((long * i / (spec.holes - 1), float(v) * k) for i, v in enumerate(made.deflection_in))
    items: list[Item] = [
        Line((0.0, 0.0), (long, 0.0), "centre"),
        Polyline(points, style="heavy"),
        *(Circle(p, 0.04) for p in points),
    ]
    items.append(Text((0.0, 1.2), f"bow {made.bow_in:+.4f} in, enlarged", 0.13))
    scene = Scene(
        tuple(items),
        f"Shape after driving: {spec.title}",
        f"Bow {made.bow_in:+.4f} in after driving {spec.order}.",
    )
    cautions = ("A model only: it never overrules the drawing's order or common practice.", *CAUTIONS)
    return Outcome(tuple(ws.steps), results, (), (), cautions, scene)
