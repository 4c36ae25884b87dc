"""``ribwright evidence``: the pack for an inspector, an insurer or a buyer."""

from __future__ import annotations

import click

from ribwright.cli.app import emit
from ribwright.cli.options import as_json_option, project_option


@click.command()
@click.argument("folder")
@project_option
@as_json_option
def evidence(folder: str, project: str | None, as_json: bool) -> None:
    """Write the evidence pack into FOLDER (new or empty): a PDF, the whole record as text, the photos."""
    from ribwright.services.evidence import write_pack
    from ribwright.services.project import find_project, open_project

    with open_project(find_project(project)) as opened:
        made = write_pack(
            opened, folder, progress=lambda line: click.echo(line, err=True) if not as_json else None
        )
    emit(
        {"folder": str(made.folder), "pdf": str(made.pdf)},
        as_json=as_json,
        text=f"Written: {made.pdf}, with the record beside it.",
    )
