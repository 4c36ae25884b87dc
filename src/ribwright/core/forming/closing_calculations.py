"""Opening of a nose and the stress of closing it; twist of the rolling tool; as calculations."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ribwright.core.audit import Outcome, Result, Worksheet, calculation, choice, quantity, text
from ribwright.core.bench import CAUTIONS, Because, Requirement
from ribwright.core.forming.closing import (
    GOOD_IN,
    closed_nose,
    opening_in,
    standing_stress_psi,
)
from ribwright.core.forming.nose_spec import LEVERS, MATERIALS
from ribwright.core.forming.roll import lever_length_in, windup_deg
from ribwright.core.forming.section import moment_lbf, table_of
from ribwright.core.forming.stock import alloy_field, sheet_of, thickness_field
from ribwright.core.tables import table
from ribwright.core.units import Quantity
from ribwright.errors import OutOfRangeError


@dataclass(frozen=True, slots=True)
class ClosingGap:
    """Two skins rolled to a wrong radius and closed."""

    alloy: str = alloy_field()
    thickness: Quantity = thickness_field()
    wanted: Quantity = quantity(
        "in", "Inside radius wanted", help="inside of the skin", example="1.0", low="0.05 in", high="20 in"
    )
    rolled: Quantity = quantity(
        "in", "Inside radius rolled", help="as measured", example="1.05", low="0.05 in", high="40 in"
    )
    arc: Quantity = quantity(
        "deg",
        "Arc of one skin",
        help="how far round it goes",
        example="90",
        low="20 deg",
        high="160 deg",
        default="90",
    )
    spar: Quantity = quantity(
        "in",
        "Spar behind the curve",
        help="from the end of the arc",
        example="1",
        low="0.1 in",
        high="40 in",
        default="1",
    )


@calculation(
    "closing-gap",
    title="Opening of a nose, and the stress of closing it",
    summary="Opening between mating holes for a wrong radius, stop rule, and the bending stress that stays when it is closed.",
    spec=ClosingGap,
    results=("opening", "stress_joint", "stress_largest", "stress_even", "force"),
)
def closing_gap(spec: ClosingGap, ws: Worksheet) -> Outcome:
    """Geometry of two arcs; elastic closing by unit loads."""
    held = table("forming/alloy")
    modulus = ws.look_up("modulus", held.cell(spec.alloy, "modulus"))
    poisson = ws.look_up("Poisson's ratio", held.cell(spec.alloy, "poisson"))
    t = float(spec.thickness.value)
    wanted, rolled = float(spec.wanted.value) + t / 2, float(spec.rolled.value) + t / 2
    arc = float(np.radians(float(spec.arc.value)))
    if rolled < wanted * arc / 2.3:
        raise OutOfRangeError(
            "Inside radius rolled",
            found=spec.rolled.text,
            allowed=f"{wanted * arc / 2.3:.2f} in or more",
            mend="The skins curl past each other: measure again.",
        )
    opening = ws.step(
        "opening between mating holes",
        opening_in,
        wanted_radius_in=wanted,
        rolled_radius_in=rolled,
        arc_rad=arc,
    )
    even = ws.step(
        "stress of an even change of curvature", standing_stress_psi, modulus_psi=modulus, poisson_ratio=poisson, thickness_in=t,
        curvature_change_per_in=1.0 / rolled - 1.0 / wanted,
    )  # fmt: skip
    closed = closed_nose(
        modulus_psi=modulus, poisson=poisson, thickness_in=t, wanted_radius_in=wanted, rolled_radius_in=rolled, arc_rad=arc,
        spar_behind_in=float(spec.spar.value),
    )  # fmt: skip
    ws.worked_out(
        "stress at the joint", f"{closed.joint_stress_psi:.0f} psi", "skin held at the spar, joint neither turning nor parting (docs/physics/forming.md, closing)",
        value=closed.joint_stress_psi, unit="psi",
    )  # fmt: skip
    needed = Requirement(
        "opening between mating holes", "in", -GOOD_IN, 0.0, GOOD_IN,
        Because.published("practice", "an opening that needs no more rolling", "practice"),
        "steel rule at every hole, both skins held true at the spar and let go",
        "Rolled too far: ease it open by hand, a little at a time.",
        "Close it with finger pressure up to 1/4 in, else roll once more with a smaller tool.",
        usual_u=1 / 64,
    )  # fmt: skip
    return Outcome(
        tuple(ws.steps),
        {
            "opening": Result("opening between mating holes", opening, "in"),
            "stress_joint": Result("bending stress at the joint", closed.joint_stress_psi, "psi"),
            "stress_largest": Result("largest bending stress", closed.largest_stress_psi, "psi"),
            "stress_even": Result("stress of an even change of curvature", even, "psi"),
            "force": Result("force to close, an inch of edge", closed.force_lbf, "lbf", places=2),
        },
        requirements=(needed,),
        cautions=(
            *CAUTIONS,
            "The force to close is tiny: what your fingers feel does not tell the stress that stays.",
        ),
    )


@dataclass(frozen=True, slots=True)
class ToolWindup:
    """A round tool turned from its end, the sheet holding back along it."""

    name: str = text("Tool", help="as you call it", example="1 in pipe")
    outside: Quantity = quantity(
        "in", "Outside diameter", help="measured", example="1.315", low="1.0 in", high="12 in"
    )
    inside: Quantity = quantity(
        "in",
        "Inside diameter",
        help="0 for a solid bar",
        example=".9",
        low="0 in",
        high="0.98 in",
        default="0",
    )
    material: str = choice("Material", MATERIALS, help="of the tool")
    alloy: str = alloy_field()
    thickness: Quantity = thickness_field()
    length: Quantity = quantity(
        "in", "Length of the section", help="along the edge", example="16", low="1 in", high="200 in"
    )
    levers: str = choice("Levers", LEVERS, help="on which ends", default="one end")
    pull: Quantity = quantity(
        "lbf",
        "Pull of your hand",
        help="on the lever",
        example="30",
        low="2 lbf",
        high="150 lbf",
        default="30",
    )


@calculation(
    "tool-windup",
    title="Twist of the rolling tool",
    summary="How far the far end of a pipe lags behind the lever while it rolls an edge, and how long the lever must be.",
    spec=ToolWindup,
    results=("windup", "torque", "lever"),
)
def tool_windup(spec: ToolWindup, ws: Worksheet) -> Outcome:
    """Moment of the sheet on the tool, torsion of the tool."""
    sheet, _ = sheet_of(
        ws, alloy=spec.alloy, thickness=spec.thickness, grain="along the bend path", certificate=None
    )
    shear = ws.look_up(
        "shear modulus of the tool", table("forming/tool-material").cell(spec.material, "shear modulus")
    )
    radius = 0.5 * float(spec.outside.value)
    moment = float(moment_lbf(table_of(sheet), [1.0 / (radius + 0.5 * sheet.thickness_in)])[0, 0])
    ws.worked_out(
        "torque that an inch of edge takes",
        f"{moment:.2f} lb·in",
        "moment of the sheet lying on the tool",
        value=moment,
        unit="lb·in/in",
    )
    count = float(1 + LEVERS.index(spec.levers))
    twist = ws.step(
        "far end lags by", windup_deg, torque_lbf_in_per_in=moment, length_in=float(spec.length.value), shear_modulus_psi=shear,
        outside_diameter_in=float(spec.outside.value), inside_diameter_in=float(spec.inside.value), lever_count=count,
    )  # fmt: skip
    lever = ws.step(
        "lever for your pull",
        lever_length_in,
        torque_lbf_in_per_in=moment,
        length_in=float(spec.length.value),
        hand_lbf=float(spec.pull.value),
        lever_count=count,
    )
    said = list(CAUTIONS)
    if twist > 5.0:
        said.append(
            "More than a careful hand's 5°: a metal tube inside, or levers at both ends; unplanned it makes a taper."
        )
    return Outcome(
        tuple(ws.steps),
        {
            "windup": Result("far end lags by", twist, "deg", places=1),
            "torque": Result("torque that an inch of edge takes", moment, "lb·in/in"),
            "lever": Result("lever", lever, "in"),
        },
        cautions=tuple(said),
    )
