"""What the script makes: objects of the breakdown with every value as text, and the few means to make them."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from hashlib import sha256
from typing import Any

from ribwright.core.tables import table

Point = tuple[float, float]
Outline = tuple[Point, ...]

DRAWING_REVISION = "B"

# Densities that the sheet table does not hold, lb/in³: extrusion as its sheet; steel from memory.
_DENSITY = {"6061-T4": 0.098, "2024-T3 clad": 0.100, "2024-T3": 0.100, "stainless": 0.286, "4130": 0.283}


@dataclass(frozen=True, slots=True)
class Thing:
    """One object as it goes into a project.

    Attributes:
        noun: aircraft, assembly, part, space, operation, stock, order, drawing, person, tool.
        ref: its reference.
        parent: reference of what it belongs to, or "".
        title: for people.
        hand: left, right or none.
        data: every number as text.
        made_from: references of what it is made from.
    """

    noun: str
    ref: str
    parent: str
    title: str
    hand: str
    data: Mapping[str, Any]
    made_from: tuple[str, ...] = ()


def inch(value: float, places: int = 3) -> str:
    """A length as a drawing writes it: no trailing noughts, no minus nought."""
    said = f"{round(value, places):.{places}f}".rstrip("0").rstrip(".")
    return "0" if said in ("-0", "") else said


def fraction(seed: int, key: str) -> float:
    """A number from 0 to 1 that depends on the seed and the key alone, not on what was drawn before."""
    return int.from_bytes(sha256(f"{seed}/{key}".encode()).digest()[:6], "big") / 2**48


def about(seed: int, key: str, value: float, spread: float = 0.15) -> float:
    """The value, up to ``spread`` of itself more or less."""
    return value * (1.0 + spread * (2.0 * fraction(seed, key) - 1.0))


def area_in2(outline: Sequence[Point]) -> float:
    """Area inside a closed outline given without its last point again."""
    total = 0.0
    for (x0, y0), (x1, y1) in zip(outline, [*outline[1:], outline[0]], strict=True):
        total += x0 * y1 - x1 * y0
    return abs(total) / 2.0


def box(a0: float, b0: float, a1: float, b1: float) -> Outline:
    """A rectangle from two corners."""
    (a0, a1), (b0, b1) = sorted((a0, a1)), sorted((b0, b1))
    return ((a0, b0), (a1, b0), (a1, b1), (a0, b1))


def size_of(outline: Sequence[Point]) -> tuple[float, float]:
    """Width and length of the rectangle around an outline, the smaller first."""
    a, b = zip(*outline, strict=True)
    width, length = sorted((max(a) - min(a), max(b) - min(b)))
    return width, length


def density_lb_in3(material: str) -> float:
    """Weight of a cubic inch, from the sheet table where it holds the material."""
    sheets = table("materials/sheet")
    if material in sheets.rows and "density" in sheets.rows[material]:
        return sheets.cell(material, "density").canonical
    return _DENSITY[material]


def texts(outline: Sequence[Point]) -> list[list[str]]:
    """An outline or a row's ends as text."""
    return [[inch(a), inch(b)] for a, b in outline]


def points(said: Sequence[Sequence[str]]) -> Outline:
    """An outline or a row's ends from text."""
    return tuple((float(a), float(b)) for a, b in said)


def apart(start: Point, end: Point) -> float:
    """Distance between two points."""
    return math.dist(start, end)
