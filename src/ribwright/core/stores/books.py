"""The books of the stores: what came, was counted, fitted, used and thrown out, folded into what should be left.

A count is the truth of its day; before it nothing matters, after it every move adds or takes away. What a
finished stage takes by its hardware list is booked by itself, so that nobody types rivets one by one. A lot is
the one that was noted; where none was noted and only one lot was in the store, it is that one, and says so.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

IN = ("received",)
OUT = ("used", "fitted", "discarded")
"""``fitted`` is booked from finished stages; all else is what a person entered."""


@dataclass(frozen=True, slots=True)
class Item:
    """Something kept in the stores.

    Attributes:
        ref: its reference, which is the part number of hardware.
        kind: sheet, extrusion, hardware, consumable, tool, temporary fastener.
        unit: in which it is counted.
        opening: on hand when it was first entered.
        lot: of the opening.
        place: shelf, bin or bag.
        expires: last day, ``YYYY-MM-DD``, or "".
        order: the order that brings more, or "".
        size: of a tool or temporary fastener, as entered.
    """

    ref: str
    title: str
    kind: str
    unit: str
    opening: Decimal = Decimal(0)
    lot: str = ""
    place: str = ""
    expires: str = ""
    order: str = ""
    size: str = ""
    part_number: str = ""
    seq: int = 0


@dataclass(frozen=True, slots=True)
class Move:
    """One line of the books.

    Attributes:
        seq: the entry that made it.
        item: reference of the item.
        what: counted, received, used, discarded, credited, mixed, or ``fitted``.
        quantity: in the item's unit, never negative; None when it was not said how much.
        low, high: band of a count by weight; equal to the quantity when it was counted by hand.
        lot: as noted, or "".
        about: the operation that took it, or the crate that brought it.
        day: ``YYYY-MM-DD``.
        by: who entered it.
        expires: of what came, or "".
        supplier: of what came, or "".
    """

    seq: int
    item: str
    what: str
    quantity: Decimal | None
    low: Decimal | None = None
    high: Decimal | None = None
    lot: str = ""
    about: str = ""
    day: str = ""
    by: str = ""
    expires: str = ""
    supplier: str = ""


@dataclass(frozen=True, slots=True)
class LotHeld:
    """A lot in the books: what came of it, where it went, what should be left of it."""

    lot: str
    came: Decimal
    gone: Decimal
    from_where: tuple[str, ...]
    expires: str

    @property
    def left(self) -> Decimal:
        """By the book; uses with no lot noted are not in it."""
        return self.came - self.gone


@dataclass(frozen=True, slots=True)
class Holding:
    """An item as the books have it.

    Attributes:
        on_hand, low, high: in the item's unit; the band is that of the last count.
        counted_on: day of the last count, or "".
        since: fitted, used and thrown out since the last count.
        unsaid: uses since then that don't say how much.
        lots: newest last.
        uses: (operation, lot, how it is known, quantity) of everything that went into the aeroplane.
    """

    item: Item
    on_hand: Decimal
    low: Decimal
    high: Decimal
    counted_on: str
    since: Decimal
    unsaid: int
    lots: tuple[LotHeld, ...]
    uses: tuple[LotUse, ...]

    @property
    def earliest_expiry(self) -> str:
        """The first date among lots that are not used up, else the item's own."""
        dates = [one.expires for one in self.lots if one.expires and one.left > 0]
        return min(dates) if dates else self.item.expires


@dataclass(frozen=True, slots=True)
class LotUse:
    """An operation that took from a lot, and how that is known: ``noted``, ``the only lot in the store``, ``not noted``."""

    about: str
    lot: str
    known: str
    quantity: Decimal | None
    day: str
    seq: int


def same_item(text: str) -> str:
    """The form in which part numbers and references are compared: capitals, without spaces."""
    return "".join(text.split()).upper()


