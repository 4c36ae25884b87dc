"""The measured check figure, as a calculation."""

from __future__ import annotations

from dataclasses import dataclass

from ribwright.core.audit import Outcome, Result, Worksheet, calculation, quantity, text
from ribwright.core.scene import Circle, Dimension, Scene
from ribwright.core.templates.printer import check_printer, printer_factor
from ribwright.core.units import Quantity


@dataclass(frozen=True, slots=True)
class PrintedFigure:
    """What the check figure of a print measured."""

    printer: str = text("Printer", help="which one", example="shop laser", default="")
    short: Quantity = quantity(
        "in",
        "4.000 in bar along the short edge",
        help="tick to tick, as measured",
        example="3.984",
        low="0.5 in",
        high="20 in",
    )
    long: Quantity = quantity(
        "in",
        "4.000 in bar along the long edge",
        help="tick to tick, as measured",
        example="4.000",
        low="0.5 in",
        high="20 in",
    )
    short_before: Quantity = quantity(
        "",
        "Factor used, short edge",
        help="of the print that was measured",
        example="1",
        low="0.97",
        high="1.03",
        default="1",
    )
    long_before: Quantity = quantity(
        "",
        "Factor used, long edge",
        help="of the print that was measured",
        example="1",
        low="0.97",
        high="1.03",
        default="1",
    )


@calculation(
    "printer-check",
    title="Is the printer true?",
    summary="From the measured check figure: use the print, correct this printer, or find the wrong setting.",
    spec=PrintedFigure,
    results=("verdict", "short_factor", "long_factor", "next"),
)
def printer_check(spec: PrintedFigure, ws: Worksheet) -> Outcome:
    """Accept within .002 in over 4 in, correct up to 3 %, refuse beyond with the usual cause."""
    before = (spec.short_before.value, spec.long_before.value)
    made = check_printer(measured_short_in=spec.short.value, measured_long_in=spec.long.value, before=before)
    for name, measured, factor in (
        ("short", spec.short.value, before[0]),
        ("long", spec.long.value, before[1]),
    ):
        ws.step(
            f"factor along the {name} edge", printer_factor, length_in=4.0, measured_in=measured,
            factor_before_factor=factor,
        )  # fmt: skip
    figure = Scene(
        (
            Circle((2, 0), 0.05),
            Dimension((0, 0), (4, 0), 0.4, f"4.000 asked, {spec.short.value:.3f} measured"),
        ),
        "Check figure",
        f"4.000 in asked for; {spec.short.value:.3f} and {spec.long.value:.3f} in measured.",
    )
    return Outcome(
        tuple(ws.steps),
        {
            "verdict": Result("the print is", made.verdict),
            "short_factor": Result("factor, short edge", made.short_edge, "", places=5),
            "long_factor": Result("factor, long edge", made.long_edge, "", places=5),
            "next": Result("next", made.said),
        },
        picture=figure,
    )
