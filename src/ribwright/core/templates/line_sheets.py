"""Lines that must be straight or seen: the boards of a hinge line, and the sight line under a brake's nose."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from ribwright.core.audit import Outcome, Result, Worksheet, calculation, choice, quantity, rows, text
from ribwright.core.bench import CAUTIONS, Because, Finding, Reading, Requirement, compare
from ribwright.core.forming.bend import bend_allowance_in, setback_in
from ribwright.core.scene import (
    Circle,
    Dimension,
    Item,
    Line,
    Marker,
    Polyline,
    Scene,
    Text,
    hand_mark,
    lettering_for,
    orientation,
    together,
)
from ribwright.core.scene.items import HandOf
from ribwright.core.templates.gauges import sight_overlay
from ribwright.core.units import Quantity
from ribwright.errors import GeometryError, OutOfRangeError


@dataclass(frozen=True, slots=True)
class HingeCentre:
    """A hinge centre as drawn, and as measured where it was."""

    station: Quantity = quantity(
        "in", "Station", help="along the span", example="14", low="-500 in", high="2000 in"
    )
    aft: Quantity = quantity(
        "in",
        "Aft of the datum",
        help="as drawn, from the spar's face",
        example="1.25",
        low="-24 in",
        high="24 in",
    )
    up: Quantity = quantity(
        "in", "Above the board's foot", help="as drawn", example="1.5", low="0.1 in", high="24 in"
    )
    aft_measured: Quantity | None = quantity(
        "in",
        "Aft, measured",
        help="of the hinge as fitted",
        example="1.26",
        low="-24 in",
        high="24 in",
        optional=True,
    )
    up_measured: Quantity | None = quantity(
        "in", "Above, measured", help="of the hinge as fitted", example="1.49", low="0 in", high="24 in", optional=True
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class HingeLine:
    """Hinge centres that must lie on one straight line."""

    part: str = text("Surface", help="which hinge line", example="left aileron")
    drawing: str = text("Drawing number", help="where it is drawn", example="DN-2100", default="")
    revision: str = text("Drawing revision", help="as printed", example="B", default="")
    hand: str = choice("Hand", ("none", "left", "right"), help="side of the aeroplane", default="none")
    hinges: tuple[HingeCentre, ...] = rows(HingeCentre, "Hinges", help="at least the two ends", least=2)
    rod: Quantity = quantity(
        "in",
        "Rod",
        help="that is put through all boards",
        example="1/8",
        low="0.03 in",
        high="1 in",
        default="1/8",
    )
    allowed: Quantity = quantity(
        "in", "Off the line by at most", help="the drawing's; left out, 1/32 in", example="1/32", low="0.001 in",
        high="0.5 in", default="1/32",
    )  # fmt: skip
    uncertainty: Quantity = quantity(
        "in", "Plus or minus", help="of one measurement", example=".010", low="0 in", high="0.2 in", default=".010"
    )  # fmt: skip

    def __post_init__(self) -> None:
        at = sorted(h.station.value for h in self.hinges)
        if any(b - a < 0.25 for a, b in pairwise(at)):
            raise GeometryError(
                "Hinges", because="two hinges lie at one station", mend="Take one of them out"
            )


def off_line(stations: np.ndarray, aft: np.ndarray, up: np.ndarray) -> np.ndarray:
    """How far each centre lies aft and above the straight line through the two end ones, shape (n, 2)."""
    order = np.argsort(stations)
    a, b = order[0], order[-1]
    share = (stations - stations[a]) / (stations[b] - stations[a])
    places = np.column_stack([aft, up])
    return np.asarray(places - (places[a] + share[:, None] * (places[b] - places[a])))


@calculation(
    "hinge-line",
    title="Boards for a hinge line",
    summary="A board a hinge with its centre in place, a rod through all of them, and how far each hinge is off the line.",
    spec=HingeLine,
    results=("boards", "off_drawn", "off_measured", "worst", "at"),
)
def hinge_line(spec: HingeLine, ws: Worksheet) -> Outcome:
    """Drawn centres held against their own line, measured ones against the rod, and the boards at full size."""
    stations = np.array([h.station.value for h in spec.hinges])
    drawn = off_line(
        stations, np.array([h.aft.value for h in spec.hinges]), np.array([h.up.value for h in spec.hinges])
    )
    far = np.hypot(*drawn.T)
    if far.max() > 0.005:
        ws.note(
            f"The drawn centres themselves leave one straight line by {far.max():.3f} in at station "
            f"{stations[int(far.argmax())]:g} in: the surface would bind. Ask the designer."
        )
    ws.worked_out(
        "drawn centres off their line", f"{far.max():.4f} in at most", "straight line through the two end hinges",
        value=float(far.max()), unit="in",
    )  # fmt: skip
    limit = Requirement(
        name="hinge centre off the line", unit="in", low=None, nominal=0.0, high=spec.allowed.value,
        because=Because.drawing(spec.drawing, spec.revision, "hinge line"), how="rod through the end hinges; calipers from rod to pin",
        when_low="Nothing.", when_high="Shim or move that hinge; never bend the bracket.", refer_high=4 * spec.allowed.value,
        usual_u=0.01,
    )  # fmt: skip
    results = {
        "boards": Result("boards", float(len(spec.hinges)), "", places=0),
        "off_drawn": Result("drawn centres off their line", tuple(float(v) for v in far), "in", places=4),
    }
    findings: tuple[Finding, ...] = ()
    seen, of = drawn, "drawn"
    if all(h.aft_measured is not None and h.up_measured is not None for h in spec.hinges):
        measured = off_line(
            stations,
            np.array([h.aft_measured.value for h in spec.hinges if h.aft_measured]),
            np.array([h.up_measured.value for h in spec.hinges if h.up_measured]),
        )
        off = np.hypot(*measured.T)
        seen, of = measured, "measured"
        worst = int(off.argmax())
        u = 1.5 * spec.uncertainty.value  # the two ends and the hinge each carry the doubt of one measurement
        findings = tuple(
            compare(limit, Reading(float(value), "in", u, where=f"station {at:g} in"))
            for at, value in zip(stations, off, strict=True)
        )
        ws.worked_out(
            "measured centres off the rod", f"{off[worst]:.4f} in at most", "straight line through the end hinges as fitted",
            value=float(off[worst]), unit="in",
        )  # fmt: skip
        results |= {
            "off_measured": Result("measured centres off the line", tuple(float(v) for v in off), "in", places=4),
            "worst": Result("worst hinge is off by", float(off[worst]), "in", max(0.0, float(off[worst]) - u), float(off[worst]) + u),
            "at": Result("at station", float(stations[worst]), "in"),
        }  # fmt: skip
    hand: HandOf = spec.hand  # type: ignore[assignment]
    boards = tuple(_board(h, spec.part, spec.rod.value, hand) for h in spec.hinges)
    return Outcome(
        tuple(ws.steps),
        results,
        (limit,),
        findings,
        CAUTIONS,
        _overview(stations, seen, of, spec),
        (),
        boards,
    )


def _board(hinge: HingeCentre, part: str, rod: float, hand: HandOf) -> Scene:
    """A board that stands on its foot with its edge on the datum face; the rod's hole is the hinge centre."""
    x, y = hinge.aft.value, hinge.up.value
    right, tall = max(x, 0.0) + 1.1 + rod, y + 0.9 + rod
    left = min(x - 0.6 - rod, 0.0)
    if abs(x) < rod / 2 + 0.1 and left < 0:
        left = x - 0.6 - rod
    ring = ((left, 0.0), (right, 0.0), (right, tall), (left, tall))
    items: list[Item] = [
        Polyline(ring, True, "outline", "cut"),
        Line((0.0, 0.0), (0.0, tall), "centre", "marked"),
        Line((left, y), (right, y), "centre", "marked"),
        Marker((x, y), "hole", "hinge centre", rod, 0.08),
        Text((left + 0.08, tall - 0.17), f"STA {hinge.station.value:g}  {part}", 0.08),
        Text((left + 0.08, 0.07), "foot", 0.07),
        Text((0.05, 0.22), "datum line on the spar's face", 0.06),
        Dimension((0.0, tall), (x, tall), 0.25, None, 0.08) if abs(x) > 0.05 else Circle((x, y), rod, "thin"),
        Dimension((right, 0.0), (right, y), -0.3, None, 0.08),
    ]
    name = f"{part}, hinge board, station {hinge.station.value:g} in"
    return together(
        Scene(tuple(items)),
        hand_mark((left + 0.08, tall - 0.42), hand, 0.14),
        orientation((right - 0.45, 0.12), up=(0, 1), fwd=(-1, 0), size=0.28),
        title=name,
        described=f"{name}: hole of {rod:.3f} in, {x:.3f} in aft of the datum line and {y:.3f} in above the foot.",
    )  # fmt: skip


