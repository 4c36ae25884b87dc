"""A crate against its packing list: what was listed, what was in it, what is short and until when to claim it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal, InvalidOperation

from ribwright.core.stores.csv_text import from_csv
from ribwright.errors import FormatError, MissingError, OutOfRangeError

COLUMNS: Mapping[str, bool] = {
    "item": True, "title": False, "listed": True, "got": False, "unit": False, "lot": False, "expires": False, "place": False, "kind": False, "size": False,
}  # fmt: skip
SPELLINGS = {
    "part number": "item", "part": "item", "part no": "item", "description": "title", "quantity": "listed", "qty": "listed", "shipped": "listed",
    "counted": "got", "received": "got", "batch": "lot", "bin": "place", "shelf": "place", "expiry": "expires", "expiry date": "expires",
}  # fmt: skip
MOST = Decimal(10_000_000)


@dataclass(frozen=True, slots=True)
class PackingLine:
    """A line of a packing list. ``got`` is None until it was counted; then it is the number that was in the crate."""

    item: str
    listed: Decimal
    got: Decimal | None = None
    title: str = ""
    unit: str = ""
    lot: str = ""
    expires: str = ""
    place: str = ""
    kind: str = ""
    size: str = ""


@dataclass(frozen=True, slots=True)
class Shortage:
    """What a crate still owes: listed, come since, credited; and the last day to claim it."""

    crate: str
    item: str
    listed: Decimal
    came: Decimal
    credited: Decimal
    claim_by: str
    supplier: str
    seq: int

    @property
    def short(self) -> Decimal:
        """Still missing."""
        return self.listed - self.came - self.credited


@dataclass(frozen=True, slots=True)
class CrateEntry:
    """A line of the record about a crate: ``received`` or ``credited``."""

    seq: int
    crate: str
    item: str
    what: str
    listed: Decimal
    quantity: Decimal
    claim_by: str
    supplier: str


def read_packing_list(text: str) -> tuple[PackingLine, ...]:
    """A packing list typed or saved as CSV.

    Raises:
        FormatError, MissingError, OutOfRangeError, UnknownNameError: naming line and column.
    """
    lines = []
    for number, row in enumerate(from_csv(text, columns=COLUMNS, field="packing list", also=SPELLINGS), 2):
        where = f"packing list, line {number}"
        lines.append(packing_line(row, where))
    if not lines:
        raise MissingError("packing list", found="no line", allowed="at least one line")
    return tuple(lines)


def packing_line(row: Mapping[str, str], where: str) -> PackingLine:
    """One line from text cells."""
    if not row.get("item"):
        raise MissingError(f"{where}: item", mend="Enter the part number or what it is.")
    return PackingLine(
        row["item"],
        amount(row.get("listed", ""), f"{where}: listed"),
        amount(row["got"], f"{where}: got") if row.get("got") else None,
        row.get("title", ""),
        row.get("unit", ""),
        row.get("lot", ""),
        day(row.get("expires", ""), f"{where}: expires"),
        row.get("place", ""),
        row.get("kind", ""),
        row.get("size", ""),
    )


def amount(text: str, field: str) -> Decimal:
    """A quantity as people type it: not negative, no separators.

    Raises:
        MissingError, FormatError, OutOfRangeError: naming the field.
    """
    if not text.strip():
        raise MissingError(field, mend="Enter how many.")
    if not re.fullmatch(r"\d{0,12}(\.\d{1,6})?", text.strip(), re.ASCII) or text.strip() == ".":
        raise FormatError(field, found=text, allowed="a number such as 250 or 1.5, without separators")
    try:
        value = Decimal(text.strip())
    except InvalidOperation:
        raise FormatError(field, found=text, allowed="a number such as 250 or 1.5") from None
    if value > MOST:
        raise OutOfRangeError(field, found=text, allowed=f"0 to {MOST:,}")
    return value


def day(text: str, field: str) -> str:
    """A date as it is kept, or "".

    Raises:
        FormatError: not a date.
    """
    said = text.strip()
    if not said:
        return ""
    try:
        if not re.fullmatch(r"\d{4}-\d\d-\d\d", said, re.ASCII):
            raise ValueError
        return date.fromisoformat(said).isoformat()
    except ValueError:
        raise FormatError(field, found=text, allowed="a date such as 2027-03-31") from None


def shortages(entries: Iterable[CrateEntry]) -> tuple[Shortage, ...]:
    """What is still missing of every crate, the earliest claim date first; settled ones are left out."""
    made: dict[tuple[str, str], Shortage] = {}
    for one in entries:
        old = made.get((one.crate, one.item)) or Shortage(
            one.crate, one.item, Decimal(0), Decimal(0), Decimal(0), "", "", one.seq
        )
        came, credited = (one.quantity, Decimal(0)) if one.what == "received" else (Decimal(0), one.quantity)
        made[one.crate, one.item] = Shortage(
            one.crate, one.item, old.listed + one.listed, old.came + came, old.credited + credited,
            old.claim_by or one.claim_by, old.supplier or one.supplier, old.seq,
        )  # fmt: skip
    short = [one for one in made.values() if one.short > 0]
    return tuple(sorted(short, key=lambda one: (one.claim_by or "9999", one.crate, one.item)))
