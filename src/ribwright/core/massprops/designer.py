"""What the designer gives for the empty aeroplane, and how good scale and estimates are: fields and checks, once."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from ribwright.core.audit import quantity
from ribwright.core.bench import Because, Finding, Reading, Requirement, compare
from ribwright.core.massprops.chord import (
    aft_limit_field,
    check_chord,
    check_limits,
    forward_limit_field,
    lemac_field,
    mac_field,
)
from ribwright.core.tables import table
from ribwright.core.units import Quantity

_HEAVY = "Nothing here lowers it: weigh what is left before it goes in, and ask what may be left out."


def scale_field() -> Any:
    """How good the scale is that parts are weighed on."""
    return quantity(
        "lb", "Scale, plus or minus", help="of the scale that parts are weighed on", example="0.05", low="0 lb", high="20 lb", default="0.05 lb"
    )  # fmt: skip


def estimate_field() -> Any:
    """How good one estimate is."""
    return quantity(
        "%", "Estimate, plus or minus", help="of one estimate", example="10", low="0 %", high="100 %", default="10 %"
    )  # fmt: skip


def designer_field() -> Any:
    """The designer's empty weight."""
    return quantity(
        "lb", "Designer's empty weight", help="the figure of the drawings", example="780", low="1 lb", high="20000 lb", optional=True
    )  # fmt: skip


def most_field() -> Any:
    """The designer's greatest empty weight."""
    return quantity(
        "lb", "Greatest empty weight", help="the designer's, if given", example="830", low="1 lb", high="20000 lb", optional=True
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class DesignerRange:
    """The designer's figures that a parts list is held against."""

    designer: Quantity | None = designer_field()
    most: Quantity | None = most_field()
    forward_limit: Quantity | None = forward_limit_field()
    aft_limit: Quantity | None = aft_limit_field()
    lemac: Quantity | None = lemac_field()
    mac: Quantity | None = mac_field()
    scale_u: Quantity = scale_field()
    estimate_u: Quantity = estimate_field()
    list_arm_u: Quantity = quantity(
        "in", "Arms, plus or minus", help="of an arm of the parts list", example="1", low="0 in", high="100 in", default="1 in"
    )  # fmt: skip

    def __post_init__(self) -> None:
        check_chord(self.lemac, self.mac)
        check_limits(self.forward_limit, self.aft_limit)


def usual_empty_lb(designer_lb: float) -> tuple[float, float]:
    """Least and greatest empty weight that amateur-built aeroplanes of this design usually come to."""
    grown = table("massprops/weight-growth")
    return (
        designer_lb * (1 + grown.cell("empty weight", "least").canonical),
        designer_lb * (1 + grown.cell("empty weight", "most").canonical),
    )


def empty_weight_finding(
    weight: float, u_weight: float, most: Quantity | None, where: str = "forecast"
) -> tuple[list[Requirement], list[Finding]]:
    """An empty weight against the designer's greatest; nothing when none was entered."""
    if most is None:
        return [], []
    needed = Requirement(
        name="empty weight", unit="lb", low=None, nominal=None, high=most.value,
        because=Because.drawing("", "", "the designer's greatest empty weight"), how="weigh the parts that are only estimated",
        when_low="Go on.", when_high=_HEAVY,
    )  # fmt: skip
    return [needed], [compare(needed, Reading(weight, "lb", u_weight, where=where))]
