"""What the shop holds and what is ordered: sheets, extrusions, fasteners, consumables, and the orders for them."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence

from ribwright.dunlin.inputs import TOOLS
from ribwright.dunlin.parts import EXTRUSIONS, SHEETS, extrusion_stock, sheet_stock
from ribwright.dunlin.things import Thing, about, fraction, inch
from ribwright.errors import DoesNotFitError

CUT_IN = 0.25
"""Room between two blanks, and at a sheet's edge."""

# fastener -> what it is, order
FASTENERS = {
    "MS20426": ("solid rivet, flush 100°, 2117-T4", "P01"), "MS20470": ("solid rivet, universal head, 2117-T4", "P01"),
    "MS20600": ("pull-type rivet, protruding head", "P02"), "MS21047": ("nut plate", "P03"), "MS21059": ("nut plate, floating", "P03"),
    "MS24694": ("screw, flush 100°", "P03"), "AN3-": ("bolt, 3/16", "P04"), "AN960": ("washer", "P04"), "AN365": ("stop nut", "P04"),
}  # fmt: skip

# reference, title, what, quantity, unit, days it keeps, order
_CONSUMABLES = (
    ("PRIMER", "primer, two parts", "primer", "4", "qt", 540, "P12"),
    ("SEALANT-TANK", "tank sealant, two parts", "sealant", "3", "pt", 270, "P12"),
    ("CLEANER", "cleaning solvent", "cleaner", "4", "gal", 0, "P12"),
    ("TAPE", "masking and carrying tape", "tape", "12", "roll", 0, "P12"),
    ("THREADLOCK", "thread locker", "mark", "2", "tube", 720, "P12"),
)  # fmt: skip

# number, title, lead in weeks (4 chances in 5 within the second), price in dollars, assemblies it is needed for
_ORDERS = (
    ("P01", "solid rivets", 1, 3, 480, ("21",)), ("P02", "pull-type rivets", 1, 4, 160, ("21",)),
    ("P03", "nut plates and screws", 1, 4, 390, ("21",)), ("P04", "bolts, nuts and washers", 1, 3, 520, ("21",)),
    ("P05", "sheet .016 and .020", 2, 5, 760, ("21",)), ("P06", "sheet .025", 2, 5, 2100, ("31",)),
    ("P07", "sheet .032", 2, 5, 2400, ("31",)), ("P08", "sheet .040 and .063", 2, 6, 980, ("31",)),
    ("P09", "plate for brackets, bent sheet and firewall", 2, 6, 640, ("21",)), ("P10", "angle extrusions", 3, 8, 1150, ("31",)),
    ("P11", "wedge bars", 4, 10, 220, ("21",)), ("P12", "primer, sealant and consumables", 1, 3, 610, ("21",)),
    ("P13", "paint", 2, 4, 1900, ("81",)), ("P14", "balance weights and drive rods", 3, 7, 310, ("21",)),
    ("P15", "landing gear", 8, 16, 3900, ("61",)), ("P16", "engine", 20, 40, 27500, ("71",)),
    ("P17", "propeller and spinner", 12, 24, 3600, ("71",)), ("P18", "engine mount, exhaust, hoses", 8, 18, 4300, ("71",)),
    ("P19", "battery, wire and lights", 3, 8, 2600, ("81",)), ("P20", "controls", 6, 12, 2900, ("81",)),
    ("P21", "fuel system", 3, 8, 1250, ("81",)), ("P22", "cowl and fairings", 8, 20, 2700, ("71", "61")),
    ("P23", "instruments and radio", 6, 14, 9800, ("81",)), ("P24", "canopy, seats and upholstery", 10, 22, 5200, ("81",)),
)  # fmt: skip


def sheets_needed(blanks: Iterable[tuple[float, float]], sheet: tuple[float, float]) -> int:
    """How many sheets hold the blanks when they are cut in rows, the widest first; each blank as it lies or turned.

    Args:
        blanks: width and length of each.
        sheet: width and length as sold.
    """
    width, length = sheet
    sheets = 0
    used = width + 1.0
    row_height, row_run = 0.0, length + 1.0
    for short, long in sorted(((min(b), max(b)) for b in blanks), key=lambda b: (-b[0], -b[1])):
        if short > width or long > length:
            raise DoesNotFitError(
                "blank", found=f"{short:g} x {long:g} in", allowed=f"a sheet of {width:g} x {length:g} in"
            )
        w, run = short + CUT_IN, long + CUT_IN
        if row_run + run <= length + 1e-9 and w <= row_height + 1e-9:
            row_run += run
            continue
        if used + w <= width + 1e-9:
            used += w
        else:
            sheets += 1
            used = w
        row_height, row_run = w, run
    return sheets


def bars_needed(cuts: Iterable[float], length: float) -> int:
    """How many bars hold the cuts, the longest first, each into the first bar with room."""
    left: list[float] = []
    for cut in sorted(cuts, reverse=True):
        if cut > length:
            raise DoesNotFitError("cut", found=f"{cut:g} in", allowed=f"a bar of {length:g} in")
        for place, room in enumerate(left):
            if cut + CUT_IN <= room + 1e-9:
                left[place] -= cut + CUT_IN
                break
        else:
            left.append(length + CUT_IN - cut - CUT_IN)
    return len(left)


