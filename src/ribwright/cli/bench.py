"""``ribwright bench``: what is next, and work done."""

from __future__ import annotations

from typing import Any

import click

from ribwright.cli.app import emit
from ribwright.cli.options import acting, acting_as, as_json_option, project_option


@click.group()
def group() -> None:
    """What is next on the bench; work done; before you close it."""


@group.command("next")
@click.option("--in", "parent", help="Only this assembly.")
@click.option("--most", default=20, show_default=True, help="At most so many lines.")
@project_option
@as_json_option
def next_(parent: str | None, most: int, project: str | None, as_json: bool) -> None:
    """Stages that can be done now, and what the others wait for."""
    from ribwright.services.bench import next_on_bench
    from ribwright.services.project import find_project, open_project

    with open_project(find_project(project)) as opened:
        made = next_on_bench(opened, parent=parent)
    lines = [f"{r.ref:<14} {r.stage:<24} {r.title} ({r.why})" for r in made.ready[:most]]
    lines += [
        f"{w.ref:<14} {w.stage:<24} waits for {'; '.join(w.waits_for)}"
        for w in made.waiting[: max(0, most - len(lines))]
    ]
    lines.append(f"{made.done} of {made.stages} stages finished.")
    data = {
        "ready": [{"ref": r.ref, "stage": r.stage, "title": r.title, "why": r.why} for r in made.ready],
        "waiting": [{"ref": w.ref, "stage": w.stage, "title": w.title, "waits_for": list(w.waits_for)} for w in made.waiting],
        "done": made.done, "stages": made.stages,
    }  # fmt: skip
    emit(data, as_json=as_json, text="\n".join(lines))


@group.command("work")
@click.argument("ref")
@click.argument("stage")
@click.argument("hours")
@click.option("--done", is_flag=True, help="The stage is finished.")
@click.option(
    "--as", "worked_as", type=click.Choice(["builder", "helper", "paid"]), default=None, help="Who worked."
)
@click.option("--words", default="", help="What is worth remembering.")
@project_option
@acting
@as_json_option
def work(
    ref: str,
    stage: str,
    hours: str,
    done: bool,
    worked_as: str | None,
    words: str,
    project: str | None,
    who: Any,
    request: str,
    as_json: bool,
) -> None:
    """Log HOURS on a STAGE, for example 1.5 or "90 min"."""
    from ribwright.services.operations import enter_work
    from ribwright.services.project import find_project, open_project

    with open_project(find_project(project)) as opened:
        enter_work(
            opened,
            actor=who,
            request_id=request,
            ref=ref,
            stage=stage,
            hours=hours,
            done=done,
            worked_as=worked_as or "",
            words=words,
        )
    emit(
        {"ref": ref, "stage": stage, "done": done},
        as_json=as_json,
        text=f"{ref} {stage}: {hours} logged{', finished' if done else ''}.",
    )


@group.command("closing")
@click.argument("ref")
@click.argument("stage", required=False)
@project_option
@as_json_option
def closing(ref: str, stage: str | None, project: str | None, as_json: bool) -> None:
    """The list before a STAGE of REF; left out, the stage that closes its space."""
    from ribwright.services.closing import before_closing, before_stage
    from ribwright.services.project import find_project, open_project

    with open_project(find_project(project)) as opened:
        made = before_stage(opened, ref, stage) if stage else before_closing(opened, ref)
    lines = [
        f"{'done' if line.done else 'OPEN'}  {line.text} ({line.found}){'' if line.done else ' ' + line.mend}"
        for line in made.lines
    ]
    lines.append(
        f"{len(made.open)} of {len(made.lines)} lines are open before {made.stage or 'nothing is closed'}."
    )
    data = {
        "ref": ref, "stage": made.stage, "space": made.space, "ready": made.ready,
        "lines": [{"key": x.key, "about": x.about, "text": x.text, "done": x.done, "found": x.found, "mend": x.mend} for x in made.lines],
    }  # fmt: skip
    emit(data, as_json=as_json, text="\n".join(lines))


@group.command("line")
@click.argument("ref")
@click.argument("stage")
@click.argument("text")
@click.argument("value")
@click.option("--lot", default="", help="Lot of the material.")
@click.option("--who", default="", help="The person who looked in.")
@project_option
@acting_as("actor")
@as_json_option
def line(
    ref: str,
    stage: str,
    text: str,
    value: str,
    lot: str,
    who: str,
    project: str | None,
    actor: Any,
    request: str,
    as_json: bool,
) -> None:
    """Enter what an open line asks for: TEXT as the list shows it, VALUE as found."""
    from ribwright.services.lines import enter_line
    from ribwright.services.project import find_project, open_project

    with open_project(find_project(project)) as opened:
        made = enter_line(
            opened,
            actor=actor,
            request_id=request,
            ref=ref,
            stage=stage,
            text=text,
            value=value,
            lot=lot,
            who=who,
        )
    emit(
        {"text": made.text, "done": made.done, "found": made.found},
        as_json=as_json,
        text=f"{'done' if made.done else 'OPEN'}  {made.text} ({made.found})",
    )
