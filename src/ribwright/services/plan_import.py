"""Tasks and items from a TOML or CSV text: what they do to the date first, then into the record, all or none."""

from __future__ import annotations

from dataclasses import dataclass, replace

from ribwright.core.planning.exchange import task_row, tasks_from_csv, tasks_from_toml
from ribwright.core.planning.tasks import Item, Task
from ribwright.errors import ConflictError, MissingError
from ribwright.services.plan import Preview, preview
from ribwright.services.plan_items import item_data, unstored
from ribwright.services.plan_sources import Sources, sources
from ribwright.services.project import Actor, Project
from ribwright.services.record import NewEntry, add_entries, new_object


@dataclass(frozen=True, slots=True)
class Taken:
    """What a text holds, and what it would do to the date."""

    tasks: tuple[Task, ...]
    items: tuple[Item, ...]
    effect: Preview


def read_plan_text(text: str) -> tuple[tuple[Task, ...], tuple[Item, ...]]:
    """Tasks and items of a text: TOML with ``[[task]]`` and ``[[item]]``, or CSV with a heading line.

    Raises:
        InputError: what can't be read, with its line.
    """
    if not text.strip():
        raise MissingError(
            "plan file", mend="Give TOML with [[task]] and [[item]], or CSV with a heading line."
        )
    if any(line.lstrip().startswith(("[[task]]", "[[item]]")) for line in text.splitlines()):
        return tasks_from_toml(text)
    return tasks_from_csv(text), ()


def look_at(project: Project, text: str) -> Taken:
    """What a text would do to the plan; nothing is stored.

    Raises:
        InputError: what can't be read.
        ConflictError: a key that belongs to something else.
    """
    tasks, items = read_plan_text(text)
    changed: Sources = sources(project)
    for noun, key in (*(("task", t.key) for t in tasks), *(("order", i.key) for i in items)):
        there = changed.objects.get(key)
        if there is not None and there.noun != noun:
            raise ConflictError(
                f"key {key}",
                found=f"it belongs to a {there.noun}",
                allowed="a key of its own",
                mend="Choose another.",
            )
    for task in tasks:
        one = unstored(task.key, task.title, _row(task))
        changed = changed.with_object(replace(one, noun="task"))
    for item in items:
        changed = changed.with_object(unstored(item.key, item.title, item_data(item)))
    return Taken(tasks, items, preview(project, changed))


def take_in(project: Project, *, actor: Actor, request_id: str, text: str) -> Taken:
    """Store what a text holds, all of it or nothing.

    Raises:
        InputError: what can't be read.
        ConflictError: a key that belongs to something else.
    """
    found = look_at(project, text)
    new: list[NewEntry] = [new_object("task", t.key, _row(t), title=t.title) for t in found.tasks]
    new += [new_object("order", i.key, item_data(i), title=i.title) for i in found.items]
    if new:
        add_entries(project, actor=actor, request_id=request_id, items=new)
    return found


def _row(task: Task) -> dict[str, str]:
    return {name: value for name, value in task_row(task).items() if value and name not in ("key", "title")}
