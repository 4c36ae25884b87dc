"""What follows from a mistake: within limits, how to mend it, or ask; decided by measurements where they decide."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction

from ribwright.core.audit import (
    Worksheet,
)
from ribwright.core.bench import Because, Finding, Reading, Requirement, Verdict, compare
from ribwright.core.fastening.mistake_spec import Mistake
from ribwright.core.fastening.rivets import SIZES
from ribwright.core.fastening.row import edge_requirement, kind_of, pitch_requirement
from ribwright.core.tables import drill_sizes, table

WITHIN, MEND, ASK = "within limits", "how to mend", "ask"


@dataclass(frozen=True, slots=True)
class Ruling:
    """What follows: one of the three answers, why, what to do, and the rivet that goes in."""

    answer: str
    why: str
    steps: tuple[str, ...]
    next_size: str
    percent: float | None
    findings: tuple[Finding, ...]
    requirements: tuple[Requirement, ...]


def _hole_limits(spec: Mistake) -> Requirement:
    final = table("rivets/drill").cell(spec.size, "final")
    nominal = float(drill_sizes()[final.text])
    return Requirement(
        name="finished hole", unit="in", low=nominal - 0.001, nominal=nominal, high=nominal + 0.003,
        because=Because.cell(final, f"drill {final.text}, room of .003 in by common practice"), how="taper gauge or two drill shanks",
        when_low="Run the final drill through once more.", when_high="Oversize: see the next size.", usual_u=0.001,
    )  # fmt: skip


def next_size(size: str, largest_in: float) -> str:
    """The next rivet whose drill cleans the hole up, at most 1/32 in larger; empty when there is none."""
    step = table("acceptance/oversize").cell("step up to 1/4 in", "value").value
    for bigger in SIZES[SIZES.index(size) + 1 :]:
        over = float(Fraction(bigger) - Fraction(size))
        drill = float(drill_sizes()[table("rivets/drill").cell(bigger, "final").text])
        if over <= step + 1e-9 and drill >= largest_in - 1e-9:
            return bigger
    return ""


def replacement_steps(size: str, goes_in: str, *, rivet_in: bool = True) -> tuple[str, ...]:
    """Drilling a rivet out (where one is in) and putting the next one in."""
    drills = table("rivets/drill")
    same = goes_in == size
    out = (
        f"Centre-mark the manufactured head; drill it {drills.cell(size, 'pilot').text} no deeper than the head.",
        "Snap the head off with a pin punch of the shank's size; support the back, tap the shank out.",
    )
    final = drills.cell(goes_in, "final").text
    seat = "" if same else f" for the {goes_in} rivet; seat every layer for the larger head where it is flush"
    return (
        *(
            out
            if rivet_in
            else (
                "If a rivet is in it already: drill its head off, punch the shank out, the back supported.",
            )
        ),
        "Measure the hole twice, square to each other.",
        f"Drill {final} through the clamped stack{seat}.",
        "Deburr, set, measure the formed head; enter hole number, size and reason.",
    )


def judge(spec: Mistake, ws: Worksheet) -> Ruling:
    """Decide from the measurements where they decide, from the table of mistakes where not."""
    d = float(Fraction(spec.size))
    u = spec.uncertainty.value
    kind = kind_of(spec.head)
    findings: list[Finding] = []
    requirements: list[Requirement] = []

    def hold(requirement: Requirement, value: float, where: str) -> Verdict:
        requirements.append(requirement)
        findings.append(compare(requirement, Reading(value, "in", u, "calipers", where)))
        return findings[-1].verdict

    percent = _percent(spec, spec.size, ws)
    if spec.what in ("oversize hole", "figure-eight hole", "wrong drill"):
        assert spec.largest is not None
        in_hole = hold(_hole_limits(spec), spec.largest.value, f"hole {spec.hole}")
        if in_hole is Verdict.WITHIN:
            return Ruling(WITHIN, "The hole is within its limits.", ("Go on with the rivet as drawn.",), spec.size, percent, tuple(findings), tuple(requirements))  # fmt: skip
        wanted = requirements[-1].nominal or 0.0
        if spec.largest.value < wanted:
            drill = table("rivets/drill").cell(spec.size, "final").text
            return Ruling(
                MEND, f"The hole is smaller than its drill, {drill}, leaves it: it is not spoiled, only unfinished.",
                (f"Run the {drill} drill through the clamped stack once more.", "Deburr, and measure the hole again."), spec.size, percent, tuple(findings), tuple(requirements),
            )  # fmt: skip
        bigger = next_size(spec.size, spec.largest.value + u)
        if not bigger:
            return Ruling(ASK, "No rivet within 1/32 in larger cleans this hole up.", (), "", percent, tuple(findings), tuple(requirements))  # fmt: skip
        d2 = float(Fraction(bigger))
        percent = _percent(spec, bigger, ws)
        against: list[str] = []
        wanting: list[str] = []
        for value, requirement, what, where in (
            (spec.edge or spec.drawn_edge, edge_requirement(kind, d2), "edge distance", f"edge distance for {bigger}"),
            (spec.pitch, pitch_requirement(d2), "distance to the nearest neighbour", f"pitch for {bigger}"),
        ):  # fmt: skip
            if value is None:
                ws.note(
                    f"{where.capitalize()}: not entered, so it can't be said whether the larger rivet may go in."
                )
                wanting.append(what)
            elif hold(requirement, value.value, where) is not Verdict.WITHIN:
                against.append(f"its {what} does not hold")
        if kind == "flush" and spec.layers and bigger not in table("rivets/flush-head").row_keys():
            against.append("no flush head of that size is known here")
        if against or wanting:
            why = f"A {bigger} rivet would clean the hole up, but " + " and ".join(
                (*against, *((f"its {' and '.join(wanting)} {'were' if len(wanting) > 1 else 'was'} not entered: measure and enter it",) if wanting else ()))
            ) + "."  # fmt: skip
            return Ruling(ASK, why, (), bigger, percent, tuple(findings), tuple(requirements))
        return Ruling(
            MEND, f"A {bigger} rivet cleans the hole up; edge distance and pitch hold for it.",
            (*replacement_steps(spec.size, bigger, rivet_in=False), *_count_rule()), bigger, percent, tuple(findings), tuple(requirements),
        )  # fmt: skip
    if spec.what in ("short edge distance", "extra hole"):
        assert spec.edge is not None
        at_edge = hold(edge_requirement(kind, d), spec.edge.value, f"hole {spec.hole}")
        near = (
            Verdict.WITHIN
            if spec.pitch is None
            else hold(pitch_requirement(d), spec.pitch.value, "to the neighbour")
        )
        if at_edge is Verdict.WITHIN and near is Verdict.WITHIN:
            if spec.what == "extra hole":
                if spec.pitch is None:
                    ws.note("To the nearest neighbour: not entered.")
                    return Ruling(
                        ASK,
                        "Distance to the nearest neighbour was not entered.",
                        (),
                        "",
                        percent,
                        tuple(findings),
                        tuple(requirements),
                    )
                return Ruling(
                    MEND, "The extra hole keeps edge distance and pitch.",
                    ("Deburr it and fill it with the rivet of the row, so that no open hole is left.", "Enter it: hole, place, reason."),
                    spec.size, percent, tuple(findings), tuple(requirements),
                )  # fmt: skip
            return Ruling(
                WITHIN,
                "Edge distance holds.",
                ("Go on.",),
                spec.size,
                percent,
                tuple(findings),
                tuple(requirements),
            )
        return Ruling(ASK, "Edge distance or pitch is short, or can't be told from its limit.", (), "", percent, tuple(findings), tuple(requirements))  # fmt: skip
    if spec.what == "countersunk too deep":
        return _too_deep(spec, ws, hold, percent, findings, requirements)
    return _by_table(spec, ws, percent, findings, requirements)


def _too_deep(
    spec: Mistake,
    ws: Worksheet,
    hold: Callable[[Requirement, float, str], Verdict],
    percent: float | None,
    findings: list[Finding],
    requirements: list[Requirement],
) -> Ruling:
    assert spec.seat is not None
    from ribwright.core.fastening.double_flush import cone_depth_in

    heads = table("rivets/flush-head")
    head, room = (heads.cell(spec.size, c) for c in ("diameter", "tolerance"))
    hole = table("rivets/nominal-hole").cell(spec.size, "diameter").canonical
    t = spec.layers[0].thickness.value
    depth = ws.step(
        "depth of the seat", cone_depth_in, head_in=max(spec.seat.value, hole + 0.001), hole_in=hole
    )
    seat = Requirement(
        name="countersink across", unit="in", low=head.canonical - room.canonical, nominal=head.canonical,
        high=head.canonical + room.canonical, because=Because.cell(head, "the head's own diameter and tolerance"),
        how="calipers over the seat", when_low="Countersink one click deeper.",
        when_high="Too deep: see the next size, or ask.",
    )  # fmt: skip
    verdict = hold(seat, spec.seat.value, f"hole {spec.hole}")
    if verdict is Verdict.WITHIN:
        return Ruling(
            WITHIN,
            "The seat is within the head's tolerance.",
            ("Go on.",),
            spec.size,
            percent,
            tuple(findings),
            tuple(requirements),
        )
    if depth >= t:
        ws.note(
            f"The seat is {depth:.3f} in deep in a sheet of {t:.3f} in: a knife edge, the hole has grown."
        )
    ahead = SIZES[SIZES.index(spec.size) + 1] if spec.size != SIZES[-1] else ""
    least = table("rivets/countersink-least-sheet")
    if (
        ahead in heads.row_keys() and ahead in least.row_keys() and spec.seat.value <= heads.cell(ahead, "diameter").canonical
        and t >= least.cell(ahead, "usual").canonical - 1e-9 and (spec.edge or spec.drawn_edge) is not None and spec.pitch is not None
    ):  # fmt: skip
        d2 = float(Fraction(ahead))
        edge = spec.edge or spec.drawn_edge
        assert edge is not None
        good = hold(edge_requirement("flush", d2), edge.value, f"edge distance for {ahead}") is Verdict.WITHIN
        good &= hold(pitch_requirement(d2), spec.pitch.value, f"pitch for {ahead}") is Verdict.WITHIN
        if good:
            return Ruling(MEND, f"The next rivet, {ahead}, fills the seat; sheet, edge distance and pitch hold for it.", (*replacement_steps(spec.size, ahead, rivet_in=False), *_count_rule()), ahead, _percent(spec, ahead, ws), tuple(findings), tuple(requirements))  # fmt: skip
    return Ruling(
        ASK,
        "The seat is too deep and the next rivet is not shown to fit.",
        (),
        "",
        percent,
        tuple(findings),
        tuple(requirements),
    )


def _by_table(
    spec: Mistake,
    ws: Worksheet,
    percent: float | None,
    findings: list[Finding],
    requirements: list[Requirement],
) -> Ruling:
    rule = table("acceptance/mistakes")
    answer = rule.cell(spec.what, "answer")
    ws.look_up("what follows", answer)
    steps = [rule.cell(spec.what, "do").text, "Look for: " + rule.cell(spec.what, "look for").text]
    if answer.text == "replace" and spec.what not in ("two of one hand", "crack in a new part", "bolt short"):
        steps += replacement_steps(spec.size, spec.size)
    if spec.what == "hole missing" and spec.edge is not None:
        requirement = edge_requirement(kind_of(spec.head), float(Fraction(spec.size)))
        requirements.append(requirement)
        findings.append(
            compare(
                requirement, Reading(spec.edge.value, "in", spec.uncertainty.value, where=f"hole {spec.hole}")
            )
        )
        if findings[-1].verdict is not Verdict.WITHIN:
            return Ruling(
                ASK,
                "The missing hole would lie too near the edge.",
                (),
                "",
                percent,
                tuple(findings),
                tuple(requirements),
            )
    if answer.text == "ask":
        return Ruling(ASK, steps[0], (), "", percent, tuple(findings), tuple(requirements))
    return Ruling(MEND, steps[0], tuple(steps), spec.size, percent, tuple(findings), tuple(requirements))


def _count_rule() -> tuple[str, ...]:
    rule = table("acceptance/oversize")
    share, number, side = (
        rule.cell(k, "limit").text for k in ("share of a pattern", "number in a pattern", "side by side")
    )
    return (
        f"Oversize rivets in one pattern: at most {share} or {number}, whichever is less, {side} (second-hand); more: ask.",
    )


def _percent(spec: Mistake, goes_in: str, ws: Worksheet) -> float | None:
    """As built against as drawn: the worst of edge tear-out, sheet between the holes and rivet area; needs no load."""
    hole = table("rivets/nominal-hole").cell(spec.size, "diameter").canonical
    now = max(
        spec.largest.value if spec.largest else hole,
        table("rivets/nominal-hole").cell(goes_in, "diameter").canonical,
    )
    parts: list[tuple[str, float]] = []
    drawn, built = spec.drawn_edge, spec.edge or spec.drawn_edge
    if drawn is not None and built is not None:
        left = max(built.value - now / 2, 0.0) / (drawn.value - hole / 2) if drawn.value > hole / 2 else 0.0
        parts.append(("edge torn out", left))
    if spec.pitch is not None and spec.pitch.value > hole:
        parts.append(
            ("sheet between the holes", max(spec.pitch.value - now, 0.0) / (spec.pitch.value - hole))
        )
    if goes_in != spec.size:
        parts.append(("rivet in shear", float(Fraction(goes_in) / Fraction(spec.size)) ** 2))
    if not parts:
        return None
    name, share = min(parts, key=lambda p: p[1])
    ws.worked_out(
        "as built against as drawn", f"{100 * share:.1f} %, {name}",
        "the worst ratio of what is left to what was drawn: " + ", ".join(f"{n} {100 * s:.1f} %" for n, s in parts),
        value=100 * share, unit="%",
    )  # fmt: skip
    return 100 * share
