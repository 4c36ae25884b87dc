"""``ribwright calc``: any calculation from the command line, from a file, standard input or flags."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import click

from ribwright.cli.app import emit
from ribwright.errors import FormatError, MissingError, UnknownNameError

LARGEST_INPUT = 5_000_000


@click.command(context_settings={"ignore_unknown_options": True, "allow_extra_args": True})
@click.argument("name", required=False)
@click.option(
    "--in",
    "source",
    metavar="FILE",
    help="JSON or TOML with the fields' names as keys; - for standard input (JSON).",
)
@click.option("--json", "as_json", is_flag=True, help="One JSON object on standard output.")
@click.option("--list", "listing", is_flag=True, help="List all calculations.")
@click.option("--schema", "as_schema", is_flag=True, help="The JSON schema of the calculation's input.")
@click.option(
    "--pdf", metavar="FILE", help="Also write worksheet, sheets and full-size templates to this PDF."
)
@click.option("--svg", metavar="FILE", help="Also write the picture to this SVG.")
@click.option("--fail", is_flag=True, help="Exit 1 unless every check is within limits.")
@click.option("--paper", default="letter", show_default=True, help="Paper of the PDF.")
@click.option("--printer", metavar="NAME", help="Templates of the PDF for this printer of the project.")
@click.pass_context
def calc(
    ctx: click.Context,
    name: str | None,
    source: str | None,
    as_json: bool,
    listing: bool,
    as_schema: bool,
    pdf: str | None,
    svg: str | None,
    fail: bool,
    paper: str,
    printer: str | None,
) -> int:
    """Run the calculation NAME.

    Inputs come from --in, and from flags named like the fields: --thickness .032, and for rows
    --layers.0.thickness .020. A value may carry its unit; a bare number takes the field's.
    """
    if listing or name is None:
        return _list(as_json)
    if as_schema:
        from ribwright.services.calculations import schema_of

        emit(schema_of(name), as_json=True)
        return 0
    from ribwright.services.calculations import run_calculation

    done = run_calculation(name, _raw(source), flags_of(ctx.args))
    if pdf:
        Path(pdf).write_bytes(done.pdf(paper, **_factors(printer)))
    if svg:
        Path(svg).write_text(done.svg(), encoding="utf-8")
    emit(done.answer, as_json=as_json, text="" if as_json else done.text())
    return 1 if fail and done.answer["status"] not in ("within limits", "no check") else 0


def _factors(printer: str | None) -> dict[str, Any]:
    """What a printer of the project at hand makes of a full-size page."""
    if printer is None:
        return {}
    from ribwright.services.printers import printer_for
    from ribwright.services.project import find_project, open_project

    with open_project(find_project(None)) as opened:
        use = printer_for(opened, printer)
    return {"correction": use.correction, "printer": use.words}


def _list(as_json: bool) -> int:
    from dataclasses import asdict

    from ribwright.core.audit.index import entries

    made = entries()
    if as_json:
        emit({"calculations": [asdict(entry) for entry in made]}, as_json=True)
    else:
        width = max((len(entry.name) for entry in made), default=0)
        emit(None, as_json=False, text="\n".join(f"{e.name:<{width}}  {e.summary}" for e in made))
    return 0


def _raw(source: str | None) -> dict[str, Any]:
    from ribwright.services.calculations import read_text

    if source is None:
        return {}
    if source == "-":
        text = sys.stdin.buffer.read(LARGEST_INPUT + 1)
        return read_text(text, name="standard input", toml=False)
    path = Path(source)
    try:
        if not path.is_file():
            raise FormatError(
                "--in",
                found=source,
                allowed="a JSON or TOML file",
                because="there is no such file",
                mend="Check the name.",
            )
        with path.open("rb") as file:
            text = file.read(LARGEST_INPUT + 1)
    except OSError as error:
        raise FormatError("--in", found=f"{source}: {error.strerror}", allowed="a readable file") from None
    return read_text(text, name=source, toml=path.suffix.lower() == ".toml")


def flags_of(arguments: list[str]) -> dict[str, str]:
    """``--first "3/4 in"`` and ``--first=3/4`` as a flat form."""
    form: dict[str, str] = {}
    rest = list(arguments)
    while rest:
        flag = rest.pop(0)
        if not flag.startswith("--") or len(flag) < 3:
            raise UnknownNameError(
                "command line",
                found=flag,
                allowed="--FIELD VALUE",
                mend='A value of several words goes into quotes: --stack "1 in".',
            )
        field, equals, value = flag[2:].partition("=")
        if not equals:
            if not rest:
                raise MissingError(flag, allowed="a value after it", mend="Write --FIELD VALUE.")
            value = rest.pop(0)
        form[field.replace("-", "_")] = value
    return form
