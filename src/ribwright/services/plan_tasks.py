"""The record as the plan's input: operations cut into tasks, the work beside the metal, what the bench found."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from ribwright.core.planning.exchange import task_from
from ribwright.core.planning.findings import with_discrepancy, with_rework
from ribwright.core.planning.starter import starter_items, starter_tasks
from ribwright.core.planning.tasks import Plan, Task
from ribwright.errors import RibwrightError
from ribwright.services.bench import finished
from ribwright.services.plan_items import item_of
from ribwright.services.plan_papers import with_papers
from ribwright.services.plan_settings import PAPER_TRADES, STARTERS
from ribwright.services.plan_sources import Sources
from ribwright.services.record import StoredObject

TRADES = {
    "seam": "riveting", "pull-rivet-row": "riveting", "wedge-row": "riveting", "bend-flat": "forming",
    "nose-roll": "forming", "profile-templates": "templates",
}  # fmt: skip
FITTING = "fitting"
SPREAD = 1.5
MENDS = ("rework", "repair", "replace")


@dataclass(frozen=True, slots=True)
class Logged:
    """Hours logged on one stage: the builder's own, or where there are none, everybody's."""

    hours: float
    last_day: str


def logged_hours(sources: Sources) -> dict[str, Logged]:
    """Hours by ``REF/stage``; the helper's hours beside the builder's are the same evening and don't count twice."""
    own: dict[str, float] = {}
    all_: dict[str, float] = {}
    last: dict[str, str] = {}
    for row in sources.work:
        key = f"{row['about']}/{row['stage']}"
        hours = float(row["hours"] or 0)
        all_[key] = all_.get(key, 0.0) + hours
        if row["worked_as"] not in ("helper", "paid"):
            own[key] = own.get(key, 0.0) + hours
        last[key] = max(last.get(key, ""), str(row["day"]))
    return {key: Logged(own.get(key) or hours, last[key]) for key, hours in all_.items()}


@dataclass(frozen=True, slots=True)
class Piece:
    """Stages of an operation that the plan takes as one task; `key` is the operation's own for the last piece."""

    key: str
    operation: StoredObject
    stages: tuple[Mapping[str, Any], ...]


def pieces(operations: Iterable[StoredObject]) -> tuple[Piece, ...]:
    """Cut operations where something else waits for a stage or a stage waits, and where help begins or ends.

    Only so is an order of work that weaves (one's rivets after the other's holes, and the reverse) no circle.
    """
    every = tuple(operations)
    asked = {str(need) for one in every for need in _needs_of(one)}
    out: list[Piece] = []
    for one in every:
        stages = [s for s in one.data.get("stages", []) if isinstance(s, Mapping) and s.get("name")]
        part: list[Mapping[str, Any]] = []
        for place, stage in enumerate(stages):
            part.append(stage)
            following = stages[place + 1] if place + 1 < len(stages) else None
            if following is None:
                out.append(Piece(one.ref, one, tuple(part)))
            elif (
                f"{one.ref}/{stage['name']}" in asked
                or following.get("after")
                or any(_yes(stage, what) != _yes(following, what) for what in ("helper", "warm", "daylight"))
                or stage.get("cure_hours")
            ):
                out.append(Piece(f"{one.ref}/{stage['name']}", one, tuple(part)))
                part = []
        if not stages:
            out.append(Piece(one.ref, one, ()))
    return tuple(out)


def plan_of(sources: Sources) -> tuple[Plan, tuple[str, ...]]:
    """The plan, before a pace is learned, and a sentence for everything that was left out."""
    problems: list[str] = []
    operations = sources.of("operation")
    cut = pieces(operations)
    items = [item_of(one, sources.today, problems) for one in sources.of("order")]
    starters = {item.key: item for item in starter_items()}
    if all(item.key in starters for item in items):
        # Orders of the builder's own take the starter's place; one that was only filled in leaves the others.
        items = list((starters | {item.key: item for item in items}).values())
    metal = _metal(sources, cut, _orders_of(sources, operations, problems))
    others = _others(sources, {item.key for item in items}, tuple(task.key for task in metal), problems)
    tasks = _once((*metal, *others))
    shop = dict(sources.settings.shop)
    for task in tasks:
        for name, amount in task.uses:
            if name not in shop and not sources.settings.shop:
                shop[name] = amount
    plan = Plan(sources.today, tasks, tuple(items), sources.settings.week, shop=tuple(sorted(shop.items())))
    return _found(plan, sources, cut, problems), tuple(problems)


def _needs_of(one: StoredObject) -> list[str]:
    stages = [s for s in one.data.get("stages", []) if isinstance(s, Mapping)]
    return [
        str(n) for n in [*(one.data.get("after") or []), *(n for s in stages for n in s.get("after") or [])]
    ]


