"""Guide plate and fan strip as calculations."""

from __future__ import annotations

from dataclasses import dataclass

from ribwright.core.audit import Outcome, Result, Worksheet, calculation, quantity, whole
from ribwright.core.templates.gauges import guide_plate
from ribwright.core.templates.strips import fan_strip
from ribwright.core.units import Quantity


@dataclass(frozen=True, slots=True)
class SetGuide:
    """A rivet set between neighbours that are already there."""

    set_diameter: Quantity = quantity(
        "in", "Set diameter", help="of its shank", example=".401", low="0.1 in", high="2 in"
    )
    pitch: Quantity = quantity(
        "in", "Pitch", help="to the neighbouring rivets", example="1", low="0.1 in", high="6 in"
    )
    head_diameter: Quantity = quantity(
        "in",
        "Neighbours' head diameter",
        help="manufactured heads",
        example=".179",
        low="0.05 in",
        high="1 in",
    )
    clearance: Quantity = quantity(
        "in",
        "Clearance",
        help="round the set and to the heads",
        example=".015",
        low="0.002 in",
        high="0.1 in",
        default=".015",
    )


@calculation(
    "guide-plate",
    title="Guide plate for a rivet set",
    summary="The plate that keeps a set over its rivet and drops between the neighbouring heads.",
    spec=SetGuide,
    results=("length", "hole"),
)
def guide(spec: SetGuide, ws: Worksheet) -> Outcome:
    """Plate as long as the neighbours allow, refused when the set does not fit between them."""
    c = spec.clearance.value
    scene = guide_plate(
        set_diameter_in=spec.set_diameter.value, pitch_in=spec.pitch.value, head_diameter_in=spec.head_diameter.value,
        clearance_in=c,
    )  # fmt: skip
    length = 2 * (spec.pitch.value - spec.head_diameter.value / 2 - c)
    hole = spec.set_diameter.value + 2 * c
    ws.worked_out(
        "plate along the row", f"{length:.3f} in", "clear of both neighbouring heads", value=length, unit="in"
    )
    ws.worked_out("hole", f"{hole:.3f} in", "set plus clearance all round", value=hole, unit="in")
    return Outcome(
        tuple(ws.steps),
        {
            "length": Result("plate along the row", length, "in"),
            "hole": Result("hole for the set", hole, "in"),
        },
        picture=scene,
        templates=(scene,),
    )


@dataclass(frozen=True, slots=True)
class Fan:
    """A strip that divides a row evenly."""

    spaces: int = whole("Spaces", help="equal spaces between the end holes", example="8", low=1, high=200)
    least: Quantity = quantity(
        "in", "Least pitch", help="at the lower edge", example=".75", low="0.1 in", high="6 in"
    )
    greatest: Quantity = quantity(
        "in", "Greatest pitch", help="at the upper edge", example="1.25", low="0.1 in", high="8 in"
    )
    width: Quantity = quantity(
        "in", "Width", help="between the edges", example="6", low="1 in", high="24 in", default="6"
    )


@calculation(
    "fan-strip",
    title="Fan for equal spaces",
    summary="Spreading lines that divide any row between two end holes into equal spaces.",
    spec=Fan,
    results=("shortest", "longest"),
)
def fan(spec: Fan, ws: Worksheet) -> Outcome:
    """The fan and the rows that it can divide."""
    scene = fan_strip(
        spec.spaces,
        least_pitch_in=spec.least.value,
        greatest_pitch_in=spec.greatest.value,
        width_in=spec.width.value,
    )
    low, high = spec.spaces * spec.least.value, spec.spaces * spec.greatest.value
    ws.worked_out(
        "rows it divides",
        f"{low:.3f} to {high:.3f} in",
        "spaces times pitch at either edge",
        value=high,
        unit="in",
    )
    return Outcome(
        tuple(ws.steps),
        {"shortest": Result("shortest row", low, "in"), "longest": Result("longest row", high, "in")},
        picture=scene,
        templates=(scene,),
    )
