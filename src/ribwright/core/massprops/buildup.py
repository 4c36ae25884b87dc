"""Weight build-up: every part's weight and arm to the running empty weight, the forecast, and the designer's range."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ribwright.core.audit import Outcome, Result, Worksheet, calculation, choice, quantity, rows, text
from ribwright.core.bench import CAUTIONS
from ribwright.core.massprops.buildup_picture import buildup_picture
from ribwright.core.massprops.chord import (
    aft_limit_field,
    arm_field,
    check_chord,
    check_limits,
    chord_result,
    empty_cg_finding,
    forward_limit_field,
    lemac_field,
    mac_field,
)
from ribwright.core.massprops.designer import (
    designer_field,
    empty_weight_finding,
    estimate_field,
    most_field,
    scale_field,
)
from ribwright.core.massprops.estimate import ENOUGH, Estimate, Mass, estimated
from ribwright.core.massprops.moments import moment_lb_in
from ribwright.core.tables import table
from ribwright.core.units import Quantity, number_text, shown
from ribwright.errors import MissingError, OutOfRangeError

MOST_STEPS = 60  # moments written out one by one; a longer list is summed in one line


@dataclass(frozen=True, slots=True)
class Part:
    """A part or item of equipment: what it should weigh, what it weighs, where it sits."""

    name: str = text("Part", help="the part, or an item of equipment", example="engine mount")
    state: str = choice(
        "State",
        ("to come", "in place"),
        help="whether it is part of the aeroplane already",
        default="to come",
    )
    estimate: Quantity | None = quantity(
        "lb", "Estimated weight", help="by drawing, catalogue or guess", example="11.5", low="0 lb", high="10000 lb", optional=True
    )  # fmt: skip
    weighed: Quantity | None = quantity(
        "lb", "Weighed", help="on a scale, ready to go in", example="11.8", low="0 lb", high="10000 lb", optional=True
    )  # fmt: skip
    arm: Quantity = arm_field("Arm", help="of its own CG, from the datum, positive aft", example="33.0")
    arm_u: Quantity = quantity(
        "in", "Arm, plus or minus", help="how far it may be off", example="0.5", low="0 in", high="100 in", default="1 in"
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class BuildUp:
    """A parts list against what the designer gives."""

    title: str = text("Build-up", help="which aeroplane", example="Dunlin, empty", default="")
    parts: tuple[Part, ...] = rows(Part, "Parts", help="every part and item of equipment", least=1)
    scale_u: Quantity = scale_field()
    estimate_u: Quantity = estimate_field()
    designer: Quantity | None = designer_field()
    most: Quantity | None = most_field()
    lemac: Quantity | None = lemac_field()
    mac: Quantity | None = mac_field()
    forward_limit: Quantity | None = forward_limit_field()
    aft_limit: Quantity | None = aft_limit_field()

    def __post_init__(self) -> None:
        check_chord(self.lemac, self.mac)
        check_limits(self.forward_limit, self.aft_limit)
        for part in self.parts:
            if part.estimate is None and part.weighed is None:
                raise MissingError(
                    f"Parts, weight of {part.name}",
                    allowed="estimated or weighed",
                    mend="Enter one of the two.",
                )
        if sum(max(_number(p.estimate), _number(p.weighed)) for p in self.parts) <= 0:
            raise OutOfRangeError("Parts, weight", found="0 lb in all", allowed="more than nothing")


def _number(value: Quantity | None, without: float = 0.0) -> float:
    return without if value is None else value.value


@calculation(
    "weight-build-up",
    title="Weight build-up",
    summary="Running empty weight and CG while building, the forecast with its band, and the designer's range.",
    spec=BuildUp,
    results=(
        "running_weight", "running_cg", "forecast_weight", "forecast_cg", "forecast_moment", "percent_mac", "weighed_share", "ratio",
        "over_designer", "usual_range",
    ),
)  # fmt: skip
def weight_build_up(spec: BuildUp, ws: Worksheet) -> Outcome:
    """Sum the list up, and hold the forecast against the designer's figures."""
    made = estimated(
        np.array([_number(p.estimate, np.nan) for p in spec.parts]), np.array([_number(p.weighed, np.nan) for p in spec.parts]),
        arm_in=[p.arm.value for p in spec.parts], u_arm_in=[p.arm_u.value for p in spec.parts],
        u_weighed_lb=spec.scale_u.value, u_share=spec.estimate_u.value, here=[p.state == "in place" for p in spec.parts],
    )  # fmt: skip
    _ratio_said(ws, made)
    if len(spec.parts) <= MOST_STEPS:
        for p in spec.parts:
            weight = p.weighed.value if p.weighed is not None else made.ratio * _number(p.estimate)
            ws.step(f"moment of {p.name}", moment_lb_in, weight_lb=weight, arm_in=p.arm.value)
    all_of_it = made.forecast
    ws.worked_out(
        "forecast weight", shown(all_of_it.weight_lb, "lb"), f"sum of {len(spec.parts)} parts", value=all_of_it.weight_lb, unit="lb"
    )  # fmt: skip
    ws.worked_out(
        "forecast CG", shown(all_of_it.cg_in, "in", places=2), "sum of the moments over the sum of the weights", value=all_of_it.cg_in, unit="in"
    )  # fmt: skip
    results = {
        **_mass_results("running", "in place now", made.running),
        **_mass_results("forecast", "forecast", all_of_it),
        "forecast_moment": Result("forecast moment", all_of_it.moment_lb_in, "lb·in", places=0),
        "percent_mac": chord_result(
            ws, "forecast CG in % MAC", all_of_it.cg_in, spec.lemac, spec.mac, u_cg=all_of_it.u_cg_in
        ),
        "weighed_share": Result("share of the forecast that was weighed", 100 * made.weighed_share, "%"),
        "ratio": Result(
            "weighed over estimated", made.ratio, "", made.ratio - made.u_ratio, made.ratio + made.u_ratio, places=3
        ),
        "over_designer": Result("over the designer's empty weight", "no figure of the designer entered"),
        "usual_range": Result("usual for amateur-built", "no figure of the designer entered"),
    }  # fmt: skip
    if spec.designer is not None:
        results |= _against_designer(ws, spec.designer.value, all_of_it)
    requirements, findings = empty_weight_finding(all_of_it.weight_lb, all_of_it.u_weight_lb, spec.most)
    held, judged = empty_cg_finding(
        all_of_it.cg_in, all_of_it.u_cg_in, spec.forward_limit, spec.aft_limit, "forecast"
    )
    cautions = (
        "A forecast: only the finished aeroplane on its scales gives the empty weight.",
        "What is not in the list weighs too: sealant, paint, wire, the rivets' heads.",
        *CAUTIONS,
    )
    return Outcome(
        tuple(ws.steps), results, (*requirements, *held), (*findings, *judged), cautions,
        buildup_picture(spec.title or "Weight build-up", made, _range(spec)),
    )  # fmt: skip


