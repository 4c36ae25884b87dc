"""How a row of fasteners along the load shares it: the ends take most (shear lag of a long lap)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ribwright.core.audit import (
    Outcome,
    Result,
    Worksheet,
    calculation,
    choice,
    formula,
    quantity,
    text,
    whole,
)
from ribwright.core.bench import CAUTIONS, Because, Finding, Reading, Requirement, compare
from ribwright.core.scene import Item, Polygon, Scene, Text
from ribwright.core.units import Quantity

Floats = NDArray[np.float64]
_KIND = {"solid rivet": (0.4, 2.2), "bolt": (2 / 3, 3.0)}


@formula(
    "fastener.flexibility",
    symbol="C",
    shown=(
        "((upper_in + lower_in) / (2 * diameter_in))**exponent_ratio * shape_factor * (1 / (upper_in * e_upper_psi) + "
        "1 / (lower_in * e_lower_psi) + 1 / (2 * upper_in * e_fastener_psi) + 1 / (2 * lower_in * e_fastener_psi))"
    ),
    unit="",
    source="huth",
    locator="single shear",
    rung="memory",
    limits={
        "upper_in": (0.01, 0.5), "lower_in": (0.01, 0.5), "diameter_in": (0.06, 0.5), "exponent_ratio": (0.3, 0.8),
        "shape_factor": (1.0, 5.0), "e_upper_psi": (1e6, 4e7), "e_lower_psi": (1e6, 4e7), "e_fastener_psi": (1e6, 4e7),
    },
    excuse="no printed worked number was seen; the row it feeds is held against an independent spring matrix",
)  # fmt: skip
def flexibility_in_per_lbf(
    *,
    upper_in: ArrayLike,
    lower_in: ArrayLike,
    diameter_in: ArrayLike,
    exponent_ratio: ArrayLike,
    shape_factor: ArrayLike,
    e_upper_psi: ArrayLike,
    e_lower_psi: ArrayLike,
    e_fastener_psi: ArrayLike,
) -> Floats:
    """Slip of one fastener for each pound that it passes on (in/lbf)."""
    up, low = np.asarray(upper_in, float), np.asarray(lower_in, float)
    e_f = np.asarray(e_fastener_psi, float)
    lead = ((up + low) / (2 * np.asarray(diameter_in, float))) ** np.asarray(exponent_ratio, float)
    parts = 1 / (up * np.asarray(e_upper_psi, float)) + 1 / (low * np.asarray(e_lower_psi, float))
    return lead * np.asarray(shape_factor, float) * (parts + 1 / (2 * up * e_f) + 1 / (2 * low * e_f))


def row_shares(
    *, count: int, pitch_in: float, stiffness_upper_lbf: float, stiffness_lower_lbf: float, flexibility: float
) -> Floats:
    """Share of the load in each fastener, shape (count,), from the end where the upper sheet is pulled; sums to 1.

    Between two fasteners the sheets stretch by what they carry; the difference is the difference of the two slips.

    Args:
        stiffness_upper_lbf, stiffness_lower_lbf: E·A of the sheets over the width that one row serves.
        flexibility: slip of one fastener a pound.
    """
    a = pitch_in / stiffness_upper_lbf
    b = pitch_in / stiffness_lower_lbf
    matrix = np.zeros((count, count))
    right = np.zeros(count)
    for i in range(count - 1):
        # C (F_i - F_i+1) = a (1 - sum) - b sum, with sum of the first i + 1
        matrix[i, i] += flexibility
        matrix[i, i + 1] -= flexibility
        matrix[i, : i + 1] += a + b
        right[i] = a
    matrix[-1, :] = 1.0
    right[-1] = 1.0
    matrix[:-1] /= flexibility
    right[:-1] /= flexibility
    return np.asarray(np.linalg.solve(matrix, right), float)


@dataclass(frozen=True, slots=True)
class LapRow:
    """Fasteners one behind the other along the load, joining two sheets."""

    title: str = text("Joint", help="what is joined", example="spar cap splice")
    kind: str = choice("Fastener", tuple(_KIND), help="solid rivets or bolts", default="solid rivet")
    count: int = whole(
        "Fasteners in the row", help="one behind the other along the load", example="8", low=1, high=400
    )
    pitch: Quantity = quantity(
        "in", "Pitch", help="along the load", example="1/2 in", low="0.1 in", high="20 in"
    )
    width: Quantity = quantity("in", "Width that one row serves", help="the row-to-row distance, or the whole strip", example="1 in", low="0.1 in", high="100 in")  # fmt: skip
    upper: Quantity = quantity(
        "in", "First sheet", help="thickness", example=".063", low="0.01 in", high="0.5 in"
    )
    lower: Quantity = quantity(
        "in", "Second sheet", help="thickness", example=".063", low="0.01 in", high="0.5 in"
    )
    e_upper: Quantity = quantity("Msi", "Modulus of the first sheet", help="in tension", example="10.5 Msi", low="1 Msi", high="40 Msi", default="10.5 Msi")  # fmt: skip
    e_lower: Quantity = quantity("Msi", "Modulus of the second sheet", help="in tension", example="10.5 Msi", low="1 Msi", high="40 Msi", default="10.5 Msi")  # fmt: skip
    diameter: Quantity = quantity(
        "in", "Fastener diameter", help="nominal", example="1/8 in", low="0.06 in", high="0.5 in"
    )
    e_fastener: Quantity = quantity("Msi", "Modulus of the fastener", help="10.3 for aluminium, 29 for steel", example="10.3 Msi", low="1 Msi", high="40 Msi", default="10.3 Msi")  # fmt: skip
    load: Quantity = quantity("lbf", "Load of the row", help="over the width entered", example="2000 lb", low="0.1 lbf", high="1000000 lbf")  # fmt: skip
    capacity: Quantity | None = quantity("lbf", "One fastener carries", help="the least of its modes", example="388 lb", low="0.1 lbf", high="100000 lbf", optional=True)  # fmt: skip


@calculation(
    "row-loads",
    title="Load along a row of fasteners",
    summary="Elastic share of each fastener of a long lap: the end ones take most.",
    spec=LapRow,
    results=("loads", "highest", "highest_against_equal", "least", "flexibility"),
)
def row_loads(spec: LapRow, ws: Worksheet) -> Outcome:
    """Loads by fastener and the peak against equal sharing."""
    exponent, shape = _KIND[spec.kind]
    e_u, e_l, e_f = spec.e_upper.value, spec.e_lower.value, spec.e_fastener.value
    slip = ws.step(
        "flexibility of one fastener (in/lbf)", flexibility_in_per_lbf, upper_in=spec.upper.value, lower_in=spec.lower.value,
        diameter_in=spec.diameter.value, exponent_ratio=exponent, shape_factor=shape, e_upper_psi=e_u, e_lower_psi=e_l, e_fastener_psi=e_f,
    )  # fmt: skip
    width = spec.width.value
    shares = row_shares(
        count=spec.count, pitch_in=spec.pitch.value, stiffness_upper_lbf=e_u * width * spec.upper.value,
        stiffness_lower_lbf=e_l * width * spec.lower.value, flexibility=slip,
    )  # fmt: skip
    loads = shares * spec.load.value
    peak = float(shares.max() * spec.count)
    ws.worked_out(
        "highest against equal sharing",
        f"{peak:.3f}",
        "sheets stretch between fasteners (docs/physics/fastening.md)",
        value=peak,
    )
    ws.note("Elastic. At ultimate load ductile fasteners even the row out; in fatigue the end ones decide.")
    requirements: tuple[Requirement, ...] = ()
    findings: tuple[Finding, ...] = ()
    if spec.capacity is not None:
        one = Requirement(
            name="load on the worst fastener", unit="lbf", low=None, nominal=None, high=spec.capacity.value,
            because=Because.worked_out("what one fastener carries, as entered"), how="this worksheet", when_low="Go on.",
            when_high="Ask the designer: the end fastener is over what it carries while the row is elastic.", refer_high=spec.capacity.value,
        )  # fmt: skip
        requirements = (one,)
        findings = (
            compare(one, Reading(float(loads.max()), "lbf", where=f"fastener {int(loads.argmax()) + 1}")),
        )
    results = {
        "loads": Result(
            "load on each, from the end where the first sheet is pulled",
            tuple(float(x) for x in loads),
            "lbf",
        ),
        "highest": Result("highest", float(loads.max()), "lbf"),
        "highest_against_equal": Result("highest against equal sharing", peak, "", places=3),
        "least": Result("least", float(loads.min()), "lbf"),
        "flexibility": Result("slip of one fastener at 1,000 lbf", slip * 1000, "in", places=4),
    }
    items: list[Item] = [Text((0.0, 2.3), "load on each fastener", 0.14)]
    step = 6.0 / spec.count
    for n, share in enumerate(shares):
        high = 2.0 * float(share / shares.max())
        x = n * step
        items.append(
            Polygon(
                ((x, 0.0), (x + 0.8 * step, 0.0), (x + 0.8 * step, high), (x, high)), "outline", fill="tint"
            )
        )
    scene = Scene(
        tuple(items),
        f"Load along the row: {spec.title}",
        f"Loads from the first fastener: {', '.join(f'{x:.0f}' for x in loads[:40])} lbf.",
    )
    return Outcome(tuple(ws.steps), results, requirements, findings, CAUTIONS, scene)
