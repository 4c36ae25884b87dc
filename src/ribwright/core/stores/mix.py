"""A batch of primer, sealant or resin: how much, weighed in which ratio, usable until when, under which sky."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, datetime, timedelta

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ribwright.core.audit import Outcome, Result, Worksheet, calculation, formula, quantity, text
from ribwright.core.bench import CAUTIONS, Because, Finding, Reading, Requirement, compare
from ribwright.core.tables import table
from ribwright.core.units import Quantity, shown
from ribwright.errors import FormatError, InputError, MissingError

Floats = NDArray[np.float64]


@formula(
    "stores.part_weight",
    symbol="w",
    shown="total_lb * parts_weight / all_parts_weight",
    unit="lb",
    source="statics",
    locator="a share of the whole by weight",
    rung="derived",
    limits={"total_lb": (0.0, 1000.0), "parts_weight": (0.0, 10000.0), "all_parts_weight": (0.01, 20000.0)},
    excuse="a share of a whole; no source prints it",
)
def part_weight_lb(*, total_lb: ArrayLike, parts_weight: ArrayLike, all_parts_weight: ArrayLike) -> Floats:
    """Weight of one part of a mix."""
    return np.asarray(total_lb, float) * np.asarray(parts_weight, float) / np.asarray(all_parts_weight, float)


@formula(
    "stores.pot_life",
    symbol="t",
    shown="stated_h * 2 ** ((stated_at_f - now_f) / halves_every_f)",
    unit="h",
    source="practice",
    locator="half for each so much warmer",
    rung="practice",
    limits={
        "stated_h": (0.01, 1000.0),
        "stated_at_f": (30.0, 150.0),
        "now_f": (30.0, 150.0),
        "halves_every_f": (5.0, 60.0),
    },
    excuse="a rule of thumb without a source; the product's data sheet wins",
)
def pot_life_h(
    *, stated_h: ArrayLike, stated_at_f: ArrayLike, now_f: ArrayLike, halves_every_f: ArrayLike
) -> Floats:
    """Pot life at another temperature by the rule of thumb."""
    return np.asarray(stated_h, float) * 2.0 ** (
        (np.asarray(stated_at_f, float) - np.asarray(now_f, float)) / np.asarray(halves_every_f, float)
    )


@dataclass(frozen=True, slots=True)
class Batch:
    """What is coated or sealed, what the data sheet says, and what thermometer and hygrometer show."""

    product: str = text("Product", help="as its tin says", example="primer, two parts")
    parts_base: Quantity = quantity(
        "", "Parts of base, by weight", help="from the data sheet", example="100", low="0.01", high="10000"
    )
    parts_hardener: Quantity = quantity(
        "", "Parts of hardener, by weight", help="from the data sheet", example="12", low="0", high="10000"
    )
    area: Quantity | None = quantity(
        "ft²",
        "Area",
        help="to be coated, both faces if both",
        example="24 ft2",
        low="0 ft2",
        high="5000 ft2",
        optional=True,
    )
    coats: Quantity = quantity(
        "", "Coats", help="of this batch", example="2", low="1", high="10", default="1"
    )
    coverage: Quantity | None = quantity(
        "oz", "Mixed weight for a square foot", help="one coat, from the data sheet or your last batch", example="0.35 oz", low="0.001 oz",
        high="100 oz", optional=True,
    )  # fmt: skip
    seam_length: Quantity | None = quantity(
        "in", "Seam length", help="to be sealed", example="120 in", low="0 in", high="20000 in", optional=True
    )
    bead_width: Quantity | None = quantity(
        "in",
        "Bead or layer, width",
        help="as it lies",
        example="1/2 in",
        low="0.01 in",
        high="10 in",
        optional=True,
    )
    bead_thickness: Quantity | None = quantity(
        "in",
        "Bead or layer, thickness",
        help="as it lies",
        example="1/16 in",
        low="0.001 in",
        high="1 in",
        optional=True,
    )
    density: Quantity | None = quantity(
        "lb/in³", "Weight of the mixed product", help="a cubic inch, or lb/gal, from the data sheet", example="12 lb/gal", low="0.005 lb/in³",
        high="0.5 lb/in³", optional=True,
    )  # fmt: skip
    loss: Quantity = quantity(
        "%",
        "Left in cup and gun",
        help="added to what lies on the metal",
        example="25 %",
        low="0 %",
        high="300 %",
        default="25 %",
    )
    pot_life: Quantity = quantity(
        "h", "Pot life stated", help="from the data sheet", example="4 h", low="0.01 h", high="1000 h"
    )
    pot_life_at: Quantity = quantity(
        "°F",
        "Pot life stated at",
        help="temperature of that statement",
        example="77",
        low="30 °F",
        high="150 °F",
        default="77 °F",
    )
    temperature: Quantity = quantity(
        "°F", "Temperature now", help="of shop and metal", example="68", low="30 °F", high="150 °F"
    )
    humidity: Quantity = quantity(
        "%", "Relative humidity now", help="from the hygrometer", example="45 %", low="0 %", high="100 %"
    )
    coldest: Quantity | None = quantity(
        "°F",
        "Not colder than",
        help="from the data sheet",
        example="60",
        low="0 °F",
        high="150 °F",
        optional=True,
    )
    warmest: Quantity | None = quantity(
        "°F",
        "Not warmer than",
        help="from the data sheet",
        example="95",
        low="0 °F",
        high="150 °F",
        optional=True,
    )
    dampest: Quantity | None = quantity(
        "%",
        "Not damper than",
        help="from the data sheet",
        example="80 %",
        low="0 %",
        high="100 %",
        optional=True,
    )
    mixed_at: str = text("Mixed at", help="day and time, 24 hours", example="2027-03-04 19:30", default="")
    expires: str = text(
        "Last day of the tin", help="the earlier one of base and hardener", example="2027-09-30", default=""
    )
    recoat_from: Quantity | None = quantity(
        "h",
        "Recoat not before",
        help="from the data sheet",
        example="1 h",
        low="0 h",
        high="1000 h",
        optional=True,
    )
    recoat_until: Quantity | None = quantity(
        "h",
        "Recoat not after",
        help="from the data sheet; later it must be scuffed",
        example="24 h",
        low="0 h",
        high="5000 h",
        optional=True,
    )

    def __post_init__(self) -> None:
        by_area = self.area is not None and self.coverage is not None
        seam = (self.seam_length, self.bead_width, self.bead_thickness, self.density)
        if not by_area and any(one is None for one in seam):
            raise MissingError(
                "How much", mend="Enter area and weight for a square foot, or seam length, width, thickness and weight of the product."
            )  # fmt: skip
        for low, high, name in (
            (self.coldest, self.warmest, "Not warmer than"),
            (self.recoat_from, self.recoat_until, "Recoat not after"),
        ):
            if low is not None and high is not None and high.value < low.value:
                raise InputError(
                    name,
                    found=high.text,
                    allowed=f"not under {low.text}",
                    mend="Copy both from the data sheet.",
                )
        moment(self.mixed_at)
        last_day(self.expires)


def moment(text_: str) -> datetime | None:
    """Day and time as written, or None.

    Raises:
        FormatError: it is neither empty nor such a time.
    """
    said = text_.strip()
    if not said:
        return None
    try:
        if not re.fullmatch(r"\d{4}-\d\d-\d\d[ T]\d\d:\d\d", said, re.ASCII):
            raise ValueError
        return datetime.fromisoformat(said.replace("T", " "))
    except ValueError:
        raise FormatError("Mixed at", found=text_, allowed="such as 2027-03-04 19:30") from None


def last_day(text_: str) -> date | None:
    """A day as written, or None.

    Raises:
        FormatError: it is neither empty nor a day.
    """
    said = text_.strip()
    if not said:
        return None
    try:
        if not re.fullmatch(r"\d{4}-\d\d-\d\d", said, re.ASCII):
            raise ValueError
        return date.fromisoformat(said)
    except ValueError:
        raise FormatError("Last day of the tin", found=text_, allowed="such as 2027-09-30") from None


def _sheet_says(said: str) -> Because:
    return Because("worked out", f"{said}: data sheet of the product, as typed in", "second-hand")


@calculation(
    "mix-batch",
    title="Finish or sealing batch",
    summary="Quantity from area or seam length, weights of base and hardener, pot life at tonight's temperature, recoat window, expiry.",
    spec=Batch,
    results=("total", "base", "hardener", "pot_life", "use_by", "recoat"),
)  # fmt: skip
def mix_batch(spec: Batch, ws: Worksheet) -> Outcome:
    """Quantities, times and checks of a batch."""
    lies = 0.0
    if spec.area is not None and spec.coverage is not None:
        on_area = float(spec.area.to("ft²")) * spec.coats.value * spec.coverage.value
        ws.worked_out(
            "on the area",
            shown(on_area * 16, "oz"),
            "area times coats times weight for a square foot",
            value=on_area,
            unit="lb",
        )
        lies += on_area
    if spec.seam_length and spec.bead_width and spec.bead_thickness and spec.density:
        on_seam = (
            spec.seam_length.value * spec.bead_width.value * spec.bead_thickness.value * spec.density.value
        )
        ws.worked_out(
            "on the seam",
            shown(on_seam * 16, "oz"),
            "length times width times thickness times weight",
            value=on_seam,
            unit="lb",
        )
        lies += on_seam
    total = lies * (1 + spec.loss.value)
    ws.worked_out(
        "to mix",
        shown(total * 16, "oz"),
        f"with {spec.loss.text} left in cup and gun",
        value=total,
        unit="lb",
    )
    whole = spec.parts_base.value + spec.parts_hardener.value
    base = ws.step(
        "base", part_weight_lb, total_lb=total, parts_weight=spec.parts_base.value, all_parts_weight=whole
    )
    hardener = ws.step(
        "hardener",
        part_weight_lb,
        total_lb=total,
        parts_weight=spec.parts_hardener.value,
        all_parts_weight=whole,
    )
    rule = ws.look_up("pot life halves every", table("stores/pot-life").cell("usual", "halves every"))
    now = ws.step(
        "pot life now", pot_life_h, stated_h=spec.pot_life.value, stated_at_f=spec.pot_life_at.value, now_f=spec.temperature.value, halves_every_f=rule
    )  # fmt: skip
    # colder never makes the stated life longer than the data sheet says
    life = min(now, spec.pot_life.value)
    mixed = moment(spec.mixed_at)
    results = {
        "total": Result("to mix", total * 16, "oz", places=2), "base": Result("base", base * 16, "oz", places=2),
        "hardener": Result("hardener", hardener * 16, "oz", places=2), "pot_life": Result("pot life tonight", life, "h", limit="most"),
        "use_by": Result("use it up by", _clock(mixed, life)), "recoat": Result("recoat", _window(mixed, spec)),
    }  # fmt: skip
    ws.note(
        "Warm metal and a full cup shorten the pot life further; write temperature and humidity on the cup."
    )
    requirements, findings = _checks(spec, mixed)
    return Outcome(tuple(ws.steps), results, requirements, findings, CAUTIONS)


def _checks(spec: Batch, mixed: datetime | None) -> tuple[tuple[Requirement, ...], tuple[Finding, ...]]:
    made: list[tuple[Requirement, float]] = []
    if spec.coldest is not None or spec.warmest is not None:
        low, high = (None if q is None else q.value for q in (spec.coldest, spec.warmest))
        limits = Requirement(
            name="temperature", unit="°F", low=low, nominal=None, high=high, because=_sheet_says("temperature"), how="thermometer on the metal",
            when_low="Warm shop and metal first, or wait.", when_high="Wait for the evening; mix less at a time.",
        )  # fmt: skip
        made.append((limits, spec.temperature.value))
    if spec.dampest is not None:
        limits = Requirement(
            name="relative humidity", unit="%", low=None, nominal=None, high=100 * spec.dampest.value, because=_sheet_says("humidity"), how="hygrometer",
            when_low="", when_high="Wait for a dry day, or warm the shop.",
        )  # fmt: skip
        made.append((limits, 100 * spec.humidity.value))
    expires = last_day(spec.expires)
    if expires is not None and mixed is not None:
        limits = Requirement(
            name="days left before the tin expires", unit="", low=0.0, nominal=None, high=None,
            because=Because("worked out", f"last day {expires.isoformat()}, from the tin", "second-hand"), how="the date on the tin",
            when_low="Do not use it; throw it out and take a tin that is in date.", when_high="",
        )  # fmt: skip
        made.append((limits, float((expires - mixed.date()).days)))
    findings = tuple(compare(limits, Reading(value, limits.unit)) for limits, value in made)
    return tuple(limits for limits, _ in made), findings


def _clock(mixed: datetime | None, hours: float) -> str:
    if mixed is None:
        return f"{hours:.1f} h after mixing"
    # down to the minute: a limit
    return (mixed + timedelta(minutes=int(hours * 60))).strftime("%Y-%m-%d %H:%M")


def _window(mixed: datetime | None, spec: Batch) -> str:
    def said(hours: Quantity | None) -> str:
        if hours is None:
            return ""
        if mixed is None:
            return f"{hours.value:g} h after the coat"
        return (mixed + timedelta(hours=hours.value)).strftime("%Y-%m-%d %H:%M")

    first, last = said(spec.recoat_from), said(spec.recoat_until)
    if first and last:
        return f"from {first} to {last}; later scuff it first"
    return (
        f"not before {first}"
        if first
        else f"until {last}; later scuff it first"
        if last
        else "the data sheet was not entered"
    )
