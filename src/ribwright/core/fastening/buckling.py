"""Sheet in compression that buckles between its rivets; both published fixities are shown."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ribwright.core.audit import Outcome, Result, Worksheet, calculation, choice, formula, quantity, text
from ribwright.core.bench import CAUTIONS, Because, Finding, Reading, Requirement, compare
from ribwright.core.fastening.joint import MATERIALS, sheet_cell
from ribwright.core.scene import Circle, Dimension, Item, Polyline, Scene
from ribwright.core.tables import table
from ribwright.core.units import Quantity

Floats = NDArray[np.float64]
HEADS = ("universal", "round or brazier", "flush, dimpled or tension head", "flush, shear head", "bolt")
USUAL_SHAPE = 10.0


@formula(
    "sheet.inter_rivet",
    symbol="F_ir",
    shown="fixity_factor * pi**2 * e_c_psi / 12 * (thickness_in / pitch_in)**2",
    unit="psi",
    source="flabel",
    locator="inter-rivet buckling, elastic",
    rung="seen",
    limits={
        "fixity_factor": (1.0, 4.0),
        "e_c_psi": (1e6, 4e7),
        "thickness_in": (0.01, 0.25),
        "pitch_in": (0.1, 10.0),
    },
    excuse="the source prints the formula; no worked number of it was seen",
    deviation="The older form .9 c E (t/s)² is the same with a plate's 1/(1 - ν²); the smaller number is used.",
)
def inter_rivet_psi(
    *, fixity_factor: ArrayLike, e_c_psi: ArrayLike, thickness_in: ArrayLike, pitch_in: ArrayLike
) -> Floats:
    """Elastic stress at which the sheet between two rivets buckles as a column."""
    slender = np.asarray(thickness_in, float) / np.asarray(pitch_in, float)
    return np.asarray(fixity_factor, float) * np.pi**2 * np.asarray(e_c_psi, float) / 12 * slender**2


def with_yielding_psi(elastic_psi: ArrayLike, *, e_c_psi: float, f_cy_psi: float, shape_n: float) -> Floats:
    """The buckling stress with the tangent modulus of a Ramberg-Osgood curve in place of Ec; never above Fcy."""
    elastic = np.asarray(elastic_psi, float)
    low, high = np.zeros_like(elastic), np.minimum(elastic, f_cy_psi)
    for _ in range(60):
        middle = (low + high) / 2
        tangent = 1 / (1 + 0.002 * shape_n * e_c_psi / f_cy_psi * (middle / f_cy_psi) ** (shape_n - 1))
        holds = middle <= tangent * elastic
        low, high = np.where(holds, middle, low), np.where(holds, high, middle)
    return low


@dataclass(frozen=True, slots=True)
class InterRivet:
    """A sheet in compression between rivets."""

    title: str = text("Seam", help="what is joined", example="wing skin to stringer")
    thickness: Quantity = quantity("in", "Thickness", help="of the sheet that could buckle", example=".025", low="0.010 in", high="0.25 in")  # fmt: skip
    material: str = choice("Material", MATERIALS, help="alloy and temper", default="2024-T3 clad")
    head: str = choice("Head", HEADS, help="how the fastener holds the sheet", default="universal")
    pitch: Quantity = quantity(
        "in", "Pitch", help="along the compression", example="1-1/8 in", low="0.1 in", high="10 in"
    )
    stress: Quantity | None = quantity(
        "psi", "Compression in the sheet", help="ultimate; without it the buckling stress alone is stated", example="8 ksi",
        low="1 psi", high="100 ksi", optional=True,
    )  # fmt: skip


@calculation(
    "inter-rivet",
    title="Buckling between rivets",
    summary="Compression at which a sheet buckles between its rivets, with both published end fixities.",
    spec=InterRivet,
    results=("buckling_stress", "buckling_stress_other", "fixity", "pitch_for_yield"),
)
def inter_rivet(spec: InterRivet, ws: Worksheet) -> Outcome:
    """Buckling stress, the other fixity's answer, the pitch at which the sheet would yield first."""
    ws.called_out("thickness", spec.thickness, "drawing")
    ws.called_out("pitch", spec.pitch, "drawing")
    t = spec.thickness.value
    e_c = ws.look_up("compression modulus", sheet_cell(spec.material, t, "Ec")) if "Ec" in _row(spec) else 1e7
    if "Ec" not in _row(spec):
        ws.assume(
            "compression modulus",
            "10 Msi",
            "the table prints none for this sheet",
            value=1e7,
            unit="psi",
            rung="memory",
        )
    f_cy_cell = sheet_cell(spec.material, t, "Fcy_L" if "Fcy_L" in _row(spec) else "Fty_L")
    f_cy = ws.look_up("compression yield", f_cy_cell)
    fixity = table("rivets/inter-rivet-fixity")
    used = fixity.cell(spec.head, "used")
    values: dict[str, float] = {}
    for name, cell in (
        ("used", used),
        ("other", fixity.cell(spec.head, "other") if "other" in fixity.rows[spec.head] else used),
    ):
        c = ws.look_up(f"end fixity, {name}", cell)
        elastic = ws.step(
            f"elastic buckling, fixity {c:g}",
            inter_rivet_psi,
            fixity_factor=c,
            e_c_psi=e_c,
            thickness_in=t,
            pitch_in=spec.pitch.value,
        )
        n = _shape(spec.material)
        values[name] = float(with_yielding_psi(elastic, e_c_psi=e_c, f_cy_psi=f_cy, shape_n=n))
        ws.worked_out(
            f"with yielding, fixity {c:g}", f"{values[name]:,.0f} psi", f"tangent modulus, exponent {n:g}", value=values[name], unit="psi", rung="memory",
        )  # fmt: skip
    ws.note(
        "The smaller published fixity is used, the other is shown beside it: for a universal head one source prints 3, another 4."
    )
    c = used.value
    at_yield = float(np.sqrt(c * np.pi**2 * e_c / (12 * f_cy)) * t)
    findings: tuple[Finding, ...] = ()
    requirements: tuple[Requirement, ...] = ()
    if spec.stress is not None:
        enough = Requirement(
            name="buckling stress between rivets", unit="psi", low=spec.stress.value, nominal=None, high=None,
            because=Because.worked_out("compression entered"), how="this worksheet",
            when_low="Ask the designer: the sheet buckles between rivets under this compression.", when_high="Go on.",
            refer_low=spec.stress.value,
        )  # fmt: skip
        requirements = (enough,)
        findings = (compare(enough, Reading(values["used"], "psi", where="pitch as drawn")),)
    results = {
        "buckling_stress": Result("buckles between rivets at", values["used"], "psi"),
        "buckling_stress_other": Result("with the other published fixity", values["other"], "psi"),
        "fixity": Result("end fixity used", c, "", places=1),
        "pitch_for_yield": Result("pitch at which elastic buckling equals yield", at_yield, "in"),
    }
    long, k = spec.pitch.value, 3.0 / spec.pitch.value
    wave = tuple((x * k / 20 * long, 0.25 * (1 - np.cos(2 * np.pi * x / 20))) for x in range(21))
    items: list[Item] = [
        Polyline(tuple((float(x), float(y)) for x, y in wave), style="heavy"),
        Circle((0.0, 0.0), 0.1), Circle((long * k, 0.0), 0.1), Dimension((0.0, 0.0), (long * k, 0.0), -0.4, spec.pitch.text),
    ]  # fmt: skip
    scene = Scene(
        tuple(items),
        f"Sheet between two rivets: {spec.title}",
        f"The sheet buckles between rivets {spec.pitch.text} apart at {values['used']:,.0f} psi.",
    )
    return Outcome(tuple(ws.steps), results, requirements, findings, CAUTIONS, scene)


def _shape(material: str) -> float:
    held = table("materials/compression-shape")
    return held.cell(material, "n").value if material in held.rows else USUAL_SHAPE


def _row(spec: InterRivet) -> dict[str, str]:
    cell = sheet_cell(spec.material, spec.thickness.value, "Ftu_L")
    return dict(table("materials/sheet").rows[cell.row])
