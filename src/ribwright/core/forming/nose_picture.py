"""The drawing of a roll: tool on the sheet, tape, mark, and the angle to copy onto the lever end."""

from __future__ import annotations

import math
from dataclasses import replace

from ribwright.core.forming.nose_spec import NoseRoll
from ribwright.core.forming.recipe import Pass, Recipe
from ribwright.core.scene import (
    Arc,
    Circle,
    Dimension,
    Item,
    Line,
    Polyline,
    Scene,
    Text,
    bounds,
    moved,
    together,
)
from ribwright.core.scene.graph import NAMES, TITLES


def picture_of(spec: NoseRoll, recipe: Recipe) -> Scene:
    """Start of each pass from the end of the sheet, and its angle mark, full size."""
    passes = [_one(number, one, recipe.overlap_in) for number, one in enumerate(recipe.passes, start=1)]
    title = f"Rolling {spec.title}"
    said = " ".join(one.described for one in passes)
    across = 0.0
    side_by_side: list[Scene] = []
    for one in passes:
        side_by_side.append(moved(one, across, 0.0))
        across = bounds(side_by_side[-1]).right + 0.6
    return replace(together(*side_by_side, title=title, described=said), pieces=((), tuple(passes)))


def _one(number: int, one: Pass, overlap_in: float) -> Scene:
    r = one.tool.radius_in
    centre = (one.start_in, r)
    sheet_end = max(one.rolled_to_in + 0.6, one.start_in + r + 0.6)
    items: list[Item] = [
        Line((0.0, 0.0), (sheet_end, 0.0), "heavy"),
        Circle(centre, r),
        Line((centre[0], -0.06), (centre[0], r), "centre"),
        # tape: from the edge up round the rear of the tool
        Polyline(
            ((min(overlap_in, one.start_in), -0.03), (-0.02, -0.03), (centre[0] - r, r)),
            style="hidden",
        ),
        Dimension((0.0, 0.0), (one.start_in, 0.0), -0.35),
        Dimension((0.0, 0.0), (one.rolled_to_in, 0.0), -0.75),
        Text((0.0, 2.0 * r + 0.54), f"pass {number}: {one.tool.name}", TITLES, bold=True),
        Text((0.0, 2.0 * r + 0.26), f"turn {one.turn_deg:.0f}° toward the held part", NAMES),
    ]
    # angle mark for the lever end, beside the tool
    at = (sheet_end + r + 0.3, r)
    turn = min(one.turn_deg, 350.0)
    end = math.radians(90.0 - turn)
    items += [
        Circle(at, r, "thin"),
        Line(at, (at[0], at[1] + r)),
        Line(at, (at[0] + r * math.cos(end), at[1] + r * math.sin(end))),
        Arc(at, 0.6 * r, 90.0 - turn, 90.0, "dimension"),
        Text((at[0], -0.25), "onto the lever end", NAMES, "middle"),
    ]
    return Scene(
        tuple(items),
        f"pass {number}",
        f"Pass {number}: {one.tool.name} of {2 * r:.3f} in, its lowest line {one.start_in:.2f} in from the free edge, "
        f"turned {one.turn_deg:.0f} degrees; the arc ends {one.rolled_to_in:.2f} in from the edge.",
    )
