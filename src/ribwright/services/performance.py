"""Flight data that are kept, and the performance page made of them for the aeroplane's own handbook."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ribwright.core.scene import Block, Document, Heading, Paragraph, Picture, Table
from ribwright.errors import UnknownNameError
from ribwright.services.calculations import Done, run_calculation
from ribwright.services.project import Actor, Project
from ribwright.services.record import objects, set_object
from ribwright.services.seals import dated_seal
from ribwright.store.objects import StoredObject

KEPT = {
    "gps-airspeed": "Airspeed indicator",
    "stall-speed": "Stall speed",
    "sawtooth-climbs": "Climb",
    "level-speed": "Level speed",
    "field-distance": "Take-off and landing",
    "wire": "Electric loads",
}
"""Calculations that make up the page, in its order."""
_REF = "FLOWN-"


def keep_data(
    project: Project, *, actor: Actor, request_id: str, name: str, title: str, raw: Mapping[str, Any]
) -> StoredObject:
    """Keep one set of flight data under its title; the same title is a new revision of it.

    Raises:
        UnknownNameError: not one of the calculations that make up the page.
        InputError: whatever the calculation refuses.
    """
    if name not in KEPT:
        raise UnknownNameError("flight data", found=name, allowed=", ".join(KEPT))
    run_calculation(name, raw)
    said = " ".join(title.split()) or KEPT[name]
    data = {"calculation": name, "inputs": dict(raw)}
    return set_object(
        project,
        actor=actor,
        request_id=request_id,
        noun="setting",
        ref=f"{_REF}{name}: {said}"[:120].strip(),
        data=data,
        title=said,
    )


def kept_data(project: Project) -> tuple[tuple[StoredObject, Done], ...]:
    """All data that are kept, worked out, in the order of the page."""
    found = [one for one in objects(project, noun="setting") if one.ref.startswith(_REF)]
    order = list(KEPT)
    found.sort(key=lambda one: (order.index(str(one.data["calculation"])), one.ref))
    return tuple((one, run_calculation(str(one.data["calculation"]), one.data["inputs"])) for one in found)


def performance_page(project: Project) -> Document:
    """The page for the handbook: each result with its band, points and curve, conditions, and what is not known."""
    blocks: list[Block] = [
        Paragraph(
            "Measured on this aeroplane. The band holds the truth 4 times in 5; nothing is said outside what was flown."
        ),
    ]
    known = kept_data(project)
    for one, done in known:
        blocks.append(Heading(f"{KEPT[done.calculation.name]}: {one.title}", 2))
        blocks.append(
            Table(
                ("what", "value", "4 chances in 5"),
                tuple((r.label, r.shown, r.band) for r in done.outcome.results.values()),
                widths=(0.45, 0.33, 0.22),
            )
        )
        if done.outcome.picture is not None:
            blocks.append(Picture(done.outcome.picture, done.outcome.picture.title, "half"))
    here = {done.calculation.name for _, done in known}
    missing = [words for name, words in KEPT.items() if name not in here]
    if missing:
        blocks += [Heading("Not flown yet", 2), Paragraph(", ".join(missing) + ".")]
    blocks.append(
        Paragraph(
            "Take-off and landing distances stand as measured: no correction to another day is made. Not approved data; the designer's limits, "
            "the operating limitations and a qualified instructor win.",
            small=True,
        )
    )
    return Document(f"Performance: {project.name}", "PERFORMANCE", "", dated_seal(project), tuple(blocks))
