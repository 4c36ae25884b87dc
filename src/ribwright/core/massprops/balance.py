"""A control surface about its hinge line: by hanging it, by building it up, and what paint and tab add.

Moments are positive when the surface is tail-heavy: arms are positive aft of the hinge line.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ribwright.core.audit import (
    Outcome,
    Result,
    Worksheet,
    calculation,
    choice,
    formula,
    quantity,
    rows,
    text,
)
from ribwright.core.bench import CAUTIONS, Because, Finding, Reading, Requirement, compare
from ribwright.core.massprops.balance_picture import balance_picture
from ribwright.core.units import Quantity, number_text, shown
from ribwright.errors import GeometryError, MissingError

Floats = NDArray[np.float64]
NOT_FLUTTER = "A balance within limits does not prove freedom from flutter: the designer's limits and a flight test do their part."
BARE, PAINT, TAB, COUNTER, OTHER = "structure", "paint", "tab", "counterweight", "other"


@formula(
    "balance.moment",
    symbol="M",
    shown="weight_lb * arm_in",
    unit="lb·in",
    source="tm-55-1500-342-23",
    locator="par. 2-7, principle of moments, figure 2-1",
    rung="seen",
    limits={"weight_lb": (-500.0, 500.0), "arm_in": (-100.0, 100.0)},
)
def hinge_moment_lb_in(*, weight_lb: ArrayLike, arm_in: ArrayLike) -> Floats:
    """Static moment of a weight about the hinge line; behind it positive, which is tail-heavy."""
    return np.asarray(weight_lb, float) * np.asarray(arm_in, float)


@formula(
    "balance.counterweight",
    symbol="W",
    shown="(wanted_lb_in - present_lb_in) / arm_in",
    unit="lb",
    source="tm-55-1500-342-23",
    locator="par. 2-7, principle of moments, figure 2-1",
    rung="seen",
    limits={"wanted_lb_in": (-200.0, 200.0), "present_lb_in": (-200.0, 200.0), "arm_in": (-100.0, -0.5)},
)
def counterweight_lb(*, wanted_lb_in: ArrayLike, present_lb_in: ArrayLike, arm_in: ArrayLike) -> Floats:
    """Counterweight ahead of the hinge that brings the moment to what is wanted; negative means take weight off."""
    return (np.asarray(wanted_lb_in, float) - np.asarray(present_lb_in, float)) / np.asarray(arm_in, float)


@dataclass(frozen=True, slots=True)
class Piece:
    """A part of the surface, its paint, its tab or its counterweight."""

    name: str = text("Piece", help="what it is", example="skins")
    kind: str = choice("Kind", (BARE, PAINT, TAB, COUNTER, OTHER), help="so that paint and tab are summed", default=BARE)  # fmt: skip
    weight: Quantity = quantity("lb", "Weight", help="weighed", example="2.1", low="0 lb", high="500 lb")
    arm: Quantity = quantity(
        "in", "Arm from the hinge", help="of its own CG, aft positive, ahead negative, along the chord", example="4.2", low="-100 in", high="100 in"
    )  # fmt: skip
    weight_u: Quantity = quantity(
        "lb", "Weight, plus or minus", help="how far it may be off", example="0.01", low="0 lb", high="20 lb", default="0.01 lb"
    )  # fmt: skip
    arm_u: Quantity = quantity(
        "in", "Arm, plus or minus", help="how far it may be off", example="0.1", low="0 in", high="20 in", default="0.1 in"
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Surface:
    """A surface hung on its hinge line, chord level, or built up from its pieces, or both."""

    title: str = text("Surface", help="which one", example="left aileron", default="")
    drawing: str = text("Drawing number", help="that gives the limits", example="DN-2100", default="")
    revision: str = text("Drawing revision", help="as printed", example="B", default="")
    scale: Quantity | None = quantity(
        "lb", "Scale at the support", help="hinge pins on a knife edge, chord level, one support on a scale; its tare taken off", example="0.85", low="0 lb", high="500 lb", optional=True
    )  # fmt: skip
    second: Quantity | None = quantity(
        "lb", "Scale when let down slowly", help="the same from the other side: hinge friction drops out of the mean", example="0.81", low="0 lb", high="500 lb", optional=True
    )  # fmt: skip
    support_arm: Quantity | None = quantity(
        "in", "Support from the hinge", help="aft positive; ahead negative when the nose rests on the scale", example="10.5", low="-100 in", high="100 in", optional=True
    )  # fmt: skip
    scale_u: Quantity = quantity(
        "lb", "Scale, plus or minus", help="how far it may be off", example="0.01", low="0 lb", high="20 lb", default="0.01 lb"
    )  # fmt: skip
    support_u: Quantity = quantity(
        "in", "Support arm, plus or minus", help="how far it may be off", example="0.05", low="0 in", high="5 in", default="0.06 in"
    )  # fmt: skip
    pieces: tuple[Piece, ...] = rows(
        Piece, "Pieces", help="for the build-up; what was hung goes in, what comes later too"
    )
    hung: str = choice(
        "Hung with", ("everything", "without paint", "without tab", "bare: no paint, tab or counterweight"), help="what was on it when it hung", default="everything"
    )  # fmt: skip
    least: Quantity | None = quantity(
        "lb·in", "Limit, least", help="the designer's; tail-heavy is positive, nose-heavy negative", example="-2", low="-500 lb·in", high="500 lb·in", optional=True
    )  # fmt: skip
    most: Quantity | None = quantity(
        "lb·in", "Limit, greatest", help="the designer's; tail-heavy is positive", example="2", low="-500 lb·in", high="500 lb·in", optional=True
    )  # fmt: skip
    counter_arm: Quantity | None = quantity(
        "in", "Counterweight could sit at", help="ahead of the hinge, negative", example="-2.5", low="-100 in", high="-0.5 in", optional=True
    )  # fmt: skip

    def __post_init__(self) -> None:
        if (self.scale is None) != (self.support_arm is None):
            raise MissingError(
                "Support from the hinge", allowed="scale and its arm together", mend="Enter both or neither."
            )
        if self.second is not None and self.scale is None:
            raise MissingError("Scale at the support", allowed="before the second reading")
        if self.scale is None and not self.pieces:
            raise MissingError(
                "Surface",
                allowed="a scale reading, or pieces",
                mend="Hang it, or enter its pieces, best both.",
            )
        if self.support_arm is not None and abs(self.support_arm.value) < 0.5:
            raise GeometryError(
                "Support from the hinge", found=self.support_arm.text, allowed="half an inch or more",
                because="on the hinge line the scale shows nothing", mend="Support it near the trailing edge or the nose.",
            )  # fmt: skip
        if self.least is not None and self.most is not None and self.least.value >= self.most.value:
            raise GeometryError(
                "Limit, greatest", found=f"{self.most.text}, least {self.least.text}", allowed="above the least",
                mend="Check both, and the sign: tail-heavy is positive.",
            )  # fmt: skip
        for piece in self.pieces:
            if piece.kind == COUNTER and piece.arm.value >= 0:
                raise GeometryError(
                    f"Pieces, arm of {piece.name}", found=piece.arm.text, allowed="negative",
                    because="a counterweight sits ahead of the hinge", mend="Enter its arm with a minus.",
                )  # fmt: skip


SURELY = 3.29 / 1.96
"""From a band that holds 19 in 20 to one that holds 999 in 1,000, both of the normal distribution."""

_LEFT_OUT = {
    "everything": (),
    "without paint": (PAINT,),
    "without tab": (TAB,),
    "bare: no paint, tab or counterweight": (PAINT, TAB, COUNTER),
}


@calculation(
    "surface-balance",
    title="Balance of a control surface",
    summary="Static moment about the hinge by hanging and by build-up, with paint, tab and counterweight.",
    spec=Surface,
    results=("moment", "hung_moment", "built_moment", "difference", "paint", "tab", "counterweights", "weight", "counterweight"),
)  # fmt: skip
def surface_balance(spec: Surface, ws: Worksheet) -> Outcome:
    """Both methods, their agreement, the moment in flight order against the designer's limits."""
    left_out = _LEFT_OUT[spec.hung]
    later, u_later = _built(spec, [p for p in spec.pieces if p.kind in left_out])
    built, u_built = _built(spec, list(spec.pieces), ws)
    hung = _hung(spec, ws) if spec.scale is not None else None
    results = {
        "moment": Result("moment about the hinge, tail-heavy positive", built, "lb·in", built - u_built, built + u_built, 2),
        "hung_moment": Result("as it hung", "not hung"),
        "built_moment": Result("by build-up", "no pieces entered"),
        "difference": Result("hung less built up", "only one method entered"),
        **{
            f"{kind}" if kind != COUNTER else "counterweights": Result(
                f"of it {kind}", _built(spec, [p for p in spec.pieces if p.kind == kind])[0], "lb·in", places=2
            )
            for kind in (PAINT, TAB, COUNTER)
        },
        "weight": Result("weight of the pieces", sum(p.weight.value for p in spec.pieces), "lb", places=2),
        "counterweight": Result("counterweight", "no place for it entered"),
    }  # fmt: skip
    if spec.pieces:
        results["built_moment"] = Result("by build-up, everything on", built, "lb·in", built - u_built, built + u_built, 2)  # fmt: skip
    moment, u = built, u_built
    findings: list[Finding] = []
    requirements: list[Requirement] = []
    if hung is not None:
        value, wide = hung
        results["hung_moment"] = Result("as it hung", value, "lb·in", value - wide, value + wide, 2)
        moment, u = value + later, float(np.hypot(wide, u_later))
        on_it = [p for p in spec.pieces if p.kind not in left_out]
        if on_it:
            same, u_same = _built(spec, on_it)
            # a question of right or wrong, asked once a surface: 999 in 1,000, not 19 in 20, lie inside
            both = SURELY * float(np.hypot(wide, u_same))
            off = value - same
            results["difference"] = Result(
                "hung less built up, 999 in 1,000 inside", off, "lb·in", off - both, off + both, 2
            )
            agree = Requirement(
                name="hung against built up", unit="lb·in", low=-both, nominal=0.0, high=both,
                because=Because.worked_out("two ways to the same moment; both bands together, widened to 999 in 1,000"), how="hang it again with the chord level, weigh the pieces again",
                when_low="They disagree: look for a piece that is missing, a wrong sign, a chord that was not level.",
                when_high="They disagree: look for a piece that is missing, a wrong sign, a chord that was not level.",
            )  # fmt: skip
            requirements.append(agree)
            findings.append(compare(agree, Reading(off, "lb·in")))
        if left_out and not later:
            ws.note(f"It hung {spec.hung}: enter these as pieces, or hang it again with them on.")
    results["moment"] = Result("moment in flight order, tail-heavy positive", moment, "lb·in", moment - u, moment + u, 2)  # fmt: skip
    held, judged = _limits(spec, moment, u)
    if not held:
        ws.note("No limit entered, so nothing is judged: limits come from the designer only.")
    if spec.counter_arm is not None:
        results["counterweight"] = _counter(spec, ws, moment)
    cautions = (
        NOT_FLUTTER,
        "Balance it finished: paint, tab, rod, bonding wire, static wicks on it. After new paint balance it again.",
        "Chord level, hinges free, no draught; read the scale lifting and letting down.",
        *CAUTIONS,
    )
    picture = balance_picture(
        spec.title or "Control surface", [(p.name, p.weight.value, p.arm.value) for p in spec.pieces], moment, u,
        None if spec.support_arm is None else spec.support_arm.value,
    )  # fmt: skip
    return Outcome(tuple(ws.steps), results, (*requirements, *held), (*findings, *judged), cautions, picture)