def _metal(sources: Sources, cut: tuple[Piece, ...], orders: Mapping[str, set[str]]) -> tuple[Task, ...]:
    done, logged = finished(sources.work), logged_hours(sources)
    where = {f"{p.operation.ref}/{s['name']}": p.key for p in cut for s in p.stages}
    out: list[Task] = []
    before: Piece | None = None
    for piece in cut:
        one = piece.operation
        left = [s for s in piece.stages if f"{one.ref}/{s['name']}" not in done]
        first = before is None or before.operation is not one
        said = [str(n) for s in piece.stages for n in s.get("after") or []]
        said += [str(n) for n in one.data.get("after") or []] if before is None or first else [before.key]
        needs = [where.get(need, need) for need in said]
        spent = sum(logged[k].hours for s in left if (k := f"{one.ref}/{s['name']}") in logged)
        hours = sum(hours_of(s.get("hours"), sources.settings.usual_hours) for s in left)
        named = "" if piece.key == one.ref else f", to {piece.stages[-1]['name']}"
        last = piece.stages[-1] if piece.stages else {}
        out.append(
            Task(
                key=piece.key,
                title=f"{one.title}{named}",
                # A finished operation still stands in the plan with next to nothing; no number stays none.
                hours=hours if math.isnan(hours) else max(hours, 0.01),
                spread=SPREAD,
                trade=str(one.data.get("trade") or TRADES.get(str(one.data.get("calculation")), FITTING)),
                needs=tuple(dict.fromkeys(need for need in needs if need != piece.key)),
                parts=tuple(sorted(orders.get(one.ref, ()))),
                helper=any(_yes(s, "helper") for s in piece.stages),
                warm=any(_yes(s, "warm") for s in piece.stages),
                daylight=any(_yes(s, "daylight") for s in piece.stages),
                cure_hours=hours_of(last.get("cure_hours"), 0.0),
                spent_hours=spent,
                done=not left,
                source="the operation's stages",
            )
        )
        before = piece
    return tuple(out)


def _orders_of(
    sources: Sources, operations: tuple[StoredObject, ...], problems: list[str]
) -> dict[str, set[str]]:
    """Which orders each operation waits for: those of what it stands in, at any depth, and of its parts."""
    out: dict[str, set[str]] = {}
    orders = {one.ref for one in sources.of("order")}
    refs = {one.ref for one in operations}
    for order in sources.of("order"):
        for wanted in order.data.get("needed_for") or []:
            if str(wanted) not in sources.objects and not _starts(str(wanted)):
                problems.append(f"{order.ref}: it is needed for {wanted}, and there is nothing of this name.")
            for ref in sources.within(str(wanted)) & refs:
                out.setdefault(ref, set()).add(order.ref)
    for one in operations:
        for part in one.data.get("parts") or []:
            known = sources.objects.get(str(part))
            order_ref = str(known.data.get("order") or "") if known is not None else ""
            if order_ref in orders:
                out.setdefault(one.ref, set()).add(order_ref)
    return out


def _starts(key: str) -> bool:
    return any(task.key == key for task in starter_tasks())


def _others(
    sources: Sources, here: set[str], metal: tuple[str, ...], problems: list[str]
) -> tuple[Task, ...]:
    """The starter's tasks as far as they were asked for, and the project's own beside or in place of them."""
    wanted: dict[str, set[str]] = {}
    for order in sources.of("order"):
        for need in order.data.get("needed_for") or []:
            wanted.setdefault(str(need), set()).add(order.ref)
    made: dict[str, Task] = {}
    chosen = [
        t
        for t in starter_tasks()
        if sources.settings.starter == STARTERS[0]
        or (sources.settings.starter == STARTERS[1] and t.trade in PAPER_TRADES)
    ]
    chosen = list(with_papers(tuple(chosen), sources.papers))
    names = {t.key for t in chosen}
    behind_all = "prepare-paint" if "prepare-paint" in names else "weighing"
    logged = logged_hours(sources)
    done = finished(sources.work)
    for t in chosen:
        needs = [n for n in t.needs if n in names]
        if t.key == behind_all:
            needs += metal
        parts = {*(p for p in t.parts if p in here), *wanted.get(t.key, ())}
        made[t.key] = replace(t, needs=tuple(needs), parts=tuple(sorted(parts)))
    for one in sources.of("task"):
        if one.data.get("paper"):
            continue  # the evidence of a paper, no work
        row = {k: v for k, v in one.data.items() if v not in (None, "")} | {
            "key": one.ref,
            "title": one.title or one.ref,
        }
        try:
            task = task_from(row, f"task {one.ref}")
        except RibwrightError as error:
            problems.append(error.sentence())
            continue
        if (
            task.not_before is not None
            and task.not_before < sources.today
            and not task.done
            and not task.spent_hours
        ):
            problems.append(f"task {one.ref} was not to begin before {task.not_before}, which is past: it is planned from today.")  # fmt: skip
        # What stands behind all the metal does so whatever else is changed of it.
        behind = metal if one.ref == behind_all else ()
        made[one.ref] = replace(
            task,
            needs=tuple(dict.fromkeys((*task.needs, *behind))),
            parts=tuple(dict.fromkeys((*task.parts, *sorted(wanted.get(task.key, ()))))),
        )
    for key, task in made.items():
        if f"{key}/do" in logged:
            made[key] = replace(
                task, spent_hours=logged[f"{key}/do"].hours, done=task.done or f"{key}/do" in done
            )
    return tuple(made.values())


