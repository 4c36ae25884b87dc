"""What is worked out from the whole record is kept until the record or the day moves: seal and clock say when."""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import ParamSpec, TypeVar

from ribwright.services.project import Project
from ribwright.services.seals import seal

P = ParamSpec("P")
R = TypeVar("R")


def until_the_record_moves(function: Callable[[Project], R]) -> Callable[[Project], R]:
    """Keep a reading of the whole project; it is read again after the next entry, and the next day.

    The result must be a frozen value: several requests share it.
    """
    kept: dict[tuple[str, str], tuple[str, R]] = {}

    @functools.wraps(function)
    def reading(project: Project) -> R:
        key = (project.where, project.id)
        mark = _mark(project)
        known = kept.get(key)
        if known is not None and known[0] == mark:
            return known[1]
        made = function(project)
        # An entry made while it was read shows in the seal: then it is not kept under the older one.
        if _mark(project) == mark:
            if len(kept) > 64:
                kept.clear()
            kept[key] = (mark, made)
        return made

    return reading


def _mark(project: Project) -> str:
    return f"{seal(project)} {project.now()[:10]}"
