"""``ribwright project``: make, find, back up and move a project."""

from __future__ import annotations

from typing import Any

import click

from ribwright.cli.app import emit
from ribwright.cli.group import Group
from ribwright.cli.options import acting, as_json_option, project_option


@click.group(cls=Group)
def group() -> None:
    """Make, find, back up and move a project."""


@group.command("new")
@click.argument("folder")
@click.option("--name", help="What the aeroplane is called; by default the folder's name.")
@acting
@as_json_option
def new(folder: str, name: str | None, who: Any, request: str, as_json: bool) -> None:
    """Make a project in FOLDER (or at a postgresql:// URL)."""
    from pathlib import Path

    from ribwright.services.project import create_project

    with create_project(folder, name=name or Path(folder).name, actor=who, request_id=request) as made:
        emit(
            {"id": made.id, "name": made.name, "where": made.where},
            as_json=as_json,
            text=f"Made: {made.where}\nNow: ribwright serve --project {made.where}   then enter the first seam.",
        )


@group.command("prepare")
@click.argument("url")
@click.option(
    "--login", metavar="ROLE", help="An existing login that owns nothing; it is given what serving needs."
)
@as_json_option
def prepare(url: str, login: str | None, as_json: bool) -> None:
    """Make the tables for many builds in a PostgreSQL database, as its owner; harmless when they are there."""
    from ribwright.services.links import checked_database
    from ribwright.services.project import prepare_database

    prepare_database(checked_database(url), login=login)
    text = "The database is ready for builds" + (f"; serve it with the login {login}." if login else ".")
    emit({"login": login or ""}, as_json=as_json, text=text)


@group.command("where")
@project_option
@as_json_option
def where(project: str | None, as_json: bool) -> None:
    """Which project is meant, and what it holds."""
    from ribwright.services.project import find_project, open_project
    from ribwright.services.record import count_objects, seal

    with open_project(find_project(project)) as opened:
        counts = count_objects(opened)
        data = {
            "id": opened.id,
            "name": opened.name,
            "where": opened.where,
            "seal": seal(opened),
            "objects": counts,
        }
    held = ", ".join(f"{number} {_counted(noun, number)}" for noun, number in sorted(counts.items()))
    emit(data, as_json=as_json, text=f"{data['name']}: {data['where']}\nIt holds {held}. Seal {data['seal']}")


def _counted(noun: str, number: int) -> str:
    """The noun after its number: ``14 assemblies``."""
    odd = {"assembly": "assemblies", "person": "persons", "stock": "items in stores", "aircraft": "aircraft"}
    return noun if number == 1 and noun != "stock" else odd.get(noun, f"{noun}s")


@group.command("backup")
@click.option("--to", metavar="DIR", help="A folder for copies, best on another disk.")
@click.option(
    "--keep", default=7, show_default=True, type=click.IntRange(1, 1000), help="How many copies stay there."
)
@project_option
@as_json_option
def backup(to: str | None, keep: int, project: str | None, as_json: bool) -> None:
    """Copy the project; the oldest copies go."""
    from ribwright.services.backup import backup_project
    from ribwright.services.project import find_project, open_project

    with open_project(find_project(project)) as opened:
        made = backup_project(opened, to, keep=keep)
    emit({"copy": str(made)}, as_json=as_json, text=f"Copied to {made}")


@group.command("restore")
@click.argument("copy")
@click.argument("folder")
@as_json_option
def restore(copy: str, folder: str, as_json: bool) -> None:
    """Make a project in FOLDER from a COPY; it is checked before it appears."""
    from ribwright.services.backup import restore_project
    from ribwright.services.record import seal

    with restore_project(copy, folder) as opened:
        data = {"where": opened.where, "seal": seal(opened)}
    emit(data, as_json=as_json, text=f"Restored and checked: {data['where']}. Seal {data['seal']}")


@group.command("export")
@click.argument("folder")
@click.option(
    "--positions", is_flag=True, help="Also the originals of photos that say where they were taken."
)
@project_option
@as_json_option
def export(folder: str, positions: bool, project: str | None, as_json: bool) -> None:
    """Write the whole record into FOLDER, as text and photos that need no program."""
    from ribwright.services.backup import export_project
    from ribwright.services.project import find_project, open_project
    from ribwright.services.record import seal

    with open_project(find_project(project)) as opened:
        made, text = export_project(opened, folder, positions=positions), seal(opened)
    emit({"folder": str(made), "seal": text}, as_json=as_json, text=f"Written to {made}. Seal {text}")


@group.command("import")
@click.argument("export_folder")
@click.argument("folder")
@as_json_option
def import_(export_folder: str, folder: str, as_json: bool) -> None:
    """Make a project in FOLDER (or at a postgresql:// URL) from an export: whole, or not at all."""
    from ribwright.services.backup import import_project
    from ribwright.services.record import seal

    with import_project(export_folder, folder) as opened:
        data = {"id": opened.id, "where": opened.where, "seal": seal(opened)}
    emit(data, as_json=as_json, text=f"Imported and checked: {data['where']}. Seal {data['seal']}")
