"""``ribwright full-size``: templates on paper, as SVG and as DXF; blanks on sheets."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from ribwright.cli.app import emit
from ribwright.cli.group import Group
from ribwright.cli.options import as_json_option, project_option, with_workers
from ribwright.errors import FormatError


@click.group("full-size", cls=Group)
def group() -> None:
    """Templates, strips, blocks and blanks at their true size."""


_paper = click.option(
    "--paper",
    default="letter",
    show_default=True,
    help="letter, a4, tabloid, a3, roll-24in or roll-36in.",
)
_printer = click.option(
    "--printer",
    default="",
    metavar="NAME",
    help="Made for this printer; left out, the chosen one; none for no factors.",
)


@group.command("operation")
@click.argument("ref")
@click.option("--out", metavar="FOLDER", default=".", show_default=True, help="Where to write.")
@click.option("--svg", "with_svg", is_flag=True, help="Also each template as SVG at true size.")
@click.option("--dxf", "with_dxf", is_flag=True, help="Also each template as DXF.")
@_paper
@_printer
@project_option
@as_json_option
def operation(
    ref: str,
    out: str,
    with_svg: bool,
    with_dxf: bool,
    paper: str,
    printer: str,
    project: str | None,
    as_json: bool,
) -> None:
    """Write the templates of operation REF as one PDF; the sheets are listed as the map shows them."""
    from ribwright.services.fullsize import operation_full_size
    from ribwright.services.project import find_project, open_project

    with open_project(find_project(project)) as opened:
        made = operation_full_size(opened, ref, paper=paper, printer=printer)
    _write(made, ref, Path(out), with_svg, with_dxf, as_json)


@group.command("calc")
@click.argument("name")
@click.option(
    "--in", "source", required=True, metavar="FILE", help="JSON or TOML with the fields' names as keys."
)
@click.option("--out", metavar="FOLDER", default=".", show_default=True, help="Where to write.")
@click.option("--svg", "with_svg", is_flag=True, help="Also each template as SVG at true size.")
@click.option("--dxf", "with_dxf", is_flag=True, help="Also each template as DXF.")
@_paper
@click.option("--printer", default="", metavar="NAME", help="Made for this printer of the project.")
@project_option
@as_json_option
def calculation(
    name: str,
    source: str,
    out: str,
    with_svg: bool,
    with_dxf: bool,
    paper: str,
    printer: str,
    project: str | None,
    as_json: bool,
) -> None:
    """Write the templates of calculation NAME as one PDF, without entering it anywhere."""
    from ribwright.services.calculations import run_calculation
    from ribwright.services.fullsize import full_size_of
    from ribwright.services.printers import AS_IT_COMES, printer_for
    from ribwright.services.project import find_project, open_project

    use = AS_IT_COMES
    if printer or project:
        with open_project(find_project(project)) as opened:
            use = printer_for(opened, printer)
    done = run_calculation(name, _read(source))
    title = str(getattr(done.spec, "title", "") or done.calculation.title)
    made = full_size_of(done.outcome, done.spec, title=title, paper=paper, printer=use)
    _write(made, name, Path(out), with_svg, with_dxf, as_json)


def _read(source: str) -> dict[str, Any]:
    from ribwright.services.calculations import read_text

    path = Path(source)
    if not path.is_file():
        raise FormatError(
            "--in",
            found=source,
            allowed="a JSON or TOML file",
            because="there is no such file",
            mend="Check the name.",
        )
    return read_text(path.read_bytes(), name=source, toml=path.suffix.lower() == ".toml")


def _write(made: Any, name: str, folder: Path, with_svg: bool, with_dxf: bool, as_json: bool) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    written = [folder / f"{name}.pdf"]
    written[0].write_bytes(made.pdf())
    for one in made.templates:
        if with_svg:
            written.append(folder / f"{name}-{one.number}.svg")
            written[-1].write_text(one.svg(), encoding="utf-8")
        if with_dxf:
            written.append(folder / f"{name}-{one.number}.dxf")
            written[-1].write_bytes(one.dxf())
    lines = [f"{one.number}. {one.title}: {one.map.described}" for one in made.templates]
    data = {
        "paper": made.paper, "printer": made.printer.words, "sheets": made.sheets, "written": [str(path) for path in written],
        "templates": [
            {
                "number": one.number, "title": one.title, "sheets": len(one.pages), "across": 1 + max(p.column for p in one.pages),
                "down": 1 + max(p.row for p in one.pages),
            }
            for one in made.templates
        ],
    }  # fmt: skip
    emit(data, as_json=as_json, text="\n".join([*lines, *(f"Written: {path}" for path in written)]))


@group.command("all")
@click.option("--out", metavar="FOLDER", required=True, help="Where to write; made when it is not there.")
@click.option(
    "--paper", default="tabloid", show_default=True, help="letter, a4, tabloid, a3, roll-24in or roll-36in."
)
@_printer
@with_workers
@project_option
@as_json_option
def everything(out: str, paper: str, printer: str, project: str | None, as_json: bool) -> None:
    """Write every template of the project and the flat blank of every sheet part, as PDF and DXF."""
    from ribwright.services.fullsize import whole_output
    from ribwright.services.project import find_project, open_project

    folder = Path(out)
    folder.mkdir(parents=True, exist_ok=True)

    def keep(name: str, content: bytes) -> None:
        (folder / name.replace("/", "-")).write_bytes(content)

    with open_project(find_project(project)) as opened:
        made = whole_output(
            opened, keep, paper=paper, printer=printer, progress=lambda line: click.echo(line, err=True) if not as_json else None
        )  # fmt: skip
    emit(
        {
            "operations": made.operations,
            "drawings": made.drawings,
            "sheets": made.sheets,
            "files": made.files,
            "folder": out,
            "skipped": list(made.skipped),
        },
        as_json=as_json,
        text=f"{made.drawings} drawings on {made.sheets} sheets of {paper}, {made.files} files in {out}"
        + "".join(f"\nNot made: {line}" for line in made.skipped),
    )


@group.command("nest")
@click.option(
    "--stock", default="", metavar="STOCK", help="Material and thickness, such as '2024-T3 clad .025'."
)
@click.option("--under", default="", metavar="REF", help="Only the parts of this assembly.")
@click.option("--offcuts", metavar="FILE.csv", help="Offcuts to use first: name, length, width on each line.")
@click.option(
    "--sheets",
    "new_sheets",
    default=4,
    show_default=True,
    type=click.IntRange(0, 50),
    help="New sheets of 144 by 48 in that may be begun.",
)
@click.option(
    "--seconds", default=6, show_default=True, type=click.IntRange(0, 120), help="Time for laying them out."
)
@click.option("--dxf", metavar="FILE", help="Also the layout as DXF.")
@click.option("--svg", metavar="FILE", help="Also the layout as SVG.")
@click.option(
    "--keep",
    metavar="FILE.toml",
    help="Also the drawing data with this very layout kept: enter them, and it stays.",
)
@with_workers
@project_option
@as_json_option
def nest(
    stock: str,
    under: str,
    offcuts: str | None,
    new_sheets: int,
    seconds: int,
    dxf: str | None,
    svg: str | None,
    keep: str | None,
    project: str | None,
    as_json: bool,
) -> None:
    """Lay the blanks of the project's sheet parts out on offcuts and new sheets."""
    from ribwright.services.blanks import nest_spec, offcuts_from_text
    from ribwright.services.calculations import run_calculation
    from ribwright.services.project import find_project, open_project

    rows = []
    if offcuts:
        path = Path(offcuts)
        if not path.is_file():
            raise FormatError(
                "--offcuts",
                found=offcuts,
                allowed="a CSV file",
                because="there is no such file",
                mend="Check the name.",
            )
        rows = offcuts_from_text(path.read_text(encoding="utf-8-sig", errors="replace"))
    with open_project(find_project(project)) as opened:
        raw = nest_spec(
            opened, stock=stock, under=under, offcuts=rows, new_sheets=new_sheets, seconds=seconds
        )
    done = run_calculation("nest-blanks", raw)
    if svg:
        Path(svg).write_text(done.svg(), encoding="utf-8")
    if dxf and done.outcome.picture is not None:
        from ribwright.core.writers.to_dxf import dxf_of

        Path(dxf).write_bytes(dxf_of(done.outcome.picture))
    if keep:
        from ribwright.core.templates.blank_nest import kept_rows
        from ribwright.services.calculations import toml_of

        Path(keep).write_text(toml_of(raw | {"kept": kept_rows(done.outcome)}), encoding="utf-8")
    shown = [
        f"{r.label}: {r.shown}"
        for key, r in done.outcome.results.items()
        if key not in ("pieces", "used_sheets", "x", "y", "turn", "sheet_of")
    ]
    emit(done.answer, as_json=as_json, text="\n".join(shown))


