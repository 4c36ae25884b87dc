"""The effect of a change before it is made: items put in, taken out or moved, on empty weight and CG."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ribwright.core.audit import Outcome, Result, Worksheet, calculation, choice, quantity, rows, text
from ribwright.core.bench import CAUTIONS, Because, Finding, Reading, Requirement, compare
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
    optional_arm_field,
)
from ribwright.core.massprops.moments import cg_band, cg_in, moment_lb_in
from ribwright.core.tables import table
from ribwright.core.units import Quantity, number_text, shown
from ribwright.errors import GeometryError, MissingError

PUT_IN, TAKE_OUT, MOVE = "put in", "take out", "move"
_MANY = 5000.0, 50_000.0  # bounds of the rows of the table of negligible changes, lb


@dataclass(frozen=True, slots=True)
class Change:
    """One item put in, taken out, or moved from one arm to another."""

    item: str = text("Item", help="what is changed", example="radio")
    what: str = choice("What", (PUT_IN, TAKE_OUT, MOVE), help="put in, take out, or move", default=PUT_IN)
    weight: Quantity = quantity(
        "lb", "Weight", help="of the item", example="2.4", low="0 lb", high="10000 lb"
    )
    arm: Quantity = arm_field("Arm", help="of the item; where it comes from when it is moved", example="51.0")
    to_arm: Quantity | None = optional_arm_field("Arm it moves to", help="only for a move", example="110")
    weight_u: Quantity = quantity(
        "lb", "Weight, plus or minus", help="how far it may be off", example="0.1", low="0 lb", high="100 lb", default="0.1 lb"
    )  # fmt: skip
    arm_u: Quantity = quantity(
        "in", "Arm, plus or minus", help="how far it may be off", example="0.5", low="0 in", high="100 in", default="0.5 in"
    )  # fmt: skip

    def __post_init__(self) -> None:
        if (self.what == MOVE) != (self.to_arm is not None):
            raise MissingError(
                "Arm it moves to", found=f"{self.item} is to be {self.what}", allowed="an arm for a move, and only for that",
                mend="Enter where it goes, or say put in or take out.",
            )  # fmt: skip

    def lines(self) -> tuple[tuple[float, float], ...]:
        """Weights with their sign, and arms: a move is out at one place and in at the other."""
        weight = self.weight.value
        if self.what == MOVE and self.to_arm is not None:
            return (-weight, self.arm.value), (weight, self.to_arm.value)
        return ((-weight if self.what == TAKE_OUT else weight, self.arm.value),)


@dataclass(frozen=True, slots=True)
class WeightChange:
    """Changes to an aeroplane of known empty weight and CG."""

    title: str = text("Change", help="what is planned", example="second radio, battery aft", default="")
    empty_weight: Quantity = quantity(
        "lb", "Empty weight now", help="from the last weighing or the build-up", example="780", low="1 lb", high="20000 lb"
    )  # fmt: skip
    empty_cg: Quantity = arm_field(
        "Empty CG now", help="from the last weighing or the build-up", example="66.2"
    )
    empty_weight_u: Quantity = quantity(
        "lb", "Empty weight, plus or minus", help="how far it may be off", example="1", low="0 lb", high="2000 lb", default="1 lb"
    )  # fmt: skip
    empty_cg_u: Quantity = quantity(
        "in", "Empty CG, plus or minus", help="how far it may be off", example="0.1", low="0 in", high="100 in", default="0.1 in"
    )  # fmt: skip
    changes: tuple[Change, ...] = rows(Change, "Changes", help="one row an item", least=1)
    most: Quantity | None = quantity(
        "lb", "Greatest empty weight", help="the designer's, if given", example="830", low="1 lb", high="20000 lb", optional=True
    )  # fmt: skip
    lemac: Quantity | None = lemac_field()
    mac: Quantity | None = mac_field()
    forward_limit: Quantity | None = forward_limit_field()
    aft_limit: Quantity | None = aft_limit_field()

    def __post_init__(self) -> None:
        check_chord(self.lemac, self.mac)
        check_limits(self.forward_limit, self.aft_limit)


def changed(
    ws: Worksheet, weight: float, cg: float, u_weight: float, u_cg: float, changes: Sequence[Change]
) -> tuple[float, float, float, float]:
    """Weight, its half-width, CG and its half-width after the changes, each line on the worksheet.

    Raises:
        GeometryError: more is taken out than there was.
    """
    weights, arms, us_lb, us_in = [weight], [cg], [u_weight], [u_cg]
    moments = [ws.step("moment now", moment_lb_in, weight_lb=weight, arm_in=cg)]
    for one in changes:
        for signed, arm in one.lines():
            verb = one.what if one.what != MOVE else ("move from" if signed < 0 else "move to")
            moments.append(ws.step(f"{verb}: {one.item}", moment_lb_in, weight_lb=signed, arm_in=arm))
            weights.append(signed)
            arms.append(arm)
            # a moved item leaves the weight alone; its own weight's band counts times the distance it moves
            away = (arm - one.arm.value) / signed if one.what == MOVE and signed else 0.0
            us_lb.append(one.weight_u.value if one.what != MOVE else 0.0)
            us_in.append(float(np.hypot(one.arm_u.value, one.weight_u.value * away)))
    total = sum(weights)
    if total <= 0:
        raise GeometryError(
            "Changes", found=f"an empty weight of {shown(total, 'lb')} afterwards", allowed="less taken out than there was",
            mend="Check the weights.",
        )  # fmt: skip
    ws.worked_out("empty weight then", shown(total, "lb"), "now, and all changes", value=total, unit="lb")
    after = ws.step("empty CG then", cg_in, total_lb_in=sum(moments), total_lb=total)
    _, u_total, _, u_after = cg_band(weights, arms, us_lb, us_in)
    return total, u_total, after, u_after


def negligible(
    ws: Worksheet, weight: float, shift_lb: float, shift_percent: float | None
) -> tuple[bool | None, str]:
    """Whether a change may be neglected by the published rule; ``None`` when no chord tells the CG's share."""
    row = (
        "empty below 5000 lb"
        if weight < _MANY[0]
        else "empty 5000 to 50000 lb"
        if weight <= _MANY[1]
        else "empty above 50000 lb"
    )
    cells = table("massprops/negligible-change")
    least = ws.look_up("negligible weight", cells.cell(row, "weight"))
    share = 100 * ws.look_up("negligible CG change", cells.cell(row, "CG"))
    if abs(shift_lb) > least:
        return False, f"not negligible: more than {least:g} lb"
    if shift_percent is None:
        return None, "the weight is negligible; enter the mean aerodynamic chord to judge the CG"
    if abs(shift_percent) > share:
        return False, f"not negligible: the CG moves more than {share:g} % MAC"
    return True, f"negligible: at most {least:g} lb and {share:g} % MAC"


