"""A stage of an operation as it is done at the bench, and the sheet that is printed of it."""

from __future__ import annotations

from dataclasses import dataclass

from ribwright.core.bench.requirement import Because, Requirement
from ribwright.core.scene import (
    Block,
    Bullets,
    Caution,
    Document,
    Fields,
    FillIn,
    Hand,
    Heading,
    Paragraph,
    Picture,
    Scene,
    Table,
)
from ribwright.core.scene.items import HandOf
from ribwright.core.tables import RUNGS
from ribwright.core.units import shown

CAUTIONS = (
    "The designer's drawings and instructions win over this sheet.",
    "Nothing here is approved data. Ask a licensed mechanic or your inspector; local rules apply.",
)


@dataclass(frozen=True, slots=True)
class TrayItem:
    """A thing to have at hand before starting. ``stock`` is the part number it is kept under, when it has one."""

    what: str
    size: str = ""
    count: str = ""
    stock: str = ""


@dataclass(frozen=True, slots=True)
class Setting:
    """A set-up value with its reason: drill, die, set, air pressure, overlap."""

    what: str
    value: str
    because: Because


@dataclass(frozen=True, slots=True)
class Trial:
    """The trial piece: scrap of the same stack, whose reading is valid for this set-up and evening."""

    stack: str
    steps: tuple[str, ...]
    requirements: tuple[Requirement, ...]


@dataclass(frozen=True, slots=True)
class StageSheet:
    """One stage: what to have at hand, how to set up, prove it on scrap, do it, and what must be measured."""

    operation: str
    stage: str
    title: str
    hand: HandOf
    drawing: str
    revision: str
    tray: tuple[TrayItem, ...]
    settings: tuple[Setting, ...]
    trial: Trial | None
    steps: tuple[str, ...]
    requirements: tuple[Requirement, ...]
    cautions: tuple[str, ...]
    picture: Scene | None
    notes: tuple[str, ...] = ()


def _drawing(sheet: StageSheet) -> str:
    if not sheet.drawing:
        return "none given"
    return (
        f"{sheet.drawing}, revision {sheet.revision}"
        if sheet.revision
        else f"{sheet.drawing}, no revision given"
    )


def _tray(tray: tuple[TrayItem, ...]) -> Table:
    """What to have at hand, without a column that would stay empty."""
    if any(item.stock for item in tray):
        return Table(
            ("have at hand", "size", "how many", "kept under"),
            tuple((item.what, item.size, item.count, item.stock) for item in tray),
            widths=(0.42, 0.24, 0.14, 0.2),
        )
    return Table(
        ("have at hand", "size", "how many"),
        tuple((item.what, item.size, item.count) for item in tray),
        widths=(0.52, 0.34, 0.14),
    )


def document_of_sheet(sheet: StageSheet, *, reference: str, seal: str = "", made_from: str = "") -> Document:
    """The bench sheet as a document: the order in which the hands need it."""
    blocks: list[Block] = [
        Fields(
            (
                ("Operation", sheet.operation),
                ("Stage", sheet.stage),
                ("Drawing", _drawing(sheet)),
                *((("Hand", sheet.hand.upper()),) if sheet.hand != "none" else ()),
                *((("Worksheet", made_from),) if made_from else ()),
            )
        ),
        *(
            Caution(text) for text in sheet.cautions if text not in CAUTIONS
        ),  # those stand at the foot of the sheet
    ]
    if sheet.tray:
        blocks += [
            Heading("Tray", 2),
            _tray(sheet.tray),
        ]
    if sheet.picture is not None:
        scene = sheet.picture
        if sheet.hand != "none" and not any(isinstance(item, Hand) for item in scene.items):
            blocks.append(Heading(f"{sheet.hand.upper()} HAND", 2))
        blocks.append(Picture(scene, scene.title))
    if sheet.settings:
        blocks += [
            Heading("Set up", 2),
            Table(
                ("setting", "value", "because"),
                tuple((s.what, s.value, s.because.text) for s in sheet.settings),
                widths=(0.26, 0.24, 0.5),
            ),
        ]
    if sheet.trial is not None:
        blocks += [
            Heading("Trial piece", 2),
            Paragraph(
                f"On scrap of the same stack: {sheet.trial.stack}. Valid for this set-up and this evening only."
            ),
            Bullets(sheet.trial.steps, ordered=True, tick=True),
            *_limits(sheet.trial.requirements),
        ]
    blocks += [Heading("Do", 2), Bullets(sheet.steps, ordered=True, tick=True)]
    if sheet.requirements:
        blocks += [Heading("Measure", 2), *_limits(sheet.requirements)]
    blocks += [FillIn("Date"), FillIn("Hours", "h"), FillIn("Done by")]
    if sheet.notes:
        blocks += [Heading("Notes", 2), Bullets(sheet.notes)]
    blocks.append(Paragraph(rung_line(sheet), small=True))
    return Document(sheet.title, reference, sheet.revision, seal, tuple(blocks))


def rung_line(sheet: StageSheet) -> str:
    """The foot: the lowest rung that this sheet stands on, said once."""
    reasons = [r.because.rung for r in sheet.requirements] + [s.because.rung for s in sheet.settings]
    reasons += [r.because.rung for r in sheet.trial.requirements] if sheet.trial else []
    ranks = [RUNGS.index(rung) for rung in reasons if rung in RUNGS]
    if not ranks:
        return "Every limit here is the drawing's own."
    said = {
        "compared": "every value was held against its document",
        "seen": "every value was read in its source",
        "derived": "some values are worked out here from sources that were read",
        "second-hand": "some values are known only from texts that quote their source",
        "practice": "some values are common practice without a source",
        "memory": "some values are from memory and not yet held against their source: prove them on the trial piece",
    }[RUNGS[max(ranks)]]
    return f"How far to trust it: {said}."


def _limits(requirements: tuple[Requirement, ...]) -> tuple[Block, ...]:
    rows = []
    for r in requirements:
        aim = "" if r.nominal is None else shown(r.nominal, r.unit)
        rows.append((r.name, r.limits_text(), aim, r.because.text, ""))
    header = ("measure", "limits", "aim", "because", "reading")
    return (
        Table(header, tuple(rows), widths=(0.2, 0.22, 0.1, 0.34, 0.14)),
        Bullets(tuple(f"{r.name}: {r.how}." for r in requirements)),
    )
