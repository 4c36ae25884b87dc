"""What is done to entries that stand: taken back, put right, signed; and a discrepancy decided. Each is a new entry."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ribwright.core.record.entry import Entry
from ribwright.errors import UnknownNameError
from ribwright.services.entering import add_entry
from ribwright.services.project import Actor, Project
from ribwright.services.record import discrepancies, get_entry


def undo(project: Project, *, actor: Actor, request_id: str, seq: int, because: str = "") -> Entry:
    """Take an entry back. It stays in the story; the tables are as if it had not been made.

    Raises:
        UnknownNameError: there is no such entry.
        ConflictError: it is signed, no longer stands, or something stands on it.
        RefusedError: somebody else's, and a helper asks.
    """
    about = get_entry(project, seq).entry.about
    body = {"because": because} if because else {}
    return add_entry(
        project, actor=actor, request_id=request_id, kind="undo", about=about, body=body, corrects=seq
    )


def correct(
    project: Project,
    *,
    actor: Actor,
    request_id: str,
    seq: int,
    because: str,
    instead: Mapping[str, Any] | None = None,
) -> Entry:
    """Put an earlier entry right with a new one that points at it; signed entries too.

    Args:
        project: an open project.
        actor: who acts.
        request_id: of the form.
        seq: the entry that was wrong. For a signature, the correction lifts it.
        because: why.
        instead: its body as it should have been (work, reading, material).

    Raises:
        As ``undo``; MissingError: ``because`` or ``instead`` is needed.
    """
    about = get_entry(project, seq).entry.about
    body: dict[str, Any] = {"because": because} | ({"instead": dict(instead)} if instead else {})
    return add_entry(
        project, actor=actor, request_id=request_id, kind="correction", about=about, body=body, corrects=seq
    )


def sign(
    project: Project, *, actor: Actor, request_id: str, about: str, stage: str = "", words: str = ""
) -> Entry:
    """Sign an operation, or one stage of it: from now on its entries are only corrected.

    Raises:
        ConflictError: signed already, or a discrepancy on it is not settled.
        RefusedError: only the builder and the inspector sign.
    """
    body = {name: value for name, value in (("stage", stage), ("words", words)) if value}
    return add_entry(project, actor=actor, request_id=request_id, kind="sign", about=about, body=body)


def settle(
    project: Project,
    *,
    actor: Actor,
    request_id: str,
    discrepancy: str,
    decision: str,
    reason: str = "",
    authority: str = "",
    closing_reading: int | None = None,
    closes: bool = True,
) -> Entry:
    """Decide what becomes of a discrepancy, and close it.

    Args:
        project: an open project.
        actor: who enters it (the builder).
        request_id: of the form.
        discrepancy: its reference, such as D12.
        decision: rework, repair, use as is, replace.
        reason: why; needed to use it as it is.
        authority: who allows it; needed to use it as it is.
        closing_reading: the reading or finding after the mend.
        closes: False when it is decided, and the mending is still to be done.

    Raises:
        UnknownNameError: no such discrepancy or decision.
        MissingError: used as it is without reason or authority.
        ConflictError: it is closed already.
    """
    found = next((row for row in discrepancies(project) if row["ref"] == discrepancy), None)
    if found is None:
        raise UnknownNameError("discrepancy", found=discrepancy, allowed="such as D12")
    body = {
        "discrepancy": discrepancy,
        "decision": decision,
        "reason": reason,
        "authority": authority,
        "closing_reading": "" if closing_reading is None else str(closing_reading),
        "closes": "yes" if closes else "no",
    }
    return add_entry(
        project,
        actor=actor,
        request_id=request_id,
        kind="disposition",
        about=found["about"],
        body={name: value for name, value in body.items() if value},
    )
