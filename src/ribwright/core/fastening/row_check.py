"""A driven row looked at: formed heads by a named criterion, faults seen, what to do next; a gauge to cut."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from ribwright.core.audit import Outcome, Result, Worksheet, calculation, choice, quantity, rows, text, whole
from ribwright.core.bench import CAUTIONS, Because, Finding, Reading, Requirement, Verdict, compare
from ribwright.core.fastening.heads import formed_head_requirements, row_next
from ribwright.core.fastening.rivets import SIZES
from ribwright.core.scene import Circle, Item, Line, Marker, Polyline, Scene, Text
from ribwright.core.scene.graph import NUMBERS
from ribwright.core.tables import table
from ribwright.core.units import Quantity
from ribwright.errors import InputError, MissingError, OutOfRangeError

CRITERIA = ("default", "MIL-HDBK-5", "drawing", "double flush")
FAULTS = ("none", "tipped", "cracked", "open", "gap under head", "head above the skin")


@dataclass(frozen=True, slots=True)
class Head:
    """One formed head as measured or seen."""

    hole: int = whole("Hole number", help="counted from the row's first hole", example="7", low=1, high=2001)
    diameter: Quantity | None = quantity(
        "in",
        "Diameter",
        help="calipers across the widest part",
        example=".140",
        low="0.02 in",
        high="1 in",
        optional=True,
    )
    height: Quantity | None = quantity(
        "in",
        "Height",
        help="depth end of the calipers beside the head; above the skin for a double flush",
        example=".046",
        low="-0.05 in",
        high="0.5 in",
        optional=True,
    )
    fault: str = choice("Seen", FAULTS, help="what the eye sees", default="none")


@dataclass(frozen=True, slots=True)
class DrivenRow:
    """A row after driving."""

    title: str = text("Seam", help="which row", example="skin to spar, left aileron")
    size: str = choice("Rivet diameter", SIZES, help="as drawn", default="3/32")
    holes: int = whole(
        "Rivets in the row", help="for how many may be replaced", example="52", low=1, high=2001
    )
    criterion: str = choice("Criterion", CRITERIA, help="the drawing's, else the default", default="default")
    least_diameter: Quantity | None = quantity(
        "in",
        "Least diameter on the drawing",
        help="for the drawing's criterion",
        example=".122",
        low="0.02 in",
        high="1 in",
        optional=True,
    )
    least_height: Quantity | None = quantity(
        "in",
        "Least height on the drawing",
        help="for the drawing's criterion",
        example=".038",
        low="0.005 in",
        high="0.5 in",
        optional=True,
    )
    greatest_height: Quantity | None = quantity(
        "in",
        "Greatest height on the drawing",
        help="for the drawing's criterion",
        example=".050",
        low="0.005 in",
        high="0.5 in",
        optional=True,
    )
    uncertainty: Quantity = quantity(
        "in",
        "Plus or minus",
        help="of a caliper reading",
        example=".001",
        low="0 in",
        high="0.02 in",
        default="0.001 in",
    )
    heads: tuple[Head, ...] = rows(Head, "Heads", help="those measured or looked at", least=1)

    def __post_init__(self) -> None:
        if self.criterion == "drawing" and (self.least_diameter is None or self.least_height is None):
            raise MissingError(
                "Least diameter on the drawing",
                allowed="diameter and height",
                mend="Enter the drawing's limits or choose the default criterion.",
            )
        beyond = [h.hole for h in self.heads if h.hole > self.holes]
        if beyond:
            raise OutOfRangeError(
                "Hole number",
                found=beyond[0],
                allowed=f"1 to {self.holes}",
                mend="Count from the row's first hole.",
            )
        numbers = [h.hole for h in self.heads]
        if len(set(numbers)) != len(numbers):
            raise InputError(
                "Hole number",
                found="one hole twice",
                allowed="each hole once",
                mend="Remove one of the two rows.",
            )


def limits_of(spec: DrivenRow) -> tuple[Requirement, Requirement]:
    """Diameter and height limits by the criterion chosen; never the intersection of several."""
    if spec.criterion == "double flush":
        return _double_flush(spec.size)
    if spec.criterion != "drawing":
        wide, tall = formed_head_requirements(spec.size, criterion=spec.criterion)
        return wide, tall
    wide, tall = formed_head_requirements(spec.size)
    assert spec.least_diameter is not None
    assert spec.least_height is not None
    because = Because.drawing("", "", "formed head called out")
    high = spec.greatest_height.value if spec.greatest_height else None
    if high is not None and high < spec.least_height.value:
        raise InputError(
            "Greatest height on the drawing",
            found=spec.greatest_height,
            allowed="not under the least height",
            mend="Copy both from the drawing.",
        )

    def own(base: Requirement, low: float, top: float | None) -> Requirement:
        return Requirement(
            base.name, base.unit, low, base.nominal if low <= (base.nominal or low) <= (top or 9.0) else None, top, because,
            base.how, base.when_low, base.when_high, usual_u=base.usual_u,
        )  # fmt: skip

    return own(wide, spec.least_diameter.value, None), own(tall, spec.least_height.value, high)


def _double_flush(size: str) -> tuple[Requirement, Requirement]:
    """Limits of a rivet set into a seat on the far side: it fills the seat and lies level."""
    head = table("rivets/flush-head").cell(size, "diameter")
    wide = Requirement(
        name="far face across", unit="in", low=head.canonical - table("rivets/flush-head").cell(size, "tolerance").canonical,
        nominal=head.canonical, high=None, because=Because.cell(head, "the far seat is full"),
        how="calipers over the face of the rivet", when_low="The seat isn't full: a longer rivet from here on; replace this one.", when_high="Go on.",
        usual_u=0.002,
    )  # fmt: skip
    level = Requirement(
        name="far face above its skin", unit="in", low=-0.002, nominal=0.0, high=0.002,
        because=Because.worked_out("level within .002 in, common practice", "practice"), how="straight edge and feeler, along and across the row",
        when_low="Sunk: a longer rivet from here on; replace it if it is loose.", when_high="Set it a little more against the plate.", usual_u=0.001,
    )  # fmt: skip
    return wide, level


def _seen(head: Head) -> Finding:
    nexts = {
        "tipped": "Replace the rivet; look for a long rivet or a bar held askew.",
        "cracked": "Replace the rivet; look for hard rivets or slow setting.",
        "open": "Replace the rivet.",
        "gap under head": "Replace the rivet with the sheets clamped on both sides.",
        "head above the skin": "Set it once more against a heavy bar; if it stays, replace it and look at the seat.",
    }
    return Finding(
        Verdict.REWORK, None, "", f"{head.fault} was seen", nexts[head.fault], "looks", f"hole {head.hole}"
    )


@calculation(
    "check-row",
    title="Check of a driven row",
    summary="Formed heads held against a named criterion, faults seen, what to replace and when to ask; a go and no-go gauge at full size.",
    spec=DrivenRow,
    results=(
        "within",
        "set_again",
        "replace",
        "measure_again",
        "ask",
        "least_diameter",
        "height",
        "criterion",
    ),
)
def check_row(spec: DrivenRow, ws: Worksheet) -> Outcome:
    """Findings by head, the row's next action, the gauge."""
    wide, tall = limits_of(spec)
    ws.worked_out(
        "criterion",
        spec.criterion,
        f"{wide.because.text}; {tall.because.text}",
        rung=wide.because.rung if wide.because.rung != "drawing" else "seen",
    )
    aim = table("rivets/formed-head-criteria")
    ws.look_up("aim, diameter in D", aim.cell("default", "aim diameter"))
    ws.look_up("aim, height in D", aim.cell("default", "aim height"))
    u = spec.uncertainty.value
    findings: list[tuple[int, Finding]] = []
    for head in spec.heads:
        where = f"hole {head.hole}"
        if head.diameter is not None:
            findings.append(
                (head.hole, compare(wide, Reading(head.diameter.value, "in", u, "calipers", where)))
            )
        if head.height is not None:
            findings.append(
                (head.hole, compare(tall, Reading(head.height.value, "in", u, "calipers", where)))
            )
        if head.fault != "none":
            findings.append((head.hole, _seen(head)))
        if head.diameter is None and head.height is None and head.fault == "none":
            ws.note(
                f"Hole {head.hole}: nothing wrong seen is not a measurement; it stays undecided until it is gauged."
            )
            findings.append(
                (
                    head.hole,
                    Finding(
                        Verdict.UNDECIDED,
                        None,
                        "",
                        "nothing wrong was seen, nothing was measured",
                        "Put the gauge over it.",
                        "looks",
                        where,
                    ),
                )
            )
    final = table("rivets/drill").cell(spec.size, "final").text
    after = row_next(findings, holes=spec.holes, size=spec.size, drill=final)
    bad = {*after.set_again, *after.replace, *after.measure_again}
    good = [h.hole for h in spec.heads if h.hole not in bad]

    def said(holes: tuple[int, ...]) -> str:
        return ", ".join(map(str, holes)) or "none"

    results = {
        "within": Result("within limits", float(len(good)), "", places=0),
        "set_again": Result("set a little more", said(after.set_again)),
        "replace": Result("replace", said(after.replace)),
        "measure_again": Result("measure again", said(after.measure_again)),
        "ask": Result("ask", after.ask or "no need"),
        "least_diameter": Result("least diameter", wide.low or 0.0, "in", limit="least"),
        "height": Result("height", tall.nominal or tall.low or 0.0, "in", tall.low, tall.high),
        "criterion": Result("criterion", spec.criterion),
    }
    return Outcome(
        tuple(ws.steps), results, (wide, tall), tuple(f for _, f in findings), CAUTIONS, _map(spec, bad), (), () if spec.criterion == "double flush" else (gauge(spec.size, wide, tall),)
    )  # fmt: skip


