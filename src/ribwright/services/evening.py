"""The main job on the demonstration: an evening's work on the left aileron, through all seven stations."""

from __future__ import annotations

from dataclasses import dataclass

from ribwright.core.bench import Finding
from ribwright.core.fastening.heads import Replacement
from ribwright.services.operations import enter_readings, enter_work, operation_view
from ribwright.services.project import Actor, Project

SEAM = "DN-21-S11"
"""Upper skin to rib 1 of the left aileron: the seam that the demonstration drives."""

BEFORE = ("DN-21-B02", "DN-21-R01", "DN-21-R02", "DN-21-R03", "DN-21-R04", "DN-21-B01", "DN-21-S01")
HEADS = (
    ("trial", "formed head diameter", ".142"), ("trial", "formed head height", ".047"), ("1", "formed head height", ".046"),
    ("2", "formed head height", ".048"), ("3", "formed head height", ".031"), ("4", "formed head height", ".045"),
    ("5", "formed head diameter", ".139"), ("6", "formed head height", ".061"), ("7", "formed head height", ".047"),
    ("1", "formed head diameter", ".140"), ("2", "formed head diameter", ".141"), ("4", "formed head diameter", ".139"),
    ("7", "formed head diameter", ".140"), ("8", "formed head height", ".046"),
)  # fmt: skip
"""Trial piece and twelve readings as a builder types them; holes 3 and 6 are not good."""

BUILDER = Actor("the builder", "builder")
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


def _id(ref: str, stage: str) -> str:
    return f"evening-{ref}-{stage.replace(' ', '-')}"