def _overview(stations: np.ndarray, off: np.ndarray, of: str, spec: HingeLine) -> Scene:
    """All hinges along the span, distances from the line enlarged."""
    order = np.argsort(stations)
    span = float(np.ptp(stations))
    h = lettering_for(span)
    grown = 12 * h / max(float(np.abs(off).max()), spec.allowed.value)
    first = float(stations[order[0]])
    low = min(0.0, float(off.min()) * grown)
    items: list[Item] = [Line((first, 0.0), (first + span, 0.0), "centre")]
    for k in order:
        x = float(stations[k])
        for n, size in enumerate((0.5 * h, 0.8 * h)):
            items.append(Circle((x, float(off[k, n]) * grown), size, "outline" if n else "thin"))
        items.append(Text((x, low - 4 * h), f"{x:g}", h, "middle"))
    items.append(
        Text(
            (first, 14 * h), f"{spec.part}: {of} hinge centres off their line, enlarged {grown:.0f} times", h
        )
    )
    items.append(Text((first, low - 7 * h), "small circle aft, large circle up; station below", h))
    worst = float(np.hypot(*off.T).max())
    return Scene(
        tuple(items), f"Hinge line of {spec.part}", f"{len(stations)} hinges; {of} centres off their line by {worst:.4f} in at most."
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class SightLine:
    """A bend on a folding brake."""

    part: str = text("Part", help="which bend", example="DN-2103 spar, upper flange", default="")
    thickness: Quantity = quantity(
        "in", "Sheet thickness", help="of the part", example=".040", low="0.01 in", high="0.25 in"
    )
    radius: Quantity = quantity(
        "in", "Inside radius", help="of the bend", example="1/8", low="0.02 in", high="4 in"
    )
    angle: Quantity = quantity(
        "deg",
        "Bend",
        help="turned by the sheet, 90 for a square flange",
        example="90",
        low="5 deg",
        high="170 deg",
        default="90",
    )
    flange: Quantity = quantity(
        "in", "Flange", help="outside length, to the mold line", example="3/4", low="0.1 in", high="24 in"
    )
    length: Quantity = quantity(
        "in", "Strip length", help="of the clear strip", example="6", low="1 in", high="120 in", default="6"
    )  # fmt: skip
    least_flange: Quantity | None = quantity(
        "in", "Shortest flange of the brake", help="flat, from where the bend ends; if it is known", example="1/4",
        low="0.02 in", high="4 in", optional=True,
    )  # fmt: skip


@calculation(
    "sight-line",
    title="Sight line for the brake",
    summary="A clear strip for the blank: where the bend begins and ends, and the line to see under the brake's nose.",
    spec=SightLine,
    results=("allowance", "flat", "begins", "sight", "ends"),
)
def sight_line(spec: SightLine, ws: Worksheet) -> Outcome:
    """Bend allowance and setback by the handbook's formulas; the sight line one radius from where the bend begins."""
    r, t, angle = spec.radius.value, spec.thickness.value, spec.angle.value
    allowance = ws.step("bend allowance", bend_allowance_in, radius_in=r, thickness_in=t, angle_deg=angle)
    setback = ws.step("setback", setback_in, radius_in=r, thickness_in=t, angle_deg=angle)
    flat = spec.flange.value - setback
    if flat <= 0:
        raise GeometryError(
            "Flange", because="the flange is shorter than its bend needs", found=spec.flange.text,
            allowed=f"more than {setback:.3f} in", mend="Use a smaller radius or a longer flange",
        )  # fmt: skip
    if spec.least_flange is not None and flat < spec.least_flange.value:
        raise GeometryError(
            "Flange", because="it is shorter than the brake can hold", found=f"{flat:.3f} in flat",
            allowed=f"at least {spec.least_flange.value:.3f} in", mend="Bend it longer and trim it, or form it over a block",
        )  # fmt: skip
    if r >= allowance + flat:
        raise OutOfRangeError(
            "Inside radius", found=spec.radius.text, allowed="less than the flat of bend and flange",
            mend="The sight line would lie off the sheet: form it over a block.",
        )  # fmt: skip
    begins = flat + allowance
    ws.worked_out(
        "bend begins, from the free edge",
        f"{begins:.4f} in",
        "flat of the flange and the bend",
        value=begins,
        unit="in",
    )
    ws.worked_out(
        "sight line, from the free edge", f"{begins - r:.4f} in",
        "one inside radius from where the bend begins, the free side; this line exactly under the nose", value=begins - r, unit="in",
    )  # fmt: skip
    scene = sight_overlay(radius_in=r, bend_allowance_in=allowance, length_in=spec.length.value)
    return Outcome(
        tuple(ws.steps),
        {
            "allowance": Result("bend allowance", allowance, "in", places=4),
            "flat": Result("flat of the flange", flat, "in", places=4),
            "begins": Result("bend begins, from the free edge", begins, "in", places=4),
            "sight": Result("sight line, from the free edge", begins - r, "in", places=4),
            "ends": Result("bend ends, from the free edge", flat, "in", places=4),
        },
        cautions=(
            "Lines on the blank with a felt tip; a scribed line in a bend is where it cracks.",
            *CAUTIONS,
        ),
        picture=scene,
        templates=(scene,),
    )
