"""Lots both ways: from a bag to the seams that its rivets are in, and from a seam to the bags."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from ribwright.core.stores.books import Holding, LotUse
from ribwright.errors import UnknownNameError
from ribwright.services.project import Project
from ribwright.services.record import objects_of
from ribwright.services.stores import books


@dataclass(frozen=True, slots=True)
class LotTrace:
    """A lot of one item: where it came from, what is left by the books, and what it went into."""

    item: str
    title: str
    lot: str
    came_from: tuple[str, ...]
    came: str
    left: str
    expires: str
    uses: tuple[tuple[LotUse, str], ...]


@dataclass(frozen=True, slots=True)
class LotIn:
    """Something in an operation, and the lot that it is of as far as that is known."""

    operation: str
    item: str
    title: str
    lot: str
    known: str
    quantity: str
    from_where: str


def trace_lot(project: Project, lot: str) -> tuple[LotTrace, ...]:
    """Every item that has a lot of this name, with where it went.

    Raises:
        UnknownNameError: no lot is called so.
    """
    made = books(project)
    wanted = " ".join(lot.split())
    found = []
    abouts = {use.about for held in made.held.values() for use in held.uses if use.lot == wanted}
    users = objects_of(project, abouts)
    for ref, held in made.held.items():
        mine = next((one for one in held.lots if one.lot == wanted), None)
        uses = tuple(
            (
                use,
                users[use.about].title if use.about in users and users[use.about].noun == "operation" else "",
            )
            for use in held.uses
            if use.lot == wanted
        )
        if mine is None and not uses:
            continue
        found.append(
            LotTrace(
                ref, held.item.title, wanted, mine.from_where if mine else (), f"{mine.came:f}" if mine and mine.came else "not booked",
                f"{mine.left:f}" if mine and mine.came else "", mine.expires if mine else "", uses,
            )
        )  # fmt: skip
    if not found:
        near = sorted({one.lot for held in made.held.values() for one in held.lots})[:8]
        raise UnknownNameError("lot", found=lot, allowed=", ".join(near) or "no lot is noted yet")
    return tuple(found)


def lots_in(project: Project, refs: Iterable[str] | None = None) -> tuple[LotIn, ...]:
    """What these operations (or all) hold, by lot.

    Args:
        refs: operations; left out, all.
    """
    wanted = None if refs is None else set(refs)
    rows = []
    for ref, held in books(project).held.items():
        for use in held.uses:
            if wanted is None or use.about in wanted:
                rows.append(
                    LotIn(use.about, ref, held.item.title, use.lot, use.known, "" if use.quantity is None else f"{use.quantity:f}", _origin(held, use.lot))
                )  # fmt: skip
    return tuple(sorted(rows, key=lambda one: (one.operation, one.item)))


def _origin(held: Holding, lot: str) -> str:
    mine = next((one for one in held.lots if one.lot == lot), None)
    return "; ".join(mine.from_where) if mine else ""
