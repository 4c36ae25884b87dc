"""What comes to the builder and goes into the record: material, a value, a drawing's revision, a notice, a visit.

Each kind is a spec; the page's form, the command and this module's one function are made from it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from ribwright.core.audit.spec import choice, fields_of, quantity, read, rows, text
from ribwright.core.record.entry import Entry
from ribwright.core.units import Quantity
from ribwright.errors import MissingError, OutOfRangeError, RibwrightError, UnknownNameError
from ribwright.services.entering import NewEntry, add_entries, new_object
from ribwright.services.project import Actor, Project
from ribwright.services.record import get_object, objects


@dataclass(frozen=True, slots=True)
class Material:
    """Material or hardware used, with the lot that it came from."""

    item: str = text("What was used", help="part number or material", example="MS20470AD3-4")
    lot: str = text("Lot or batch", help="as on the bag, the sheet's print or the can", optional=True)
    supplier: str = text("Supplier", help="who sold it", optional=True)
    quantity: str = text("How much", help="pieces, weight or area", example="64", optional=True)
    stage: str = text("Stage", help="of the operation, where it matters", optional=True)
    words: str = text("Remarks", help="certificate number, shelf life, what was seen", optional=True)


@dataclass(frozen=True, slots=True)
class Torque:
    """A torque that was put on, with the wrench that said so."""

    where: str = text("Which bolt", help="place or number as on the drawing", example="hinge 2, upper")
    value: Quantity = quantity(
        "lb·in", "Torque", help="as set, the nut's own drag added", example="28", low="0.1 lb·in"
    )
    drag: Quantity | None = quantity(
        "lb·in", "Drag of the nut", help="measured while it ran down", example="4", optional=True
    )
    instrument: str = text(
        "Wrench", help="which one, and when it was last checked", example="click wrench 2, May"
    )
    stripe: str = choice(
        "Stripe", ("yes", "not yet"), help="torque stripe painted over nut and part", default="yes"
    )
    stage: str = text("Stage", help="of the operation, where it matters", optional=True)


@dataclass(frozen=True, slots=True)
class DrawingRevision:
    """A drawing came in a new revision; what was made to the old one is marked, never deleted."""

    drawing: str = text("Drawing", help="its number", example="DN-21")
    revision: str = text("New revision", help="letter or number in its title block", example="B")
    words: str = text(
        "What changed", help="from the revision block, in a few words", example="pitch of row 3"
    )


@dataclass(frozen=True, slots=True)
class AppliesTo:
    """One operation or part that a notice speaks of."""

    ref: str = text("Reference", help="operation, part or assembly", example="DN-21-S01")


@dataclass(frozen=True, slots=True)
class Notice:
    """A service notice or a letter from the designer, and what it means here."""

    number: str = text("Number", help="of the notice", example="SN-4", optional=True)
    words: str = text("What it says", help="in a few words", example="look for cracks at the rear hinge")
    effect: str = choice(
        "What it means here",
        ("nothing to do", "look again", "change it"),
        help="look again and change it open a discrepancy on each part named, which blocks what stands on it",
    )
    applies: tuple[AppliesTo, ...] = rows(AppliesTo, "Applies to", help="leave empty when to none of yours")


@dataclass(frozen=True, slots=True)
class Departure:
    """Made otherwise than drawn, and on whose authority."""

    words: str = text(
        "What is otherwise than drawn", help="and where", example="rivet 12 is 1/8 in, not 3/32"
    )
    reason: str = text("Why", help="what led to it")
    authority: str = text(
        "Who allowed it",
        help="designer's letter, inspector; a departure without one is your own",
        optional=True,
    )
    stage: str = text("Stage", help="of the operation, where it matters", optional=True)


@dataclass(frozen=True, slots=True)
class Visit:
    """An adviser or inspector came and said something."""

    who: str = text("Who came", help="name and what they are", example="J. Field, adviser")
    words: str = text("What was looked at and said", help="in their words where you can")
    stage: str = text("Stage", help="of the operation, where it matters", optional=True)


@dataclass(frozen=True, slots=True)
class Note:
    """Anything else worth keeping."""

    words: str = text("Note", help="what you want to find again")


KINDS: dict[str, tuple[str, type]] = {
    "material": ("Material or hardware used", Material),
    "torque": ("Torque put on", Torque),
    "drawing-revision": ("A drawing came in a new revision", DrawingRevision),
    "notice": ("A service notice came", Notice),
    "departure": ("Made otherwise than drawn", Departure),
    "visit": ("Visit of an adviser or inspector", Visit),
    "note": ("Note", Note),
}
"""Name in the address and on the command line → title and spec."""


def spec_of(kind: str) -> type:
    """The spec of a kind.

    Raises:
        UnknownNameError: there is no such kind.
    """
    if kind not in KINDS:
        raise UnknownNameError("what to enter", found=kind, allowed=", ".join(KINDS))
    return KINDS[kind][1]


def enter(
    project: Project, *, actor: Actor, request_id: str, kind: str, about: str, raw: Mapping[str, Any]
) -> tuple[Entry, ...]:
    """Read what was typed and enter it, in one transaction.

    Args:
        kind: one of ``KINDS``.
        about: reference of the operation, part or assembly; "" for the whole aeroplane.
        raw: by field name, rows as lists.

    Raises:
        InputError: a field can't be used; all mistakes are in ``others``.
        As ``entering.add_entries``.
    """
    spec: Any = read(spec_of(kind), raw)
    if about:
        get_object(project, about)
    items = _ITEMS[kind](project, spec, about)
    return add_entries(project, actor=actor, request_id=request_id, items=items)


def _plain(entry: str) -> Any:
    def items(project: Project, spec: Any, about: str) -> list[NewEntry]:
        body = {field.name: value for field in fields_of(type(spec)) if (value := getattr(spec, field.name))}
        return [NewEntry(entry, body, about)]

    return items


def _torque(project: Project, spec: Torque, about: str) -> list[NewEntry]:
    if not about:
        raise MissingError("operation or part", mend="Open it and enter the torque there.")
    if spec.drag is not None and spec.drag.value >= spec.value.value:
        raise OutOfRangeError(
            "Drag of the nut",
            found=spec.drag.text,
            allowed="less than the torque that was set",
            mend="Enter the whole torque; the drag is part of it.",
        )
    drag = f"; drag of the nut {spec.drag.text} in it" if spec.drag is not None else ""
    words = f"stripe painted: {spec.stripe}{drag}"
    body = {
        "requirement": "torque",
        "where": spec.where,
        "value": spec.value.text,
        "unit": "" if any(c.isalpha() for c in spec.value.text) else spec.value.unit.symbol,
        "instrument": spec.instrument,
        "words": words,
        "stage": spec.stage or "",
    }
    return [NewEntry("reading", {key: value for key, value in body.items() if value}, about)]


def _drawing(project: Project, spec: DrawingRevision, about: str) -> list[NewEntry]:
    known = {one.ref: one for one in objects(project, noun="drawing")}
    old = known.get(spec.drawing)
    if old is None:
        try:
            other = get_object(project, spec.drawing)
        except RibwrightError:
            raise UnknownNameError(
                "Drawing",
                found=spec.drawing,
                allowed=", ".join(sorted(known)[:12]) or "none is entered yet",
                mend="Take its number as the title block has it.",
            ) from None
        data = {**other.data, "revision": spec.revision}
        before = str(other.data.get("revision", ""))
        if before == spec.revision:
            raise _same(spec)
        again = new_object(
            other.noun, other.ref, data, parent=other.parent, title=other.title, hand=other.hand,
            seen_revision=other.revision,
        )  # fmt: skip
        return [again, NewEntry("notice", {"words": _came(spec, before)}, other.ref)]
    before = str(old.data.get("revision", ""))
    if before == spec.revision:
        raise _same(spec)
    again = new_object(
        "drawing", old.ref, {**old.data, "revision": spec.revision}, parent=old.parent, title=old.title,
        seen_revision=old.revision,
    )  # fmt: skip
    return [again, NewEntry("notice", {"words": _came(spec, before)}, old.ref)]


def _same(spec: DrawingRevision) -> OutOfRangeError:
    return OutOfRangeError(
        "New revision",
        found=spec.revision,
        allowed="another than the one that is entered",
        mend="Nothing is to be done.",
    )


def _came(spec: DrawingRevision, before: str) -> str:
    return f"drawing {spec.drawing}: revision {spec.revision} instead of {before or 'none'}; {spec.words}"


def _notice(project: Project, spec: Notice, about: str) -> list[NewEntry]:
    refs = list(dict.fromkeys(row.ref.strip() for row in spec.applies)) or ([about] if about else [])
    for ref in refs:
        get_object(project, ref)
    name = f"notice {spec.number}" if spec.number else "notice"
    if spec.effect != "nothing to do" and not refs:
        raise MissingError(
            "Applies to",
            because=f"“{spec.effect}” needs something to be done at",
            mend="Name the operations or parts, or choose “nothing to do”.",
        )
    body = {"words": f"{name}: {spec.words}", "effect": spec.effect}
    made = [NewEntry("notice", body, ref) for ref in refs or [""]]
    if spec.effect != "nothing to do":
        what = f"{name}, {spec.effect}: {spec.words}"
        made += [NewEntry("discrepancy", {"what": what, "kind": "other"}, ref) for ref in refs]
    return made


_ITEMS: dict[str, Any] = {
    "material": _plain("material"),
    "torque": _torque,
    "drawing-revision": _drawing,
    "notice": _notice,
    "departure": _plain("departure"),
    "visit": _plain("visit"),
    "note": _plain("note"),
}
