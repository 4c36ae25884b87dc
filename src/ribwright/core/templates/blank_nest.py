"""Blanks on the sheets in Stores, as a calculation."""

from __future__ import annotations

from dataclasses import dataclass

from ribwright.core.audit import Outcome, Result, Worksheet, calculation, choice, quantity, rows, text, whole
from ribwright.core.geometry import area_in2, filleted
from ribwright.core.scene import bounds, moved, together
from ribwright.core.templates.nesting import Blank, Grain, Sheet, nest, nest_picture
from ribwright.core.units import Quantity
from ribwright.errors import ConflictError


@dataclass(frozen=True, slots=True)
class FlatBlank:
    """A blank with four corners: a rectangle, or tapered to a second width."""

    name: str = text("Blank", help="part it is for", example="DN-2105 rib")
    count: int = whole("How many", help="pieces of this blank", example="4", low=1, high=500, default=1)
    length: Quantity = quantity(
        "in", "Length", help="along the grain as drawn", example="11.2", low="0.25 in", high="200 in"
    )
    width: Quantity = quantity(
        "in", "Width", help="at its first end", example="3.5", low="0.25 in", high="100 in"
    )
    far_width: Quantity | None = quantity(
        "in",
        "Width at the far end",
        help="for a tapered blank",
        example="2.25",
        low="0.1 in",
        high="100 in",
        optional=True,
    )
    corner: Quantity = quantity(
        "in",
        "Corner radius",
        help="at all four corners",
        example=".25",
        low="0 in",
        high="10 in",
        default="0",
    )
    grain: str = choice(
        "Grain", ("along", "across", "any", "free"), help="how it must run to the length; free turns at any angle",
        default="along",
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class StockSheet:
    """A sheet or offcut at hand."""

    name: str = text("Sheet", help="as in Stores", example="2024-T3 .025 sheet 1")
    length: Quantity = quantity(
        "in", "Length", help="along the grain", example="144", low="2 in", high="500 in"
    )
    width: Quantity = quantity(
        "in", "Width", help="across the grain", example="48", low="2 in", high="100 in"
    )


@dataclass(frozen=True, slots=True)
class BlankNest:
    """Blanks to be laid out on sheets of one alloy and thickness."""

    blanks: tuple[FlatBlank, ...] = rows(FlatBlank, "Blanks", help="one row a shape", least=1)
    sheets: tuple[StockSheet, ...] = rows(
        StockSheet, "Sheets", help="in the order to use them: offcuts first", least=1
    )
    gap: Quantity = quantity(
        "in",
        "Gap between blanks",
        help="cut and finger's width",
        example="1/8",
        low="0 in",
        high="4 in",
        default="1/8",
    )
    margin: Quantity = quantity(
        "in",
        "Clamp margin",
        help="free border of each sheet",
        example="1/4",
        low="0 in",
        high="6 in",
        default="1/4",
    )
    thickness: Quantity | None = quantity(
        "in",
        "Sheet thickness",
        help="for the weight",
        example=".025",
        low="0.01 in",
        high="0.5 in",
        optional=True,
    )
    seconds: int = whole(
        "Time to look",
        help="seconds given to the packer; 0 for plain columns at once",
        example="8",
        low=0,
        high=120,
        default=6,
    )


@calculation(
    "nest-blanks",
    title="Blanks on sheets",
    summary="Where each blank goes on the sheets at hand, grain kept, how much is used and what is left.",
    spec=BlankNest,
    results=("placed", "sheets", "use", "used_lengths", "area", "weight", "x", "y", "turn", "sheet_of"),
)
def nest_blanks(spec: BlankNest, ws: Worksheet) -> Outcome:
    """Lay the blanks out, check the result from scratch, and draw each sheet."""
    blanks = []
    for row in spec.blanks:
        w, f, length = row.width.value, (row.far_width or row.width).value, row.length.value
        corners = [(0.0, 0.0), (length, (w - f) / 2), (length, (w + f) / 2), (0.0, w)]
        grain: Grain = row.grain  # type: ignore[assignment]
        shape = filleted(corners, row.corner.value, field=f"corner radius of {row.name}")
        blanks.append(Blank(row.name, shape, row.count, grain))
    sheets = [Sheet(s.name, s.length.value, s.width.value) for s in spec.sheets]
    made = nest(blanks, sheets, gap_in=spec.gap.value, margin_in=spec.margin.value, seconds=spec.seconds)
    if made.check:
        raise ConflictError(
            "nest", because="the layout did not pass its own check", found=made.check, mend="Run it again"
        )
    area = sum(abs(area_in2(b.shape)) * b.count for b in blanks)
    ws.worked_out(
        "layout", f"{len(made.placed)} blanks on {len(made.sheets)} sheets",
        "strip packer; gap, overlap, margin, grain and count checked again with another program", rung="derived",
    )  # fmt: skip
    ws.note("The layout is a result to keep: the packer need not find the same one again.")
    results = {
        "placed": Result("blanks placed", float(len(made.placed)), "", places=0),
        "sheets": Result("sheets used", float(len(made.sheets)), "", places=0),
        "use": Result("of the used length that is blanks", 100 * made.use, "%"),
        "used_lengths": Result("length used, by sheet", made.used_length_in, "in"),
        "area": Result("sheet in the blanks", area, "in²"),
        "weight": Result("weight of the blanks", "not worked out: enter the thickness"),
        "x": Result("moved along the sheet, by piece", tuple(p.dx_in for p in made.placed), "in"),
        "y": Result("moved across the sheet, by piece", tuple(p.dy_in for p in made.placed), "in"),
        "turn": Result("turned, by piece", tuple(p.turn_deg for p in made.placed), "deg"),
        "sheet_of": Result(
            "sheet number, by piece", tuple(float(p.sheet + 1) for p in made.placed), "", places=0
        ),
    }
    if spec.thickness is not None:
        density = 0.100
        ws.assume(
            "density",
            f"{density:.3f} lb/in³",
            "aluminium alloy sheet, rounded",
            value=density,
            unit="lb/in³",
            rung="memory",
        )
        results["weight"] = Result("weight of the blanks", area * spec.thickness.value * density, "lb")
    below, stacked = 0.0, []
    for one in nest_picture(made, blanks):
        box = bounds(one)
        stacked.append(moved(one, 0.0, below - box.top))
        below -= box.height + 2.0
    return Outcome(tuple(ws.steps), results, picture=together(*stacked, title="Blanks on sheets"))
