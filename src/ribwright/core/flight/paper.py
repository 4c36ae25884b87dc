"""The path of papers before the first flight: what waits for what, when each must be begun; data, editable by country."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction

from ribwright.core.tables import RUNGS, table
from ribwright.errors import CycleError, FormatError, OutOfRangeError, UnknownNameError

COLUMNS = ("what", "rule", "says", "read", "lead_days", "hours", "needs", "evidence", "rung")


@dataclass(frozen=True, slots=True)
class Paper:
    """One paper.

    Attributes:
        key: short name.
        what: what it is.
        rule, says: where the rule stands and what it says, in our words.
        read: how or when the rule was read; *not read* is said plainly.
        rung: how far the row can be trusted.
        lead_days: days from asking to having.
        hours: of work.
        needs: keys of papers that must be there before.
        evidence: what shows that it is done.
    """

    key: str
    what: str
    rule: str
    says: str
    read: str
    rung: str
    lead_days: int
    hours: float
    needs: tuple[str, ...]
    evidence: str


@dataclass(frozen=True, slots=True)
class Due:
    """A paper with its date: when it must be begun so that the first flight isn't held up, and what holds it."""

    paper: Paper
    begin_by: date
    done: str
    waits_for: tuple[str, ...]

    @property
    def status(self) -> str:
        """In words: done, can begin, or waits."""
        if self.done:
            return "done"
        return "waits" if self.waits_for else "can begin"


def papers(changes: Mapping[str, Mapping[str, str]] | None = None) -> tuple[Paper, ...]:
    """The rows of the program, with a project's own rows put over them.

    Args:
        changes: by key; cells replace those of the program, a new key adds a row, ``{"drop": "yes"}`` takes one out.

    Raises:
        UnknownNameError, FormatError, OutOfRangeError: a row that can't be read, naming it.
        CycleError: papers that wait for each other.
    """
    made = table("flight/paper")
    cells = {
        key: dict(made.rows[key]) | {"rung": made.row_rungs.get(key, made.rung)} for key in made.row_keys()
    }
    for key, change in (changes or {}).items():
        unknown = sorted(set(change) - set(COLUMNS) - {"drop"})
        if unknown:
            raise UnknownNameError(f"paper {key}", found=unknown[0], allowed=", ".join(COLUMNS))
        if change.get("drop") == "yes":
            cells.pop(key, None)
            continue
        cells[key] = (
            {"rung": "practice", "read": "not read"}
            | cells.get(key, {})
            | {k: str(v) for k, v in change.items()}
        )
    found = tuple(_paper(key, row) for key, row in cells.items())
    _ordered(found)
    return found


def _paper(key: str, row: Mapping[str, str]) -> Paper:
    if not row.get("what"):
        raise FormatError(
            f"paper {key}", found="no name", allowed="what it is", mend="Say what the paper is."
        )
    if row["rung"] not in RUNGS[1:]:
        raise UnknownNameError(f"paper {key}, rung", found=row["rung"], allowed=", ".join(RUNGS[1:]))
    days, hours = _number(key, "lead_days", row), _number(key, "hours", row)
    needs = tuple(part.strip() for part in row.get("needs", "").split(",") if part.strip())
    return Paper(key, row["what"], row.get("rule", ""), row.get("says", ""), row.get("read", ""), row["rung"], int(days), float(hours), needs, row.get("evidence", ""))  # fmt: skip


def _number(key: str, name: str, row: Mapping[str, str]) -> Fraction:
    said = row.get(name, "") or "0"
    try:
        value = Fraction(said)
    except (ValueError, ZeroDivisionError):
        value = Fraction(-1)
    if not 0 <= value <= 2000:
        raise OutOfRangeError(f"paper {key}, {name}", found=said, allowed="0 to 2000")
    return value


def _ordered(found: tuple[Paper, ...]) -> tuple[Paper, ...]:
    """Each after what it needs."""
    by_key = {one.key: one for one in found}
    made: dict[str, Paper] = {}

    def visit(one: Paper, on: tuple[str, ...]) -> None:
        if one.key in made:
            return
        if one.key in on:
            raise CycleError("papers", found=" → ".join((*on, one.key)), mend="Take one of these needs out.")
        for need in one.needs:
            if need in by_key:
                visit(by_key[need], (*on, one.key))
        made[one.key] = one

    for one in found:
        visit(one, ())
    return tuple(made.values())


def path(found: tuple[Paper, ...], *, first_flight: date, done: Mapping[str, str]) -> tuple[Due, ...]:
    """The papers in order, each with the day on which it must be begun at the latest.

    Args:
        found: see :func:`papers`.
        first_flight: the day that nothing may hold up.
        done: evidence by key of what is there already.
    """
    order = _ordered(found)
    known = {one.key for one in order}
    end: dict[str, date] = {one.key: first_flight for one in order}
    begin: dict[str, date] = {}
    for one in reversed(order):
        begin[one.key] = end[one.key] - timedelta(days=one.lead_days)
        for need in one.needs:
            if need in known:
                end[need] = min(end[need], begin[one.key])
    return tuple(
        Due(
            one,
            begin[one.key],
            done.get(one.key, ""),
            tuple(n for n in one.needs if n in known and not done.get(n)),
        )
        for one in order
    )
