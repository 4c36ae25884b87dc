"""A skin patch over cleaned-up damage: rivets by the splice tables on all sides, size, corners, full-size outline."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

from ribwright.core.audit import Outcome, Result, Worksheet, calculation, choice, flag, quantity, text
from ribwright.core.bench import CAUTIONS, StageSheet, TrayItem
from ribwright.core.fastening.rivets import SIZES
from ribwright.core.fastening.row import edge_requirement, pitch_requirement
from ribwright.core.fastening.splice import MATERIALS, proposed_size, rivets_needed, splice_cell
from ribwright.core.scene import Circle, Dimension, Item, Line, Polyline, Scene, Text
from ribwright.core.tables import table
from ribwright.core.units import Quantity
from ribwright.errors import InputError

QUARTER_BULGE = math.tan(math.pi / 8)


@dataclass(frozen=True, slots=True)
class Patch:
    """Damage in a sheet, cleaned up to a rectangle with round corners."""

    title: str = text("Damage", help="where it is", example="fuselage skin, bay 4")
    drawing: str = text("Drawing number", help="where the part is drawn", example="DN-3100", default="")
    revision: str = text("Drawing revision", help="as printed on the drawing", example="A", default="")
    primary: bool = flag("Primary structure", help="spar, attach fittings, controls, engine mount, gear")
    new_part: bool = flag("New part", help="not flown yet: a damaged new part is replaced, not patched")
    material: str = choice("Material", MATERIALS, help="of the skin", default="2024-T3 clad")
    thickness: Quantity = quantity(
        "in", "Thickness", help="of the skin", example=".032", low="0.010 in", high="0.2 in"
    )
    width: Quantity = quantity(
        "in",
        "Cut-out width",
        help="after cleaning up, across the main load",
        example="2 in",
        low="0.1 in",
        high="40 in",
    )
    height: Quantity = quantity(
        "in",
        "Cut-out height",
        help="after cleaning up, along the main load",
        example="1-1/2 in",
        low="0.1 in",
        high="40 in",
    )
    corner: Quantity = quantity(
        "in",
        "Corner radius of the cut-out",
        help="half an inch or more where there is room",
        example="1/4 in",
        low="0 in",
        high="20 in",
        default="0.25 in",
    )
    size: str | None = choice(
        "Rivet diameter called out", SIZES, help="if the drawing or the designer gives it", optional=True
    )

    def __post_init__(self) -> None:
        if self.corner.value > min(self.width.value, self.height.value) / 2 + 1e-9:
            raise InputError(
                "Corner radius of the cut-out",
                found=self.corner.text,
                allowed=f"at most half the shorter side, {min(self.width.value, self.height.value) / 2:.3f} in",
                mend="A round hole has half its diameter.",
            )


@dataclass(frozen=True, slots=True)
class Ring:
    """Two rings of rivets round a rectangle of ``width`` by ``height``."""

    points_in: tuple[tuple[float, float], ...]
    width_in: float
    height_in: float


def ring_points(width_in: float, height_in: float, across: int, down: int) -> tuple[tuple[float, float], ...]:
    """Rivets on a rectangle about the origin: ``across`` spaces along its width, ``down`` along its height."""
    w, h = width_in / 2, height_in / 2
    made = []
    for k in range(across):
        made += [(-w + width_in * k / across, -h), (w - width_in * k / across, h)]
    for k in range(down):
        made += [(w, -h + height_in * k / down), (-w, h - height_in * k / down)]
    return tuple(made)


@calculation(
    "patch",
    title="Skin patch",
    summary="Rivets a side by the splice tables, two rows all round, patch size and corners, full-size outline with its holes.",
    spec=Patch,
    results=(
        "answer",
        "rivet_size",
        "rivets_a_side",
        "rivets",
        "patch_width",
        "patch_height",
        "pitch",
        "patch_thickness",
        "corner_radius",
    ),
)
def patch(spec: Patch, ws: Worksheet) -> Outcome:
    """Size, rivets and outline of the patch; on new or primary parts only the numbers for the question."""
    t = spec.thickness.value
    lists = table("ac43/splice-material").cell(spec.material, "table")
    ws.look_up("table for this material", lists)
    if spec.size:
        size = spec.size
        ws.called_out("rivet diameter", f"{size} in", "called out")
    else:
        size, why = proposed_size(lists.text, "full", t, spec.width.value)
        ws.worked_out(
            "rivet diameter", f"{size} in", why, value=float(Fraction(size)), unit="in", rung="seen"
        )
    d = float(Fraction(size))
    per_inch = ws.look_up("rivets per inch, printed", splice_cell(lists.text, t, size))
    needed = {
        name: int(
            ws.step(
                f"rivets beyond each {name}",
                rivets_needed,
                width_in=side,
                rivets_per_in=per_inch,
                reduction_factor=1.0,
            )
        )
        for name, side in (
            ("end of the cut-out", spec.width.value),
            ("side of the cut-out", spec.height.value),
        )
    }
    edge = edge_requirement("protruding", d)
    pitch = pitch_requirement(d, 2)
    assert edge.low is not None
    assert pitch.low is not None
    gauge = max(0.75 * pitch.low, 2.5 * d)
    inner_w, inner_h = spec.width.value + 2 * edge.low, spec.height.value + 2 * edge.low
    rings = []
    total = 0
    closest = float("inf")
    for n in range(2):
        w, h = inner_w + 2 * n * gauge, inner_h + 2 * n * gauge
        across = max(1, min(math.ceil(needed["end of the cut-out"] / 2), int(w / pitch.low)))
        down = max(1, min(math.ceil(needed["side of the cut-out"] / 2), int(h / pitch.low)))
        # never wider than 6 D, so that the rim lies close
        across, down = max(across, math.ceil(w / (6 * d))), max(down, math.ceil(h / (6 * d)))
        rings.append(ring_points(w, h, across, down))
        total += len(rings[-1])
        closest = min(closest, w / across, h / down)
    outer_w, outer_h = inner_w + 2 * gauge + 2 * edge.low, inner_h + 2 * gauge + 2 * edge.low
    beyond = min(
        sum(1 for ring in rings for _, y in ring if y > spec.height.value / 2),
        sum(1 for ring in rings for x, _ in ring if x > spec.width.value / 2),
    )
    enough = beyond >= max(needed.values())
    ws.worked_out(
        "two rings of rivets",
        f"{total}",
        "edge distance, row distance and pitch of the repair handbook",
        value=float(total),
        rung="memory",
    )
    ws.worked_out(
        "rivets beyond the nearest edge of the cut-out",
        f"{beyond}",
        "counted on the drawing",
        value=float(beyond),
    )
    if not enough:
        ws.note("Two rings hold fewer rivets than the table asks: a larger rivet or a third ring; ask.")
    answer = "ask" if spec.primary or not enough else "replace the part" if spec.new_part else "patch"
    because = {"ask": "primary structure, or too few rivets in two rings", "replace the part": "a new part is replaced, not patched", "patch": "by the tables, in service"}[answer]  # fmt: skip
    ws.worked_out("answer", answer, because, rung="practice")
    radius = max(spec.corner.value + edge.low + gauge, 0.5)
    results = {
        "answer": Result("answer", answer),
        "rivet_size": Result("rivet diameter", f"{size} in, 2117-T4"),
        "rivets_a_side": Result("rivets needed beyond each end", float(max(needed.values())), "", places=0),
        "rivets": Result("rivets in both rings", float(total), "", places=0),
        "patch_width": Result("patch, width", outer_w, "in"), "patch_height": Result("patch, height", outer_h, "in"),
        "pitch": Result("closest pitch", closest, "in"),
        "patch_thickness": Result("patch, thickness", f"{spec.thickness.text}, the skin's or the next thicker sheet, same alloy"),
        "corner_radius": Result("corner radius of the patch", min(radius, min(outer_w, outer_h) / 2), "in"),
    }  # fmt: skip
    scene = _outline(spec, tuple(rings), outer_w, outer_h, results["corner_radius"].value, d)  # type: ignore[arg-type]
    cautions = [*CAUTIONS]
    if answer != "patch":
        cautions.insert(
            0,
            "Nothing to make from this sheet: it is arithmetic for the question to the designer."
            if answer == "ask"
            else "New part: make it again; find out why it was damaged.",
        )
    sheet = StageSheet(
        operation=spec.title, stage="patch" if answer == "patch" else "ask", title=f"Patch: {spec.title}", hand="none", drawing=spec.drawing, revision=spec.revision,
        tray=(TrayItem("sheet of the skin's alloy and thickness", f"{outer_w:.2f} x {outer_h:.2f} in", "1"), TrayItem("rivets", f"{size} in, protruding", str(total)), TrayItem("final drill", table("rivets/drill").cell(size, "final").text, "1")) if answer == "patch" else (),
        settings=(), trial=None,
        steps=(
            "Trim the damage to the cut-out with round corners; no crack may run beyond it: look with dye.",
            "Cut the patch by the full-size outline, round its corners, break its edges.",
            "Drill the four corner holes through patch and skin, temporary fasteners in, then the rest.",
            "Apart, deburr, treat and prime both faces; rivet from the middle of each side to the corners.",
            "Enter damage, cut-out, rivets and the photo.",
        ) if answer == "patch" else (f"Do not patch: {because}.", "Prepare the question with the damage, its place and these numbers.") if answer == "ask" else ("Make the part again.",),
        requirements=(edge, pitch) if answer == "patch" else (), cautions=tuple(cautions), picture=scene,
    )  # fmt: skip
    return Outcome(
        tuple(ws.steps),
        results,
        (edge, pitch),
        (),
        tuple(cautions),
        scene,
        (sheet,),
        (scene,) if answer == "patch" else (),
    )


def _rounded(w: float, h: float, r: float, layer: str) -> Polyline:
    x, y = w / 2, h / 2
    r = min(r, x - 1e-6, y - 1e-6)
    if r <= 1e-9:
        return Polyline(((-x, -y), (x, -y), (x, y), (-x, y)), closed=True, layer=layer)  # type: ignore[arg-type]
    points = (
        (-x + r, -y),
        (x - r, -y),
        (x, -y + r),
        (x, y - r),
        (x - r, y),
        (-x + r, y),
        (-x, y - r),
        (-x, -y + r),
    )
    bulges = (0.0, QUARTER_BULGE) * 4
    return Polyline(points, closed=True, layer=layer, bulges=bulges)  # type: ignore[arg-type]


def _outline(
    spec: Patch,
    rings: tuple[tuple[tuple[float, float], ...], ...],
    w: float,
    h: float,
    radius: float,
    d: float,
) -> Scene:
    items: list[Item] = [
        _rounded(w, h, radius, "cut"),
        _rounded(spec.width.value, spec.height.value, spec.corner.value, "marked"),
    ]
    for ring in rings:
        for x, y in ring:
            items.append(Circle((x, y), d / 2, "outline", "drilled"))
            items += [Line((x - d, y), (x + d, y), "thin"), Line((x, y - d), (x, y + d), "thin")]
    items += [
        Dimension((-w / 2, -h / 2), (w / 2, -h / 2), -0.35),
        Dimension((w / 2, -h / 2), (w / 2, h / 2), -0.35),
        Text((-w / 2, h / 2 + 0.2), f"patch: {spec.title}", 0.11),
    ]
    return Scene(
        tuple(items),
        f"Patch at full size: {spec.title}",
        f"Patch {w:.2f} by {h:.2f} in with {sum(map(len, rings))} rivets in two rings round a cut-out of {spec.width.text} by {spec.height.text}.",
    )