@calculation(
    "weight-change",
    title="Effect of a change on weight and CG",
    summary="Items put in, taken out or moved: empty weight and CG afterwards, before anything is done.",
    spec=WeightChange,
    results=("weight", "cg", "moment", "percent_mac", "weight_change", "cg_change", "negligible"),
)
def weight_change(spec: WeightChange, ws: Worksheet) -> Outcome:
    """Empty weight and CG after the changes, against the designer's limits."""
    before, cg_before = spec.empty_weight.value, spec.empty_cg.value
    total, u_total, cg, u_cg = changed(
        ws, before, cg_before, spec.empty_weight_u.value, spec.empty_cg_u.value, spec.changes
    )
    gross = sum(abs(w) for one in spec.changes for w, _ in one.lines())
    shift_percent = None if spec.mac is None else 100 * (cg - cg_before) / spec.mac.value
    _, said = negligible(ws, before, gross, shift_percent)
    findings: list[Finding] = []
    requirements: list[Requirement] = []
    if spec.most is not None:
        needed = Requirement(
            name="empty weight", unit="lb", low=None, nominal=None, high=spec.most.value,
            because=Because.drawing("", "", "the designer's greatest empty weight"), how="weigh the items themselves",
            when_low="Go on.", when_high="Too heavy with the change: leave it out, or ask the designer.",
        )  # fmt: skip
        requirements.append(needed)
        findings.append(compare(needed, Reading(total, "lb", u_total, where="afterwards")))
    held, judged = empty_cg_finding(cg, u_cg, spec.forward_limit, spec.aft_limit, "afterwards")
    results = {
        "weight": Result("empty weight afterwards", total, "lb", total - u_total, total + u_total, 1),
        "cg": Result("empty CG afterwards", cg, "in", cg - u_cg, cg + u_cg, 2),
        "moment": Result("empty moment afterwards", total * cg, "lb·in", places=0),
        "percent_mac": chord_result(ws, "empty CG afterwards in % MAC", cg, spec.lemac, spec.mac, u_cg=u_cg),
        "weight_change": Result("change of the empty weight", total - before, "lb", places=1),
        "cg_change": Result("the CG moves", cg - cg_before, "in", places=2),
        "negligible": Result("by the published rule", said),
    }
    way = "aft" if cg > cg_before else "forward"
    ws.note(
        f"The CG moves {number_text(abs(cg - cg_before), 2)} in {way}. Work the loadings out again with the new empty weight."
    )
    cautions = (
        "Nothing is changed by working it out: enter the new weight and equipment list when it is done.",
        "Weigh the items themselves; a catalogue's weight leaves out brackets and wire.",
        *CAUTIONS,
    )
    return Outcome(tuple(ws.steps), results, (*requirements, *held), (*findings, *judged), cautions)
