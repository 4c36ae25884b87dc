"""One task of the plan as a form: what it holds, and the task that is entered; a list of tasks to choose from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from ribwright.core.audit.spec import flag, read, text
from ribwright.core.planning.tasks import Task
from ribwright.errors import InputError, OutOfRangeError, UnknownNameError
from ribwright.services.plan import inputs
from ribwright.services.plan_entries import day_or_none, number_in, room_of
from ribwright.services.plan_sources import Sources
from ribwright.services.project import Project

LONGEST = 1_500
"""Characters of a list that a line of the form still shows."""


@dataclass(frozen=True, slots=True)
class TaskSpec:
    """The form of a task."""

    title: str = text("What", help="as you would say it", example="hang the engine")
    hours: str = text("Hours", help="as you estimate it, hands on", example="12")
    hours_badly: str = text("Hours if it goes badly", help="five of six such tasks end by then", example="18")
    trade: str = text(
        "Kind of work", help="tasks of one kind share their pace", example="systems", default="general"
    )
    needs: str = text(
        "Comes after", help="tasks and operations by reference, with commas between", default=""
    )
    parts: str = text("Needs to be here", help="orders by reference, with commas between", default="")
    helper: bool = flag("Needs a helper", help="a second pair of hands")
    warm: bool = flag("Needs a warm shop", help="paint, sealant, resin")
    daylight: bool = flag("Needs daylight", help="only hours in daylight count")
    cure_hours: str = text("Hours to dry or cure after it", help="nobody works in them", default="0")
    uses: str = text(
        "Room that it takes", help="name and amount, until it is dry", example="floor 40", default=""
    )
    tools: str = text("Tools", help="what must be at hand, with commas between", default="")
    setup: str = text("Set-up", help="tasks with the same one are worth doing together", default="")
    not_before: str = text("Not before", help="a date; empty: any time", default="")
    done: bool = flag("It is done", help="then the plan no longer counts it")


def standing_task(project: Project, key: str) -> Task:
    """A task of the plan as it stands.

    Raises:
        UnknownNameError: the plan holds none of this reference.
    """
    for task in inputs(project).plan.tasks:
        if task.key == key:
            return task
    raise UnknownNameError("task", found=key, allowed="a task of the plan")


def task_raw(task: Task) -> dict[str, Any]:
    """A task as the form shows it."""
    return {
        "title": task.title, "hours": f"{task.hours:g}", "hours_badly": f"{task.hours * task.spread:g}", "trade": task.trade,
        "needs": _listed(task.needs), "parts": _listed(task.parts), "helper": _yes(task.helper), "warm": _yes(task.warm),
        "daylight": _yes(task.daylight), "cure_hours": f"{task.cure_hours:g}", "tools": ", ".join(task.tools), "setup": task.setup,
        "uses": ", ".join(f"{name} {amount:g}" for name, amount in task.uses),
        "not_before": task.not_before.isoformat() if task.not_before else "", "done": _yes(task.done),
    }  # fmt: skip


def task_entered(key: str, before: Task | None, raw: Mapping[str, Any]) -> Task:
    """The task as entered; what the form shows rounded and nobody changed stays as it was.

    Raises:
        InputError: naming the entry.
    """
    spec = read(TaskSpec, raw)
    shown = task_raw(before) if before is not None else {}

    def take(name: str, low: float, high: float, label: str) -> float:
        try:
            return number_in(low, high)(getattr(spec, name), label)
        except InputError as error:
            error.name = name
            raise

    hours = before.hours if before and spec.hours == shown["hours"] else take("hours", 0.0, 20_000.0, "Hours")
    badly = take("hours_badly", 0.0, 200_000.0, "Hours if it goes badly")
    if before and (spec.hours, spec.hours_badly) == (shown["hours"], shown["hours_badly"]):
        spread = before.spread
    elif before and spec.hours_badly == shown["hours_badly"]:
        # Only the estimate was changed: it is as sure as it was.
        spread = before.spread
    else:
        if hours > 0 and not hours <= badly <= 10 * hours:
            wrong = OutOfRangeError(
                "Hours if it goes badly", found=spec.hours_badly, allowed=f"{hours:g} to {10 * hours:g}"
            )
            wrong.name = "hours_badly"
            raise wrong
        spread = badly / hours if hours > 0 else 1.5
    try:
        where = "uses"
        uses = room_of(spec.uses, "Room that it takes") if spec.uses.strip() else ()
        where = "not_before"
        day = day_or_none(spec.not_before, "Not before")
    except InputError as error:
        error.name = where
        raise
    entered = Task(
        key=key, title=spec.title, hours=hours, spread=spread, trade=spec.trade.strip() or "general", needs=_names(spec.needs),
        parts=_names(spec.parts), helper=spec.helper, warm=spec.warm, daylight=spec.daylight,
        cure_hours=take("cure_hours", 0.0, 10_000.0, "Hours to dry or cure after it"), uses=uses, tools=_names(spec.tools),
        setup=spec.setup.strip(), not_before=day, done=spec.done,
    )  # fmt: skip
    if before is None:
        return entered
    kept = {
        n: getattr(before, n)
        for n in ("needs", "parts", "tools", "uses", "cure_hours")
        if str(raw.get(n, "")) == shown[n]
    }
    return replace(entered, spent_hours=before.spent_hours, source=before.source, **kept)


def chosen(project: Project, words: str, most: int) -> tuple[tuple[Task, ...], int]:
    """Tasks whose reference, title or kind holds all words, those to do first; and how many there are."""
    wanted = words.casefold().split()
    found = [
        task
        for task in inputs(project).plan.tasks
        if all(word in f"{task.key} {task.title} {task.trade}".casefold() for word in wanted)
    ]
    found.sort(key=lambda task: task.done)
    return tuple(found[:most]), len(found)


def revision_of(read: Sources, key: str) -> int:
    """The revision of a task that is stored; 0 for one that the plan starts with."""
    one = read.objects.get(key)
    return one.revision if one is not None else 0


def _names(said: str) -> tuple[str, ...]:
    return tuple(dict.fromkeys(part.strip() for part in said.replace(";", ",").split(",") if part.strip()))


def _listed(names: tuple[str, ...]) -> str:
    """Names with commas; very many as a phrase that stands for them as long as nobody changes it."""
    said = ", ".join(names)
    return said if len(said) <= LONGEST else f"all {len(names)} as they are"


def _yes(is_so: bool) -> str:
    return "yes" if is_so else "no"
