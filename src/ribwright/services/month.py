"""What the next weeks take from the stores, what to order for it, and what one set-up does tonight."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

from ribwright.core.planning.arrivals import first_uses
from ribwright.core.planning.orders import last_day
from ribwright.core.planning.tasks import Week
from ribwright.core.stores.month import Needed, Pins, needed, pins, within_reach
from ribwright.core.stores.setups import SET_UP_INPUTS, SetUp, StageToDo, same_set_up
from ribwright.errors import OutOfRangeError
from ribwright.services.bench import finished_stages, network, next_on_bench
from ribwright.services.operations import operation_view
from ribwright.services.plan import inputs
from ribwright.services.plan_settings import settings
from ribwright.services.project import Project
from ribwright.services.record import StoredObject, discrepancies, objects_of
from ribwright.services.remembered import of_each, until_the_record_moves
from ribwright.services.stores import books, plain

DAYS = 30
MOST_SHEETS = 12


@dataclass(frozen=True, slots=True)
class Month:
    """The work within reach and what it takes.

    Attributes:
        days, hours: how far it looks, and the working hours in that.
        stages: within reach.
        needed: by item, what is short first.
        pins: temporary fasteners by size.
        used_up: consumables whose date passes within the time: (reference, title, last day).
    """

    days: int
    hours: float
    stages: int
    needed: tuple[Needed, ...]
    pins: tuple[Pins, ...]
    used_up: tuple[tuple[str, str, str], ...]

    @property
    def short(self) -> tuple[Needed, ...]:
        """Only what is short."""
        return tuple(one for one in self.needed if one.short)


@dataclass(frozen=True, slots=True)
class ToOrder:
    """A short item, with the order that brings it and the day by which that must go out, as the plan has it."""

    item: str
    title: str
    short: str
    order: str
    by: str
    now: bool


def month_view(project: Project, days: int = DAYS) -> Month:
    """What the stages of the next days use, and what of it is short.

    Raises:
        OutOfRangeError: days that are none.
    """
    if days == DAYS:
        return _month(project)
    if not 1 <= days <= 3660:
        raise OutOfRangeError("days", found=days, allowed="1 to 3660")
    return _looked(project, days)


@until_the_record_moves
def _month(project: Project) -> Month:
    return _looked(project, DAYS)


def _looked(project: Project, days: int) -> Month:
    made = books(project)
    first = date.fromisoformat(project.now()[:10])
    hours = hours_between(settings(project).week, first, days)
    held = {row["about"] for row in discrepancies(project, unsettled=True)}
    every = {ref: one.work for ref, one in network(project).operations.items()}
    reach = within_reach(every, finished_stages(project), hours, held)
    users = objects_of(project, dict.fromkeys(ref for ref, _ in reach))
    data = {ref: one.data for ref, one in users.items()}
    parents = {ref: one.parent for ref, one in users.items()}
    last = (first + timedelta(days=days)).isoformat()
    used_up = tuple(
        (ref, one.item.title, one.earliest_expiry)
        for ref, one in sorted(made.held.items())
        # a mixed cup is done with the same evening: it isn't stock that runs out of date
        if one.earliest_expiry and one.earliest_expiry <= last and one.item.kind != "mixed batch"
    )
    return Month(
        days,
        hours,
        len(reach),
        needed(reach, data, made.held),
        pins(reach, data, parents, made.held),
        used_up,
    )


def hours_between(week: Week, first: date, days: int) -> float:
    """Working hours of so many days from ``first`` on, without days off and blocked stretches."""
    every = (first + timedelta(days=n) for n in range(days))
    return sum(
        week.hours[day.weekday()]
        for day in every
        if day not in week.off and not any(begin <= day <= end for begin, end in week.blocked)
    )


def to_order(project: Project, days: int = DAYS) -> tuple[ToOrder, ...]:
    """What is short, with the day by which the plan says that its order must go out."""
    short = month_view(project, days).short
    if not short:
        return ()
    given = inputs(project)
    # By its first work, which is within reach; how late it may come for the date takes longer and isn't asked here.
    planned = {item.key: item for item in given.plan.items if not item.arrived}
    uses = first_uses(given.plan) if planned else {}
    rows = []
    for one in short:
        item = planned.get(one.order)
        out = item is not None and item.ordered
        used = uses.get(one.order)
        by = None if item is None or out or used is None else last_day(given.plan, item, used)
        # no order in the plan brings it, and work within reach waits for it: now
        now = not out and (by is None or by <= given.plan.start)
        rows.append(
            ToOrder(one.item, one.title, plain(one.short), one.order, by.isoformat() if by else "", now)
        )
    return tuple(rows)


@until_the_record_moves
def tonight(project: Project, *, assembly: str = "") -> tuple[SetUp, ...]:
    """Stages that can be done now, put together by the set-up that serves them, each with its tray."""
    ready, asked = next_on_bench(project, parent=assembly or None).ready, _asked(project)
    return same_set_up(
        StageToDo(line.ref, line.stage, line.title, line.hours, line.helper, asked[line.ref])
        for line in ready
        if line.ref in asked
    )


@of_each("operation")
def _asked(one: StoredObject) -> Mapping[str, Any]:
    """What the drawing data of an operation say of its set-ups, and no more of them."""
    names = ("calculation", "pull_type", "fasteners")
    asked: dict[str, Any] = {name: one.data[name] for name in names if name in one.data}
    inputs = one.data.get("inputs") or {}
    asked["inputs"] = {name: inputs[name] for name in SET_UP_INPUTS if name in inputs}
    return asked


def with_sheet_trays(project: Project, one: SetUp) -> SetUp:
    """A set-up with the tray of its stages' own sheets added: tools that the sheets ask for, each once."""
    rows = dict(one.tray)
    for stage in one.stages[:MOST_SHEETS]:
        sheet = operation_view(project, stage.ref).stage(stage.stage).sheet
        for item in sheet.tray if sheet else ():
            if item.stock not in rows:
                rows.setdefault(
                    f"{item.what} {item.size}".strip(),
                    item.count if item.count.isdigit() and int(item.count) < 10 else "",
                )
    return replace(one, tray=tuple(rows.items()))
