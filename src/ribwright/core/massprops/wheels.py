"""Wheel alignment: toe-in of each main wheel from two distances to the centreline, camber by a level."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ribwright.core.audit import Outcome, Result, Worksheet, calculation, choice, quantity, rows, text
from ribwright.core.bench import CAUTIONS, Because, Finding, Reading, Requirement, compare
from ribwright.core.massprops.angles import reversed_level_deg, slope_angle_deg
from ribwright.core.massprops.rigging_picture import wheels_picture
from ribwright.core.massprops.unpublished import say_unpublished
from ribwright.core.units import Quantity
from ribwright.errors import GeometryError

_SHIM = "Shim the axle as the designer says; roll the aeroplane forward ten feet and measure again."


@dataclass(frozen=True, slots=True)
class Wheel:
    """A straight edge held against one wheel, level with the axle."""

    side: str = choice("Side", ("left", "right"), help="which wheel")
    front: Quantity = quantity(
        "in", "Front end to the centreline", help="of the straight edge, square to the centreline", example="38.20", low="1 in", high="500 in"
    )  # fmt: skip
    rear: Quantity = quantity(
        "in", "Rear end to the centreline", help="of the straight edge", example="38.36", low="1 in", high="500 in"
    )  # fmt: skip
    camber: Quantity | None = quantity(
        "deg", "Level on the wheel, upright", help="top leaning out is positive", example="1.2", low="-45 deg", high="45 deg", optional=True
    )  # fmt: skip
    camber_turned: Quantity | None = quantity(
        "deg", "Level turned round", help="the level turned end for end", example="-1.0", low="-45 deg", high="45 deg", optional=True
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Wheels:
    """Both main wheels."""

    title: str = text("Aeroplane", help="which one", example="Dunlin", default="")
    drawing: str = text("Drawing number", help="that gives toe and camber", example="DN-6100", default="")
    revision: str = text("Drawing revision", help="as printed", example="B", default="")
    wheels: tuple[Wheel, ...] = rows(Wheel, "Wheels", help="left and right", least=1)
    length: Quantity = quantity(
        "in", "Straight edge", help="length between the two measures", example="36", low="21 in", high="200 in"
    )  # fmt: skip
    distance_u: Quantity = quantity(
        "in", "Distance, plus or minus", help="of one measure", example="1/32", low="0.002 in", high="1 in", default="1/32 in"
    )  # fmt: skip
    toe_least: Quantity | None = quantity(
        "deg", "Toe-in of a wheel, least", help="the designer's; toe-out is negative", example="0", low="-5 deg", high="5 deg", optional=True
    )  # fmt: skip
    toe_most: Quantity | None = quantity(
        "deg", "Toe-in of a wheel, greatest", help="the designer's", example="0.5", low="-5 deg", high="5 deg", optional=True
    )  # fmt: skip

    def __post_init__(self) -> None:
        if len({w.side for w in self.wheels}) < len(self.wheels):
            raise GeometryError("Wheels", found="one side twice", allowed="left and right, each once", mend="Check the sides.")  # fmt: skip
        for w in self.wheels:
            if abs(w.rear.value - w.front.value) > self.length.value / 4:
                raise GeometryError(
                    f"Rear end to the centreline, {w.side}", found=f"front {w.front.text}, rear {w.rear.text}", allowed="nearly the same distance",
                    because="a wheel turned that far is a wrong measure", mend="Measure both ends to the same centreline.",
                )  # fmt: skip
        if (
            self.toe_least is not None
            and self.toe_most is not None
            and self.toe_least.value >= self.toe_most.value
        ):
            raise GeometryError(
                "Toe-in of a wheel, greatest", found=self.toe_most.text, allowed=f"above {self.toe_least.text}", mend="Check both limits.",
            )  # fmt: skip


@calculation(
    "wheel-alignment",
    title="Wheel alignment",
    summary="Toe-in and camber of the main wheels with their bands, from a straight edge and a level.",
    spec=Wheels,
    results=("toe_left", "toe_right", "toe_together", "toe_difference", "camber_left", "camber_right"),
)
def wheel_alignment(spec: Wheels, ws: Worksheet) -> Outcome:
    """Toe of each wheel against the designer's range, and what both come to."""
    length, u = spec.length.value, float(np.degrees(np.sqrt(2) * spec.distance_u.value / spec.length.value))
    toes: dict[str, float] = {}
    results: dict[str, Result] = {}
    findings: list[Finding] = []
    requirements: list[Requirement] = []
    for w in spec.wheels:
        toes[w.side] = ws.step(
            f"toe-in, {w.side}", slope_angle_deg, rise_in=w.rear.value - w.front.value, length_in=length
        )
        if spec.toe_least is not None or spec.toe_most is not None:
            needed = Requirement(
                name="toe-in", unit="deg", low=None if spec.toe_least is None else spec.toe_least.value, nominal=None,
                high=None if spec.toe_most is None else spec.toe_most.value, because=Because.drawing(spec.drawing, spec.revision, "toe as drawn"),
                how="a longer straight edge, plumb lines to the floor", when_low=_SHIM, when_high=_SHIM,
            )  # fmt: skip
            requirements.append(needed)
            findings.append(compare(needed, Reading(toes[w.side], "deg", u, where=w.side)))
    for side in ("left", "right"):
        toe = toes.get(side)
        results[f"toe_{side}"] = (
            Result(f"toe-in, {side}", "not measured")
            if toe is None
            else Result(f"toe-in, {side}", toe, "deg", toe - u, toe + u, 2)
        )
    both = len(toes) == 2
    wide = u * 2**0.5
    for key, label, value in (
        ("toe_together", "toe-in of both together", sum(toes.values())),
        ("toe_difference", "left less right", toes.get("left", 0.0) - toes.get("right", 0.0)),
    ):
        results[key] = (
            Result(label, value, "deg", value - wide, value + wide, 2)
            if both
            else Result(label, "only one wheel")
        )
    for side in ("left", "right"):
        results[f"camber_{side}"] = _camber(next((w for w in spec.wheels if w.side == side), None), side, ws)
    if not findings:
        ws.note("No range entered, so nothing is judged: toe and camber come from the designer's drawing.")
    say_unpublished(ws, "the camber is")
    cautions = (
        "At flying weight, rolled forward ten feet without brakes: rolling back or braking turns the wheels.",
        "Centreline by plumb lines from spinner and tail post.",
        *CAUTIONS,
    )
    picture = wheels_picture(spec, toes)
    return Outcome(tuple(ws.steps), results, tuple(requirements), tuple(findings), cautions, picture=picture)


def _camber(wheel: Wheel | None, side: str, ws: Worksheet) -> Result:
    label = f"camber, {side}"
    if wheel is None or wheel.camber is None:
        return Result(label, "not measured")
    if wheel.camber_turned is None:
        ws.note(f"{label.capitalize()}: read one way round only, the level's own error is in it.")
        return Result(label, wheel.camber.value, "deg", places=2)
    return Result(label, ws.step(label, reversed_level_deg, reading_deg=wheel.camber.value, turned_deg=wheel.camber_turned.value), "deg", places=2)  # fmt: skip
