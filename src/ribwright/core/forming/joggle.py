"""A joggle: two equal bends the opposite way, as wanted and as the blocks must be cut."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ribwright.core.audit import Outcome, Result, Worksheet, calculation, quantity, text
from ribwright.core.bench import CAUTIONS, Because, Requirement
from ribwright.core.forming.bend import least_radius
from ribwright.core.forming.stock import alloy_field, grain_field, sheet_of, thickness_field, yield_field
from ribwright.core.forming.world import fan, released_per_in
from ribwright.core.scene import Dimension, Item, Polyline, Scene, Text
from ribwright.core.units import Quantity
from ribwright.errors import FormingError, OutOfRangeError

Floats = NDArray[np.float64]
STEEPEST_DEG = 60.0


def joggle_depth_in(*, radius_in: ArrayLike, straight_in: ArrayLike, angle_rad: ArrayLike) -> Floats:
    """Step of two bends of a middle radius with a straight between them: 2 r (1 - cos A) + s sin A."""
    r, s, a = (np.asarray(v, float) for v in (radius_in, straight_in, angle_rad))
    return np.asarray(2.0 * r * (1.0 - np.cos(a)) + s * np.sin(a))


def joggle_run_in(*, radius_in: ArrayLike, straight_in: ArrayLike, angle_rad: ArrayLike) -> Floats:
    """Run of the same: 2 r sin A + s cos A."""
    r, s, a = (np.asarray(v, float) for v in (radius_in, straight_in, angle_rad))
    return np.asarray(2.0 * r * np.sin(a) + s * np.cos(a))


def least_run_in(*, radius_in: float, depth_in: float) -> float:
    """Run of a joggle without a straight between its bends: sqrt(d (4 r - d)), r at the middle of the sheet."""
    return math.sqrt(max(depth_in * (4.0 * radius_in - depth_in), 0.0))


def joggle_angle(*, radius_in: float, depth_in: float, run_in: float) -> tuple[float, float]:
    """Angle of both bends (rad) and the straight between them (in) for a depth over a run.

    Raises:
        FormingError: the bends don't fit into the run, or the step is steeper than is bent this way.
    """
    least = least_run_in(radius_in=radius_in, depth_in=depth_in)
    if not run_in >= least or depth_in >= 4.0 * radius_in:
        raise FormingError(
            "Run",
            because="two bends of this radius don't fit into it",
            found=f"{run_in:.3f} in",
            allowed=f"from {least:.3f} in",
            mend="Give the step a longer run, or use blocks with a smaller edge radius.",
        )
    across = 2.0 * radius_in - depth_in
    straight = math.sqrt(max(run_in**2 + across**2 - 4.0 * radius_in**2, 0.0))
    angle = math.atan2(run_in, across) - math.atan2(straight, 2.0 * radius_in)
    if angle > math.radians(STEEPEST_DEG):
        raise FormingError(
            "Run",
            because="the step is too steep for a joggle",
            found=f"{math.degrees(angle):.0f}°",
            allowed=f"up to {STEEPEST_DEG:.0f}°",
            mend="Give the step a longer run.",
        )
    return angle, straight


@dataclass(frozen=True, slots=True)
class JoggleSpec:
    """A step pressed into a sheet where it runs over another."""

    title: str = text("Part", help="what is joggled", example="hinge rib flange")
    drawing: str = text("Drawing number", help="where it is drawn", example="DN-2110", default="")
    revision: str = text("Drawing revision", help="as printed", example="A", default="")
    alloy: str = alloy_field()
    thickness: Quantity = thickness_field()
    grain: str = grain_field()
    certificate: Quantity | None = yield_field()
    depth: Quantity = quantity(
        "in", "Depth", help="thickness of what it steps over", example=".025", low="0.008 in", high="0.5 in"
    )
    run: Quantity = quantity(
        "in", "Run", help="from the start of the step to its end", example=".25", low="0.02 in", high="6 in"
    )
    radius: Quantity = quantity(
        "in", "Inside radius when bent", help="of the edges of the blocks", example="3/32", low="0.01 in", high="6 in"
    )  # fmt: skip
    allowed: Quantity = quantity(
        "in", "Depth, allowed either way", help="from the drawing; common practice .010", example=".010", low="0.001 in",
        high="0.1 in", default=".010",
    )  # fmt: skip


@calculation(
    "joggle",
    title="Joggle and its blocks",
    summary="Angle, straight and length of a step pressed into a sheet, and how deep the blocks must be so that it is left.",
    spec=JoggleSpec,
    results=(
        "block_depth", "block_run", "angle", "bend_to", "straight", "radius_left", "depth_left", "length", "least_run",
        "least_radius",
    ),
)  # fmt: skip
def joggle(spec: JoggleSpec, ws: Worksheet) -> Outcome:
    """Springback of both bends by the sheet's law; the straight between them keeps its length."""
    sheet, prior = sheet_of(
        ws, alloy=spec.alloy, thickness=spec.thickness, grain=spec.grain, certificate=spec.certificate
    )
    t, depth, run = sheet.thickness_in, float(spec.depth.value), float(spec.run.value)
    world = fan(sheet, prior)
    tool = float(spec.radius.value) + 0.5 * t
    loaded = (1.0 + world.overbend) / tool
    left = released_per_in(world, loaded[:, None])[:, 0]
    if float(np.quantile(left, 0.025)) * tool < 0.05:
        raise OutOfRangeError(
            "Inside radius when bent", found=spec.radius.text, allowed="a radius that sets the sheet for good",
            mend="The sheet springs back almost flat from it: use blocks with a smaller edge radius.",
        )  # fmt: skip
    ratio = left / loaded
    middle = float(np.median(ratio))
    rho = 1.0 / float(np.median(left))
    angle, straight = joggle_angle(radius_in=rho, depth_in=depth, run_in=run)
    bend_to = angle / middle
    # the blocks hold the sheet at their own radius; arcs keep their length
    on_block = 1.0 / float(np.median(loaded))
    block_depth = float(joggle_depth_in(radius_in=on_block, straight_in=straight, angle_rad=bend_to))
    block_run = float(joggle_run_in(radius_in=on_block, straight_in=straight, angle_rad=bend_to))
    arc = on_block * bend_to
    length = 2.0 * arc + straight
    # every sheet keeps the arc, since the blocks give both ends of it
    depths = joggle_depth_in(radius_in=1.0 / left, straight_in=straight, angle_rad=arc * left)
    low, mid, high = (float(a) for a in np.quantile(depths, [0.025, 0.5, 0.975]))
    for label, value, unit in (
        ("angle of both bends", math.degrees(angle), "deg"),
        ("straight between them", straight, "in"),
        ("depth of the blocks", block_depth, "in"),
    ):
        ws.worked_out(
            label, f"{value:.4f}" if unit == "in" else f"{value:.1f}°",
            "two equal bends and the straight between them; springback of the bends (docs/physics/forming.md, the joggle)",
            value=value, unit=unit,
        )  # fmt: skip
    least, cell = least_radius(spec.alloy, t)
    ws.look_up("least radius, as printed", cell)
    shortest = (
        least_run_in(radius_in=least + 0.5 * t, depth_in=depth) if depth < 4.0 * least + 2.0 * t else 0.0
    )
    ws.note(
        "No published least run of a joggle stands behind this: it is what the tables' least radius leaves room for."
    )
    cautions = list(CAUTIONS)
    if float(spec.radius.value) < least - 0.0005:  # the tables print three decimals
        cautions.append(
            "The radius is under the tables' least radius: expect cracks; look at the outside of both bends with a glass."
        )
    if arc < t:
        cautions.append(
            "The bends are shorter than the sheet is thick: the bend law is stretched there; press a scrap first and measure it."
        )
    cautions.append("Take up what is left of the step with a shim: never pull a gap shut with rivets.")
    half = float(spec.allowed.value)
    needed = (
        Requirement(
            "depth of the joggle", "in", depth - half, depth, depth + half,
            Because.drawing(spec.drawing, spec.revision, "depth of the joggle, as entered"),
            "depth gauge or feeler under a straight edge, let go", "Press it again between deeper blocks.",
            "Ease it flat between flat blocks, then press it again.", usual_u=0.002,
        ),
        Requirement(
            "inside radius of the joggle's bends", "in", least, None, None, Because.cell(cell, "least radius of a cold bend"),
            "radius gauge on the edges of the blocks",
            "Round the edges of the blocks. A joggle pressed sharper than this is looked at for cracks, and goes to the designer.",
            "Nothing.", usual_u=0.005,
        ),
    )  # fmt: skip
    results = {
        "block_depth": Result("step of the blocks, as the sheet's face lies", block_depth, "in"),
        "block_run": Result("run of the blocks", block_run, "in"),
        "angle": Result("angle of both bends, let go", math.degrees(angle), "deg", places=1),
        "bend_to": Result("angle on the blocks", math.degrees(bend_to), "deg", places=1),
        "straight": Result("straight between the bends", straight, "in"),
        "radius_left": Result("inside radius when let go", rho - 0.5 * t, "in"),
        "depth_left": Result("depth when let go", mid, "in", low, high),
        "length": Result("length of sheet along the step", length, "in"),
        "least_run": Result("least run at the tables' least radius", shortest, "in"),
        "least_radius": Result("least inside radius of a 90-degree bend", least, "in"),
    }
    return Outcome(
        tuple(ws.steps), results, requirements=needed, cautions=tuple(cautions),
        picture=_picture(spec, t, on_block, bend_to, straight, block_depth, block_run),
    )  # fmt: skip


