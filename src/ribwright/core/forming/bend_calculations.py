"""Springback of a bend, and the flat pattern of a bent strip, as calculations."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ribwright.core.audit import Outcome, Result, Worksheet, calculation, choice, quantity, rows, text
from ribwright.core.bench import CAUTIONS, Because, Requirement
from ribwright.core.forming.bend import (
    bend_allowance_in,
    bend_allowance_k_in,
    least_radius,
    overbend_angle_deg,
    setback_in,
    springback_closed,
)
from ribwright.core.forming.flat import Bend, Brake, Flat, bend_order, developed
from ribwright.core.forming.stock import alloy_field, grain_field, sheet_of, thickness_field, yield_field
from ribwright.core.forming.world import band, fan, released_per_in
from ribwright.core.scene import Dimension, Item, Line, Polygon, Scene, Text
from ribwright.core.tables import table
from ribwright.core.units import Quantity
from ribwright.errors import OutOfRangeError

RULES = ("handbook formula", "half thickness", "k of your coupon")
TEMPERS = (
    "2024-T3",
    "2024-T3 clad",
    "2024-O",
    "2024-T4",
    "6061-T6",
    "6061-T4",
    "5052-O",
    "5052-H32",
    "5052-H34",
)


@dataclass(frozen=True, slots=True)
class SpringbackSpec:
    """A sheet bent round a radius and let go."""

    alloy: str = alloy_field()
    thickness: Quantity = thickness_field()
    grain: str = grain_field()
    certificate: Quantity | None = yield_field()
    radius: Quantity = quantity(
        "in",
        "Inside radius when bent",
        help="of the tool or block",
        example="1/8",
        low="0.02 in",
        high="12 in",
    )
    angle: Quantity = quantity(
        "deg",
        "Angle wanted",
        help="turned by the sheet, after it is let go",
        example="90",
        low="2 deg",
        high="170 deg",
        default="90",
    )


@calculation(
    "sheet-springback",
    title="Springback of a bend",
    summary="Radius and angle that are left when a bend is let go, and how far to bend for the angle wanted.",
    spec=SpringbackSpec,
    results=("radius_left", "bend_to", "angle_left", "moment", "closed_form_radius", "least_radius"),
)
def sheet_springback(spec: SpringbackSpec, ws: Worksheet) -> Outcome:
    """Layers of the sheet, plane strain, release with reverse yielding; beside it the closed form."""
    sheet, prior = sheet_of(
        ws, alloy=spec.alloy, thickness=spec.thickness, grain=spec.grain, certificate=spec.certificate
    )
    r, t = float(spec.radius.value), sheet.thickness_in
    world = fan(sheet, prior)
    loaded = (1.0 + world.overbend) / (r + 0.5 * t)
    left = released_per_in(world, loaded[:, None])[:, 0]
    low, mid, high = (float(a) for a in band(left))
    if mid < 0.01 / t * 0.05:
        raise OutOfRangeError(
            "Inside radius when bent", found=spec.radius.text, allowed="a radius that sets the sheet for good",
            mend="The sheet springs back almost flat from it: use a smaller radius.",
        )  # fmt: skip
    inner = tuple(1.0 / max(k, 1e-4) - 0.5 * t for k in (high, mid, low))
    ws.worked_out(
        "radius left", f"{inner[1]:.4f} in", "layered release over the fan of sheets (docs/physics/forming.md, letting go)",
        value=inner[1], unit="in",
    )  # fmt: skip
    angle = float(spec.angle.value)
    bent = float(np.median(loaded))
    bend_to = ws.step("bend to", overbend_angle_deg, angle_deg=angle, loaded_per_in=bent, left_per_in=mid)
    ratio = left / loaded
    closed = None
    whole = (
        sheet.core.yield_psi * (1 - 2 * sheet.clad_fraction)
        + 2 * sheet.clad_fraction * sheet.cladding.yield_psi
    )
    if r <= 1.0 and 0.015 <= t <= 0.5 and r * whole / (sheet.modulus_psi * t) < 0.45:
        share = ws.step(
            "closed form, for comparison",
            springback_closed,
            radius_in=r,
            yield_psi=whole,
            modulus_psi=sheet.modulus_psi,
            thickness_in=t,
        )
        closed = r / share
        ws.note("The closed form knows neither hardening nor cladding; the layered law is what counts here.")
    results = {
        "radius_left": Result("inside radius when let go", inner[1], "in", inner[0], inner[2]),
        "bend_to": Result(
            "bend to this angle", bend_to, "deg",
            angle / float(np.quantile(ratio, 0.975)), angle / max(float(np.quantile(ratio, 0.025)), 1e-3), places=1,
        ),
        "angle_left": Result(
            "left of that angle if bent to it without more", angle * float(np.median(ratio)), "deg",
            angle * float(np.quantile(ratio, 0.025)), angle * float(np.quantile(ratio, 0.975)), places=1,
        ),
    }  # fmt: skip
    if closed is not None:
        results["closed_form_radius"] = Result("inside radius by the closed form", closed, "in")
    cautions = list(CAUTIONS)
    least, cell = least_radius(spec.alloy, t)
    ws.look_up("least radius, as printed", cell)
    results["least_radius"] = Result("least inside radius of a 90-degree bend", least, "in")
    needed = (_radius_requirement(spec.alloy, t),)
    if r < least - 0.0005:  # the tables print three decimals
        cautions.append(
            "The radius is under the tables' least radius: expect cracks; look at the outside with a glass."
        )
    return Outcome(tuple(ws.steps), results, requirements=needed, cautions=tuple(cautions))


def _radius_requirement(alloy: str, thickness_in: float) -> Requirement:
    least, cell = least_radius(alloy, thickness_in)
    return Requirement(
        name="inside radius of the bend",
        unit="in",
        low=least,
        nominal=None,
        high=None,
        because=Because.cell(cell, "least radius of a cold bend"),
        how="radius gauge in the bend, or the nose of the brake measured",
        when_low="Use a larger nose radius. A bend made sharper than this is looked at for cracks, and goes to the designer.",
        when_high="Nothing.",
        usual_u=0.005,
    )


@dataclass(frozen=True, slots=True)
class Leg:
    """A leg of the section, outside (mold line) length."""

    length: Quantity = quantity(
        "in", "Leg", help="outside length, to the mold line", example="1", low="0.05 in", high="200 in"
    )
    bend: Quantity | None = quantity(
        "deg",
        "Bend after it",
        help="up is positive, down negative; empty after the last leg",
        example="90",
        low="-170 deg",
        high="170 deg",
        optional=True,
    )
    radius: Quantity | None = quantity(
        "in",
        "Its inside radius",
        help="empty: as above",
        example=".16",
        low="0 in",
        high="12 in",
        optional=True,
    )


@dataclass(frozen=True, slots=True)
class BendFlat:
    """A bent strip, to be laid out flat."""

    title: str = text("Part", help="what is bent", example="hinge bracket")
    drawing: str = text("Drawing number", help="where it is drawn", example="DN-2108", default="")
    revision: str = text("Drawing revision", help="as printed", example="A", default="")
    alloy: str = choice("Sheet", TEMPERS, help="alloy and temper", default="2024-T3")
    thickness: Quantity = quantity(
        "in", "Sheet thickness", help="as on the drawing", example=".040", low="0.01 in", high="0.25 in"
    )
    radius: Quantity = quantity(
        "in", "Inside radius", help="of the bends", example=".16", low="0 in", high="12 in"
    )
    legs: tuple[Leg, ...] = rows(Leg, "Legs", help="in order along the strip", least=2)
    rule: str = choice(
        "Bend allowance by",
        RULES,
        help="the two published forms, or your own folded coupon",
        default="handbook formula",
    )
    k: Quantity | None = quantity(
        "",
        "k of your coupon",
        help="neutral line over thickness",
        example=".42",
        low="0.2",
        high="0.5",
        optional=True,
    )
    nose: Quantity = quantity(
        "in",
        "Height of the brake's nose bar",
        help="above the sheet",
        example="1",
        low="0.05 in",
        high="40 in",
        default="1",
    )
    nose_depth: Quantity = quantity(
        "in",
        "Depth of the nose bar",
        help="from the bend line back",
        example="1",
        low="0.05 in",
        high="40 in",
        default="1",
    )

    def __post_init__(self) -> None:
        if self.rule == "k of your coupon" and self.k is None:
            raise OutOfRangeError(
                "k of your coupon",
                found="nothing",
                allowed=".2 to .5",
                mend="Enter it or choose a published form.",
            )
        if any(leg.bend is None for leg in self.legs[:-1]) or (self.legs and self.legs[-1].bend is not None):
            raise OutOfRangeError(
                "Legs", found="a bend missing, or one after the last leg", allowed="a bend after every leg but the last",
                mend="Enter the bends between the legs.",
            )  # fmt: skip


@calculation(
    "bend-flat",
    title="Flat pattern of a bent strip",
    summary="Developed length, bend lines and sight lines, least radius, and an order in which the brake lets it be bent.",
    spec=BendFlat,
    results=(
        "flat",
        "allowances",
        "setbacks",
        "flats",
        "bend_starts",
        "bend_ends",
        "sight_lines",
        "other_form",
        "least_radius",
        "order",
    ),
)
def bend_flat(spec: BendFlat, ws: Worksheet) -> Outcome:
    """Setback, flats, allowances, lines, order."""
    t = float(spec.thickness.value)
    bends: list[Bend] = []
    other = 0.0
    for number, leg in enumerate(spec.legs[:-1], start=1):
        assert leg.bend is not None
        angle, r = float(leg.bend.value), float((leg.radius or spec.radius).value)
        at = {"radius_in": r, "thickness_in": t, "angle_deg": abs(angle)}
        setback = ws.step(f"bend {number}: setback", setback_in, **at)
        empirical = float(bend_allowance_in(**at))
        middle = float(bend_allowance_k_in(**at, k_ratio=0.5))
        if spec.rule == "handbook formula":
            allowance = ws.step(f"bend {number}: allowance", bend_allowance_in, **at)
            other += middle - allowance
        else:
            k = float(spec.k.value) if spec.rule == "k of your coupon" and spec.k is not None else 0.5
            allowance = ws.step(f"bend {number}: allowance", bend_allowance_k_in, **at, k_ratio=k)
            other += empirical - allowance
        bends.append(Bend(angle, r, allowance, setback))
    legs = tuple(float(leg.length.value) for leg in spec.legs)
    flat = developed(legs, tuple(bends))
    ws.worked_out(
        "developed length",
        f"{flat.length_in:.4f} in",
        "flats and allowances added",
        value=flat.length_in,
        unit="in",
    )
    tight = min(b.radius_in for b in bends)
    least, cell = least_radius(spec.alloy, t)
    ws.look_up("least radius, as printed", cell)
    if t <= 0.258:
        printed = table("forming/min-radius-ac43")
        bare = spec.alloy.removesuffix(" clad")
        if bare in printed.units:
            ws.look_up(
                "range of radii of the repair handbook, in thicknesses", printed.at(max(t, 0.016), bare)
            )
    cautions = list(CAUTIONS)
    if tight < least - 0.0005:
        cautions.append(f"A radius of {tight:.3f} in is under the tables' least radius: expect cracks.")
    if tight < 3.0 * t and spec.rule != "k of your coupon":
        cautions.append(
            "For tight bends fold a coupon of known length first and enter its k: tool pull moves the neutral line in."
        )
    ws.note(
        f"The other published form would give {flat.length_in + other:.4f} in."
        if spec.rule != "k of your coupon"
        else f"The handbook formula would give {flat.length_in + other:.4f} in."
    )
    order = bend_order(
        legs,
        tuple(b.angle_deg for b in bends),
        brake=Brake(
            nose_height_in=float(spec.nose.value), nose_depth_in=float(spec.nose_depth.value), bed_in=0.0
        ),
    )
    said = (
        ", then ".join(f"bend {n + 1}" + (" (turned end for end)" if turned else "") for n, turned in order)
        if order
        else "none found with this brake: leave the last bend for blocks, or use a lower nose bar"
    )
    ws.worked_out("order of bending", said, "every order tried; what is bent already must clear the nose bar")
    results = {
        "flat": Result("developed length", flat.length_in, "in"),
        "allowances": Result("bend allowance", tuple(b.allowance_in for b in bends), "in"),
        "setbacks": Result("setback", tuple(b.setback_in for b in bends), "in"),
        "flats": Result("flat", flat.flats_in, "in"),
        "bend_starts": Result("bend line, start", tuple(a for a, _ in flat.lines_in), "in"),
        "bend_ends": Result("bend line, end", tuple(b for _, b in flat.lines_in), "in"),
        "sight_lines": Result("sight line", flat.sight_in, "in"),
        "other_form": Result("developed length by the other form", flat.length_in + other, "in"),
        "least_radius": Result("least inside radius of a 90-degree bend", least, "in"),
        "order": Result("order of bending", said),
    }
    picture = _picture(spec.title, flat)
    # drawn in inches as it lies on the sheet, so the same drawing is the full-size strip with its sight lines
    return Outcome(
        tuple(ws.steps), results, requirements=(_radius_requirement(spec.alloy, t),), cautions=tuple(cautions),
        picture=picture, templates=(picture,),
    )  # fmt: skip


def _picture(title: str, flat: Flat) -> Scene:
    height = max(1.0, 0.25 * flat.length_in)
    items: list[Item] = [
        Polygon(((0.0, 0.0), (flat.length_in, 0.0), (flat.length_in, height), (0.0, height)))
    ]
    for number, ((a, b), sight) in enumerate(zip(flat.lines_in, flat.sight_in, strict=True), start=1):
        items += [
            Line((a, 0.0), (a, height), "fold"),
            Line((b, 0.0), (b, height), "fold"),
            Line((sight, 0.0), (sight, height), "centre"),
            Text((sight, height + 0.1), f"sight {number}", 0.1, "middle"),
        ]
    items.append(Dimension((0.0, 0.0), (flat.length_in, 0.0), -0.4))
    lines = "; ".join(
        f"bend {n} from {a:.3f} to {b:.3f} in, sight line {s:.3f} in"
        for n, ((a, b), s) in enumerate(zip(flat.lines_in, flat.sight_in, strict=True), start=1)
    )
    return Scene(tuple(items), f"Flat of {title}", f"Strip {flat.length_in:.3f} in long; {lines}.")
