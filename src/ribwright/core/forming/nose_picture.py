"""The drawing of a roll: tool on the sheet, tape, mark, and the angle to copy onto the lever end."""

from __future__ import annotations

import math

from ribwright.core.forming.nose_spec import NoseRoll
from ribwright.core.forming.recipe import Recipe
from ribwright.core.scene import Arc, Circle, Dimension, Item, Line, Polyline, Scene, Text


def picture_of(spec: NoseRoll, recipe: Recipe) -> Scene:
    """Start of each pass from the end of the sheet, and its angle mark, full size."""
    items: list[Item] = []
    across = 0.0
    said: list[str] = []
    for number, one in enumerate(recipe.passes, start=1):
        r = one.tool.radius_in
        centre = (across + one.start_in, r)
        sheet_end = across + max(one.rolled_to_in + 0.6, one.start_in + r + 0.6)
        items += [
            Line((across, 0.0), (sheet_end, 0.0), "heavy"),
            Circle(centre, r),
            Line((centre[0], -0.06), (centre[0], r), "centre"),
            # tape: from the edge up round the rear of the tool
            Polyline(
                (
                    (across + min(recipe.overlap_in, one.start_in), -0.03),
                    (across - 0.02, -0.03),
                    (centre[0] - r, r),
                ),
                style="hidden",
            ),
            Dimension((across, 0.0), (across + one.start_in, 0.0), -0.35),
            Dimension((across, 0.0), (across + one.rolled_to_in, 0.0), -0.75),
            Text((across, 2.0 * r + 0.5), f"pass {number}: {one.tool.name}", 0.14, bold=True),
            Text((across, 2.0 * r + 0.26), f"turn {one.turn_deg:.0f}° toward the held part", 0.13),
        ]
        # angle mark for the lever end, beside the tool
        at = (sheet_end + r + 0.5, r)
        turn = min(one.turn_deg, 350.0)
        end = math.radians(90.0 - turn)
        items += [
            Circle(at, r, "thin"),
            Line(at, (at[0], at[1] + r)),
            Line(at, (at[0] + r * math.cos(end), at[1] + r * math.sin(end))),
            Arc(at, 0.6 * r, 90.0 - turn, 90.0, "dimension"),
            Text((at[0], -0.25), "onto the lever end", 0.13, "middle"),
        ]
        across = at[0] + r + 1.2
        said.append(
            f"Pass {number}: {one.tool.name} of {2 * r:.3f} in, its lowest line {one.start_in:.2f} in from the free edge, "
            f"turned {one.turn_deg:.0f} degrees; the arc ends {one.rolled_to_in:.2f} in from the edge."
        )
    return Scene(tuple(items), f"Rolling {spec.title}", " ".join(said))
