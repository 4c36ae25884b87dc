"""Strips laid along a row: holes at their places, and a fan that divides any length into equal spaces."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ribwright.core.scene import Item, Line, Marker, Polygon, Scene, Text, hand_mark, orientation, together
from ribwright.core.scene.items import HandOf
from ribwright.errors import GeometryError, OutOfRangeError


def hole_strip(
    positions_in: Sequence[float],
    *,
    title: str,
    length_in: float,
    edge_in: float | None = None,
    drill_in: float = 0.098,
    width_in: float = 1.0,
    left_open: Sequence[int] = (),
    hand: HandOf = "none",
    runs: str = "inboard to outboard",
) -> Scene:
    """A strip as long as the part with its holes, numbered from the datum end.

    Args:
        positions_in: places of the holes from the datum end, in any order.
        length_in: of the part.
        edge_in: distance of the row from the strip's lower edge, which is laid on the part's edge; the
            middle when left out.
        drill_in: diameter to draw.
        left_open: numbers of holes that stay open.

    Raises:
        GeometryError: two holes at one place, or one beyond the part; names them.
    """
    places = np.asarray(positions_in, dtype=np.float64)
    row = width_in / 2 if edge_in is None else edge_in
    if not (np.isfinite(places).all() and np.isfinite(length_in) and len(places)):
        raise GeometryError("holes", because="there is no row here", found=f"{len(places)} places")
    order = np.argsort(places, kind="stable")
    gaps = np.diff(places[order])
    if (gaps < drill_in).any():
        k = int(np.flatnonzero(gaps < drill_in)[0])
        a, b = sorted((int(order[k]) + 1, int(order[k + 1]) + 1))
        raise GeometryError(
            "holes",
            because=f"holes {a} and {b} " + ("lie on one place" if gaps[k] < 1e-6 else "run into each other"),
            found=f"at {places[order][k]:.3f} and {places[order][k + 1]:.3f} in",
            mend="Take one of them out",
        )
    beyond = np.flatnonzero((places < drill_in / 2) | (places > length_in - drill_in / 2))
    if beyond.size:
        raise GeometryError(
            "holes",
            because=f"hole {beyond[0] + 1} lies beyond the part",
            found=f"at {places[beyond[0]]:.3f} in",
            allowed=f"0 to {length_in:g} in",
        )
    if not drill_in < row < width_in - drill_in:
        raise OutOfRangeError(
            "row from the edge", found=f"{row:g} in", allowed=f"on a strip {width_in:g} in wide"
        )
    items: list[Item] = [
        Polygon(((0, 0), (length_in, 0), (length_in, width_in), (0, width_in)), layer="cut"),
        Line((0, row), (length_in, row), "centre"),
        Text((0.08, width_in - 0.16), title, 0.09),
        Text((0.08, 0.06), f"datum end; holes run {runs}; this edge on the part's edge", 0.07),
    ]
    opened = set(left_open)
    for number, x in enumerate(places, 1):
        kind = "left-open" if number in opened else "hole"
        items.append(Marker((float(x), row), kind, str(number), drill_in, 0.07))  # type: ignore[arg-type]
    arrow = {"inboard to outboard": (-1.0, 0.0), "outboard to inboard": (1.0, 0.0)}.get(runs)
    at = (min(4.2, length_in * 0.6), width_in - 0.2)
    return together(
        Scene(tuple(items)),
        orientation(at, inbd=arrow, size=0.4) if arrow else Scene(),
        hand_mark((min(5.6, length_in * 0.8), width_in - 0.24), hand, 0.16),
        title=title,
        described=f"Drill strip with {len(places)} holes on {length_in:g} in, numbered from the datum end.",
    )


def fan_strip(
    spaces: int, *, least_pitch_in: float, greatest_pitch_in: float, width_in: float = 6.0, title: str = ""
) -> Scene:
    """Lines that spread: moved up or down until its outer lines meet the end holes, it divides the row evenly.

    Args:
        spaces: number of equal spaces.
        least_pitch_in, greatest_pitch_in: pitch at the lower and the upper edge.
        width_in: distance between the two edges.

    Raises:
        OutOfRangeError: no spaces, or pitches that don't grow.
    """
    if not 1 <= spaces <= 500:
        raise OutOfRangeError("spaces", found=spaces, allowed="1 to 500")
    if not (0.1 <= least_pitch_in < greatest_pitch_in <= 12):
        raise OutOfRangeError(
            "pitch range",
            found=f"{least_pitch_in:g} to {greatest_pitch_in:g} in",
            allowed="growing, between 0.1 and 12 in",
        )
    if not 1 <= width_in <= 24:
        raise OutOfRangeError("width of the fan", found=width_in, allowed="1 to 24 in")
    half = spaces / 2
    items: list[Item] = []
    for n in range(spaces + 1):
        a, b = (n - half) * least_pitch_in, (n - half) * greatest_pitch_in
        items.append(Line((a, 0.0), (b, width_in), "outline" if n in (0, spaces) else "thin"))
        items.append(Text((b, width_in + 0.06), str(n + 1), 0.08, "middle"))
    steps = int(np.floor((greatest_pitch_in - least_pitch_in) / 0.0625 + 1e-9))
    first = np.ceil(least_pitch_in / 0.0625 - 1e-9) * 0.0625
    for k in range(steps + 1):
        pitch = first + k * 0.0625
        if pitch > greatest_pitch_in + 1e-9:
            break
        y = width_in * (pitch - least_pitch_in) / (greatest_pitch_in - least_pitch_in)
        reach = half * pitch
        items.append(Line((-reach - 0.1, y), (-reach, y), "thin"))
        items.append(Text((-reach - 0.15, y - 0.035), f"{pitch:.4g}", 0.07, "end"))
    name = title or f"Fan of {spaces} spaces"
    items.append(
        Text(
            (0, -0.25),
            f"{name}: slide until the outer lines meet the end holes, square to the row",
            0.09,
            "middle",
        )
    )
    return Scene(
        tuple(items),
        name,
        f"Fan of {spaces + 1} lines; pitch from {least_pitch_in:g} in at the lower edge to {greatest_pitch_in:g} in.",
    )
