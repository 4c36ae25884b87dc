"""The rolled edge as a calculation: recipe, band, opening, stop rule, bench sheet."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ribwright.core.audit import Outcome, Result, Worksheet, calculation
from ribwright.core.bench import CAUTIONS
from ribwright.core.forming.closing import closed_nose
from ribwright.core.forming.nose_picture import picture_of
from ribwright.core.forming.nose_sheet import requirements_of, sheet_for
from ribwright.core.forming.nose_spec import LEVERS, NoseRoll
from ribwright.core.forming.nose_targets import readings_of, targets_of, tools_of
from ribwright.core.forming.nose_template import templates_of
from ribwright.core.forming.rack import radius_for_in
from ribwright.core.forming.recipe import Recipe, best_recipe
from ribwright.core.forming.roll import lever_length_in, tape_load_lbf_per_in, windup_deg
from ribwright.core.forming.scrap import calibrate_lot
from ribwright.core.forming.search import Rolling
from ribwright.core.forming.section import Sheet
from ribwright.core.forming.stock import sheet_of
from ribwright.core.forming.target import Target
from ribwright.core.forming.world import Fan, fan

TAPE_PSI = 30.0
CHECKED_WRAP_DEG = 60.0


@dataclass(frozen=True, slots=True)
class Solved:
    """The recipe of a spec with what it was found from."""

    recipe: Recipe
    rolling: Rolling
    targets: tuple[Target, ...]
    world: Fan
    sheet: Sheet


@calculation(
    "nose-roll",
    title="Roll an edge to its template",
    summary="Which round tool, how much tape, how far to turn, in how many passes; what to expect, and when to stop.",
    spec=NoseRoll,
    results=(
        "tool", "wrap_turns", "overlap", "start", "turn", "second_tool", "second_wrap_turns", "second_turn", "radius", "gap",
        "chance", "gaps", "opening", "stress", "windup", "lever", "flat_edge", "tool_to_make", "settings_tried",
    ),
)  # fmt: skip
def nose_roll(spec: NoseRoll, ws: Worksheet) -> Outcome:
    """Search the rack, say what to expect, and write the bench sheet."""
    made = solved(spec, ws)
    recipe = made.recipe
    _steps(spec, ws, recipe, made.rolling)
    results = _results(spec, ws, recipe, made.rolling, made.targets, made.world, made.sheet)
    cautions = (*CAUTIONS, *_cautions(recipe, spec))
    needed = requirements_of(spec, recipe)
    scene = picture_of(spec, recipe)
    return Outcome(
        tuple(ws.steps),
        results,
        requirements=needed,
        cautions=cautions,
        picture=scene,
        sheets=(sheet_for(spec, recipe, results, cautions, scene),),
        templates=(templates_of(spec, made.targets),),
    )


def solved(spec: NoseRoll, ws: Worksheet) -> Solved:
    """The recipe for a spec; what it stands on is written into the worksheet."""
    sheet, prior = sheet_of(
        ws, alloy=spec.alloy, thickness=spec.thickness, grain=spec.grain, certificate=spec.certificate
    )
    targets = targets_of(spec, ws)
    tools = tools_of(spec, ws)
    tape = float(spec.tape.value) if spec.tape is not None else TAPE_PSI
    if spec.tape is None:
        ws.assume(
            "tape strength", f"{tape:.0f} psi", "no pull test entered: 1 in of lap carries about 30 lb an inch of edge",
            value=tape, unit="psi", rung="memory",
        )  # fmt: skip
    most = float(spec.overlap.value)
    rolling = Rolling(
        tape_shear_psi=tape,
        overlaps_in=tuple(float(a) for a in np.unique(np.clip(np.arange(0.25, 4.01, 0.25), 0.25, most))),
        held_in=float(spec.held.value),
        levers=1 + LEVERS.index(spec.levers),
    )
    world = fan(sheet, prior)
    readings = readings_of(spec)
    states = calibrate_lot(world, readings)
    for reading, state in zip(readings, states, strict=True):
        ws.worked_out(
            f"rolled before on {2 * reading.tool_radius_in:.3f} in", f"{reading.radius_in:.3f} in, good to {100 * reading.limits_share:.1f} %",
            f"expected {state.expected_low_in:.3f} to {state.expected_high_in:.3f} in; it corrects what follows",
            value=reading.radius_in, unit="in",
        )  # fmt: skip
    recipe = best_recipe(
        world,
        targets=targets,
        tools=tools,
        rolling=rolling,
        tolerance_in=float(spec.tolerance.value),
        length_in=float(spec.length.value),
        calibrations=states,
    )
    return Solved(recipe, rolling, targets, world, sheet)


def _steps(spec: NoseRoll, ws: Worksheet, recipe: Recipe, rolling: Rolling) -> None:
    ws.step(
        "pull of the tape",
        tape_load_lbf_per_in,
        tape_shear_psi=rolling.tape_shear_psi,
        overlap_in=recipe.overlap_in,
    )
    for number, one in enumerate(recipe.passes, start=1):
        ws.worked_out(
            f"pass {number}",
            f"{_called(one.tool.name, one.tool.turns)}, rolled to {one.rolled_to_in:.2f} in from the edge",
            "best of all tools, stops and passes against the templates (docs/physics/forming.md, the recipe)",
            value=2.0 * one.tool.radius_in,
            unit="in",
        )
        ws.worked_out(
            f"pass {number}: moment to lie on the tool", f"{one.torque_lbf_in_per_in:.2f} lb·in an inch",
            "layers of the sheet, plane strain; torque that an inch of edge takes", value=one.torque_lbf_in_per_in, unit="lb·in/in",
        )  # fmt: skip
    worst = max(recipe.passes, key=lambda one: one.torque_lbf_in_per_in)
    ws.worked_out(
        "gap to the template", f"{recipe.gap_middle_in:.3f} in, 95 % {recipe.gap_low_in:.3f} to {recipe.gap_high_in:.3f}",
        "tried on the fan of sheets with the scatter of hand and tape", value=recipe.gap_middle_in, unit="in",
    )  # fmt: skip
    ws.step(
        "lever for your pull", lever_length_in, torque_lbf_in_per_in=worst.torque_lbf_in_per_in, length_in=float(spec.length.value),
        hand_lbf=float(spec.pull.value), lever_count=float(rolling.levers),
    )  # fmt: skip
    if worst.tool.outside_diameter_in >= 1.0 and worst.tool.inside_diameter_in <= 0.98:
        ws.step(
            "twist of the tool itself", windup_deg, torque_lbf_in_per_in=worst.torque_lbf_in_per_in,
            length_in=float(spec.length.value), shear_modulus_psi=worst.tool.shear_modulus_psi,
            outside_diameter_in=worst.tool.outside_diameter_in, inside_diameter_in=worst.tool.inside_diameter_in,
            lever_count=float(rolling.levers),
        )  # fmt: skip


def _results(
    spec: NoseRoll,
    ws: Worksheet,
    recipe: Recipe,
    rolling: Rolling,
    targets: tuple[Target, ...],
    world: Fan,
    sheet: Sheet,
) -> dict[str, Result]:
    first, last = recipe.passes[0], recipe.passes[-1]
    worst = max(recipe.passes, key=lambda one: one.torque_lbf_in_per_in)
    half = 0.5 * sheet.thickness_in
    wanted = [1.0 / max(float(np.max(target.curvature_per_in)), 1e-6) for target in targets]
    middle = float(np.mean(wanted))
    arcs = float(np.mean([np.sum(t.curvature_per_in) * t.step_in for t in targets]))
    open_low, open_mid, open_high = recipe.opening_in
    arc = float(np.clip(arcs, 0.3, 0.9 * np.pi))
    # the even radius that would show this opening stands for the shape when it is closed
    even = middle / max(
        1.0 - open_mid / (2.0 * middle * max(arc * np.sin(arc) - 1.0 + np.cos(arc), 0.02)), 0.2
    )
    stress = closed_nose(
        modulus_psi=sheet.modulus_psi,
        poisson=sheet.poisson,
        thickness_in=sheet.thickness_in,
        wanted_radius_in=middle,
        rolled_radius_in=even,
        arc_rad=arc,
        spar_behind_in=float(spec.spar.value),
    )
    results = {
        "tool": Result("round tool", _called(first.tool.name, 0)),
        "wrap_turns": Result("turns of wrap on it", float(first.tool.turns), "", places=0),
        "overlap": Result("tape on the sheet", recipe.overlap_in, "in"),
        "start": Result("edge to the tool's lowest line at the start", first.start_in, "in"),
        "turn": Result("turn the tool", first.turn_deg, "deg", places=0),
        "radius": Result("inside radius where it lay on the tool", recipe.inner_radius_in[1], "in", recipe.inner_radius_in[0], recipe.inner_radius_in[2]),
        "gap": Result("largest gap to a template", recipe.gap_middle_in, "in", recipe.gap_low_in, recipe.gap_high_in),
        "chance": Result("chance that every template fits", 100.0 * recipe.chance, "%", places=0),
        "gaps": Result("expected gap at each template", recipe.gap_in, "in"),
        "opening": Result("opening between mating holes when let go", open_mid, "in", open_low, open_high),
        "stress": Result("bending stress that stays at the joint", stress.joint_stress_psi, "psi"),
        "windup": Result("far end lags by", worst.windup_deg, "deg", places=1),
        "lever": Result(
            "lever, at least", float(lever_length_in(
                torque_lbf_in_per_in=worst.torque_lbf_in_per_in, length_in=float(spec.length.value),
                hand_lbf=float(spec.pull.value), lever_count=float(rolling.levers),
            )), "in",
        ),
        "flat_edge": Result("strip at the edge that stays flat", last.flat_in, "in"),
        "settings_tried": Result("tools, tapes and turns tried", float(recipe.tried), "", places=0),
    }  # fmt: skip
    if len(recipe.passes) == 2:
        results["second_tool"] = Result("round tool of the second pass", _called(last.tool.name, 0))
        results["second_wrap_turns"] = Result("turns of wrap on it", float(last.tool.turns), "", places=0)
        results["second_turn"] = Result("turn it", last.turn_deg, "deg", places=0)
    make = 2.0 * radius_for_in(
        world,
        inner_radius_in=max(middle - half, 0.03),
        rows=np.arange(world.yield_factor.size, dtype=np.intp),
    )
    low_d, mid_d, high_d = (float(a) for a in np.quantile(make, [0.025, 0.5, 0.975]))
    results["tool_to_make"] = Result(
        "diameter that alone would make the mean radius", mid_d, "in", low_d, high_d
    )
    ws.worked_out(
        "tool for the mean radius",
        f"{mid_d:.3f} in",
        "the same law solved for the tool; buy or turn it if none on hand will do",
        value=mid_d,
        unit="in",
    )
    return results


def _called(name: str, turns: int) -> str:
    return name if turns == 0 else f"{name} with {turns} turn{'s' if turns > 1 else ''} of wrap"


def _cautions(recipe: Recipe, spec: NoseRoll) -> tuple[str, ...]:
    said = [
        "Roll a scrap of the same sheet first: it halves the band or better when its radius is read to 1 %."
    ]
    if max(one.turn_deg for one in recipe.passes) > CHECKED_WRAP_DEG:
        said.append(
            "The mechanics were checked by finite elements up to 60° of turn; beyond that the band is wider than it says."
        )
    if recipe.chance < 0.5:
        said.insert(
            0,
            "None of the tools on hand is likely to make this template: the diameter that alone would is among the results.",
        )
    windup = max(one.windup_deg for one in recipe.passes)
    if windup > 5.0:
        said.append(
            f"The tool itself twists {windup:.0f}° over this length: put a metal tube inside it, or levers at both ends."
        )
    if len(recipe.passes) == 2:
        said.append("The second pass changes only where its smaller tool bends sharper than the first did.")
    said.append("A rolled edge can't be taken back: stop when the opening is under 1/16 in.")
    if spec.grain == "not known":
        said.append("The grain is not known: the band holds for both directions.")
    return tuple(said)
