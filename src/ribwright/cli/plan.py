"""``ribwright plan``: when it flies, what moves the date, what to order by when, what to do tonight."""

from __future__ import annotations

import importlib
import sys
from typing import TYPE_CHECKING

import click

from ribwright.cli.app import emit
from ribwright.cli.group import Group
from ribwright.cli.options import as_json_option, project_option, with_workers

if TYPE_CHECKING:
    from ribwright.services.plan import PlanView
    from ribwright.services.project import Project

SHOWN = 4
"""Lines of a set-up on the terminal, where nobody folds a list."""


@click.group(cls=Group)
def group() -> None:
    """Dates, orders and cash."""


def worked_out(project: Project) -> PlanView:
    """The plan, with its progress on the terminal; Ctrl-C stops it and keeps what there is."""
    from ribwright.services.plan import plan_standing, stop_plan

    told = ""
    while True:
        try:
            standing = plan_standing(project, wait=0.3)
        except KeyboardInterrupt:
            stop_plan(project)
            standing = plan_standing(project, wait=None)
        if standing.error is not None:
            raise standing.error
        if not standing.running:
            break
        if sys.stderr.isatty() and standing.says != told:
            told = standing.says
            click.echo(f"\r{told:<60}", err=True, nl=False)
    if told:
        click.echo("\r" + " " * 60 + "\r", err=True, nl=False)
    if standing.result is None:
        raise click.Abort
    if not standing.result.complete:
        click.echo("Stopped: what was worked out until then follows.", err=True)
    return standing.result


def in_ten(chance: float) -> str:
    """A chance in the builder's words."""
    tens = round(10 * chance)
    return f"{tens} chance{'s' if tens > 1 else ''} in 10"


@group.command("dates")
@with_workers
@project_option
@as_json_option
def dates(project: str | None, as_json: bool) -> None:
    """The date at 1, 5, 8 and 9 chances in 10, the hours still to go, and what moves the date."""
    from ribwright.services.project import find_project, open_project

    with open_project(find_project(project)) as opened:
        view = worked_out(opened)
    lines = [f"first flight, {in_ten(c.chance)}: {view.day_in_words(c)}" for c in view.dates]
    lines += [
        f"hours still to go, {in_ten(chance)}: at most {hours:.0f} h" for chance, hours in view.hours_to_go
    ]
    if not view.dates:
        lines.append("Nothing is left to do." if view.complete else "Stopped before there was any date.")
    if view.moves:
        lines.append("What moves the date:")
    lines += [f"  {m.what}: {m.days_less:+.0f} or {m.days_more:+.0f} days" for m in view.moves]
    if view.still:
        lines.append(f"By less than can be told: {'; '.join(view.still)}.")
    lines += [view.pace.says, *view.problems]
    data = {
        "start": view.start.isoformat(),
        "dates": [{"chance": c.chance, "day": c.day.isoformat() if view.known(c.chance) else None, "error_days": c.error_days} for c in view.dates],
        "hours_to_go": [{"chance": c, "hours": h} for c, h in view.hours_to_go],
        "moves": [
            {"what": m.what, "days_well": m.days_less, "days_badly": m.days_more, "error_days": m.error_days}
            for m in view.moves
        ],
        "pace": {"says": view.pace.says, "enough": view.pace.enough, "finished": view.pace.finished},
        "tasks": view.tasks, "problems": list(view.problems), "complete": view.complete,
    }  # fmt: skip
    emit(data, as_json=as_json, text="\n".join(lines))


@group.command("orders")
@with_workers
@project_option
@as_json_option
def orders(project: str | None, as_json: bool) -> None:
    """By what day to order each thing, the most pressing first; what the first flight and its first work need; what a month does."""
    from ribwright.services.project import find_project, open_project

    with open_project(find_project(project)) as opened:
        view = worked_out(opened)
    lines = [
        f"{line.day:%d %b %Y}  {line.item.title}: {line.says}; a month sooner costs {line.by.month_earlier:,.0f}, a month later {line.by.month_later:,.0f}"
        if line.day and line.by
        else f"{line.item.title}: {line.says}"
        for line in view.orders
    ]
    if not view.orders:
        lines = [
            "Everything is here."
            if view.complete
            else "Stopped before the orders were worked out: nothing is known of them."
        ]
    data = [
        {
            "ref": line.item.key,
            "title": line.item.title,
            "day": line.day.isoformat() if line.day else None,
            "by": line.by.by.isoformat() if line.by else None,
            "by_first_use": line.by.by_first_use.isoformat() if line.by else None,
            "cheapest": line.by.cheapest.isoformat() if line.by else None,
            "order_now": line.now,
            "need": line.by.need.isoformat() if line.by else None,
            "first_use": line.by.first_use.isoformat() if line.by else None,
            "chance_today": line.by.chance_today if line.by else None,
            "comes": line.comes.isoformat() if line.comes else None,
            "month_later_days": line.later_days,
            "month_earlier_costs": line.by.month_earlier if line.by else None,
            "month_later_costs": line.by.month_later if line.by else None,
            "says": line.says,
        }
        for line in view.orders
    ]
    if view.put_off:
        lines += ["", view.put_off]
    cash = view.cash
    money = None
    if cash is not None:
        lines += ["", "The months that cost least within the money:"]
        lines += [f"{day:%b %Y}  {what}: {price:,.0f}" for what, day, price in cash.months]
        lines.append(cash.says)
        money = {
            "flight_later_days": cash.flight, "not_reached": list(cash.last), "shortfall": cash.plan.shortfall, "fresh_shortfall": cash.fresh, "affordable": cash.plan.affordable,
            "months": [{"what": what, "day": day.isoformat()} for what, day, _ in cash.months],
        }  # fmt: skip
    lines += view.problems
    emit(
        {"orders": data, "cash": money, "problems": list(view.problems), "complete": view.complete},
        as_json=as_json,
        text="\n".join(lines),
    )


