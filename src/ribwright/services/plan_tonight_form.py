"""What is asked for one evening: the form alone, so that the first page need not bring the whole plan with it."""

from __future__ import annotations

from dataclasses import dataclass

from ribwright.core.audit.spec import choice, quantity, read, text
from ribwright.core.units import Quantity

ALONE, HELPED = "alone", "with the helper"
DARK, LIGHT = "by lamplight", "in daylight"


@dataclass(frozen=True, slots=True)
class TonightSpec:
    """The form."""

    hours: Quantity = quantity(
        "h", "Hours tonight", help="what there is", example="2 h", default="2 h", low="0.1 h", high="24 h"
    )
    who: str = choice("Who", (ALONE, HELPED), help="who is there", default=ALONE)
    temperature: Quantity = quantity(
        "°F", "Shop temperature", help="in °F or °C; primer and sealant want 50 °F (10 °C) or what their label says",
        example="65 °F", default="65 °F", low="-40 °F", high="130 °F",
    )  # fmt: skip
    light: str = choice("Light", (DARK, LIGHT), help="whether there is daylight", default=DARK)
    tools: str = text("Tools not at hand", help="lent, broken or on order; with commas between", example="squeezer, #30 drill", default="")  # fmt: skip
    room: str = text("Room that is free", help="name and amount; empty: what the plan knows to be free", example="floor 40, bench 1", default="")  # fmt: skip


def tonight_spec(raw: dict[str, str]) -> TonightSpec:
    """What was asked for tonight.

    Raises:
        InputError: an entry that can't be used.
    """
    return read(TonightSpec, {k: v for k, v in raw.items() if v.strip()})
