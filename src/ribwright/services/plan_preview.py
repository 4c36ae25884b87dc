"""What a change does to the 4-in-5 date, before anybody saves it."""

from __future__ import annotations

from dataclasses import dataclass

from ribwright.core.planning.network import network
from ribwright.core.planning.risk import effect, outlook, simulated
from ribwright.core.planning.tasks import Plan
from ribwright.services.plan import DRAWS, MOVE_DRAWS, inputs, inputs_of
from ribwright.services.plan_orders import moved_in_words
from ribwright.services.plan_sources import Sources
from ribwright.services.project import Project


@dataclass(frozen=True, slots=True)
class Preview:
    """What a change would do, before anybody saves it.

    Attributes:
        days: days by which the 4-in-5 date moves; negative is earlier.
        error_days: standard error of that.
        problems: what the changed plan can't hold, that the plan as it is can.
        says: the same in words.
    """

    days: float
    error_days: float
    problems: tuple[str, ...]
    says: str


def preview(project: Project, changed: Sources) -> Preview:
    """What a change does to the 4-in-5 date, on the same random numbers.

    Raises:
        RibwrightError: the changed week or pace can't be.
    """
    before, after = inputs(project), inputs_of(changed)
    new = tuple(sentence for sentence in after.problems if sentence not in before.problems)
    if before.plan == after.plan or not _open(before.plan) or not _open(after.plan):
        return Preview(0.0, 0.0, new, "This changes no date.")
    moved = effect(before.plan, after.plan, draws=DRAWS)
    says = moved_in_words(moved.days_less, moved.error_days)
    if abs(moved.days_less) < 0.5 and _never(before.plan) and _never(after.plan):
        says = "The 4-in-5 date lies beyond thirty years, before this change and after it."
    fallen = {t.key for t in before.plan.tasks} - {t.key for t in after.plan.tasks}
    if fallen and new:
        says += (
            f" That is without {len(fallen)} tasks that can’t be planned then: the sentences below say why."
        )
    here = {item.key for item in after.plan.items}
    gone = [item.title or item.key for item in before.plan.items if item.key not in here and not item.arrived]
    if gone and not fallen:
        new = (*new, f"These orders, which the plan starts with, count no longer beside orders of your own: {', '.join(gone)}. Enter yours.")  # fmt: skip
    return Preview(moved.days_less, moved.error_days, new, says)


def _never(plan: Plan) -> bool:
    """Whether the 4-in-5 date lies beyond what is drawn."""
    net = network(plan)
    made = outlook(net, simulated(net, draws=MOVE_DRAWS))
    return 5 * made.beyond > made.draws


def _open(plan: Plan) -> bool:
    return any(not task.done for task in plan.tasks)
