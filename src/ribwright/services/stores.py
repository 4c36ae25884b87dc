"""The stores: what is kept where, what should be left of it, counting, taking and finding it."""

from __future__ import annotations

import json
import unicodedata
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import Any

from ribwright.core.audit import read
from ribwright.core.record.entry import Entry
from ribwright.core.stores.books import Holding, Item, Move, holdings, same_item
from ribwright.core.stores.count import Counted, WeighedBag, counted
from ribwright.core.stores.crates import CrateEntry, Shortage, amount, day, shortages
from ribwright.errors import ConflictError, MissingError, UnknownNameError
from ribwright.services.hardware import fitted, hardware
from ribwright.services.project import Actor, Project
from ribwright.services.record import (
    NewEntry,
    StoredObject,
    add_entries,
    get_object,
    materials,
    new_object,
    objects,
)
from ribwright.services.remembered import following, of_each, until_the_record_moves
from ribwright.store import chain

KINDS = ("sheet", "extrusion", "hardware", "consumable", "mixed batch", "tool", "temporary fastener", "other")
NOUNS = ("stock", "tool")
TYPED = ("unit", "place", "size", "order", "part_number", "measured")
"""What is kept of an item just as it was typed."""


@dataclass(frozen=True, slots=True)
class Books:
    """The whole of the stores as the record has it.

    Attributes:
        held: by reference.
        moves: in the order of the record, those booked from finished stages among them.
        crates: what crates brought or had credited.
        parts: references of the parts cut from a stock item, by its reference.
    """

    held: Mapping[str, Holding]
    moves: tuple[Move, ...]
    crates: tuple[CrateEntry, ...]
    parts: Mapping[str, tuple[str, ...]]


@of_each("part")
def _stock_of(one: StoredObject) -> str | None:
    """The stock item that each part is cut from."""
    return str(one.data["stock"]) if one.data.get("stock") else None


@following(_stock_of)
def _parts_of(stock_of: Mapping[str, str], before: object) -> Mapping[str, tuple[str, ...]]:
    cut: dict[str, list[str]] = {}
    for ref, stock in stock_of.items():
        cut.setdefault(stock, []).append(ref)
    return {ref: tuple(parts) for ref, parts in cut.items()}


@dataclass(frozen=True, slots=True)
class ItemView:
    """One item: its holding, its story, who uses it, what is still owed of it."""

    object: StoredObject
    held: Holding
    moves: tuple[Move, ...]
    used_by: tuple[tuple[str, str, int], ...]
    parts: tuple[str, ...]
    owed: tuple[Shortage, ...]


@until_the_record_moves
def books(project: Project) -> Books:
    """Read the stores from the record."""
    things = [one for noun in NOUNS for one in objects(project, noun=noun)]
    items = [_item(one) for one in things]
    names = {same_item(item.ref): item.ref for item in items}
    moves: list[Move] = []
    crates: list[CrateEntry] = []
    for row in materials(project):
        body: dict[str, Any] = json.loads(row["body"])
        own = names.get(same_item(row["about"]))
        what = str(body.get("move") or ("received" if own else "used"))
        quantity = _decimal(row["quantity"])
        if own is not None and body.get("crate"):
            crates.append(
                CrateEntry(
                    row["seq"], str(body["crate"]), own, what, _decimal(body.get("listed")) or Decimal(0), quantity or Decimal(0),
                    str(body.get("claim_by") or ""), row["supplier"],
                )
            )  # fmt: skip
        moves.append(
            Move(
                row["seq"], own or row["item"], what, quantity, _decimal(body.get("low")), _decimal(body.get("high")), row["lot"],
                str(body.get("crate") or "") if own else row["about"], str(body.get("day") or ""), str(body.get("by") or ""),
                str(body.get("expires") or ""), row["supplier"],
            )
        )  # fmt: skip
    moves += fitted(project)
    moves.sort(key=lambda one: one.seq)
    return Books(holdings(items, moves), tuple(moves), tuple(crates), _parts_of(project))


def find_items(project: Project, *, words: str = "", kind: str = "", place: str = "") -> tuple[Holding, ...]:
    """Items whose reference, title, place, lots or part number hold all these words, by place and reference."""
    wanted = unicodedata.normalize("NFKC", words).casefold().split()
    found = []
    for one in books(project).held.values():
        item = one.item
        said = " ".join(
            (
                item.ref,
                item.title,
                item.kind,
                item.place,
                item.part_number,
                item.size,
                *(lot.lot for lot in one.lots),
            )
        ).casefold()
        if (
            all(word in said for word in wanted)
            and (not kind or item.kind == kind)
            and (not place or item.place == place)
        ):
            found.append(one)
    return tuple(sorted(found, key=lambda one: (one.item.kind, one.item.ref)))


