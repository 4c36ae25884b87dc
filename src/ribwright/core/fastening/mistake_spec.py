"""What went wrong at one hole, as the builder enters it."""

from __future__ import annotations

from dataclasses import dataclass

from ribwright.core.audit import (
    choice,
    flag,
    quantity,
    rows,
    text,
    whole,
)
from ribwright.core.fastening.joint import MATERIALS
from ribwright.core.fastening.rivets import SIZES
from ribwright.core.tables import table
from ribwright.core.units import Quantity
from ribwright.errors import GeometryError, MissingError

MEASURED = (
    "oversize hole", "figure-eight hole", "wrong drill", "short edge distance", "extra hole", "countersunk too deep",
)  # fmt: skip
WHATS = (*MEASURED, *table("acceptance/mistakes").row_keys())


@dataclass(frozen=True, slots=True)
class Ply:
    """One layer at the spoiled hole."""

    part: str = text("Part", help="the part's reference or what it is", example="DN-2101 skin")
    thickness: Quantity = quantity(
        "in", "Thickness", help="of this sheet", example=".020", low="0.010 in", high="0.5 in"
    )
    material: str = choice(
        "Material", (*MATERIALS, "6061-T4", "other"), help="alloy and temper", default="2024-T3 clad"
    )


@dataclass(frozen=True, slots=True)
class Mistake:
    """What went wrong at one hole, and what the calipers say."""

    title: str = text("Seam", help="where it is", example="skin to rib 3, left aileron")
    what: str = choice("What happened", WHATS, help="the nearest of these", default="oversize hole")
    part: str = text("Part", help="reference of the part with the mistake", example="DN-2101", default="")
    drawing: str = text("Drawing number", help="where it is drawn", example="DN-2100", default="")
    revision: str = text("Drawing revision", help="as printed on the drawing", example="B", default="")
    hand: str = choice(
        "Hand", ("none", "left", "right"), help="which side of the aeroplane the part is for", default="none"
    )
    primary: bool = flag("Primary structure", help="spar, attach fittings, controls, engine mount, gear")
    hole: int = whole(
        "Hole number", help="counted from the row's first hole", example="7", low=1, high=2001, default=1
    )
    layers: tuple[Ply, ...] = rows(Ply, "Layers", help="the sheets at this hole, from the manufactured head")
    head: str = choice(
        "Head", ("flush 100°", "universal"), help="manufactured head as drawn", default="flush 100°"
    )
    size: str = choice("Rivet diameter", SIZES, help="as drawn", default="3/32")
    largest: Quantity | None = quantity(
        "in", "Largest across the hole", help="calipers or a taper gauge", example=".128", low="0.04 in", high="0.6 in", optional=True
    )  # fmt: skip
    smallest: Quantity | None = quantity(
        "in", "Smallest across the hole", help="square to the largest", example=".098", low="0.04 in", high="0.6 in", optional=True
    )  # fmt: skip
    edge: Quantity | None = quantity(
        "in", "Edge distance found", help="hole centre to the nearest edge", example=".22", low="0.01 in", high="20 in", optional=True
    )  # fmt: skip
    drawn_edge: Quantity | None = quantity(
        "in", "Edge distance drawn", help="so that the loss can be stated", example=".25", low="0.05 in", high="20 in", optional=True
    )  # fmt: skip
    pitch: Quantity | None = quantity(
        "in", "To the nearest neighbour", help="hole centre to hole centre", example="1 in", low="0.05 in", high="50 in", optional=True
    )  # fmt: skip
    seat: Quantity | None = quantity(
        "in", "Countersink across", help="diameter of the seat at the surface", example=".195", low="0.08 in", high="0.8 in", optional=True
    )  # fmt: skip
    uncertainty: Quantity = quantity(
        "in", "Plus or minus", help="of these measurements", example=".002", low="0 in", high="0.05 in", default="0.002 in"
    )  # fmt: skip
    photo: str = text(
        "Photo",
        help="its name in the record; with a scale in it",
        example="IMG_0231 with steel rule",
        default="",
    )
    proposal: str = text(
        "What you would do",
        help="for the designer to agree or not",
        example="1/8 rivet in this one hole",
        default="",
    )

    def __post_init__(self) -> None:
        if self.what in ("oversize hole", "figure-eight hole", "wrong drill") and self.largest is None:
            raise MissingError(
                "Largest across the hole",
                allowed="what the calipers say",
                mend="Measure the hole at its largest.",
            )
        if self.what == "figure-eight hole" and self.smallest is None:
            raise MissingError(
                "Smallest across the hole",
                allowed="what the calipers say",
                mend="Measure the hole square to its largest.",
            )
        if self.what in ("short edge distance", "extra hole") and self.edge is None:
            raise MissingError(
                "Edge distance found",
                allowed="hole centre to edge",
                mend="Measure from the hole's near side and add half the hole.",
            )
        if self.what == "countersunk too deep" and (self.seat is None or not self.layers):
            raise MissingError(
                "Countersink across",
                allowed="diameter of the seat, and the layers",
                mend="Measure the seat at the surface; enter the sheets.",
            )
        if (
            self.largest is not None
            and self.smallest is not None
            and self.smallest.value > self.largest.value + 1e-9
        ):
            raise GeometryError(
                "Smallest across the hole",
                found=f"{self.smallest.text}, the largest {self.largest.text}",
                allowed="not over the largest",
                mend="Change the two.",
            )
        if self.edge is not None and self.edge.value <= (self.largest.value / 2 if self.largest else 0.0):
            raise GeometryError(
                "Edge distance found",
                found=self.edge.text,
                allowed="more than half the hole",
                mend="The hole cuts the edge: the part is replaced.",
            )
