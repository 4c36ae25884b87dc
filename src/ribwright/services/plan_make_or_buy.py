"""Make or buy: a part-assembled unit against building it, from what a form holds."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from ribwright.core.audit.spec import read, text
from ribwright.core.planning.make_or_buy import Comparison, Share, compare_ways
from ribwright.core.planning.network import HORIZON_WEEKS
from ribwright.core.planning.tasks import Item
from ribwright.errors import InputError, OutOfRangeError, UnknownNameError
from ribwright.services.plan import inputs
from ribwright.services.plan_entries import money_of, number_in
from ribwright.services.plan_sources import sources
from ribwright.services.plan_tasks import pieces
from ribwright.services.portion import portion_view
from ribwright.services.project import Project

DRAWS = 1_000


@dataclass(frozen=True, slots=True)
class MakeOrBuySpec:
    """The form."""

    saves: str = text(
        "Work that buying saves", help="assemblies, operations or tasks, by reference, separated by commas",
        example="DN-21",
    )  # fmt: skip
    price: str = text("Price of the unit", help="in your money, in all", example="4000")
    parts_price: str = text("Price of the parts, if you make it", help="in your money", default="0")
    lead_weeks_likely: str = text(
        "Weeks from order to door", help="as likely longer as shorter", example="20"
    )
    lead_weeks_late: str = text(
        "Weeks if it is late", help="five of six deliveries are here by then", example="30"
    )
    look_hours: str = text(
        "Hours to look it over when it comes", help="common practice, no source", default="8"
    )
    points_lost: str = text(
        "Points of the list that are then not yours", help="a task of the major-portion list is one point; in tenths",
        default="0",
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class MakeOrBuy:
    """Both ways, and what they were worked out from."""

    comparison: Comparison
    tasks: tuple[tuple[str, str, float], ...]
    share: Share
    major_portion: float
    claimed: int
    drawn_until: date

    def day_in_words(self, day: date) -> str:
        """A date as it is said; beyond what is drawn there is none to name."""
        return f"{day:%d %b %Y}" if day < self.drawn_until else "not within thirty years"


def make_or_buy(project: Project, raw: Mapping[str, Any]) -> MakeOrBuy:
    """Compare both ways.

    Raises:
        InputError: an entry that can't be used, named.
    """
    spec = read(MakeOrBuySpec, raw)
    given = inputs(project)
    name = "saves"
    try:
        keys = _saved(project, spec.saves)
        name = "price"
        price = money_of(spec.price, "Price of the unit")
        name = "parts_price"
        parts = money_of(spec.parts_price, "Price of the parts")
        name = "lead_weeks_likely"
        likely = number_in(0.1, 520.0)(spec.lead_weeks_likely, "Weeks from order to door")
        name = "lead_weeks_late"
        late = number_in(0.1, 2600.0)(spec.lead_weeks_late, "Weeks if it is late")
        if not likely < late <= 5 * likely:
            raise OutOfRangeError(
                "Weeks if it is late", found=spec.lead_weeks_late, allowed=f"more than {likely:g}, at most {5 * likely:g}",
                because="a lead time without a spread promises a day that nobody keeps",
            )  # fmt: skip
        name = "look_hours"
        look = number_in(0.0, 1000.0)(spec.look_hours, "Hours to look it over")
        name = "points_lost"
        lost = number_in(0.0, 10_000.0)(spec.points_lost, "Points that are then not yours")
        share, claimed = _share(project)
        if lost > share.builder:
            raise OutOfRangeError(
                "Points that are then not yours", found=lost, allowed=f"at most {share.builder:g}"
            )
    except InputError as error:
        error.name = name
        raise
    found = compare_ways(
        given.plan, keys, Item(key="the unit", title="the bought unit", lead_days=7 * likely, lead_spread=late / likely, price=price),
        parts_price=parts, look_hours=look, share=share, points_lost=lost, major_portion=given.settings.major_portion, draws=DRAWS,
    )  # fmt: skip
    tasks = {task.key: task for task in given.plan.tasks}
    shown = tuple(
        (key, tasks[key].title, max(0.0, tasks[key].hours - tasks[key].spent_hours)) for key in keys
    )
    return MakeOrBuy(
        found,
        shown,
        share,
        given.settings.major_portion,
        claimed,
        given.plan.start + timedelta(weeks=HORIZON_WEEKS),
    )


def _saved(project: Project, said: str) -> tuple[str, ...]:
    """The open tasks that references stand for: a task's own, an operation's, or all below an assembly."""
    read_ = sources(project)
    open_ = [task.key for task in inputs(project).plan.tasks if not task.done]
    cut = pieces(read_.of("operation"))
    keys: list[str] = []
    for ref in (part.strip() for part in said.split(",")):
        if not ref:
            continue
        below = read_.within(ref) if ref in read_.objects else {ref}
        found = [piece.key for piece in cut if piece.operation.ref in below and piece.key in open_]
        found += [ref] if ref in open_ and ref not in found else []
        if not found:
            raise UnknownNameError(
                "Work that buying saves", found=ref, allowed="something with open work in the plan"
            )
        keys += found
    if not keys:
        raise UnknownNameError("Work that buying saves", found="nothing", allowed="at least one reference")
    return tuple(dict.fromkeys(keys))


def _share(project: Project) -> tuple[Share, int]:
    """The builder's points if all that is not claimed yet is the builder's own, and how many tasks are claimed."""
    total = portion_view(project).total
    every = sum(one.tenths for one in total.columns) / 10.0 + total.open
    own = sum(one.tenths for one in total.columns if one.builder) / 10.0 + total.open
    return Share(builder=own, total=every), total.claimed
