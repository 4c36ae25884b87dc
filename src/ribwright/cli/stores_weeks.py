"""``ribwright stores``: what the next weeks use, what must be ordered, and what one set-up serves tonight."""

from __future__ import annotations

import click

from ribwright.cli.app import emit
from ribwright.cli.options import as_json_option, project_option


@click.command("month")
@click.option("--days", default=30, show_default=True, help="How far to look.")
@project_option
@as_json_option
def month(days: int, project: str | None, as_json: bool) -> None:
    """What the stages of the next days use, what is short, and temporary fasteners needed against owned."""
    from ribwright.services.month import month_view
    from ribwright.services.project import find_project, open_project

    with open_project(find_project(project)) as opened:
        view = month_view(opened, days)
    data = {
        "days": view.days, "hours": view.hours, "stages": view.stages,
        "needed": [
            {"item": n.item, "fits": n.fits, "on_hand": None if n.on_hand is None else f"{n.on_hand:f}", "short": f"{n.short:f}", "order": n.order}
            for n in view.needed
        ],
        "temporary_fasteners": [{"size": p.size, "assembly": p.assembly, "least": p.least, "most": p.most, "owned": f"{p.owned:f}"} for p in view.pins],
        "expiring": [{"item": ref, "title": title, "last_day": last} for ref, title, last in view.used_up],
    }  # fmt: skip
    lines = [f"{view.stages} stages in about {view.hours:.0f} h."]
    lines += [f"{n.item}: {n.fits} fitted" + (f", {n.short:f} short" if n.short else "") for n in view.needed]
    lines += [
        f"temporary fasteners {p.size}: {p.least} to {p.most} for {p.assembly}, {p.owned:f} owned"
        for p in view.pins
    ]
    emit(data, as_json=as_json, text="\n".join(lines))


@click.command("order")
@click.option("--days", default=30, show_default=True, help="How far to look.")
@project_option
@as_json_option
def order(days: int, project: str | None, as_json: bool) -> None:
    """What is short, with the order that brings it and the day by which that must go out."""
    from ribwright.services.month import to_order
    from ribwright.services.project import find_project, open_project

    with open_project(find_project(project)) as opened:
        rows = to_order(opened, days)
    data = [{"item": r.item, "short": r.short, "order": r.order, "by": r.by, "now": r.now} for r in rows]
    text = "\n".join(
        f"{r.short:>8} {r.item}  {r.order or 'no order'}  {'now' if r.now else 'by ' + r.by}" for r in rows
    )
    emit({"order": data}, as_json=as_json, text=text or "Nothing is short.")


@click.command("tonight")
@click.option("--assembly", default="", help="Only this assembly.")
@project_option
@as_json_option
def same_set_up(assembly: str, project: str | None, as_json: bool) -> None:
    """Stages that one set-up serves tonight, each with its tray."""
    from ribwright.services.month import tonight
    from ribwright.services.project import find_project, open_project

    with open_project(find_project(project)) as opened:
        made = tonight(opened, assembly=assembly)
    data = [
        {"set_up": s.name, "hours": s.hours, "helper": s.helper, "stages": [{"ref": o.ref, "stage": o.stage} for o in s.stages], "tray": [list(row) for row in s.tray]}
        for s in made
    ]  # fmt: skip
    lines = []
    for s in made:
        lines.append(
            f"{s.name}: {len(s.stages)} stages, {s.hours:.1f} h" + (", with a helper" if s.helper else "")
        )
        lines += [f"  {o.ref} {o.stage}" for o in s.stages] + [
            f"  tray: {count} {what}" for what, count in s.tray
        ]
    emit({"set_ups": data}, as_json=as_json, text="\n".join(lines) or "Nothing can be done tonight.")
