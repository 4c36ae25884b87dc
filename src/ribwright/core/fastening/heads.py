"""Formed heads: what each must measure, and which rivets to replace, how, when some are not good."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from ribwright.core.bench import Because, Finding, Requirement, Verdict
from ribwright.core.fastening.rivets import SIZES
from ribwright.core.tables import table

CRITERION = "default"
MOST_REPLACED_SHARE = 0.2
MOST_REPLACED = 10


def formed_head_requirements(size: str, *, criterion: str = CRITERION) -> tuple[Requirement, ...]:
    """Diameter and height of a formed head for this rivet size by a named criterion.

    The default takes limits quoted from one military specification and the shop aim of the repair
    handbook; the intersection of all published criteria is never taken, since it would drill out good rivets.
    """
    rules = table("rivets/formed-head-criteria")
    d = float(Fraction(size))
    wide = rules.cell(criterion, "least diameter")
    requirements = [
        Requirement(
            name="formed head diameter",
            unit="in",
            low=wide.value * d,
            nominal=rules.cell("default", "aim diameter").value * d,
            high=None,
            because=Because.cell(wide, f"at least {wide.text} D"),
            how="calipers across the widest part, or the go gauge of this sheet",
            when_low="Set it once more if it is flat and the sheet is tight; if it stays small, replace the rivet.",
            when_high="Too wide is too flat: see the height.",
            usual_u=0.002,
        )
    ]
    low = rules.cell(criterion, "least height")
    has_high = criterion == "default"
    high = rules.cell("default", "greatest height") if has_high else None
    requirements.append(
        Requirement(
            name="formed head height",
            unit="in",
            low=low.value * d,
            nominal=rules.cell("default", "aim height").value * d,
            high=None if high is None else high.value * d,
            because=Because.cell(low, f"{low.text} D" + (f" to {high.text} D" if high else " or more")),
            how="depth end of the calipers beside the head, or the height notch of the gauge",
            when_low="Overdriven: replace the rivet; never set it again.",
            when_high="Set it a little more, in short bursts, and measure again.",
            usual_u=0.002,
        )
    )
    return tuple(requirements)


@dataclass(frozen=True, slots=True)
class Replacement:
    """What to do about the heads of a row that are not good: which holes, how, and whether to ask first."""

    set_again: tuple[int, ...]
    replace: tuple[int, ...]
    measure_again: tuple[int, ...]
    ask: str
    steps: tuple[str, ...]


def row_next(findings: Sequence[tuple[int, Finding]], *, holes: int, size: str, drill: str) -> Replacement:
    """Sum a row's head findings up to one action.

    Args:
        findings: hole number (from 1) with one finding each; a hole may have several.
        holes: rivets in the row.
        size: rivet size, for the next size up.
        drill: final drill of the row.
    """
    replace: set[int] = set()
    again: set[int] = set()
    measure: set[int] = set()
    for hole, finding in findings:
        if finding.verdict is Verdict.UNDECIDED:
            measure.add(hole)
        elif finding.verdict in (Verdict.REWORK, Verdict.REFER):
            (again if finding.next.startswith("Set it a little more") else replace).add(hole)
    again -= replace
    measure -= replace
    ask = ""
    run = sorted(replace)
    neighbours = any(b - a == 1 and c - b == 1 for a, b, c in zip(run, run[1:], run[2:], strict=False))
    if len(replace) > min(MOST_REPLACED, MOST_REPLACED_SHARE * holes) or neighbours:
        ask = (
            "Many rivets to replace in one row, or three side by side: stop, find the cause on a trial piece, "
            "and ask before drilling (second-hand limit: one in five or ten of a pattern, at most two neighbours)."
        )
    bigger = SIZES[SIZES.index(size) + 1] if size in SIZES[:-1] else ""
    steps = (
        f"Centre-mark the manufactured head, drill it with {drill} no deeper than the head.",
        "Snap the head off with a pin punch; support the back and tap the shank out.",
        "Measure the hole. Round and not over the finished size: same rivet again.",
        (
            f"Larger or egg-shaped: next size ({bigger}) only if edge distance and pitch still hold for it; else ask."
            if bigger
            else "Larger or egg-shaped: ask."
        ),
    )
    return Replacement(
        tuple(sorted(again)), tuple(run), tuple(sorted(measure)), ask, steps if replace else ()
    )
