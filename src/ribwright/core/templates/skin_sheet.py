"""The flat of a tapered nose skin as a calculation: blank, bend lines, holes on the sheet."""

from __future__ import annotations

from dataclasses import dataclass

from ribwright.core.audit import Outcome, Result, Worksheet, calculation, choice, quantity, rows, text
from ribwright.core.bench import CAUTIONS
from ribwright.core.scene import lettering_for
from ribwright.core.scene.items import HandOf
from ribwright.core.templates.profile_set import DrawnNose, between
from ribwright.core.templates.skin import SkinHole, skin_flat
from ribwright.core.units import Quantity, bound_text
from ribwright.errors import GeometryError


@dataclass(frozen=True, slots=True)
class HoleOnSkin:
    """A hole of the rolled skin."""

    station: Quantity = quantity(
        "in", "Station", help="along the span", example="12.5", low="-500 in", high="2000 in"
    )
    side: str = choice("Side", ("upper", "lower"), help="which flat or half of the bend it is on")
    along: Quantity = quantity(
        "in", "Along the skin", help="from the foremost line, on the middle of the sheet", example="3.25", low="0 in",
        high="120 in",
    )  # fmt: skip
    diameter: Quantity = quantity(
        "in", "Drill", help="as drilled", example=".098", low="0.02 in", high="1 in"
    )


@dataclass(frozen=True, slots=True)
class NoseSkin:
    """A skin rolled round a straight-tapered nose."""

    part: str = text("Part", help="the skin", example="DN-2101 nose skin, left aileron")
    hand: str = choice("Hand", ("none", "left", "right"), help="side of the aeroplane", default="none")
    thickness: Quantity = quantity(
        "in", "Sheet thickness", help="of the skin", example=".020", low="0.01 in", high="0.25 in"
    )
    ends: tuple[DrawnNose, ...] = rows(DrawnNose, "Ends", help="the two ends of the skin", least=2)
    holes: tuple[HoleOnSkin, ...] = rows(HoleOnSkin, "Holes", help="one row a hole", least=0)

    def __post_init__(self) -> None:
        if len(self.ends) != 2:
            raise GeometryError(
                "Ends", found=f"{len(self.ends)} sections", allowed="the two ends", mend="Flatten bay by bay."
            )


@calculation(
    "flat-skin",
    title="Flat of a nose skin",
    summary="The blank of a tapered rolled skin with bend lines and every hole at its place on the flat sheet.",
    spec=NoseSkin,
    results=("area", "span", "root_width", "tip_width", "stretch", "twist", "hole_x", "hole_y"),
)
def flat_skin(spec: NoseSkin, ws: Worksheet) -> Outcome:
    """Unroll the skin, carry the holes over, and say how far it is from a sheet that only bends."""
    root, tip = (between(spec.ends, end.station.value) for end in spec.ends)
    hand: HandOf = spec.hand  # type: ignore[assignment]
    holes = tuple(
        SkinHole(h.station.value, h.along.value, h.side, h.diameter.value, str(n))
        for n, h in enumerate(spec.holes, 1)
    )
    span = abs(tip.station_in - root.station_in)
    made, reduced = (
        skin_flat(
            root, tip, thickness_in=spec.thickness.value, holes=holes, title=spec.part, hand=hand,
            stations_in=(root.station_in, (root.station_in + tip.station_in) / 2, tip.station_in), lettering_in=height,
        )
        for height in (0.08, max(0.08, lettering_for(span)))
    )  # fmt: skip
    ws.worked_out(
        "flat", f"{made.area_in2:.1f} in² of sheet",
        "unrolled along the lines on which both ends have one direction; the middle of the sheet keeps its length",
        value=made.area_in2, unit="in²",
    )  # fmt: skip
    ws.worked_out(
        "can it be rolled", f"stretch {bound_text(made.flat.stretch_in, 'in', places=5)}, twist {made.flat.twist_deg:.3f} degrees",
        "largest difference of lengths between skin and flat; 0 for a sheet that only bends",
        value=made.flat.stretch_in, unit="in",
    )  # fmt: skip
    ws.assume(
        "neutral line", "the middle of the sheet",
        "a nose radius is many times the thickness; at a tight bend use the bend allowance", rung="practice",
    )  # fmt: skip
    spans = (root, tip)
    widths = tuple(_width(made.flat.first_in if n == 0 else made.flat.second_in) for n in range(len(spans)))
    return Outcome(
        tuple(ws.steps),
        {
            "area": Result("sheet in the skin", made.area_in2, "in²"),
            "span": Result(
                "length along the foremost line",
                float(made.flat.second_in[len(made.flat.second_in) // 2][0]),
                "in",
            ),
            "root_width": Result("width round the first end", widths[0], "in"),
            "tip_width": Result("width round the second end", widths[1], "in"),
            "stretch": Result("stretch needed", made.flat.stretch_in, "in", places=5, limit="bound"),
            "twist": Result("twist along the flats", made.flat.twist_deg, "deg"),
            "hole_x": Result(
                "holes along the foremost line", tuple(float(x) for x, _ in made.holes_in), "in"
            ),
            "hole_y": Result(
                "holes from the foremost line, lower side positive",
                tuple(float(y) for _, y in made.holes_in),
                "in",
            ),
        },
        cautions=(
            "Mark the flat with a felt tip; a scribed line on a part that stays is where it cracks.",
            *CAUTIONS,
        ),
        picture=reduced.scene,
        templates=(made.scene,),
    )


def _width(edge: object) -> float:
    import numpy as np

    return float(np.linalg.norm(np.diff(np.asarray(edge), axis=0), axis=1).sum())
