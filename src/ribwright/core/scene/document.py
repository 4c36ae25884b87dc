"""A sheet to read, as values: headings, tables, pictures, cautions and lines to fill in, in order.

A document says what stands on the paper; :mod:`ribwright.core.writers` and the web's templates say how.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from ribwright.core.scene.page import NOT_APPROVED
from ribwright.core.scene.scene import Scene


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading; level 1 is a part of the sheet, 2 a section of that part, 3 a run-in head."""

    text: str
    level: int = 1


@dataclass(frozen=True, slots=True)
class Paragraph:
    """Running text. ``small`` is for notes and sources."""

    text: str
    small: bool = False


@dataclass(frozen=True, slots=True)
class Bullets:
    """A list; ``ordered`` numbers it, ``tick`` puts an empty box before each line to be ticked."""

    items: tuple[str, ...]
    ordered: bool = False
    tick: bool = False


@dataclass(frozen=True, slots=True)
class Table:
    """Ruled columns. ``widths`` are shares of the page width; columns in ``numeric`` line up right."""

    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    widths: tuple[float, ...] | None = None
    numeric: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Picture:
    """A drawing: as wide as the page or half of it, or at its true size."""

    scene: Scene
    caption: str = ""
    width: Literal["full", "half"] = "full"
    full_size: bool = False


@dataclass(frozen=True, slots=True)
class Caution:
    """What can't be undone, or hurts: set apart from everything else."""

    text: str


@dataclass(frozen=True, slots=True)
class Fields:
    """Names with their values, two columns."""

    pairs: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class FillIn:
    """A ruled line to write a reading on, with its unit behind it."""

    label: str
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Photos:
    """Photographs side by side, each a JPEG with its caption."""

    pictures: tuple[tuple[bytes, str], ...]
    across: int = 3


@dataclass(frozen=True, slots=True)
class Verbatim:
    """Text that must be copied from the paper letter by letter: a program, a mark."""

    text: str


@dataclass(frozen=True, slots=True)
class PageBreak:
    """What follows starts on a new page."""


Block = (
    Heading
    | Paragraph
    | Bullets
    | Table
    | Picture
    | Caution
    | Fields
    | FillIn
    | Photos
    | Verbatim
    | PageBreak
)


@dataclass(frozen=True, slots=True)
class Document:
    """A whole sheet. ``reference``, ``revision`` and ``seal`` stand in the foot of every page."""

    title: str
    reference: str = ""
    revision: str = ""
    seal: str = ""
    blocks: tuple[Block, ...] = ()
    foot: str = NOT_APPROVED
