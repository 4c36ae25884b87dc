"""The wedge row drawn, its stages, and its full-size helps: drill strip, support block, guide plate."""

from __future__ import annotations

import math
from fractions import Fraction
from typing import TYPE_CHECKING

from ribwright.core.bench import Because, Setting, StageSheet, TrayItem, Trial
from ribwright.core.scene import Circle, Dimension, Hand, Hatch, Item, Leader, Line, Polygon, Scene, Text
from ribwright.core.tables import table
from ribwright.core.units import shown

if TYPE_CHECKING:
    from ribwright.core.fastening.wedge import WedgePlan

GUIDE_THICKNESS_IN = 0.125


def wedge_picture(plan: WedgePlan) -> Scene:
    """Section at the first hole, ten times full size: hole square to the chord, each seat square to its face."""
    k = 10.0
    spec = plan.spec
    half = plan.half_angle_rad
    near, far = spec.near_skin.value * k, (spec.far_skin or spec.near_skin).value * k
    x0 = spec.from_edge_first.value * k
    edge = spec.edge_thickness.value * k / 2
    long = x0 + 4.0
    slope = math.tan(half)

    def face(x: float, side: int, out: float) -> tuple[float, float]:
        return (x, side * (edge + x * slope + out / math.cos(half)))

    wedge = (face(0, 1, 0), face(long, 1, 0), face(long, -1, 0), face(0, -1, 0))
    items: list[Item] = [Polygon(wedge, "outline"), Hatch(wedge, 45.0, 0.15)]
    for side, t in ((1, near), (-1, far)):
        skin = (face(-0.3, side, 0), face(long, side, 0), face(long, side, t), face(-0.3, side, t))
        items += [Polygon(skin, "outline"), Hatch(skin, 135.0, 0.1)]
    r = float(Fraction(spec.size)) * k / 2
    cone = plan.cone_in * k
    wide = r + cone * math.tan(math.radians(50.0))
    top, low = face(x0, 1, near)[1], face(x0, -1, far)[1]
    items.append(Polygon(((x0 - r, low), (x0 + r, low), (x0 + r, top), (x0 - r, top)), "heavy", fill="paper"))
    for side, y in ((1, top), (-1, low)):
        c, s = math.cos(half), side * math.sin(half)
        # the seat's axis is square to the face, so the cone is turned by the half-angle
        corners = ((-wide, 0.0), (wide, 0.0), (r, -side * cone), (-r, -side * cone))
        items.append(
            Polygon(tuple((x0 + a * c - b * s, y + a * s + b * c) for a, b in corners), "heavy", fill="paper")
        )
    items.append(Line((x0, low - 0.8), (x0, top + 0.8), "centre"))
    items.append(Line((-0.8, 0.0), (long + 0.4, 0.0), "centre"))
    items.append(Leader((x0, top + 0.5), (x0 + 0.5, top + 1.3), "hole square to the chord", 0.18))
    items.append(
        Leader(
            (x0 + wide, top + wide * slope),
            (x0 + 0.9, top + 0.8),
            f"seat square to its face, {spec.half_angle.text} off the hole",
            0.18,
        )
    )
    items.append(Dimension((0.0, low - 0.5), (x0, low - 0.5), -0.3, spec.from_edge_first.text, 0.18))
    if spec.hand != "none":
        items.append(Hand((-0.3, top + 2.0), spec.hand, 0.36))  # type: ignore[arg-type]
    said = (
        f"Section through the trailing edge at the first hole: wedge of half-angle {spec.half_angle.text}, a skin on each face, "
        f"a rivet square to the chord whose two seats are square to their own faces. Grip {plan.grips_in[0]:.3f} in at the first "
        f"hole, {plan.grips_in[-1]:.3f} in at the last. {'; '.join(r.said() for r in plan.ranges)}."
    )
    return Scene(tuple(items), f"Section, ten times full size: {spec.title}", said)


