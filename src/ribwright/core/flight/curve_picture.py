"""A fitted curve with its points and its 80 % band, ruled like every other graph."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ribwright.core.scene import Line, Scene, Text
from ribwright.core.scene.graph import NUMBERS, band, curve, dot, graph
from ribwright.core.scene.graph import title as titled

Floats = NDArray[np.float64]


def curve_picture(
    title: str,
    xs: Floats,
    ys: Floats,
    grid: Floats,
    values: Floats,
    half: Floats,
    *,
    across: str,
    up: str,
    marks: tuple[tuple[float, str], ...] = (),
) -> Scene:
    """Points, curve, hatched band; ``marks`` are places on the curve with their lettering."""
    low, high = values - half, values + half
    span = float(np.ptp(ys)) or 1.0
    floor, roof = float(min(ys.min(), values.min())) - span, float(max(ys.max(), values.max())) + span
    on, items = graph(
        [*xs, *grid], [*ys, *low.clip(floor, roof), *high.clip(floor, roof)], across=across, up=up
    )
    items.append(band(on, grid.tolist(), low.tolist(), high.tolist()))
    items.append(curve(on, grid.tolist(), values.tolist(), "heavy"))
    items += [dot(on, float(x), float(y)) for x, y in zip(xs, ys, strict=True)]
    for at, said in marks:
        y = float(np.interp(at, grid, values))
        items.append(Line(on.place(at, on.bottom), on.place(at, y), "hidden"))
        px, py = on.place(at, on.bottom)
        items.append(Text((px - 0.08, py + 0.1), f"{said} {at:.0f}", NUMBERS, "start", 90.0))
    items.append(titled((0.0, on.height), "points, curve, and the band of 4 chances in 5"))
    said = ", ".join(f"{name} at {at:.0f}" for at, name in marks)
    described = f"{title}: {len(xs)} points from {xs.min():.0f} to {xs.max():.0f}, a curve through them with its band{'; ' + said if said else ''}."
    return Scene(tuple(items), title=title, described=described)
