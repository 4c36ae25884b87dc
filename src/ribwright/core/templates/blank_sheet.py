"""The flat blank of a web with flanges as a calculation: bends, corner reliefs, joggles, lightening holes."""

from __future__ import annotations

from dataclasses import dataclass

from ribwright.core.audit import Outcome, Result, Worksheet, calculation, choice, quantity, rows, text
from ribwright.core.bench import CAUTIONS
from ribwright.core.forming.bend import bend_allowance_in, setback_in
from ribwright.core.forming.flange import hole_blank_in, joggle_length_in
from ribwright.core.scene import Circle, Item, Line, Scene, Text, together
from ribwright.core.scene.items import HandOf
from ribwright.core.tables import table
from ribwright.core.templates.blank import SIDES, Flange, flanged_blank
from ribwright.core.units import Quantity
from ribwright.errors import GeometryError

ALLOYS = ("2024-T3 clad", "2024-T3", "6061-T6", "6061-T4", "5052-H32")


@dataclass(frozen=True, slots=True)
class BentSide:
    """A flange on one side of the web."""

    side: str = choice("Side", SIDES, help="of the web, seen from the side to which flanges stand up")
    flange: Quantity = quantity(
        "in", "Flange", help="outside length, to the mold line", example="5/8", low="0.1 in", high="24 in"
    )
    angle: Quantity = quantity(
        "deg", "Bend", help="turned by the sheet", example="90", low="5 deg", high="150 deg", default="90"
    )