def item_view(project: Project, ref: str) -> ItemView:
    """An item with its story.

    Raises:
        UnknownNameError: the stores have none of this reference.
    """
    made = books(project)
    held = made.held.get(ref)
    if held is None:
        raise UnknownNameError(
            "item", found=ref, allowed="a reference of the stores", mend="Look it up under Stores."
        )
    names = {same_item(ref), same_item(held.item.part_number or ref)}
    used = [
        (about, one.title, count)
        for about, one in hardware(project).items()
        for number, count in one.fasteners
        if same_item(number) in names
    ]
    return ItemView(
        get_object(project, ref), held, tuple(move for move in made.moves if same_item(move.item) in names), tuple(used), made.parts.get(ref, ()),
        tuple(one for one in shortages(made.crates) if one.item == ref),
    )  # fmt: skip


def enter_item(
    project: Project,
    *,
    actor: Actor,
    request_id: str,
    ref: str,
    values: Mapping[str, str],
    seen_revision: int | None = None,
) -> StoredObject:
    """Enter an item of the stores, or change where it lies and what is known of it.

    Args:
        ref: its reference; the part number of hardware.
        values: title, kind, unit, place, size, expires, order, part_number, lot, measured (of a round tool),
            and quantity, which is entered as a count.

    Raises:
        InputError: a kind, date or quantity that can't be. ConflictError: the reference is something else.
    """
    if not sent_before(project, request_id, lambda before: as_typed(before, " ".join(ref.split()), values)):
        items = item_entries(project, ref, values, seen_revision=seen_revision)
        add_entries(project, actor=actor, request_id=request_id, items=items)
    return get_object(project, ref)


def item_entries(
    project: Project, ref: str, values: Mapping[str, str], *, seen_revision: int | None = None
) -> list[NewEntry]:
    """The entries that make or change an item; refuses as ``enter_item``."""
    ref = " ".join(ref.split())
    if not ref:
        raise MissingError("item", mend="Enter the part number or what it is.")
    old = _known(project, ref)
    if old is not None and old.noun not in NOUNS:
        raise ConflictError(
            "item", found=f"{ref} is a {old.noun}", allowed="a reference of its own", mend="Choose another."
        )
    kind = values.get("kind", "").strip() or (str(old.data.get("kind", "")) if old else "") or "hardware"
    if kind not in KINDS and (old is None or kind != old.data.get("kind")):
        raise UnknownNameError("kind", found=kind, allowed=", ".join(KINDS))
    data: dict[str, Any] = dict(old.data) if old else {}
    data["kind"] = kind
    data.setdefault("unit", "piece")
    for name in TYPED:
        if values.get(name, "").strip():
            data[name] = values[name].strip()[:200]
    if values.get("expires", "").strip():
        data["expires"] = day(values["expires"], "expires")
    title = values.get("title", "").strip() or (old.title if old else ref)
    noun = old.noun if old else "tool" if kind == "tool" else "stock"
    made = [] if old and data == old.data and title == old.title else [
        new_object(noun, ref, data, title=title, parent=old.parent if old else "", seen_revision=seen_revision)
    ]  # fmt: skip
    if values.get("quantity", "").strip():
        quantity = amount(values["quantity"], "Counted")
        made.append(move_entry(project, ref, "counted", quantity, lot=values.get("lot", "")))
    if not made:
        raise ConflictError(
            "item", found=ref, because="nothing of it was changed", mend="Change something, or leave it."
        )
    return made


def count_item(
    project: Project,
    *,
    actor: Actor,
    request_id: str,
    ref: str,
    quantity: str = "",
    weighed: Mapping[str, str] | None = None,
) -> Counted | None:
    """Enter a count: by hand, or by weight with its band.

    Args:
        quantity: counted by hand.
        weighed: gross, tare, scale, sample_count, sample_weight, as the calculation ``count-by-weight`` asks.

    Returns:
        The count by weight, or None when it was counted by hand.
    """
    held = item_view(project, ref).held
    if weighed and any(value.strip() for value in weighed.values()):
        raw = {name: value for name, value in weighed.items() if value.strip()}
        if "sample_count" not in raw and "part_number" not in raw:
            raw["part_number"] = held.item.part_number or ref
        made = counted(read(WeighedBag, raw))
        entry = move_entry(
            project, ref, "counted", Decimal(made.count), low=Decimal(made.low), high=Decimal(made.high), words=f"by weight: {raw['gross']}; {made.how}"
        )  # fmt: skip
        add_entries(project, actor=actor, request_id=request_id, items=[entry])
        return made
    entry = move_entry(project, ref, "counted", amount(quantity, "Counted by hand"))
    add_entries(project, actor=actor, request_id=request_id, items=[entry])
    return None


