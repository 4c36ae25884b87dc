"""A set of profile templates for a straight-tapered rolled nose, from two drawn sections."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from ribwright.core.audit import Outcome, Result, Worksheet, calculation, choice, quantity, rows, text
from ribwright.core.geometry import length_in
from ribwright.core.scene.items import HandOf
from ribwright.core.templates.profile import BoardHole, Kind, Label, Surface, profile_template
from ribwright.core.templates.skin import NoseStation, nose_at
from ribwright.core.units import Quantity
from ribwright.errors import GeometryError, OutsideTableError


@dataclass(frozen=True, slots=True)
class DrawnNose:
    """A rolled nose as the drawing gives it at one station."""

    station: Quantity = quantity(
        "in", "Station", help="along the span", example="0", low="-500 in", high="2000 in"
    )
    inside_radius: Quantity = quantity(
        "in", "Inside radius", help="of the rolled nose", example="1.12", low="0.05 in", high="24 in"
    )
    upper_flat: Quantity = quantity(
        "in",
        "Upper flat",
        help="from the end of the bend to the aft edge",
        example="3",
        low="0.1 in",
        high="96 in",
    )
    lower_flat: Quantity = quantity(
        "in",
        "Lower flat",
        help="from the end of the bend to the aft edge",
        example="3",
        low="0.1 in",
        high="96 in",
    )
    slope: Quantity = quantity(
        "deg",
        "Wedge half-angle",
        help="of each flat to the chord line",
        example="5.5",
        low="-30 deg",
        high="30 deg",
    )
    hinge_aft: Quantity | None = quantity(
        "in", "Hinge aft of the nose", help="from the foremost point; leave empty for no hinge hole", example="3.2",
        low="-24 in", high="96 in", optional=True,
    )  # fmt: skip
    hinge_up: Quantity | None = quantity(
        "in", "Hinge above the chord line", help="negative below", example="-.4", low="-24 in", high="24 in",
        optional=True,
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class AtStation:
    """A station at which a template is wanted."""

    station: Quantity = quantity(
        "in", "Station", help="along the span", example="14.5", low="-500 in", high="2000 in"
    )


@dataclass(frozen=True, slots=True)
class ProfileSet:
    """Templates that check a rolled nose between two drawn ends."""

    part: str = text("Part", help="what is rolled", example="DN-2101 nose skin, left aileron")
    drawing: str = text("Drawing number", help="where the nose is drawn", example="DN-2100", default="")
    revision: str = text("Drawing revision", help="as printed", example="B", default="")
    hand: str = choice("Hand", ("none", "left", "right"), help="side of the aeroplane", default="none")
    thickness: Quantity = quantity(
        "in", "Sheet thickness", help="of the skin", example=".020", low="0.01 in", high="0.25 in"
    )
    ends: tuple[DrawnNose, ...] = rows(DrawnNose, "Drawn sections", help="at least the two ends", least=2)
    stations: tuple[AtStation, ...] = rows(AtStation, "Templates at", help="one row a template", least=1)
    kind: str = choice("Kind", ("female", "male"), help="over the nose, or inside it", default="female")
    touches: str = choice(
        "Held against", ("outside", "inside"), help="which surface of the sheet it checks", default="outside"
    )
    backing: Quantity = quantity(
        "in", "Board round the profile", help="width of a female template's board", example="1.25",
        low="0.4 in", high="6 in", default="1.25",
    )  # fmt: skip
    kerf: Quantity = quantity(
        "in", "Width of the cut", help="of the laser or saw; 0 for scissors", example="0", low="0 in",
        high="0.25 in", default="0",
    )  # fmt: skip

    def __post_init__(self) -> None:
        if (self.kind == "female") != (self.touches == "outside"):
            raise GeometryError(
                "Held against",
                found=f"a {self.kind} template against the {self.touches}",
                allowed="female outside, male inside",
                mend="A female template goes over the nose and touches its outside.",
            )


def between(ends: tuple[DrawnNose, ...], station_in: float) -> NoseStation:
    """The nose at a station of the straight taper between its neighbouring drawn sections.

    Raises:
        GeometryError: two sections at one station.
        OutsideTableError: the station lies beyond the drawn sections.
    """
    order = sorted(ends, key=lambda e: e.station.value)
    for a, b in pairwise(order):
        low, high = a.station.value, b.station.value
        if high - low < 1e-6:
            raise GeometryError(
                "Drawn sections", because="two sections lie at one station", found=a.station.text
            )
        if low - 1e-9 <= station_in <= high + 1e-9:
            t = (station_in - low) / (high - low)

            def mixed(name: str, a: DrawnNose = a, b: DrawnNose = b, t: float = t) -> float:
                return float((1 - t) * getattr(a, name).value + t * getattr(b, name).value)

            return NoseStation(
                station_in, mixed("inside_radius"), mixed("upper_flat"), mixed("lower_flat"), mixed("slope")
            )
    raise OutsideTableError(
        "Templates at",
        found=f"{station_in:g} in",
        allowed=f"{order[0].station.value:g} to {order[-1].station.value:g} in",
        mend="Draw the section there, or choose a station between",
    )


HINGE_ROD_IN = 0.125


def hinge_at(ends: tuple[DrawnNose, ...], station_in: float) -> tuple[BoardHole, ...]:
    """The hinge centre at a station, on the straight line through the drawn ones; none where it isn't drawn."""
    drawn = sorted((e for e in ends if e.hinge_aft is not None), key=lambda e: e.station.value)
    for a, b in pairwise(drawn):
        if a.station.value - 1e-9 <= station_in <= b.station.value + 1e-9:
            t = (station_in - a.station.value) / (b.station.value - a.station.value)
            x, y = (
                (1 - t) * (p.value if p else 0.0) + t * (q.value if q else 0.0)
                for p, q in ((a.hinge_aft, b.hinge_aft), (a.hinge_up, b.hinge_up))
            )
            return (BoardHole((x, y), HINGE_ROD_IN, "hinge centre"),)
    return ()


