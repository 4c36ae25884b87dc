"""How much sealant a tank takes: fillets, faying surfaces, rivet caps, and what stays in the pot."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ribwright.core.audit import Outcome, Result, Worksheet, calculation, formula, quantity, rows, text, whole
from ribwright.core.bench import CAUTIONS
from ribwright.core.massprops.unpublished import say_unpublished
from ribwright.core.units import Quantity
from ribwright.errors import MissingError

Floats = NDArray[np.float64]


@formula(
    "sealant.fillet",
    symbol="V",
    shown="leg_in ** 2 / 2 * length_in",
    unit="in³",
    source="statics",
    locator="right triangle along a line",
    rung="derived",
    limits={"leg_in": (0.0, 1.0), "length_in": (0.0, 2000.0)},
    excuse="area of a right triangle times a length",
)
def fillet_in3(*, leg_in: ArrayLike, length_in: ArrayLike) -> Floats:
    """Sealant in a fillet of equal legs, its face straight."""
    return np.asarray(leg_in, float) ** 2 / 2 * np.asarray(length_in, float)


@formula(
    "sealant.cap",
    symbol="V",
    shown="pi * height_in * (3 * (diameter_in / 2) ** 2 + height_in ** 2) / 6",
    unit="in³",
    source="statics",
    locator="cap of a sphere",
    rung="derived",
    limits={"diameter_in": (0.0, 2.0), "height_in": (0.0, 1.0)},
    excuse="volume of a cap of a sphere; half a sphere when its height is half its diameter",
)
def cap_in3(*, diameter_in: ArrayLike, height_in: ArrayLike) -> Floats:
    """Sealant in a dome over a rivet, its head's own volume not taken off."""
    h = np.asarray(height_in, float)
    return np.pi * h * (3 * (np.asarray(diameter_in, float) / 2) ** 2 + h**2) / 6


@dataclass(frozen=True, slots=True)
class SealedSeam:
    """One seam or group of rivets."""

    name: str = text("Seam", help="which one", example="ribs to lower skin")
    length: Quantity | None = quantity("in", "Length", help="of all seams like this", example="220", low="0 in", high="2000 in", optional=True)  # fmt: skip
    fillet: Quantity | None = quantity("in", "Fillet leg", help="both legs alike; 0 or empty for none", example="0.25", low="0 in", high="1 in", optional=True)  # fmt: skip
    fay_width: Quantity | None = quantity("in", "Faying width", help="sealant between the sheets", example="0.6", low="0 in", high="10 in", optional=True)  # fmt: skip
    fay_thickness: Quantity = quantity("in", "Faying thickness", help="before it is squeezed out", example="0.02", low="0 in", high="0.25 in", default="0.02 in")  # fmt: skip
    rivets: int = whole("Rivets capped", help="domes over shop heads", example="180", low=0, high=100_000, default=0)  # fmt: skip
    cap_diameter: Quantity = quantity("in", "Cap diameter", help="of the dome", example="0.4", low="0 in", high="2 in", default="0.4 in")  # fmt: skip
    cap_height: Quantity = quantity("in", "Cap height", help="of the dome", example="0.12", low="0 in", high="1 in", default="0.12 in")  # fmt: skip


@dataclass(frozen=True, slots=True)
class Sealant:
    """Sealant for one tank."""

    title: str = text("Tank", help="which one", example="left tank", default="")
    seams: tuple[SealedSeam, ...] = rows(SealedSeam, "Seams", help="one row a kind of seam", least=1)
    waste: Quantity = quantity(
        "%", "Left in pot and on gloves", help="on top; common practice a third to a half for small batches", example="40", low="0 %", high="300 %", default="40 %"
    )  # fmt: skip
    density: Quantity | None = quantity(
        "g/cm³", "Density", help="mixed, from its label", example="1.4", low="0.5 g/cm³", high="3 g/cm³", optional=True
    )  # fmt: skip
    batch: Quantity | None = quantity(
        "in³", "One batch", help="what you can put on within its working time", example="6", low="0.1 in³", high="500 in³", optional=True
    )  # fmt: skip

    def __post_init__(self) -> None:
        for s in self.seams:
            if s.length is None and not s.rivets:
                raise MissingError(f"Seams, length of {s.name}", allowed="a length, or rivets to cap", mend="Enter one of the two.")  # fmt: skip


@calculation(
    "tank-sealant",
    title="Sealant for a tank",
    summary="Volume and weight of sealant by fillets, faying surfaces and rivet caps, and the batches it takes.",
    spec=Sealant,
    results=("volume", "with_waste", "weight", "batches", "seams"),
)
def tank_sealant(spec: Sealant, ws: Worksheet) -> Outcome:
    """Seam by seam, then what stays in the pot."""
    each = []
    for s in spec.seams:
        total = 0.0
        length = s.length.value if s.length is not None else 0.0
        if s.fillet is not None and length:
            total += ws.step(
                f"fillet, {s.name}", fillet_in3, leg_in=s.fillet.value, length_in=s.length.value if s.length else 0.0
            )  # fmt: skip
        if s.fay_width is not None and length:
            fay = s.fay_width.value * s.fay_thickness.value * length
            ws.worked_out(f"between the sheets, {s.name}", f"{fay:.2f} in³", "width by thickness by length", value=fay, unit="in³")  # fmt: skip
            total += fay
        if s.rivets:
            one = ws.step(
                f"one cap, {s.name}", cap_in3, diameter_in=s.cap_diameter.value, height_in=s.cap_height.value
            )
            total += one * s.rivets
        each.append(total)
    volume = sum(each)
    full = volume * (1 + spec.waste.value)
    results = {
        "volume": Result("on the tank", volume, "in³", places=1),
        "with_waste": Result("to mix in all", full, "in³", places=1),
        "weight": Result("weight that stays on the tank", "no density entered"),
        "batches": Result("batches", "no batch entered"),
        "seams": Result("seam by seam", tuple(each), "in³", places=2),
    }
    if spec.density is not None:
        results["weight"] = Result(
            "weight that stays on the tank", volume * spec.density.value, "lb", places=2
        )
    if spec.batch is not None:
        results["batches"] = Result("batches", str(math.ceil(full / spec.batch.value - 1e-9)))
    say_unpublished(ws, "volume and weight of the sealant are")
    cautions = (
        "Working time counts from mixing; write the mixing time and a sample's batch on a card, and keep the sample.",
        "Gloves and a mask; its label and data sheet win.",
        *CAUTIONS,
    )
    return Outcome(tuple(ws.steps), results, cautions=cautions)
