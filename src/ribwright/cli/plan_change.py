"""``ribwright plan``: what changes it. Every change shows what it does to the 4-in-5 date before it is stored."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import click

from ribwright.cli.app import emit
from ribwright.cli.options import acting, as_json_option, project_option

if TYPE_CHECKING:
    from ribwright.services.plan_preview import Preview

NOT_SAVED = "Not saved; add --save to store it."
save_option = click.option(
    "--save", is_flag=True, help="Store it; without it only the effect on the date is shown."
)


def changed(spec: type, raw: Mapping[str, Any], entries: Sequence[str]) -> dict[str, Any]:
    """What a form holds, with NAME=VALUE written over it; rows are written "A to B; C to D"."""
    from ribwright.core.audit.spec import fields_of
    from ribwright.errors import FormatError

    out, kinds = dict(raw), {f.name: f for f in fields_of(spec)}
    for entry in entries:
        name, equals, value = entry.partition("=")
        if not equals:
            raise click.UsageError(f"{entry}: write NAME=VALUE")
        name, value = name.strip(), value.strip()
        known = kinds.get(name)
        if known is None or known.row is None:
            out[name] = value
            continue
        columns = [f.name for f in fields_of(known.row)]
        rows = []
        for part in filter(None, (part.strip() for part in value.split(";"))):
            cells = [cell.strip() for cell in part.split(" to ")]
            if len(cells) != len(columns):
                raise FormatError(known.label, found=part, allowed="such as 2027-07-10 to 2027-07-24")
            rows.append(dict(zip(columns, cells, strict=True)))
        out[name] = rows
    return out


def shown_value(value: object) -> str:
    """A value as it is typed after NAME=."""
    if isinstance(value, list | tuple):
        return "; ".join(" to ".join(str(cell) for cell in row.values()) for row in value)
    return str(value)


def told(effect: Preview, save: bool) -> tuple[list[str], dict[str, Any]]:
    """What a change does, as lines and as data."""
    lines = [effect.says, *effect.problems, "Saved." if save else NOT_SAVED]
    data = {
        "effect": {"days": effect.days, "error_days": effect.error_days, "says": effect.says},
        "problems": list(effect.problems), "saved": save,
    }  # fmt: skip
    return lines, data


@click.command("settings")
@click.argument("entries", nargs=-1, metavar="[NAME=VALUE]...")
@save_option
@project_option
@as_json_option
@acting
def settings(
    entries: tuple[str, ...], save: bool, project: str | None, as_json: bool, who: Any, request: str
) -> None:
    """Show the plan's settings; with NAME=VALUE, what a change does to the 4-in-5 date, before it is saved."""
    from dataclasses import replace

    from ribwright.core.audit.spec import fields_of
    from ribwright.services.plan_preview import preview
    from ribwright.services.plan_settings import PlanSpec, parsed, save_settings
    from ribwright.services.plan_settings import settings as stored
    from ribwright.services.plan_sources import sources
    from ribwright.services.project import find_project, open_project

    lines: list[str] = []
    data: dict[str, Any] = {"saved": False}
    with open_project(find_project(project)) as opened:
        now = stored(opened)
        if entries:
            raw = changed(PlanSpec, now.entered(), entries)
            made = parsed(raw, revision=now.revision)
            effect = preview(opened, replace(sources(opened), settings=made))
            if save:
                now = save_settings(
                    opened, actor=who, request_id=request, raw=raw, seen_revision=now.revision
                )
            lines, data = told(effect, save)
    shown = now.entered()
    data["settings"] = {
        f.name: {"value": shown.get(f.name, f.default), "default": f.name in now.defaults} for f in fields_of(PlanSpec)
    }  # fmt: skip
    if not entries:
        lines = [
            f"{f.name} = {shown_value(shown.get(f.name, f.default or ''))}{'   (default)' if f.name in now.defaults else ''}"
            for f in fields_of(PlanSpec)
        ]
    emit(data, as_json=as_json, text="\n".join(lines))


