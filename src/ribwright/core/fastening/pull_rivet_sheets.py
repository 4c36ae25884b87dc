"""The row of pull-type rivets drawn: section against the grip range, its two stages, the full-size strip."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ribwright.core.bench import Requirement, Setting, StageSheet, TrayItem, Trial
from ribwright.core.scene import (
    Circle,
    Dimension,
    Hand,
    Hatch,
    Item,
    Leader,
    Line,
    Polygon,
    Scene,
    Text,
)
from ribwright.core.units import shown

if TYPE_CHECKING:
    from ribwright.core.fastening.pull_rivets import PullRivetRow
    from ribwright.core.fastening.row import Row


def pull_rivet_picture(spec: PullRivetRow, row: Row) -> Scene:
    """Section through one rivet, eight times full size, with both ends of its grip range drawn in."""
    k = 8.0
    items: list[Item] = []
    y = 0.0
    r = spec.diameter.value * k / 2
    for number, layer in enumerate(spec.layers):
        t = layer.thickness.value * k
        for side in (-1, 1):
            box = ((side * r, y), (side * 2.2, y), (side * 2.2, y - t), (side * r, y - t))
            items += [Polygon(box, "outline"), Hatch(box, 45.0 if number % 2 else 135.0, 0.12)]
        items.append(Leader((2.2, y - t / 2), (2.5, 0.2 - 0.3 * number), str(number + 1), 0.16))
        y -= t
    low, high = spec.grip_low.value * k, spec.grip_high.value * k
    for depth, name in (
        (low, f"least grip {spec.grip_low.text}"),
        (high, f"greatest grip {spec.grip_high.text}"),
    ):
        items.append(Line((-2.9, -depth), (2.2, -depth), "hidden"))
        items.append(Text((-2.98, -depth - 0.06), name, 0.16, "end"))
    items.append(
        Polygon(((-2 * r, 0.0), (-1.6 * r, 0.5 * r), (1.6 * r, 0.5 * r), (2 * r, 0.0)), "heavy", fill="paper")
    )
    items.append(
        Polygon(
            ((-1.5 * r, y), (1.5 * r, y), (1.1 * r, y - 1.6 * r), (-1.1 * r, y - 1.6 * r)),
            "heavy",
            fill="paper",
        )
    )
    items.append(Line((0.0, 0.5 * r + 0.4), (0.0, y - 1.6 * r - 0.3), "centre"))
    if spec.hand != "none":
        items.append(Hand((-2.9, 1.2), spec.hand, 0.3))  # type: ignore[arg-type]
    foot = y - 1.6 * r - 0.7
    items += [
        Text((-2.9, foot - 0.28 * n), f"{n + 1}  {layer.part}, {layer.thickness.text}", 0.16)
        for n, layer in enumerate(spec.layers)
    ]
    stack = -y / k
    said = (
        f"Section through one pull-type rivet: stack {stack:.3f} in against a grip range of {spec.grip_low.text} to "
        f"{spec.grip_high.text}. {len(row.positions_in)} rivets, {shown(row.pitch_in, 'in')} apart."
    )
    return Scene(tuple(items), f"Stack against grip range: {spec.title}", said)


def pull_rivet_strip(spec: PullRivetRow, row: Row) -> Scene:
    """The hole centres full size, numbered from the datum end."""
    length = spec.part_length.value if spec.part_length else row.positions_in[-1] + row.positions_in[0]
    items: list[Item] = [
        Line((0.0, -0.6), (0.0, 0.6), "heavy", "marked"),
        Line((length, -0.6), (length, 0.6), "outline", "marked"),
        Line((0.0, 0.0), (length, 0.0), "centre", "marked"),
        Text((0.1, 0.42), f"{spec.title}: {spec.drawing} rev {spec.revision or '-'}", 0.11),
        Dimension((0.0, -0.5), (row.positions_in[0], -0.5), -0.1),
    ]
    for hole, x in enumerate(row.positions_in, start=1):
        items.append(Circle((x, 0.0), spec.hole_low.value / 2, "outline", "drilled"))
        items += [Line((x - 0.12, 0.0), (x + 0.12, 0.0), "thin"), Line((x, -0.12), (x, 0.12), "thin")]
        items.append(Text((x, 0.17), str(hole), 0.09, "middle"))
    return Scene(
        tuple(items),
        f"Drill strip: {spec.title}",
        f"Full-size strip of {len(row.positions_in)} hole centres.",
    )


def pull_rivet_sheets(
    spec: PullRivetRow, row: Row, requirements: tuple[Requirement, ...], drill: str, scene: Scene
) -> tuple[StageSheet, ...]:
    """The two stages of the row, drilling and pulling; ``drill`` is empty where none makes the hole."""
    common = {"operation": spec.title, "hand": spec.hand, "drawing": spec.drawing, "revision": spec.revision}
    by_name = {r.name: r for r in requirements}
    stack = ", ".join(f"{layer.thickness.text} {layer.material}" for layer in spec.layers)
    count = len(row.positions_in)
    primary = ("PRIMARY STRUCTURE: a mistake here goes to the designer.",) if spec.primary else ()
    return (
        StageSheet(
            **common, stage="drill", title=f"Drill: {spec.title}",  # type: ignore[arg-type]
            tray=(
                TrayItem("final drill", drill or f"{spec.hole_low.text} to {spec.hole_high.text}", "1", drill),
                TrayItem("temporary fasteners", drill, str(max(2, count // 2 + 1))), TrayItem("deburring tool", "", "1"),
            ),
            settings=(
                Setting("hole", f"{spec.hole_low.text} to {spec.hole_high.text}", by_name["finished hole"].because),
                Setting("holes", f"{count}, {shown(row.pitch_in, 'in')} apart", row.because),
            ),
            trial=Trial(stack, ("Drill three holes, try them with drill shanks.",), (by_name["finished hole"],)),
            steps=(
                "Check figure of the strip measured; tape it on, datum ends together.",
                "Pilot the ends and the middle, temporary fasteners in; then the rest; then open to size.",
                "Apart, deburr, clean: a chip between the sheets holds the rivet open.",
            ),
            requirements=(by_name["finished hole"],), cautions=primary, picture=scene,
        ),
        StageSheet(
            **common, stage="rivet", title=f"Pull: {spec.title}",  # type: ignore[arg-type]
            tray=(
                TrayItem("pull-type rivets", spec.rivet, f"{count} + {max(3, count // 20)}", spec.rivet),
                TrayItem("puller with the nose piece of this rivet", spec.diameter.text, "1"), TrayItem("feeler .002 in", "", "1"),
            ),
            settings=(Setting("grip", f"{spec.grip_low.text} to {spec.grip_high.text}", by_name["stack inside the grip range"].because),),
            trial=Trial(stack, ("Pull three in scrap of the same stack; saw one through: the blind side is formed and tight.",), (by_name["gap under the head"],)),
            steps=(
                "Check number and grip on the box against this sheet.",
                "Sheets clamped tight on both sides of the hole; rivet in to its head.",
                "Puller square and pushed on until the stem breaks; the middle first, then halve the gaps.",
                "Look at the stem: broken where the data sheet says; push on it, it does not move.",
            ),
            requirements=(by_name["gap under the head"],), cautions=primary, picture=scene,
        ),
    )  # fmt: skip
