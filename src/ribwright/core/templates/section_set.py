"""Templates from a smooth section: a NACA number, a plain coordinate list, or points read off a drawing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ribwright.core.audit import Outcome, Result, Worksheet, calculation, choice, quantity, rows, text
from ribwright.core.geometry import (
    length_in,
    loft,
    naca_section,
    respaced,
    section_at,
    section_from_text,
    smoothed,
)
from ribwright.core.geometry.curves import Spline, evaluate, spline
from ribwright.core.geometry.outlines import FloatArray
from ribwright.core.scene.items import HandOf
from ribwright.core.templates.profile import Kind, Label, Surface, profile_template
from ribwright.core.templates.profile_set import AtStation
from ribwright.core.units import Quantity, bound_text
from ribwright.errors import GeometryError, OutOfRangeError

AFT_SHARE = 0.35


@dataclass(frozen=True, slots=True)
class WingSection:
    """An aerofoil section at one station."""

    station: Quantity = quantity(
        "in", "Station", help="along the span", example="0", low="-500 in", high="2000 in"
    )
    section: str = text(
        "Section",
        help="NACA number of four or five digits, or a name from the coordinates below",
        example="2412",
    )
    chord: Quantity = quantity(
        "in", "Chord", help="nose to trailing edge", example="48", low="1 in", high="300 in"
    )
    aft: Quantity = quantity(
        "in", "Nose aft by", help="of the datum line", example="0", low="-300 in", high="300 in", default="0"
    )
    up: Quantity = quantity(
        "in",
        "Chord line up by",
        help="from the datum plane",
        example="0",
        low="-300 in",
        high="300 in",
        default="0",
    )
    twist: Quantity = quantity(
        "deg", "Twist", help="nose up, about the nose", example="0", low="-20 deg", high="20 deg", default="0"
    )


@dataclass(frozen=True, slots=True)
class SectionPoint:
    """A line of a plain coordinate list."""

    section: str = text("Section", help="name of the list that this point belongs to", example="wing root")
    x: Quantity = quantity(
        "", "x/c", help="along the chord, 0 at the nose, 1 at the trailing edge", example=".5"
    )
    y: Quantity = quantity("", "y/c", help="up from the chord line", example=".06")


@dataclass(frozen=True, slots=True)
class SectionSet:
    """Templates of a lofted surface at any station."""

    part: str = text("Part", help="what is checked", example="leading-edge skin")
    hand: str = choice("Hand", ("none", "left", "right"), help="side of the aeroplane", default="none")
    sections: tuple[WingSection, ...] = rows(WingSection, "Drawn sections", help="at least two", least=2)
    coordinates: tuple[SectionPoint, ...] = rows(
        SectionPoint,
        "Coordinates",
        help="for sections that have no NACA number, in the order of their file",
        least=0,
    )
    loft: str = choice(
        "Between sections", ("straight", "smooth"), help="straight taper, or a fair curve through three or more",
        default="straight",
    )  # fmt: skip
    stations: tuple[AtStation, ...] = rows(AtStation, "Templates at", help="one row a template", least=1)
    share: Quantity = quantity(
        "%", "From the nose to", help="share of the chord that the template covers", example="35", low="5 %",
        high="95 %", default="35",
    )  # fmt: skip
    thickness: Quantity = quantity(
        "in", "Skin thickness", help="the section is the outside of the skin", example=".025", low="0.01 in",
        high="0.25 in",
    )  # fmt: skip
    kind: str = choice("Kind", ("female", "male"), help="over the nose, or inside the skin", default="female")
    kerf: Quantity = quantity(
        "in", "Width of the cut", help="0 for scissors", example="0", low="0 in", high="0.25 in", default="0"
    )


def placed(row: WingSection, listed: Mapping[str, FloatArray]) -> FloatArray:
    """The section of a row in inches, in its place; ``listed`` are the coordinate lists by name."""
    made = listed.get(row.section)
    if made is None:
        made = respaced(naca_section(row.section, count=161), count=161)
    points = made * row.chord.value
    a = -np.radians(row.twist.value)
    c, s = np.cos(a), np.sin(a)
    return np.asarray(points @ np.array([[c, s], [-s, c]]) + np.array([row.aft.value, row.up.value]))


def listed_sections(points: Sequence[SectionPoint]) -> dict[str, FloatArray]:
    """Coordinate lists by name, each checked as a file would be and spaced like a NACA section.

    Raises:
        FormatError, GeometryError: too few points, or points in mixed order; names the list.
    """
    lists: dict[str, list[str]] = {}
    for point in points:
        lists.setdefault(point.section, []).append(f"{point.x.value!r} {point.y.value!r}")
    made = {}
    for name, lines in lists.items():
        _, section = section_from_text("\n".join(lines), field=f"coordinates of {name}")
        made[name] = respaced(section, count=161)
    return made


def fore_part(section: FloatArray, share: float) -> FloatArray:
    """The nose part of a section up to a share of its chord, ends cut square to x.

    Raises:
        OutOfRangeError: too little is left.
    """
    low, high = section[:, 0].min(), section[:, 0].max()
    limit = low + share * (high - low)
    inside = np.flatnonzero(section[:, 0] <= limit)
    first, last = int(inside[0]), int(inside[-1])
    if last - first < 8:
        raise OutOfRangeError(
            "From the nose to", found=f"{100 * share:g} %", allowed="enough to hold a template"
        )
    curve = spline(section)
    start = curve.knots[0] if first == 0 else _where(curve, first - 1, limit)
    end = curve.knots[-1] if last == len(section) - 1 else _where(curve, last, limit)
    between = curve.knots[first : last + 1]
    # A given point right beside a cut would leave the direction there to rounding.
    slack = 0.3 * float(np.median(np.diff(between)))
    kept = between[(between > start + slack) & (between < end - slack)]
    return evaluate(curve, np.concatenate([[start], kept, [end]]))


def _where(curve: Spline, number: int, limit: float) -> float:
    """Parameter between a knot and the next at which the curve reaches x = limit, by halving."""
    a, b = float(curve.knots[number]), float(curve.knots[number + 1])
    rising = curve.points[number + 1, 0] > curve.points[number, 0]
    for _ in range(60):
        middle = (a + b) / 2
        beyond = bool(evaluate(curve, np.array([middle]))[0, 0] > limit)
        a, b = (a, middle) if beyond == rising else (middle, b)
    return (a + b) / 2


@calculation(
    "section-templates",
    title="Templates of a lofted surface",
    summary="Full-size profile templates at any station between NACA sections, straight or faired.",
    spec=SectionSet,
    results=("templates", "curve_lengths", "arc_error"),
)
def section_templates(spec: SectionSet, ws: Worksheet) -> Outcome:
    """One template a station, cut from the surface between the drawn sections."""
    listed = listed_sections(spec.coordinates)
    wing = loft(
        [row.station.value for row in spec.sections],
        [placed(row, listed) for row in spec.sections],
        smooth=spec.loft == "smooth",
    )
    ws.worked_out(
        "surface", f"{len(spec.sections)} sections, {spec.loft}",
        "points of equal share of the chord belong together", rung="derived",
    )  # fmt: skip
    hand: HandOf = spec.hand  # type: ignore[assignment]
    kind: Kind = spec.kind  # type: ignore[assignment]
    touches: Surface = "outside" if kind == "female" else "inside"
    made = []
    for row in spec.stations:
        at = row.station.value
        section = section_at(wing, at)
        made.append(
            profile_template(
                fore_part(section, spec.share.value),
                Label(spec.part, at, hand),
                given="outside",
                touches=touches,
                thickness_in=spec.thickness.value,
                kind=kind,
                kerf_in=spec.kerf.value,
                datum_y_in=float(section[int(np.argmin(section[:, 0])), 1]),
            )
        )
    lengths = tuple(length_in(one.profile) for one in made)
    ws.worked_out(
        "true arcs",
        f"{bound_text(max(m.arc_error_in for m in made), 'in', places=5)} off the section",
        "fitted pairs of arcs",
    )
    return Outcome(
        tuple(ws.steps),
        {
            "templates": Result("templates", float(len(made)), "", places=0),
            "curve_lengths": Result("length along the curve, by template", lengths, "in"),
            "arc_error": Result(
                "arcs off the section, at most",
                max(m.arc_error_in for m in made),
                "in",
                places=5,
                limit="bound",
            ),
        },
        picture=made[0].scene,
        templates=tuple(one.scene for one in made),
    )


@dataclass(frozen=True, slots=True)
class ReadPoint:
    """A point read off a drawing."""

    x: Quantity = quantity("in", "x, aft", help="from any datum", example="1.5", low="-500 in", high="500 in")
    y: Quantity = quantity(
        "in", "y, up", help="from the same datum", example=".75", low="-500 in", high="500 in"
    )


@dataclass(frozen=True, slots=True)
class TracedProfile:
    """A profile given by points: read off a drawing, or traced from the drawing's own paper template."""

    part: str = text("Part", help="what is checked", example="wing-tip rib")
    station: Quantity = quantity(
        "in", "Station", help="where it stands", example="0", low="-500 in", high="2000 in"
    )
    hand: str = choice("Hand", ("none", "left", "right"), help="side of the aeroplane", default="none")
    points: tuple[ReadPoint, ...] = rows(
        ReadPoint, "Points", help="in order: upper aft end, over the nose, lower aft end", least=8
    )
    reading: Quantity = quantity(
        "in", "Points, plus or minus", help="how well a point could be read; 0 takes them as they are", example=".010",
        low="0 in", high="0.25 in", default=".010",
    )  # fmt: skip
    given: str = choice(
        "Points lie on the", ("outside", "inside"), help="surface of the sheet", default="outside"
    )
    kind: str = choice("Kind", ("female", "male"), help="over the nose, or inside", default="female")
    thickness: Quantity = quantity(
        "in", "Sheet thickness", help="of the part", example=".025", low="0.01 in", high="0.25 in"
    )