def stock(seed: int, things: Sequence[Thing], scale: int) -> tuple[Thing, ...]:
    """Everything in Stores that the aeroplanes are made from, with how much of it they need."""
    parts = [one for one in things if one.noun == "part"]
    blanks: dict[str, list[tuple[float, float]]] = defaultdict(list)
    cuts: dict[str, list[float]] = defaultdict(list)
    for part in parts:
        if part.data["made"] == "sheet":
            a, b = part.data["blank"]
            blanks[part.data["stock"]].append((float(a), float(b)))
        elif part.data["made"] == "extrusion":
            cuts[part.data["stock"]].append(float(part.data["cut_length"]))
    made: list[Thing] = []
    for (material, thickness), size in SHEETS.items():
        ref = sheet_stock(material, thickness)
        if ref in blanks:
            needed = sheets_needed(blanks[ref], size) * scale
            made.append(
                _stock(
                    seed, ref, f"sheet {thickness} {material}", "sheet", needed, "sheet", f"DN-{_sheet_order(material, thickness)}",
                    material=material, thickness=thickness, size=[inch(one) for one in size],
                )
            )  # fmt: skip
    for name, (material, thickness, _, length) in EXTRUSIONS.items():
        ref = extrusion_stock(name)
        if ref in cuts:
            needed = bars_needed(cuts[ref], length) * scale
            made.append(
                _stock(
                    seed, ref, name, "extrusion", needed, "bar", "DN-P11" if "wedge" in name else "DN-P10", material=material,
                    thickness=thickness, length=inch(length),
                )
            )  # fmt: skip
    counts: Counter[str] = Counter()
    for thing in things:
        for one in thing.data.get("fasteners", ()):
            counts[one["part_number"]] += int(one["count"])
    for number in sorted(counts):
        what, order = next(said for stem, said in FASTENERS.items() if number.startswith(stem))
        made.append(
            _stock(
                seed,
                number,
                f"{what} {number}",
                "hardware",
                counts[number] * scale,
                "piece",
                f"DN-{order}",
                part_number=number,
            )
        )
    for ref, title, what, quantity, unit, keeps, order in _CONSUMABLES:
        more = {"expires": "2027-09-30" if keeps < 400 else "2028-03-31"} if keeps else {}
        made.append(
            _stock(
                seed, ref, title, "consumable", int(quantity) * scale, unit, f"DN-{order}", what=what, **more
            )
        )
    return (*made, *round_tools())


def round_tools() -> tuple[Thing, ...]:
    """Pipes, rods and bars to roll over, each with its diameter as measured."""
    return tuple(
        Thing(
            "tool", f"ROUND-{outside}", "", f"{name}, {material}", "none",
            {
                "kind": "tool", "unit": "piece", "on_hand": "1", "size": name, "measured": f"{outside} in", "material": material, "place": "rack 41",
                **({"inside": f"{inside} in"} if inside else {}),
            },
        )
        for name, outside, inside, material in TOOLS
    )  # fmt: skip


def _stock(
    seed: int, ref: str, title: str, kind: str, needed: int, unit: str, order: str, **more: object
) -> Thing:
    spare = 1.05 if kind == "hardware" else 1.0
    held = math.ceil(
        about(
            seed,
            f"{ref}/held",
            needed * (1.18 if kind == "hardware" else 1.0),
            0.1 if kind == "hardware" else 0.0,
        )
        * spare
    )
    return Thing(
        "stock", ref, "", title, "none",
        {
            "kind": kind, "unit": unit, "needed": str(needed), "on_hand": str(held), "order": order,
            "place": f"{'rack' if kind in ('sheet', 'extrusion') else 'bin'} {1 + int(40 * fraction(seed, ref))}",
            "lot": f"L{10000 + int(90000 * fraction(seed, ref + '/lot'))}", **more,
        },
    )  # fmt: skip


def _sheet_order(material: str, thickness: str) -> str:
    if material != "2024-T3 clad":
        return "P09"
    return {".016": "P05", ".020": "P05", ".025": "P06", ".032": "P07"}.get(thickness, "P08")


def orders(seed: int, things: Sequence[Thing]) -> tuple[Thing, ...]:
    """The orders of one aeroplane: what, how long it takes, what it costs, what waits for it."""
    there = {one.ref for one in things if one.noun == "assembly"}
    made = []
    for number, title, likely, late, price, needed_for in _ORDERS:
        received = number in ("P01", "P02", "P03", "P04", "P05", "P09", "P11", "P12", "P14")
        cost = round(about(seed, f"{number}/price", price, 0.08))
        made.append(
            Thing(
                "order", f"DN-{number}", "DN", title, "none",
                {
                    "lead_weeks_likely": str(likely), "lead_weeks_late": str(late), "price_usd": str(cost),
                    "deposit_usd": str(round(0.3 * cost)) if price > 3000 else "0",
                    "state": "received" if received else "to order", "needed_for": [f"DN-{one}" for one in needed_for if f"DN-{one}" in there],
                },
            )
        )  # fmt: skip
    return tuple(made)
