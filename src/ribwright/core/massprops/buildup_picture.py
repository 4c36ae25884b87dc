"""The build-up drawn: weight up, CG across, the designer's range, where it stands now and where it is going."""

from __future__ import annotations

from ribwright.core.massprops.estimate import Estimate, Mass
from ribwright.core.scene import Bounds, Item, Line, Polyline, Scene, Text
from ribwright.core.scene.graph import NUMBERS, Graph, dot, graph
from ribwright.core.scene.placing import Clear
from ribwright.core.units import number_text

Range = tuple[float | None, float | None, float | None, float | None]


def buildup_picture(title: str, made: Estimate, designer: Range) -> Scene:
    """Running and forecast CG with their bands as boxes, and the designer's limits as heavy lines.

    Args:
        designer: least and greatest empty weight, forward and aft limit; ``None`` where not given.
    """
    masses = [("forecast", made.forecast), *([("now", made.running)] if made.running is not None else [])]
    low, most, forward, aft = designer
    xs = [x for _, m in masses for x in (m.cg_in - m.u_cg_in, m.cg_in + m.u_cg_in)]
    ys = [y for _, m in masses for y in (m.weight_lb - m.u_weight_lb, m.weight_lb + m.u_weight_lb)]
    xs += [x for x in (forward, aft) if x is not None]
    ys += [y for y in (low, most) if y is not None]
    on, items = graph(xs, [*ys, 0.0], across="CG (in aft of the datum)", up="weight (lb)")
    for x, said in ((forward, "forward limit"), (aft, "aft limit")):
        if x is not None:
            items += [
                Line(on.place(x, on.bottom), on.place(x, on.top), "heavy"),
                Text((on.place(x, on.top)[0], on.height + 0.16), said, NUMBERS, "middle"),
            ]
    for y, said, up in ((low, "designer's empty weight", -0.24), (most, "greatest empty weight", 0.06)):
        if y is not None:
            items += [
                Line(on.place(on.left, y), on.place(on.right, y), "hidden"),
                Text((on.width - 0.08, on.place(on.left, y)[1] + up), said, NUMBERS, "end"),
            ]
    for _, mass in masses:
        items += _box(on, mass)
    clear = Clear(Bounds(0.0, 0.0, on.width, on.height))
    clear.draw(items)
    for said, m in masses:
        sides = (
            (m.cg_in + m.u_cg_in, m.weight_lb), (m.cg_in, m.weight_lb - m.u_weight_lb),
            (m.cg_in, m.weight_lb + m.u_weight_lb), (m.cg_in - m.u_cg_in, m.weight_lb),
        )  # fmt: skip
        items += clear.letter(said, NUMBERS, *(on.place(*side) for side in sides), off=0.12, bold=True)
    now = (
        "nothing is in place yet"
        if made.running is None
        else f"in place now {number_text(made.running.weight_lb, 0)} lb at {number_text(made.running.cg_in, 1)} in"
    )
    all_of_it = made.forecast
    return Scene(
        tuple(items),
        title=title,
        described=f"{title}: {now}; forecast {number_text(all_of_it.weight_lb, 0)} ± {number_text(all_of_it.u_weight_lb, 0)} lb "
        f"at {number_text(all_of_it.cg_in, 1)} ± {number_text(all_of_it.u_cg_in, 1)} in.",
    )


def _box(on: Graph, mass: Mass) -> list[Item]:
    west, east = mass.cg_in - mass.u_cg_in, mass.cg_in + mass.u_cg_in
    south, north = mass.weight_lb - mass.u_weight_lb, mass.weight_lb + mass.u_weight_lb
    corners = ((west, south), (east, south), (east, north), (west, north))
    return [
        Polyline(tuple(on.place(*c) for c in corners), closed=True, style="outline"),
        dot(on, mass.cg_in, mass.weight_lb),
    ]
