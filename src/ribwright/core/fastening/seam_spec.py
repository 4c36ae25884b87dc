"""What the drawing says of a seam of solid rivets: the input, described once."""

from __future__ import annotations

import re
from dataclasses import dataclass

from ribwright.core.audit import choice, flag, quantity, rows, text, whole
from ribwright.core.fastening.holes import TREATMENTS
from ribwright.core.fastening.rivets import HEADS, SIZES, read_part_number
from ribwright.core.units import Quantity
from ribwright.errors import GeometryError, InputError, MissingError, QuantityError

MATERIALS = (
    "2024-T3 clad", "2024-T3", "6061-T6", "6061-T4", "7075-T6", "2024-T42", "5052-H32", "5052-H34", "other",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Layer:
    """A sheet of the stack, counted from the manufactured head."""

    part: str = text("Part", help="the part's reference or what it is", example="DN-2101 skin")
    thickness: Quantity = quantity(
        "in", "Thickness", help="of this sheet", example=".020", low="0.010 in", high="0.5 in"
    )
    material: str = choice(
        "Material", MATERIALS, help="alloy and temper of the sheet", default="2024-T3 clad"
    )
    edge_distance: Quantity | None = quantity(
        "in",
        "Edge distance",
        help="hole centre to the nearest edge of this sheet, if the drawing gives it",
        example="5/16 in",
        low="0.02 in",
        high="20 in",
        optional=True,
    )
    flange: Quantity | None = quantity(
        "in",
        "Flange width",
        help="outside of the web to the edge, if the row runs on a bent flange",
        example="5/8 in",
        low="0.1 in",
        high="10 in",
        optional=True,
    )
    bend_radius: Quantity | None = quantity(
        "in",
        "Bend radius",
        help="inside, of that flange",
        example="1/8 in",
        low="0 in",
        high="1 in",
        optional=True,
    )
    treatment: str | None = choice(
        "Hole called out as",
        TREATMENTS,
        help="dimple, countersink or neither, if the drawing says",
        optional=True,
    )


@dataclass(frozen=True, slots=True)
class Exception_:
    """A hole that is not like the others."""

    hole: int = whole("Hole number", help="counted from the row's first hole", example="7", low=1, high=2001)
    what: str = choice(
        "What", ("left open", "other fastener"), help="left open until later, or another fastener"
    )
    fastener: str = text(
        "Fastener",
        help="its part number, for another fastener",
        example="pull-type per drawing",
        optional=True,
    )
    reason: str = text(
        "Reason", help="what the drawing says", example="hinge bracket goes in later", optional=True
    )


@dataclass(frozen=True, slots=True)
class Seam:
    """A row of solid rivets through a stack of sheets.

    Leave what the drawing does not say empty: it is then worked out, with its reason. What the drawing
    calls out is taken as it stands; our arithmetic on it is a note.
    """

    title: str = text("Seam", help="what is joined to what", example="skin to spar, left aileron")
    drawing: str = text("Drawing number", help="where the seam is drawn", example="DN-2100", default="")
    revision: str = text("Drawing revision", help="as printed on the drawing", example="B", default="")
    hand: str = choice(
        "Hand", ("none", "left", "right"), help="which side of the aeroplane the part is for", default="none"
    )
    primary: bool = flag("Primary structure", help="spar, attach fittings, controls, engine mount, gear")
    layers: tuple[Layer, ...] = rows(Layer, "Layers", help="the sheets, from the manufactured head", least=2)
    head: str = choice("Head", HEADS, help="flush or protruding manufactured head", default="flush 100°")
    rivet: str | None = text(
        "Rivet called out",
        help="its public part number, if the drawing has one",
        example="MS20426AD3-3.5",
        optional=True,
    )
    size: str | None = choice(
        "Rivet diameter called out", SIZES, help="if the drawing gives only the diameter", optional=True
    )
    first: Quantity = quantity(
        "in",
        "First hole at",
        help="along the row, from the datum end of the part",
        example="3/8 in",
        low="0 in",
        high="2000 in",
    )
    last: Quantity = quantity(
        "in",
        "Last hole at",
        help="along the row, from the same end",
        example="57-5/8 in",
        low="0 in",
        high="2000 in",
    )
    part_length: Quantity | None = quantity(
        "in",
        "Part length along the row",
        help="so that the end holes can be checked",
        example="58 in",
        low="0.1 in",
        high="2000 in",
        optional=True,
    )
    pitch: Quantity | None = quantity(
        "in",
        "Pitch called out",
        help="distance between neighbours, if drawn",
        example="1-1/8 in",
        low="0.05 in",
        high="24 in",
        optional=True,
    )
    punched: bool = flag(
        "Holes are punched already", help="the kit's parts carry the holes; they are not laid out again"
    )
    row_runs: str = choice(
        "The row runs",
        ("inboard to outboard", "outboard to inboard", "forward to aft", "lower to upper"),
        help="from the first hole to the last",
        default="inboard to outboard",
    )
    stack_tolerance: Quantity | None = quantity(
        "in",
        "Stack, plus or minus",
        help="sheet tolerance, shim, sealant and paint together; without it a usual sheet tolerance is taken",
        example=".003",
        low="0 in",
        high="0.1 in",
        optional=True,
    )
    access: str = choice(
        "Access",
        ("both sides", "one side"),
        help="whether a bar reaches the formed head",
        default="both sides",
    )
    exceptions: tuple[Exception_, ...] = rows(
        Exception_, "Exceptions", help="holes that are left open or take another fastener"
    )

    def __post_init__(self) -> None:
        if self.access == "one side":
            raise InputError(
                "Access", found="one side", allowed="both sides, for solid rivets",
                because="a solid rivet needs a bar behind it",
                mend="Use the calculation pull-rivet-row with the type that the drawing names, or rivet before the space is closed.",
            )  # fmt: skip
        _one_system(self)
        if self.last.value <= self.first.value:
            raise GeometryError(
                "Last hole at", found=f"{self.last.text}, the first at {self.first.text}", allowed="beyond the first hole",
                mend="Measure both from the same end of the row.",
            )  # fmt: skip
        if self.part_length is not None and self.last.value >= self.part_length.value:
            raise GeometryError(
                "Last hole at", found=f"{self.last.text} on a part of {self.part_length.text}", allowed="on the part",
                mend="Check the part's length and from which end the row is measured.",
            )  # fmt: skip
        if self.rivet is not None:
            called = read_part_number(self.rivet, field="Rivet called out")
            if called.head != self.head:
                raise InputError(
                    "Rivet called out", found=f"{self.rivet}, a {called.head} head", allowed=f"a {self.head} head",
                    because="rivet and head don't go together", mend="Correct the head or the rivet.",
                )  # fmt: skip
            if self.size is not None and called.size != self.size:
                raise InputError(
                    "Rivet diameter called out", found=f"{self.size} with {self.rivet}", allowed=called.size,
                    because="rivet and diameter don't go together", mend="Leave the diameter empty.",
                )  # fmt: skip
        for layer in self.layers:
            if layer.treatment in ("dimple", "countersink") and self.head == "universal":
                raise InputError(
                    f"Hole called out in {layer.part}", found=f"{layer.treatment} under a universal head", allowed="neither",
                    because="a protruding head sits on a plain hole", mend="Correct the head or the hole.",
                )  # fmt: skip
        for one in self.exceptions:
            if one.what == "other fastener" and not one.fastener:
                raise MissingError(
                    f"Exceptions, hole {one.hole}, fastener",
                    allowed="the fastener's part number",
                    mend="Enter which fastener goes there.",
                )


def _one_system(spec: Seam) -> None:
    """A bare whole number of ten or more beside millimetres is more often a slip than meant: 700 would be 700 in.

    Raises:
        QuantityError: a length along the row without its unit, where another one is in a metric unit.
    """
    along = (
        ("First hole at", spec.first), ("Last hole at", spec.last),
        ("Part length along the row", spec.part_length), ("Pitch called out", spec.pitch),
    )  # fmt: skip
    given = [(label, one) for label, one in along if one is not None and one.number]
    metric = [one for _, one in given if one.unit.system == "metric"]
    for label, one in given:
        if metric and one.unit.system != "metric" and re.fullmatch(r"\d{2,}", one.text):
            other = metric[0]
            raise QuantityError(
                label, found=f"{one.text} beside {other.text}", allowed="its unit with it",
                because=f"without a unit it would be read as {one.text} {one.unit.symbol}",
                mend=f"Write {one.text} {other.unit.symbol} or {one.text} {one.unit.symbol}.",
            )  # fmt: skip
