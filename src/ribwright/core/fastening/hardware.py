"""What to buy and what to lay out: totals with spares, weights, trays, and what the same set-up does tonight."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ribwright.core.audit import Outcome, Result, Worksheet, calculation, quantity, rows, text, whole
from ribwright.core.bench import CAUTIONS
from ribwright.core.fastening.rivets import read_part_number
from ribwright.core.scene import Item, Polygon, Scene, Text
from ribwright.core.tables import table
from ribwright.core.units import Quantity
from ribwright.errors import InputError, RibwrightError

Floats = NDArray[np.float64]
RIVET_DENSITY_LB_IN3 = 0.100
HALF_CONE_RAD = math.radians(50.0)


def rivet_weight_lb(*, diameter_in: ArrayLike, length_in: ArrayLike, head: str) -> Floats:
    """Weight of one undriven rivet by its volume, ± 5 %; length overall for a flush head."""
    d, length = np.asarray(diameter_in, float), np.asarray(length_in, float)
    if head.startswith("flush"):
        sizes = table("rivets/flush-head")
        known = {float(Fraction(s)): sizes.cell(s, "diameter").canonical for s in sizes.row_keys()}
        x = np.array(sorted(known))
        wide = np.interp(d, x, [known[k] for k in x])
        h = (wide - d) / (2 * math.tan(HALF_CONE_RAD))
        volume = np.pi / 4 * d**2 * np.maximum(length - h, 0.0) + np.pi / 12 * h * (wide**2 + wide * d + d**2)
    else:
        rule = table("rivets/universal-head")
        a = rule.cell("universal", "diameter").value * d / 2
        h = rule.cell("universal", "height").value * d
        volume = np.pi / 4 * d**2 * length + np.pi * h / 6 * (3 * a**2 + h**2)
    return np.asarray(RIVET_DENSITY_LB_IN3 * volume, float)


@dataclass(frozen=True, slots=True)
class Use:
    """Hardware that one operation takes."""

    operation: str = text("Operation", help="where it goes", example="DN-21-S01")
    part_number: str = text("Part number", help="as ordered", example="MS20426AD3-3.5")
    count: int = whole("How many", help="fitted", example="52", low=1, high=1_000_000)
    setup: str = text(
        "Set-up",
        help="tool with die and set, if not by rivet head and size",
        example="squeezer, flush 3/32",
        default="",
    )
    price: Quantity | None = quantity(
        "money",
        "Price of one",
        help="if known",
        example=".03",
        low="0 money",
        high="100000 money",
        optional=True,
    )
    weight: Quantity | None = quantity(
        "lb",
        "Weight of one",
        help="if it is not a solid rivet",
        example=".02 lb",
        low="0 lb",
        high="100 lb",
        optional=True,
    )


@dataclass(frozen=True, slots=True)
class Hardware:
    """All uses, of an operation or of the whole aeroplane."""

    title: str = text("List", help="what it is for", example="left aileron")
    spare: Quantity = quantity(
        "%",
        "Spares",
        help="added to every line and rounded up",
        example="10 %",
        low="0 %",
        high="200 %",
        default="10 %",
    )
    uses: tuple[Use, ...] = rows(Use, "Uses", help="one row an operation and part number", least=1)


@dataclass(frozen=True, slots=True)
class OrderLine:
    """One part number: fitted, to order, weight fitted, cost of what is ordered (None where unknown)."""

    part_number: str
    fitted: int
    order: int
    weight_lb: float | None
    cost: float | None


def _unit_weight(use: Use) -> float | None:
    if use.weight is not None:
        return use.weight.value
    try:
        made = read_part_number(use.part_number)
    except RibwrightError:
        return None
    return float(rivet_weight_lb(diameter_in=made.diameter_in, length_in=made.length_in, head=made.head))


def order_lines(uses: Sequence[Use], spare_share: float) -> tuple[OrderLine, ...]:
    """Totals by part number, sorted; spares rounded up.

    Raises:
        InputError: one part number with two prices or weights.
    """
    groups: dict[str, list[Use]] = {}
    for use in uses:
        groups.setdefault(use.part_number.strip().upper(), []).append(use)
    made = []
    for number in sorted(groups):
        of = groups[number]
        prices = {u.price.value for u in of if u.price is not None}
        weights = {u.weight.value for u in of if u.weight is not None}
        for name, values in (("Price of one", prices), ("Weight of one", weights)):
            if len(values) > 1:
                raise InputError(
                    name,
                    found=f"{len(values)} different ones for {number}",
                    allowed="one",
                    mend="Correct the rows of this part number.",
                )
        fitted = sum(u.count for u in of)
        order = math.ceil(fitted * (1 + spare_share) - 1e-9)
        one = next((w for u in of if (w := _unit_weight(u)) is not None), None)
        made.append(
            OrderLine(
                number,
                fitted,
                order,
                None if one is None else one * fitted,
                order * next(iter(prices)) if prices else None,
            )
        )
    return tuple(made)


def trays(uses: Sequence[Use]) -> dict[str, tuple[tuple[str, int], ...]]:
    """What lies in the tray of each operation."""
    made: dict[str, dict[str, int]] = {}
    for use in uses:
        tray = made.setdefault(use.operation, {})
        key = use.part_number.strip().upper()
        tray[key] = tray.get(key, 0) + use.count
    return {operation: tuple(sorted(tray.items())) for operation, tray in made.items()}


def setup_of(use: Use) -> str:
    """The set-up that a use needs: as entered, else head and size of its rivet, else the part number itself."""
    if use.setup:
        return use.setup
    try:
        made = read_part_number(use.part_number)
    except RibwrightError:
        return use.part_number
    return f"{made.head}, {made.size}"


def same_setup(uses: Sequence[Use]) -> dict[str, tuple[str, ...]]:
    """Operations that one set-up (die, set, size) serves in one evening, the most useful set-up first."""
    made: dict[str, list[str]] = {}
    counts: dict[str, int] = {}
    for use in uses:
        key = setup_of(use)
        counts[key] = counts.get(key, 0) + use.count
        operations = made.setdefault(key, [])
        if use.operation not in operations:
            operations.append(use.operation)
    return {key: tuple(made[key]) for key in sorted(made, key=lambda k: (-counts[k], k))}


@calculation(
    "hardware-list",
    title="Hardware list",
    summary="Totals by part number with spares, weight and cost; the tray of each operation; what the same set-up does tonight.",
    spec=Hardware,
    results=("lines", "fitted", "to_order", "weight", "cost", "trays", "same_setup"),
)
def hardware_list(spec: Hardware, ws: Worksheet) -> Outcome:
    """The list, its trays and its evenings."""
    share = spec.spare.value
    lines = order_lines(spec.uses, share)
    for line in lines:
        ws.worked_out(
            line.part_number, f"{line.fitted} fitted, order {line.order}", f"sum of its uses plus {spec.spare.text} spares, up", value=float(line.order)
        )  # fmt: skip
    known = [line for line in lines if line.weight_lb is not None]
    if len(known) < len(lines):
        ws.note(
            "Without weight: " + ", ".join(line.part_number for line in lines if line.weight_lb is None) + "."
        )
    weight = sum(line.weight_lb or 0.0 for line in known)
    ws.worked_out(
        "weight fitted",
        f"{weight:.3f} lb",
        "solid rivets by volume at .100 lb/in³, ± 5 %; others as entered",
        value=weight,
        unit="lb",
    )
    costs = [line.cost for line in lines if line.cost is not None]
    results = {
        "lines": Result("order", "; ".join(f"{line.order} {line.part_number}" for line in lines)),
        "fitted": Result("fitted", float(sum(line.fitted for line in lines)), "", places=0),
        "to_order": Result("to order", float(sum(line.order for line in lines)), "", places=0),
        "weight": Result("weight fitted, where known", weight, "lb", 0.95 * weight, 1.05 * weight, places=3),
        "cost": Result("cost, where prices are given", sum(costs), "money") if costs else Result("cost", "no price was entered"),
        "trays": Result("trays", "; ".join(f"{op}: " + ", ".join(f"{n} {p}" for p, n in tray) for op, tray in trays(spec.uses).items())),
        "same_setup": Result("same set-up", "; ".join(f"{key}: {', '.join(ops)}" for key, ops in same_setup(spec.uses).items())),
    }  # fmt: skip
    return Outcome(tuple(ws.steps), results, (), (), CAUTIONS, _picture(spec, lines))


def _picture(spec: Hardware, lines: Sequence[OrderLine]) -> Scene:
    most = max(line.order for line in lines)
    items: list[Item] = [Text((0.0, 0.3), f"{spec.title}: to order", 0.14, bold=True)]
    for n, line in enumerate(lines[:40]):
        y = -0.3 * n
        long = 3.5 * line.order / most
        items.append(Text((0.0, y - 0.05), line.part_number[:28], 0.1))
        items.append(
            Polygon(
                ((2.6, y - 0.07), (2.6 + long, y - 0.07), (2.6 + long, y + 0.1), (2.6, y + 0.1)),
                "outline",
                fill="tint",
            )
        )
        items.append(Text((2.7 + long, y - 0.05), str(line.order), 0.1))
    return Scene(
        tuple(items),
        f"Hardware: {spec.title}",
        "; ".join(f"{line.order} {line.part_number}" for line in lines[:40]),
    )
