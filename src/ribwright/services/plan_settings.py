"""What a builder says of the time, the help, the room and the money: typed, stored in the record, with defaults."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any, TypeVar

from ribwright.core.audit.spec import choice, fields_of, read, rows, text
from ribwright.core.planning.cash import Purse
from ribwright.core.planning.make_or_buy import MAJOR_PORTION
from ribwright.core.planning.pilot import ROUTES, RULES, UNDER_40
from ribwright.core.planning.problems import check_week
from ribwright.core.planning.tasks import Week
from ribwright.errors import InputError, OutOfRangeError, PlanError, UnknownNameError
from ribwright.services.plan_entries import (
    day_hours_of,
    day_of,
    day_or_none,
    days_of,
    in_100,
    money_of,
    months_of,
    number_in,
    room_of,
)
from ribwright.services.project import Actor, Project
from ribwright.services.record import StoredObject, get_object, set_object

T = TypeVar("T")
REF = "plan"
STARTERS = ("all of it", "paper, inspection and flights", "none of it")
PAPER_TRADES = ("paper", "inspection", "flight")


@dataclass(frozen=True, slots=True)
class Blocked:
    """A stretch without work."""

    first: str = text("First day", help="such as 2027-07-10", example="2027-07-10")
    last: str = text("Last day", help="the same day for one day", example="2027-07-24")


@dataclass(frozen=True, slots=True)
class PlanSpec:
    """The form."""

    hours: str = text(
        "Hours you work", help="day and hours of a usual week", default="Mon 2, Tue 2, Thu 2, Sat 5, Sun 3"
    )
    helper: str = text("Of these with the helper", help="day and hours, or the word none", default="Sat 3")
    daylight: str = text(
        "Of these in daylight", help="day and hours, or the word none", default="Sat 5, Sun 3"
    )
    warm: str = text(
        "Shop warm enough for paint and sealant", help="all year, never, or months such as Apr to Oct",
        default="all year",
    )  # fmt: skip
    off: str = text("Holidays", help="single days without work, separated by commas", default="")
    helper_off: str = text("Days without the helper", help="separated by commas", default="")
    blocked: tuple[Blocked, ...] = rows(
        Blocked, "Blocked weeks", help="travel, moving, illness: first and last day"
    )
    shop: str = text(
        "Room in the shop",
        help="name and amount, such as floor 60, bench 2; tasks say what they take",
        default="",
    )
    cash_now: str = text("Money there now", help="in your money; empty: no cash is worked out", default="")
    cash_month: str = text("Saved each month", help="what is added each month for the aeroplane", default="")
    cash_least: str = text("Never to go below", help="what must stay", default="0")
    cash_risk: str = text("Chance of going below", help="in 100, over the whole time", default="10")
    late_day: str = text("A day of waiting costs", help="rent, or what a day is worth to you", default="10")
    capital: str = text(
        "A year of money tied up costs",
        help="in 100 of the price: what it would earn, or what a loan costs; common practice, no source", default="4",
    )  # fmt: skip
    usual_hours: str = text("Hours of a stage without an estimate", help="hours", default="2")
    rework_hours: str = text(
        "Hours of a rework", help="for one finding; common practice, no source", default="0.5"
    )
    answer_days: str = text(
        "Days until the designer answers", help="as likely longer as shorter; common practice, no source", default="14"
    )  # fmt: skip
    starter: str = text(
        "Work beside the metal", help=f"From the list that comes with the program: {'; '.join(STARTERS)}",
        default=STARTERS[0],
    )  # fmt: skip
    major: str = text(
        "Share that must be the builder's", help="in 100; 14 CFR 21.191(g) and its checklist, from memory: look it up",
        default=f"{100 * MAJOR_PORTION:g}",
    )  # fmt: skip
    review: str = text("Last flight review", help="a date; empty if none or not yours to fly", default="")
    landings: str = text("Third-last landing in a tailwheel aeroplane", help="a date", default="")
    route: str = choice(
        "Medical route",
        ROUTES,
        help="which of the rules’ ways you take; the plan looks at that one",
        default=ROUTES[0],
    )
    certificate: str = text("Last examination for the certificate", help="a date", default="")
    examination: str = text("Last medical examination, part 68", help="a date", default="")
    course: str = text("Last medical course, part 68", help="a date", default="")
    transponder: str = text("Last transponder test", help="a date", default="")
    locator: str = text("Last emergency locator inspection", help="a date", default="")


PILOT = dict(
    zip(
        ("review", "landings", "examination", "course", "transponder", "locator", "certificate"),
        (*RULES, UNDER_40),
        strict=True,
    )
)
"""Which entry says when each rule's event was last done."""


@dataclass(frozen=True, slots=True)
class Settings:
    """The settings as the plan takes them.

    Attributes:
        week: who works when.
        shop: room and slots: name and amount.
        purse: the money; None while nothing is entered of it.
        late_day: what a day of waiting costs.
        capital_year: what a year of money tied up costs, as a share of it.
        usual_hours: of a stage without an estimate.
        rework_hours: of one finding to be reworked.
        answer_days: until a discrepancy is answered, middle value.
        starter: which of the starter's tasks belong to the plan.
        major_portion: the builder's share that the rule asks for.
        pilot: rule's name and when it was last done.
        route: the medical route.
        defaults: names of the entries that stand at their default.
        raw: as entered.
        revision: of the stored settings; 0 while none are stored.
    """

    week: Week = field(default_factory=Week)
    shop: tuple[tuple[str, float], ...] = ()
    purse: Purse | None = None
    late_day: float = 10.0
    capital_year: float = 0.04
    usual_hours: float = 2.0
    rework_hours: float = 0.5
    answer_days: float = 14.0
    starter: str = STARTERS[0]
    major_portion: float = MAJOR_PORTION
    pilot: tuple[tuple[str, date | None], ...] = ()
    route: str = ROUTES[0]
    defaults: frozenset[str] = frozenset()
    raw: tuple[tuple[str, Any], ...] = ()
    revision: int = 0

    def entered(self) -> dict[str, Any]:
        """By field name, as the form shows it."""
        return {
            name: [dict(row) for row in value] if isinstance(value, tuple) else value
            for name, value in self.raw
        }


