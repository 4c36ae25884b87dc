"""The clock at the bench: started and stopped on any device, one for each person, its hours confirmed by hand.

A running clock is an entry of work with a beginning and no hours; stopping and confirming are corrections of
it, so that the log never counts it twice and shows when it really ran.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from ribwright.core.units import parse
from ribwright.errors import ConflictError, MissingError, UnknownNameError
from ribwright.services.operations import hours_text, operation_view, refuse_unless_may_finish
from ribwright.services.project import Actor, Project
from ribwright.services.queued import moment, sent_before
from ribwright.services.record import NewEntry, add_entries, get_entry
from ribwright.services.remembered import until_the_record_moves
from ribwright.store import objects as stored_objects

MOST_HOURS = 24.0
_TIME = "%Y-%m-%dT%H:%M:%SZ"


@dataclass(frozen=True, slots=True)
class Clock:
    """A clock that runs, or was stopped and waits for its hours to be confirmed.

    Attributes:
        seq: number of its entry as it stands.
        ref, stage: what is worked on.
        person: whose clock it is.
        worked_as: builder, helper or paid.
        started, ended: UTC; ended is "" while it runs.
        hours: between the two, or "" while it runs and where no day is so long.
    """

    seq: int
    ref: str
    stage: str
    person: str
    worked_as: str
    started: str
    ended: str
    hours: str


@until_the_record_moves
def clocks(project: Project) -> tuple[Clock, ...]:
    """Every clock that runs or waits to be confirmed."""
    with project.store.read() as connection:
        rows = stored_objects.rows_about(connection, project.id, "work", about=None, hours="0")
    return tuple(_clock(row) for row in rows if row["started"])


def clock_of(project: Project, person: str) -> Clock | None:
    """The clock of a person that runs now."""
    return next((one for one in clocks(project) if one.person == person and not one.ended), None)


def start_clock(
    project: Project,
    *,
    actor: Actor,
    request_id: str,
    ref: str,
    stage: str,
    worked_as: str = "",
    at: str = "",
) -> None:
    """Start somebody's clock on a stage.

    Args:
        at: when it was started on a phone that could not send it; "" for now.

    Raises:
        UnknownNameError: no such operation or stage.
        ConflictError: the person's clock runs already.
    """
    operation_view(project, ref).stage(stage)
    started = moment(project, at) if at else project.now()
    body = {"stage": stage, "hours": "0", "from": started, "person": actor.name}
    if worked_as:
        body["as"] = worked_as
    if sent_before(
        project,
        request_id,
        actor=actor,
        kind="work",
        about=ref,
        body=body,
        besides=("from",) if not at else (),
    ):
        return
    running = clock_of(project, actor.name)
    if running is not None:
        raise ConflictError(
            f"clock of {actor.name}", found=f"it runs since {_spoken(running.started)} on {running.ref}, {running.stage}",
            allowed="one clock for each person", mend="Stop that one first.",
        )  # fmt: skip
    add_entries(project, actor=actor, request_id=request_id, items=[NewEntry("work", body, ref)])


def stop_clock(
    project: Project, *, actor: Actor, request_id: str, ref: str, stage: str, at: str = ""
) -> None:
    """Stop one's own clock; its hours then wait to be confirmed.

    Raises:
        ConflictError: no clock of this person runs on this stage.
        OutOfRangeError: it would have stopped before it was started.
    """
    ended = moment(project, at) if at else project.now()
    because = "the clock was stopped"
    if sent_before(
        project, request_id, actor=actor, kind="correction", about=ref, body={"because": because}, besides=("instead",)
    ):  # fmt: skip
        return
    running = clock_of(project, actor.name)
    if running is None or (running.ref, running.stage) != (ref, stage):
        where = f"it runs on {running.ref}, {running.stage}" if running else "no clock runs"
        raise ConflictError(
            f"clock of {actor.name}", found=where, allowed=f"a clock that runs on {ref}, {stage}", mend="Open that stage, or enter the hours by hand.",
        )  # fmt: skip
    if ended < running.started:
        ended = running.started
    instead = _work(running) | {"to": ended}
    add_entries(
        project, actor=actor, request_id=request_id,
        items=[NewEntry("correction", {"because": because, "instead": instead}, ref, running.seq)],
    )  # fmt: skip


def confirm_clock(
    project: Project,
    *,
    actor: Actor,
    request_id: str,
    seq: int,
    hours: str,
    done: bool = False,
    words: str = "",
) -> None:
    """Enter the hours of a stopped clock as they should stand.

    Args:
        seq: number of the clock's entry, as its form showed it.
        hours: as confirmed or put right.
        done: the stage is finished.

    Raises:
        UnknownNameError: no such clock waits.
        MissingError: no hours.
        InputError: hours that can't be read.
    """
    waiting = next((one for one in clocks(project) if one.seq == seq), None)
    because = "hours of the clock confirmed"
    if waiting is None and seq > 0:
        about = get_entry(project, seq).entry.about
        told = {"because": because}
        if sent_before(
            project, request_id, actor=actor, kind="correction", about=about, body=told, besides=("instead",)
        ):
            return
    if waiting is None or not waiting.ended:
        raise UnknownNameError(
            "clock", found=seq, allowed="a clock that was stopped and is not confirmed yet", mend="Open the stage again."
        )  # fmt: skip
    if not hours.strip():
        raise MissingError("hours", mend="Enter the hours that you worked.")
    read = parse(hours, "h", field="hours")
    if read.to("h") <= 0:
        raise MissingError(
            "hours", allowed="more than 0", mend="Take the clock's entry back if nothing was done."
        )
    if done:
        refuse_unless_may_finish(project, operation_view(project, waiting.ref), waiting.stage)
    instead = _work(waiting) | {
        "to": waiting.ended, "hours": hours_text(read.to("h")), "done": "yes" if done else "", "words": words,
    }  # fmt: skip
    add_entries(
        project, actor=actor, request_id=request_id,
        items=[NewEntry("correction", {"because": because, "instead": instead}, waiting.ref, seq)],
    )  # fmt: skip


def _clock(row: Mapping[str, Any]) -> Clock:
    hours = ""
    if row["ended"]:
        ran_h = (_read(row["ended"]) - _read(row["started"])).total_seconds() / 3600.0
        hours = f"{max(ran_h, 0.01):.2f}".rstrip("0").rstrip(".") if ran_h <= MOST_HOURS else ""
    return Clock(
        row["seq"],
        row["about"],
        row["stage"],
        row["person"],
        row["worked_as"],
        row["started"],
        row["ended"],
        hours,
    )


def _work(clock: Clock) -> dict[str, str]:
    return {
        "stage": clock.stage, "hours": "0", "from": clock.started, "person": clock.person, "as": clock.worked_as, "day": clock.started[:10],
    }  # fmt: skip


def _read(text: str) -> datetime:
    for form in (_TIME, "%Y-%m-%dT%H:%M:%S"):
        try:
            return datetime.strptime(text, form).replace(tzinfo=UTC)
        except ValueError:
            continue
    return datetime(1970, 1, 1, tzinfo=UTC)


def _spoken(at: str) -> str:
    return at[:16].replace("T", " ") + " UTC"
