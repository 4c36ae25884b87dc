"""Paper, inspection, test cards and flight data of a project: read from the record, entered line by line."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from ribwright.core.flight.cards import Card, Phase, card, cards, phase
from ribwright.core.flight.inspection import Looked, looks
from ribwright.core.flight.paper import Due, Paper, papers, path
from ribwright.core.planning.papers import paper_tasks
from ribwright.core.planning.pilot import Window, rules_of, window
from ribwright.core.planning.tasks import Task
from ribwright.core.units import parse
from ribwright.errors import ConflictError, FormatError, MissingError, OutOfRangeError, UnknownNameError
from ribwright.services.airframe import of_other_aircraft
from ribwright.services.bench import network
from ribwright.services.plan_settings import settings
from ribwright.services.project import Actor, Project
from ribwright.services.record import (
    NewEntry,
    add_entries,
    discrepancies,
    objects,
    objects_of,
    recent,
    set_object,
)
from ribwright.services.remembered import until_the_breakdown_moves, until_the_record_moves
from ribwright.store.objects import StoredObject

SETTING = "FLIGHT"
_PAPER, _LOOK, _CARD = "PAPER-", "inspection before flight", "test card flown"
_MANY = 100_000
USUAL_HOURS = "40"


@dataclass(frozen=True, slots=True)
class FlightView:
    """All that stands between the aeroplane and its phase one, and how far phase one is.

    Attributes:
        first: the day that the papers are dated against; ``chosen`` says that it was entered.
        dues: papers with their dates.
        lines: of the inspection before flight.
        phase: hours and cards.
        cards: all of them.
        pilot: each of the pilot's dates: when it was last done, as the plan's settings keep it, still counts on the
            first flight, or from what day on it does.
    """

    first: date
    chosen: bool
    dues: tuple[Due, ...]
    lines: tuple[Looked, ...]
    phase: Phase
    cards: tuple[Card, ...]
    pilot: tuple[Window, ...]

    @property
    def open_lines(self) -> tuple[Looked, ...]:
        """Lines of the inspection that somebody still has to look at."""
        return tuple(line for line in self.lines if line.open)


def flight_view(project: Project) -> FlightView:
    """Where it stands today."""
    set_up = _set_up(project)
    found, done = project_papers(project)
    entered = str(set_up.get("first") or "")
    today = date.fromisoformat(project.now()[:10])
    if entered:
        first = date.fromisoformat(entered)
    else:  # as early as the papers alone allow
        far = today + timedelta(days=4000)
        left = [due for due in path(found, first_flight=far, done=done) if not due.done]
        first = today + max((far - due.begin_by for due in left), default=timedelta(0))
    said = settings(project)
    last = dict(said.pilot)
    return FlightView(
        first, bool(entered), path(found, first_flight=first, done=done), inspection(project), test_phase(project), cards(),
        tuple(window(rule, flight_first=first, flight_last=first, last_done=last.get(rule.name)) for rule in rules_of(said.route)),
    )  # fmt: skip


def project_papers(project: Project) -> tuple[tuple[Paper, ...], dict[str, str]]:
    """The papers, with the project's own rows over the program's, and the evidence of what is there."""
    changes: Any = _set_up(project).get("papers") or {}
    evidence = {
        one.ref.removeprefix(_PAPER): str(one.data.get("evidence", ""))
        for one in objects(project, noun="task")
        if one.ref.startswith(_PAPER)
    }
    return papers(changes), evidence


def project_paper_tasks(project: Project, last_work: tuple[str, ...] = ()) -> tuple[Task, ...]:
    """The papers as tasks of the plan; the second look and the inspection wait for the last work."""
    found, done = project_papers(project)
    return paper_tasks(found, done, after={"second-look": last_work})


def enter_paper(
    project: Project, *, actor: Actor, request_id: str, key: str, evidence: str, read: str = ""
) -> StoredObject:
    """Enter what shows that one paper is there.

    Args:
        key: of the paper.
        evidence: the number, the letter, where it is kept.
        read: the day on which its rule was read, when it was.

    Raises:
        UnknownNameError: no such paper.
        MissingError: no evidence.
        ConflictError: what it needs is not there yet.
    """
    found, done = project_papers(project)
    one = next((p for p in found if p.key == key), None)
    if one is None:
        raise UnknownNameError("paper", found=key, allowed=", ".join(p.key for p in found))
    if not evidence.strip():
        raise MissingError(f"Evidence of {one.what}", allowed=one.evidence, mend="Write what shows it.")
    known = {p.key: p.what for p in found}
    missing = [known[n] for n in one.needs if n in known and not done.get(n)]
    if missing:
        raise ConflictError(one.what, found=f"not there yet: {missing[0]}", allowed="when what it needs is there", mend=f"Enter {missing[0]} first.")  # fmt: skip
    data = {"paper": key, "evidence": evidence.strip()} | (
        {"read": _day(read, "Rule read on").isoformat()} if read.strip() else {}
    )
    return set_object(
        project, actor=actor, request_id=request_id, noun="task", ref=_PAPER + key, data=data, title=one.what
    )


def set_flight(
    project: Project,
    *,
    actor: Actor,
    request_id: str,
    first: str = "",
    hours: str = "",
    rows: Mapping[str, Mapping[str, str]] | None = None,
) -> StoredObject:
    """Set the day of the first flight that is aimed at, the hours that the operating limitations ask for, own rows of papers.

    Raises:
        FormatError, OutOfRangeError, UnknownNameError, CycleError: what can't be used, by name.
    """
    data: dict[str, Any] = dict(_set_up(project))
    if first.strip():
        data["first"] = _day(first, "First flight").isoformat()
    if hours.strip():
        asked = parse(hours, "h", field="Hours of phase one").to("h")
        phase((), asked=asked)
        data["hours"] = f"{asked:g}"
    if rows is not None:
        papers(rows)
        data["papers"] = {key: {name: str(value) for name, value in row.items()} for key, row in rows.items()}
    return set_object(
        project,
        actor=actor,
        request_id=request_id,
        noun="setting",
        ref=SETTING,
        data=data,
        title="First flight",
    )


@until_the_breakdown_moves
def _operations(project: Project) -> tuple[dict[str, Any], ...]:
    """The operations of the aeroplane that is being built, as the lines are made from them."""
    others = of_other_aircraft(project)
    refs = [ref for ref, one in network(project).operations.items() if one.work.parent not in others]
    return tuple(
        {
            "ref": one.ref, "title": one.title, "primary": one.data.get("primary") == "yes",
            "stages": [str(s.get("name", "")) for s in one.data.get("stages", ())], "words": str(one.data.get("words", "")),
        }
        for one in objects_of(project, refs).values()
    )  # fmt: skip


@until_the_record_moves
def inspection(project: Project) -> tuple[Looked, ...]:
    """The lines made from what was built, with who looked at each."""
    open_ones = [
        {"ref": str(d["ref"]), "about": str(d["about"]), "what": str(d["what"])}
        for d in discrepancies(project, unsettled=True)
    ]
    seen: dict[str, list[tuple[str, str]]] = {}
    for line in reversed(recent(project, kinds=("note",), limit=_MANY)):
        if line.stands and line.entry.body.get("list") == _LOOK:
            body = line.entry.body
            seen.setdefault(str(body.get("line", "")), []).append(
                (str(body.get("who", "")), str(body.get("saw", "")))
            )
    return tuple(Looked(one, tuple(seen.get(one.key, ()))) for one in looks(_operations(project), open_ones))


def enter_look(project: Project, *, actor: Actor, request_id: str, key: str, who: str, words: str) -> Looked:
    """Enter that one person looked at one line, and what was seen; there is no entering of several at once.

    Raises:
        UnknownNameError: no such line.
        MissingError: no name, or nothing seen.
        ConflictError: this person looked already, or it is a discrepancy, which is settled elsewhere.
    """
    line = _line(project, key)
    if line.look.kind == "discrepancy":
        raise ConflictError(line.look.text, found="still open", allowed="when it is decided and closed", mend="Settle the discrepancy on its own page.")  # fmt: skip
    name, said = " ".join(who.split()), words.strip()
    if not name:
        raise MissingError("Who looked", mend="Enter the person's name.")
    if not said:
        raise MissingError(
            "What was seen", mend="Write what was found, in a few words; a tick alone is not taken."
        )
    if name.casefold() in {person.casefold() for person, _ in line.seen}:
        raise ConflictError("Who looked", found=name, allowed="a second person", because="this person has looked already", mend="Have somebody else look.")  # fmt: skip
    # a note, not a visit: visits answer the lists before closing, and fill the evidence pack
    body = {"words": f"{line.look.text}: {said}", "who": name, "list": _LOOK, "line": key, "saw": said}
    add_entries(project, actor=actor, request_id=request_id, items=[NewEntry("note", body, line.look.about)])
    return _line(project, key)


def _line(project: Project, key: str) -> Looked:
    found = next((one for one in inspection(project) if one.look.key == key), None)
    if found is None:
        raise UnknownNameError("line of the inspection", found=key, allowed="a line of the list as it stands now", mend="Open the list again.")  # fmt: skip
    return found


def test_phase(project: Project) -> Phase:
    """Hours and cards flown against those asked for."""
    flown = []
    for line in recent(project, kinds=("note",), limit=_MANY):
        body = line.entry.body
        if line.stands and body.get("list") == _CARD:
            flown.append((str(body["card"]), float(body["hours"]), body.get("finished") == "yes"))
    return phase(flown, asked=float(_set_up(project).get("hours") or USUAL_HOURS))


def enter_flight(
    project: Project, *, actor: Actor, request_id: str, key: str, hours: str, finished: bool, words: str
) -> Phase:
    """Enter one flight on one card.

    Args:
        hours: in the air (or taxied, for a ground card).
        finished: whether all of the card was done.
        words: what was seen.

    Raises:
        UnknownNameError: no such card.
        ConflictError: cards before it are not finished, or the inspection has an open line.
        OutOfRangeError, MissingError: hours that can't be; nothing noted.
    """
    one = card(key)
    spent = parse(hours, "h", field="Hours").to("h")
    if not 0.05 <= spent <= 8:
        raise OutOfRangeError("Hours", found=hours, allowed="0.05 to 8 h in one flight")
    if not words.strip():
        raise MissingError("What was seen", mend="Write what the flight showed, in a few words.")
    stands = test_phase(project)
    before = [c.key for c in cards() if c.key < one.key and c.key in stands.left]
    if before:
        raise ConflictError(f"Card {key}", found=f"card {before[0]} not finished", allowed="the cards in their order", mend="Fly the earlier card first, or finish it.")  # fmt: skip
    if one.phase != "ground":
        missing = [line for line in inspection(project) if line.open]
        if missing:
            raise ConflictError(f"Card {key}", found=f"{len(missing)} lines of the inspection before flight are open: {missing[0].look.text}", allowed="when every line was looked at", mend="Finish the inspection first.")  # fmt: skip
    body = {
        "words": f"Card {one.key} {one.title}, {spent:g} h: {words.strip()}", "list": _CARD, "card": one.key, "hours": f"{spent:g}",
        "finished": "yes" if finished else "no",
    }  # fmt: skip
    add_entries(project, actor=actor, request_id=request_id, items=[NewEntry("note", body)])
    return test_phase(project)


def _set_up(project: Project) -> Mapping[str, Any]:
    return next((one.data for one in objects(project, noun="setting") if one.ref == SETTING), {})


def _day(said: str, field: str) -> date:
    try:
        found = date.fromisoformat(said.strip())
    except ValueError:
        raise FormatError(
            field, found=said, allowed="a day as 2027-06-30", mend="Write year, month, day."
        ) from None
    if not 1990 <= found.year <= 2199:
        raise OutOfRangeError(field, found=said, allowed="1990 to 2199")
    return found