@calculation(
    "traced-template",
    title="Template from points",
    summary="A smooth profile through points read off a drawing, how far they had to move, and its template.",
    spec=TracedProfile,
    results=("curve_length", "residual_rms", "residual_max", "worst_point", "arc_error"),
)
def traced_template(spec: TracedProfile, ws: Worksheet) -> Outcome:
    """Smooth the points as far as they were read, and make the template."""
    points = np.array([(p.x.value, p.y.value) for p in spec.points])
    made = smoothed(points, reading_error_in=spec.reading.value)
    ws.worked_out(
        "smoothing", f"points moved by {made.residual_rms_in:.4f} in rms, {made.residual_max_in:.4f} in at most",
        "the fairest curve that stays, in the mean, as near as the points were read", value=made.residual_max_in, unit="in",
    )  # fmt: skip
    if made.residual_max_in > 3 * max(spec.reading.value, 1e-9) and spec.reading.value > 0:
        x, y = points[made.worst]
        ws.note(f"Point {made.worst + 1} at ({x:g}, {y:g}) in stands out: read it again.")
    dense = _dense(made.points_in)
    kind: Kind = spec.kind  # type: ignore[assignment]
    hand: HandOf = spec.hand  # type: ignore[assignment]
    given: Surface = spec.given  # type: ignore[assignment]
    turn = np.cross(np.append(dense[1] - dense[0], 0), np.append(dense[-1] - dense[0], 0))[2]
    if turn < 0:
        raise GeometryError(
            "Points",
            because="they run the other way round",
            allowed="upper aft end, over the nose, lower aft end",
            mend="Enter them in reverse order",
        )
    one = profile_template(
        dense,
        Label(spec.part, spec.station.value, hand),
        given=given,
        touches="outside" if kind == "female" else "inside",
        thickness_in=spec.thickness.value,
        kind=kind,
    )
    return Outcome(
        tuple(ws.steps),
        {
            "curve_length": Result("length along the curve", length_in(one.profile), "in"),
            "residual_rms": Result("points moved, typically", made.residual_rms_in, "in", places=4),
            "residual_max": Result("points moved, at most", made.residual_max_in, "in", places=4),
            "worst_point": Result("point that moved most", float(made.worst + 1), "", places=0),
            "arc_error": Result(
                "arcs off the curve, at most", one.arc_error_in, "in", places=5, limit="bound"
            ),
        },
        picture=one.scene,
        templates=(one.scene,),
    )


def _dense(points: FloatArray) -> FloatArray:
    from ribwright.core.geometry import resampled

    return resampled(points, max(201, 4 * len(points)))
