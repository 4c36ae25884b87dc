"""Twist before closing: the calculation's reading, band and finding, entered about the space that is to be closed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from ribwright.core.bench import Because, Finding
from ribwright.core.bench.closing import TWIST
from ribwright.core.units import parse
from ribwright.errors import ConflictError, OutOfRangeError
from ribwright.services.calculations import Done, run_calculation
from ribwright.services.project import Actor, Project
from ribwright.services.record import NewEntry, add_entries, findings, get_object, objects
from ribwright.store.objects import StoredObject

CALCULATION = "twist-before-closing"
_FROM_SPACE = (("allowed", "twist_deg"), ("wanted", "twist_drawn_deg"), ("drawing", "drawing"), ("revision", "revision"))  # fmt: skip


@dataclass(frozen=True, slots=True)
class TwistStands:
    """A space whose twist is asked for before it is closed, and what the last reading came to."""

    space: StoredObject
    verdict: str
    reason: str


def twists(project: Project) -> tuple[TwistStands, ...]:
    """Every space that asks for it, in the order of their references."""
    last = {row["about"]: row for row in findings(project) if row["requirement"] == TWIST}
    return tuple(
        TwistStands(
            one, str(last.get(one.ref, {}).get("verdict", "")), str(last.get(one.ref, {}).get("reason", ""))
        )
        for one in objects(project, noun="space")
        if one.data.get("twist") == "yes"
    )


def twist_inputs(project: Project, ref: str) -> dict[str, Any]:
    """What is known of a space before it is measured: what the drawing allows, its twist as drawn, its name.

    Raises:
        UnknownNameError: no such object.
        ConflictError: it is no space.
    """
    space = get_object(project, ref)
    if space.noun != "space":
        raise ConflictError(
            "Space", found=f"{ref}, a {space.noun}", allowed="a space", mend="Name the space that is to be closed."
        )  # fmt: skip
    known: dict[str, Any] = {"title": space.title or ref, "way": "level on the end ribs"}
    above = get_object(project, space.parent).data if space.parent else {}
    for name, key in _FROM_SPACE:
        said = space.data.get(key) or above.get(key)
        if said:
            known[name] = str(said)
    return known


def enter_twist(
    project: Project, *, actor: Actor, request_id: str, ref: str, raw: Mapping[str, Any]
) -> tuple[Finding, Done]:
    """Work the twist of a space out and enter reading and finding about it, which answers its closing list.

    Args:
        ref: of the space.
        raw: as the calculation takes it; what is left out comes from the space and its drawing.

    Raises:
        UnknownNameError, ConflictError: no such space.
        InputError: whatever the calculation refuses; nothing is entered then.
    """
    entered = {name: value for name, value in raw.items() if str(value).strip()}
    known = twist_inputs(project, ref)
    done = run_calculation(CALCULATION, {**known, **entered})
    items, found = _entries(ref, done, drawn="allowed" in known or "allowed" in entered)
    add_entries(project, actor=actor, request_id=request_id, items=items)
    return found, done


def twist_items(project: Project, ref: str, value: str) -> list[NewEntry]:
    """Reading and finding of a twist typed as one number: the difference of two readings, each with its usual band.

    Raises:
        InputError: not an angle.
    """
    read = parse(value, "deg", field=TWIST)
    if not -90 <= read.to("deg") <= 90:
        raise OutOfRangeError(TWIST, found=value, allowed="-90 to 90 degrees")
    known = twist_inputs(project, ref)
    done = run_calculation(CALCULATION, {**known, "first": "0", "second": f"{read.to('deg'):.6f}"})
    return _entries(ref, done, drawn="allowed" in known, said=read.text)[0]


def _entries(ref: str, done: Done, *, drawn: bool, said: str = "") -> tuple[list[NewEntry], Finding]:
    requirement = replace(done.outcome.requirements[0], name=TWIST)
    if not drawn:
        requirement = replace(
            requirement,
            because=Because.published(
                "practice", "", "practice", "about half a degree end to end; the drawing's limit wins"
            ),
        )
    found = replace(done.outcome.findings[0], requirement=TWIST)
    error = done.outcome.results["error"]
    off = float(str(error.value))
    band = (error.high if error.high is not None else off) - off
    body = {
        "requirement": requirement.as_data(), "value": said or f"{off:.3f}", "unit": "deg", "u": f"{band:.3f}", "stage": "",
        "instrument": done.spec.way, "words": f"twist {done.outcome.results['twist'].shown}, off the drawing by {error.shown}",
    }  # fmt: skip
    data = found.as_data()
    return [
        NewEntry("reading", body, ref),
        NewEntry("finding", {**data, "margin": data["margin"] or "", "stage": ""}, ref),
    ], found
