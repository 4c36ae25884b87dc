"""Entering what a list asks for: the primer and its lot, the heads looked at, the film taken out, who looked in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from ribwright.core.bench.closing import FILM, HARDWARE, LOOKED, PLATES
from ribwright.core.bench.standing import Line
from ribwright.errors import ConflictError, FormatError, MissingError, UnknownNameError
from ribwright.services.closing import before_stage
from ribwright.services.closing_twist import twist_items
from ribwright.services.project import Actor, Project
from ribwright.services.record import NewEntry, add_entries


@dataclass(frozen=True, slots=True)
class Asked:
    """How a kind of line is entered: the label of its value, and whether a lot or a person is asked for too."""

    label: str
    lot: bool = False
    who: bool = False


ASKED: Mapping[str, Asked] = {
    "finish": Asked("primer", lot=True),
    "sealing": Asked("sealant", lot=True),
    "tray": Asked("part number on the bag", lot=True),
    "heads": Asked("heads looked at"),
    "nut plates": Asked("nut plates tried"),
    "film": Asked("pieces of film left"),
    "hardware": Asked("loose pieces missing"),
    "dimple": Asked("what you see"),
    "open holes": Asked("holes marked"),
    "twist": Asked("twist end to end, degrees"),
    "second": Asked("what was looked at", who=True),
}
"""Kinds of line that are entered here; the others are settled where they belong (stages, readings, discrepancies, photos)."""

_COUNTED = {"heads": LOOKED, "nut plates": PLATES, "film": FILM, "hardware": HARDWARE}


def enter_line(
    project: Project,
    *,
    actor: Actor,
    request_id: str,
    ref: str,
    stage: str,
    text: str,
    value: str,
    lot: str = "",
    who: str = "",
) -> Line:
    """Enter what one open line of a stage's list asks for.

    Args:
        ref, stage: of the operation whose list it is.
        text: the line's words, as the list shows them.
        value: what was found or taken, in the builder's words or as a number.
        lot: of a material.
        who: the person who looked in.

    Returns:
        The line as it stands afterwards; what was found may still not be what is asked.

    Raises:
        UnknownNameError: no such line now.
        ConflictError: a kind of line that is settled elsewhere.
        MissingError: nothing was entered.
        FormatError: words where something is counted.
    """
    line = _line(project, ref, stage, text)
    if line is None:
        raise UnknownNameError(
            "line", found=text, allowed="a line of the list as it stands now", mend="Open the list again."
        )
    asked = ASKED.get(line.key)
    if asked is None:
        raise ConflictError(
            "line",
            found=line.text,
            allowed="lines that ask for a value",
            because="this is settled elsewhere",
            mend=line.mend,
        )
    if not value.strip():
        raise MissingError(asked.label, mend=line.mend)
    if line.key in _COUNTED and not (value.strip().isascii() and value.strip().isdigit()):
        raise FormatError(
            asked.label, found=value.strip(), allowed="a whole number such as 0 or 2", mend="Count them."
        )
    if asked.who and not who.strip():
        raise MissingError("who looked in", mend="Enter the person's name.")
    add_entries(
        project,
        actor=actor,
        request_id=request_id,
        items=_entries(project, line, stage, value.strip(), lot.strip(), who.strip()),
    )
    return _line(project, ref, stage, text) or line


def _line(project: Project, ref: str, stage: str, text: str) -> Line | None:
    return next((line for line in before_stage(project, ref, stage).lines if line.text == text), None)


def _entries(project: Project, line: Line, stage: str, value: str, lot: str, who: str) -> list[NewEntry]:
    if line.key in ("finish", "sealing", "tray"):
        where = {"finish": "finish", "sealing": "seal", "tray": stage}[line.key]
        return [NewEntry("material", {"item": value, "lot": lot, "stage": where}, line.about)]
    if line.key in _COUNTED:
        about_stage = "rivet" if line.key in ("heads", "nut plates") else ""
        return [
            NewEntry(
                "reading",
                {"requirement": _COUNTED[line.key], "value": value, "stage": about_stage},
                line.about,
            )
        ]
    if line.key == "twist":
        return twist_items(project, line.about, value)
    if line.key == "second":
        return [NewEntry("visit", {"words": value, "who": who}, line.about)]
    name = line.text.partition(":")[0]
    return [NewEntry("reading", {"requirement": name, "value": value, "stage": stage}, line.about)]