def _built(spec: Surface, pieces: list[Piece], ws: Worksheet | None = None) -> tuple[float, float]:
    """Moment of pieces and the half-width of its band."""
    total, squares = 0.0, 0.0
    for p in pieces:
        w, a = p.weight.value, p.arm.value
        total += (
            ws.step(f"moment of {p.name}", hinge_moment_lb_in, weight_lb=w, arm_in=a)
            if ws is not None
            else float(hinge_moment_lb_in(weight_lb=w, arm_in=a))
        )
        squares += (a * p.weight_u.value) ** 2 + (w * p.arm_u.value) ** 2
    return total, float(np.sqrt(squares))


def _hung(spec: Surface, ws: Worksheet) -> tuple[float, float]:
    """Moment from the scale; friction of the hinge is half the difference of both readings and widens the band."""
    assert spec.scale is not None
    assert spec.support_arm is not None
    first, arm = spec.scale.value, spec.support_arm.value
    reading, friction = first, 0.0
    if spec.second is not None:
        reading, friction = (first + spec.second.value) / 2, abs(first - spec.second.value) / 2
        ws.worked_out(
            "scale, mean of both ways", shown(reading, "lb", places=3), f"hinge friction is half their difference, {number_text(friction, 3)} lb",
            value=reading, unit="lb",
        )  # fmt: skip
    else:
        ws.note(
            "Read once: hinge friction is in the reading. Lift and let down, and enter both, to take it out."
        )
    value = ws.step("moment as it hung", hinge_moment_lb_in, weight_lb=reading, arm_in=arm)
    # what is left of friction in the mean of two readings: a quarter of their difference, an own judgement
    u_reading = float(np.hypot(spec.scale_u.value / (2**0.5 if spec.second is not None else 1), friction / 2))
    return value, float(np.hypot(arm * u_reading, reading * spec.support_u.value))


