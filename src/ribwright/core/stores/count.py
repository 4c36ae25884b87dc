"""Counting by weight: how many pieces lie in a bag, and how far that can be trusted."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ribwright.core.audit import Outcome, Result, Worksheet, calculation, formula, quantity, text, whole
from ribwright.core.bench import CAUTIONS
from ribwright.core.fastening.hardware import rivet_weight_lb
from ribwright.core.fastening.rivets import read_part_number
from ribwright.core.tables import table
from ribwright.core.units import Quantity, shown
from ribwright.errors import InputError, MissingError, OutOfRangeError

Floats = NDArray[np.float64]


@formula(
    "stores.count_by_weight",
    symbol="n",
    shown="(gross_lb - tare_lb) / one_lb",
    unit="",
    source="statics",
    locator="net weight over the weight of one",
    rung="derived",
    limits={"gross_lb": (0.0, 2000.0), "tare_lb": (0.0, 2000.0), "one_lb": (1e-7, 100.0)},
    excuse="a division; the weight of one rivet is held against counts a pound of common practice",
)
def count_by_weight(*, gross_lb: ArrayLike, tare_lb: ArrayLike, one_lb: ArrayLike) -> Floats:
    """How many pieces a net weight is."""
    return (np.asarray(gross_lb, float) - np.asarray(tare_lb, float)) / np.asarray(one_lb, float)


@dataclass(frozen=True, slots=True)
class WeighedBag:
    """A bag on the scale."""

    part_number: str = text(
        "Part number", help="of a solid rivet, so that its weight is known; or leave the sample to say it",
        example="MS20426AD3-3.5", default="",
    )  # fmt: skip
    gross: Quantity = quantity(
        "lb", "Weight, with the bag", help="as the scale shows it; oz and g may be written", example="12.4 oz", low="0 lb", high="2000 lb"
    )  # fmt: skip
    tare: Quantity = quantity(
        "lb", "Empty bag", help="the same bag or one like it", example="0.3 oz", low="0 lb", high="2000 lb", default="0 lb"
    )  # fmt: skip
    scale: Quantity = quantity(
        "lb", "Scale, plus or minus", help="its smallest step, or what its sheet says", example="0.1 oz", low="0 lb", high="100 lb",
        default="1 g",
    )  # fmt: skip
    sample_count: int | None = whole(
        "Pieces in a sample", help="counted by hand from the same bag; 50 or more make it sharp", example="50", low=1, high=100_000, optional=True
    )  # fmt: skip
    sample_weight: Quantity | None = quantity(
        "lb", "Weight of the sample", help="without a bag", example="4.1 g", low="0 lb", high="100 lb", optional=True
    )  # fmt: skip

    def __post_init__(self) -> None:
        if self.tare.value > self.gross.value:
            raise OutOfRangeError(
                "Empty bag", found=self.tare.text, allowed=f"up to the whole weight, {self.gross.text}", mend="Weigh both again."
            )  # fmt: skip
        if (self.sample_count is None) != (self.sample_weight is None):
            raise MissingError("Sample", mend="Enter both the pieces and their weight, or neither.")
        if self.sample_weight is not None and self.sample_weight.value <= self.scale.value:
            raise InputError(
                "Weight of the sample", found=self.sample_weight.text, allowed=f"more than the scale's step, {self.scale.text}",
                mend="Weigh more pieces at once.",
            )  # fmt: skip
        if self.sample_count is None and not self.part_number:
            raise MissingError(
                "Part number", because="nothing says what one piece weighs", mend="Enter a rivet's part number, or weigh a counted sample."
            )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Counted:
    """Pieces with the band that weight of one and scale leave."""

    count: int
    low: int
    high: int
    one_lb: float
    how: str


def counted(spec: WeighedBag) -> Counted:
    """Pieces in a bag; the band takes every error at its worst."""
    net = spec.gross.value - spec.tare.value
    # the scale errs on the bag and on its tare
    step = spec.scale.value * (2.0 if spec.tare.value > 0 else 1.0)
    if spec.sample_count is not None and spec.sample_weight is not None:
        one = spec.sample_weight.value / spec.sample_count
        share = spec.scale.value / spec.sample_weight.value
        light, heavy, how = (
            one * (1 - share),
            one * (1 + share),
            f"a sample of {spec.sample_count} from the same bag",
        )
    else:
        made = read_part_number(spec.part_number)
        one = float(rivet_weight_lb(diameter_in=made.diameter_in, length_in=made.length_in, head=made.head))
        share = table("rivets/weight").cell("aluminium", "band").canonical
        light, heavy, how = (
            one / (1 + share),
            one / (1 - share),
            f"derived from its volume, ± {100 * share:g} %",
        )
    n = float(count_by_weight(gross_lb=spec.gross.value, tare_lb=spec.tare.value, one_lb=one))
    low, high = max(0.0, (net - step) / heavy), (net + step) / light
    return Counted(round(n), math.floor(low + 1e-9), math.ceil(high - 1e-9), one, how)


@calculation(
    "count-by-weight",
    title="Count by weight",
    summary="How many rivets or other pieces lie in a bag, from its weight, with the band that this leaves.",
    spec=WeighedBag,
    results=("count", "one", "per_pound"),
)
def count_sheet(spec: WeighedBag, ws: Worksheet) -> Outcome:
    """Count, weight of one, pieces a pound."""
    made = counted(spec)
    if spec.sample_count is None:
        ws.look_up("density", table("rivets/weight").cell("aluminium", "density"))
        ws.look_up("band of the derived weight", table("rivets/weight").cell("aluminium", "band"))
    ws.worked_out(
        "weight of one", shown(made.one_lb * 16, "oz", places=5), made.how, value=made.one_lb, unit="lb"
    )
    ws.step("count", count_by_weight, gross_lb=spec.gross.value, tare_lb=spec.tare.value, one_lb=made.one_lb)
    ws.note(
        "The band takes scale and weight of one at their worst together; a sample of the same bag makes it narrower."
    )
    if spec.sample_count is not None:
        ws.note(
            "The sample tells nothing of pieces that are unlike the others: mixed lengths in one bag spoil the count."
        )
    results = {
        "count": Result("pieces", float(made.count), "", float(made.low), float(made.high), places=0),
        "one": Result("weight of one", made.one_lb * 16, "oz", places=5),
        "per_pound": Result("pieces a pound", float(round(1 / made.one_lb)), "", places=0),
    }
    return Outcome(tuple(ws.steps), results, (), (), CAUTIONS)
