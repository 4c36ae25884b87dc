"""Orders as the plan's items: when they come, what they cost, and what is typed of them."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from ribwright.core.audit.spec import choice, flag, read, text
from ribwright.core.planning.orders import still_out
from ribwright.core.planning.starter import starter_items
from ribwright.core.planning.tasks import Item
from ribwright.errors import InputError, OutOfRangeError, UnknownNameError
from ribwright.services.plan_entries import day_or_none, money_of, number_in, plain_number
from ribwright.services.project import Actor, Project
from ribwright.services.record import StoredObject, get_object, set_object

STATES = ("to order", "ordered", "received")


@dataclass(frozen=True, slots=True)
class OrderSpec:
    """The form of an order."""

    title: str = text("What", help="as you would say it", example="engine")
    state: str = choice("Stands", STATES, help="an order that is out keeps its date", default="to order")
    lead_weeks_likely: str = text(
        "Weeks from order to door", help="as likely longer as shorter", example="20"
    )
    lead_weeks_late: str = text(
        "Weeks if it is late", help="five of six deliveries are here by then", example="40"
    )
    order_on: str = text("Ordered on, or to be ordered on", help="a date; empty: not decided", default="")
    price_usd: str = text("Price", help="in your money, in all", default="0")
    deposit_usd: str = text("Paid with the order", help="the rest is paid on delivery", default="0")
    refundable: bool = flag("Deposit comes back if it is withdrawn", help="as the seller says in writing")
    queue: str = text("Place in the maker's queue", help="a number, if there is one", default="")
    holding_month: str = text(
        "A month of keeping it costs", help="space, capital, warranty running out", default="0"
    )
    needed_for: str = text(
        "Needed for", help="assemblies, operations or tasks, by reference, separated by commas", default=""
    )


def order_raw(one: StoredObject) -> dict[str, Any]:
    """A stored order as the form shows it."""
    raw = {
        name: str(one.data.get(name) or "")
        for name in ("lead_weeks_likely", "lead_weeks_late", "order_on", "price_usd", "deposit_usd", "queue", "holding_month")
    }  # fmt: skip
    needed = one.data.get("needed_for") or []
    return raw | {
        "title": one.title,
        "state": str(one.data.get("state") or "to order"),
        "refundable": "yes" if one.data.get("refundable") in ("yes", True) else "no",
        "needed_for": ", ".join(map(str, needed)) if isinstance(needed, list | tuple) else str(needed),
    }


def order_data(raw: Mapping[str, Any], *, today: date) -> tuple[str, dict[str, Any]]:
    """Title and data of an order as entered.

    Raises:
        InputError: naming the field: a lead time without a spread, a date in the past, a deposit over the price.
    """
    spec = read(OrderSpec, raw)

    def at(name: str, error: InputError) -> InputError:
        error.name = name
        return error

    try:
        name = "lead_weeks_likely"
        likely = number_in(0.1, 520.0)(spec.lead_weeks_likely, "Weeks from order to door")
        name = "lead_weeks_late"
        late = number_in(0.1, 2600.0)(spec.lead_weeks_late, "Weeks if it is late")
        if late <= likely or late > 5 * likely:
            raise OutOfRangeError(
                "Weeks if it is late", found=spec.lead_weeks_late, allowed=f"more than {likely:g}, at most {5 * likely:g}",
                because="a lead time without a spread promises a day that nobody keeps",
            )  # fmt: skip
        name = "price_usd"
        price = money_of(spec.price_usd, "Price")
        name = "deposit_usd"
        if money_of(spec.deposit_usd, "Paid with the order") > price:
            raise OutOfRangeError("Paid with the order", found=spec.deposit_usd, allowed=f"at most {price:g}")
        name = "holding_month"
        money_of(spec.holding_month, "A month of keeping it costs")
        name = "queue"
        if spec.queue.strip():
            number_in(0, 100_000)(spec.queue, "Place in the maker's queue")
        name = "order_on"
        day = day_or_none(spec.order_on, "Ordered on, or to be ordered on")
        if day is not None and spec.state == "to order" and day < today:
            raise OutOfRangeError("Ordered on, or to be ordered on", found=day, allowed=f"{today} or later, as it is not ordered yet", mend="Say that it is ordered, or choose a later day")  # fmt: skip
        if day is not None and spec.state == "ordered" and day > today:
            raise OutOfRangeError("Ordered on, or to be ordered on", found=day, allowed=f"{today} or earlier, as it is ordered already")  # fmt: skip
    except InputError as error:
        raise at(name, error) from None
    if day is None and spec.state == "ordered":
        day = today
    data = {
        "state": spec.state, "lead_weeks_likely": spec.lead_weeks_likely.strip(), "lead_weeks_late": spec.lead_weeks_late.strip(),
        "price_usd": _text(price), "deposit_usd": _text(money_of(spec.deposit_usd, "")), "holding_month": _text(money_of(spec.holding_month, "")),
        "refundable": "yes" if spec.refundable else "no", "queue": spec.queue.strip(), "order_on": day.isoformat() if day else "",
        "needed_for": [part.strip() for part in spec.needed_for.split(",") if part.strip()],
    }  # fmt: skip
    return spec.title, data


def standing_order(project: Project, ref: str) -> StoredObject:
    """An order as it stands: the stored one, or the one that the plan starts with, at revision 0.

    Raises:
        UnknownNameError: there is no order of this reference.
    """
    try:
        one = get_object(project, ref)
    except UnknownNameError:
        item = next((item for item in starter_items() if item.key == ref), None)
        if item is None:
            raise
        return unstored(ref, item.title, item_data(item))
    if one.noun != "order":
        raise UnknownNameError("order", found=f"{ref}, a {one.noun}", allowed="the reference of an order")
    return one


def unstored(ref: str, title: str, data: dict[str, Any]) -> StoredObject:
    """An order that is only thought of."""
    return StoredObject(
        ref=ref, noun="order", revision=0, parent="", title=title, hand="none", data=data, digest="", made_from=(),
        seq=0, withdrawn=False, outdated=False, primary=False,
    )  # fmt: skip


def changed_order(one: StoredObject, raw: Mapping[str, Any], *, today: date) -> StoredObject:
    """The order as it would be."""
    title, data = order_data(raw, today=today)
    return replace(one, title=title, data={**one.data, **data})


def save_order(
    project: Project, *, actor: Actor, request_id: str, ref: str, raw: Mapping[str, Any], today: date,
    seen_revision: int | None = None,
) -> StoredObject:  # fmt: skip
    """Store an order, new or changed.

    Raises:
        InputError: an entry that can't be used.
        StaleRevisionError: somebody changed it since.
        UnknownNameError: the reference belongs to something else.
    """
    title, data = order_data(raw, today=today)
    try:
        before = get_object(project, ref)
    except UnknownNameError:
        before = None
    if before is not None and before.noun != "order":
        raise UnknownNameError(
            "reference", found=f"{ref}, a {before.noun}", allowed="the reference of an order"
        )
    return set_object(
        project, actor=actor, request_id=request_id, noun="order", ref=ref, title=title,
        parent=before.parent if before else "", data={**(before.data if before else {}), **data}, seen_revision=seen_revision,
    )  # fmt: skip


def item_of(one: StoredObject, today: date, problems: list[str]) -> Item:
    """A stored order as an item; what is doubtful is said, what can't be is left for the check to refuse."""
    data = one.data
    likely, late = _stored(data.get("lead_weeks_likely")), _stored(data.get("lead_weeks_late"))
    # Nothing said of how late it may be stays a lead time without a spread; the check names it.
    spread = late / likely if likely > 0 and late > 0 else 1.0
    day, state = None, str(data.get("state") or "to order")
    name = one.ref if one.title in ("", one.ref) else f"{one.ref} {one.title}"
    try:
        day = day_or_none(str(data.get("order_on") or ""), f"order {one.ref}: order date")
    except InputError as error:
        problems.append(error.sentence())
    if state == "to order" and day is not None and day < today:
        problems.append(f"{name} was to be ordered on {day}, which is past: it is planned as ordered today.")
        day = None
    if state == "ordered" and day is not None and day > today:
        problems.append(f"{name} is ordered, but its date {day} lies ahead: it is planned as ordered today.")
        day = today
    queue = str(data.get("queue") or "")
    item = Item(
        key=one.ref,
        title=one.title,
        lead_days=7.0 * likely,
        lead_spread=spread,
        price=_stored(data.get("price_usd") or 0),
        deposit=_stored(data.get("deposit_usd") or 0),
        refundable=data.get("refundable") in ("yes", True),
        order_on=day or (today if state == "ordered" else None),
        ordered=state in ("ordered", "received"),
        arrived=state == "received",
        holding_month=_stored(data.get("holding_month") or 0),
        queue_position=int(queue) if queue.isascii() and queue.isdigit() and len(queue) < 7 else None,
    )
    return item if math.isnan(item.lead_days) else still_out(item, today)


def item_data(item: Item) -> dict[str, Any]:
    """An imported item as a stored order's data."""
    return {
        "state": "received" if item.arrived else "ordered" if item.ordered else "to order",
        "lead_weeks_likely": _text(item.lead_days / 7), "lead_weeks_late": _text(item.lead_days * item.lead_spread / 7),
        "price_usd": _text(item.price), "deposit_usd": _text(item.deposit), "holding_month": _text(item.holding_month),
        "refundable": "yes" if item.refundable else "no", "order_on": item.order_on.isoformat() if item.order_on else "",
        "queue": "" if item.queue_position is None else str(item.queue_position),
    }  # fmt: skip


def _stored(said: object) -> float:
    try:
        value = plain_number(str(said), "") if said not in (None, "") else math.nan
    except InputError:
        return math.nan
    return value


def _text(value: float) -> str:
    return f"{value:.4f}".rstrip("0").rstrip(".") or "0"
