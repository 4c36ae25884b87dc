"""``ribwright operation``: drawing data in, sheets out, readings in, findings out."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from ribwright.cli.app import emit
from ribwright.cli.group import Group
from ribwright.cli.options import acting, as_json_option, project_option
from ribwright.errors import FormatError, MissingError


@click.group(cls=Group)
def group() -> None:
    """Enter an operation, read its sheets, enter readings."""


@group.command("enter")
@click.argument("file")
@click.option("--ref", help="Reference of the operation; left out, the next free one of its assembly.")
@click.option(
    "--in", "parent", default="", help="Reference of the assembly it belongs to; a new one is made with it."
)
@click.option(
    "--calculation", help="What is calculated from the drawing data; left out, as the names in it tell."
)
@project_option
@acting
@as_json_option
def enter(
    file: str,
    ref: str | None,
    parent: str,
    calculation: str | None,
    project: str | None,
    who: Any,
    request: str,
    as_json: bool,
) -> None:
    """Enter drawing data from a TOML or JSON FILE: it is calculated first, and entered only if it can be."""
    from ribwright.services.calculations import kind_of
    from ribwright.services.operations import enter_operation, next_reference, operation_view
    from ribwright.services.project import find_project, open_project

    raw = _read_file(file)
    with open_project(find_project(project)) as opened:
        chosen = ref or next_reference(opened, parent)
        one = enter_operation(
            opened, actor=who, request_id=request, ref=chosen, calculation=calculation or kind_of(raw), raw=raw, parent=parent,
            make_parent=True,
        )  # fmt: skip
        view = operation_view(opened, one.ref)
        status = view.worked.outcome.status if view.worked else "no check"
        emit(
            {
                "ref": one.ref,
                "reference": one.reference,
                "status": status,
                "stages": [s.name for s in view.stages],
            },
            as_json=as_json,
            text=f"Entered {one.reference}: {one.title}. Checks on the drawing: {status}. Stages: {', '.join(s.name for s in view.stages)}.",
        )


@group.command("series")
@click.argument("ref")
@click.option("--count", type=int, required=True, help="How many more.")
@click.option(
    "--step", "steps", multiple=True, metavar="WORD=N", help='What counts on from one to the next: "rib 1=1".'
)
@click.option(
    "--last",
    "ends",
    multiple=True,
    metavar="FIELD=VALUE",
    help='Value at the last one: "last=9.2 in"; even between.',
)
@click.option("--enter", is_flag=True, help="Enter them; else they are only worked out and shown.")
@project_option
@acting
@as_json_option
def series_(
    ref: str,
    count: int,
    steps: tuple[str, ...],
    ends: tuple[str, ...],
    enter: bool,
    project: str | None,
    who: Any,
    request: str,
    as_json: bool,
) -> None:
    """A series of operations like REF: numbers in its words count on, sizes run straight to the last one."""
    from ribwright.services.project import find_project, open_project
    from ribwright.services.series import enter_series, look

    def pairs(given: tuple[str, ...], form: str) -> dict[str, str]:
        made = dict(one.rpartition("=")[::2] for one in given)
        if "" in made:
            raise FormatError(form.split("=")[0].lower(), found=", ".join(given), allowed=form)
        return made

    try:
        counted = {word: int(step) for word, step in pairs(steps, "WORD=N").items()}
    except ValueError:
        raise FormatError("--step", found=", ".join(steps), allowed='a whole number: "rib 1=1"') from None
    asked: dict[str, Any] = {"count": count, "steps": counted, "last": pairs(ends, "FIELD=VALUE")}
    with open_project(find_project(project)) as opened:
        found = look(opened, ref, **asked)
        if enter:
            enter_series(
                opened, actor=who, request_id=request, ref=ref, refs=[one.ref for one in found], **asked
            )
    said = [(one.ref, one.title, one.done.outcome.status if one.done else one.refused) for one in found]
    emit(
        {"entered": enter, "series": [{"ref": own, "title": title, "status": status} for own, title, status in said]},
        as_json=as_json,
        text="\n".join(["  ".join(one) for one in said] + ([] if enter else ["Not entered; add --enter."])),
    )  # fmt: skip


@group.command("show")
@click.argument("ref")
@click.option(
    "--toml", "as_toml", is_flag=True, help="Only its drawing data, as the file that `operation enter` takes."
)
@project_option
@as_json_option
def show(ref: str, as_toml: bool, project: str | None, as_json: bool) -> None:
    """The worksheet of an operation, its stages and findings."""
    from ribwright.services.calculations import toml_of
    from ribwright.services.operations import operation_view
    from ribwright.services.project import find_project, open_project

    with open_project(find_project(project)) as opened:
        view = operation_view(opened, ref)
    if as_toml:
        click.echo(toml_of(view.object.data.get("inputs") or {}), nl=False)
        return
    stages = [{"name": s.name, "done": s.done, "hours": f"{s.hours:g}"} for s in view.stages]
    data = {
        "ref": ref, "reference": view.reference, "title": view.object.title, "inputs": view.object.data.get("inputs", {}),
        "answer": view.worked.answer if view.worked else None, "problem": view.problem, "stages": stages,
        "findings": [dict(row) for row in view.findings], "readings": [dict(row) for row in view.readings],
    }  # fmt: skip
    lines = [
        view.worked.text() if view.worked else view.problem or "No calculation belongs to this operation."
    ]
    lines += [f"{s['name']:<24} {'finished' if s['done'] else 'to do':<9} {s['hours']} h" for s in stages]
    emit(data, as_json=as_json, text="\n".join(lines))


@group.command("sheet")
@click.argument("ref")
@click.argument("stage")
@click.option("--pdf", metavar="FILE", help="Write it to this PDF instead of the terminal.")
@project_option
def sheet(ref: str, stage: str, pdf: str | None, project: str | None) -> None:
    """The bench sheet of a STAGE."""
    from ribwright.services.operations import operation_view
    from ribwright.services.project import find_project, open_project
    from ribwright.services.sheets import sheet_document

    with open_project(find_project(project)) as opened:
        document = sheet_document(opened, operation_view(opened, ref), stage)
    if pdf:
        from ribwright.services.sheets import document_pdf

        Path(pdf).write_bytes(document_pdf(document))
        click.echo(f"Written: {pdf}", err=True)
    else:
        from ribwright.services.sheets import document_text

        click.echo(document_text(document))


@group.command("read")
@click.argument("ref")
@click.argument("stage")
@click.argument("values", nargs=-1, required=True)
@click.option(
    "--u",
    "uncertainty",
    default="",
    help="Plus or minus of the instrument, nineteen times in twenty, for all values.",
)
@click.option("--instrument", default="", help="What was measured with.")
@project_option
@acting
@as_json_option
def read(
    ref: str,
    stage: str,
    values: tuple[str, ...],
    uncertainty: str,
    instrument: str,
    project: str | None,
    who: Any,
    request: str,
    as_json: bool,
) -> int:
    """Enter readings: WHERE:WHAT=VALUE, for example 4:"formed head height"=.047 or trial:"formed head diameter"=.14

    WHERE is a hole number, trial, or any word; WHAT is the requirement's name as the sheet prints it.
    """
    from ribwright.services.project import find_project, open_project
    from ribwright.services.stage_readings import enter_readings

    rows = []
    for one in values:
        place, _, rest = one.partition(":")
        what, equals, value = rest.partition("=")
        if not equals:
            raise FormatError(
                "reading", found=one, allowed='WHERE:WHAT=VALUE, as 4:"formed head height"=.047'
            )
        rows.append(
            {"where": place, "requirement": what, "value": value, "u": uncertainty, "instrument": instrument}
        )
    with open_project(find_project(project)) as opened:
        made, action = enter_readings(
            opened, actor=who, request_id=request, ref=ref, stage=stage, values=rows
        )
    lines = [
        f"{f.where or '-':<8} {f.requirement:<22} {f.verdict.value:<14} {f.reason}. {f.next}" for f in made
    ]
    if action is not None:
        lines += _action_lines(action)
    data: dict[str, Any] = {"findings": [f.as_data() for f in made]}
    if action is not None:
        data["row"] = {
            "set_again": list(action.set_again), "replace": list(action.replace), "measure_again": list(action.measure_again),
            "ask": action.ask, "steps": list(action.steps),
        }  # fmt: skip
    emit(data, as_json=as_json, text="\n".join(lines))
    return 0


def _action_lines(action: Any) -> list[str]:
    lines = []
    for said, holes in (
        ("Set a little more", action.set_again),
        ("Replace", action.replace),
        ("Measure again", action.measure_again),
    ):
        if holes:
            lines.append(f"{said}: {', '.join(map(str, holes))}.")
    if action.ask:
        lines.append(action.ask)
    return lines + [f"  {number}. {step}" for number, step in enumerate(action.steps, start=1)]


def _read_file(file: str) -> dict[str, Any]:
    from ribwright.services.calculations import read_text

    path = Path(file)
    try:
        text = path.read_bytes()
    except OSError as error:
        raise MissingError(
            file,
            because=f"it can't be read: {error.strerror}",
            allowed="a TOML or JSON file",
            mend="Check the name.",
        ) from None
    return read_text(text, name=path.name, toml=path.suffix.lower() == ".toml")


def _answer_text(done: Any, worksheet: bool) -> str:
    said: str = done.text(worksheet=worksheet)
    return said if worksheet else f"{said.rstrip()}\n\nHow it was worked out: add --worksheet."


@group.command("spoiled", context_settings={"ignore_unknown_options": True, "allow_extra_args": True})
@click.argument("ref")
@click.option(
    "--enter", "enter_it", is_flag=True, help="Put it in the record: work on it stops until it is decided."
)
@click.option("--question", metavar="FILE", help="With --enter: write the page for the designer to this PDF.")
@click.option("--worksheet", is_flag=True, help="Under the answer also how it was worked out.")
@project_option
@acting
@as_json_option
@click.pass_context
def spoiled_command(
    ctx: click.Context,
    ref: str,
    enter_it: bool,
    question: str | None,
    worksheet: bool,
    project: str | None,
    who: Any,
    request: str,
    as_json: bool,
) -> None:
    """A spoiled hole of the seam REF: within limits, how to mend it, or ask.

    What the calipers say is given as flags: --what "oversize hole" --hole 7 --largest .112 --edge 5/16.
    The stack, head and rivet are the seam's.
    """
    from pathlib import Path

    from ribwright.cli.calc import flags_of
    from ribwright.services.calculations import with_flags
    from ribwright.services.discrepancies import question_document
    from ribwright.services.project import find_project, open_project
    from ribwright.services.sheets import document_pdf
    from ribwright.services.spoiled import Mistake, enter_spoiled, judge_spoiled

    typed = with_flags(Mistake, {}, flags_of(ctx.args))
    with open_project(find_project(project)) as opened:
        done = judge_spoiled(opened, ref, typed)
        made = (
            enter_spoiled(opened, actor=who, request_id=request, ref=ref, typed=typed) if enter_it else None
        )
        if question and made is not None:
            Path(question).write_bytes(document_pdf(question_document(opened, f"D{made.seq}")))
    said = f"\nIn the record as discrepancy D{made.seq}; work on {ref} waits." if made else ""
    answer = {**done.answer, "discrepancy": f"D{made.seq}" if made else None}
    emit(answer, as_json=as_json, text="" if as_json else _answer_text(done, worksheet) + said)


@group.command("rolled", context_settings={"ignore_unknown_options": True, "allow_extra_args": True})
@click.argument("ref")
@click.option("--place", default="", help="Along the edge from the lever's end; empty for the whole edge.")
@click.option("--lot", default="", help="Lot of the sheet; what it shows narrows the bands of its next edge.")
@click.option("--stage", default="", help="Stage of the operation.")
@click.option("--enter", "enter_it", is_flag=True, help="Put it in the record.")
@click.option("--narrow", is_flag=True, help="Plan this edge again with what the lot has shown on others.")
@click.option("--worksheet", is_flag=True, help="Under the answer also how it was worked out.")
@project_option
@acting
@as_json_option
@click.pass_context
def rolled_command(
    ctx: click.Context,
    ref: str,
    place: str,
    lot: str,
    stage: str,
    enter_it: bool,
    narrow: bool,
    worksheet: bool,
    project: str | None,
    who: Any,
    request: str,
    as_json: bool,
) -> None:
    """After a roll of the edge REF: stop, roll again with which tool, or why it can't be saved.

    What was measured is given as flags: --opening 3/16, or --chord 1.6 --height .36; the sheet, the
    template and the tools are the plan's.
    """
    from ribwright.cli.calc import flags_of
    from ribwright.core.forming.roll_calculations import NosePass
    from ribwright.services.calculations import with_flags
    from ribwright.services.project import find_project, open_project
    from ribwright.services.rolled import enter_roll, judge_roll, narrow_by_lot

    typed = with_flags(NosePass, {}, flags_of(ctx.args))
    with open_project(find_project(project)) as opened:
        if narrow:
            made = narrow_by_lot(opened, actor=who, request_id=request, ref=ref, lot=lot)
            said = f"{ref} is planned again, revision {made.revision}."
            emit({"ref": ref, "revision": made.revision}, as_json=as_json, text=said)
            return
        done = judge_roll(opened, ref, typed, place=place)
        if enter_it:
            enter_roll(
                opened, actor=who, request_id=request, ref=ref, stage=stage, place=place, lot=lot, typed=typed
            )
    emit(done.answer, as_json=as_json, text="" if as_json else _answer_text(done, worksheet))


@group.command("other-hand")
@click.argument("ref")
@click.argument("to")
@project_option
@acting
@as_json_option
def other_hand(ref: str, to: str, project: str | None, who: Any, request: str, as_json: bool) -> None:
    """Make the other hand of a part, an operation or a whole assembly: REF mirrored under the reference TO."""
    from ribwright.services.mirror import mirror
    from ribwright.services.project import find_project, open_project

    with open_project(find_project(project)) as opened:
        made = mirror(opened, actor=who, request_id=request, ref=ref, to=to)
    emit(
        {"ref": made.top, "hand": made.hand, "made": list(made.made), "same": made.same},
        as_json=as_json,
        text=f"{made.top}, {made.hand.upper()} HAND: {len(made.made)} made, {made.same} stood there already exactly so.",
    )
