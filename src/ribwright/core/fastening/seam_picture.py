"""The seam drawn: the row folded so that it reads on a phone, the stack in section, and the drill strip."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from ribwright.core.fastening.batch import CHECKS
from ribwright.core.scene import (
    Dimension,
    Hand,
    Hatch,
    Item,
    Leader,
    Line,
    Marker,
    Polygon,
    Scene,
    Text,
    moved,
    orientation,
    together,
)
from ribwright.core.scene.graph import NUMBERS
from ribwright.core.scene.items import HoleKind
from ribwright.core.units import shown

if TYPE_CHECKING:
    from ribwright.core.fastening.seam import SeamPlan

HOLES_A_LINE, MOST_A_LINE = 10, 20
_PAGE_W, _PAGE_H = 7.2, 5.3  # room for a picture on a printed page, in inches
HOLES_A_PIECE = 5
_STEPS = (
    (0.0, "short"),
    (0.05, "under 5 %"),
    (0.2, "5 to 20 %"),
    (0.5, "20 to 50 %"),
    (float("inf"), "over 50 %"),
)
"""What a hole keeps beyond the limit of its tightest check, and how the step is called."""
_ROW_GAP = 1.12
_LOWER, _UPPER = -0.36, 0.46
_RUN_ARROW = {
    "inboard to outboard": {"inbd": (-1.0, 0.0), "up": (0.0, 1.0)},
    "outboard to inboard": {"inbd": (1.0, 0.0), "up": (0.0, 1.0)},
    "forward to aft": {"fwd": (-1.0, 0.0), "up": (0.0, 1.0)},
    "lower to upper": {"up": (1.0, 0.0), "fwd": (0.0, 1.0)},
}


def seam_picture(plan: SeamPlan) -> Scene:
    """Row and section as one drawing, with what a screen reader says of it."""
    spec = plan.spec
    row = row_map(plan)
    section = moved(stack_section(plan), -0.9, -2.7)
    arrows = orientation((6.3, -2.5), size=0.7, **_RUN_ARROW[spec.row_runs])
    items: list[Item] = []
    if spec.hand != "none":
        items.append(Hand((6.8, -1.2), spec.hand, 0.36, "end"))  # type: ignore[arg-type]
    stack = ", ".join(
        f"{layer.part} {layer.thickness.text} {one.kind}"
        for layer, one in zip(spec.layers, plan.treatments, strict=True)
    )
    described = (
        f"{spec.title}: {len(plan.positions_in)} holes from {spec.first.text} to {spec.last.text}, {shown(plan.pitch_in, 'in')} apart, "
        f"numbered from the first hole, {spec.row_runs}. Stack from the manufactured head: {stack}. Rivet {plan.rivet.part_number}."
    )
    kept = [(m, n) for n, (m, letter) in enumerate(zip(plan.margins, plan.letters, strict=True), 1) if letter]
    if kept:
        least, hole = min(kept)
        described += f" Tightest: hole {hole}, {CHECKS[plan.letters[hole - 1]]}, {abs(least) * 100:.0f} % {'more' if least >= 0 else 'less'} than needed."
    if plan.open_holes:
        described += f" Left open: {', '.join(map(str, sorted(plan.open_holes)))}."
    whole = together(row, section, arrows, Scene(tuple(items)), title=spec.title, described=described)
    (first, *rest), legend = row.pieces
    first = replace(first, title=spec.title, described=described)
    return replace(whole, pieces=((first, *rest), (*legend, _section_piece(plan))))


def _section_piece(plan: SeamPlan) -> Scene:
    """The section as a piece of a narrow page, with the hand and the arrows above it."""
    spec = plan.spec
    way = _RUN_ARROW[spec.row_runs]
    back = any(x < 0 for x, _ in way.values())
    above = orientation((4.6 if back else 3.9, 1.25), size=0.6, **way)
    hand: tuple[Item, ...] = ()
    if spec.hand != "none":
        hand = (Hand((0.0, 1.4), spec.hand, 0.3),)  # type: ignore[arg-type]
    section = moved(stack_section(plan), -1.1, 0.0)
    return together(Scene(hand), above, section, title="section through one rivet")


def hole_kind(plan: SeamPlan, hole: int) -> HoleKind:
    """How this hole of the outer sheet is drawn; an open hole is drawn open whatever the rest gets."""
    if hole in plan.open_holes:
        return "left-open"
    kinds: dict[str, HoleKind] = {"dimple": "dimple-down", "countersink": "countersink", "neither": "hole"}
    return kinds[plan.treatments[0].kind]


def row_map(plan: SeamPlan) -> Scene:
    """The whole row, folded every ten holes, a long one later, not to scale across: numbers of the holes, open ones marked."""
    items: list[Item] = []
    total = len(plan.positions_in)
    a_line = _holes_a_line(total)
    lines = -(-total // a_line)
    for number in range(lines):
        items += _stretch(plan, number * a_line, a_line, (lines - number) * _ROW_GAP)
    said = _letters_used(plan)
    if said:
        items.append(Text((0.0, 0.05), f"letter at a hole: its tightest check. {'; '.join(said)}", NUMBERS))
        items += _steps((0.0, -0.2), 1.3, len(_STEPS))
    pieces = [
        Scene(tuple(_stretch(plan, k, HOLES_A_PIECE, 0.0)), f"holes {k + 1} to {min(k + HOLES_A_PIECE, total)}")
        for k in range(0, total, HOLES_A_PIECE)
    ]  # fmt: skip
    legend: list[Item] = []
    if said:
        legend.append(Text((0.0, 0.0), "letter at a hole: its tightest check", NUMBERS))
        legend += [Text((0.3, -0.24 * k), line, NUMBERS) for k, line in enumerate(said, 1)]
        legend += _steps((0.0, -0.24 * (len(said) + 1) - 0.1), 1.62, 3)
    beside = (Scene(tuple(legend), "letters and bars"),) if legend else ()
    return Scene(tuple(items), plan.spec.title, pieces=(tuple(pieces), beside))


def _holes_a_line(total: int) -> int:
    """Where a row is folded so that its letters are largest on a printed page; ten where that is as good."""

    def smaller(a_line: int) -> float:
        return max(a_line / _PAGE_W, (-(-total // a_line) + 1) * _ROW_GAP / _PAGE_H)

    return min(range(HOLES_A_LINE, MOST_A_LINE + 1), key=smaller)


def _stretch(plan: SeamPlan, first: int, most: int, y: float) -> list[Item]:
    """Some holes of the row with its edges, each numbered, lettered and barred; ``first`` counts from 0."""
    items: list[Item] = []
    others = {e.hole for e in plan.spec.exceptions if e.what == "other fastener"}
    total = len(plan.positions_in)
    count = min(most, total - first)
    right = float(count)
    items += [Line((0.0, y + edge), (right, y + edge)) for edge in (_LOWER, _UPPER)]
    for x, true_end in ((0.0, first == 0), (right, first + count == total)):
        items.append(Line((x, y + _LOWER), (x, y + _UPPER), "outline" if true_end else "thin"))
    items.append(Line((0.0, y), (right, y), "centre"))
    for k in range(count):
        hole = first + k + 1
        x = k + 0.5
        items.append(Marker((x, y), hole_kind(plan, hole), str(hole), 0.17, 0.13))
        if hole in others:
            items.append(Text((x, y - 0.3), "other", NUMBERS, "middle"))
        elif plan.letters[hole - 1]:
            items.append(Text((x + 0.2, y - 0.24), plan.letters[hole - 1], NUMBERS))
            items.append(_bar(x - 0.46, y + _LOWER, 0.92, _step(plan.margins[hole - 1])))
    items.append(Text((0.02, y - 0.55), f"hole {first + 1} at {plan.positions_in[first]:.3f} in", NUMBERS))
    if first == 0 and total > 1:
        items.append(
            Dimension((0.5, y + _UPPER), (1.5, y + _UPPER), 0.2, f"{shown(plan.pitch_in, 'in')} apart")
        )
    return items


def _letters_used(plan: SeamPlan) -> list[str]:
    return [f"{letter} {CHECKS[letter]}" for letter in CHECKS if letter in plan.letters]


def _steps(at: tuple[float, float], apart: float, a_line: int) -> list[Item]:
    """What the bars' colours say, on lines of their own: a short row stays a narrow drawing."""
    x, y = at
    items: list[Item] = [Text((x, y), "bar: what it keeps beyond that limit", NUMBERS)]
    for step, (_, name) in enumerate(_STEPS):
        left, foot = x + apart * (step % a_line), y - 0.25 * (1 + step // a_line)
        items += [_bar(left, foot, 0.3, step), Text((left + 0.36, foot), name, NUMBERS)]
    return items


def _step(margin: float) -> int:
    return next(step for step, (upto, _) in enumerate(_STEPS) if margin < upto - 1e-6 or upto == float("inf"))


def _bar(x: float, y: float, width: float, step: int) -> Polygon:
    corners = ((x, y), (x + width, y), (x + width, y + 0.09), (x, y + 0.09))
    return Polygon(corners, "thin", fill=f"grade-{step}")  # type: ignore[arg-type]


def stack_section(plan: SeamPlan) -> Scene:
    """The stack cut through one rivet, enlarged so that the thinnest sheet can be seen."""
    d = plan.rivet.diameter_in
    k = 0.5 / d  # the shank is drawn half an inch wide
    items: list[Item] = []
    y = 0.0
    half = 1.7
    cone = 0.95 * d * k
    for number, (layer, one) in enumerate(zip(plan.spec.layers, plan.treatments, strict=True)):
        t = layer.thickness.value * k
        top, bottom = y, y - t
        dip = cone * 0.5
        for side in (-1, 1):
            inner = d * k / 2
            outline: tuple[tuple[float, float], ...]
            if one.kind == "dimple":
                outline = (
                    (side * half, top), (side * (inner + cone * 0.6), top), (side * inner, top - dip),
                    (side * inner, bottom - dip), (side * (inner + cone * 0.6), bottom), (side * half, bottom),
                )  # fmt: skip
            elif one.kind == "countersink":
                depth = min(t, dip + one.extra_depth_in * k)
                outline = (
                    (side * half, top), (side * (inner + depth), top), (side * inner, top - depth),
                    (side * inner, bottom), (side * half, bottom),
                )  # fmt: skip
            else:
                outline = (
                    (side * half, top),
                    (side * inner, top),
                    (side * inner, bottom),
                    (side * half, bottom),
                )
            items.append(Polygon(outline, "outline"))
            items.append(Hatch(outline, 45.0 if number % 2 else 135.0, 0.12))
        items.append(
            Leader((half, (top + bottom) / 2), (half + 0.4, 0.1 - 0.25 * number), str(number + 1), 0.13)
        )
        y = bottom
    r = d * k / 2
    if plan.spec.head.startswith("flush"):
        items.append(
            Polygon(
                ((-r - cone * 0.6, 0.0), (r + cone * 0.6, 0.0), (r, -cone * 0.5), (-r, -cone * 0.5)),
                "heavy",
                fill="paper",
            )
        )
    else:
        items.append(
            Polygon(
                ((-2 * r, 0.0), (-1.7 * r, 0.55 * r), (1.7 * r, 0.55 * r), (2 * r, 0.0)),
                "heavy",
                fill="paper",
            )
        )
    low = y - (cone * 0.5 if plan.treatments[-1].kind == "dimple" else 0.0)
    items.append(Line((-r, -cone * 0.5 if plan.spec.head.startswith("flush") else 0.0), (-r, low), "heavy"))
    items.append(Line((r, -cone * 0.5 if plan.spec.head.startswith("flush") else 0.0), (r, low), "heavy"))
    items.append(
        Polygon(
            ((-1.5 * r, low), (1.5 * r, low), (1.5 * r, low - r), (-1.5 * r, low - r)), "heavy", fill="paper"
        )
    )
    items.append(Line((0, 0.5), (0, low - r - 0.3), "centre"))
    aim = plan.heads[0].nominal or 0.0
    items.append(
        Leader(
            (1.5 * r, low - r / 2), (1.5 * r + 0.5, low - r / 2 - 0.15), f"formed head, aim {aim:.3f} in wide", 0.13
        )
    )  # fmt: skip
    foot = min(low - r, low - r / 2 - 0.15) - 0.5
    for number, (layer, one) in enumerate(zip(plan.spec.layers, plan.treatments, strict=True)):
        made = "plain hole" if one.kind == "neither" else one.kind
        said = f"{number + 1}  {layer.part}, {layer.thickness.text}, {made}"
        items.append(Text((-half, foot - 0.25 * number), said, 0.13))
    return moved(Scene(tuple(items), "section through one rivet"), 2.8, 0.0)