def wedge_templates(plan: WedgePlan) -> tuple[Scene, ...]:
    """Drill strip along the row, and end views of support block and guide plate, all at full size."""
    spec = plan.spec
    length = (
        spec.part_length.value
        if spec.part_length is not None
        else plan.row.positions_in[-1] + plan.row.positions_in[0]
    )
    items: list[Item] = [
        Line((0.0, -0.6), (0.0, 0.6), "heavy", "marked"),
        Line((length, -0.6), (length, 0.6), "outline", "marked"),
        Line((0.0, 0.0), (length, 0.0), "centre", "marked"),
        Text((0.1, 0.42), f"{spec.title}: row {spec.from_edge_first.text} from the trailing edge", 0.11),
    ]
    starts = {r.first: r for r in plan.ranges}
    for hole, x in enumerate(plan.row.positions_in, start=1):
        items.append(Circle((x, 0.0), 0.047, "outline", "drilled"))
        items += [Line((x - 0.12, 0.0), (x + 0.12, 0.0), "thin"), Line((x, -0.12), (x, 0.12), "thin")]
        items.append(Text((x, 0.17), str(hole), 0.09, "middle"))
        if hole in starts:
            one = starts[hole]
            items.append(Text((x, -0.4), f"from here {one.length_in:.3f}", 0.08))
    strip = Scene(
        tuple(items),
        f"Drill strip: {spec.title}",
        f"Full-size strip of {len(plan.row.positions_in)} hole centres.",
    )
    half = plan.half_angle_rad
    rise = 2.0 * math.tan(half)
    block = Scene(
        (
            Polygon(((0.0, 0.0), (2.0, 0.0), (2.0, 0.5 + rise), (0.0, 0.5)), "outline", "cut"),
            Text((0.0, -0.62), f"support block and drill guide, end view, {spec.half_angle.text}", 0.09),
            Dimension((0.0, 0.0), (2.0, 0.0), -0.3),
        ),
        f"Support block: {spec.title}",
        "End view of a block whose top carries the lower skin so that the chord lies level.",
    )
    pitch = plan.row.pitch_in or 1.0
    slot = max(0.25, pitch - 0.45)
    guide = Scene(
        (
            Polygon(((0.0, 0.0), (2 * pitch, 0.0), (2 * pitch, 1.2), (0.0, 1.2)), "outline", "cut"),
            Polygon(
                ((pitch - slot / 2, 0.35), (pitch + slot / 2, 0.35), (pitch + slot / 2, 0.85), (pitch - slot / 2, 0.85)), "outline", "cut"
            ),
            Circle((0.0, 0.6), 0.1, "thin"),
            Circle((2 * pitch, 0.6), 0.1, "thin"),
            Text((0.0, -0.2), "guide plate for the set: slot between the neighbours", 0.08),
        ),
        f"Guide plate: {spec.title}",
        f"A plate {GUIDE_THICKNESS_IN:.3f} in thick with a slot {slot:.3f} in long that lets the set move but not walk onto the neighbours.",
    )  # fmt: skip
    return strip, block, guide


