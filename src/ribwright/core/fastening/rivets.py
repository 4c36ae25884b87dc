"""Solid rivets by the part numbers of the public standards: ``MS20426AD3-3.5``."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

from ribwright.core.tables import table
from ribwright.errors import InputError, UnknownNameError

SIZES = ("3/32", "1/8", "5/32", "3/16", "1/4")
"""Diameters for which the tables here hold hole, drill and strength."""

HEADS = ("flush 100°", "universal")
_STANDARDS = {
    "MS20426": "flush 100°", "AN426": "flush 100°",
    "MS20470": "universal", "AN470": "universal",
}  # fmt: skip
_NUMBER = re.compile(r"(MS20426|AN426|MS20470|AN470)(AD|DD|A|D|B)(\d{1,2})-(\d{1,2})(\.5|-5)?", re.ASCII)


@dataclass(frozen=True, slots=True)
class Rivet:
    """A solid rivet: head form, alloy letters, diameter in 1/32 in, length in 1/16 in (halves allowed)."""

    standard: str
    alloy: str
    diameter_32: int
    length_16: Fraction

    @property
    def head(self) -> str:
        """``flush 100°`` or ``universal``."""
        return _STANDARDS[self.standard]

    @property
    def size(self) -> str:
        """Nominal diameter as the tables call it: ``3/32``, ``1/8`` …"""
        return str(Fraction(self.diameter_32, 32))

    @property
    def diameter_in(self) -> float:
        """Nominal shank diameter."""
        return self.diameter_32 / 32

    @property
    def length_in(self) -> float:
        """Length: of the shank under a protruding head, overall for a flush head."""
        return float(self.length_16 / 16)

    @property
    def part_number(self) -> str:
        """As it is ordered; a half sixteenth is written ``-3.5``."""
        whole, part = divmod(self.length_16, 1)
        return f"{self.standard}{self.alloy}{self.diameter_32}-{whole}{'.5' if part else ''}"


def read_part_number(text: str, *, field: str = "Rivet") -> Rivet:
    """Read a public part number.

    Raises:
        InputError: not a solid-rivet number of MS20426 or MS20470 (or the older AN426, AN470).
        UnknownNameError: a diameter that the tables here don't hold.
    """
    match = _NUMBER.fullmatch(text.strip().upper().replace(" ", ""))
    if match is None:
        raise InputError(
            field, found=text, allowed="for example MS20426AD3-3.5 or MS20470AD4-5",
            because="this is not the number of a solid rivet known here",
            mend="Enter the number as the drawing has it, or leave it empty to have one worked out.",
        )  # fmt: skip
    standard, alloy, diameter, length, half = match.groups()
    size = str(Fraction(int(diameter), 32))
    if size not in SIZES:
        raise UnknownNameError(f"{field}, diameter", found=f"{size} in", allowed=", ".join(SIZES))
    if int(length) == 0:
        raise InputError(field, found=text, allowed="a length of 1/16 in or more")
    return Rivet(standard, alloy, int(diameter), int(length) + (Fraction(1, 2) if half else Fraction(0)))


def rivet(head: str, alloy: str, size: str, length_16: Fraction) -> Rivet:
    """A rivet by what it is; the public standard follows from the head."""
    standard = table("rivets/part-number").cell(head, "standard").text
    return Rivet(standard, alloy, int(Fraction(size) * 32), length_16)
