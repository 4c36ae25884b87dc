"""``ribwright packet``: the sheets and templates of an assembly, ready to print."""

from __future__ import annotations

from pathlib import Path

import click

from ribwright.cli.app import emit
from ribwright.cli.options import as_json_option, project_option, with_workers


@click.command()
@click.argument("ref")
@click.option("--out", metavar="FILE", help="The PDF; left out, packets/REF.pdf in the project folder.")
@click.option("--dxf", "with_dxf", is_flag=True, help="Also each template as DXF beside it.")
@click.option("--paper", default="letter", show_default=True, help="letter, a4, a3, tabloid or roll-24in.")
@click.option(
    "--printer",
    default="",
    metavar="NAME",
    help="Made for this printer; left out, the chosen one; none for no factors.",
)
@with_workers
@project_option
@as_json_option
def packet(
    ref: str, out: str | None, with_dxf: bool, paper: str, printer: str, project: str | None, as_json: bool
) -> None:
    """Write stage sheets in working order, full-size templates and worksheets of REF to one PDF."""
    from ribwright.services.packet import make_packet
    from ribwright.services.project import find_project, open_project

    with open_project(find_project(project)) as opened:
        made = make_packet(
            opened,
            ref,
            paper=paper,
            printer=printer,
            progress=lambda line: click.echo(line, err=True) if not as_json else None,
        )
        target = Path(out) if out else (opened.folder or Path.cwd()) / "packets" / f"{ref}.pdf"
    target.parent.mkdir(parents=True, exist_ok=True)
    target.write_bytes(made.pdf)
    written = [str(target)]
    if with_dxf:
        for name, content in made.dxf.items():
            path = target.parent / f"{name}.dxf"
            path.write_bytes(content)
            written.append(str(path))
    emit(
        {"written": written, "contents": list(made.lines)},
        as_json=as_json,
        text="\n".join([*made.lines, *(f"Written: {w}" for w in written)]),
    )
