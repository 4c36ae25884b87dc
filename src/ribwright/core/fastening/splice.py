"""A sheet, stringer or frame splice by the published rivet tables, with their own order of rounding."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ribwright.core.audit import (
    Outcome,
    Result,
    Worksheet,
    calculation,
    choice,
    flag,
    formula,
    quantity,
    text,
)
from ribwright.core.bench import CAUTIONS, Because, Requirement
from ribwright.core.fastening.rivets import SIZES
from ribwright.core.fastening.strength import splice_rivets_per_inch
from ribwright.core.scene import Circle, Dimension, Item, Line, Polygon, Scene, Text
from ribwright.core.tables import Cell, table
from ribwright.core.units import Quantity
from ribwright.errors import DoesNotFitError, GeometryError, NoSuchRowError, OutsideTableError

Floats = NDArray[np.float64]

LAP = "single-lap sheet joint"
FULL = "full"
STRINGER = "stringer, upper wing or fuselage"
FRAME = "intermediate frame"
KINDS = {
    "single-lap joint": LAP,
    "sheet with splice plate": FULL,
    "stringer of upper wing or fuselage": STRINGER,
    "stringer of lower wing": FULL,
    "intermediate frame": FRAME,
}
MATERIALS = (
    "2024-T3 clad", "2024-T3", "2024-T36", "2014-T6", "7075-T6", "2017-T3", "2017 clad", "5052", "6061-T6",
)  # fmt: skip


@formula(
    "splice.rivets",
    symbol="n",
    shown="ceil(width_in * rivets_per_in * reduction_factor - 1e-9)",
    unit="",
    source="ac43-13-1b",
    locator="par. 4-58g, page 4-27",
    rung="seen",
    limits={"width_in": (0.05, 200.0), "rivets_per_in": (1.0, 20.0), "reduction_factor": (0.5, 1.0)},
)
def rivets_needed(*, width_in: ArrayLike, rivets_per_in: ArrayLike, reduction_factor: ArrayLike) -> Floats:
    """Rivets on one side of a sheet splice: the reduced number per inch times the width, then up."""
    wanted = (
        np.asarray(width_in, float) * np.asarray(rivets_per_in, float) * np.asarray(reduction_factor, float)
    )
    return np.ceil(wanted - 1e-9)


@formula(
    "splice.rivets_member",
    symbol="n",
    shown="ceil(reduction_factor * ceil(width_in * rivets_per_in - 1e-9) - 1e-9)",
    unit="",
    source="ac43-13-1b",
    locator="figure 4-20, page 4-41",
    rung="seen",
    limits={"width_in": (0.05, 200.0), "rivets_per_in": (1.0, 20.0), "reduction_factor": (0.5, 1.0)},
)
def rivets_needed_member(
    *, width_in: ArrayLike, rivets_per_in: ArrayLike, reduction_factor: ArrayLike
) -> Floats:
    """Rivets each side of the cut of a frame or stringer: up to whole rivets before the reduction, and up again after."""
    whole = np.ceil(np.asarray(width_in, float) * np.asarray(rivets_per_in, float) - 1e-9)
    return np.ceil(np.asarray(reduction_factor, float) * whole - 1e-9)


@dataclass(frozen=True, slots=True)
class Splice:
    """A splice that carries what the sheet carries, by the tables of the repair handbook."""

    title: str = text("Splice", help="what is spliced", example="skin, bay 4")
    drawing: str = text("Drawing number", help="where the part is drawn", example="DN-2100", default="")
    revision: str = text("Drawing revision", help="as printed on the drawing", example="B", default="")
    primary: bool = flag("Primary structure", help="spar, attach fittings, controls, engine mount, gear")
    kind: str = choice("Kind of splice", tuple(KINDS), help="what is joined", default="single-lap joint")
    material: str = choice("Material", MATERIALS, help="of the part that is spliced", default="2024-T3 clad")
    thickness: Quantity = quantity(
        "in", "Thickness", help="of the part that is spliced", example=".032", low="0.010 in", high="0.2 in"
    )
    width: Quantity = quantity(
        "in",
        "Width across the load",
        help="of the sheet at the cut, or of the one leg or web that is counted",
        example="10 in",
        low="0.1 in",
        high="200 in",
    )
    size: str | None = choice(
        "Rivet diameter called out", SIZES, help="if the drawing gives it", optional=True
    )
    table: str | None = choice(
        "Table called out",
        ("4-9", "4-10", "4-11"),
        help="of AC 43.13-1B, if another than the material's usual one",
        optional=True,
    )


def splice_cell(table_name: str, thickness_in: float, size: str) -> Cell:
    """The printed rivets per inch; between two printed thicknesses the next thicker, which asks for more.

    Raises:
        OutsideTableError: before the first or after the last printed cell of this rivet size.
    """
    return table(f"ac43/table-{table_name}").at(thickness_in, size)


def proposed_size(table_name: str, kind: str, thickness_in: float, width_in: float) -> tuple[str, str]:
    """Diameter and why; only sizes for which the table prints a number at this thickness."""
    printed = []
    for size in SIZES:
        try:
            splice_cell(table_name, thickness_in, size)
        except (OutsideTableError, NoSuchRowError):
            continue
        printed.append(size)
    if not printed:
        splice_cell(table_name, thickness_in, SIZES[0])  # refuses, naming the range
    if kind == STRINGER:
        fits = [
            s
            for s in printed
            if 2 * thickness_in - 1e-9 <= float(Fraction(s)) <= min(3 * thickness_in, width_in / 4) + 1e-9
        ]
        if not fits:
            raise GeometryError(
                "Rivet diameter called out", found=f"no size between 2 and 3 thicknesses and under W/4 = {width_in / 4:.3f} in",
                allowed="a diameter from the drawing", mend="Enter the diameter that the drawing gives.",
            )  # fmt: skip
        return fits[
            -1
        ], "between two and three thicknesses of the leg and not over W/4 (AC 43.13-1B par. 4-58l)"
    wanted = 3 * thickness_in
    above = [s for s in printed if float(Fraction(s)) >= wanted - 1e-9]
    chosen = above[0] if above else printed[-1]
    return chosen, "about three thicknesses, next size up (AC 43.13-1B par. 4-58g(2)(a))"


@dataclass(frozen=True, slots=True)
class Rows:
    """Rivets of a lap laid out across the width: all rows alike, neighbours staggered where there is room."""

    rows: int
    per_row: int
    pitch_in: float
    gauge_in: float
    edge_in: float
    staggered: bool

    @property
    def overlap_in(self) -> float:
        """Width of the lap: edge distance, rows, edge distance."""
        return 2 * self.edge_in + (self.rows - 1) * self.gauge_in

    def points_in(self) -> tuple[tuple[float, float], ...]:
        """Centres (across the width, along the load) from the left lower corner of the lap."""
        made = []
        for row in range(self.rows):
            shift = self.pitch_in / 2 if self.staggered and row % 2 else 0.0
            made += [
                (self.edge_in + shift + k * self.pitch_in, self.edge_in + row * self.gauge_in)
                for k in range(self.per_row)
            ]
        return tuple(made)


def lay_rows(count: int, width_in: float, diameter_in: float) -> Rows:
    """The fewest rows, but two where more than one rivet is needed, at no less than the least pitch.

    Raises:
        DoesNotFitError: more than eight rows.
    """
    edge = 2 * diameter_in
    run = width_in - 2 * edge
    if run < 0:
        raise DoesNotFitError(
            "Width across the load", found=f"{width_in:.3f} in", allowed=f"at least {2 * edge:.3f} in, twice the edge distance of one rivet",
            mend="Choose a smaller rivet or ask.",
        )  # fmt: skip
    rule = table("rivets/pitch")
    for rows in range(1 if count == 1 else 2, 9):
        least = rule.cell("two rows" if rows == 2 else "single row", "least").value * diameter_in
        room = math.floor(run / least + 1e-9) + 1
        per_row = -(-count // rows)
        if per_row > room:
            continue
        if per_row == 1:
            return Rows(rows, 1, run, max(0.75 * least, 2.5 * diameter_in), edge, False)
        staggered = rows > 1 and run / (per_row - 0.5) >= least - 1e-9
        pitch = run / (per_row - 0.5) if staggered else run / (per_row - 1)
        return Rows(rows, per_row, pitch, max(0.75 * pitch, 2.5 * diameter_in), edge, staggered)
    raise DoesNotFitError(
        "Width across the load", found=f"{count} rivets on {width_in:.3f} in", allowed="at most eight rows",
        mend="Choose a larger rivet or ask the designer.",
    )  # fmt: skip


@calculation(
    "splice",
    title="Splice by the published tables",
    summary="Rivets per inch, rivets, rows and lap of a sheet, stringer or frame splice (AC 43.13-1B tables 4-9 to 4-11).",
    spec=Splice,
    results=(
        "rivet_size", "table", "rivets_per_inch", "factor", "rivets_needed", "rows", "rivets_per_row", "rivets_fitted",
        "pitch", "row_distance", "edge_distance", "overlap",
    ),
)  # fmt: skip
def splice(spec: Splice, ws: Worksheet) -> Outcome:
    """A splice by the tables: number, rows, lap, picture and full-size outline."""
    where = f"drawing {spec.drawing or 'without number'}, revision {spec.revision or '-'}"
    kind = KINDS[spec.kind]
    t, width = spec.thickness.value, spec.width.value
    ws.called_out("thickness", spec.thickness, where)
    ws.called_out("width", spec.width, where)
    lists = table("ac43/splice-material")
    if spec.table is not None:
        ws.called_out("table", f"AC 43.13-1B table {spec.table}", "called out")
        used = spec.table
    else:
        cell = lists.cell(spec.material, "table")  # refuses a material that no table lists
        ws.look_up("table for this material", cell)
        used = cell.text
        if "also" in lists.rows[spec.material]:
            ws.note(
                f"{spec.material} also stands in the heading of table {lists.rows[spec.material]['also']}, which asks for more rivets. "
                "The handbook's own example takes the table used here; call the other out if the designer wants it."
            )
    if spec.size is not None:
        ws.called_out("rivet diameter", f"{spec.size} in", where)
        size = spec.size
    else:
        size, why = proposed_size(used, kind, t, width)
        ws.worked_out(
            "rivet diameter", f"{size} in", why, value=float(Fraction(size)), unit="in", rung="seen"
        )
    d = float(Fraction(size))
    printed = splice_cell(used, t, size)
    per_inch = ws.look_up("rivets per inch, printed", printed)
    row_t = float(printed.row)
    if abs(row_t - t) > 1e-9:
        ws.note(
            f"{spec.thickness.text} is not printed; the next thicker row, {printed.row} in, asks for more rivets and is taken."
        )
    ratios = table("ac43/splice-ratios")
    ws.step(
        "the same by the table's own rule", splice_rivets_per_inch, thickness_in=row_t,
        shear_ratio=ratios.cell(used, "shear").value, bearing_ratio=ratios.cell(used, "bearing").value,
        hole_in=table("rivets/nominal-hole").cell(size, "diameter").canonical,
    )  # fmt: skip
    reduction = table("ac43/splice-factors").cell(kind, "factor")
    factor = ws.look_up("part of it that is needed", reduction)
    kernel = rivets_needed_member if kind in (FRAME, STRINGER) else rivets_needed
    needed = int(
        ws.step("rivets each side", kernel, width_in=width, rivets_per_in=per_inch, reduction_factor=factor)
    )
    member = spec.kind not in ("single-lap joint", "sheet with splice plate")
    laid = _along(needed, d) if member else lay_rows(needed, width, d)
    ws.worked_out(
        "layout",
        f"{laid.rows} rows of {laid.per_row}, {laid.pitch_in:.3f} in apart",
        "rivets run along the member"
        if member
        else "at least two rows; least pitch 4 D in two rows, 3 D otherwise",
        rung="memory",
    )
    fitted = laid.rows * laid.per_row
    results = {
        "rivet_size": Result("rivet diameter", f"{size} in, 2117-T4 protruding head"),
        "table": Result("table", f"AC 43.13-1B table {used}"),
        "rivets_per_inch": Result("rivets per inch, reduced", per_inch * factor, "per in"),
        "factor": Result("part of the tabulated number", factor, "", places=2),
        "rivets_needed": Result("rivets needed on each side of the cut", float(needed), "", places=0),
        "rows": Result("rows", float(laid.rows), "", places=0),
        "rivets_per_row": Result("rivets in each row", float(laid.per_row), "", places=0),
        "rivets_fitted": Result("rivets fitted on each side", float(fitted), "", places=0),
        "pitch": Result("pitch", laid.pitch_in, "in"),
        "row_distance": Result("row to row", laid.gauge_in, "in"),
        "edge_distance": Result("edge distance", laid.edge_in, "in"),
        "overlap": Result(
            "length each side of the cut" if member else "lap",
            2 * laid.edge_in + (laid.per_row - 1) * laid.pitch_in if member else laid.overlap_in,
            "in",
        ),
    }
    cautions = list(CAUTIONS)
    if kind == FRAME:
        cautions.insert(
            0, "The splice plate is thicker than the frame, and longer than twice the web (figure 4-20)."
        )
    if spec.primary:
        cautions.insert(
            0, "Primary structure: this is arithmetic for the question to the designer, not a repair to make."
        )
    requirement = Requirement(
        name="pitch", unit="in", low=table("rivets/pitch").cell("two rows" if laid.rows == 2 else "single row", "least").value * d,
        nominal=laid.pitch_in, high=None, because=Because.cell(table("rivets/pitch").cell("two rows" if laid.rows == 2 else "single row", "least")),
        how="steel rule over ten spaces", when_low="Lay out again with fewer rivets a row.", when_high="Go on.",
    )  # fmt: skip
    scene = _picture(spec, laid, d, width, member)
    return Outcome(
        tuple(ws.steps),
        results,
        (requirement,),
        (),
        tuple(cautions),
        scene,
        (),
        () if spec.primary else (scene,),
    )


def _along(needed: int, d: float) -> Rows:
    """Rivets of a leg or web run along the member: one row at the usual least pitch."""
    return Rows(1, needed, table("rivets/pitch").cell("two rows", "least").value * d, 0.0, 2 * d, False)


def _picture(spec: Splice, laid: Rows, d: float, width: float, member: bool) -> Scene:
    deep = 4 * d if member else laid.overlap_in
    wide = 2 * laid.edge_in + (laid.per_row - 1) * laid.pitch_in if member else width
    items: list[Item] = [
        Polygon(((0.0, 0.0), (wide, 0.0), (wide, deep), (0.0, deep)), "outline", "cut"),
        Text((0.0, deep + 0.42), f"{spec.title}: lap at full size", max(0.08, wide * 0.012)),
        Dimension((0.0, 0.0), (wide, 0.0), -0.35),
        Dimension((wide, 0.0), (wide, deep), -0.35),
    ]
    for x, y in laid.points_in():
        y = deep / 2 if member else y
        items.append(Circle((x, y), d / 2, "outline", "drilled"))
        items.append(Line((x - d, y), (x + d, y), "thin"))
        items.append(Line((x, y - d), (x, y + d), "thin"))
    said = (
        f"{spec.title}: {laid.rows} rows of {laid.per_row} rivets on a lap of {wide:.2f} by {deep:.2f} in, "
        f"pitch {laid.pitch_in:.3f} in, edge distance {laid.edge_in:.3f} in."
    )
    return Scene(tuple(items), f"Splice: {spec.title}", said)
