"""Next on the bench for one evening, ranked by what leaving it would cost; and what is left while an item is missing."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from ribwright.core.bench.stages import ReadyStage
from ribwright.core.planning.network import network
from ribwright.core.planning.risk import deciding, simulated
from ribwright.core.planning.tasks import Plan, Task
from ribwright.core.planning.tonight import (
    Tonight,
    WaitCost,
    Waiting,
    cost_in_words,
    left_out,
    ready_tasks,
    waiting_costs,
    while_waiting,
)
from ribwright.core.stores.setups import StageToDo, same_set_up, set_up_for
from ribwright.errors import UnknownNameError
from ribwright.services.bench import next_on_bench
from ribwright.services.plan import Inputs, inputs
from ribwright.services.plan_entries import room_of
from ribwright.services.plan_tasks import pieces
from ribwright.services.plan_tonight_form import HELPED, LIGHT, TonightSpec
from ribwright.services.project import Project
from ribwright.services.record import StoredObject, objects
from ribwright.services.running import Report, Standing, Workshop

DRAWS = 300
MOST_RANKED = 60
AT_ONCE = 4
WARM_F = 50.0
"""Below this primer and sealant are left alone: common practice, no source; the label decides."""
LABELLED = ("finish", "seal")


@dataclass(frozen=True, slots=True)
class Line:
    """One thing to do tonight: a stage of an operation, or a task beside the metal (then `stage` is empty)."""

    ref: str
    stage: str
    title: str
    hours: float
    cost_days: float
    known: bool
    why: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Group:
    """What one set-up serves, the costliest to leave first."""

    set_up: str
    lines: tuple[Line, ...]


@dataclass(frozen=True, slots=True)
class Evening:
    """Tonight's list.

    Attributes:
        groups: by set-up, the one with the costliest to leave first.
        left_out: what is ready but not for tonight: reference, stage, why.
        says: how far the ranking is; empty when it is done.
        running: whether it goes on.
        ranked: of how many tasks the cost of waiting is known.
    """

    groups: tuple[Group, ...]
    left_out: tuple[tuple[str, str, str], ...]
    says: str
    running: bool
    ranked: int


_COSTS: Workshop[dict[str, WaitCost]] = Workshop()
_WAITING: Workshop[Waiting] = Workshop()


def evening(project: Project, spec: TonightSpec, *, wait: float | None = 0.0) -> Evening:
    """What can be done tonight and in which order.

    Args:
        spec: hours, who is there, temperature.
        wait: seconds to wait for the ranking at most; without it the order of the bench stands, and it is said.
    """
    given = inputs(project)
    costs = _costs(given, wait)
    known = costs.result or {}
    every = {one.ref: one for one in objects(project, noun="operation")}
    parts = tuple(pieces(every.values()))
    place = {f"{p.operation.ref}/{s['name']}": p.key for p in parts for s in p.stages}
    stages = {p.key: len(p.stages) for p in parts}
    tasks = {task.key: task for task in given.plan.tasks}
    here = {item.key for item in given.plan.items if item.arrived}
    opens: dict[str, int] = {}
    for task in given.plan.tasks:
        for need in task.needs if not task.done else ():
            opens[need] = opens.get(need, 0) + 1
    tonight = tonight_of(spec, given.plan)
    lines: list[tuple[str, Line, int]] = []
    out: list[tuple[str, str, str]] = []
    for ready in next_on_bench(project).ready:
        own = tasks.get(place.get(f"{ready.ref}/{ready.stage}", ready.ref))
        if own is None:
            continue
        why = _not_tonight(own, ready, every[ready.ref], tonight, here)
        if why:
            out.append((ready.ref, ready.stage, why))
            continue
        group = set_up_for(ready.stage, every[ready.ref].data)
        # a stage without an estimate is its even share of the operation, not the whole of it
        takes = ready.hours if ready.hours is not None else own.hours / max(1, stages.get(own.key, 1))
        lines.append((group, _line(ready.ref, ready.stage, ready.title, takes, own, known, opens, tonight), len(lines)))  # fmt: skip
    metal = set(place.values()) | set(every)
    for own in ready_tasks(given.plan):
        if own.key in metal:
            continue
        why = left_out(own, tonight)
        if why:
            out.append((own.key, "", why))
            continue
        left = max(0.0, own.hours - own.spent_hours)
        lines.append((own.setup or own.trade, _line(own.key, "", own.title, left, own, known, opens, tonight), len(lines)))  # fmt: skip
    return Evening(_grouped(lines), tuple(out), costs.says, costs.running, len(known))


def tonight_of(spec: TonightSpec, plan: Plan) -> Tonight:
    """What there is tonight; room that is not said is what work in hand leaves of the shop.

    Raises:
        InputError: room that can't be read.
    """
    held: dict[str, float] = {}
    for task in plan.tasks:
        if task.spent_hours > 0 and not task.done:
            for name, amount in task.uses:
                held[name] = held.get(name, 0.0) + amount
    free = {name: max(0.0, there - held.get(name, 0.0)) for name, there in plan.shop}
    return Tonight(
        hours=spec.hours.to("h"),
        helper=spec.who == HELPED,
        warm=spec.temperature.to("°F") >= WARM_F,
        daylight=spec.light == LIGHT,
        space=tuple((free | dict(room_of(spec.room, "room"))).items())
        if spec.room.strip()
        else tuple(free.items()),
        tools_missing=tuple(one.strip() for one in spec.tools.split(",") if one.strip()),
    )


def _tool_missing(ready: ReadyStage, one: StoredObject, tonight: Tonight) -> str:
    """The tool of a stage's set-up or tray that is not at hand; empty if all are."""
    if not tonight.tools_missing:
        return ""
    stage = StageToDo(ready.ref, ready.stage, ready.title, ready.hours, ready.helper, one.data)
    names = [set_up_for(ready.stage, one.data)]
    names += [str(name) for made in same_set_up([stage]) for name, _ in made.tray]
    for tool in tonight.tools_missing:
        words = set(tool.casefold().split())
        if any(words <= set(re.split(r"[\s,]+", name.casefold())) for name in names):
            return tool
    return ""