@dataclass(frozen=True, slots=True)
class WebHole:
    """A hole in the web."""

    x: Quantity = quantity(
        "in", "x", help="from the middle of the web", example="-3", low="-250 in", high="250 in"
    )
    y: Quantity = quantity(
        "in", "y", help="from the middle of the web", example="0", low="-250 in", high="250 in"
    )
    diameter: Quantity = quantity(
        "in",
        "Diameter",
        help="drilled; of a flanged hole its inside when pressed",
        example=".098",
        low="0.03 in",
        high="40 in",
    )
    flange: Quantity | None = quantity(
        "in", "Flange height", help="of a lightening hole with a pressed flange; empty for a plain hole", example=".25", low="0.2 in",
        high="0.5 in", optional=True,
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Joggle:
    """A step across the web where it runs over another sheet."""

    x: Quantity = quantity(
        "in",
        "x",
        help="middle of the step, from the middle of the web",
        example="4",
        low="-250 in",
        high="250 in",
    )
    depth: Quantity = quantity(
        "in", "Depth", help="thickness of what it steps over", example=".032", low="0.005 in", high="0.5 in"
    )
    run: Quantity = quantity(
        "in", "Run", help="length of the step", example="1/4", low="0.02 in", high="4 in"
    )


@dataclass(frozen=True, slots=True)
class FlangedWeb:
    """A web with flanges, as the drawing has it when bent."""

    part: str = text("Part", help="which part", example="DN-2110 hinge rib")
    drawing: str = text("Drawing number", help="where it is drawn", example="DN-2100", default="")
    revision: str = text("Drawing revision", help="as printed", example="B", default="")
    hand: str = choice("Hand", ("none", "left", "right"), help="side of the aeroplane", default="none")
    alloy: str = choice("Material", ALLOYS, help="for the weight", default="2024-T3 clad")
    thickness: Quantity = quantity(
        "in", "Sheet thickness", help="of the part", example=".032", low="0.01 in", high="0.25 in"
    )
    radius: Quantity = quantity(
        "in", "Inside bend radius", help="of all bends", example="1/8", low="0.02 in", high="2 in"
    )
    length: Quantity = quantity(
        "in",
        "Web length",
        help="outside, mold line to mold line (or to the edge where there is no flange)",
        example="9",
        low="0.5 in",
        high="240 in",
    )
    width: Quantity = quantity(
        "in", "Web width", help="outside, as the length", example="3", low="0.5 in", high="100 in"
    )
    sides: tuple[BentSide, ...] = rows(BentSide, "Flanges", help="one row a side", least=0)
    relief: Quantity | None = quantity(
        "in", "Corner relief", help="radius of the hole where two bends meet; left out, just past both bends", example="3/16", low="0.02 in",
        high="2 in", optional=True,
    )  # fmt: skip
    least_flange: Quantity = quantity(
        "in",
        "Shortest flange of the brake",
        help="flat part that it can hold",
        example="1/4",
        low="0 in",
        high="4 in",
        default="1/4",
    )
    holes: tuple[WebHole, ...] = rows(WebHole, "Holes", help="in the web", least=0)
    joggles: tuple[Joggle, ...] = rows(Joggle, "Joggles", help="across the web", least=0)
    grain: str = choice(
        "Grain", ("along", "across"), help="of the sheet, to the web's length", default="along"
    )


@calculation(
    "flat-blank",
    title="Flat blank of a flanged web",
    summary="Bends, corner reliefs, joggles and lightening holes of a web with flanges, as the flat sheet is cut, with its weight.",
    spec=FlangedWeb,
    results=("length", "width", "area", "weight", "relief", "allowance", "holes_to_cut"),
)
def flat_blank(spec: FlangedWeb, ws: Worksheet) -> Outcome:
    """Flat widths by bend allowance and setback; reliefs past both bends; what the brake can't hold is refused."""
    t, r = spec.thickness.value, spec.radius.value
    sides = [row.side for row in spec.sides]
    if len(set(sides)) < len(sides):
        raise GeometryError(
            "Flanges", because="one side has two flanges", found=", ".join(sides), mend="Take one row out"
        )
    flat: dict[str, Flange] = {}
    setbacks: dict[str, float] = {}
    for row in spec.sides:
        allowance = ws.step(
            f"bend allowance, {row.side}",
            bend_allowance_in,
            radius_in=r,
            thickness_in=t,
            angle_deg=row.angle.value,
        )
        setback = ws.step(
            f"setback, {row.side}", setback_in, radius_in=r, thickness_in=t, angle_deg=row.angle.value
        )
        if row.flange.value <= setback:
            raise GeometryError(
                f"{row.side} flange", because="the flange is shorter than its bend needs", found=row.flange.text,
                allowed=f"more than {setback:.3f} in", mend="Use a smaller radius or a longer flange",
            )  # fmt: skip
        flat[row.side] = Flange(row.flange.value - setback, allowance)
        setbacks[row.side] = setback
    stretch = 0.0
    for joggle in spec.joggles:
        stretch += (
            ws.step("joggle", joggle_length_in, run_in=joggle.run.value, depth_in=joggle.depth.value)
            - joggle.run.value
        )
    length = spec.length.value - setbacks.get("left", 0.0) - setbacks.get("right", 0.0) + stretch
    width = spec.width.value - setbacks.get("upper", 0.0) - setbacks.get("lower", 0.0)
    if min(length, width) <= 0:
        raise GeometryError(
            "Web", because="the web is smaller than its bends need", found=f"{spec.length.text} by {spec.width.text}",
            mend="Use a smaller radius",
        )  # fmt: skip
    needed = max((f.bend_allowance_in for f in flat.values()), default=r)
    relief = spec.relief.value if spec.relief is not None else needed
    if spec.relief is None and len(flat) > 1:
        ws.worked_out(
            "corner relief", f"radius {relief:.4f} in", "just past both bends", value=relief, unit="in"
        )
    shift = (
        (setbacks.get("left", 0.0) - setbacks.get("right", 0.0)) / 2,
        (setbacks.get("lower", 0.0) - setbacks.get("upper", 0.0)) / 2,
    )
    holes, cut_holes, marks = _holes(spec, ws, shift)
    hand: HandOf = spec.hand  # type: ignore[assignment]
    none = Flange(0.0, 0.0)
    made = flanged_blank(
        length_in=length, width_in=width, flanges=tuple(flat.get(side, none) for side in SIDES),  # type: ignore[arg-type]
        relief_radius_in=relief, least_flange_in=spec.least_flange.value, holes=tuple(holes), title=spec.part, hand=hand,
    )  # fmt: skip
    for joggle in spec.joggles:
        at = joggle.x.value - shift[0]
        if abs(at) + joggle.run.value / 2 > length / 2:
            raise GeometryError(
                "Joggles",
                because="a joggle lies off the web",
                found=f"at {joggle.x.text}",
                mend="Move it onto the web",
            )
        marks += [
            Line(
                (at + side * joggle.run.value / 2, -width / 2),
                (at + side * joggle.run.value / 2, width / 2),
                "fold",
                "marked",
            )
            for side in (-1, 1)
        ]
    foot = (
        -width / 2
        - (flat["lower"].width_in + flat["lower"].bend_allowance_in if "lower" in flat else 0.0)
        - 0.6
    )
    arrow = "grain along" if spec.grain == "along" else "grain across"
    marks.append(Text((length / 2 - 0.9, foot), arrow + " the length", 0.09, "end"))
    scene = together(made.scene, Scene(tuple(marks)), title=made.scene.title, described=made.scene.described)
    area = made.area_in2 - sum(3.141592653589793 * (d / 2) ** 2 for _, _, d in cut_holes)
    density = ws.look_up("density", table("materials/sheet").cell(spec.alloy, "density"))
    over = [f.width_in + f.bend_allowance_in for f in (flat.get(s, none) for s in SIDES)]
    return Outcome(
        tuple(ws.steps),
        {
            "length": Result("blank length", length + over[0] + over[2], "in", places=4),
            "width": Result("blank width", width + over[1] + over[3], "in", places=4),
            "area": Result("sheet in the blank", area, "in²"),
            "weight": Result("weight", area * t * density, "lb"),
            "relief": Result("corner relief, radius", relief, "in", places=4),
            "allowance": Result("bend allowance, by flange", tuple(f.bend_allowance_in for f in flat.values()), "in", places=4),
            "holes_to_cut": Result("holes to cut, by row", tuple(d for _, _, d in cut_holes), "in"),
        },
        cautions=("Drill the reliefs before cutting; lines in a bend with a felt tip only.", *CAUTIONS),
        picture=scene,
        templates=(scene,),
    )  # fmt: skip


Place = tuple[float, float, float]


def _holes(
    spec: FlangedWeb, ws: Worksheet, shift: tuple[float, float]
) -> tuple[list[Place], list[Place], list[Item]]:
    """Holes as drilled, all holes as cut (x, y, diameter), and what is drawn of flanged ones."""
    drilled: list[Place] = []
    every: list[Place] = []
    marks: list[Item] = []
    for n, hole in enumerate(spec.holes, 1):
        x, y, d = hole.x.value - shift[0], hole.y.value - shift[1], hole.diameter.value
        for m, (ox, oy, od) in enumerate(every, 1):
            if (x - ox) ** 2 + (y - oy) ** 2 < ((d + od) / 2) ** 2:
                raise GeometryError(
                    "Holes", because=f"holes {m} and {n} " + ("lie on one place" if (x, y) == (ox, oy) else "run into each other"),
                    found=f"at ({hole.x.text}, {hole.y.text})", mend="Take one of them out",
                )  # fmt: skip
        if hole.flange is None:
            drilled.append((x, y, d))
        else:
            cut = ws.step(
                f"hole {n}, cut before its flange is pressed", hole_blank_in, inside_diameter_in=d, height_in=hole.flange.value,
                radius_in=spec.radius.value, thickness_in=spec.thickness.value,
            )  # fmt: skip
            if abs(x) + d / 2 > spec.length.value / 2 or abs(y) + d / 2 > spec.width.value / 2:
                raise GeometryError(
                    "Holes",
                    because=f"hole {n} runs into a bend or off the web",
                    found=f"at ({hole.x.text}, {hole.y.text})",
                )
            marks += [
                Circle((x, y), cut / 2, layer="cut"),
                Circle((x, y), d / 2 + spec.radius.value, "fold", "marked"),
            ]
            d = cut
        every.append((x, y, d))
    return drilled, every, marks
