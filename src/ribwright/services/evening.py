"""The main job on the demonstration: an evening's work on the left aileron, through all seven stations."""

from __future__ import annotations

from dataclasses import dataclass

from ribwright.core.bench import Finding
from ribwright.core.fastening.heads import Replacement
from ribwright.errors import UnknownNameError
from ribwright.services.closing import before_stage
from ribwright.services.lines import enter_line
from ribwright.services.operations import enter_work, operation_view
from ribwright.services.project import Actor, Project
from ribwright.services.record import get_object
from ribwright.services.stage_readings import enter_readings

SEAM = "DN-21-S11"
"""Upper skin to rib 1 of the left aileron: the seam that the demonstration drives."""

BEFORE = (
    "DN-21-T01",
    "DN-21-B02",
    "DN-21-R01",
    "DN-21-R02",
    "DN-21-R03",
    "DN-21-R04",
    "DN-21-B01",
    "DN-21-S01",
)
HEADS = (
    ("1", "formed head height", ".046"),
    ("2", "formed head height", ".048"), ("3", "formed head height", ".031"), ("4", "formed head height", ".045"),
    ("5", "formed head diameter", ".139"), ("6", "formed head height", ".061"), ("7", "formed head height", ".047"),
    ("1", "formed head diameter", ".140"), ("2", "formed head diameter", ".141"), ("4", "formed head diameter", ".139"),
    ("7", "formed head diameter", ".140"), ("8", "formed head height", ".046"),
)  # fmt: skip
"""Twelve readings as a builder types them; holes 3 and 6 are not good."""

BUILDER = Actor("the builder", "builder")
TRIAL = tuple(
    {"where": "trial", "requirement": f"formed head {what}", "value": value, "instrument": "calipers"}
    for what, value in (("diameter", ".142"), ("height", ".047"))
)
HELPER = Actor("the neighbour", "helper")


@dataclass(frozen=True, slots=True)
class Evening:
    """What the evening came to."""

    seam: str
    findings: tuple[Finding, ...]
    action: Replacement | None


def work_an_evening(project: Project, *, actor: Actor) -> Evening:
    """Finish what comes before the seam, drive it, measure it; done again it counts once.

    Raises:
        UnknownNameError: the project is not the demonstration.
    """
    for ref in BEFORE:
        for stage in operation_view(project, ref).stages:
            see_to(project, actor, ref, stage.name)
            enter_work(
                project,
                actor=actor,
                request_id=_id(ref, stage.name),
                ref=ref,
                stage=stage.name,
                hours=stage.estimate or "0.5",
                done=True,
            )
    for stage in operation_view(project, SEAM).stages:
        last = stage.name == "rivet"
        see_to(project, actor, SEAM, stage.name)
        enter_work(
            project, actor=HELPER if last else actor, request_id=_id(SEAM, stage.name), ref=SEAM, stage=stage.name,
            hours=stage.estimate or "0.5", done=not last, words="two heads to see to" if last else "",
        )  # fmt: skip
    values = [
        {"where": where, "requirement": what, "value": value, "instrument": "calipers"}
        for where, what, value in HEADS
    ]
    findings, action = enter_readings(
        project, actor=actor, request_id="evening-heads", ref=SEAM, stage="rivet", values=values
    )
    return Evening(SEAM, findings, action)


def see_to(project: Project, actor: Actor, ref: str, stage: str) -> None:
    """What the list before a stage asks for, entered as a careful builder finds it: primer, bag, marks, trial piece."""
    if stage == "rivet" and "trial" in {line.key for line in before_stage(project, ref, stage).lines}:
        enter_readings(project, actor=actor, request_id=_id(ref, "trial"), ref=ref, stage=stage, values=TRIAL)
    for number, line in enumerate(before_stage(project, ref, stage).open):
        wanted = line.text.partition(": ")[2]
        values = {
            "finish": ["PRIMER"],
            "tray": wanted.removesuffix(", by head mark and length").split(", "),
            "dimple": [wanted],
            "open holes": [wanted],
        }
        for count, value in enumerate(values.get(line.key, [])):
            enter_line(
                project,
                actor=actor,
                request_id=_id(ref, f"{stage}-{number}-{count}"),
                ref=ref,
                stage=stage,
                text=line.text,
                value=value,
                lot=lot_of(project, value),
            )


def lot_of(project: Project, item: str) -> str:
    """The lot that the stores first held of an item, or ""."""
    try:
        return str(get_object(project, item).data.get("lot") or "")
    except UnknownNameError:
        return ""


def _id(ref: str, stage: str) -> str:
    return f"evening-{ref}-{stage.replace(' ', '-')}"