@group.command("export")
@click.argument("what", type=click.Choice(["calendar", "tasks"]))
@project_option
@as_json_option
def export(what: str, project: str | None, as_json: bool) -> None:
    """Write the order-by dates as an iCalendar text, or the tasks as CSV, to standard output."""
    from ribwright.services.plan_export import plan_calendar, plan_tasks_csv
    from ribwright.services.project import find_project, open_project

    with open_project(find_project(project)) as opened:
        text = plan_calendar(opened, worked_out(opened)) if what == "calendar" else plan_tasks_csv(opened)
    if as_json:
        emit({"what": what, "text": text}, as_json=True)
    else:
        click.echo(text, nl=False)


@group.command("next")
@click.option("--hours", default="2 h", show_default=True, help="Hours tonight, such as 2 h.")
@click.option("--helper", is_flag=True, help="The helper is there.")
@click.option("--temperature", default="65 °F", show_default=True, help="Of the shop, such as 3 °C.")
@click.option("--daylight", is_flag=True, help="There is daylight.")
@click.option("--without", default="", help="Tools that are not at hand, with commas between.")
@click.option(
    "--room", default="", help="Room that is free, such as floor 40; left out, what the plan knows."
)
@click.option("--all", "every", is_flag=True, help="Every line; without it the first of each set-up.")
@project_option
@as_json_option
def next_(
    hours: str, helper: bool, temperature: str, daylight: bool, without: str, room: str, every: bool, project: str | None, as_json: bool,
) -> None:  # fmt: skip
    """What to do tonight, ranked by what leaving it four weeks would cost the 4-in-5 date."""
    from ribwright.services.plan_tonight import evening
    from ribwright.services.plan_tonight_form import ALONE, DARK, HELPED, LIGHT, tonight_spec
    from ribwright.services.project import find_project, open_project

    spec = tonight_spec(
        {
            "hours": hours,
            "who": HELPED if helper else ALONE,
            "temperature": temperature,
            "light": LIGHT if daylight else DARK,
            "tools": without,
            "room": room,
        },
    )
    with open_project(find_project(project)) as opened:
        made = evening(opened, spec, wait=None)
    lines = []
    for one in made.groups:
        lines.append(one.set_up)
        shown = one.lines if every else one.lines[:SHOWN]
        lines += [
            f"  {line.ref}{f' {line.stage}' if line.stage else ''}: {line.title}: {'; '.join(line.why)}"
            for line in shown
        ]
        if len(one.lines) > len(shown):
            lines.append(f"  and {len(one.lines) - len(shown)} more with the same set-up (--all shows them)")
    out = made.left_out if every else made.left_out[:SHOWN]
    lines += [f"not tonight: {ref}{f' {stage}' if stage else ''}: {why}" for ref, stage, why in out]
    if len(made.left_out) > len(out):
        lines.append(f"not tonight: {len(made.left_out) - len(out)} more (--all shows them)")
    data = {
        "groups": [
            {
                "set_up": one.set_up,
                "stages": [
                    {"ref": line.ref, "stage": line.stage, "title": line.title, "hours": line.hours, "waiting_costs_days": line.cost_days, "ranked": line.known, "why": list(line.why)}
                    for line in one.lines
                ],
            }
            for one in made.groups
        ],
        "left_out": [{"ref": ref, "stage": stage, "why": why} for ref, stage, why in made.left_out],
    }  # fmt: skip
    emit(data, as_json=as_json, text="\n".join(lines) or "Nothing that is ready fits tonight.")


