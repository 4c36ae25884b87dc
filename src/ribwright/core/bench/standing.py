"""What stands in the record, as the lists at the bench read it: things, what was said about them, lines of a list."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

NEXT = "Enter it under Checks, or: ribwright bench closing"


@dataclass(frozen=True, slots=True)
class Thing:
    """An object of the breakdown, as it stands."""

    ref: str
    noun: str
    title: str
    hand: str
    parent: str
    data: Mapping[str, Any]
    outdated: bool = False


@dataclass(frozen=True, slots=True)
class Said:
    """An entry that stands (not taken back, corrections in place): kind, what about, and its named values."""

    kind: str
    about: str
    seq: int
    by: str = ""
    stage: str = ""
    day: str = ""
    body: Mapping[str, Any] = field(default_factory=dict)

    def text(self, name: str) -> str:
        """A named value as plain text, "" when there is none."""
        value = self.body.get(name, "")
        return value.strip() if isinstance(value, str) else ""

    @property
    def requirement(self) -> str:
        """What a reading or finding is of."""
        value = self.body.get("requirement", "")
        return str(value.get("name", "")) if isinstance(value, Mapping) else str(value)


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a list: what kind, what about, whether it is done, what was found, and what to do.

    Attributes:
        key: stable name of the kind, such as ``film``.
        about: reference of the object that the mend is entered about.
        text: the line in the builder's words.
        done: the record shows it.
        found: what the record shows now.
        mend: what to do when it is open.
    """

    key: str
    about: str
    text: str
    done: bool
    found: str
    mend: str = NEXT


def ready(lines: Iterable[Line]) -> bool:
    """Whether nothing is open."""
    return all(line.done for line in lines)


def open_lines(lines: Iterable[Line]) -> tuple[Line, ...]:
    """The lines that are not done."""
    return tuple(line for line in lines if not line.done)


def stage_done(said: Iterable[Said], stage: str) -> Said | None:
    """The entry that finished a stage, when its last word is that it is finished."""
    last = None
    for one in said:
        if one.kind == "work" and one.stage == stage and one.text("done") in ("yes", "no"):
            last = one
    return last if last is not None and last.text("done") == "yes" else None


def last_reading(said: Iterable[Said], name: str, kind: str = "reading") -> Said | None:
    """The newest standing reading (or finding) of this name."""
    found = [one for one in said if one.kind == kind and one.requirement == name]
    return found[-1] if found else None