def _range(spec: BuildUp) -> tuple[float | None, float | None, float | None, float | None]:
    weight = spec.most.value if spec.most is not None else None
    low = spec.designer.value if spec.designer is not None else None
    return (
        low, weight, None if spec.forward_limit is None else spec.forward_limit.value,
        None if spec.aft_limit is None else spec.aft_limit.value,
    )  # fmt: skip


def _ratio_said(ws: Worksheet, made: Estimate) -> None:
    if made.compared >= ENOUGH:
        ws.worked_out(
            "weighed over estimated", f"{made.ratio:.3f} ± {made.u_ratio:.3f}",
            f"{made.compared} parts both estimated and weighed; applied to those only estimated", value=made.ratio,
        )  # fmt: skip
    else:
        ws.assume(
            "estimates together", f"off by up to {100 * made.u_ratio:g} %",
            f"fewer than {ENOUGH} parts are both estimated and weighed; common practice, no source", value=made.u_ratio,
        )  # fmt: skip


def _mass_results(key: str, label: str, mass: Mass | None) -> dict[str, Result]:
    if mass is None:
        return {
            f"{key}_weight": Result(f"weight {label}", "nothing is in place yet"),
            f"{key}_cg": Result(f"CG {label}", "nothing is in place yet"),
        }
    return {
        f"{key}_weight": Result(
            f"weight {label}", mass.weight_lb, "lb", mass.weight_lb - mass.u_weight_lb, mass.weight_lb + mass.u_weight_lb, 1
        ),
        f"{key}_cg": Result(f"CG {label}", mass.cg_in, "in", mass.cg_in - mass.u_cg_in, mass.cg_in + mass.u_cg_in, 2),
    }  # fmt: skip


def _against_designer(ws: Worksheet, designer: float, mass: Mass) -> dict[str, Result]:
    grown = table("massprops/weight-growth")
    least = designer * (1 + ws.look_up("usual growth, least", grown.cell("empty weight", "least")))
    most = designer * (1 + ws.look_up("usual growth, most", grown.cell("empty weight", "most")))
    over, wide = 100 * (mass.weight_lb / designer - 1), 100 * mass.u_weight_lb / designer
    if mass.weight_lb + mass.u_weight_lb < least:
        ws.note(
            f"The list comes out lighter than aeroplanes usually do ({number_text(least, 0)} to {number_text(most, 0)} lb): "
            "look for parts that are missing from it, before you believe it."
        )
    return {
        "over_designer": Result("over the designer's empty weight", over, "%", over - wide, over + wide),
        "usual_range": Result(
            "usual for amateur-built, 3 to 8 % heavy", (least + most) / 2, "lb", least, most, 0
        ),
    }