def _limits(spec: Surface, moment: float, u: float) -> tuple[list[Requirement], list[Finding]]:
    if spec.least is None and spec.most is None:
        return [], []
    needed = Requirement(
        name="moment about the hinge", unit="lb·in",
        low=None if spec.least is None else spec.least.value, nominal=None, high=None if spec.most is None else spec.most.value,
        because=Because.drawing(spec.drawing, spec.revision, "the designer's balance limits"), how="hang it again, read lifting and letting down",
        when_low="Too nose-heavy: take counterweight off as the designer says.", when_high="Too tail-heavy: add counterweight as the designer says; don't fly so.",
    )  # fmt: skip
    return [needed], [compare(needed, Reading(moment, "lb·in", u, where="flight order"))]


def _counter(spec: Surface, ws: Worksheet, moment: float) -> Result:
    assert spec.counter_arm is not None
    bounds = [q.value for q in (spec.least, spec.most) if q is not None]
    wanted = sum(bounds) / len(bounds) if bounds else 0.0
    if not bounds:
        ws.note("No limit entered: the counterweight is worked out for a moment of nothing.")
    weight = ws.step(
        "counterweight", counterweight_lb, wanted_lb_in=wanted, present_lb_in=moment, arm_in=spec.counter_arm.value
    )  # fmt: skip
    verb = "to add" if weight >= 0 else "to take off"
    return Result(
        f"counterweight {verb} at {number_text(spec.counter_arm.value, 2)} in for {number_text(wanted, 1)} lb·in", abs(weight), "lb", places=3
    )  # fmt: skip
