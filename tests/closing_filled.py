"""A project with assemblies of the Dunlin whose spaces are ready to be closed, for the tests of what closing asks."""

from __future__ import annotations

from typing import Any

from ribwright.core.bench.closing import FILM, HARDWARE, LOOKED, PLATES, SOLID, TWIST, closing_stage
from ribwright.core.bench.standing import Thing as Standing
from ribwright.dunlin import Thing, dunlin
from ribwright.services.closing import _thing
from ribwright.services.project import Actor, Project
from ribwright.services.record import NewEntry, add_entries, get_object, new_object, objects

BUILDER, NEIGHBOUR = Actor("Ann Bell"), Actor("Tom Reed", "helper")
DAY = "2027-03-01"
_THINGS = dunlin()


def put(project: Project, *assemblies: str) -> None:
    """These assemblies of the Dunlin, with all that they are made from."""
    wanted = [
        t for t in _THINGS if t.noun in ("aircraft", "drawing", "stock", "assembly") or t.parent in assemblies
    ]
    made = {t.ref for t in wanted}
    add_entries(
        project, actor=BUILDER, request_id="dunlin",
        items=[
            new_object(t.noun, t.ref, t.data, parent=t.parent, title=t.title, hand=t.hand, made_from=[m for m in t.made_from if m in made])
            for t in wanted
        ],
    )  # fmt: skip


def thing(ref: str) -> Thing:
    """What the script says of an object."""
    return next(t for t in _THINGS if t.ref == ref)


def closer_of(space: str) -> str:
    """The operation that closes a space."""
    return next(t.ref for t in _THINGS if t.data.get("closes") == space)


def entries_of(project: Project, ref: str) -> list[NewEntry]:
    """Everything that makes an operation's space ready to be closed, in the order in which it is done."""
    closer = get_object(project, ref)
    space = get_object(project, closer.data["closes"])
    made: list[NewEntry] = []
    inside = [
        one
        for one in objects(project, parent=closer.parent, noun="operation")
        if one.data.get("space") == space.ref
    ]
    for one in (*inside, closer):
        last = closing_stage(_thing(one))
        for stage in one.data["stages"]:
            if stage["name"] == last and one.ref == ref:
                continue
            made += of_stage(one.ref, stage["name"])
        count = int(one.data["fasteners"][0]["count"]) if one.data.get("fasteners") else 0
        if one.data["calculation"] in SOLID and one.ref != ref:
            made.append(reading(one.ref, LOOKED, str(count), "rivet"))
        if one.data.get("kind") == "nut plates":
            made.append(reading(one.ref, PLATES, one.data["nut_plates"], "rivet"))
    made += [reading(space.ref, FILM, "0"), reading(space.ref, HARDWARE, "0")]
    made.append(
        NewEntry(
            "finding", {"requirement": TWIST, "verdict": "within limits", "reason": "0.1 deg"}, space.ref
        )
    )
    for number, bay in enumerate(space.data["bays"]):
        made.append(
            NewEntry("photo", {"digest": f"{number:064x}", "media": "image/jpeg", "position": bay}, space.ref)
        )
    return made


def of_stage(ref: str, stage: str) -> list[NewEntry]:
    """Work that finishes a stage, with the material that it takes."""
    made = [NewEntry("work", {"stage": stage, "hours": "0.5", "done": "yes", "day": DAY}, ref)]
    item = {"finish": "PRIMER", "seal": "SEALANT-TANK"}.get(stage)
    if item:
        made.append(
            NewEntry(
                "material", {"item": item, "lot": "A7", "quantity": "1", "stage": stage, "day": DAY}, ref
            )
        )
    return made


def reading(ref: str, name: str, value: str, stage: str = "", **more: Any) -> NewEntry:
    """A typed reading."""
    return NewEntry("reading", {"requirement": name, "value": value, "stage": stage, **more}, ref)


def make_ready(project: Project, ref: str) -> None:
    """Enter all of it, and have the neighbour look in."""
    add_entries(project, actor=BUILDER, request_id=f"ready-{ref}", items=entries_of(project, ref))
    space = get_object(project, ref).data["closes"]
    add_entries(project, actor=NEIGHBOUR, request_id=f"look-{ref}", items=[looked_in(space)])


def looked_in(space: str) -> NewEntry:
    """Somebody looked in."""
    return NewEntry("visit", {"words": "looked into every bay"}, space)


def set_up(ref: str) -> list[NewEntry]:
    """What lies in the tray, what is marked, and the trial piece of an operation about to be riveted."""
    from ribwright.core.bench.before_step import open_holes

    one = thing(ref)
    made = [
        NewEntry(
            "material", {"item": f["part_number"], "lot": "B2", "quantity": f["count"], "stage": "rivet"}, ref
        )
        for f in one.data["fasteners"]
    ]
    side = one.data.get("head_side", "")
    made += [
        reading(ref, name, side, "dimple and countersink")
        for name in ("head side marked", "dimples as made")
        if side
    ]
    stay = open_holes(Standing(one.ref, one.noun, one.title, one.hand, one.parent, one.data))
    if stay:
        made.append(reading(ref, "holes marked to stay open", ", ".join(stay), "rivet"))
    made += [
        NewEntry(
            "finding",
            {
                "requirement": name,
                "verdict": "within limits",
                "reason": "as it should be",
                "stage": "rivet",
                "where": "trial",
            },
            ref,
        )
        for name in ("formed head diameter", "formed head height")
    ]
    return made
