"""The other hand of a part, a row or a whole assembly: what changes in a mirror, and what must not.

Mirroring is done in the aeroplane's plane of symmetry. Only the coordinate to the right (``y``) changes
its sign, left and right change places in words, and references go over to the other hand's. All that is
said in words of the part itself stays: inboard, outboard, outside, upper, the side of a dimple, the order
of the layers. So a dimple points to the same side of the skin, and mirroring twice gives back every digit.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from ribwright.errors import GeometryError, MissingError

# "left open" says that something is not filled; "right angle" is not a side.
_SIDE = re.compile(
    r"\b(left|right|Left|Right|LEFT|RIGHT)\b(?!\s+(?:open|over|alone|as|until|out|off|behind|angles?|way|away|size|length)\b)"
)
_OTHER = {
    "left": "right",
    "right": "left",
    "Left": "Right",
    "Right": "Left",
    "LEFT": "RIGHT",
    "RIGHT": "LEFT",
}
_POINTS = ("outline", "row", "holes")
Pairs = Sequence[tuple[str, str]]


@dataclass(frozen=True, slots=True)
class Mirrored:
    """An object's other hand; the fields are those of an object of the breakdown."""

    noun: str
    ref: str
    parent: str
    title: str
    hand: str
    data: dict[str, Any]
    made_from: tuple[str, ...]


def mirrored(
    *,
    noun: str,
    ref: str,
    parent: str,
    title: str,
    hand: str,
    data: Mapping[str, Any],
    made_from: Sequence[str] = (),
    pairs: Pairs = (),
) -> Mirrored:
    """The other hand of one object.

    Args:
        noun, ref, parent, title, hand, data, made_from: as the object stands.
        pairs: beginnings of references that change places, such as ``("DN-21", "DN-22")``.

    Raises:
        GeometryError: a pair whose one side begins with the other: it could not be turned back.
        MissingError: the reference would not change, so that the object would overwrite itself.
    """
    swap = _swap_of(pairs)
    other = swap(ref)
    if pairs and other == ref:
        raise MissingError(
            "Reference of the other hand", found=ref, allowed="one that begins with " + " or ".join(a for pair in pairs for a in pair),
            because="nothing says what the other hand is called", mend="Enter it again under such a reference, and take this one back.",
        )  # fmt: skip
    return Mirrored(
        noun,
        other,
        swap(parent),
        _words(title, swap),
        {"left": "right", "right": "left"}.get(hand, hand),
        {key: _value(value, swap, key, _turned(data)) for key, value in data.items()},
        tuple(swap(one) for one in made_from),
    )


def mirrored_inputs(inputs: Mapping[str, Any], pairs: Pairs = ()) -> dict[str, Any]:
    """The drawing data of a calculation for the other hand: hand and words change, every measure stays."""
    swap = _swap_of(pairs)
    return {key: _value(value, swap, key, None) for key, value in inputs.items()}


def other_side(words: str) -> str:
    """The words with left and right changed over, such as a reference; empty where they name no side."""
    turned = _words(words)
    return "" if turned == words else turned


def side_in(words: str) -> str:
    """The side that words name, such as those of an assembly; none where they name both or neither."""
    named = {found.lower() for found in _SIDE.findall(words)}
    return named.pop() if len(named) == 1 else "none"


def negated(said: str) -> str:
    """A number's text with the other sign, digit by digit; nought has none."""
    bare = said.removeprefix("-")
    if not re.search(r"[1-9]", bare):
        return bare
    return bare if said.startswith("-") else f"-{bare}"


def _swap_of(pairs: Pairs) -> Any:
    over: dict[str, str] = {}
    for a, b in pairs:
        if not a or not b or a.startswith(b) or b.startswith(a) or a in over or b in over:
            raise GeometryError(
                "Reference of the other hand", found=f"{a} and {b}", allowed="two that don't begin with each other, each once",
                mend="Name the two hands so that they can be told apart.",
            )  # fmt: skip
        over |= {a: b, b: a}
    names = "|".join(map(re.escape, sorted(over, key=len, reverse=True)))
    refs = rf"(?<![\w-])(?:{names})" if names else r"(?!)"
    alone, with_words = re.compile(refs), re.compile(f"{refs}|{_SIDE.pattern}")
    change = over | _OTHER

    def swap(text: str, words: bool = False) -> str:
        return (with_words if words else alone).sub(lambda found: change[found.group(0)], text)

    return swap


def _words(text: str, swap: Any = None) -> str:
    """Words for the other hand. A reference may name its side itself ("left aileron"): what the references have
    changed over is not changed back."""
    if swap is None:
        return _SIDE.sub(lambda found: _OTHER[found.group(1)], text)
    return str(swap(text, True))


def _turned(data: Mapping[str, Any]) -> int | None:
    """Which of a point's two coordinates lies to the right; None when neither does."""
    axes = str(data.get("axes", "")).split()[:2]
    return axes.index("y") if "y" in axes else None


def _value(value: Any, swap: Any, key: str, turned: int | None) -> Any:
    if isinstance(value, str):
        return _words(value, swap)
    if isinstance(value, Mapping):
        return {name: _value(one, swap, name, _turned(value)) for name, one in value.items()}
    if isinstance(value, Sequence):
        if key in _POINTS and turned is not None:
            return [_point(one, turned) for one in value]
        return [_value(one, swap, key, turned) for one in value]
    return value


def _point(point: Any, turned: int) -> Any:
    if not isinstance(point, Sequence) or isinstance(point, str) or len(point) != 2:
        raise GeometryError("mirror: point", found=point, allowed="two coordinates, as text")
    return [negated(str(one)) if place == turned else str(one) for place, one in enumerate(point)]
