"""Flat blanks of the project's sheet parts: drawn at full size, and laid out on sheets and offcuts."""

from __future__ import annotations

import csv
import io
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from ribwright.core.geometry import Outline, outline
from ribwright.core.scene import Item, Marker, Point, Scene, Text, bounds, hand_mark, orientation, together
from ribwright.core.templates.shape import as_item
from ribwright.core.units import parse
from ribwright.errors import FormatError, MissingError, QuantityError, UnknownNameError
from ribwright.services.project import Project
from ribwright.services.record import objects
from ribwright.services.remembered import of_each
from ribwright.store.objects import StoredObject

NEW_SHEET = ("144 in", "48 in")
PILOT_IN = 0.0625
"""Of a row's holes on a blank: small enough for every rivet, so that drilling through the mates takes it away."""
PILOT_WORDS = (
    "{count} pilot holes, 1/16 in, of its rows: drill them in one part of a seam and its mates through it"
)
ROWS = ("seam", "wedge-row", "pull-rivet-row")


@dataclass(frozen=True, slots=True, eq=False)
class PartBlank:
    """The blank of one part.

    Attributes:
        shape: outline with its lower left corner at 0, 0; the grain runs along its longer side.
        scene: at full size.
        picture: for a page, lettered to the size at which it is seen.
        stock: material and thickness in words, by which blanks share a sheet.
    """

    ref: str
    reference: str
    title: str
    drawing: str
    revision: str
    hand: str
    material: str
    thickness: str
    shape: Outline
    scene: Scene
    picture: Scene

    @property
    def stock(self) -> str:
        """Material and thickness."""
        return f"{self.material} {self.thickness}"


def part_blanks(project: Project, *, under: str = "", stock: str = "") -> tuple[PartBlank, ...]:
    """Blanks of all sheet parts that have an outline.

    Args:
        under: only parts of this assembly.
        stock: only of this material and thickness, as ``PartBlank.stock`` says it.

    Raises:
        GeometryError: an outline that crosses itself; names the part.
    """
    made = []
    holes = _holes_of_rows(objects(project, noun="operation"))
    for one in objects(project, noun="part", parent=under or None):
        if _is_cut(one) and (not stock or _stock_of(one) == stock):
            made.append(_blank(one, holes))
    return tuple(made)


def part_blank(project: Project, part: StoredObject) -> PartBlank | None:
    """Blank of one part with the holes of its own assembly's rows; None when it is not cut from sheet."""
    if not _is_cut(part):
        return None
    return _blank(part, _holes_of_rows(objects(project, noun="operation", parent=part.parent)))


def _is_cut(part: StoredObject) -> bool:
    return part.data.get("made") == "sheet" and bool(part.data.get("outline"))


Holes = dict[tuple[str, str], list[Point]]


def _holes_of_rows(operations: Iterable[StoredObject]) -> Holes:
    """Rivet holes by part and the axes they are given in, evenly spaced between the drawn ends of each row."""
    found: Holes = {}
    for operation in operations:
        if operation.data.get("calculation") not in ROWS:
            continue
        count = sum(int(some["count"]) for some in operation.data.get("fasteners", ()))
        for join in operation.data.get("joins", ()):
            (x0, y0), (x1, y1) = ((float(x), float(y)) for x, y in (join["row"][0], join["row"][-1]))
            shares = [n / (count - 1) for n in range(count)] if count > 1 else [0.5]
            found.setdefault((join["part"], join["axes"]), []).extend(
                (x0 + share * (x1 - x0), y0 + share * (y1 - y0)) for share in shares
            )
    return found


def _blank(one: StoredObject, of_rows: Holes) -> PartBlank:
    data = one.data
    holes = of_rows.get((one.ref, str(data.get("axes", ""))), [])
    points = [(float(x), float(y)) for x, y in data["outline"]]
    # The longer side along the sheet, as grain usually runs; the drawing's own note wins.
    if max(y for _, y in points) - min(y for _, y in points) > max(x for x, _ in points) - min(
        x for x, _ in points
    ):
        points, holes = [(-y, x) for x, y in points], [(-y, x) for x, y in holes]
    left, low = min(x for x, _ in points), min(y for _, y in points)
    shape = outline([(x - left, y - low) for x, y in points], field=f"outline of {one.ref}")
    # Two rows that meet in one rivet share its hole.
    apart = dict.fromkeys((round(x - left, 3), round(y - low, 3)) for x, y in holes)
    pilots: list[Item] = [Marker(at, "hole", "", PILOT_IN, 0.06) for at in apart]
    drawn = Scene((as_item(shape), *pilots))
    box = bounds(drawn)
    words = f"{one.ref}  {one.title}"
    said = [
        f"{words}; {data.get('material', '')} {data.get('thickness', '')} in",
        "grain along the long side where the drawing does not say otherwise",
    ]
    said += [PILOT_WORDS.format(count=len(apart))] if apart else []
    upright = str(data.get("axes", "")).endswith("z")

    def lettered(height: float) -> Scene:
        """With its words under it, so high that they are read at the size it is looked at."""
        k = height / 0.1
        return together(
            drawn,
            Scene(
                tuple(
                    Text((0.0, -k * (0.3 + 0.25 * n)), line, height * (0.8 if n else 1.1))
                    for n, line in enumerate(said)
                )
            ),
            hand_mark((0.0, -1.2 * k), one.hand, 2.0 * height),  # type: ignore[arg-type]
            orientation((box.width + 0.3 * k, 0.0), up=(0, 1), size=0.4 * k) if upright else Scene(),
            title=f"{one.ref}, flat blank",
            described=f"Flat blank of {words}, {box.width:.2f} by {box.height:.2f} in, {len(apart)} pilot holes.",
        )

    return PartBlank(
        one.ref, one.reference, one.title, str(data.get("drawing", "")), str(data.get("revision", "")), one.hand,
        str(data.get("material", "")), str(data.get("thickness", "")), shape, lettered(0.1), lettered(max(0.1, box.width / 60)),
    )  # fmt: skip


