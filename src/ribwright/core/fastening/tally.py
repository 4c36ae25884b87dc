"""The tally of a row while it is driven: what the bucker sees of each formed head, called across to the shooter."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from ribwright.core.bench import Finding, Verdict
from ribwright.core.bench.closing import BY_EYE
from ribwright.errors import MissingError, OutOfRangeError, UnknownNameError

MARKS = ("good", "a bit more", "replace")
TALLY = "row tally, from the bucker's side"

_NEXT = {
    "a bit more": "Set it a little more, in short bursts, and look again.",
    "replace": "Replace the rivet: drill the manufactured head, punch the shank out, measure the hole.",
}


def check_marks(marks: Mapping[int, str], holes: Iterable[int]) -> dict[int, str]:
    """The marks in order of the holes.

    Raises:
        MissingError: no hole is marked.
        OutOfRangeError: the row has no rivet there.
        UnknownNameError: another word than ``MARKS``.
    """
    known = set(holes)
    if not marks:
        raise MissingError("tally", allowed="a mark for at least one hole", mend="Mark the heads you saw.")
    for hole, mark in marks.items():
        if mark not in MARKS:
            raise UnknownNameError(f"hole {hole}", found=mark, allowed=", ".join(MARKS))
        if hole not in known:
            raise OutOfRangeError(
                "hole",
                found=hole,
                allowed=f"a hole with a rivet, {run_text(known)}",
                mend="Count again from hole 1.",
            )
    return dict(sorted(marks.items()))


def tally_text(marks: Mapping[int, str]) -> str:
    """All marks in one line: ``1 to 6 good; 7 a bit more``."""
    words = []
    for mark in MARKS:
        holes = [hole for hole, said in marks.items() if said == mark]
        if holes:
            words.append(f"{run_text(holes)} {mark}")
    return "; ".join(words)


def tally_findings(marks: Mapping[int, str], before: Mapping[int, str]) -> tuple[Finding, ...]:
    """What follows from the marks. A reject is rework; nothing wrong seen is no measurement and stays undecided.

    Args:
        marks: new marks by hole.
        before: the last marks by hole; a head that was not good and now is gets a finding of its own,
            so that the earlier one is seen to be settled.
    """
    made = []
    for hole, mark in marks.items():
        if mark in _NEXT:
            made.append(_finding(Verdict.REWORK, f"the bucker says: {mark}", _NEXT[mark], str(hole)))
        elif before.get(hole, "good") != "good":
            made.append(
                _finding(
                    Verdict.UNDECIDED,
                    f"was “{before[hole]}”, now nothing wrong is seen; not measured",
                    "Put the gauge over it.",
                    str(hole),
                )
            )
    good = [hole for hole, mark in marks.items() if mark == "good" and before.get(hole, "good") == "good"]
    if good:
        made.append(
            _finding(
                Verdict.UNDECIDED, "nothing wrong is seen from the bucker's side; not measured",
                "Put the gauge over a sample of them.", f"holes {run_text(good)}",
            )
        )  # fmt: skip
    return tuple(made)


def _finding(verdict: Verdict, reason: str, following: str, where: str) -> Finding:
    return Finding(verdict, None, "", reason, following, BY_EYE, where)


def run_text(holes: Iterable[int]) -> str:
    """``1 to 4, 6, 9 to 12``."""
    runs: list[list[int]] = []
    for hole in sorted(set(holes)):
        if runs and hole == runs[-1][1] + 1:
            runs[-1][1] = hole
        else:
            runs.append([hole, hole])
    return ", ".join(str(a) if a == b else f"{a}, {b}" if b == a + 1 else f"{a} to {b}" for a, b in runs)


def as_seen(holes: Sequence[int], *, first_on: str) -> tuple[int, ...]:
    """The row as somebody sees it from left to right.

    Args:
        holes: in the order of the drawing.
        first_on: ``left`` or ``right``: where this person has the first hole. Who stands on the other side of
            the sheet sees the row mirrored.
    """
    if first_on not in ("left", "right"):
        raise UnknownNameError("first hole", found=first_on, allowed="left, right")
    return tuple(holes) if first_on == "left" else tuple(reversed(holes))
