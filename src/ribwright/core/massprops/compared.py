"""Weighings one after the other: what the changes between them explain, and what nothing explains."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from ribwright.core.audit import Outcome, Result, Worksheet, calculation, quantity, rows, text, whole
from ribwright.core.bench import CAUTIONS, Because, Finding, Reading, Requirement, compare
from ribwright.core.massprops.changes import Change, changed
from ribwright.core.massprops.chord import arm_field, check_chord, chord_result, lemac_field, mac_field
from ribwright.core.units import Quantity, number_text, shown
from ribwright.errors import OutOfRangeError

_LOOK = (
    "Something is not on the list of changes, or one weighing is wrong: look before you sign the newer one."
)


@dataclass(frozen=True, slots=True)
class Sheet:
    """What one weighing gave."""

    when: str = text("Weighing", help="its date or name", example="12 May, first weighing")
    weight: Quantity = quantity(
        "lb", "Empty weight", help="as that sheet says", example="801", low="1 lb", high="20000 lb"
    )
    cg: Quantity = arm_field("Empty CG", help="as that sheet says", example="66.4")
    weight_u: Quantity = quantity(
        "lb", "Weight, plus or minus", help="how far it may be off", example="1", low="0 lb", high="1000 lb", default="1 lb"
    )  # fmt: skip
    cg_u: Quantity = quantity(
        "in", "CG, plus or minus", help="how far it may be off", example="0.1", low="0 in", high="50 in", default="0.15 in"
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Between(Change):
    """A change between two weighings."""

    after: int = whole("After weighing number", help="1 for the first of the list", example="1", low=1, high=200, default=1)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Compared:
    """Weighings of the same aeroplane in order, and what was changed between them."""

    title: str = text("Aeroplane", help="which one", example="Dunlin", default="")
    weighings: tuple[Sheet, ...] = rows(Sheet, "Weighings", help="the oldest first", least=2)
    changes: tuple[Between, ...] = rows(
        Between, "Changes between them", help="what was put in, taken out or moved"
    )
    lemac: Quantity | None = lemac_field()
    mac: Quantity | None = mac_field()

    def __post_init__(self) -> None:
        check_chord(self.lemac, self.mac)
        for one in self.changes:
            if one.after >= len(self.weighings):
                raise OutOfRangeError(
                    "Changes between them, after weighing number", found=f"{one.after} for {one.item}",
                    allowed=f"1 to {len(self.weighings) - 1}", mend="A change lies between two weighings of the list.",
                )  # fmt: skip


@calculation(
    "weighings-compared",
    title="Weighings compared",
    summary="Each weighing against the one before with the changes between them: what is explained, what is not.",
    spec=Compared,
    results=("weights", "cgs", "weight_unexplained", "cg_unexplained", "growth", "percent_mac"),
)
def weighings_compared(spec: Compared, ws: Worksheet) -> Outcome:
    """Carry each weighing forward over its changes and hold the next one against it."""
    findings: list[Finding] = []
    requirements: list[Requirement] = []
    off_lb: list[float] = []
    off_in: list[float] = []
    for number, (old, new) in enumerate(pairwise(spec.weighings), start=1):
        between = [one for one in spec.changes if one.after == number]
        total, u_total, cg, u_cg = changed(
            ws, old.weight.value, old.cg.value, old.weight_u.value, old.cg_u.value, between
        )
        off_lb.append(new.weight.value - total)
        off_in.append(new.cg.value - cg)
        where = f"{new.when} against {old.when}"
        for name, unit, off, u_old, u_new, expected in (
            ("weight explained", "lb", off_lb[-1], u_total, new.weight_u.value, shown(total, "lb")),
            ("CG explained", "in", off_in[-1], u_cg, new.cg_u.value, shown(cg, "in", places=2)),
        ):
            u = float(np.hypot(u_old, u_new))
            needed = Requirement(
                name=name, unit=unit, low=-u, nominal=0.0, high=u,
                because=Because.worked_out(f"{expected} was to be expected there; both bands together"),
                how="weigh again, each scale under each wheel once", when_low=_LOOK, when_high=_LOOK,
            )  # fmt: skip
            requirements.append(needed)
            findings.append(compare(needed, Reading(off, unit, where=where)))
    first, last = spec.weighings[0], spec.weighings[-1]
    growth = last.weight.value - first.weight.value
    wide = float(np.hypot(first.weight_u.value, last.weight_u.value))
    ws.note(f"From the first to the last it grew by {number_text(growth, 1)} lb.")
    results = {
        "weights": Result("empty weights, in order", tuple(w.weight.value for w in spec.weighings), "lb"),
        "cgs": Result("empty CGs, in order", tuple(w.cg.value for w in spec.weighings), "in", places=2),
        "weight_unexplained": Result("weight not explained, one weighing to the next", tuple(off_lb), "lb"),
        "cg_unexplained": Result("CG not explained, one weighing to the next", tuple(off_in), "in", places=2),
        "growth": Result("grown from first to last", growth, "lb", growth - wide, growth + wide, 1),
        "percent_mac": chord_result(
            ws, "empty CG of the last in % MAC", last.cg.value, spec.lemac, spec.mac, u_cg=last.cg_u.value
        ),
    }
    cautions = ("The newest signed weighing counts; keep the older sheets with it.", *CAUTIONS)
    return Outcome(tuple(ws.steps), results, tuple(requirements), tuple(findings), cautions)
