"""A unit that came part-built: the inspection of somebody else's rivets, made from the rows that its drawing data name."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ribwright.errors import MissingError, UnknownNameError
from ribwright.services.project import Project
from ribwright.services.record import StoredObject, get_object, objects

CALCULATION = "incoming-inspection"


def rows_by_size(project: Project, ref: str) -> dict[str, list[tuple[StoredObject, int]]]:
    """Solid-rivet rows of an assembly with how many heads each has, by rivet diameter, the most heads first.

    Raises:
        UnknownNameError: there is no such object.
    """
    found: dict[str, list[tuple[StoredObject, int]]] = {}
    for one in objects(project, noun="operation", parent=get_object(project, ref).ref):
        count = sum(int(some["count"]) for some in one.data.get("fasteners") or ())
        if one.data.get("calculation") == "seam" and count:
            found.setdefault(str(one.data["inputs"].get("size", "")), []).append((one, count))
    return dict(sorted(found.items(), key=lambda item: -sum(count for _, count in item[1])))


def unit_that_came(project: Project, ref: str, *, size: str = "", supplier: str = "") -> dict[str, Any]:
    """Drawing data of the incoming inspection of an assembly; one rivet diameter at a time.

    Args:
        ref: of the assembly.
        size: rivet diameter of the rows; left out, the one with the most heads.
        supplier: who set them.

    Raises:
        MissingError: no rows of solid rivets are entered in it.
        UnknownNameError: none of that diameter.
    """
    unit, sizes = get_object(project, ref), rows_by_size(project, ref)
    if not sizes:
        raise MissingError(
            f"rows of {ref}",
            allowed="at least one seam of solid rivets",
            mend="Enter the rows from its drawing.",
        )
    chosen = size or next(iter(sizes))
    if chosen not in sizes:
        raise UnknownNameError("Rivet diameter", found=chosen, allowed=", ".join(sizes))
    first: Mapping[str, Any] = sizes[chosen][0][0].data["inputs"]
    return {
        "title": f"{unit.title or ref}, as it came, {chosen} rivets", "supplier": supplier, "drawing": str(first.get("drawing", "")),
        "revision": str(first.get("revision", "")), "hand": unit.hand, "size": chosen,
        "rows": [{"row": f"{one.ref} {one.title}", "count": str(count)} for one, count in sizes[chosen]],
    }  # fmt: skip
