"""The bench sheet of a rolled edge."""

from __future__ import annotations

from ribwright.core.audit import Result
from ribwright.core.bench import Because, Requirement, Setting, StageSheet, TrayItem, Trial
from ribwright.core.forming.closing import GOOD_IN, ROLL_AGAIN_IN
from ribwright.core.forming.nose_spec import NoseRoll
from ribwright.core.forming.recipe import Recipe
from ribwright.core.scene import Scene


def requirements_of(spec: NoseRoll, recipe: Recipe) -> tuple[Requirement, ...]:
    """What is read when the edge is let go."""
    tolerance = float(spec.tolerance.value)
    return (
        Requirement(
            name="opening between mating holes",
            unit="in",
            low=-GOOD_IN,
            nominal=0.0,
            high=GOOD_IN,
            because=Because.published("practice", "an opening that needs no more rolling", "practice"),
            how="steel rule at every hole, both skins held true at the spar and let go",
            when_low="It is rolled too far: do not roll again. Ease it open by hand over a larger round, a little at a time.",
            when_high=f"Up to {ROLL_AGAIN_IN:g} in: close it with finger pressure or roll once more with a smaller tool; the same tool changes nothing.",
            usual_u=1.0 / 64.0,
        ),
        Requirement(
            name="light gap to the template",
            unit="in",
            low=0.0,
            nominal=0.0,
            high=tolerance,
            because=Because.drawing(spec.drawing, spec.revision, "gap to the template, as entered"),
            how="template on a quarter-inch board, at each station, against the light",
            when_low="Read again: a gap can't be negative.",
            when_high="Find whether the arc is too open or ends too early, then take the next pass from the sheet for it.",
            usual_u=1.0 / 128.0,
        ),
    )


def sheet_for(
    spec: NoseRoll, recipe: Recipe, results: dict[str, Result], cautions: tuple[str, ...], scene: Scene
) -> StageSheet:
    """Tray, settings with reasons, trial on scrap, steps, what to read."""
    search = "best of every tool, stop and pass against the templates"
    settings: list[Setting] = []
    tray: list[TrayItem] = []
    steps: list[str] = [
        f"Mark a line on the inside of the sheet {recipe.passes[0].start_in:.2f} in from the free edge with a felt tip.",
        f"Tape the edge to the tool over its whole length: {recipe.overlap_in:.2f} in of tape on the sheet, pulled tight round the tool.",
    ]
    for number, one in enumerate(recipe.passes, start=1):
        called = one.tool.name + (f", {one.tool.turns} turns of wrap" if one.tool.turns else "")
        tray.append(TrayItem("round tool", f"{2 * one.tool.radius_in:.3f} in: {called}", "1"))
        settings += [
            Setting(f"pass {number}: tool", called, Because.worked_out(f"pass {number}: {search}")),
            Setting(f"pass {number}: turn", f"{one.turn_deg:.0f}°", Because.worked_out(f"pass {number}: arc, start and where the sheet leaves the tool")),
        ]  # fmt: skip
        steps += [
            f"Pass {number}: lay {called} with its lowest line on the mark; hold the sheet flat behind it.",
            f"Copy the angle mark onto the lever end: {one.turn_deg:.0f}°. Turn the tool towards the held part, rolling without slip, and stop at the mark.",
            f"The arc should now end {one.rolled_to_in:.2f} in from the edge. Turn back slowly, let go, take the tool off.",
        ]
    tray += [
        TrayItem("cloth tape", f"{recipe.overlap_in:.2f} in lap", "1 roll"),
        TrayItem("lever", f"at least {results['lever'].shown}", "1" if spec.levers == "one end" else "2"),
        TrayItem("templates on 1/4 in board", "", str(len(spec.stations))),
        TrayItem("steel rule, felt tip", "", "1"),
        TrayItem("scrap of the same sheet, grain the same way", "2 in x 6 in", "2"),
    ]
    settings.append(
        Setting(
            "tape on the sheet",
            f"{recipe.overlap_in:.2f} in",
            Because.worked_out("least lap that costs no more than .002 in of gap"),
        )
    )
    steps.append(
        "Hold every template to the edge; read the opening at every hole. Under 1/16 in: stop, it is good enough."
    )
    needed = requirements_of(spec, recipe)
    radius = results["radius"]
    nominal = recipe.inner_radius_in[1]
    trial_limit = Requirement(
        name="radius of the scrap",
        unit="in",
        low=radius.low,
        nominal=nominal,
        high=radius.high,
        because=Because.worked_out("band of the radius where the sheet lay on the tool, 95 %"),
        how="chord and height of a released strip, inside; average both ends",
        when_low="The sheet is softer than assumed: enter the scrap's chord and height and take the new recipe.",
        when_high="The sheet is harder than assumed: enter the scrap's chord and height and take the new recipe.",
        usual_u=0.01 * nominal,
    )
    return StageSheet(
        operation=spec.title,
        stage="roll",
        title=f"Roll the edge: {spec.title}",
        hand=spec.hand,  # type: ignore[arg-type]
        drawing=spec.drawing,
        revision=spec.revision,
        tray=tuple(tray),
        settings=tuple(settings),
        trial=Trial(
            "a strip of the same sheet, same grain",
            (
                "Roll a strip on the last pass's tool over at least 60° and let it go.",
                "Measure chord and height of its arc on the inside, at both edges; a radius gauge is not good enough.",
            ),
            (trial_limit,),
        ),
        steps=tuple(steps),
        requirements=needed,
        cautions=cautions,
        picture=scene,
    )
