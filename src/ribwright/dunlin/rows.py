"""Rows of fasteners: what is joined, where the row lies in each part, which fastener, how long the stages take."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from ribwright.core.fastening.length import rivet_length_in, rounded_length_16
from ribwright.core.fastening.rivets import rivet
from ribwright.core.fastening.spacing import spaces_for
from ribwright.core.tables import table
from ribwright.dunlin.things import DRAWING_REVISION, Point, Thing, about, apart, inch, texts

SEAM = "seam"
FLUSH, UNIVERSAL = "flush 100°", "universal"


@dataclass(frozen=True, slots=True)
class Joined:
    """A part of the stack and where the row's first hole and its direction lie in it."""

    part: Thing
    start: Point
    toward: Point

    def end(self, run: float) -> Point:
        """Where the last hole lies, this far along."""
        whole = apart(self.start, self.toward)
        share = run / whole
        return (
            self.start[0] + share * (self.toward[0] - self.start[0]),
            self.start[1] + share * (self.toward[1] - self.start[1]),
        )


@lru_cache(maxsize=4096)
def rivet_for(head: str, size: str, grip_in: float) -> str:
    """Part number of the usual rivet for a grip, by the same rule that the seam works out."""
    rule = table("rivets/length").cell("half size" if size in ("3/32", "1/8") else "standard head", "step")
    extra = table("rivets/length").cell("half size" if size in ("3/32", "1/8") else "standard head", "extra")
    a, b = size.split("/")
    wanted = rivet_length_in(grip_in=grip_in, extra_ratio=extra.value, diameter_in=int(a) / int(b))
    return rivet(head, "AD", size, rounded_length_16(float(wanted), rule.value)).part_number


def between_holes(first: float, last: float, pitch: float, wanted: float) -> float:
    """The place half-way between two holes of a row that is nearest to the one wanted, for a row that crosses it."""
    spaces = spaces_for(first, last, pitch)
    step = (last - first) / spaces
    return first + (min(spaces - 1, max(0, math.floor((wanted - first) / step))) + 0.5) * step


def stages(
    seed: int,
    ref: str,
    holes: int,
    *,
    flush: bool,
    bucked: bool = True,
    fit: bool = False,
    refit: bool = True,
    setting: str = "rivet",
) -> list[dict[str, str]]:
    """The stages of a row with their hours: so much to begin, so much for each hole."""
    plan = [("fit", 0.4, 0.002)] if fit else []
    plan += [("drill", 0.2, 0.010), ("deburr", 0.1, 0.006)]
    if flush:
        plan.append(("dimple and countersink", 0.2, 0.009))
    plan.append(("finish", 0.15, 0.003))
    if refit:
        plan.append(("refit", 0.1, 0.003))
    plan.append((setting, 0.25, 0.014 if bucked else 0.006))
    return [
        {
            "name": name,
            "hours": inch(about(seed, f"{ref}/{name}", start + each * holes), 2),
            "helper": "yes" if bucked and name == setting and holes > 30 else "no",
        }
        for name, start, each in plan
    ]


def row(
    seed: int,
    ref: str,
    parent: str,
    title: str,
    joined: Sequence[Joined],
    run: float,
    *,
    hand: str = "none",
    head: str = FLUSH,
    size: str = "3/32",
    pitch: float,
    ends: tuple[float, float] = (0.375, 0.375),
    runs: str = "inboard to outboard",
    called: bool = True,
    exceptions: Sequence[dict[str, str]] = (),
    space: str = "",
    closes: str = "",
    after: Sequence[str] = (),
    primary: bool = False,
    fit: bool = False,
) -> Thing:
    """One row of solid rivets through parts.

    Args:
        joined: the stack from the manufactured head.
        run: from the first hole to the last.
        pitch: as drawn.
        ends: from the datum end of the shortest part to the first hole, and from the last hole to its other end.
        called: the drawing names the rivet; else it is worked out at the bench.
        exceptions: holes unlike the others, as the seam's drawing data has them.
        space: the space that it lies in.
        closes: the space that it closes.
        after: stages that come first, as ``REF/stage``.
        fit: the parts must be fitted before they are drilled.
    """
    grip = round(sum(float(one.part.data["thickness"]) for one in joined), 4)
    number = rivet_for(head, size, grip)
    first, last = round(ends[0], 3), round(ends[0] + run, 3)
    holes = spaces_for(first, last, pitch) + 1
    counts = {number: holes - len(exceptions)}
    for one in exceptions:
        if one["what"] == "other fastener":
            counts[one["fastener"]] = counts.get(one["fastener"], 0) + 1
    drawing = f"{parent}00"
    inputs: dict[str, Any] = {
        "title": title, "drawing": drawing, "revision": DRAWING_REVISION, "hand": hand,
        "primary": "yes" if primary else "no",
        "layers": [
            {
                "part": f"{one.part.ref} {one.part.title}", "thickness": f"{one.part.data['thickness']} in",
                "material": one.part.data["material"] if one.part.data["material"] != "stainless" else "other",
            }
            for one in joined
        ],
        "head": head, "size": size, "first": f"{inch(first)} in", "last": f"{inch(last)} in",
        "part_length": f"{inch(ends[0] + run + ends[1])} in", "pitch": f"{inch(pitch)} in", "row_runs": runs,
    }  # fmt: skip
    if called:
        inputs["rivet"] = number
    if exceptions:
        inputs["exceptions"] = [dict(one) for one in exceptions]
    data = {
        "calculation": SEAM, "inputs": inputs,
        **_common(joined, run, counts, space=space, closes=closes, after=after, primary=primary, drawing=drawing),
        "stages": stages(seed, ref, holes, flush=head == FLUSH, fit=fit),
        "head_side": "outside" if head == FLUSH else "the thinner sheet",
    }  # fmt: skip
    return Thing("operation", ref, parent, title, hand, data, (drawing, *(one.part.ref for one in joined)))


def _common(
    joined: Sequence[Joined],
    run: float,
    counts: dict[str, int],
    *,
    space: str,
    closes: str,
    after: Sequence[str],
    primary: bool,
    drawing: str,
) -> dict[str, Any]:
    """What every row says, whatever its fastener."""
    return {
        "parts": [one.part.ref for one in joined],
        "joins": [
            {"part": one.part.ref, "axes": one.part.data["axes"], "row": texts((one.start, one.end(run)))} for one in joined
        ],
        "fasteners": [{"part_number": name, "count": str(count)} for name, count in counts.items()],
        "after": list(after), "primary": "yes" if primary else "no", "drawing": drawing, "revision": DRAWING_REVISION,
        **({"space": space} if space else {}), **({"closes": closes} if closes else {}),
    }  # fmt: skip
