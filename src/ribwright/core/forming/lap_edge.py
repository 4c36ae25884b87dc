"""The free edge of a lap, bent in by a few degrees so that it lies tight when the row is fastened."""

from __future__ import annotations

import math
from dataclasses import dataclass

from ribwright.core.audit import Outcome, Result, Worksheet, calculation, quantity, text
from ribwright.core.bench import CAUTIONS, Because, Requirement
from ribwright.core.forming.stock import alloy_field, grain_field, sheet_of, thickness_field, yield_field
from ribwright.core.units import Quantity
from ribwright.errors import OutOfRangeError


@dataclass(frozen=True, slots=True)
class LapEdge:
    """The outer sheet of a lap, from its rivet row to its free edge."""

    title: str = text("Lap", help="which skin, which edge", example="nose skin, upper lap")
    alloy: str = alloy_field()
    thickness: Quantity = thickness_field()
    grain: str = grain_field()
    certificate: Quantity | None = yield_field()
    edge: Quantity = quantity(
        "in", "Edge distance", help="from the rivet row to the free edge", example="5/16", low="0.06 in", high="2 in"
    )  # fmt: skip
    lip: Quantity = quantity(
        "in", "Width of the lip", help="from the bend line to the free edge", example="3/16", low="0.04 in", high="2 in"
    )  # fmt: skip
    angle: Quantity = quantity(
        "deg", "Bent in by", help="after it is let go; common practice 3 to 5", example="4", low="0.5 deg", high="15 deg",
        default="4",
    )  # fmt: skip

    def __post_init__(self) -> None:
        if self.lip.value >= self.edge.value:
            raise OutOfRangeError(
                "Width of the lip", found=self.lip.text, allowed=f"less than {self.edge.text}",
                mend="Keep the bend line between the rivet row and the edge.",
            )  # fmt: skip


@calculation(
    "lap-edge",
    title="Lap edge bent in",
    summary="How far the lip stands before it is fastened, and whether fastening springs it tight or flattens it for good.",
    spec=LapEdge,
    results=("rise", "pressure", "stress", "flattens_at"),
)
def lap_edge(spec: LapEdge, ws: Worksheet) -> Outcome:
    """A strip held at the rivet row, its edge pushed back by the sheet below."""
    sheet, _ = sheet_of(
        ws, alloy=spec.alloy, thickness=spec.thickness, grain=spec.grain, certificate=spec.certificate
    )
    t, edge, lip = sheet.thickness_in, float(spec.edge.value), float(spec.lip.value)
    rise = lip * math.sin(math.radians(float(spec.angle.value)))
    plane = sheet.modulus_psi / (1.0 - sheet.poisson**2)
    pressure = 3.0 * plane * t**3 / 12.0 * rise / edge**3
    stress = 6.0 * pressure * edge / t**2
    # plane strain begins to yield a little above the plain yield; clad faces yield first and don't matter here
    yields = sheet.core.yield_psi / math.sqrt(1.0 - sheet.poisson + sheet.poisson**2)
    flattens = math.degrees(math.asin(min(yields / stress * rise / lip, 1.0)))
    because = "a strip held at the rivet row, pushed back at its edge (docs/physics/forming.md, the lap edge)"
    ws.worked_out("lip stands by", f"{rise:.4f} in", because, value=rise, unit="in")
    ws.worked_out("edge presses with", f"{pressure:.2f} lb an inch", because, value=pressure, unit="lb/in")
    ws.worked_out("bending stress at the row", f"{stress:.0f} psi", because, value=stress, unit="psi")
    ws.note(
        "So short a bend is outside the bend law: the angle on the tool is found on a scrap, not worked out."
    )
    cautions = list(CAUTIONS)
    if stress > yields:
        cautions.append(
            f"Fastening flattens the lip in part for good: more than {flattens:.1f}° brings no more pressure."
        )
    cautions.append(
        "Bend it before the holes are dimpled or countersunk, and in one even stroke along the whole edge."
    )
    least, most = lip * math.sin(math.radians(2.0)), lip * math.sin(math.radians(6.0))
    needed = Requirement(
        "edge of the lap stands in by", "in", least, rise, most,
        Because.published("practice", "an edge bent in by 2 to 6 degrees lies tight and shows no wave", "practice"),
        "feeler under a straight edge laid on the inside, before it is fastened", "Run the edge through again, a little more.",
        "Ease it back on a flat block: an edge bent too far lifts the sheet between rivets.", usual_u=0.002,
    )  # fmt: skip
    return Outcome(
        tuple(ws.steps),
        {
            "rise": Result("edge stands in by", rise, "in", places=4),
            "pressure": Result("edge presses with", pressure, "lb/in"),
            "stress": Result("bending stress at the rivet row", stress, "psi"),
            "flattens_at": Result("angle from which fastening flattens it", flattens, "deg", places=1),
        },
        requirements=(needed,),
        cautions=tuple(cautions),
    )
