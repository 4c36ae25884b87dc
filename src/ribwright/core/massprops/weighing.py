"""The aeroplane on the scales: net weights, empty weight, CG and its band, and what the numbers give away."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ribwright.core.audit import Outcome, Result, Worksheet, calculation, choice, quantity, rows, text
from ribwright.core.bench import CAUTIONS, Because, Finding, Reading, Requirement, compare
from ribwright.core.massprops.chord import (
    aft_limit_field,
    check_chord,
    check_limits,
    chord_result,
    empty_cg_finding,
    forward_limit_field,
    lemac_field,
    mac_field,
)
from ribwright.core.massprops.moments import cg_band, cg_in, moment_lb_in
from ribwright.core.massprops.suspects import Weighed, agreement, suspects
from ribwright.core.massprops.weighing_picture import weighing_picture
from ribwright.core.units import Quantity, number_text, shown
from ribwright.errors import GeometryError

ROLES = ("main", "nose", "tail", "jack point")


@dataclass(frozen=True, slots=True)
class Point:
    """One scale under one wheel or jack point."""

    name: str = text("Point", help="which wheel or jack point", example="left main")
    role: str = choice("Kind", ROLES, help="main, nose or tail wheel, or a jack point", default="main")
    side: str = choice(
        "Side", ("centre", "left", "right"), help="left or right of the middle", default="centre"
    )
    reading: Quantity = quantity(
        "lb", "Scale reading", help="as the scale shows it", example="342.5", low="0 lb", high="20000 lb"
    )
    tare: Quantity = quantity(
        "lb",
        "Tare",
        help="chocks, stand, jack on the scale",
        example="8.5",
        low="0 lb",
        high="2000 lb",
        default="0 lb",
    )
    arm: Quantity = quantity(
        "in",
        "Arm",
        help="from the datum to the point, positive aft",
        example="62.4",
        low="-1000 in",
        high="1000 in",
    )
    arm_from: str = text(
        "Arm measured from", help="the datum it was measured from", example="firewall", default="datum"
    )
    reading_u: Quantity = quantity(
        "lb",
        "Reading, plus or minus",
        help="how far it may be off",
        example="0.5",
        low="0 lb",
        high="100 lb",
        default="0.5 lb",
    )
    arm_u: Quantity = quantity(
        "in",
        "Arm, plus or minus",
        help="how far it may be off",
        example="0.1",
        low="0 in",
        high="20 in",
        default="0.1 in",
    )
    expected: Quantity | None = quantity(
        "lb", "Net expected here", help="from an earlier weighing or the build-up", example="385", low="0 lb", high="20000 lb", optional=True
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Correction:
    """Something on board that does not belong to the empty weight, or belongs to it and was not on board."""

    item: str = text("Item", help="fuel, oil, tools, seat cushions", example="fuel on board")
    what: str = choice("What", ("take out", "put in"), help="take out of or put into the empty weight")
    weight: Quantity = quantity("lb", "Weight", help="of the item", example="12", low="0 lb", high="10000 lb")
    arm: Quantity = quantity(
        "in", "Arm", help="of the item, positive aft", example="80", low="-1000 in", high="1000 in"
    )
    weight_u: Quantity = quantity(
        "lb",
        "Weight, plus or minus",
        help="how far it may be off",
        example="0.3",
        low="0 lb",
        high="500 lb",
        default="0 lb",
    )


@dataclass(frozen=True, slots=True)
class Weighing:
    """An aeroplane weighed in level attitude on two or more scales."""

    title: str = text(
        "Weighing", help="what is weighed and why", example="Dunlin, first weighing", default=""
    )
    points: tuple[Point, ...] = rows(Point, "Points", help="one row a scale", least=2)
    corrections: tuple[Correction, ...] = rows(Correction, "Corrections", help="what to take out or put in")
    level: str = choice(
        "Levelled", ("yes", "no"), help="by the designer's levelling means, both ways", default="yes"
    )
    wheelbase: Quantity | None = quantity(
        "in", "Mains to nose or tail wheel", help="measured once more, straight from wheel to wheel", example="171.5", low="5 in", high="1000 in", optional=True
    )  # fmt: skip
    wheelbase_u: Quantity = quantity(
        "in", "Mains to nose or tail wheel, plus or minus", help="how far it may be off", example="0.2", low="0.01 in", high="20 in", default="0.2 in"
    )  # fmt: skip
    expected_weight: Quantity | None = quantity(
        "lb", "Empty weight expected", help="from the build-up or the weighing before", example="780", low="1 lb", high="20000 lb", optional=True
    )  # fmt: skip
    expected_weight_u: Quantity = quantity(
        "lb", "Expected weight, plus or minus", help="how far it may be off", example="15", low="0 lb", high="2000 lb", default="20 lb"
    )  # fmt: skip
    expected_cg: Quantity | None = quantity(
        "in", "Empty CG expected", help="from the build-up or the weighing before", example="66.2", low="-1000 in", high="1000 in", optional=True
    )  # fmt: skip
    expected_cg_u: Quantity = quantity(
        "in", "Expected CG, plus or minus", help="how far it may be off", example="0.5", low="0 in", high="100 in", default="0.5 in"
    )  # fmt: skip
    lemac: Quantity | None = lemac_field()
    mac: Quantity | None = mac_field()
    forward_limit: Quantity | None = forward_limit_field()
    aft_limit: Quantity | None = aft_limit_field()

    def __post_init__(self) -> None:
        datums = sorted({p.arm_from.strip().casefold() for p in self.points})
        if len(datums) > 1:
            raise GeometryError(
                "Points, arm measured from", found=" and ".join(datums), allowed="one datum for all arms",
                because="arms with mixed datums can't be put together", mend="Measure every arm from the same datum.",
            )  # fmt: skip
        for p in self.points:
            if p.reading.value < p.tare.value:
                raise GeometryError(
                    f"Net weight at {p.name}", found=f"reading {p.reading.text} under tare {p.tare.text}", allowed="tare not above the reading",
                    because="a weighing point can't carry less than nothing", mend="Check the reading, and that tare and reading belong to this scale.",
                )  # fmt: skip
        check_chord(self.lemac, self.mac)
        check_limits(self.forward_limit, self.aft_limit)
        if np.ptp([p.arm.value for p in self.points]) < 1.0:
            raise GeometryError(
                "Points, arm", found="all points at one arm", allowed="points fore and aft of each other",
                because="no CG can be worked out", mend="Check the arms, and that the nose or tail wheel is among the points.",
            )  # fmt: skip


def weighed_of(spec: Weighing) -> Weighed:
    """The spec as plain numbers for the recogniser."""

    def number(value: Quantity | None) -> float | None:
        return None if value is None else value.value

    return Weighed(
        names=tuple(p.name for p in spec.points),
        roles=tuple(p.role for p in spec.points),
        sides=tuple(p.side for p in spec.points),
        reading_lb=np.array([p.reading.value for p in spec.points]),
        tare_lb=np.array([p.tare.value for p in spec.points]),
        arm_in=np.array([p.arm.value for p in spec.points]),
        u_lb=np.array([p.reading_u.value for p in spec.points]),
        u_in=np.array([p.arm_u.value for p in spec.points]),
        expected_lb=tuple(number(p.expected) for p in spec.points),
        extra=tuple(c.item for c in spec.corrections),
        extra_lb=np.array([(-1 if c.what == "take out" else 1) * c.weight.value for c in spec.corrections]),
        extra_in=np.array([c.arm.value for c in spec.corrections]),
        extra_u_lb=np.array([c.weight_u.value for c in spec.corrections]),
        wheelbase_in=number(spec.wheelbase),
        wheelbase_u_in=spec.wheelbase_u.value,
        weight_lb=number(spec.expected_weight),
        weight_u_lb=spec.expected_weight_u.value,
        cg_in=number(spec.expected_cg),
        cg_u_in=spec.expected_cg_u.value,
    )


@calculation(
    "weighing",
    title="Weighing",
    summary="Scale readings, tare and arms to empty weight and CG with their bands; usual errors are named.",
    spec=Weighing,
    results=(
        "empty_weight",
        "empty_cg",
        "empty_moment",
        "percent_mac",
        "net_weights",
        "left_right",
        "suspected_error",
    ),
)
def weighing(spec: Weighing, ws: Worksheet) -> Outcome:
    """Empty weight and CG from the scales, the checks between the numbers, and the suspects if they disagree."""
    weights: list[float] = []
    arms: list[float] = []
    us: list[tuple[float, float]] = []
    moments: list[float] = []
    for p in spec.points:
        net = p.reading.value - p.tare.value
        ws.worked_out(
            f"net at {p.name}",
            shown(net, "lb"),
            f"reading {p.reading.text} less tare {p.tare.text}",
            value=net,
            unit="lb",
        )
        moments.append(ws.step(f"moment of {p.name}", moment_lb_in, weight_lb=net, arm_in=p.arm.value))
        weights.append(net)
        arms.append(p.arm.value)
        us.append((p.reading_u.value, p.arm_u.value))
    for c in spec.corrections:
        signed = -c.weight.value if c.what == "take out" else c.weight.value
        moments.append(ws.step(f"{c.what}: {c.item}", moment_lb_in, weight_lb=signed, arm_in=c.arm.value))
        weights.append(signed)
        arms.append(c.arm.value)
        us.append((c.weight_u.value, 0.0))
    total = sum(weights)
    if total <= 0:
        raise GeometryError(
            "Corrections", found=f"an empty weight of {shown(total, 'lb')}", allowed="less taken out than was on the scales",
            mend="Check what is taken out.",
        )  # fmt: skip
    ws.worked_out(
        "empty weight", shown(total, "lb"), "sum of the net weights and corrections", value=total, unit="lb"
    )
    cg = ws.step("empty CG", cg_in, total_lb_in=sum(moments), total_lb=total)
    _, u_total, _, u_cg = cg_band(weights, arms, [u[0] for u in us], [u[1] for u in us])
    inside = min(p.arm.value for p in spec.points), max(p.arm.value for p in spec.points)
    if (
        not spec.corrections and not inside[0] <= cg <= inside[1]
    ):  # can't happen with net weights of nothing or more
        raise GeometryError("Empty CG", found=shown(cg, "in"), allowed="between the weighing points")
    results = {
        "empty_weight": Result("empty weight", total, "lb", total - u_total, total + u_total, 1),
        "empty_cg": Result("empty CG, aft of the datum", cg, "in", cg - u_cg, cg + u_cg, 2),
        "empty_moment": Result("empty moment", sum(moments), "lb·in", places=0),
        "percent_mac": chord_result(ws, "empty CG in % MAC", cg, spec.lemac, spec.mac, u_cg=u_cg),
        "net_weights": Result(
            "net weights, in the order of the points", tuple(weights[: len(spec.points)]), "lb"
        ),
        "left_right": Result("left less right", "no pair of mains"),
        "suspected_error": Result("suspected error", "none: the numbers agree with each other"),
    }
    seen = weighed_of(spec)
    if (pair := seen.pair()) is not None:
        left, right = weights[pair[0]], weights[pair[1]]
        results["left_right"] = Result("left less right", left - right, "lb")
    findings, requirements = _agreements(seen)
    held, judged = empty_cg_finding(cg, u_cg, spec.forward_limit, spec.aft_limit)
    requirements += held
    findings += judged
    named = suspects(seen)
    if named:
        results["suspected_error"] = Result("suspected error", "; or ".join(named[:3]))
        for one in named[:3]:
            ws.note(f"To be looked at: {one}. Look before you weigh again; nothing was corrected here.")
    elif any(f.verdict.value != "within limits" for f in findings[: len(agreement(seen))]):
        results["suspected_error"] = Result(
            "suspected error",
            "the numbers disagree, and no single usual error explains it: weigh and measure again",
        )
    elif not agreement(seen):
        results["suspected_error"] = Result(
            "suspected error", "nothing to hold the numbers against: enter the wheelbase and what you expect"
        )
    if u_cg > 0.25:
        ws.note(
            f"The CG is known to ± {number_text(u_cg, 2)} in. The arms decide most of it: measure them by plumb line on the floor."
        )
    cautions = (
        "Level attitude, brakes off, closed hangar, no draught; the same scale swapped between wheels shows a scale that is off.",
        "The inspector and the designer's limits decide; keep the signed sheet with the aeroplane's papers.",
        *(("NOT LEVELLED: the arms, and so the CG, are not valid.",) if spec.level == "no" else ()),
        *CAUTIONS,
    )
    return Outcome(
        tuple(ws.steps),
        results,
        tuple(requirements),
        tuple(findings),
        cautions,
        weighing_picture(spec, weights, cg, u_cg),
    )


def _agreements(seen: Weighed) -> tuple[list[Finding], list[Requirement]]:
    findings, requirements = [], []
    for check in agreement(seen):
        requirement = Requirement(
            name=check.name, unit=check.unit, low=-check.u, nominal=0.0, high=check.u,
            because=Because.worked_out(f"{check.said}; both bands together", "derived"),
            how="weigh and measure again, each scale under each wheel once",
            when_low=f"{check.name} does not agree: look for the suspected error before anything is signed.",
            when_high=f"{check.name} does not agree: look for the suspected error before anything is signed.",
        )  # fmt: skip
        requirements.append(requirement)
        findings.append(compare(requirement, Reading(check.off, check.unit, where=check.where)))
    return findings, requirements