@group.command("traced")
@click.argument("source")
@click.option("--card", metavar="LAYOUT.json", help="For a photo: the card's layout, written with the sheet.")
@click.option(
    "--input", "typed", metavar="INPUT.json", help="For a photo: what was measured and typed beside it."
)
@click.option(
    "--line",
    "line_width",
    default=0.5,
    show_default=True,
    type=float,
    help="For a photo: width of the line or wire in mm.",
)
@click.option(
    "--length",
    "length_mm",
    type=float,
    help="For a picture without a card: greatest distance in mm between two places of the line, measured on the paper.",
)
@click.option("--scanned", is_flag=True, help="That picture is from a flat-bed scanner, not a photo.")
@click.option(
    "--unit",
    default="in",
    show_default=True,
    type=click.Choice(["in", "mm"]),
    help="For a file of points: its unit.",
)
@click.option(
    "--reading", default=".010 in", show_default=True, help="For a file of points: how well they were read."
)
@click.option("--part", required=True, help="What the template checks.")
@click.option("--station", default="0", show_default=True, help="Where it stands.")
@click.option("--thickness", required=True, help="Of the sheet.")
@click.option(
    "--given",
    default="outside",
    show_default=True,
    type=click.Choice(["outside", "inside"]),
    help="Surface on which the line lies.",
)
@click.option(
    "--kind",
    default="female",
    show_default=True,
    type=click.Choice(["female", "male"]),
    help="Over the nose, or inside.",
)
@click.option("--out", metavar="FOLDER", default=".", show_default=True, help="Where to write the PDF.")
@click.option("--dxf", "with_dxf", is_flag=True, help="Also as DXF.")
@_paper
@_printer
@project_option
@as_json_option
def traced(
    source: str, card: str | None, typed: str | None, line_width: float, length_mm: float | None, scanned: bool, unit: str, reading: str, part: str, station: str, thickness: str,
    given: str, kind: str, out: str, with_dxf: bool, paper: str, printer: str, project: str | None, as_json: bool,
) -> None:  # fmt: skip
    """Make a template from the drawing's own: a photo of it on its card, a scan with one length typed, or a file
    of points (.csv, .txt).

    The points are smoothed as far as they were read; how far they had to move is said.
    """
    from ribwright.services.calculations import run_calculation
    from ribwright.services.fullsize import full_size_of
    from ribwright.services.printers import AS_IT_COMES, printer_for
    from ribwright.services.project import find_project, open_project
    from ribwright.services.traced import raw_from_photo, raw_from_points, raw_from_scan

    path = Path(source)
    if not path.is_file():
        raise FormatError(
            "source",
            found=source,
            allowed="a photo, or a file of points",
            because="there is no such file",
            mend="Check the name.",
        )
    if path.suffix.lower() in (".csv", ".txt", ".dat"):
        text = path.read_text(encoding="utf-8-sig", errors="replace")
        raw = raw_from_points(
            text,
            unit=unit,
            reading=reading,
            part=part,
            station=station,
            thickness=thickness,
            given=given,
            kind=kind,
        )
    elif length_mm is not None:
        raw, sure = raw_from_scan(
            path, length_mm=length_mm, scanned=scanned, part=part, station=station, thickness=thickness, given=given, kind=kind
        )  # fmt: skip
        if not as_json:
            click.echo(f"Line as traced: {sure}.")
    else:
        from ribwright.services.photo_measure import read_json

        if not card or not typed:
            raise FormatError(
                "--card, --input",
                found="left out",
                allowed="both, for a photo; or --length, for a scan",
                mend="Name the card's layout and what was typed, or give the line's greatest length.",
            )
        raw = raw_from_photo(
            path, layout=read_json(Path(card), "card layout"), typed=read_json(Path(typed), "input"), line_width_mm=line_width, part=part,
            station=station, thickness=thickness, given=given, kind=kind,
        )  # fmt: skip
    use = AS_IT_COMES
    if printer or project:
        with open_project(find_project(project)) as opened:
            use = printer_for(opened, printer)
    done = run_calculation("traced-template", raw)
    if not as_json:
        for result in done.outcome.results.values():
            click.echo(f"{result.label}: {result.shown}")
    _write(
        full_size_of(done.outcome, done.spec, title=part, paper=paper, printer=use),
        "traced-template",
        Path(out),
        False,
        with_dxf,
        as_json,
    )
