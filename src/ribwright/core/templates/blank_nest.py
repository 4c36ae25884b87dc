"""Blanks on the sheets in Stores, as a calculation."""

from __future__ import annotations

from dataclasses import dataclass

from ribwright.core.audit import Outcome, Result, Worksheet, calculation, choice, quantity, rows, text, whole
from ribwright.core.geometry import Outline, area_in2, filleted
from ribwright.core.geometry.outlines import counter_clockwise
from ribwright.core.scene import bounds, moved, together
from ribwright.core.tables import table
from ribwright.core.templates.nested import Blank, Nest, Placed, Sheet, laid_out, nest_picture
from ribwright.core.templates.nesting import nest
from ribwright.core.units import Quantity
from ribwright.errors import ConflictError, FormatError, MissingError, UnknownNameError


@dataclass(frozen=True, slots=True)
class FlatBlank:
    """A blank with four corners: a rectangle, or tapered to a second width."""

    name: str = text("Blank", help="part it is for", example="DN-2105 rib")
    count: int = whole("How many", help="pieces of this blank", example="4", low=1, high=500, default=1)
    length: Quantity | None = quantity(
        "in", "Length", help="along the grain as drawn; empty when its corners are given below", example="11.2",
        low="0.25 in", high="200 in", optional=True,
    )  # fmt: skip
    width: Quantity | None = quantity(
        "in", "Width", help="at its first end; empty when its corners are given below", example="3.5",
        low="0.25 in", high="100 in", optional=True,
    )  # fmt: skip
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
class OutlineCorner:
    """A corner of a blank that has more than four, or other than such."""

    blank: str = text("Blank", help="the same name as above", example="DN-2105 rib")
    x: Quantity = quantity("in", "x", help="along the grain", example="0", low="-500 in", high="500 in")
    y: Quantity = quantity("in", "y", help="across the grain", example="0", low="-200 in", high="200 in")


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
class KeptPlace:
    """Where one piece lies in a layout that is kept."""

    piece: str = text("Piece", help="the blank's name", example="DN-2105 rib")
    sheet: str = text("On", help="the sheet's name", example="2024-T3 .025 sheet 1")
    turn: Quantity = quantity(
        "deg", "Turned", help="counter-clockwise", example="180", low="-360 deg", high="720 deg"
    )
    x: Quantity = quantity(
        "in", "x", help="moved along the sheet", example="12.3", low="-500 in", high="1000 in"
    )
    y: Quantity = quantity(
        "in", "y", help="moved across the sheet", example="4.5", low="-500 in", high="500 in"
    )


@dataclass(frozen=True, slots=True)
class BlankNest:
    """Blanks to be laid out on sheets of one alloy and thickness."""

    blanks: tuple[FlatBlank, ...] = rows(FlatBlank, "Blanks", help="one row a shape", least=1)
    outlines: tuple[OutlineCorner, ...] = rows(
        OutlineCorner, "Corners", help="of blanks without length and width, in order round each", least=0
    )
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
    material: str = choice(
        "Material", tuple(table("materials/sheet").rows), help="for the weight", default="2024-T3 clad"
    )
    seconds: int = whole(
        "Time to look",
        help="seconds given to the packer; 0 for plain columns at once",
        example="8",
        low=0,
        high=120,
        default=6,
    )
    kept: tuple[KeptPlace, ...] = rows(
        KeptPlace,
        "Layout kept",
        help="filled in by what keeps a layout; with it nothing is looked for again",
        least=0,
    )


def _shape(row: FlatBlank, corners: tuple[OutlineCorner, ...]) -> Outline:
    """The blank's outline, from its own corners or as a (tapered) rectangle with round corners."""
    own = [(c.x.value, c.y.value) for c in corners if c.blank == row.name]
    if own and (row.length is not None or row.width is not None):
        raise ConflictError(
            f"Blank {row.name}",
            found="length or width, and corners",
            allowed="one of them",
            mend="Empty length and width.",
        )
    if own:
        return counter_clockwise(filleted(own, row.corner.value, field=f"corners of {row.name}"))
    if row.length is None or row.width is None:
        raise MissingError(
            f"Blank {row.name}", allowed="length and width, or its corners", mend="Enter one of the two."
        )
    w, f, length = row.width.value, (row.far_width or row.width).value, row.length.value
    corners_in = [(0.0, 0.0), (length, (w - f) / 2), (length, (w + f) / 2), (0.0, w)]
    return filleted(corners_in, row.corner.value, field=f"corner radius of {row.name}")


def _without_semicolons(spec: BlankNest) -> None:
    for field, names in (
        ("Blanks", [b.name for b in spec.blanks]),
        ("Sheets", [s.name for s in spec.sheets]),
    ):
        for name in names:
            if ";" in name:
                raise FormatError(
                    field, found=name, allowed="a name without a semicolon", mend="Write it with a comma."
                )
        if len(set(names)) < len(names):
            raise ConflictError(
                field, found="one name twice", allowed="each name once", mend="Name them apart."
            )


