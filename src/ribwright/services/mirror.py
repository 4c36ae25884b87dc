"""The other hand of a part, an operation or a whole assembly, as one action in the record."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ribwright.core.bench.mirror import Mirrored, mirrored, other_side
from ribwright.core.record.breakdown import object_digest
from ribwright.errors import ConflictError, MissingError
from ribwright.services.project import Actor, Project
from ribwright.services.record import NewEntry, StoredObject, add_entries, get_object, new_object, objects

_PLACE = {"drawing": 0, "assembly": 1, "part": 2, "space": 3, "operation": 4}


@dataclass(frozen=True, slots=True)
class Other:
    """What mirroring made.

    Attributes:
        top: reference of the other hand's object.
        hand: left, right or none.
        made: references of objects that were made or changed.
        same: how many stood there already, exactly so.
    """

    top: str
    hand: str
    made: tuple[str, ...]
    same: int


def mirror(project: Project, *, actor: Actor, request_id: str, ref: str, to: str) -> Other:
    """Make the other hand of an object and of all that belongs to it; each is made from the one it mirrors.

    What stands there already exactly so is left alone: mirroring back changes nothing.

    Args:
        ref: a part, an operation, or an assembly with all its parts, spaces and operations.
        to: reference of the other hand, such as ``DN-22`` for ``DN-21``.

    Raises:
        UnknownNameError: there is no such object.
        ConflictError: another kind of object stands there, or one of the other hand that is not its mirror.
        GeometryError, MissingError: the references can't be told apart.
    """
    top = get_object(project, ref)
    if top.hand == "none":
        raise ConflictError(
            ref, found="it has no hand", allowed="left or right", because="there is no other hand of it",
            mend="Say first for which side it is.",
        )  # fmt: skip
    if not to.strip():
        raise MissingError(
            "Reference of the other hand",
            allowed=f"a new one, such as {other_side(ref) or 'DN-22 for DN-21'}",
            mend="Enter what the other hand is called.",
        )
    if to == ref:
        raise ConflictError(
            "Reference of the other hand", found=to, allowed="another one", because="that is this hand itself",
            mend="Enter what the other hand is called.",
        )  # fmt: skip
    below = _below(project, top)
    inside = {top.ref} | {one.ref for one in below}
    # one seam may have been mirrored by itself before: its mirror still stands among the ones of this hand
    members = [top, *(one for one in below if not _is_other_hand_already(one, top.hand, inside))]
    pairs = ((ref, to),)
    drawings = {str(one.data.get("drawing", "")) for one in members}
    named = {one.ref for one in members}
    items: list[NewEntry] = []
    made: list[str] = []
    same = 0
    for drawing in sorted(name for name in drawings if name and name.startswith(ref)):
        other_drawing = to + drawing[len(ref) :]
        if _there(project, other_drawing) is None and _there(project, drawing) is not None:
            source = get_object(project, drawing)
            items.append(
                new_object(
                    "drawing",
                    other_drawing,
                    source.data,
                    parent=source.parent,
                    title=f"drawing {other_drawing}",
                )
            )
            made.append(other_drawing)
    for one in sorted(members, key=lambda m: _PLACE.get(m.noun, 5)):
        other = mirrored(
            noun=one.noun, ref=one.ref, parent=one.parent, title=one.title, hand=one.hand, data=one.data,
            made_from=[name for name, _ in one.made_from], pairs=pairs,
        )  # fmt: skip
        old = _there(project, other.ref)
        if old is not None and old.noun != one.noun:
            raise ConflictError(
                "Reference of the other hand",
                found=f"{old.ref} is there already, as a {old.noun}",
                allowed=f"a {one.noun}, or a new reference",
            )
        if old is not None and _says_the_same(old, other):
            same += 1
            continue
        if old is not None and one.ref not in {name for name, _ in old.made_from}:
            raise ConflictError(
                "Reference of the other hand", found=f"{old.ref} stands there and was not mirrored from {one.ref}", allowed="a new reference",
                because="it would be overwritten", mend="Choose another reference, or take back the entry that made it (its story, entered).",
            )  # fmt: skip
        links = [name for name in other.made_from if name not in named and name != one.ref]
        items.append(
            new_object(
                other.noun, other.ref, other.data, parent=other.parent, title=other.title, hand=other.hand, made_from=[*links, one.ref]
            )
        )  # fmt: skip
        made.append(other.ref)
    if not items and not same:
        raise MissingError("mirror", found=ref, mend="Nothing belongs to it yet.")
    if items:
        add_entries(project, actor=actor, request_id=request_id, items=items)
    return Other(to, {"left": "right", "right": "left"}[top.hand], tuple(made), same)


def _is_other_hand_already(one: StoredObject, hand: str, inside: set[str]) -> bool:
    return one.hand not in ("none", hand) and any(name in inside for name, _ in one.made_from)


def _below(project: Project, top: StoredObject) -> Sequence[StoredObject]:
    """All that belongs to an assembly, however deep."""
    found: list[StoredObject] = []
    waiting = [top.ref]
    while waiting:
        below = objects(project, parent=waiting.pop())
        found += below
        waiting += [one.ref for one in below if one.noun == "assembly"]
    return found


def _there(project: Project, ref: str) -> StoredObject | None:
    from ribwright.store import objects as stored_objects

    with project.store.read() as connection:
        return stored_objects.one(connection, project.id, ref)


def _says_the_same(old: StoredObject, other: Mirrored) -> bool:
    """Whether the same is said of both: everything but what they were made from."""
    return (old.parent, old.title) == (other.parent, other.title) and object_digest(
        noun=old.noun, ref=old.ref, hand=old.hand, data=old.data, made_from={}
    ) == object_digest(noun=other.noun, ref=other.ref, hand=other.hand, data=other.data, made_from={})