def _not_tonight(task: Task, ready: ReadyStage, one: StoredObject, tonight: Tonight, here: set[str]) -> str:
    missing = [part for part in task.parts if part not in here]
    if missing:
        return f"waits for {', '.join(missing)}"
    stage: Mapping[str, Any] = next(
        (s for s in one.data.get("stages", []) if s.get("name") == ready.stage), {}
    )
    if ready.helper and not tonight.helper:
        return "needs the helper"
    if not tonight.warm and (stage.get("warm") in ("yes", True) or ready.stage in LABELLED):
        return "needs a warmer shop"
    if stage.get("daylight") in ("yes", True) and not tonight.daylight:
        return "needs daylight"
    tool = _tool_missing(ready, one, tonight)
    if tool:
        return f"needs {tool}"
    return left_out(replace(task, helper=False, warm=False, daylight=False), tonight)


def _line(
    ref: str, stage: str, title: str, takes: float, task: Task, known: dict[str, WaitCost], opens: dict[str, int], tonight: Tonight,
) -> Line:  # fmt: skip
    cost = known.get(task.key)
    told = cost is not None and abs(cost.days) >= max(1.0, 2.0 * cost.error_days)
    why = (
        [cost_in_words(cost.days, cost.error_days)]
        if cost is not None
        else ["it hardly ever decides the date"]
        if known
        else []
    )
    if opens.get(task.key):
        why.append(f"opens {opens[task.key]} further task{'s' if opens[task.key] > 1 else ''}")
    if task.spent_hours > 0:
        why.append("already begun")
    why += [
        words
        for asks, words in (
            (task.helper, "the helper is there"),
            (task.warm, "the shop is warm enough"),
            (task.daylight, "there is daylight"),
            (task.uses and task.spent_hours == 0, f"there is room: {_room_words(task)}"),
        )
        if asks
    ]
    why.append("fits into tonight" if takes <= tonight.hours else f"more than tonight: {takes:.1f} h")
    return Line(ref, stage, title, takes, cost.days if cost is not None and told else 0.0, cost is not None, tuple(why))  # fmt: skip


def _room_words(task: Task) -> str:
    return ", ".join(f"{amount:g} of {name}" for name, amount in task.uses)


