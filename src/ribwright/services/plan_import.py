"""Tasks and items from a TOML or CSV text: what they do to the date first, then into the record, all or none."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, fields, replace

from ribwright.core.planning.exchange import task_row, tasks_from_csv, tasks_from_toml
from ribwright.core.planning.starter import starter_tasks
from ribwright.core.planning.tasks import Item, Task
from ribwright.errors import ConflictError, MissingError, OutOfRangeError
from ribwright.services.bench import finished
from ribwright.services.plan import inputs
from ribwright.services.plan_items import item_data, unstored
from ribwright.services.plan_preview import Preview, preview
from ribwright.services.plan_sources import Sources, sources
from ribwright.services.plan_tasks import Piece, pieces
from ribwright.services.project import Actor, Project
from ribwright.services.record import NewEntry, StoredObject, add_entries, new_object


@dataclass(frozen=True, slots=True)
class Taken:
    """What a text holds, and what it would do to the date.

    Attributes:
        tasks: new ones, and those that say something else than the plan.
        items: to order.
        operations: as they would be.
        unchanged: lines that change no task; those of the operations are among them.
        effect: on the date.
    """

    tasks: tuple[Task, ...]
    items: tuple[Item, ...]
    operations: tuple[StoredObject, ...]
    unchanged: int
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

    A line that says what the plan says already changes nothing, so that the list that was written out can be
    edited and taken in again whole.

    Raises:
        InputError: what can't be read, or can't be changed here.
        ConflictError: a key that belongs to something else.
    """
    return look_at_these(project, *read_plan_text(text))


def look_at_these(project: Project, given: tuple[Task, ...], items: tuple[Item, ...] = ()) -> Taken:
    """What tasks and items would do to the plan; nothing is stored. Raises as `look_at` does."""
    changed: Sources = sources(project)
    tasks, operations = changes(project, changed, given)
    for noun, key in (*(("task", t.key) for t in tasks), *(("order", i.key) for i in items)):
        there = changed.objects.get(key)
        if there is not None and there.noun != noun:
            raise ConflictError(
                f"key {key}",
                found=f"it belongs to a {there.noun}",
                allowed="a key of its own",
                mend="Choose another.",
            )
    for one in operations:
        changed = changed.with_object(one)
    for task in tasks:
        one = unstored(task.key, task.title, _row(task))
        changed = changed.with_object(replace(one, noun="task"))
    for item in items:
        changed = changed.with_object(unstored(item.key, item.title, item_data(item)))
    return Taken(tasks, items, operations, len(given) - len(tasks), preview(project, changed))


def changes(
    project: Project, read: Sources, given: tuple[Task, ...]
) -> tuple[tuple[Task, ...], tuple[StoredObject, ...]]:
    """Of a list, the tasks that are new or say something else than the plan, and the operations that change.

    Of an operation the list may change the hours (of the stages that are open, in proportion), the helper,
    warmth, daylight and the hours that it cures; the rest is changed where the operation is.

    Raises:
        ConflictError: something else of an operation, or of a task that a finding or a paper made.
    """
    plan = inputs(project).plan
    standing = {task.key: task for task in plan.tasks}
    before = {piece.key: piece for piece in pieces(read.of("operation"))}
    starters = {task.key for task in starter_tasks()}
    own = {one.ref for one in read.of("task")} | starters
    done = finished(read.work)
    tasks: list[Task] = []
    operations: dict[str, StoredObject] = {}
    for task in given:
        there = standing.get(task.key)
        if there is None and task.key in before:
            ref = before[task.key].operation.ref
            raise ConflictError(
                f"key {task.key}", found="an operation that the plan leaves out", allowed="one it holds",
                mend=f"Mend what the plan says of {ref} first.",
            )  # fmt: skip
        if there is not None:
            different = [f.name for f in fields(Task) if getattr(task, f.name) != getattr(there, f.name)]
            if not different:
                continue
            piece = before.get(task.key)
            if piece is not None:
                one = operations.get(piece.operation.ref, piece.operation)
                operations[one.ref] = _changed_operation(one, piece, task, there, different, done)
                continue
            if task.key not in own:
                # What a finding made follows its operation: only hours that somebody changed are spoken of.
                if "hours" not in different:
                    continue
                raise ConflictError(
                    f"key {task.key}", found=", ".join(different), allowed="the line as it was written out",
                    mend="It comes from a finding, a discrepancy or a paper: change it there.",
                )  # fmt: skip
        if task.key in starters and set(before) <= set(task.needs):
            # The plan itself puts this one behind all operations: only what comes beside is stored.
            task = replace(task, needs=tuple(need for need in task.needs if need not in before))
        tasks.append(task)
    return tuple(tasks), tuple(operations.values())


EDITABLE = ("hours", "helper", "warm", "daylight", "cure_hours")


def _changed_operation(
    one: StoredObject, piece: Piece, task: Task, there: Task, different: list[str], done: Collection[str]
) -> StoredObject:
    other = [name for name in different if name not in EDITABLE]
    if other:
        raise ConflictError(
            f"key {task.key}", found=f"{', '.join(other)} changed on an operation", allowed=", ".join(EDITABLE),
            mend=f"Change it on the page of {one.ref}.",
        )  # fmt: skip
    if not 0 < task.hours < float("inf"):
        raise OutOfRangeError(f"key {task.key}: hours", found=task.hours, allowed="more than 0")
    names = [str(stage["name"]) for stage in piece.stages]
    open_ = [name for name in names if f"{one.ref}/{name}" not in done]
    stages = []
    for stage in one.data.get("stages", []):
        new = dict(stage)
        name = str(stage.get("name"))
        if name in open_ and "hours" in different:
            said = str(stage.get("hours") or "")
            share = (float(said) if said else there.hours / len(open_)) / there.hours
            new["hours"] = f"{task.hours * share:.10g}"
        if name in names:
            new |= {
                what: "yes" if getattr(task, what) else "no"
                for what in ("helper", "warm", "daylight")
                if what in different
            }
        if name == names[-1] and "cure_hours" in different:
            new["cure_hours"] = f"{task.cure_hours:g}"
        stages.append(new)
    return replace(one, data={**one.data, "stages": stages})


def take_in(project: Project, *, actor: Actor, request_id: str, text: str) -> Taken:
    """Store what a text holds, all of it or nothing.

    Raises:
        InputError: what can't be read, or can't be changed here.
        ConflictError: a key that belongs to something else.
    """
    found = look_at(project, text)
    store(project, found, actor=actor, request_id=request_id)
    return found


def store(
    project: Project, found: Taken, *, actor: Actor, request_id: str, seen_revision: int | None = None
) -> None:
    """Store what was looked at.

    Args:
        seen_revision: of a single task, as the form that changes it saw it.

    Raises:
        StaleRevisionError: somebody changed it since.
    """
    new: list[NewEntry] = [
        new_object("task", t.key, _row(t), title=t.title, seen_revision=seen_revision) for t in found.tasks
    ]
    new += [new_object("order", i.key, item_data(i), title=i.title) for i in found.items]
    new += [
        new_object(
            "operation", one.ref, one.data, parent=one.parent, title=one.title, hand=one.hand,
            made_from=one.made_from, seen_revision=one.revision,
        )
        for one in found.operations
    ]  # fmt: skip
    if new:
        add_entries(project, actor=actor, request_id=request_id, items=new)


def _row(task: Task) -> dict[str, str]:
    return {name: value for name, value in task_row(task).items() if value and name not in ("key", "title")}