@calculation(
    "nest-blanks",
    title="Blanks on sheets",
    summary="Where each blank goes on the sheets at hand, grain kept, how much is used and what is left.",
    spec=BlankNest,
    results=(
        "placed",
        "sheets",
        "use",
        "used_lengths",
        "area",
        "weight",
        "pieces",
        "used_sheets",
        "x",
        "y",
        "turn",
        "sheet_of",
    ),
)
def nest_blanks(spec: BlankNest, ws: Worksheet) -> Outcome:
    """Lay the blanks out, check the result from scratch, and draw each sheet."""
    _without_semicolons(spec)
    blanks = [Blank(row.name, _shape(row, spec.outlines), row.count, row.grain) for row in spec.blanks]  # type: ignore[arg-type]
    named = {row.name for row in spec.blanks}
    for corner in spec.outlines:
        if corner.blank not in named:
            raise UnknownNameError(
                "Corners", found=corner.blank, allowed="a blank named above", mend="Give both the same name."
            )
    sheets = [Sheet(s.name, s.length.value, s.width.value) for s in spec.sheets]
    if spec.kept:
        made = _kept(spec, blanks, sheets)
    else:
        made = nest(blanks, sheets, gap_in=spec.gap.value, margin_in=spec.margin.value, seconds=spec.seconds)
    if made.check:
        raise ConflictError(
            "Layout kept" if spec.kept else "nest", because="the layout does not pass the check", found=made.check,
            mend="Empty the kept layout and look for a new one" if spec.kept else "Run it again",
        )  # fmt: skip
    area = sum(abs(area_in2(b.shape)) * b.count for b in blanks)
    ws.worked_out(
        "layout", f"{len(made.placed)} blanks on {len(made.sheets)} {'sheet' if len(made.sheets) == 1 else 'sheets'}",
        "strip packer; gap, overlap, margin, grain and count checked again with another program", rung="derived",
    )  # fmt: skip
    if not spec.kept:
        ws.note("The layout is a result to keep: the packer need not find the same one again.")
    results = {
        "placed": Result("blanks placed", float(len(made.placed)), "", places=0),
        "sheets": Result("sheets used", float(len(made.sheets)), "", places=0),
        "use": Result("of the used length that is blanks", 100 * made.use, "%"),
        "used_lengths": Result("length used, by sheet", made.used_length_in, "in"),
        "area": Result("sheet in the blanks", area, "in²"),
        "weight": Result("weight of the blanks", "not worked out: enter the thickness"),
        "pieces": Result("pieces in their order", "; ".join(p.name for p in made.placed)),
        "used_sheets": Result("sheets in their order", "; ".join(one.name for one in made.sheets)),
        "x": Result("moved along the sheet, by piece", tuple(p.dx_in for p in made.placed), "in"),
        "y": Result("moved across the sheet, by piece", tuple(p.dy_in for p in made.placed), "in"),
        "turn": Result("turned, by piece", tuple(p.turn_deg % 360.0 for p in made.placed), "deg"),
        "sheet_of": Result(
            "sheet number, by piece", tuple(float(p.sheet + 1) for p in made.placed), "", places=0
        ),
    }
    if spec.thickness is not None:
        density = ws.look_up("density", table("materials/sheet").cell(spec.material, "density"))
        results["weight"] = Result("weight of the blanks", area * spec.thickness.value * density, "lb")
    below, stacked = 0.0, []
    for one in nest_picture(made, blanks):
        box = bounds(one)
        stacked.append(moved(one, 0.0, below - box.top))
        below -= box.height + 2.0
    return Outcome(tuple(ws.steps), results, picture=together(*stacked, title="Blanks on sheets"))


def _kept(spec: BlankNest, blanks: list[Blank], sheets: list[Sheet]) -> Nest:
    """The layout as it was kept, worked out and checked anew."""
    by_name = {sheet.name: sheet for sheet in sheets}
    names = {blank.name for blank in blanks}
    order: list[str] = []
    placed = []
    for row in spec.kept:
        if row.piece not in names or row.sheet not in by_name:
            raise UnknownNameError(
                "Layout kept",
                found=f"{row.piece} on {row.sheet}",
                allowed="blanks and sheets named above",
                mend="Empty the kept layout.",
            )
        if row.sheet not in order:
            order.append(row.sheet)
        placed.append(Placed(row.piece, order.index(row.sheet), row.turn.value, row.x.value, row.y.value))
    used = [by_name[name] for name in order]
    return laid_out(placed, blanks, used, gap_in=spec.gap.value, margin_in=spec.margin.value)


def kept_rows(outcome: Outcome) -> list[dict[str, str]]:
    """A layout that ``nest-blanks`` found, as rows of ``kept``, so that it is entered as it is."""
    found = outcome.results

    def numbers(key: str) -> tuple[float, ...]:
        value = found[key].value
        assert isinstance(value, tuple)
        return value

    pieces, sheets = (str(found[key].value).split("; ") for key in ("pieces", "used_sheets"))
    places = zip(pieces, numbers("sheet_of"), numbers("turn"), numbers("x"), numbers("y"), strict=True)
    return [
        {
            "piece": name,
            "sheet": sheets[int(sheet) - 1],
            "turn": f"{turn:.9g} deg",
            "x": f"{x:.7f} in",
            "y": f"{y:.7f} in",
        }
        for name, sheet, turn, x, y in places
    ]
