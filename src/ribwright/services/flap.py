"""The demonstration's left flap: built, opened to a second pair of eyes, mended, closed; with lots and tenths."""

from __future__ import annotations

import io
from collections.abc import Mapping
from datetime import date, timedelta
from decimal import Decimal

from ribwright.core.bench.closing import FILM, HARDWARE, LOOKED, PLATES, SOLID, TWIST, closing_stage
from ribwright.core.bench.stages import working_order
from ribwright.core.bench.standing import Thing
from ribwright.core.stores.crates import PackingLine
from ribwright.services.amending import settle
from ribwright.services.crates import receive_crate
from ribwright.services.evening import lot_of, see_to
from ribwright.services.operations import enter_work, plan_operation
from ribwright.services.photos import add_photo
from ribwright.services.portion import enter_claims_csv, mark_photo
from ribwright.services.project import Actor, Project
from ribwright.services.record import (
    NewEntry,
    StoredObject,
    add_entries,
    add_entry,
    get_object,
    objects,
)

FLAP, SPACE, CLOSER = "DN-23", "DN-23-A", "DN-23-S24"
SPOILED = "DN-23-S15"
BUILDER = Actor("the builder", "builder")
HELPER = Actor("the neighbour", "helper")
LOOKED_IN = "the retired mechanic"
AUTHORITY = "the designer, by letter of the same week"

MENDED_WITH, MENDED_LOT = "MS20426AD4-3.5", "L58217"
CRATE = (
    PackingLine(
        MENDED_WITH,
        Decimal(250),
        Decimal(250),
        "solid rivet, flush 100°, 2117-T4",
        "piece",
        MENDED_LOT,
        "",
        "bin 12",
        "hardware",
    ),
    PackingLine(
        "PIN-3/32",
        Decimal(200),
        Decimal(188),
        "temporary fastener, 3/32",
        "piece",
        "",
        "",
        "bin 3",
        "temporary fastener",
        "3/32",
    ),
)
"""A small crate that came before the flap was begun; twelve temporary fasteners were not in it."""

CLAIMS = """key,A,B,C,D,n/a,evidence,words
AF01,.2,,,.8,,DN-23-B01,
AF02,.3,,,.7,,DN-23-B02,ribs blanked at the works
AF03,,,,1,,DN-23-R01 DN-23-R02 DN-23-R03 DN-23-R04,
AF04,.5,.3,,.2,,DN-23-B03,bent by a shop
AF06,,,1,,,DN-23,
LG04,,,,,yes,,bought whole
"""
"""Tenths as the builder claims them; the flap stands behind most of them."""


def close_left_flap(project: Project, *, actor: Actor = BUILDER) -> str:
    """Enter the work on the left flap up to its closing; entered again it counts once.

    Returns:
        Reference of the discrepancy that was found before it was closed.

    Raises:
        UnknownNameError: the project is not the demonstration.
    """
    every = {one.ref: one for one in objects(project, parent=FLAP)}
    get_object(project, SPACE)
    claim_by = (date.fromisoformat(_today(project)) + timedelta(days=30)).isoformat()
    receive_crate(
        project,
        actor=actor,
        request_id="flap-crate",
        crate="C7",
        lines=CRATE,
        claim_by=claim_by,
        supplier="the hardware house",
    )
    add_entries(project, actor=actor, request_id="flap-work", items=_work(project, every))
    seam = every[SPOILED]
    entry = add_entry(
        project, actor=actor, request_id="flap-found", kind="discrepancy", about=SPOILED,
        body={
            "what": "oversize hole at hole 4: the drill wandered; hole .1065 in where .098 in is drawn", "kind": "oversize hole", "where": "hole 4",
            "stage": "rivet", "measured": {"hole, largest": ".1065 in ± .0005", "edge distance": ".29 in ± .01"},
        },
    )  # fmt: skip
    asked = add_entry(
        project, actor=actor, request_id="flap-asked", kind="question", about=SPOILED,
        body={"words": f"May hole 4 of {seam.title} take a 1/8 in rivet of the same head?", "discrepancy": f"D{entry.seq}"},
    )  # fmt: skip
    add_entry(
        project, actor=actor, request_id="flap-answer", kind="answer", about=SPOILED,
        body={"question": str(asked.seq), "words": "Yes, one 1/8 in flush rivet; both neighbours stay.", "who": "the designer", "authority": AUTHORITY},
    )  # fmt: skip
    mended = add_entries(
        project, actor=actor, request_id="flap-mended",
        items=[
            NewEntry("material", {"item": MENDED_WITH, "lot": MENDED_LOT, "quantity": "1", "stage": "rivet", "day": _today(project)}, SPOILED),
            NewEntry("reading", {"requirement": "formed head diameter", "value": ".190", "unit": "in", "u": ".001", "where": "4", "stage": "rivet", "discrepancy": f"D{entry.seq}"}, SPOILED),
        ],
    )  # fmt: skip
    settle(
        project, actor=actor, request_id="flap-settled", discrepancy=f"D{entry.seq}", decision="repair",
        reason="drilled to #30, dimpled anew, one 1/8 in flush rivet set in hole 4; head measured", authority=AUTHORITY, closing_reading=mended[1].seq,
    )  # fmt: skip
    add_entries(project, actor=actor, request_id="flap-looked", items=_looked(every))
    _close(project, actor, every[CLOSER])
    claims = CLAIMS.encode()
    enter_claims_csv(project, actor=actor, request_id="flap-tenths", content=claims)
    return f"D{entry.seq}"


