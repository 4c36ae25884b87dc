"""What operations take from the stores: their hardware lists, and what finished stages have fitted of them."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from sys import intern
from typing import Any

from ribwright.core.stores.books import Move
from ribwright.core.stores.setups import FASTENING
from ribwright.services.project import Project
from ribwright.services.record import StoredObject, work
from ribwright.services.remembered import of_each


@dataclass(frozen=True, slots=True)
class Hardware:
    """What an operation takes from the stores: part numbers with their counts, fitted by its ``setting`` stage."""

    title: str
    fasteners: tuple[tuple[str, int], ...]
    setting: str


@of_each("operation")
def hardware(one: StoredObject) -> Hardware | None:
    """The hardware lists of the operations that have one."""
    fasteners = one.data.get("fasteners") or ()
    if not fasteners:
        return None
    names = [str(stage.get("name", "")) for stage in one.data.get("stages") or ()]
    setting = next((name for name in reversed(names) if name in FASTENING), names[-1] if names else "")
    taken = tuple((intern(str(each["part_number"])), int(each["count"])) for each in fasteners)
    return Hardware(one.title, taken, setting)


def fitted(project: Project) -> list[Move]:
    """What finished stages took by their hardware lists."""
    lists = hardware(project)
    last: dict[str, dict[str, Any]] = {}
    for logged in work(project):
        one = lists.get(logged["about"])
        if one is not None and one.setting == logged["stage"] and logged["done"] in ("yes", "no"):
            last[logged["about"]] = logged
    return [
        Move(row["seq"], number, "fitted", Decimal(count), about=ref, day=row["day"], by=row["person"])
        for ref, row in sorted(last.items())
        if row["done"] == "yes"
        for number, count in lists[ref].fasteners
    ]