def _picture(
    spec: JoggleSpec, t: float, rho: float, angle: float, straight: float, depth: float, run: float
) -> Scene:
    """The sheet between the blocks, from the side, with its step and run."""
    turn = np.linspace(0.0, angle, 17)
    up = np.column_stack([rho * np.sin(turn), rho * (1.0 - np.cos(turn))])
    heading = np.concatenate([[0.0], turn, turn[::-1], [0.0]])
    middle = np.concatenate([[[-run, 0.0]], up, np.array([run, depth]) - up[::-1], [[2.0 * run, depth]]])
    normal = np.column_stack([-np.sin(heading), np.cos(heading)]) * 0.5 * t
    faces = [tuple((float(x), float(y)) for x, y in middle + way * normal) for way in (1.0, -1.0)]
    h = 0.04 * max(3.0 * run, 0.5)
    items: list[Item] = [
        *(Polyline(face, style="heavy") for face in faces),
        Dimension((0.0, -0.5 * t), (run, -0.5 * t), -4.0 * h, height=h),
        Text((2.0 * run, depth + 0.5 * t + h), f"step {depth:.3f}", h, "end"),
    ]
    return Scene(
        tuple(items), f"Blocks for the joggle of {spec.title}",
        f"The sheet as the blocks hold it: a step of {depth:.3f} in over a run of {run:.3f} in, both bends {math.degrees(angle):.1f} degrees.",
    )  # fmt: skip