@calculation(
    "profile-templates",
    title="Profile templates of a rolled nose",
    summary="Full-size boards that check a tapered rolled nose at its stations, sheet thickness allowed for.",
    spec=ProfileSet,
    results=("templates", "radii", "curve_lengths", "arc_error"),
)
def profile_templates(spec: ProfileSet, ws: Worksheet) -> Outcome:
    """One template a station, its radius and length along the curve, all at full size."""
    where = f"drawing {spec.drawing or 'without number'}, revision {spec.revision or '-'}"
    t = spec.thickness.value
    ws.called_out("sheet thickness", spec.thickness, where)
    for end in spec.ends:
        ws.called_out(f"inside radius at station {end.station.text}", end.inside_radius, where)
    slopes = {end.slope.value for end in spec.ends}
    if len(slopes) > 1:
        ws.note(
            "The wedge angle changes along the span: between the drawn sections it is taken in proportion, and the "
            "skin twists. `flat-skin` says whether it can be rolled at all."
        )
    hand: HandOf = spec.hand  # type: ignore[assignment]
    kind: Kind = spec.kind  # type: ignore[assignment]
    touches: Surface = spec.touches  # type: ignore[assignment]
    made = []
    radii, lengths = [], []
    for row in spec.stations:
        nose = between(spec.ends, row.station.value)
        template = profile_template(
            nose_at(nose, 0.0),
            Label(spec.part, nose.station_in, hand),
            given="inside",
            touches=touches,
            thickness_in=t,
            kind=kind,
            backing_in=spec.backing.value,
            kerf_in=spec.kerf.value,
            holes=hinge_at(spec.ends, nose.station_in),
        )
        radius = nose.inside_radius_in + (t if touches == "outside" else 0.0)
        ws.worked_out(
            f"radius of the template at station {nose.station_in:g}", f"{radius:.4f} in",
            f"straight taper of the inside radius{', plus the sheet' if touches == 'outside' else ''}",
            value=radius, unit="in",
        )  # fmt: skip
        radii.append(radius)
        lengths.append(length_in(template.profile))
        made.append(template)
    return Outcome(
        tuple(ws.steps),
        {
            "templates": Result("templates", float(len(made)), "", places=0),
            "radii": Result("radius checked, by template", tuple(radii), "in"),
            "curve_lengths": Result("length along the curve, by template", tuple(lengths), "in"),
            "arc_error": Result(
                "arcs off the exact curve, at most",
                max(m.arc_error_in for m in made),
                "in",
                places=5,
                limit="bound",
            ),
        },
        picture=made[0].scene,
        templates=tuple(one.scene for one in made),
    )
