"""Further operations like one that stands: looked at first, then entered, each under a reference of its own."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from ribwright.core.audit.series import Tapered, numbered, series, tapered
from ribwright.errors import ConflictError, InputError, OutOfRangeError, TableError
from ribwright.services.calculations import Done, run_calculation
from ribwright.services.operations import enter_operation, operation_view
from ribwright.services.project import Actor, Project
from ribwright.services.record import StoredObject, objects


@dataclass(frozen=True, slots=True)
class Like:
    """One of the series before it is entered.

    Attributes:
        ref: the reference it would get.
        done: what its drawing data come to; None when they can't be worked out, and why in ``refused``.
    """

    ref: str
    title: str
    raw: Mapping[str, Any]
    done: Done | None
    refused: str = ""

    @property
    def values(self) -> dict[str, str]:
        """Its quantities as text, by path."""
        return {one.path: str(one.value) for one in tapered(self.done.spec)} if self.done else {}


@dataclass(frozen=True, slots=True)
class First:
    """The operation that a series starts from: words that may count on, quantities that may taper."""

    one: StoredObject
    words: tuple[str, ...]
    quantities: tuple[Tapered, ...]


def first_of(project: Project, ref: str) -> First:
    """What may change along a series that starts from this operation.

    Raises:
        UnknownNameError: no such operation.
        ConflictError: it has no drawing data that calculate.
    """
    view = operation_view(project, ref)
    if view.worked is None:
        raise ConflictError(
            f"series of {ref}", found=view.problem or "no drawing data", allowed="drawing data that calculate",
            mend="Enter its drawing data.",
        )  # fmt: skip
    return First(view.object, numbered(view.worked.spec), tapered(view.worked.spec))


def look(
    project: Project, ref: str, *, count: int, steps: Mapping[str, int], last: Mapping[str, str]
) -> tuple[Like, ...]:
    """The series as it would be entered; nothing is written.

    Args:
        ref: of the operation it starts from.
        count: how many more, 1 to 60.
        steps: by how much each numbered word counts on, such as ``{"rib 1": 1}``.
        last: value at the last one by path, such as ``{"last": "9.2 in"}``; those between lie on the straight.

    Raises:
        As :func:`first_of` and :func:`ribwright.core.audit.series.series` refuse.
    """
    view = operation_view(project, first_of(project, ref).one.ref)
    assert view.worked is not None
    name = str(view.object.data["calculation"])
    raws = series(view.worked.spec, view.object.data["inputs"], count=count, steps=steps, last=last)
    free = _free_references(project, view.object)
    made = []
    for raw, own in zip(raws, free, strict=False):
        title = str(raw.get("title", "") or own)
        try:
            made.append(Like(own, title, raw, run_calculation(name, raw)))
        except (InputError, TableError) as refused:
            made.append(Like(own, title, raw, None, refused.sentence()))
    return tuple(made)


def enter_series(
    project: Project,
    *,
    actor: Actor,
    request_id: str,
    ref: str,
    count: int,
    steps: Mapping[str, int],
    last: Mapping[str, str],
    refs: Sequence[str] = (),
) -> tuple[StoredObject, ...]:
    """Enter the series that :func:`look` shows, with the stages and hours of the first.

    Args:
        refs: references as they were shown, so that the same form sent twice enters each once; left out, the
            free ones.

    Raises:
        ConflictError: one of them can't be worked out; none is entered then.
        StaleRevisionError: a reference has been taken since it was shown.
    """
    made = look(project, ref, count=count, steps=steps, last=last)
    for number, like in enumerate(made, 1):
        if like.done is None:
            raise ConflictError(
                f"number {number} of the series", because=like.refused, mend="None was entered."
            )
    own = [like.ref for like in made]
    if refs and len(refs) != len(own):
        raise OutOfRangeError("References", found=len(refs), allowed=f"{len(own)}, one each")
    first = first_of(project, ref).one
    return tuple(
        enter_operation(
            project, actor=actor, request_id=f"{request_id}-{number}", ref=chosen, calculation=str(first.data["calculation"]),
            raw=like.raw, parent=first.parent, stages=first.data.get("stages", ()), seen_revision=0,
        )
        for number, (like, chosen) in enumerate(zip(made, refs or own, strict=True), 1)
    )  # fmt: skip


def _free_references(project: Project, first: StoredObject) -> Iterator[str]:
    """References that count on from the first one's own and stand for nothing yet."""
    taken = {one.ref for one in objects(project, withdrawn=True)}
    match = re.fullmatch(r"(.*?)(\d{1,6})", first.ref)
    stem, figures = (match.group(1), match.group(2)) if match else (f"{first.ref}-", "01")
    number = int(figures) if match else 0
    while True:
        number += 1
        own = f"{stem}{number:0{len(figures)}d}"
        if own not in taken:
            yield own
