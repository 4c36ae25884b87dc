"""Receiving a crate against its packing list, and what it still owes."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from ribwright.core.record.entry import Entry
from ribwright.core.stores.books import same_item
from ribwright.core.stores.crates import PackingLine, Shortage, amount, day, shortages
from ribwright.errors import ConflictError, InputError, MissingError, UnknownNameError
from ribwright.services.project import Actor, Project
from ribwright.services.record import NewEntry, StoredObject, add_entries, get_object, new_object
from ribwright.services.stores import books, item_entries, move_entry, sent_before


def receive_crate(
    project: Project,
    *,
    actor: Actor,
    request_id: str,
    crate: str,
    lines: Sequence[PackingLine],
    claim_by: str = "",
    supplier: str = "",
) -> tuple[Shortage, ...]:
    """Enter a crate, all lines or none; items that the stores don't know are made.

    Args:
        crate: its number or the order's; an order of that reference counts as received, what is short of it being owed.
        lines: each counted; a line that was not counted is refused, since nobody has looked.
        claim_by: last day to claim what is missing; needed when something is.
        supplier: from whom.

    Returns:
        What is short of this crate now.

    Raises:
        MissingError: a line not counted, no crate, or short without a claim date.
        InputError: a quantity or date that can't be.
    """
    crate, supplier = " ".join(crate.split())[:80], supplier.strip()[:120]
    if not crate:
        raise MissingError("crate", mend="Enter its number, or that of the order.")
    if not lines:
        raise MissingError("packing list", mend="Enter at least one line.")
    by_day = day(claim_by, "claim by")
    uncounted = [line.item for line in lines if line.got is None]
    if uncounted:
        raise MissingError(
            "got", found=", ".join(uncounted[:6]), because="these lines were not counted", mend="Count them; enter 0 where nothing was in the crate."
        )  # fmt: skip
    said = [(same_item(line.item), f"{line.got:f}", f"{line.listed:f}") for line in lines]

    def same(before: Sequence[Entry]) -> bool:
        came = [one for one in before if one.kind == "material"]
        return {one.body.get("crate") for one in came} == {crate} and [
            (same_item(one.about), one.body["quantity"], one.body["listed"]) for one in came
        ] == said

    if sent_before(project, request_id, same):
        return tuple(one for one in owed(project) if one.crate == crate)
    held = books(project).held
    names = {same_item(one.item.part_number or ref): ref for ref, one in held.items()} | {
        same_item(ref): ref for ref in held
    }
    entries: list[NewEntry] = []
    made: set[str] = set()
    short = False
    for line in lines:
        ref = names.get(same_item(line.item), " ".join(line.item.split()))
        if ref not in held and ref not in made:
            values = {
                "title": line.title,
                "kind": line.kind,
                "unit": line.unit,
                "place": line.place,
                "part_number": ref,
                "size": line.size,
            }
            entries += item_entries(project, ref, values)
            made.add(ref)
        got = line.got
        assert got is not None
        short = short or got < line.listed
        more = {
            "crate": crate,
            "listed": f"{line.listed:f}",
            "claim_by": by_day,
            "supplier": supplier,
            "expires": line.expires,
        }
        entries.append(move_entry(project, ref, "received", got, lot=line.lot, more=more))
    if short and not by_day:
        raise MissingError(
            "claim by", because="something is short, and nothing says until when to claim it", mend="Look into the supplier's terms and enter the day."
        )  # fmt: skip
    order = _order(project, crate)
    if order is not None and order.data.get("state") != "received":
        entries.append(
            new_object(
                "order",
                order.ref,
                {**order.data, "state": "received"},
                title=order.title,
                parent=order.parent,
            )
        )
    add_entries(project, actor=actor, request_id=request_id, items=entries)
    return tuple(one for one in owed(project) if one.crate == crate)


def _order(project: Project, ref: str) -> StoredObject | None:
    try:
        one = get_object(project, ref)
    except InputError:
        return None
    return one if one.noun == "order" else None


def owed(project: Project) -> tuple[Shortage, ...]:
    """What is short of every crate, the earliest claim date first."""
    return shortages(books(project).crates)


def days_left(project: Project, shortage: Shortage) -> int | None:
    """Days until the claim date; negative when it has passed, None without one."""
    if not shortage.claim_by:
        return None
    return (date.fromisoformat(shortage.claim_by) - date.fromisoformat(project.now()[:10])).days


def settle_shortage(
    project: Project,
    *,
    actor: Actor,
    request_id: str,
    crate: str,
    item: str,
    quantity: str,
    came: bool,
    lot: str = "",
    words: str = "",
) -> None:
    """Enter what became of a shortage: the missing pieces came, or were credited.

    Raises:
        UnknownNameError: nothing of that is short. ConflictError: more than is short.
    """
    settled = amount(quantity, "quantity")
    told = (item, crate, f"{settled:f}", "received" if came else "credited")
    if sent_before(
        project, request_id,
        lambda before: (before[0].about, *(before[0].body.get(name) for name in ("crate", "quantity", "move"))) == told,
    ):  # fmt: skip
        return
    found = next((one for one in owed(project) if one.crate == crate and one.item == item), None)
    if found is None:
        raise UnknownNameError("shortage", found=f"{item} of {crate}", allowed="one that is still open")
    if settled > found.short or settled == 0:
        raise ConflictError(
            "quantity",
            found=quantity,
            allowed=f"above 0, up to {found.short:f}",
            because="no more than that is short",
        )
    entry = move_entry(
        project,
        item,
        "received" if came else "credited",
        settled,
        lot=lot,
        words=words,
        more={"crate": crate, "listed": "0"},
    )
    add_entries(project, actor=actor, request_id=request_id, items=[entry])