@click.command("order")
@click.argument("ref")
@click.argument("entries", nargs=-1, metavar="[NAME=VALUE]...")
@save_option
@project_option
@as_json_option
@acting
def order(
    ref: str, entries: tuple[str, ...], save: bool, project: str | None, as_json: bool, who: Any, request: str
) -> None:
    """Show the order REF; with NAME=VALUE, what changing it, or a new one, does to the 4-in-5 date."""
    from ribwright.errors import UnknownNameError
    from ribwright.services.plan_items import (
        OrderSpec,
        changed_order,
        order_raw,
        save_order,
        standing_order,
        unstored,
    )  # fmt: skip
    from ribwright.services.plan_preview import preview
    from ribwright.services.plan_sources import sources, today_of
    from ribwright.services.project import find_project, open_project

    with open_project(find_project(project)) as opened:
        try:
            one = standing_order(opened, ref)
        except UnknownNameError:
            if not any(entry.partition("=")[0].strip() == "title" for entry in entries):
                raise
            one = unstored(ref, "", {})
        before = order_raw(one) if one.data else {}
        if not entries:
            emit({"ref": ref, "entries": before, "saved": False}, as_json=as_json, text=_listing(before))
            return
        today, raw = today_of(opened), changed(OrderSpec, before, entries)
        effect = preview(opened, sources(opened).with_object(changed_order(one, raw, today=today)))
        if save:
            save_order(
                opened, actor=who, request_id=request, ref=ref, raw=raw, today=today, seen_revision=one.revision
            )  # fmt: skip
    lines, data = told(effect, save)
    emit({"ref": ref, "entries": raw, **data}, as_json=as_json, text="\n".join(lines))


@click.command("task")
@click.argument("ref")
@click.argument("entries", nargs=-1, metavar="[NAME=VALUE]...")
@save_option
@project_option
@as_json_option
@acting
def task(
    ref: str, entries: tuple[str, ...], save: bool, project: str | None, as_json: bool, who: Any, request: str
) -> None:
    """Show the task REF; with NAME=VALUE, what changing it, or a new one, does to the 4-in-5 date."""
    from ribwright.errors import UnknownNameError
    from ribwright.services.plan_import import look_at_these, store
    from ribwright.services.plan_sources import sources
    from ribwright.services.plan_task_form import TaskSpec, revision_of, standing_task, task_entered, task_raw
    from ribwright.services.project import find_project, open_project

    with open_project(find_project(project)) as opened:
        try:
            one = standing_task(opened, ref)
        except UnknownNameError:
            if not any(entry.partition("=")[0].strip() == "title" for entry in entries):
                raise
            one = None
        before = task_raw(one) if one is not None else {}
        if not entries:
            emit({"ref": ref, "entries": before, "saved": False}, as_json=as_json, text=_listing(before))
            return
        raw = changed(TaskSpec, before, entries)
        seen = revision_of(sources(opened), ref)
        found = look_at_these(opened, (task_entered(ref, one, raw),))
        if save:
            store(opened, found, actor=who, request_id=request, seen_revision=seen or None)
    lines, data = told(found.effect, save)
    emit({"ref": ref, "entries": raw, **data}, as_json=as_json, text="\n".join(lines))


def _listing(raw: Mapping[str, Any]) -> str:
    return "\n".join(f"{name} = {value}" for name, value in raw.items())


@click.command("import")
@click.argument("file", type=click.Path(exists=True, dir_okay=False))
@save_option
@project_option
@as_json_option
@acting
def import_(file: str, save: bool, project: str | None, as_json: bool, who: Any, request: str) -> None:
    """Tasks and items from a TOML or CSV file: what they do to the 4-in-5 date, before they are stored."""
    from pathlib import Path

    from ribwright.core.stores.csv_text import text_of_file
    from ribwright.services.plan_import import look_at, take_in
    from ribwright.services.project import find_project, open_project

    text = text_of_file(Path(file).read_bytes(), field="plan file")
    with open_project(find_project(project)) as opened:
        found = take_in(opened, actor=who, request_id=request, text=text) if save else look_at(opened, text)
    lines, data = told(found.effect, save)
    lines.insert(
        0,
        f"{len(found.tasks)} tasks, {len(found.operations)} operations, {len(found.items)} items {'are' if save else 'would be'} changed or new.",
    )
    data |= {
        "tasks": [task.key for task in found.tasks], "operations": [one.ref for one in found.operations],
        "items": [item.key for item in found.items],
    }  # fmt: skip
    emit(data, as_json=as_json, text="\n".join(lines))