def stocks(project: Project, *, under: str = "") -> dict[str, int]:
    """How many blanks there are of each material and thickness."""
    counted = Counter(stock for parent, stock in _cut(project).values() if not under or parent == under)
    return dict(sorted(counted.items()))


@of_each("part")
def _cut(one: StoredObject) -> tuple[str, str] | None:
    """Assembly and stock of each part that is cut from sheet."""
    return (one.parent, _stock_of(one)) if _is_cut(one) else None


def _stock_of(one: StoredObject) -> str:
    return f"{one.data.get('material', '')} {one.data.get('thickness', '')}"


def offcuts_from_text(text: str) -> list[dict[str, str]]:
    """Offcuts from lines of ``name, length, width``, with or without a head line, as rows of ``nest-blanks``.

    Raises:
        FormatError: a line without three cells, or a length that is not one; names the line.
    """
    found = []
    for number, cells in enumerate(csv.reader(io.StringIO(text.replace(";", ","))), 1):
        cells = [cell.strip() for cell in cells]
        if not any(cells) or (number == 1 and [c.casefold() for c in cells[1:3]] == ["length", "width"]):
            continue
        if len(cells) != 3:
            raise FormatError(
                f"offcuts, line {number}",
                found=", ".join(cells)[:80],
                allowed="name, length, width",
                mend="Three cells a line.",
            )
        for cell in cells[1:]:
            try:
                parse(cell, "in", field="offcut")
            except QuantityError as wrong:
                raise FormatError(
                    f"offcuts, line {number}",
                    found=cell[:40],
                    allowed="a length such as 24 or 610 mm",
                    mend=wrong.mend or "Mend that line.",
                ) from None
        found.append({"name": cells[0] or f"offcut {number}", "length": cells[1], "width": cells[2]})
    return found


def nest_spec(
    project: Project,
    *,
    stock: str = "",
    under: str = "",
    offcuts: Sequence[dict[str, str]] = (),
    new_sheets: int = 4,
    seconds: int = 6,
) -> dict[str, Any]:
    """Drawing data of ``nest-blanks`` for the project's parts of one material and thickness.

    Args:
        stock: as ``PartBlank.stock`` says it; may be left out when there is only one.
        under: only the parts of this assembly.
        offcuts: rows of name, length, width, used before new sheets.
        new_sheets: sheets of 144 by 48 in that may be begun.
        seconds: for the packer.

    Raises:
        MissingError: no part has a blank of this material.
        UnknownNameError: several materials, and none named.
    """
    having = stocks(project, under=under)
    if not having:
        raise MissingError(
            under or "project",
            found="no sheet part with an outline",
            allowed="at least one",
            mend="Enter the blanks by hand.",
        )
    if not stock:
        if len(having) > 1:
            raise UnknownNameError(
                "stock",
                found="none named",
                allowed="; ".join(having),
                mend="Name one: blanks share a sheet of one kind.",
            )
        stock = next(iter(having))
    if stock not in having:
        raise UnknownNameError(
            "stock", found=stock[:60], allowed="; ".join(having), mend="Choose one of these."
        )
    blanks, corners = [], []
    for one in part_blanks(project, under=under, stock=stock):
        blanks.append({"name": one.ref, "count": "1", "grain": "along"})
        corners += [
            {"blank": one.ref, "x": f"{x:.4f} in", "y": f"{y:.4f} in"}
            for x, y in one.shape.points_in.tolist()
        ]
    material, _, thickness = stock.rpartition(" ")
    sheets = [
        *offcuts,
        *(
            {"name": f"new sheet {n}", "length": NEW_SHEET[0], "width": NEW_SHEET[1]}
            for n in range(1, new_sheets + 1)
        ),
    ]
    return {
        "blanks": blanks, "outlines": corners, "sheets": sheets, "thickness": f"{thickness} in", "material": material, "seconds": str(seconds),
    }  # fmt: skip