def gauge(size: str, wide: Requirement, tall: Requirement) -> Scene:
    """Plate outline at full size: a hole that no good head passes, and two notches of greatest and least height.

    Cut or printed it serves as go and no-go; the notches stand on the sheet and bridge the head.
    """
    d = float(Fraction(size))
    low, high, least = tall.low or 0.3 * d, tall.high, wide.low or 1.3 * d
    room = 2.2 * d
    points: list[tuple[float, float]] = [(0.0, 0.0)]
    x = 0.3
    notches = [("least height: must rock", low)] + (
        [("greatest height: must stand flat", high)] if high is not None else []
    )
    for _, deep in notches:
        points += [(x, 0.0), (x, deep), (x + room, deep), (x + room, 0.0)]
        x += room + 0.35
    points += [(x + 0.7, 0.0), (x + 0.7, 0.9), (0.0, 0.9)]
    items: list[Item] = [
        Polyline(tuple(points), closed=True, layer="cut"),
        Circle((x + 0.2, 0.5), least / 2, layer="cut"),
    ]
    x = 0.3
    for name, deep in notches:
        items.append(Text((x, 0.3), f"{deep:.3f}", 0.08))
        items.append(Text((x, 1.0 if x < 0.5 else 1.15), name, 0.07))
        x += room + 0.35
    items.append(Text((x - 0.05, 0.72), f"no-go {least:.3f}", 0.07))
    items.append(Text((0.05, 0.75), f"{size}", 0.1))
    items.append(Line((0.0, -0.02), (0.2, -0.02), "thin"))
    said = (
        f"Gauge for {size} rivets: a good head does not pass a hole of {least:.3f} in; notches {low:.3f} in"
        + (f" and {high:.3f} in high." if high else " high.")
    )
    return Scene(tuple(items), f"Head gauge {size}", said)


A_LINE = 10
"""Holes to a line of the drawing: as many as a phone has room for."""


def _map(spec: DrivenRow, bad: set[int]) -> Scene:
    items: list[Item] = []
    seen = {h.hole for h in spec.heads}
    for hole in range(1, spec.holes + 1):
        x, y = ((hole - 1) % A_LINE) * 0.5, -((hole - 1) // A_LINE) * 0.7
        label = "x" if hole in bad else "ok" if hole in seen else ""
        items.append(
            Marker((x, y), "hole", label, 0.17, NUMBERS) if hole in seen else Circle((x, y), 0.06, "thin")
        )
        if hole % A_LINE in (1, A_LINE // 2 + 1) or hole in seen:
            items.append(Text((x, y - 0.3), str(hole), NUMBERS, "middle"))
    return Scene(
        tuple(items),
        f"Row as checked: {spec.title}",
        f"{spec.holes} rivets, {len(seen)} looked at, not good or undecided: {', '.join(map(str, sorted(bad))) or 'none'}.",
    )