def _once(tasks: tuple[Task, ...]) -> tuple[Task, ...]:
    """A task of the project takes the place of an operation's of the same name."""
    return tuple({task.key: task for task in tasks}.values())


def _found(plan: Plan, sources: Sources, cut: tuple[Piece, ...], problems: list[str]) -> Plan:
    """What the bench found: a rework adds its task, an open discrepancy stops what follows."""
    where = {f"{p.operation.ref}/{s['name']}": p.key for p in cut for s in p.stages}
    known = {task.key: task for task in plan.tasks}
    said = sources.settings
    for number, (about, stage, count) in enumerate(_reworks(sources), start=1):
        key = where.get(f"{about}/{stage}", about)
        if key in known and said.rework_hours > 0:
            title = f"{count} finding{'s' if count > 1 else ''} put right on {about}, {stage}"
            plan = with_rework(
                plan, key, number=f"{about} {stage} {number}", title=title, hours=count * said.rework_hours
            )
    for row in sources.discrepancies:
        ref, about = str(row["ref"]), str(row["about"])
        keys = _tasks_about(sources, about, cut)
        if not keys:
            problems.append(
                f"{ref} stands on {about}, and no operation names it: it holds nothing up in the plan."
            )
        elif row["state"] == "open":
            # Work that is done or gone on with can't wait; the first named stands for what follows.
            plan = with_discrepancy(
                plan, keys[-1], number=ref, answer_days=said.answer_days, also=frozenset(keys)
            )
        elif row["decision"] in MENDS and said.rework_hours > 0:
            plan = with_rework(
                plan,
                keys[-1],
                number=ref,
                title=f"{row['decision']} of {ref}".capitalize(),
                hours=said.rework_hours,
            )
    return plan


def _reworks(sources: Sources) -> list[tuple[str, str, int]]:
    """Findings that still ask for a rework: the last word on each place, unless the stage was finished since."""
    last: dict[tuple[str, str, str, str], tuple[int, str]] = {}
    for row in sources.findings:
        name = (str(row["about"]), str(row["stage"]), str(row["requirement"]), str(row["where"]))
        last[name] = (int(row["seq"]), str(row["verdict"]))
    ended: dict[tuple[str, str], int] = {}
    for row in sources.work:
        if row["done"] == "yes":
            ended[str(row["about"]), str(row["stage"])] = int(row["seq"])
    count: dict[tuple[str, str], int] = {}
    for (about, stage, _, where), (seq, verdict) in last.items():
        if verdict == "rework" and where != "trial" and ended.get((about, stage), 0) < seq:
            count[about, stage] = count.get((about, stage), 0) + 1
    return [(about, stage, n) for (about, stage), n in sorted(count.items())]


def _tasks_about(sources: Sources, about: str, cut: tuple[Piece, ...]) -> list[str]:
    """The tasks that a discrepancy holds up: of its operation, or of the operations that name its part."""
    own = [piece.key for piece in cut if piece.operation.ref == about]
    if own:
        return own
    one = sources.objects.get(about)
    if one is not None and one.noun in ("assembly", "space", "aircraft"):
        below = sources.within(about)
        return [piece.key for piece in cut if piece.operation.ref in below]
    whole = re.compile(rf"(?<![\w-]){re.escape(about)}(?![\w-])")
    return [
        piece.key
        for piece in cut
        if about in (piece.operation.data.get("parts") or [])
        or any(
            whole.search(str(layer))
            for layer in (piece.operation.data.get("inputs") or {}).get("layers") or []
        )
    ]


def _yes(stage: Mapping[str, Any], what: str) -> bool:
    return stage.get(what) in ("yes", True)


def hours_of(said: object, usual: float) -> float:
    """A number that was entered, or the usual one where nothing was; what can't be read is no number.

    The plan then leaves that task or order out and says so, instead of guessing.
    """
    if said in (None, ""):
        return usual
    try:
        value = float(str(said))
    except ValueError:
        return math.nan
    return value if 0 <= value < math.inf else math.nan
