"""The inspection before flight: lines made from what was built, each looked at by itself, the critical ones twice."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

_ALWAYS = (
    ("controls", "Ailerons: full travel, stops touched, no rubbing; stick left raises the left one", True),
    ("controls", "Elevator: full travel; stick back raises the trailing edge", True),
    ("controls", "Rudder: full travel; right pedal moves it right", True),
    ("controls", "Flaps: both alike at each setting; nothing jams one alone", True),
    ("controls", "Trim: wheel or switch forward lowers the nose", True),
    (
        "controls",
        "Each control run followed by hand and eye from stick or pedal to surface, panels off",
        True,
    ),
    (
        "fuel",
        "Fuel: flow measured at the nose-up attitude, vents open, tanks drained of water, no seep anywhere",
        True,
    ),
    ("engine", "Propeller bolts, engine mount, exhaust, hoses: torqued, safetied, no chafing", True),
    ("weight", "Weight and CG of this flight inside the designer's envelope", False),
    (
        "cockpit",
        "Seats, belts and their fittings; canopy or door locks and can be opened from both sides",
        False,
    ),
    ("loose", "Loose things: tools counted, bilge, tail cone and cockpit searched with a light", True),
)
"""What every aeroplane has: kind, words, whether a second person looks too. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class Look:
    """One line.

    Attributes:
        key: stable name of the line.
        kind: built, controls, torque, safety, discrepancy, ...
        text: what is looked at.
        about: reference of the operation, or "".
        two: whether a second person must look too.
    """

    key: str
    kind: str
    text: str
    about: str
    two: bool


@dataclass(frozen=True, slots=True)
class Looked:
    """A line with who looked at it, and what they saw."""

    look: Look
    seen: tuple[tuple[str, str], ...]

    @property
    def open(self) -> str:
        """What is missing, or nothing."""
        people = {who for who, _ in self.seen}
        if not people:
            return "nobody has looked yet"
        return "a second person has to look" if self.look.two and len(people) < 2 else ""


_TORQUED = ("bolt", "torque")
_SAFETIED = ("cotter", "safety", "turnbuckle", "castle")


def looks(
    operations: Iterable[Mapping[str, Any]], discrepancies: Iterable[Mapping[str, str]]
) -> tuple[Look, ...]:
    """The lines of an aeroplane.

    Args:
        operations: each with ``ref``, ``title``, ``primary``, ``stages`` (names), ``words`` (all that is said of it).
        discrepancies: each with ``ref``, ``about``, ``what``; only those that are open.
    """
    made = [Look(f"always-{n}", kind, text, "", two) for n, (kind, text, two) in enumerate(_ALWAYS, 1)]
    for one in operations:
        ref, said = str(one["ref"]), f"{one['title']} {' '.join(one['stages'])} {one['words']}".casefold()
        if one["primary"]:
            made.append(
                Look(
                    f"built-{ref}",
                    "built",
                    f"{ref} {one['title']}: as drawn, every fastener there, no crack, no tool mark",
                    ref,
                    True,
                )
            )
        if any(word in said for word in _TORQUED):
            made.append(
                Look(
                    f"torque-{ref}",
                    "torque",
                    f"{ref} {one['title']}: torque stripe on every bolt, unbroken",
                    ref,
                    True,
                )
            )
        if any(word in said for word in _SAFETIED):
            made.append(
                Look(
                    f"safety-{ref}",
                    "safety",
                    f"{ref} {one['title']}: every pin, wire and clip in place, pulling tight",
                    ref,
                    True,
                )
            )
        if "control" in said and not one["primary"]:
            made.append(
                Look(
                    f"built-{ref}",
                    "built",
                    f"{ref} {one['title']}: as drawn, moves freely, no chafing",
                    ref,
                    True,
                )
            )
    made += [Look(f"discrepancy-{d['ref']}", "discrepancy", f"{d['ref']} on {d['about']} is still open: {d['what']}", d["about"], True) for d in discrepancies]  # fmt: skip
    return tuple(made)
