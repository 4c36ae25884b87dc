"""The plan for other programs: order-by dates and sessions as a calendar (RFC 5545), tasks as a list."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import timedelta

from ribwright.core.planning.exchange import Event, tasks_to_csv, to_icalendar
from ribwright.services.plan import PlanView, days_off, inputs
from ribwright.services.project import Project

SESSION_DAYS = 42


def plan_calendar(project: Project, view: PlanView) -> str:
    """Order-by dates, sessions, the dates of the first flight and the pilot's windows as all-day events."""
    events = [
        Event(f"order-{line.item.key}", max(line.day, view.start), f"Order by today: {line.item.title or line.item.key}", line.says)
        for line in view.orders
        if line.day is not None
    ]  # fmt: skip
    events += [
        Event(f"flight-{round(10 * c.chance)}", c.day, f"Ready to fly: {round(10 * c.chance)} chances in 10")
        for c in view.dates
        if view.known(c.chance)
    ]
    events += [
        Event(f"pilot-{w.rule.name}", max(w.opens, view.start), f"From today it counts: {w.rule.name}", f"{w.rule.text}. {w.rule.source}, {w.rule.rung}")
        for w in view.pilot
        if w.needed
    ]  # fmt: skip
    events += _sessions(view)
    events = [replace(event, uid=f"{_plain(project.id)}-{_plain(event.uid)}") for event in events]
    return to_icalendar(events, stamp=view.start, name=f"{project.name}: plan")


def _plain(name: str) -> str:
    """A name as it may stand in an address: letters, digits and hyphens, all else as the bytes that it is."""
    return re.sub(
        r"[^A-Za-z0-9._-]+", lambda found: "-" + found[0].encode().hex() if found[0] != " " else "-", name
    )


def _sessions(view: PlanView) -> list[Event]:
    """The evenings and days in the shop of the next weeks, as the usual week has them."""
    week = view.settings.week
    off = set(days_off(view.settings, (view.start.year, view.start.year + 1)))
    events = []
    for day in (view.start + timedelta(days=k) for k in range(SESSION_DAYS)):
        hours, helped = week.hours[day.weekday()], week.helper_hours[day.weekday()]
        if hours > 0 and day not in off:
            here = f", {helped:g} h with the helper" if helped > 0 and day not in week.helper_off else ""
            events.append(Event(f"session-{day}", day, f"In the shop: {hours:g} h{here}"))
    return events


def plan_tasks_csv(project: Project) -> str:
    """Every task of the plan, with what was logged on it."""
    return tasks_to_csv(inputs(project).plan.tasks)
