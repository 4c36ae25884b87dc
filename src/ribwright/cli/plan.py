"""``ribwright plan``: when it flies, what moves the date, what to order by when."""

from __future__ import annotations

import click

from ribwright.cli.app import emit
from ribwright.cli.options import as_json_option, project_option


@click.group()
def group() -> None:
    """Dates, orders and cash."""


@group.command("dates")
@project_option
@as_json_option
def dates(project: str | None, as_json: bool) -> None:
    """The date at 1, 5, 8 and 9 chances in 10, the hours still to go, and what moves the date."""
    from ribwright.services.plan import plan_view
    from ribwright.services.project import find_project, open_project

    with open_project(find_project(project)) as opened:
        view = plan_view(opened)
    lines = [f"{round(10 * c.chance)} chances in 10: {c.day:%d %B %Y}" for c in view.dates]
    lines += [
        f"{round(10 * chance)} chances in 10: at most {hours:.0f} h still to go"
        for chance, hours in view.hours_to_go
    ]
    lines += [
        f"{m.what}: {abs(m.days_less):.0f} days {'earlier' if m.days_less < 0 else 'later'}"
        for m in view.moves
    ]
    lines += list(view.problems)
    data = {
        "start": view.start.isoformat(),
        "dates": [{"chance": c.chance, "day": c.day.isoformat(), "error_days": c.error_days} for c in view.dates],
        "hours_to_go": [{"chance": c, "hours": h} for c, h in view.hours_to_go],
        "moves": [{"what": m.what, "days": m.days_less, "error_days": m.error_days} for m in view.moves],
        "tasks": view.tasks, "problems": list(view.problems),
    }  # fmt: skip
    emit(data, as_json=as_json, text="\n".join(lines))


@group.command("orders")
@project_option
@as_json_option
def orders(project: str | None, as_json: bool) -> None:
    """By what day each thing that is not ordered must be ordered, the most pressing first."""
    from ribwright.services.plan import plan_view
    from ribwright.services.project import find_project, open_project

    with open_project(find_project(project)) as opened:
        view = plan_view(opened)
    lines = [
        f"{o.by:%d %b %Y}  {'ORDER NOW  ' if o.order_now else ''}{item.title}" for item, o in view.orders
    ]
    data = [
        {
            "ref": item.key,
            "title": item.title,
            "by": o.by.isoformat(),
            "order_now": o.order_now,
            "need": o.need.isoformat(),
        }
        for item, o in view.orders
    ]
    emit({"orders": data}, as_json=as_json, text="\n".join(lines) or "Everything is ordered.")
