"""The stores as a list that a spreadsheet opens: out, and in again, all lines or none."""

from __future__ import annotations

from collections.abc import Sequence

from ribwright.core.record.entry import Entry
from ribwright.core.stores.csv_text import from_csv, text_of_file, to_csv
from ribwright.errors import ConflictError
from ribwright.services.project import Actor, Project
from ribwright.services.record import NewEntry, add_entries
from ribwright.services.stores import as_typed, find_items, item_entries, plain, sent_before

STOCK_COLUMNS = {
    "item": True, "title": False, "kind": False, "quantity": False, "unit": False, "place": False, "lot": False, "expires": False, "size": False,
    "part number": False, "order": False,
}  # fmt: skip


def stores_csv(project: Project) -> str:
    """Everything in the stores as CSV."""
    head = (
        "item",
        "title",
        "kind",
        "quantity",
        "at least",
        "at most",
        "unit",
        "place",
        "lots",
        "expires",
        "size",
        "counted on",
        "order",
    )
    lines = [
        (
            one.item.ref, one.item.title, one.item.kind, plain(one.on_hand), plain(one.low), plain(one.high), one.item.unit, one.item.place,
            "; ".join(lot.lot for lot in one.lots), one.earliest_expiry, one.item.size, one.counted_on, one.item.order,
        )
        for one in find_items(project)
    ]  # fmt: skip
    return to_csv(head, lines)


def enter_csv(project: Project, *, actor: Actor, request_id: str, content: bytes) -> int:
    """Enter or change many items from CSV, all or none; a quantity is a count.

    Returns:
        How many lines were entered; 0 when this form was taken before.
    """
    text = text_of_file(content, field="stock list")
    also = {
        "ref": "item",
        "part": "item",
        "description": "title",
        "qty": "quantity",
        "on hand": "quantity",
        "bin": "place",
        "shelf": "place",
    }
    ignored = {"at least", "at most", "lots", "counted on"}
    columns = STOCK_COLUMNS | dict.fromkeys(ignored, False)
    lines = from_csv(text, columns=columns, field="stock list", also=also)
    rows = [
        (row["item"], {name.replace(" ", "_"): value for name, value in row.items() if name not in ignored})
        for row in lines
    ]

    def same(before: Sequence[Entry]) -> bool:
        entered = {one.about for one in before}
        named = {" ".join(ref.split()): values for ref, values in rows}
        return entered <= set(named) and all(as_typed(before, ref, named[ref]) for ref in entered)

    if sent_before(project, request_id, same):
        return 0
    entries: list[NewEntry] = []
    for ref, values in rows:
        try:
            entries += item_entries(project, ref, values)
        except ConflictError as error:
            if error.because != "nothing of it was changed":
                raise
    if entries:
        add_entries(project, actor=actor, request_id=request_id, items=entries)
    return len(lines)