def settings(project: Project) -> Settings:
    """The settings as they stand; what was never entered is a default.

    Raises:
        InputError: what is stored can't be used any more.
    """
    stored = stored_settings(project)
    return parsed(stored.data if stored else {}, revision=stored.revision if stored else 0)


def stored_settings(project: Project) -> StoredObject | None:
    """The object in the record, if there is one."""
    try:
        return get_object(project, REF)
    except UnknownNameError:
        return None


def save_settings(
    project: Project,
    *,
    actor: Actor,
    request_id: str,
    raw: Mapping[str, Any],
    seen_revision: int | None = None,
) -> Settings:
    """Store settings; they are read before anything is written.

    Raises:
        InputError: an entry that can't be used.
        StaleRevisionError: somebody changed them since.
    """
    parsed(raw)
    known = {f.name for f in fields_of(PlanSpec)}
    set_object(
        project, actor=actor, request_id=request_id, noun="setting", ref=REF, title="Settings of the plan",
        data={name: value for name, value in raw.items() if name in known}, seen_revision=seen_revision,
    )  # fmt: skip
    return settings(project)


def parsed(raw: Mapping[str, Any], *, revision: int = 0) -> Settings:
    """Settings from what was entered; all mistakes are found, the first is raised with the others.

    Raises:
        InputError: naming the field as the builder knows it.
    """
    spec = read(PlanSpec, raw)
    labels = {f.name: f.label for f in fields_of(PlanSpec)}
    mistakes: list[InputError] = []

    def take(name: str, how: Callable[[str, str], T], instead: T) -> T:
        try:
            return how(str(getattr(spec, name)), labels[name])
        except InputError as mistake:
            mistake.name = name
            mistakes.append(mistake)
            return instead

    none: tuple[float, ...] = (0.0,) * 7
    hours = take("hours", day_hours_of, (*Week().hours,))
    if not sum(hours):
        wrong = OutOfRangeError(
            labels["hours"], found="no hours on any day", allowed="the hours of a usual week"
        )
        wrong.name = "hours"
        mistakes.append(wrong)
        hours = Week().hours
    blocked = []
    for number, row in enumerate(spec.blocked):
        try:
            first, last = (
                day_of(row.first, f"Blocked weeks {number + 1}, first day"),
                day_of(row.last, f"Blocked weeks {number + 1}, last day"),
            )
            if last < first:
                raise OutOfRangeError(
                    f"Blocked weeks {number + 1}, last day", found=last, allowed=f"{first} or later"
                )
            blocked.append((first, last))
        except InputError as mistake:
            mistake.name = f"blocked.{number}.{'last' if 'last' in mistake.field else 'first'}"
            mistakes.append(mistake)
    week = Week(
        hours=hours,
        helper_hours=tuple(min(a, b) for a, b in zip(hours, take("helper", day_hours_of, none), strict=True)),
        daylight_hours=tuple(
            min(a, b) for a, b in zip(hours, take("daylight", day_hours_of, none), strict=True)
        ),
        warm_months=take("warm", months_of, ()),
        off=take("off", days_of, ()),
        blocked=tuple(blocked),
        helper_off=take("helper_off", days_of, ()),
    )
    purse = None
    if spec.cash_now.strip() or spec.cash_month.strip():
        purse = Purse(
            now=take("cash_now", money_of, 0.0), monthly=take("cash_month", money_of, 0.0),
            least=take("cash_least", money_of, 0.0), risk=take("cash_risk", in_100, 0.1),
        )  # fmt: skip
    made = Settings(
        week=week,
        shop=take("shop", room_of, ()),
        purse=purse,
        late_day=take("late_day", money_of, 10.0),
        capital_year=take("capital", number_in(0.0, 50.0), 4.0) / 100.0,
        usual_hours=take("usual_hours", number_in(0.1, 1000.0), 2.0),
        rework_hours=take("rework_hours", number_in(0.0, 1000.0), 0.5),
        answer_days=take("answer_days", number_in(0.5, 3650.0), 14.0),
        starter=take("starter", _starter, STARTERS[0]),
        major_portion=take("major", in_100, MAJOR_PORTION),
        pilot=tuple((rule.name, take(name, day_or_none, None)) for name, rule in PILOT.items()),
        route=spec.route,
        defaults=frozenset(f.name for f in fields_of(PlanSpec) if not raw.get(f.name) or str(raw[f.name]).strip() == f.default),
        raw=tuple(
            (name, tuple(tuple(row.items()) for row in value) if isinstance(value, list | tuple) else str(value))
            for name, value in raw.items()
        ),
        revision=revision,
    )  # fmt: skip
    try:
        check_week(week)
    except (InputError, PlanError) as fault:
        wrong = OutOfRangeError(labels["hours"], found=fault.found, allowed=fault.allowed)
        wrong.name = "hours"
        mistakes.append(wrong)
    if mistakes:
        mistakes[0].others = tuple(mistakes[1:])
        raise mistakes[0]
    return made


def _starter(said: str, where: str) -> str:
    match = next((one for one in STARTERS if one.casefold() == said.strip().casefold()), None)
    if match is None:
        raise UnknownNameError(where, found=said, allowed="; ".join(STARTERS))
    return match
