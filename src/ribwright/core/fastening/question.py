"""The question to the designer: one page with part, hole, stack, what was measured, what is left, and a proposal."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING

from ribwright.core.bench import Because, Setting, StageSheet, TrayItem
from ribwright.core.scene import (
    Bullets,
    Caution,
    Circle,
    Dimension,
    Document,
    Fields,
    FillIn,
    Heading,
    Item,
    Line,
    Paragraph,
    Photos,
    Picture,
    Polygon,
    Scene,
    Table,
    Text,
)
from ribwright.core.scene.lettering import lettering_for
from ribwright.core.tables import table

if TYPE_CHECKING:
    from ribwright.core.fastening.mistake_spec import Mistake
    from ribwright.core.fastening.ruling import Ruling


def _measured(spec: Mistake) -> tuple[tuple[str, str], ...]:
    found = (
        ("largest across the hole", spec.largest), ("smallest across the hole", spec.smallest),
        ("edge distance found", spec.edge), ("edge distance drawn", spec.drawn_edge), ("to the nearest neighbour", spec.pitch),
        ("countersink across", spec.seat),
    )  # fmt: skip
    return tuple((name, f"{value.value:.3f} in") for name, value in found if value is not None)


def _drawing(spec: Mistake) -> str:
    if not spec.drawing:
        return "drawing not entered"
    return f"drawing {spec.drawing}" + (f", revision {spec.revision}" if spec.revision else "")


def _hand(spec: Mistake) -> str:
    return f", {spec.hand.upper()} HAND" if spec.hand != "none" else ""


def question_lines(spec: Mistake, ruling: Ruling) -> tuple[str, ...]:
    """The facts of the question in one line each."""
    stack = (
        ", ".join(f"{ply.part} {ply.thickness.text} {ply.material}" for ply in spec.layers) or "not entered"
    )
    percent = "not worked out" if ruling.percent is None else f"{ruling.percent:.1f} %"
    return (
        f"Part {spec.part or 'not entered'}{_hand(spec)}, {_drawing(spec)}, hole {spec.hole}",
        f"What happened: {spec.what}" + (" (primary structure)" if spec.primary else ""),
        f"Drawn: {spec.size} in rivet, {spec.head} head; stack {stack}",
        *(f"{name}: {value} ± {spec.uncertainty.text}" for name, value in _measured(spec)),
        f"As built against as drawn: {percent}",
        f"Photo with scale: {spec.photo or 'to be added'}",
        f"The builder's proposal: {spec.proposal or 'none'}",
    )


def question_document(
    spec: Mistake,
    ruling: Ruling,
    *,
    reference: str = "",
    seal: str = "",
    photos: Sequence[tuple[bytes, str]] = (),
) -> Document:
    """One page, ready to send. It carries no proposal of the program on primary parts, only the builder's own.

    Args:
        photos: JPEG and caption of each that is printed with it.
    """
    percent = "not worked out" if ruling.percent is None else f"{ruling.percent:.1f} %"
    blocks = (
        *((Caution("Primary structure. Work on this part has stopped."),) if spec.primary else ()),
        Fields(
            (
                ("Part", ", ".join(word for word in (spec.part, spec.title) if word) + _hand(spec)),
                ("Drawing", _drawing(spec).removeprefix("drawing ")),
                ("What happened", f"{spec.what} at hole {spec.hole}"),
                ("Drawn", f"{spec.size} in rivet, {spec.head} head"),
                ("Stack, from the manufactured head", "; ".join(f"{p.part} {p.thickness.text} {p.material}" for p in spec.layers)),
                ("As built against as drawn", percent),
            )
        ),
        Heading("Measured", 2),
        Table(("what", "value", "plus or minus"), tuple((n, v, f"± {spec.uncertainty.text}") for n, v in _measured(spec))),
        Picture(mistake_picture(spec), "The hole as found", "half"),
        Photos(tuple(photos), 4) if photos else Paragraph(f"Photo with scale: {spec.photo or 'to be added'}"),
        Heading("Checked", 2),
        Bullets(tuple(f"{f.requirement}{', ' + f.where if f.where else ''}: {f.verdict.value}. {f.reason}." for f in ruling.findings) or ("No limit could be held against it.",)),
        Heading("The builder's proposal", 2),
        Paragraph(spec.proposal or "None."),
        Heading("The designer's answer", 2),
        FillIn("Answer"), FillIn("Name, date"),
    )  # fmt: skip
    return Document("Question to the designer", reference, spec.revision, seal, blocks)


def mistake_sheet(spec: Mistake, ruling: Ruling) -> StageSheet:
    """What to do, or the question, as a bench sheet."""
    ask = ruling.answer == "ask"
    because = Because.worked_out(ruling.why)
    return StageSheet(
        operation=spec.title, stage="question to the designer" if ask else "mend", title=f"{'Ask' if ask else 'Mend'}: {spec.what}, hole {spec.hole}",
        hand=spec.hand, drawing=spec.drawing, revision=spec.revision,  # type: ignore[arg-type]
        tray=() if ask else (TrayItem("rivet that goes in", f"{ruling.next_size} in", "1"), TrayItem("drill", table("rivets/drill").cell(ruling.next_size or spec.size, "final").text, "1"), TrayItem("calipers", "", "1")),
        settings=(Setting("answer", ruling.answer, because),), trial=None,
        steps=(
            (*question_lines(spec, ruling), "Mark the hole with a felt tip, stop work on this part, send the question.")
            if ask else ruling.steps
        ),
        requirements=ruling.requirements,
        cautions=("PRIMARY STRUCTURE: nothing is done to it until the designer has answered.",) if spec.primary else (),
        picture=mistake_picture(spec),
    )  # fmt: skip


def mistake_picture(spec: Mistake, *, full_size: bool = False) -> Scene:
    """The hole as found with the drawn one dashed, edge and neighbour; or its outline at full size to lay on the part."""
    d = float(Fraction(spec.size))
    k = 1.0 if full_size else 6.0 * 0.125 / d
    hole = table("rivets/nominal-hole").cell(spec.size, "diameter").canonical
    big = spec.largest.value if spec.largest else hole
    small = spec.smallest.value if spec.smallest else big
    items: list[Item] = [Circle((0.0, 0.0), hole * k / 2, "hidden")]
    off = (big - small) / 2 * k
    items.append(Circle((0.0, 0.0), small * k / 2, "heavy"))
    if off > 1e-6:
        items.append(Circle((2 * off, 0.0), small * k / 2, "heavy"))
    if spec.seat is not None:
        items.append(Circle((0.0, 0.0), spec.seat.value * k / 2, "thin"))
    edge = spec.edge or spec.drawn_edge
    reach = 6 * d * k
    if edge is not None:
        y = -edge.value * k
        items.append(Line((-reach, y), (reach, y), "heavy"))
        items.append(Dimension((-3 * d * k, 0.0), (-3 * d * k, y), -0.25, edge.text))
    if spec.pitch is not None:
        x = min(spec.pitch.value * k, 8.0) if not full_size else spec.pitch.value
        items.append(Circle((x, 0.0), hole * k / 2))
        items.append(Dimension((0.0, 2 * d * k), (x, 2 * d * k), 0.2, spec.pitch.text))
    if not full_size:
        spread = reach + (min(spec.pitch.value * k, 8.0) if spec.pitch is not None else reach)
        high = max(0.15, lettering_for(spread, shown_in=3.4))
        items = [replace(one, height=high) if isinstance(one, Dimension) else one for one in items]
        items.append(
            Text((-reach, 3 * d * k + 0.3 + high), f"{spec.what}, hole {spec.hole}", high, bold=True)
        )
    else:
        items.append(Polygon(((-1.0, -1.0), (1.5, -1.0), (1.5, 1.0), (-1.0, 1.0)), "thin"))
        items.append(Text((-0.95, 0.85), f"lay over hole {spec.hole}", 0.09))
    said = (
        f"{spec.what} at hole {spec.hole}: "
        + (", ".join(f"{n} {v}" for n, v in _measured(spec)) or "nothing was measured")
        + "."
    )
    return Scene(
        tuple(items),
        f"As found: {spec.title}" if not full_size else f"Outline at full size: {spec.title}",
        said,
    )
