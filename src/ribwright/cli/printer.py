"""``ribwright printer``: the measured check figures, and what they make of the next print."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from ribwright.cli.app import emit
from ribwright.cli.group import Group
from ribwright.cli.options import acting, as_json_option, project_option


@click.group("printer", cls=Group)
def group() -> None:
    """Make a printer print true: measure its check figure, and its factors are kept."""


def _as_data(printer: Any) -> dict[str, Any]:
    return {
        "name": printer.name, "short_edge": printer.short, "long_edge": printer.long, "true": printer.true, "measured": printer.measured,
        "chosen": printer.chosen,
    }  # fmt: skip


def _line(printer: Any) -> str:
    proved = "measured true" if printer.true else "not yet proved by a print"
    return f"{'* ' if printer.chosen else '  '}{printer.words}; {proved} ({printer.measured})"


@group.command("list")
@project_option
@as_json_option
def list_printers(project: str | None, as_json: bool) -> None:
    """All printers with their factors; the one marked * is what full-size output is made for."""
    from ribwright.services.printers import printers
    from ribwright.services.project import find_project, open_project

    with open_project(find_project(project)) as opened:
        found = printers(opened)
    emit(
        {"printers": [_as_data(p) for p in found]},
        as_json=as_json,
        text="\n".join(_line(p) for p in found) or "No printer was measured yet.",
    )


@group.command("measure")
@click.argument("name")
@click.option(
    "--short",
    required=True,
    metavar="LENGTH",
    help="The 4.000 in bar along the paper's short edge, as measured.",
)
@click.option("--long", "long_", required=True, metavar="LENGTH", help="The same along the long edge.")
@click.option("--plain", is_flag=True, help="The measured print was made without this printer's factors.")
@project_option
@acting
@as_json_option
def measure(
    name: str, short: str, long_: str, plain: bool, project: str | None, who: Any, request: str, as_json: bool
) -> None:
    """Keep what the check figure of printer NAME measured: use the print, print again, or find the wrong setting."""
    from ribwright.services.printers import measure_printer
    from ribwright.services.project import find_project, open_project

    with open_project(find_project(project)) as opened:
        made, said = measure_printer(
            opened, actor=who, request_id=request, name=name, short=short, long=long_,
            printed_with="no correction" if plain else "its factors",
        )  # fmt: skip
    emit(_as_data(made) | {"said": said}, as_json=as_json, text=f"{said}\n{_line(made)}")


@group.command("choose")
@click.argument("name")
@project_option
@acting
@as_json_option
def choose(name: str, project: str | None, who: Any, request: str, as_json: bool) -> None:
    """Make full-size output for printer NAME from now on; `none` for no printer's factors."""
    from ribwright.services.printers import choose_printer
    from ribwright.services.project import find_project, open_project

    with open_project(find_project(project)) as opened:
        made = choose_printer(opened, actor=who, request_id=request, name="" if name == "none" else name)
    emit(
        _as_data(made), as_json=as_json, text=f"Full-size output is made for: {made.words or 'no printer, as it comes'}"
    )  # fmt: skip


@group.command("forget")
@click.argument("name")
@click.option("--because", default="", help="Why, for the record.")
@project_option
@acting
@as_json_option
def forget(name: str, because: str, project: str | None, who: Any, request: str, as_json: bool) -> None:
    """Take printer NAME out; what was entered of it stays in the record."""
    from ribwright.services.printers import forget_printer
    from ribwright.services.project import find_project, open_project

    with open_project(find_project(project)) as opened:
        forget_printer(opened, actor=who, request_id=request, name=name, because=because)
    emit({"forgotten": name}, as_json=as_json, text=f"Forgotten: {name}")


@group.command("sheet")
@click.argument("name", required=False, default="")
@click.option("--paper", default="letter", show_default=True, help="letter, a4, tabloid or a3.")
@click.option("--out", required=True, metavar="FILE", help="The PDF to write.")
@project_option
@as_json_option
def sheet(name: str, paper: str, out: str, project: str | None, as_json: bool) -> None:
    """Write one page to measure, made with the factors of printer NAME."""
    from ribwright.services.printers import check_sheet
    from ribwright.services.project import find_project, open_project

    with open_project(find_project(project)) as opened:
        content = check_sheet(opened, name, paper)
    Path(out).write_bytes(content)
    emit({"written": out}, as_json=as_json, text=f"Written: {out}")
