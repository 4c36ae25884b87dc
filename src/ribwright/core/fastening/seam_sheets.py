"""The stages of a seam as bench sheets: drill; dimple and countersink; rivet."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ribwright.core.bench import Because, Requirement, Setting, StageSheet, TrayItem, Trial
from ribwright.core.tables import drill_sizes, table
from ribwright.core.units import shown

if TYPE_CHECKING:
    from ribwright.core.fastening.seam import SeamPlan

_PLAN_UPPER = (
    "Tape the full-size strip on after its check figure was measured; the datum end of strip and part agree."
)


def seam_sheets(plan: SeamPlan) -> tuple[StageSheet, ...]:
    """The sheets in working order; a stage that the seam doesn't need makes no sheet."""
    made = [_drill(plan)]
    if any(one.kind != "neither" for one in plan.treatments):
        made.append(_dimple(plan))
    made.append(_rivet(plan))
    return tuple(made)


def _hole_requirement(plan: SeamPlan) -> Requirement:
    nominal = float(drill_sizes()[plan.final])
    largest = nominal + 0.003
    d = plan.rivet.diameter_in
    return Requirement(
        name="finished hole",
        unit="in",
        low=nominal - 0.001,
        nominal=nominal,
        high=largest,
        because=Because.cell(
            table("rivets/drill").cell(plan.rivet.size, "final"),
            f"drill {plan.final}, room of .003 in by common practice",
        ),
        how="two drill shanks: the final one goes in, the next larger one doesn't",
        when_low="Run the final drill through once more.",
        when_high="Oversize: look whether the next rivet size still has its edge distance and pitch; else ask.",
        refer_high=d + 1 / 32 if not plan.spec.primary else largest,
        usual_u=0.001,
    )


def _common(plan: SeamPlan) -> dict[str, object]:
    spec = plan.spec
    return {
        "operation": spec.title, "hand": spec.hand, "drawing": spec.drawing, "revision": spec.revision,
    }  # fmt: skip


def _open_caution(plan: SeamPlan, what: str) -> tuple[str, ...]:
    made = []
    if plan.open_holes:
        holes = sorted(plan.open_holes)
        named = f"Hole {holes[0]} stays" if len(holes) == 1 else f"Holes {', '.join(map(str, holes))} stay"
        made.append(f"{named} open: {what}.")
    for one in plan.spec.exceptions:
        if one.what == "other fastener":
            made.append(f"Hole {one.hole} takes another fastener, {one.fastener}. {one.reason or ''}".strip())
    return tuple(made)


def _primary(plan: SeamPlan) -> tuple[str, ...]:
    return (
        ("PRIMARY STRUCTURE: a mistake here is not mended from this sheet; it goes to the designer.",)
        if plan.spec.primary
        else ()
    )


