"""A trailing edge against a string or straight edge: bow over its length and waves in a foot."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ribwright.core.audit import Outcome, Result, Worksheet, calculation, quantity, rows, text
from ribwright.core.bench import CAUTIONS, Because, Reading, Requirement, compare
from ribwright.core.scene import Circle, Item, Line, Polyline, Scene, Text
from ribwright.core.tables import table
from ribwright.core.units import Quantity
from ribwright.errors import GeometryError

Floats = NDArray[np.float64]


def bow_in(stations_in: ArrayLike, offsets_in: ArrayLike) -> tuple[float, int]:
    """Greatest departure from the string between the end stations, signed, and its station."""
    x, y = np.asarray(stations_in, float), np.asarray(offsets_in, float)
    off = y - np.interp(x, (x[0], x[-1]), (y[0], y[-1]))
    at = int(np.abs(off).argmax())
    return float(off[at]), at


def wave_in(stations_in: ArrayLike, offsets_in: ArrayLike, *, chord_in: float) -> tuple[float, int]:
    """Greatest departure of a station from a chord between two others not more than ``chord_in`` apart."""
    x, y = np.asarray(stations_in, float), np.asarray(offsets_in, float)
    best, where = 0.0, 0
    for i in range(len(x) - 2):
        for j in range(i + 2, len(x)):
            if x[j] - x[i] > chord_in + 1e-9:
                break
            off = y[i + 1 : j] - np.interp(x[i + 1 : j], (x[i], x[j]), (y[i], y[j]))
            k = int(np.abs(off).argmax())
            if abs(off[k]) > abs(best):
                best, where = float(off[k]), i + 1 + k
    return best, where


@dataclass(frozen=True, slots=True)
class Station:
    """One place along the edge."""

    at: Quantity = quantity(
        "in", "Station", help="from the datum end", example="6 in", low="-1000 in", high="2000 in"
    )
    offset: Quantity = quantity(
        "in",
        "Offset",
        help="from string or straight edge to the edge, one way positive",
        example=".03",
        low="-5 in",
        high="5 in",
    )


@dataclass(frozen=True, slots=True)
class Edge:
    """A trailing edge as measured."""

    title: str = text("Surface", help="which edge", example="left aileron")
    stations: tuple[Station, ...] = rows(Station, "Stations", help="in order along the edge", least=3)
    bow: Quantity | None = quantity(
        "in",
        "Bow allowed",
        help="the drawing's, if it has one",
        example=".1",
        low="0.001 in",
        high="2 in",
        optional=True,
    )
    wave: Quantity | None = quantity(
        "in",
        "Wave allowed in a foot",
        help="the drawing's, if it has one",
        example="1/32 in",
        low="0.001 in",
        high="1 in",
        optional=True,
    )
    uncertainty: Quantity = quantity(
        "in",
        "Plus or minus",
        help="of one offset",
        example=".010",
        low="0 in",
        high="0.2 in",
        default="0.010 in",
    )

    def __post_init__(self) -> None:
        at = [s.at.value for s in self.stations]
        if any(b - a <= 1e-9 for a, b in pairwise(at)):
            raise GeometryError(
                "Stations",
                found="not in rising order",
                allowed="each beyond the one before",
                mend="Sort the rows along the edge.",
            )


@calculation(
    "edge-straightness",
    title="Straightness of a trailing edge",
    summary="String or straight-edge offsets at stations: bow over the surface and waves in a foot.",
    spec=Edge,
    results=("bow", "bow_at", "wave", "wave_at"),
)
def edge_straightness(spec: Edge, ws: Worksheet) -> Outcome:
    """Bow and wave against the drawing's limits or common practice."""
    x = np.array([s.at.value for s in spec.stations])
    y = np.array([s.offset.value for s in spec.stations])
    held = table("acceptance/trailing-edge")
    chord = held.cell("wave", "chord").canonical
    bow, bow_at = bow_in(x, y)
    wave, wave_at = wave_in(x, y, chord_in=chord)
    ws.worked_out(
        "bow",
        f"{bow:+.3f} in at {x[bow_at]:.2f} in",
        "greatest departure from the line between the end stations",
        value=bow,
        unit="in",
    )
    ws.worked_out(
        "wave",
        f"{wave:+.3f} in at {x[wave_at]:.2f} in",
        f"greatest departure from a chord of at most {chord:g} in",
        value=wave,
        unit="in",
    )
    if float(np.diff(x).max()) > chord / 3:
        ws.note(
            "Stations are wide apart: a wave between two of them is not seen. A third of a foot or closer is better."
        )
    made = []
    for name, asked, key in (
        ("bow of the edge", spec.bow, "bow over the surface"),
        ("wave of the edge", spec.wave, "wave"),
    ):
        cell = held.cell(key, "limit")
        limit = asked.value if asked else cell.canonical
        made.append(
            Requirement(
                name=name, unit="in", low=-limit, nominal=0.0, high=limit,
                because=Because.drawing("", "", "called out") if asked else Because.cell(cell, "no published tolerance was found"),
                how="string or straight edge, three readings at each station",
                when_low="Refer: a driven edge is not bent back.", when_high="Refer: a driven edge is not bent back.",
                refer_low=-2 * limit, refer_high=2 * limit,
            )
        )  # fmt: skip
    u = spec.uncertainty.value * 1.5  # two ends and the middle each carry the doubt of one reading
    findings = (
        compare(made[0], Reading(bow, "in", u, where=f"{x[bow_at]:.2f} in")),
        compare(made[1], Reading(wave, "in", u, where=f"{x[wave_at]:.2f} in")),
    )
    results = {
        "bow": Result("bow", bow, "in", bow - u, bow + u), "bow_at": Result("at", float(x[bow_at]), "in"),
        "wave": Result("wave in a foot", wave, "in", wave - u, wave + u), "wave_at": Result("at", float(x[wave_at]), "in"),
    }  # fmt: skip
    k, j = 8.0 / (x[-1] - x[0]), 1.0 / max(float(np.ptp(y)), 0.05)
    points = tuple((float((a - x[0]) * k), float((b - y[0]) * j)) for a, b in zip(x, y, strict=True))
    items: list[Item] = [
        Polyline(points, style="heavy"),
        Line(points[0], points[-1], "centre"),
        *(Circle(p, 0.05) for p in points),
    ]
    items.append(Text((points[bow_at][0], points[bow_at][1] + 0.15), f"bow {bow:+.3f}", 0.12, "middle"))
    scene = Scene(
        tuple(items),
        f"Edge against the string: {spec.title}",
        f"Offsets across enlarged {j / k:.0f} times. Bow {bow:+.3f} in at {x[bow_at]:.2f} in, wave {wave:+.3f} in.",
    )
    return Outcome(tuple(ws.steps), results, tuple(made), findings, CAUTIONS, scene)