@group.command("waiting")
@click.argument("item")
@project_option
@as_json_option
def waiting(item: str, project: str | None, as_json: bool) -> None:
    """What is left to do while an item is missing, and the chance of running dry before it comes."""
    from ribwright.services.plan_tonight import dry_in_words, waiting_view
    from ribwright.services.project import find_project, open_project

    with open_project(find_project(project)) as opened:
        view = waiting_view(opened, item, wait=None)
    found = view.standing.result
    if found is None:
        raise click.Abort
    data = {
        "item": view.ref, "hours": found.hours, "runs_dry": found.runs_dry, "dry_hours": found.dry_hours,
        "tasks": [{"key": key, "title": title, "hours": hours} for key, title, hours in view.tasks],
    }  # fmt: skip
    lines = [dry_in_words(found), *(f"{hours:6.1f} h  {key}: {title}" for key, title, hours in view.tasks)]
    emit(data, as_json=as_json, text="\n".join(lines))


@group.command("make-or-buy")
@click.option(
    "--saves",
    required=True,
    help="Assemblies, operations or tasks that buying saves, by reference, separated by commas.",
)
@click.option("--price", required=True, help="Price of the unit.")
@click.option("--parts-price", default="0", show_default=True, help="Price of the parts if it is made.")
@click.option("--weeks", required=True, help="Weeks from order to door, as likely longer as shorter.")
@click.option(
    "--weeks-late", required=True, help="Weeks if it is late: five of six deliveries are here by then."
)
@click.option("--look-hours", default="8", show_default=True, help="Hours to look it over when it comes.")
@click.option(
    "--points-lost",
    default="0",
    show_default=True,
    help="Points of the major-portion list that are then not the builder's.",
)
@project_option
@as_json_option
def make_or_buy(
    saves: str, price: str, parts_price: str, weeks: str, weeks_late: str, look_hours: str, points_lost: str,
    project: str | None, as_json: bool,
) -> None:  # fmt: skip
    """A part-assembled unit against building it: hours, money, date, the builder's share."""
    from ribwright.services.plan_make_or_buy import make_or_buy as compared
    from ribwright.services.project import find_project, open_project

    raw = {
        "saves": saves, "price": price, "parts_price": parts_price, "lead_weeks_likely": weeks, "lead_weeks_late": weeks_late,
        "look_hours": look_hours, "points_lost": points_lost,
    }  # fmt: skip
    with open_project(find_project(project)) as opened:
        found = compared(opened, raw)
    c = found.comparison
    lines = [
        f"make it: {c.make_hours:.0f} h; buy it: {c.look_hours:.0f} h to look it over, {c.money:,.0f} more to pay",
        f"ready to fly, 4 chances in 5: made {found.day_in_words(c.make_day)}, bought {found.day_in_words(c.buy_day)} ({c.moved_days:+.0f} ± {c.error_days:.0f} days)",
        f"the builder's share: made {100 * c.share_before:.1f} %, bought {100 * c.share_after:.1f} % ({100 * found.major_portion:g} % asked)",
    ]
    data = {
        "make_hours": c.make_hours, "look_hours": c.look_hours, "money": c.money, "make_day": c.make_day.isoformat(), "buy_day": c.buy_day.isoformat(),
        "moved_days": c.moved_days, "error_days": c.error_days, "share_before": c.share_before, "share_after": c.share_after,
        "keeps_major": c.keeps_major, "tasks": [key for key, _, _ in found.tasks],
    }  # fmt: skip
    emit(data, as_json=as_json, text="\n".join(lines))


@group.command("pilot")
@project_option
@as_json_option
def pilot(project: str | None, as_json: bool) -> None:
    """When what keeps the pilot legal must be done for a first flight between 1 and 9 chances in 10."""
    from ribwright.services.project import find_project, open_project

    with open_project(find_project(project)) as opened:
        view = worked_out(opened)
    lines = [f"{w.rule.name}: {w.says}. {w.rule.text}. {w.rule.source}, {w.rule.rung}." for w in view.pilot]
    lines.append("No advice beyond the rules' text; check each against the current one.")
    data = [
        {
            "name": w.rule.name, "opens": w.opens.isoformat(), "closes": w.closes.isoformat(), "needed": w.needed,
            "covered_until": w.covered_until.isoformat() if w.covered_until else None, "says": w.says,
            "rule": w.rule.text, "source": w.rule.source, "rung": w.rule.rung,
        }
        for w in view.pilot
    ]  # fmt: skip
    emit({"pilot": data, "problems": list(view.problems)}, as_json=as_json, text="\n".join(lines))


for module, names in (
    ("plan_change", ("settings", "order", "task", "import_")),
    ("plan_schedule", ("schedule",)),
):
    loaded = importlib.import_module(f"ribwright.cli.{module}")
    for name in names:
        group.add_command(getattr(loaded, name))