def _drill(plan: SeamPlan) -> StageSheet:
    from ribwright.core.fastening.seam_picture import row_map

    spec = plan.spec
    holes = len(plan.positions_in)
    every = 3
    tray = [
        TrayItem("pilot drill", plan.pilot, "1", plan.pilot),
        TrayItem("final drill", plan.final, "1", plan.final),
        TrayItem("temporary fasteners", plan.final, str(max(2, -(-holes // every) + 1))),
        TrayItem("deburring tool", "", "1"),
        TrayItem("safety glasses, ear protection", "", "1"),
    ]
    if not spec.punched:
        tray.insert(0, TrayItem("full-size drill strip", "", "1"))
    steps = (
        (
            "Check every punched hole against the drawing: count " + str(holes) + "."
            if spec.punched
            else _PLAN_UPPER
        ),
        "Clamp the sheets in their order, flat, with no chip between them.",
        f"Drill the first, the last and the middle hole {plan.pilot}; a temporary fastener in each.",
        "Work from the middle to the ends, a temporary fastener in every third hole (every hole on a curve).",
        f"Open all holes to {plan.final}, the drill square to the sheet; move the temporary fasteners as you go.",
        "Mark each sheet with a felt tip so that it goes back the same way round, take them apart.",
        "Deburr both sides of every sheet: burr off, no countersink; clean the sheets.",
    )
    return StageSheet(
        **_common(plan), stage="drill", title=f"Drill: {spec.title}", tray=tuple(tray),  # type: ignore[arg-type]
        settings=(
            Setting("pilot drill", plan.pilot, Because.cell(table("rivets/drill").cell(plan.rivet.size, "pilot"))),
            Setting("final drill", plan.final, Because.cell(table("rivets/drill").cell(plan.rivet.size, "final"))),
            Setting("holes", f"{holes}, {shown(plan.pitch_in, 'in')} apart", plan.row_because),
        ),
        trial=Trial(
            _stack(plan),
            (f"Drill two holes {plan.pilot}, open them to {plan.final}.", "Deburr, then try the drill shanks."),
            (_hole_requirement(plan),),
        ),
        steps=steps, requirements=(_hole_requirement(plan),),
        cautions=(*_primary(plan), *_open_caution(plan, "drilled with the rest, riveted only when the drawing says")),
        picture=row_map(plan),
    )  # fmt: skip


def _dimple(plan: SeamPlan) -> StageSheet:
    from ribwright.core.fastening.seam_picture import stack_section

    spec = plan.spec
    size = plan.rivet.size
    kinds = {one.kind for one in plan.treatments}
    tray: list[TrayItem] = []
    steps: list[str] = []
    settings: list[Setting] = []
    if "dimple" in kinds:
        tray += [
            TrayItem("dimple dies, 100°", size, "1 pair"),
            TrayItem("squeezer or dimpling frame", "", "1"),
        ]
    if "countersink" in kinds:
        tray += [TrayItem("countersink, 100°, piloted", size, "1"), TrayItem("stop cage", "", "1")]
    tray.append(TrayItem("rivet to try", plan.rivet.part_number, "5", plan.rivet.part_number))
    for number, (layer, one) in enumerate(zip(spec.layers, plan.treatments, strict=True)):
        if one.kind == "dimple":
            steps.append(
                f"{layer.part}: dimple every hole, male die on the {'outer' if number == 0 else 'same'} side as the manufactured head, so that the dimple stands out toward the formed head."
            )
            settings.append(Setting(f"{layer.part}", "dimple toward the formed head", one.because))
        elif one.kind == "countersink":
            extra = (
                f", {one.extra_depth_in:.3f} in deeper than a bare head needs"
                if one.extra_depth_in > 0
                else ""
            )
            steps.append(
                f"{layer.part}: countersink every hole from the manufactured head's side{extra}. Set the stop on scrap first."
            )
            settings.append(Setting(f"{layer.part}", f"countersink{extra}", one.because))
        else:
            steps.append(f"{layer.part}: leave plain.")
    steps.append(
        "Nest the sheets: each dimple sits in the one below without rocking; try a rivet in ten holes."
    )
    head = (
        table("rivets/flush-head").cell(size, "diameter")
        if size in table("rivets/flush-head").row_keys()
        else None
    )
    requirements = []
    if head is not None:
        tolerance = table("rivets/flush-head").cell(size, "tolerance").value
        requirements.append(
            Requirement(
                name="rivet head above the skin", unit="in", low=-0.002, nominal=0.0, high=0.002,
                because=Because.worked_out(f"flush within .002 in, common practice; the head itself varies by ± {tolerance:g} in", "practice"),
                how="finger nail and a straight edge with a feeler over ten heads",
                when_low="Head sinks: the countersink is too deep or the dimple too open. Not more of it: stop and ask for this hole.",
                when_high="Head stands up: dimple again with more force, or countersink a step deeper.",
                refer_low=-0.006, usual_u=0.001,
            )
        )  # fmt: skip
    return StageSheet(
        **_common(plan), stage="dimple and countersink", title=f"Dimple and countersink: {spec.title}", tray=tuple(tray),  # type: ignore[arg-type]
        settings=tuple(settings),
        trial=Trial(
            _stack(plan),
            ("Drill and deburr three holes as on the part.", "Dimple or countersink each layer as below.", "Nest them and put a rivet in: measure the head."),
            tuple(requirements),
        ),
        steps=tuple(steps), requirements=tuple(requirements),
        cautions=(
            *_primary(plan),
            "A dimple the wrong way round can't be turned back: mark the head's side of every sheet before the first.",
            *_open_caution(plan, "made as the fastener that goes in later needs"),
        ),
        picture=stack_section(plan),
    )  # fmt: skip


def _rivet(plan: SeamPlan) -> StageSheet:
    from ribwright.core.fastening.seam_picture import stack_section

    spec = plan.spec
    size = plan.rivet.size
    rivets = plan.rivets
    spare = max(5, -(-rivets // 20))
    tray = [
        TrayItem("rivets", plan.rivet.part_number, f"{rivets} + {spare}", plan.rivet.part_number),
        TrayItem("rivet set, flush" if spec.head.startswith("flush") else "rivet set, universal", size, "1"),
        TrayItem("bucking bar", "", "1"),
        TrayItem("formed-head gauge", size, "1"),
        TrayItem("tape", "", "1"),
        TrayItem("ear protection", "", "2"),
    ]
    settings = [Setting("rivet", plan.rivet.part_number, plan.rivet_because)]
    guns = table("rivets/gun")
    if size in guns.row_keys():
        low, high = guns.cell(size, "low"), guns.cell(size, "high")
        settings.append(
            Setting("air to start the trial with", f"{low.text} to {high.text} psi", Because.cell(low))
        )
    practice = Because.worked_out("common practice, no source", "practice")
    settings.append(Setting("tool", "squeezer where its yoke reaches, else gun and bar", practice))
    slot = plan.pitch_in - 2 * plan.rivet.diameter_in * 2
    if spec.head.startswith("flush") and slot > 0.25:
        settings.append(
            Setting(
                "back riveting",
                f"heads on a flat steel plate under tape, long set on the shanks; slot of the holding guide at most {slot:.2f} in, so that it clears both neighbours",
                Because.worked_out(f"pitch {shown(plan.pitch_in, 'in')} less a formed head on either side"),
            )
        )
    return StageSheet(
        **_common(plan), stage="rivet", title=f"Rivet: {spec.title}", tray=tuple(tray), settings=tuple(settings),  # type: ignore[arg-type]
        trial=Trial(
            _stack(plan),
            ("Put five rivets in scrap of the same stack.", "Set one; measure; change the air or the time; set the next.", "Go on when two in a row are within limits."),
            plan.heads,
        ),
        steps=(
            "Check the tray: head mark and length of the rivets against this sheet.",
            "Sheets together, a temporary fastener in every second or third hole, no gap and no chip between them.",
            "Rivet the middle, then halve the distances; tape over ten heads at a time.",
            "Bar square to the shank; short burst; look; a second short burst at most.",
            "Measure the first three and then every tenth formed head; look at every one.",
            "Circle a doubtful head with a felt tip; go on only when you know why.",
        ),
        requirements=plan.heads,
        cautions=(
            *_primary(plan),
            "Two people: only the one with the bar says whether it is good; one tap good, two taps a bit more, three replace.",
            *_open_caution(plan, "no rivet goes in now"),
        ),
        picture=stack_section(plan),
    )  # fmt: skip


def _stack(plan: SeamPlan) -> str:
    return ", ".join(f"{layer.thickness.text} {layer.material}" for layer in plan.spec.layers)
