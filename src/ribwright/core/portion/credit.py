"""Credit in tenths: each task that applies is one point, shared out to the columns; the rest is adding.

Tenths are whole numbers here, so that nothing is rounded before the share is shown.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from ribwright.core.bench import Because, Finding, Reading, Requirement, compare
from ribwright.core.portion.lists import PortionList
from ribwright.core.tables import table
from ribwright.errors import FormatError, InputError

WHOLE = 10


@dataclass(frozen=True, slots=True)
class Claim:
    """What is claimed for a task: tenths by column key, or that it does not apply; and where the proof is."""

    key: str
    tenths: Mapping[str, int]
    applies: bool = True
    evidence: tuple[str, ...] = ()
    words: str = ""


@dataclass(frozen=True, slots=True)
class Evidence:
    """What the record holds behind a claim.

    Attributes:
        refs: operations that it stands on.
        entries: of work on them.
        builder_hours, other_hours: logged by the builder, and by helpers or paid hands.
        photos: of them.
        builder_photos: on which somebody marked the builder by hand.
    """

    refs: tuple[str, ...]
    entries: int
    builder_hours: float
    other_hours: float
    photos: int
    builder_photos: int


@dataclass(frozen=True, slots=True)
class Standing:
    """A column's sum in tenths."""

    key: str
    title: str
    builder: bool
    tenths: int

    @property
    def points(self) -> str:
        """As the form has it: ``12.3``."""
        return points(self.tenths)


@dataclass(frozen=True, slots=True)
class Total:
    """The running total.

    Attributes:
        columns: sums.
        claimed: tasks with a claim that apply.
        left_out: tasks that do not apply.
        open: tasks with no claim yet.
        share: per cent of the builder's columns in what is claimed; None while nothing is.
        least, most: the share if all open tasks went to others, or to the builder.
        finding: against the least share of the list, or None where it has none.
    """

    columns: tuple[Standing, ...]
    claimed: int
    left_out: int
    open: int
    share: float | None
    least: float
    most: float
    finding: Finding | None


def points(tenths_: int) -> str:
    """Tenths as a number with one place."""
    return f"{tenths_ // 10}.{tenths_ % 10}"


def tenths(text: str, *, field: str) -> int:
    """Tenths as people type them: ``.3``, ``0.3``, ``3/10``, ``1``; empty is none.

    Raises:
        FormatError: no tenth, or more than one point.
    """
    said = text.strip()
    if not said:
        return 0
    match = re.fullmatch(r"(\d?)(?:[.,](\d)0*)?", said, re.ASCII)
    over = re.fullmatch(r"(\d{1,2})\s*/\s*10", said, re.ASCII)
    value = (
        int(over.group(1))
        if over
        else int(match.group(1) or 0) * 10 + int(match.group(2) or 0)
        if match
        else -1
    )
    if not 0 <= value <= WHOLE:
        raise FormatError(
            field,
            found=text,
            allowed="tenths from 0 to 1, such as .3",
            mend="A task is one point; only tenths are given.",
        )
    return value


def check_claim(claim: Claim, listed: PortionList) -> Claim:
    """A claim that adds up: one point over the columns of the list, or not applicable with none.

    Raises:
        UnknownNameError: no such task. InputError: it does not add up.
    """
    task = listed.task(claim.key)
    known = {column.key for column in listed.columns}
    wrong = sorted(set(claim.tenths) - known)
    if wrong:
        raise InputError(f"{claim.key}: column", found=wrong[0], allowed=", ".join(sorted(known)))
    total = sum(claim.tenths.values())
    if claim.applies and total != WHOLE:
        raise InputError(
            f"{claim.key} {task.title}", found=f"{points(total)} in all", allowed="1.0 in all",
            because="the tenths of a task must add up to one point", mend="Share the whole task out, or mark it as not applicable.",
        )  # fmt: skip
    if not claim.applies and total:
        raise InputError(
            f"{claim.key} {task.title}", found=f"{points(total)} in all", allowed="none",
            because="a task that does not apply is left out", mend="Take the tenths away, or let it apply.",
        )  # fmt: skip
    return claim


def credit(listed: PortionList, claims: Iterable[Claim]) -> Total:
    """The running total of a list.

    Args:
        listed: the list.
        claims: at most one a task; claims of tasks that the list no longer has are left out.
    """
    by_key = {claim.key: claim for claim in claims}
    mine = [by_key[task.key] for task in listed.tasks if task.key in by_key]
    applying = [claim for claim in mine if claim.applies]
    sums = tuple(
        Standing(
            column.key,
            column.title,
            column.builder,
            sum(claim.tenths.get(column.key, 0) for claim in applying),
        )
        for column in listed.columns
    )
    whole = sum(one.tenths for one in sums)
    builder = sum(one.tenths for one in sums if one.builder)
    open_ = len(listed.tasks) - len(mine)
    all_ = whole + open_ * WHOLE
    share = 100 * builder / whole if whole else None
    return Total(
        sums, len(applying), len(mine) - len(applying), open_, share, 100 * builder / all_ if all_ else 0.0,
        100 * (builder + open_ * WHOLE) / all_ if all_ else 0.0, None if share is None else _judged(listed, share),
    )  # fmt: skip


def _judged(listed: PortionList, share: float) -> Finding | None:
    if listed.least_share is None:
        return None
    cell = table("regulations/portion-rule").cell("least share of the builder", "share")
    because = (
        Because.cell(cell) if listed.name == "us" and cell.value == listed.least_share
        else Because("worked out", f"least share of the list “{listed.name}”: {listed.rule}", listed.least_rung)
    )  # fmt: skip
    requirement = Requirement(
        name="builder's share", unit="%", low=listed.least_share, nominal=None, high=None, because=because, how="the builder's columns over all columns",
        when_low="Not there yet, or not at all: show the list to the inspector before more work is given away.", when_high="",
    )  # fmt: skip
    return compare(requirement, Reading(share, "%"))


def weak_points(claim: Claim, evidence: Evidence, builder_columns: Sequence[str]) -> tuple[str, ...]:
    """What an inspector would ask about a claim; empty when nothing is missing."""
    if not claim.applies:
        return () if claim.words else ("no word says why it does not apply",)
    own = sum(claim.tenths.get(key, 0) for key in builder_columns)
    if not own:
        return ()
    if not evidence.refs:
        return ("no operation stands behind it",)
    said = []
    if not evidence.builder_hours:
        said.append("no hours of the builder on it")
    if not evidence.photos:
        said.append("no photo")
    elif not evidence.builder_photos:
        said.append("no photo with the builder marked in it")
    if own == WHOLE and evidence.other_hours:
        said.append(f"claimed whole, but others logged {evidence.other_hours:.1f} h")
    return tuple(said)
