"""The sheet as the builder knows it: alloy, gauge, grain, certificate; made into working values."""

from __future__ import annotations

from typing import Any

from ribwright.core.audit import Worksheet, choice, quantity
from ribwright.core.forming.section import Layer, Sheet
from ribwright.core.forming.world import Prior
from ribwright.core.tables import table
from ribwright.core.units import Quantity

ALLOYS = ("2024-T3 clad", "2024-T3", "6061-T6")
GRAINS = ("not known", "along the bend path", "across the bend path")
THICKNESS_READ = ("from the gauge", "micrometer")


def alloy_field() -> Any:
    """Which sheet."""
    return choice("Sheet", ALLOYS, help="alloy and temper; clad sheet has a soft face on both sides")


def thickness_field() -> Any:
    """Its thickness."""
    return quantity(
        "in", "Sheet thickness", help="cladding included", example=".020", low="0.008 in", high="0.19 in"
    )


def grain_field() -> Any:
    """How the grain lies."""
    return choice(
        "Grain",
        GRAINS,
        help="the rolling direction (the printed lines mostly run along it) against the path of the bend",
        default="not known",
    )


def yield_field() -> Any:
    """From the mill certificate."""
    return quantity(
        "ksi",
        "Yield from the mill certificate",
        help="0.2 % offset of this lot, if you have the certificate",
        example="48 ksi",
        low="3 ksi",
        high="110 ksi",
        optional=True,
    )


def sheet_of(
    ws: Worksheet, *, alloy: str, thickness: Quantity, grain: str, certificate: Quantity | None
) -> tuple[Sheet, Prior]:
    """Working values and what is not known of them, written into the worksheet."""
    held = table("forming/alloy")

    def number(column: str) -> float:
        said = column.replace("poisson", "Poisson's ratio")
        return ws.look_up(f"{alloy}: {said}", held.cell(alloy, column))

    t = float(thickness.value)
    ws.called_out("sheet thickness", thickness, "as entered")
    along, across = number("yield along"), number("yield across")
    if certificate is not None:
        ws.called_out("yield", certificate, "mill certificate, as entered")
        whole = float(certificate.value)
    elif grain == "along the bend path":
        whole = along
    elif grain == "across the bend path":
        whole = across
    else:
        whole = 0.5 * (along + across)
        ws.assume(
            "yield", f"{whole / 1000:.0f} ksi", "grain not known: middle of the two directions, band widened", value=whole,
            unit="psi", rung="memory",
        )  # fmt: skip
    known = grain != "not known" or along == across
    direction = 0.0 if known else 0.5 * abs(along - across) / (0.5 * (along + across))
    clad = alloy.endswith("clad")
    fraction = 0.0
    if clad:
        number("clad a side")
        fraction = held.cell(alloy, "clad a side").value / 100.0
    face = Layer(number("clad yield"), number("clad exponent")) if clad else Layer(10_000.0, 8.0)
    core = (whole - 2.0 * fraction * face.yield_psi) / (1.0 - 2.0 * fraction)
    sheet = Sheet(
        thickness_in=t,
        modulus_psi=number("modulus"),
        poisson=number("poisson"),
        core=Layer(core, number("exponent")),
        cladding=face,
        clad_fraction=fraction,
    )
    ws.note(
        "The constants of the sheet are typical working values, not allowables; a mill certificate is better."
    )
    return sheet, Prior(yield_share=0.03 if certificate is not None else 0.08, direction_share=direction)
