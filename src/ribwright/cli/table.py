"""``ribwright table``: what the published tables hold, with source and rung."""

from __future__ import annotations

import click

from ribwright.cli.app import emit
from ribwright.cli.group import Group


@click.group(cls=Group)
def group() -> None:
    """Look into the published tables."""


@group.command("list")
@click.option("--json", "as_json", is_flag=True, help="One JSON object on standard output.")
def list_(as_json: bool) -> None:
    """All tables with their source."""
    from ribwright.core.tables import table, table_names

    made = [table(name) for name in table_names()]
    text = "\n".join(f"{t.name:<34} {t.title} [{t.rung}]" for t in made)
    emit(
        {"tables": [{"name": t.name, "title": t.title, "rung": t.rung} for t in made]},
        as_json=as_json,
        text=text,
    )


@group.command("show")
@click.argument("name")
@click.argument("row", required=False)
@click.option("--json", "as_json", is_flag=True, help="One JSON object on standard output.")
def show(name: str, row: str | None, as_json: bool) -> None:
    """A table, or one ROW of it."""
    from ribwright.core.tables import table

    t = table(name)
    keys = t.row_keys() if row is None else (row,)
    if row is not None and row not in t.rows:
        t.cell(row, next(iter(t.units)))
    rows = {key: dict(t.rows[key]) for key in keys}
    lines = [f"{t.title}. {t.source.cited(t.locator)} [{t.rung}]", *([t.note] if t.note else [])]
    for key, cells in rows.items():
        said = "  ".join(
            f"{column} {text} {t.units[column]}".replace(" text", "").rstrip()
            for column, text in cells.items()
        )
        rung = f"  [{t.row_rungs[key]}]" if key in t.row_rungs else ""
        lines.append(f"{key:<10} {said}{rung}")
    emit(
        {
            "name": t.name,
            "title": t.title,
            "source": t.source.cited(t.locator),
            "rung": t.rung,
            "units": dict(t.units),
            "rows": rows,
        },
        as_json=as_json,
        text="\n".join(lines),
    )
