"""A rolled skin as triangles for a view in space, and its measured deviation from the target laid over it.

The triangles come from the same sections as the templates and the flat. Every vertex has its station and its
arc length along the skin from the foremost line, lower side positive, so that a place on the picture is a
place on the part.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np

from ribwright.core.audit import Outcome, Result, Worksheet, calculation, choice, quantity, rows, text
from ribwright.core.bench import CAUTIONS, Because, Reading, Requirement, compare
from ribwright.core.forming.nose_spec import NoseRoll
from ribwright.core.geometry import Outline, flattened, mesh
from ribwright.core.geometry.lofts import Loft, Mesh, loft
from ribwright.core.geometry.outlines import FloatArray
from ribwright.core.scene import Item, Polyline, Scene, Text, lettering_for
from ribwright.core.templates.profile_set import DrawnNose, between
from ribwright.core.templates.rolled_skin import rolled_skin, wanted_skin
from ribwright.core.templates.section_set import SectionSet, listed_sections, placed
from ribwright.core.templates.skin import nose_at
from ribwright.core.units import Quantity
from ribwright.errors import OutsideTableError

ALONG, ON_FLAT, ON_ARC = 25, 9, 33
"""Stations of the grid, and points on each flat and round the bend."""

SCALE = ("#14213d", "#27406b", "#4a5f7f", "#77797a", "#a3965f", "#d1b84a", "#f6e27a")
"""Seven steps from well inside the target to well outside: each lighter than the one before, along blue and
yellow, which every kind of colour-blindness keeps apart. Not measured is hatched, never a colour of these."""


@dataclass(frozen=True, slots=True)
class PointRead:
    """How far a place of the skin lies off its template."""

    station: Quantity = quantity(
        "in", "Station", help="along the span", example="14", low="-500 in", high="2000 in"
    )
    side: str = choice("Side", ("upper", "lower"), help="of the foremost line")
    along: Quantity = quantity(
        "in", "Along the skin", help="from the foremost line", example=".8", low="0 in", high="120 in"
    )
    off: Quantity = quantity(
        "in",
        "Off the target",
        help="outside positive, inside negative",
        example=".02",
        low="-1 in",
        high="1 in",
    )


@dataclass(frozen=True, slots=True)
class NoseView:
    """A rolled nose with what was read of it."""

    part: str = text("Part", help="the skin", example="DN-2101 nose skin, left aileron")
    hand: str = choice("Hand", ("none", "left", "right"), help="side of the aeroplane", default="none")
    thickness: Quantity = quantity(
        "in", "Sheet thickness", help="of the skin", example=".020", low="0.01 in", high="0.25 in"
    )
    ends: tuple[DrawnNose, ...] = rows(DrawnNose, "Drawn sections", help="at least the two ends", least=2)
    readings: tuple[PointRead, ...] = rows(
        PointRead, "Readings", help="one row a place that was read", least=0
    )
    allowed: Quantity = quantity(
        "in",
        "Off by at most",
        help="the drawing's tolerance",
        example=".030",
        low="0.001 in",
        high="1 in",
        default=".030",
    )
    uncertainty: Quantity = quantity(
        "in",
        "Plus or minus",
        help="of one reading",
        example=".005",
        low="0 in",
        high="0.2 in",
        default=".005",
    )


def _sampled(section: Outline) -> FloatArray:
    """A nose section as points of the same meaning at every station: upper flat, bend, lower flat."""
    end_u, top, _, low, end_l = section.points_in
    upper = end_u + np.linspace(0, 1, ON_FLAT)[:, None] * (top - end_u)
    lower = low + np.linspace(0, 1, ON_FLAT)[:, None] * (end_l - low)
    half = ON_ARC // 2
    parts = [upper]
    for start in (1, 2):
        dense = flattened(
            Outline(section.points_in[start : start + 2], np.array([section.bulges[start], 0.0]), False),
            chord_error_in=1e-5,
        )
        run = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(dense, axis=0).T))])
        at = np.linspace(0, run[-1], half + 1)[1:]
        parts.append(np.column_stack([np.interp(at, run, dense[:, k]) for k in (0, 1)]))
    return np.concatenate([*parts, lower[1:]])


FOREMOST = ON_FLAT - 1 + ON_ARC // 2
"""Number of the point on the foremost line in each section."""


def nose_loft(ends: Sequence[DrawnNose], outwards_in: float) -> Loft:
    """The surface ``outwards_in`` outside the inside of a rolled nose, straight between its drawn sections."""
    stations = sorted(end.station.value for end in ends)
    return loft(stations, [_sampled(nose_at(between(tuple(ends), at), outwards_in)) for at in stations])


def skin_of(spec: object) -> Mesh | None:
    """Triangles of the skin that a spec describes, arc length from its foremost line; None where it describes none.

    Args:
        spec: of ``skin-view``, ``profile-templates``, ``flat-skin``, ``nose-cradle``, ``section-templates`` or ``nose-roll``
            (arc length from its free edge).
    """
    ends = getattr(spec, "ends", None)
    if ends and isinstance(ends[0], DrawnNose):
        made = mesh(nose_loft(ends, spec.thickness.value), along=ALONG, across=10_000)  # type: ignore[attr-defined]
        return _from_the_nose(made, FOREMOST)
    if isinstance(spec, NoseRoll):
        return wanted_skin(spec)
    if isinstance(spec, SectionSet):
        listed = listed_sections(spec.coordinates)
        wing = loft(
            [row.station.value for row in spec.sections], [placed(row, listed) for row in spec.sections],
            smooth=spec.loft == "smooth",
        )  # fmt: skip
        made = mesh(wing, along=ALONG, across=81)
        count = len(made.station_in) // ALONG
        return _from_the_nose(made, int(np.argmin(made.vertices_in[:count, 0])))
    return None


def _from_the_nose(made: Mesh, foremost: int) -> Mesh:
    arc = made.arc_in.reshape(ALONG, -1)
    return Mesh(
        made.vertices_in, made.triangles, made.station_in, (arc - arc[:, foremost : foremost + 1]).ravel()
    )


def laid_over(
    station_in: FloatArray, arc_in: FloatArray, read: Sequence[tuple[float, float, float]]
) -> FloatArray:
    """Deviation at places of the skin, straight between readings; nan where none lie on both sides.

    Args:
        station_in, arc_in: of the places, each (n,).
        read: (station, arc, off) of each reading.
    """
    off = np.full(len(station_in), np.nan)
    if not read:
        return off
    table = np.array(sorted(read))
    stations = np.unique(table[:, 0])

    def across(at: float, arcs: FloatArray) -> FloatArray:
        here = table[table[:, 0] == at]
        found = np.interp(arcs, here[:, 1], here[:, 2])
        found[(arcs < here[0, 1] - 1e-9) | (arcs > here[-1, 1] + 1e-9)] = np.nan
        return np.asarray(found)

    for a, b in pairwise(stations):
        here = (station_in >= a - 1e-9) & (station_in <= b + 1e-9)
        share = (station_in[here] - a) / (b - a)
        off[here] = (1 - share) * across(a, arc_in[here]) + share * across(b, arc_in[here])
    return off


def view_data(spec: object) -> dict[str, Any] | None:
    """What a page needs to draw the skin: triangles, station and arc of each vertex, deviation, scale; or None."""
    if isinstance(spec, NoseRoll):
        rolled = rolled_skin(spec)
        return None if rolled is None else rolled | {"colours": list(SCALE)}
    made = skin_of(spec)
    if made is None:
        return None
    off = np.full(len(made.station_in), np.nan)
    limit = 0.0
    readings: list[dict[str, float | str]] = []
    if isinstance(spec, NoseView):
        limit = spec.allowed.value
        off = laid_over(made.station_in, made.arc_in, [_place(r) for r in spec.readings])
        readings = [
            {"station": r.station.value, "side": r.side, "along": r.along.value, "off": r.off.value} for r in spec.readings
        ]  # fmt: skip
    return {
        "vertices": np.round(made.vertices_in, 5).tolist(), "triangles": made.triangles.tolist(),
        "station": np.round(made.station_in, 4).tolist(), "arc": np.round(made.arc_in, 4).tolist(),
        "off": [None if np.isnan(v) else round(float(v), 5) for v in off], "limit": limit, "unit": "in", "colours": list(SCALE),
        "readings": readings,
    }  # fmt: skip


def _place(read: PointRead) -> tuple[float, float, float]:
    along = read.along.value
    return (read.station.value, -along if read.side == "upper" else along, read.off.value)


@calculation(
    "skin-view",
    title="A rolled skin in the round",
    summary="The skin of a rolled nose to turn and look at, with what was read of it against its target, station by station.",
    spec=NoseView,
    results=("span", "width_first", "width_last", "worst", "worst_station", "worst_along", "measured"),
)
def skin_view(spec: NoseView, ws: Worksheet) -> Outcome:
    """The readings held against the tolerance, the share of the skin between them, and a picture of it."""
    made = skin_of(spec)
    assert made is not None
    arcs = made.arc_in.reshape(ALONG, -1)
    low, high = float(made.station_in.min()), float(made.station_in.max())
    for n, one in enumerate(spec.readings, 1):
        at, arc, _ = _place(one)
        if not low - 1e-9 <= at <= high + 1e-9:
            raise OutsideTableError(
                f"Read at {n}, Station",
                found=one.station.text,
                allowed=f"{low:g} to {high:g} in",
                mend="Correct the station.",
            )
        edge = float(np.interp(at, made.station_in[:: arcs.shape[1]], arcs[:, 0 if arc < 0 else -1]))
        if abs(arc) > abs(edge) + 1e-6:
            raise OutsideTableError(
                f"Read at {n}, Along the skin", found=one.along.text, allowed=f"0 to {abs(edge):.3f} in on the {one.side} side there",
                mend="Measure from the foremost line.",
            )  # fmt: skip
    limit = Requirement(
        name="nose off its target", unit="in", low=-spec.allowed.value, nominal=0.0, high=spec.allowed.value,
        because=Because.drawing("", "", "tolerance of the rolled nose"), how="feeler between template and skin, or the measured photo",
        when_low="The nose is rolled too far there: ease it over a larger tool.", when_high="Roll it again there.", usual_u=0.005,
    )  # fmt: skip
    findings = tuple(
        compare(limit, Reading(r.off.value, "in", spec.uncertainty.value, where=f"station {r.station.value:g} in, {r.side} {r.along.value:g} in"))
        for r in spec.readings
    )  # fmt: skip
    off = laid_over(made.station_in, made.arc_in, [_place(r) for r in spec.readings])
    share = float(np.mean(~np.isnan(off)))
    ws.worked_out(
        "surface", f"{len(made.triangles)} triangles between {len(spec.ends)} drawn sections", "outside of the skin, straight along the span",
        rung="derived",
    )  # fmt: skip
    ws.note(
        "Between readings the deviation is drawn straight; where there are none on both sides it is hatched, not coloured."
    )
    results = {
        "span": Result("from first to last station", high - low, "in"),
        "width_first": Result("round the skin at the first station", float(np.ptp(arcs[0])), "in"),
        "width_last": Result("round the skin at the last station", float(np.ptp(arcs[-1])), "in"),
        "measured": Result("of the skin lies between readings", 100 * share, "%", places=0),
    }
    if spec.readings:
        worst = max(spec.readings, key=lambda r: abs(r.off.value))
        u = spec.uncertainty.value
        results |= {
            "worst": Result(
                "furthest off the target", worst.off.value, "in", worst.off.value - u, worst.off.value + u
            ),
            "worst_station": Result("at station", worst.station.value, "in"),
            "worst_along": Result(
                f"on the {worst.side} side, from the foremost line", worst.along.value, "in"
            ),
        }
    return Outcome(tuple(ws.steps), results, (limit,), findings, CAUTIONS, in_the_round(made, spec.part))


def in_the_round(made: Mesh, part: str) -> Scene:
    """The skin seen from before and above, as lines: what stands where a page can't turn it."""
    turn, lift = np.radians(-58.0), np.radians(24.0)
    v = made.vertices_in - made.vertices_in.mean(axis=0)
    across = np.cos(turn) * v[:, 0] - np.sin(turn) * v[:, 2]
    deep = np.sin(turn) * v[:, 0] + np.cos(turn) * v[:, 2]
    up = np.cos(lift) * v[:, 1] + np.sin(lift) * deep
    grid = np.column_stack([across, up]).reshape(ALONG, -1, 2)
    items: list[Item] = []
    for n in range(0, ALONG, 3):
        items.append(
            Polyline(
                tuple((float(x), float(y)) for x, y in grid[n]),
                style="outline" if n in (0, ALONG - 1) else "thin",
            )
        )
    for k in range(0, grid.shape[1], 6):
        items.append(Polyline(tuple((float(x), float(y)) for x, y in grid[:, k]), style="thin"))
    h = lettering_for(float(np.ptp(across)))
    stations = made.station_in.reshape(ALONG, -1)[:, 0]
    for n in (0, ALONG - 1):
        x, y = grid[n].min(axis=0)
        items.append(Text((float(x), float(y) - 2 * h), f"STA {stations[n]:g}", h))
    return Scene(
        tuple(items), f"{part} in the round", f"Skin from station {stations[0]:g} to {stations[-1]:g} in, seen from before and above."
    )  # fmt: skip