def _work(project: Project, every: Mapping[str, StoredObject]) -> list[NewEntry]:
    """Every stage but the closing and what follows it, in an order in which they can be done."""
    operations = {ref: one for ref, one in every.items() if one.noun == "operation"}
    after = {CLOSER} | {ref for ref in operations if ref.startswith(("DN-23-L", "DN-23-X"))}
    planned = [plan_operation(one) for ref, one in operations.items() if ref not in after]
    items: list[NewEntry] = []
    for ref, stage in working_order([*planned, plan_operation(operations[CLOSER])]):
        if ref == CLOSER and stage == "rivet":
            continue
        one = operations[ref]
        items += _stage(project, one, stage)
        if stage == "rivet" and one.data.get("space") == SPACE and one.data.get("calculation") in SOLID:
            count = str(one.data["fasteners"][0]["count"])
            items.append(NewEntry("reading", {"requirement": LOOKED, "value": count, "stage": "rivet"}, ref))
        if stage == "rivet" and one.data.get("kind") == "nut plates":
            items.append(
                NewEntry(
                    "reading",
                    {"requirement": PLATES, "value": str(one.data["nut_plates"]), "stage": "rivet"},
                    ref,
                )
            )
    return items


def _stage(project: Project, one: StoredObject, stage: str) -> list[NewEntry]:
    data = next(s for s in one.data["stages"] if s["name"] == stage)
    today = _today(project)
    items: list[NewEntry] = []
    if stage == "finish":
        body = {"item": "PRIMER", "lot": lot_of(project, "PRIMER"), "stage": "finish", "day": today}
        items.append(NewEntry("material", body, one.ref))
    if stage in ("rivet", "bolt"):
        for fastener in one.data.get("fasteners", ()):
            number = str(fastener["part_number"])
            items.append(
                NewEntry(
                    "material",
                    {"item": number, "lot": lot_of(project, number), "stage": stage, "day": today},
                    one.ref,
                )
            )
    body = {
        "stage": stage,
        "hours": str(data.get("hours") or "0.5"),
        "done": "yes",
        "words": "",
        "day": today,
    }
    items.append(NewEntry("work", body, one.ref))
    return items


def _looked(every: Mapping[str, StoredObject]) -> list[NewEntry]:
    """What the closing list asks about the space: film, hardware, twist, the second person."""
    said: list[NewEntry] = []
    space = every[SPACE].data
    if space.get("film") == "yes":
        said.append(NewEntry("reading", {"requirement": FILM, "value": "0", "stage": ""}, SPACE))
    if space.get("loose_hardware") == "yes":
        said.append(NewEntry("reading", {"requirement": HARDWARE, "value": "0", "stage": ""}, SPACE))
    if space.get("twist") == "yes":
        said.append(
            NewEntry(
                "finding",
                {"requirement": TWIST, "verdict": "within limits", "reason": "0.1 deg end to end"},
                SPACE,
            )
        )
    body = {
        "words": "looked into every bay with lamp and mirror; hole 4 of the mended rib seen",
        "who": LOOKED_IN,
    }
    return [*said, NewEntry("visit", body, SPACE)]


def _close(project: Project, actor: Actor, closer: StoredObject) -> None:
    """The bays photographed, the trial piece, and the row that closes it, through the list that guards it."""
    for number, bay in enumerate(get_object(project, SPACE).data["bays"], 1):
        made = add_photo(
            project, actor=actor, request_id=f"flap-photo-{number}", content=_picture(bay), about=SPACE, name=f"{bay}.png", caption=bay
        )  # fmt: skip
        if number == 1:
            mark_photo(project, actor=actor, request_id="flap-marked", seq=made.seq, who=actor.name)
    stage = closing_stage(
        Thing(closer.ref, closer.noun, closer.title, closer.hand, closer.parent, closer.data)
    )
    see_to(project, actor, closer.ref, stage)
    hours = next(str(s.get("hours") or "1") for s in closer.data["stages"] if s["name"] == stage)
    enter_work(
        project,
        actor=actor,
        request_id="flap-closed",
        ref=closer.ref,
        stage=stage,
        hours=hours,
        done=True,
        words="closed",
    )


def _picture(words: str) -> bytes:
    """A drawn stand-in for a photo, which says that it is one."""
    from PIL import Image, ImageDraw

    image = Image.new("RGB", (320, 200), (196, 202, 206))
    pen = ImageDraw.Draw(image)
    for x in range(20, 320, 70):
        pen.line((x, 10, x, 190), fill=(90, 96, 102), width=6)
    pen.text((24, 90), f"{words}: drawn for the demonstration, no photo", fill=(20, 20, 20))
    out = io.BytesIO()
    image.save(out, "PNG")
    return out.getvalue()


def _today(project: Project) -> str:
    return project.now()[:10]