def wedge_sheets(plan: WedgePlan) -> tuple[StageSheet, ...]:
    """Drill, seats, rivet."""
    spec = plan.spec
    common = {"operation": spec.title, "hand": spec.hand, "drawing": spec.drawing, "revision": spec.revision}
    drills = table("rivets/drill")
    final = drills.cell(spec.size, "final").text
    pilot = drills.cell(spec.size, "pilot").text
    picture = wedge_picture(plan)
    proud, flush, square = plan.requirements
    stack = (
        f"{spec.near_skin.text} skin, wedge of {spec.half_angle.text} half-angle, "
        f"{(spec.far_skin or spec.near_skin).text} skin"
    )
    geometry = Because.worked_out("geometry of the wedge")
    practice = Because.worked_out("common practice, no source", "practice")
    holes = len(plan.row.positions_in)
    drill = StageSheet(
        **common, stage="drill", title=f"Drill: {spec.title}",  # type: ignore[arg-type]
        tray=(
            TrayItem("pilot drill", pilot, "1", pilot), TrayItem("final drill", final, "1", final),
            TrayItem("support block", spec.half_angle.text, "1"), TrayItem("drill guide, square", "", "1"),
            TrayItem("temporary fasteners", final, str(-(-holes // 2) + 1)), TrayItem("straight angle", "as long as the row", "1"),
        ),
        settings=(
            Setting("hole", "square to the chord, not to a skin", geometry),
            Setting("block under the lower skin", spec.half_angle.text, geometry),
            Setting("holes", f"{holes}, {shown(plan.row.pitch_in, 'in')} apart", plan.row.because),
        ),
        trial=Trial(stack, ("Drill two holes on the block, look whether they leave the lower skin where they should.",), (square,)),
        steps=(
            "Clamp skin, wedge and skin to the straight angle; the chord lies level on the block.",
            f"Drill {pilot} through the guide, ends and middle first, a temporary fastener in each.",
            f"Open to {final} in the same guide; every second hole keeps a temporary fastener.",
            "Mark skins and wedge with a felt tip, take apart, deburr; no chip stays under the wedge.",
        ),
        requirements=(square,), cautions=("A hole square to one skin comes out too near the edge of the other.",), picture=picture,
    )  # fmt: skip
    seats = StageSheet(
        **common, stage="dimple and countersink", title=f"Seats: {spec.title}",  # type: ignore[arg-type]
        tray=(
            TrayItem("dimple dies, 100°", spec.size, "1 pair"), TrayItem("countersink, 100°, piloted", spec.size, "1"),
            TrayItem("stop cage", "", "1"), TrayItem("support block", spec.half_angle.text, "1"),
        ),
        settings=(
            Setting("skins", "dimpled toward the wedge, one each way", Because.worked_out("too thin for a countersink", "practice")),
            Setting("wedge", f"countersunk from both faces, cage flat on the face, {spec.half_angle.text} off the hole", geometry),
            Setting("stop", f"about {plan.cone_in:.3f} in plus what the dimpled skin takes up", geometry),
        ),
        trial=Trial(stack, ("Countersink a piece of wedge by one click at a time until the dimpled scrap sits without rocking.",), (flush,)),
        steps=(
            "Dimple both skins; the two dimples of a hole point at each other.",
            "Countersink the wedge, the cage flat on the face: the pilot is loose enough to lean by the half-angle.",
            "Turn over and do the other face.",
            "Nest all three: a straight edge lies on ten dimples without light.",
        ),
        requirements=(flush,),
        cautions=(
            "The far skin's dimple points the other way from the near skin's: mark both before the first.",
            *((f"The seats meet in the wedge ({plan.land_in:.3f} in left): no deeper than needed.",) if plan.land_in <= 0.01 else ()),
        ),
        picture=picture,
    )  # fmt: skip
    spare = max(5, holes // 10)
    rivet_tray = [
        TrayItem("rivets", one.part_number + (f", cut to {one.length_in:.3f} in" if one.cut else ""), f"{one.last - one.first + 1} + {max(2, spare // len(plan.ranges))}", one.part_number)
        for one in plan.ranges
    ]  # fmt: skip
    setting = StageSheet(
        **common, stage="rivet", title=f"Rivet: {spec.title}",  # type: ignore[arg-type]
        tray=(
            *rivet_tray, TrayItem("rivet cutter", "", "1"), TrayItem("flush set, slightly crowned", "", "1"),
            TrayItem("flat back plate", "longer than three pitches", "1"), TrayItem("guide plate", f"{GUIDE_THICKNESS_IN:.3f} in", "1"),
            TrayItem("straight angle", "as long as the row", "1"),
        ),
        settings=(
            *(Setting(f"holes {one.first} to {one.last}", one.said().split(": ", 1)[1], Because.worked_out("grip at these holes plus what fills the far seat")) for one in plan.ranges),
            Setting("set", "square to the upper face", geometry),
            Setting("back plate", "flat on the lower face", geometry),
        ),
        trial=Trial(stack, ("Set five rivets of one length; cut one in half and look whether the far seat is full.",), (proud, flush)),
        steps=(
            "Bond or clamp the edge to the straight angle; every tenth hole first.",
            "Put the manufactured head down on the plate, check the length of each range in the calipers.",
            "Half-set every tenth rivet, then halve the gaps until all are half-set, then finish in the same order.",
            "Lean the set by the half-angle so that it meets its face square; the guide plate keeps it off the neighbours.",
            "Look along the edge after every tenth rivet; stop when it begins to bow.",
        ),
        requirements=(proud, flush),
        cautions=(
            *(("Lengths differ along the row: one bag at a time on the bench.",) if len(plan.ranges) > 1 else ()),
            *(("PRIMARY STRUCTURE: a mistake here goes to the designer.",) if spec.primary else ()),
        ),
        picture=picture,
        notes=(f"Order: {practice.text}; the drawing's order wins.",),
    )  # fmt: skip
    return drill, seats, setting