def take_item(
    project: Project,
    *,
    actor: Actor,
    request_id: str,
    ref: str,
    quantity: str,
    about: str = "",
    lot: str = "",
    stage: str = "",
    words: str = "",
) -> None:
    """Book what was taken for an operation, or what was thrown out when no operation is named."""
    item_view(project, ref)
    taken = amount(quantity, "How many")
    if about:
        if get_object(project, about).noun not in ("operation", "part", "assembly"):
            raise UnknownNameError(
                "for", found=about, allowed="the reference of an operation, part or assembly"
            )
        body = {
            "item": ref,
            "quantity": f"{taken:f}",
            "lot": lot.strip(),
            "stage": stage.strip(),
            "day": project.now()[:10],
            "words": words.strip(),
        }
        entry = NewEntry("material", body, about)
    else:
        entry = move_entry(project, ref, "discarded", taken, lot=lot, words=words)
    add_entries(project, actor=actor, request_id=request_id, items=[entry])


def move_entry(
    project: Project,
    ref: str,
    move: str,
    quantity: Decimal,
    *,
    low: Decimal | None = None,
    high: Decimal | None = None,
    lot: str = "",
    words: str = "",
    more: Mapping[str, str] | None = None,
) -> NewEntry:
    """One line of the books about an item."""
    body = {
        "item": ref,
        "move": move,
        "quantity": f"{quantity:f}",
        "lot": lot.strip(),
        "day": project.now()[:10],
        "words": words.strip(),
        **(more or {}),
    }
    if low is not None and high is not None:
        body |= {"low": f"{low:f}", "high": f"{high:f}"}
    return NewEntry("material", {name: value for name, value in body.items() if value}, ref)


def sent_before(project: Project, request_id: str, same: Callable[[Sequence[Entry]], bool]) -> bool:
    """Whether this form was taken already: what it made then must not be worked out from what stands now.

    Args:
        same: whether what was entered then is what the form says now.

    Raises:
        ConflictError: it was sent with other values; they would be lost in silence.
    """
    with project.store.read() as connection:
        before = chain.by_request(connection, project.id, request_id)
    if before and not same(before):
        raise ConflictError(
            "form", found=f"request {request_id}, entry {before[0].seq}", because="this form has been sent before with other values; nothing was changed",
            mend="Open the page again and enter it anew",
        )  # fmt: skip
    return bool(before)


def as_typed(before: Sequence[Entry], ref: str, values: Mapping[str, str]) -> bool:
    """Whether entries made earlier hold everything that is typed of an item now."""
    mine = [one for one in before if one.about == ref]
    data: dict[str, Any] = {}
    counts = [Decimal(str(one.body["quantity"])) for one in mine if one.kind == "material"]
    for one in mine:
        if one.kind == "set":
            data |= one.body.get("data") or {}
            data["title"] = one.body.get("title")
    for name in (*TYPED, "kind", "title"):
        typed = values.get(name, "").strip()[:200]
        if typed and data and str(data.get(name, "")) != typed:
            return False
    quantity = values.get("quantity", "").strip()
    return bool(mine) and (not quantity or amount(quantity, "quantity") in counts)


def plain(value: Decimal) -> str:
    """A quantity without needless noughts."""
    text = f"{value:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _item(one: StoredObject) -> Item:
    data = one.data
    return Item(
        one.ref, one.title, str(data.get("kind") or one.noun), str(data.get("unit") or "piece"), _decimal(data.get("on_hand")) or Decimal(0),
        str(data.get("lot") or ""), str(data.get("place") or ""), str(data.get("expires") or ""), str(data.get("order") or ""),
        str(data.get("measured") or data.get("size") or "") if not isinstance(data.get("size"), list) else "x".join(map(str, data["size"])),
        str(data.get("part_number") or ""), one.seq,
    )  # fmt: skip


def _decimal(text: object) -> Decimal | None:
    try:
        value = Decimal(str(text)) if text not in (None, "") else None
    except InvalidOperation:
        return None
    return value if value is not None and value.is_finite() and value >= 0 else None


def _known(project: Project, ref: str) -> StoredObject | None:
    try:
        return get_object(project, ref)
    except UnknownNameError:
        return None
