"""Forms that waited on a phone: what was sent before counts once, and what somebody else entered meanwhile is shown."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from ribwright.core.record.canonical import normal
from ribwright.core.record.entry import Entry
from ribwright.errors import FormatError, OutOfRangeError
from ribwright.services.project import Actor, Project
from ribwright.store import chain
from ribwright.store import objects as stored_objects

OLDEST_DAYS = 30
_PHONE = re.compile(r"(phone-[0-9a-f]{8})-")
_TIME = "%Y-%m-%dT%H:%M:%SZ"


@dataclass(frozen=True, slots=True)
class Clash:
    """Two entries about one thing, of which neither has seen the other.

    Attributes:
        what: what both are about.
        mine: as it waited on the phone.
        theirs: as it stands in the record.
        by, at, seq: who entered that, when, and its number.
    """

    what: str
    mine: str
    theirs: str
    by: str
    at: str
    seq: int


def sent_before(
    project: Project, request_id: str, *, actor: Actor, kind: str, about: str, body: Mapping[str, Any],
    besides: Sequence[str] = (),
) -> bool:  # fmt: skip
    """Whether exactly this was entered under this request already.

    For what is worked out from the record as it stands: sent again it would come to something else, though
    the form is the same.

    Args:
        besides: names in the body that the server filled in.
    """
    with project.store.read() as connection:
        before = chain.by_request(connection, project.id, request_id)
    if not before:
        return False
    first = before[0]
    told: Any = normal(dict(body))
    return (
        (first.by, first.kind, first.about) == (actor.name, kind, about)
        and _without(first.body, besides) == _without(told, besides)
    )  # fmt: skip


def known_request(project: Project, request_id: str, *, actor: Actor, about: str) -> bool:
    """Whether this request has made an entry about this object by this person."""
    with project.store.read() as connection:
        before = chain.by_request(connection, project.id, request_id)
    return bool(before) and (before[0].by, before[0].about) == (actor.name, about)


def moment(project: Project, text: str) -> str:
    """When something was done on a phone, by the phone's clock.

    Raises:
        FormatError: not a time.
        OutOfRangeError: in the future, or too long ago.
    """
    try:
        read = datetime.strptime(text[:40], _TIME).replace(tzinfo=UTC)
    except ValueError:
        raise FormatError("time on the phone", found=text[:40], allowed="2026-11-25T18:05:00Z") from None
    now = datetime.strptime(project.now(), _TIME).replace(tzinfo=UTC)
    if not now - timedelta(days=OLDEST_DAYS) <= read <= now + timedelta(minutes=5):
        raise OutOfRangeError(
            "time on the phone", found=text, allowed=f"up to now, at most {OLDEST_DAYS} days ago", mend="Set the phone's clock.",
        )  # fmt: skip
    return min(read, now).strftime(_TIME)


def clashes(
    project: Project, *, actor: Actor, request_id: str, ref: str, stage: str, seen: int, readings: Sequence[Mapping[str, str]] = (),
    marks: Mapping[int, str] | None = None, hours: str = "",
) -> tuple[Clash, ...]:  # fmt: skip
    """What others entered since the phone saw the record, about the same things.

    Args:
        request_id: made on the phone; what the same phone sent before it is no clash.
        seen: number of the newest entry that the phone had seen.
        readings: as ``enter_readings`` takes them.
        marks: of a row tally.
        hours: of the same person on the same stage, which may have been entered twice.
    """
    made: list[Clash] = []
    wanted = {
        (one.get("requirement", "").strip(), one.get("where", "").strip()): one.get("value", "").strip()
        for one in readings
    }
    for entry in _others(project, ref, stage, seen, request_id):
        body = entry.body
        if entry.kind == "reading" and body.get("marks") and marks:
            for hole, mark in body["marks"].items():
                mine = marks.get(int(hole))
                if mine is not None and mine != mark:
                    made.append(_clash(entry, f"hole {hole}", mine, str(mark)))
        elif entry.kind == "reading":
            what = body.get("requirement")
            name = str(what.get("name", "")) if isinstance(what, Mapping) else str(what)
            mine = wanted.get((name, str(body.get("where") or "")))
            if mine is not None:
                place = " ".join(part for part in (str(body.get("where") or ""), name) if part)
                made.append(_clash(entry, place, mine, str(body.get("value", ""))))
        elif entry.kind == "work" and hours and entry.by == actor.name:
            made.append(_clash(entry, f"hours on {stage}", hours, str(body.get("hours", ""))))
    return tuple(made)


def _others(project: Project, ref: str, stage: str, seen: int, request_id: str) -> list[Entry]:
    phone = _PHONE.match(request_id)
    with project.store.read() as connection:
        entries = [
            entry
            for entry in chain.about(connection, project.id, [ref])
            if entry.seq > seen and entry.kind in ("reading", "work") and entry.body.get("stage", "") == stage
        ]
        marks = (
            stored_objects.standing(connection, project.id, [entry.seq for entry in entries])
            if entries
            else {}
        )
    return [
        entry
        for entry in entries
        if not (marks.get(entry.seq) or {}).get("undone_by")
        and not (phone and entry.request_id.startswith(phone[1]))
        and entry.request_id.split("#")[0] != request_id
    ]


def _clash(entry: Entry, what: str, mine: str, theirs: str) -> Clash:
    return Clash(what, mine, theirs, entry.by, entry.at, entry.seq)


def _without(body: Mapping[str, Any], names: Sequence[str]) -> dict[str, Any]:
    return {name: value for name, value in body.items() if name not in names}
