"""``ribwright bench``: what is next, and what was done: hours, clock, row tally, turn of the lever."""

from __future__ import annotations

from typing import Any

import click

from ribwright.cli.app import emit
from ribwright.cli.group import Group
from ribwright.cli.options import acting, acting_as, as_json_option, project_option


@click.group(cls=Group)
def group() -> None:
    """What is next on the bench; work, clock, tally and turn; before you close it."""


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
    lines = [f"{len(made.ready)} stages can be done now; {made.done} of {made.stages} are finished."]
    lines += [
        f"{r.ref:<14} {r.stage:<24} {r.title}" + (f", {r.hours:.1f} h" if r.hours is not None else "") + f" ({r.why})"
        for r in made.ready[:most]
    ]  # fmt: skip
    lines += [
        f"{w.ref:<14} {w.stage:<24} waits for {'; '.join(w.waits_for)}"
        for w in made.waiting[: max(0, most - len(made.ready))]
    ]
    left = len(made.ready) + len(made.waiting) - most
    if left > 0:
        lines.append(f"and {left} more; --most {most + left} shows them.")
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
        f"{len(made.open)} of {len(made.lines)} lines are open before {made.stage}."
        if made.stage
        else "Nothing is closed here."
    ]
    lines += [
        f"{'done' if line.done else 'OPEN'}  {line.text} ({line.found}){'' if line.done else ' ' + line.mend}"
        for line in made.lines
    ]
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


@group.command("clock")
@click.argument("what", type=click.Choice(["start", "stop", "confirm", "show"]))
@click.argument("ref", required=False)
@click.argument("stage", required=False)
@click.option("--hours", default="", help="With confirm: the hours as they should stand; else as it ran.")
@click.option("--done", is_flag=True, help="With confirm: the stage is finished.")
@project_option
@acting
@as_json_option
def clock(
    what: str,
    ref: str | None,
    stage: str | None,
    hours: str,
    done: bool,
    project: str | None,
    who: Any,
    request: str,
    as_json: bool,
) -> None:
    """Start, stop or confirm your clock on a STAGE of REF, or show every clock.

    A stopped clock counts nothing until its hours are confirmed.
    """
    from ribwright.errors import MissingError
    from ribwright.services.clock import clocks, confirm_clock, start_clock, stop_clock
    from ribwright.services.project import find_project, open_project

    if what != "show" and not (ref and stage):
        raise click.UsageError(f"{what} needs REF and STAGE.")
    ref, stage = ref or "", stage or ""
    with open_project(find_project(project)) as opened:
        if what == "start":
            start_clock(opened, actor=who, request_id=request, ref=ref, stage=stage)
        elif what == "stop":
            stop_clock(opened, actor=who, request_id=request, ref=ref, stage=stage)
        elif what == "confirm":
            mine = [
                c for c in clocks(opened) if (c.ref, c.stage, c.person) == (ref, stage, who.name) and c.ended
            ]
            if not mine:
                raise MissingError(
                    "clock", allowed=f"a stopped clock of {who.name} on {ref}, {stage}", mend="Stop it first; bench clock show lists them."
                )  # fmt: skip
            confirm_clock(
                opened,
                actor=who,
                request_id=request,
                seq=mine[0].seq,
                hours=hours or mine[0].hours,
                done=done,
            )
        every = clocks(opened)
    lines = [
        f"{c.ref} {c.stage}: {c.person}, "
        + (
            f"{c.started} to {c.ended}, {c.hours or '?'} h to confirm"
            if c.ended
            else f"runs since {c.started}"
        )
        for c in every
    ]
    data = [
        {"ref": c.ref, "stage": c.stage, "person": c.person, "started": c.started, "ended": c.ended, "hours": c.hours}
        for c in every
    ]  # fmt: skip
    emit({"clocks": data}, as_json=as_json, text="\n".join(lines) or "No clock runs, none waits.")


@group.command("tally")
@click.argument("ref")
@click.argument("marks", nargs=-1)
@project_option
@acting
@as_json_option
def tally(
    ref: str, marks: tuple[str, ...], project: str | None, who: Any, request: str, as_json: bool
) -> None:
    """Enter what the bucker called of a row: MARKS such as 1-6=good 7="a bit more" 8=replace.

    Without MARKS: how the row stands.
    """
    from ribwright.errors import FormatError
    from ribwright.services.operations import operation_view
    from ribwright.services.project import find_project, open_project
    from ribwright.services.tally import enter_tally, row_of

    called: dict[int, str] = {}
    for text in marks:
        holes, _, mark = text.partition("=")
        first, _, last = holes.partition("-")
        ends = (first, last or first)
        if not mark or not all(one.isascii() and one.isdigit() and len(one) < 5 for one in ends):
            raise FormatError("marks", found=text, allowed='such as 3=good, 1-6=good or 7="a bit more"')
        called |= dict.fromkeys(range(int(ends[0]), int(ends[1]) + 1), mark)
    with open_project(find_project(project)) as opened:
        if marks:
            row = enter_tally(opened, actor=who, request_id=request, ref=ref, marks=called)
        else:
            row = row_of(operation_view(opened, ref))
    emit(
        {
            "ref": ref,
            "holes": list(row.holes),
            "marks": {str(hole): mark for hole, mark in row.marks.items()},
        },
        as_json=as_json,
        text="\n".join(f"{hole:>4}  {row.marks.get(hole, 'not looked at')}" for hole in row.holes),
    )


@group.command("turn")
@click.argument("ref")
@click.argument("stage")
@click.argument("turned")
@click.option("--back", default="", help="Where the lever came to rest when let go, degrees.")
@click.option(
    "--end", default="lever", show_default=True, type=click.Choice(["lever", "far"]), help="Which end."
)
@click.option("--stop", default="", help="The stop mark it was turned to.")
@project_option
@acting
@as_json_option
def turn(
    ref: str,
    stage: str,
    turned: str,
    back: str,
    end: str,
    stop: str,
    project: str | None,
    who: Any,
    request: str,
    as_json: bool,
) -> None:
    """Enter how far the lever was TURNED, degrees. A shared stop mark, not a measurement of the bend."""
    from ribwright.services.project import find_project, open_project
    from ribwright.services.twist import enter_turn

    with open_project(find_project(project)) as opened:
        enter_turn(
            opened, actor=who, request_id=request, ref=ref, stage=stage, turned=turned, back=back, end=end, stop=stop
        )  # fmt: skip
    emit(
        {"ref": ref, "stage": stage, "turned": turned, "back": back or None, "end": end},
        as_json=as_json,
        text=f"{ref} {stage}: turned to {turned}{f', came back to {back}' if back else ''}, entered.",
    )
