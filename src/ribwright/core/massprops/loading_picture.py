"""The handbook's loading graph with its table: load against moment, and the envelope with this loading on it."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from ribwright.core.massprops.envelope import Envelope, Worst
from ribwright.core.scene import Bounds, Item, Line, Scene, Text, moved, together
from ribwright.core.scene.graph import NUMBERS, curve, dot, graph, title
from ribwright.core.scene.placing import Clear
from ribwright.core.units import number_text

if TYPE_CHECKING:
    from ribwright.core.massprops.loading import Loaded, Loading


def loading_picture(
    spec: Loading,
    stations: tuple[Loaded, ...],
    limits: Envelope,
    flight: tuple[tuple[float, float], tuple[float, float]],
    ends: tuple[Worst, Worst],
) -> Scene:
    """Three parts below each other: loading graph, envelope, table; it stands alone as a one-page card."""
    named = spec.title or "Loading"
    (weight, cg), (burnt_weight, burnt) = flight
    described = (
        f"{named}: {number_text(weight, 0)} lb at {number_text(cg, 2)} in; with the fuel burnt {number_text(burnt_weight, 0)} lb at "
        f"{number_text(burnt, 2)} in. The envelope runs from {number_text(min(limits.forward_in), 1)} to {number_text(max(limits.aft_in), 1)} in "
        f"and up to {number_text(limits.most_lb, 0)} lb. Worst of all loadings: {number_text(ends[0].cg_in, 2)} in forward, {number_text(ends[1].cg_in, 2)} in aft."
    )
    parts = (
        moved(_table(spec, stations, weight, cg), 0.0, -6.5),
        moved(envelope_graph(spec, limits, flight, ends), 0.0, 0.0),
        moved(loading_graph(stations), 0.0, 6.0),
    )
    return together(*parts, title=named, described=described)


def loading_graph(stations: tuple[Loaded, ...]) -> Scene:
    """Load up, moment across: one line a station."""
    most = max(max(s.most_lb for s in stations), 1.0)
    reach = [s.most_lb * s.arm_in / 1000 for s in stations]
    on, items = graph([0.0, *reach], [0.0, 1.1 * most], across="moment / 1000 (lb·in)", up="load (lb)")
    carried = [(s, end) for s, end in zip(stations, reach, strict=True) if s.most_lb > 0]
    drawn: list[Item] = [Line(on.place(0.0, 0.0), on.place(end, s.most_lb)) for s, end in carried]
    drawn += [dot(on, s.now_lb * s.arm_in / 1000, s.now_lb) for s, _ in carried if s.now_lb > 0]
    clear = Clear(Bounds(0.0, 0.0, on.width, on.height))
    clear.draw(drawn)
    items += drawn
    for s, end in carried:
        items += clear.letter(s.name, NUMBERS, on.place(end, s.most_lb), ruled=True)
    items.append(title((0.0, on.height), "Loading graph: across at the load, down to its moment"))
    return Scene(tuple(items))


def envelope_graph(
    spec: Loading,
    limits: Envelope,
    flight: tuple[tuple[float, float], tuple[float, float]],
    ends: tuple[Worst, Worst],
) -> Scene:
    """The designer's envelope with a loading, the line as its fuel is burnt, and the worst of all loadings."""
    corners = [(c.cg.value, c.weight.value) for c in spec.envelope]
    xs = [x for x, _ in corners] + [c for _, c in flight] + [one.cg_in for one in ends]
    ys = [y for _, y in corners] + [w for w, _ in flight] + [one.weight_lb for one in ends]
    if ends[1].cg_in > max(limits.aft_in):  # what lies aft of the limit is named there
        xs.append(max(xs) + 0.2 * (max(xs) - min(xs)))
    on, items = graph(xs, ys, across="CG (in aft of the datum)", up="weight (lb)")
    ring = [*corners, corners[0]]
    items.append(curve(on, [x for x, _ in ring], [y for _, y in ring], "heavy"))
    (weight, cg), (burnt_weight, burnt) = flight
    items.append(Line(on.place(cg, weight), on.place(burnt, burnt_weight), "hidden"))
    items += [dot(on, cg, weight, 0.07), dot(on, burnt, burnt_weight, 0.05)]
    for one in ends:
        x, y = on.place(one.cg_in, one.weight_lb)
        items += [
            Line((x - 0.08, y - 0.08), (x + 0.08, y + 0.08)),
            Line((x - 0.08, y + 0.08), (x + 0.08, y - 0.08)),
        ]
    clear = Clear(Bounds(0.0, 0.0, on.width, on.height))
    clear.draw(items)
    points = (
        ("loaded", cg, weight), ("fuel burnt", burnt, burnt_weight),
        ("most forward", ends[0].cg_in, ends[0].weight_lb), ("most aft", ends[1].cg_in, ends[1].weight_lb),
    )  # fmt: skip
    for said, c, w in points:
        items += clear.letter(said, NUMBERS, on.place(c, w), off=0.14, ruled=True)
    items.append(title((0.0, on.height), "Envelope: this loading, fuel burnt, worst of all loadings"))
    return Scene(tuple(items))


def _table(spec: Loading, stations: tuple[Loaded, ...], weight: float, cg: float) -> Scene:
    empty = spec.empty_weight.value
    lines = [("item", "weight (lb)", "arm (in)", "moment (lb·in)")]
    rows = [
        ("empty", empty, spec.empty_cg.value),
        *((s.name, s.now_lb, s.arm_in) for s in stations),
        ("loaded", weight, cg),
    ]
    lines += [(name, number_text(w, 1), number_text(a, 2), number_text(w * a, 0)) for name, w, a in rows]
    items: list[Item] = []
    height = 0.3
    top = 5.2
    for row, cells in enumerate(lines):
        y = top - row * height
        for x, said in zip((0.05, 3.1, 4.25, 6.0), cells, strict=True):
            items.append(
                Text((x, y), said, NUMBERS, "start" if x < 1 else "end", bold=row in (0, len(lines) - 1))
            )
    edges = [top + height * 0.7 - k * height for k in range(len(lines) + 1)]
    items += [Line((0.0, y), (6.1, y), "thin") for y in edges]
    items += [Line((x, a), (x, b), "thin") for x in (0.0, 6.1) for a, b in pairwise(edges)]
    return Scene(tuple(items))
