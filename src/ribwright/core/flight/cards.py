"""Test cards flight by flight, hours and cards against the required phase, and the card that fits a kneeboard."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from ribwright.core.scene import Block, Bullets, Caution, Document, FillIn, Paragraph
from ribwright.core.tables import table
from ribwright.errors import OutOfRangeError, UnknownNameError

_FOOT = "The designer, the letter on board and your instructor win. Not approved data."

PHASE_HOURS = {"certificated engine and propeller": 25.0, "other": 40.0}
"""Hours usually asked for in phase one; from memory (operating limitations, Order 8130.2): the letter on board decides."""


@dataclass(frozen=True, slots=True)
class Card:
    """One test card; ``rung`` says how far its numbers can be trusted."""

    key: str
    title: str
    phase: str
    hours: float
    entry: tuple[str, ...]
    limits: tuple[str, ...]
    abort: tuple[str, ...]
    data: tuple[str, ...]
    rung: str


@dataclass(frozen=True, slots=True)
class Phase:
    """Where the test phase stands: hours flown of those asked for, cards flown of all."""

    hours: float
    asked: float
    flown: tuple[str, ...]
    left: tuple[str, ...]

    @property
    def complete(self) -> bool:
        """Both: the hours are flown and no card is left. The letter on board may ask for more."""
        return not self.left and self.hours >= self.asked


def cards() -> tuple[Card, ...]:
    """All cards in the order in which they are flown."""
    made = table("flight/cards")

    def parts(key: str, column: str) -> tuple[str, ...]:
        return tuple(p.strip() for p in made.rows[key][column].split(";") if p.strip())

    return tuple(
        Card(
            key, made.rows[key]["title"], made.rows[key]["phase"], float(made.rows[key]["hours"]), parts(key, "entry"), parts(key, "limits"),
            parts(key, "abort"), parts(key, "data"), made.row_rungs.get(key, made.rung),
        )
        for key in made.row_keys()
    )  # fmt: skip


def card(key: str) -> Card:
    """The card of this number.

    Raises:
        UnknownNameError: there is none.
    """
    found = next((one for one in cards() if one.key == key), None)
    if found is None:
        raise UnknownNameError("test card", found=key, allowed=", ".join(one.key for one in cards()))
    return found


def phase(flown: Iterable[tuple[str, float, bool]], *, asked: float) -> Phase:
    """Where the phase stands.

    Args:
        flown: of each flight the card's number, hours in the air, and whether the card was finished.
        asked: hours that the operating limitations ask for.

    Raises:
        OutOfRangeError: hours that can't be.
    """
    if not 1 <= asked <= 500:
        raise OutOfRangeError("hours of the phase", found=f"{asked:g}", allowed="1 to 500")
    known = list(flown)
    air = {one.key for one in cards() if one.phase != "ground"}
    finished = {key for key, _, done in known if done}
    every = tuple(one.key for one in cards())
    return Phase(
        sum(hours for key, hours, _ in known if key in air),
        asked,
        tuple(k for k in every if k in finished),
        tuple(k for k in every if k not in finished),
    )


def card_document(one: Card, *, seal: str = "") -> Document:
    """The card as a sheet with lines to write on."""
    blocks: list[Block] = [
        Paragraph(f"{one.phase}, {one.hours:g} h"),
        Bullets(one.entry, tick=True),
        Paragraph("Limits: " + "; ".join(one.limits) + "."),
        Caution("Break off and land: " + "; ".join(one.abort)),
        *(FillIn(said) for said in one.data), FillIn("off, on, weight, CG"), FillIn("for the next flight"),
        Paragraph(f"Begin only with every box ticked. Outline of AC 90-89A in our own words ({one.rung}).", small=True),
    ]  # fmt: skip
    return Document(f"Test card {one.key}: {one.title}", f"CARD {one.key}", "", seal, tuple(blocks), _FOOT)