def holdings(items: Iterable[Item], moves: Sequence[Move]) -> dict[str, Holding]:
    """Fold the moves into what should be left of each item.

    Args:
        items: everything kept.
        moves: in the order of the record; those of unknown items are left out.
    """
    by_name: dict[str, str] = {}
    known: dict[str, Item] = {}
    for item in items:
        known[item.ref] = item
        by_name[same_item(item.ref)] = item.ref
        if item.part_number:
            by_name.setdefault(same_item(item.part_number), item.ref)
    per_item: dict[str, list[Move]] = {ref: [] for ref in known}
    for move in moves:
        ref = by_name.get(same_item(move.item))
        if ref is not None:
            per_item[ref].append(move)
    return {ref: _fold(item, per_item[ref]) for ref, item in known.items()}


def _fold(item: Item, moves: Sequence[Move]) -> Holding:
    at = low = high = item.opening
    counted_on, since, unsaid = "", Decimal(0), 0
    lots: dict[str, LotHeld] = {}
    if item.lot:
        lots[item.lot] = LotHeld(item.lot, item.opening, Decimal(0), (), item.expires)
    uses: list[LotUse] = []
    said = {move.about for move in moves if move.what == "used" and move.quantity is not None}
    listed = {move.about for move in moves if move.what == "fitted"}
    noted = {move.about: move.lot for move in moves if move.what == "used" and move.lot}
    for move in moves:
        amount = move.quantity
        if move.what == "counted" and amount is not None:
            at, low, high = amount, move.low or amount, move.high or amount
            counted_on, since, unsaid = move.day, Decimal(0), 0
        elif move.what in IN and amount is not None:
            spread_low, spread_high = (move.low or amount), (move.high or amount)
            at, low, high = at + amount, low + spread_low, high + spread_high
            lots[move.lot] = _came(lots.get(move.lot), move, amount)
        elif move.what in OUT:
            # What was said by hand stands in the place of the hardware list of the same operation.
            doubled = move.what == "fitted" and move.about in said
            if amount is None and move.what == "used":
                unsaid += move.about not in listed
            elif amount is not None and not doubled:
                at, low, high, since = at - amount, low - amount, high - amount, since + amount
            # A bag noted without a quantity: the hardware list of the finished stage says how many, once.
            told = move.what == "used" and amount is None and move.about in listed
            if move.what != "discarded" and not doubled and not told:
                lot, how = _lot_of(move, noted, lots)
                uses.append(LotUse(move.about, lot, how, amount, move.day, move.seq))
                _take(lots, lot, amount)
            elif move.what == "discarded":
                _take(lots, move.lot, amount)
    named = tuple(one for name, one in lots.items() if name)
    return Holding(item, at, low, high, counted_on, since, unsaid, named, tuple(uses))


def _came(held: LotHeld | None, move: Move, amount: Decimal) -> LotHeld:
    before = held or LotHeld(move.lot, Decimal(0), Decimal(0), (), "")
    where = ", ".join(part for part in (move.about, move.supplier, move.day) if part)
    return LotHeld(
        move.lot,
        before.came + amount,
        before.gone,
        (*before.from_where, where),
        move.expires or before.expires,
    )


def _take(lots: dict[str, LotHeld], lot: str, amount: Decimal | None) -> None:
    if not lot:
        return
    held = lots.get(lot) or LotHeld(lot, Decimal(0), Decimal(0), (), "")
    lots[lot] = LotHeld(lot, held.came, held.gone + (amount or 0), held.from_where, held.expires)


def _lot_of(move: Move, noted: dict[str, str], lots: dict[str, LotHeld]) -> tuple[str, str]:
    lot = move.lot or noted.get(move.about, "")
    if lot:
        return lot, "noted"
    there = [one.lot for one in lots.values() if one.lot and one.came > 0 and one.left > 0]
    if len(there) == 1 and "" not in lots:
        return there[0], "the only lot in the store"
    return "", "not noted"