def _grouped(lines: list[tuple[str, Line, int]]) -> tuple[Group, ...]:
    groups: dict[str, list[tuple[Line, int]]] = {}
    for name, line, order in lines:
        groups.setdefault(name, []).append((line, order))

    def rank(pair: tuple[Line, int]) -> tuple[float, bool, int]:
        return -round(pair[0].cost_days), not pair[0].why[-1].startswith("fits"), pair[1]

    made = [(name, sorted(of, key=rank)) for name, of in groups.items()]
    made.sort(key=lambda one: (rank(one[1][0])[:2], -len(one[1]), rank(one[1][0])[2]))
    return tuple(Group(name, tuple(line for line, _ in of)) for name, of in made)


def _costs(given: Inputs, wait: float | None) -> Standing[dict[str, WaitCost]]:
    return _COSTS.standing(given.mark, lambda report, keep: _ranked(given.plan, report, keep), wait=wait)


def _ranked(plan: Plan, report: Report, keep: Callable[[dict[str, WaitCost]], None]) -> dict[str, WaitCost]:
    """Costs of leaving the ready tasks that most often decide the date; those that hardly ever do cost little."""
    ready = [task.key for task in ready_tasks(plan)]
    if not ready:
        return {}
    report("the ready tasks that most often decide the date")
    net = network(plan)
    share = dict(deciding(net, simulated(net, draws=DRAWS, decides=True)))
    ready.sort(key=lambda key: -share.get(key, 0.0))
    chosen, found = ready[:MOST_RANKED], {}  # type: ignore[var-annotated]
    for start in range(0, len(chosen), AT_ONCE):
        report(f"what leaving each would cost: {start} of {len(chosen)}")
        found |= waiting_costs(plan, chosen[start : start + AT_ONCE], draws=DRAWS)
        keep(dict(found))
    return found


@dataclass(frozen=True, slots=True)
class WaitingView:
    """What remains while an item is missing: `standing` is its working out."""

    ref: str
    title: str
    standing: Standing[Waiting]
    tasks: tuple[tuple[str, str, float], ...]


def waiting_view(project: Project, ref: str, *, wait: float | None = 0.0) -> WaitingView:
    """What can be worked on while an item is missing, and the chance of running dry.

    Raises:
        UnknownNameError: no such item in the plan.
    """
    given = inputs(project)
    items = missing_items(project)
    if ref not in dict(items):
        raise UnknownNameError(
            "item", found=ref, allowed="; ".join(key for key, _ in items) or "none is missing"
        )

    def work(report: Report, keep: Callable[[Waiting], None]) -> Waiting:
        report("builds with it and without it simulated")
        return while_waiting(given.plan, ref, draws=DRAWS)

    standing = _WAITING.standing((given.mark, ref), work, wait=wait)
    if standing.error is not None:
        raise standing.error
    tasks = {task.key: task for task in given.plan.tasks}
    ready = {task.key for task in ready_tasks(given.plan)}
    free = standing.result.tasks if standing.result is not None else ()
    ranked = sorted(free, key=lambda key: (key not in ready, -tasks[key].hours))
    shown = tuple(
        (key, tasks[key].title, max(0.0, tasks[key].hours - tasks[key].spent_hours)) for key in ranked
    )
    return WaitingView(ref, dict(items)[ref], standing, shown)


def missing_items(project: Project) -> tuple[tuple[str, str], ...]:
    """Items that are not here: reference and title."""
    return tuple(
        (item.key, item.title or item.key) for item in inputs(project).plan.items if not item.arrived
    )


def dry_in_words(found: Waiting) -> str:
    """The chance of running dry, said."""
    words = (
        f"{len(found.tasks)} open tasks do not need it, about {found.hours:.0f} hours of work at your pace. "
    )
    builds = (
        f"{100 * found.runs_dry:.0f}" if found.runs_dry >= 0.005 or found.runs_dry == 0 else "fewer than 1"
    )
    words += f"In {builds} of 100 simulated builds working time is lost for want of it"
    return words + (f", {found.dry_hours:.0f} hours in the mean when it is." if found.runs_dry > 0 else ".")
