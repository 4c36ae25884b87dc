"""Loading the demonstration aeroplane into a project."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from ribwright.dunlin import dunlin
from ribwright.errors import ConflictError, UnknownNameError
from ribwright.services.plan_settings import REF
from ribwright.services.project import Actor, Project, create_project
from ribwright.services.record import NewEntry, add_entries, get_object, new_object, objects

PLAN = {"starter": "paper, inspection and flights"}
"""The Dunlin's own operations hold its systems, engine, paint and fitting out: the starter's would count them twice."""

AT_ONCE = 20_000
"""Entries in one transaction: a larger project is loaded in several, each whole."""


def is_demonstration(project: Project) -> bool:
    """Whether this project holds the Dunlin."""
    try:
        found = get_object(project, "DN")
    except UnknownNameError:
        return False
    return found.noun == "aircraft" and found.title == "Dunlin"


def load_dunlin(
    project: Project,
    *,
    actor: Actor,
    request_id: str,
    scale: int = 1,
    seed: int = 1,
    progress: Callable[[str], None] = lambda _: None,
) -> int:
    """Put the Dunlin into an empty project.

    Args:
        scale: so many aeroplanes.
        seed: moves hours, stock on hand and lots a little.
        progress: told how far it is.

    Returns:
        How many objects were made. Sent twice with one request id, nothing is made twice.

    Raises:
        ConflictError: the project holds an aeroplane already.
        OutOfRangeError: no such seed or scale.
    """
    things = dunlin(seed=seed, scale=scale)
    items = [
        new_object(
            thing.noun,
            thing.ref,
            thing.data,
            parent=thing.parent,
            title=thing.title,
            hand=thing.hand,
            made_from=thing.made_from,
        )
        for thing in things
    ]
    items.append(new_object("setting", REF, PLAN, title="Settings of the plan"))
    first = objects(project, noun="aircraft", withdrawn=True, limit=1)
    if first and not _sent_before(project, request_id):
        raise ConflictError(
            "project", found=f"{first[0].ref} stands in it already", allowed="an empty project",
            because="the demonstration aeroplane goes into a project of its own", mend="Make a new project for it.",
        )  # fmt: skip
    for number, start in enumerate(range(0, len(items), AT_ONCE)):
        part: list[NewEntry] = items[start : start + AT_ONCE]
        add_entries(
            project,
            actor=actor,
            request_id=request_id if not number else f"{request_id}.{number}",
            items=part,
        )
        progress(f"{min(start + AT_ONCE, len(items))} of {len(items)} objects")
    return len(items)


def make_dunlin(
    folder: str | Path,
    *,
    actor: Actor,
    request_id: str,
    scale: int = 1,
    seed: int = 1,
    progress: Callable[[str], None] = lambda _: None,
) -> Project:
    """Make a project folder with the Dunlin in it, and open it. An existing project is never overwritten."""
    project = create_project(folder, name="Dunlin", actor=actor, request_id=f"{request_id}.project")
    try:
        load_dunlin(project, actor=actor, request_id=request_id, scale=scale, seed=seed, progress=progress)
    except BaseException:
        project.close()
        raise
    return project


def _sent_before(project: Project, request_id: str) -> bool:
    from ribwright.store import chain

    with project.store.read() as connection:
        return bool(chain.by_request(connection, project.id, request_id))
