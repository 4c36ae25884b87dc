"""A seam's row at full size, as a strip of paper to tape on the part."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ribwright.core.scene import Circle, Hand, Item, Line, Scene, Text
from ribwright.core.scene.lettering import width_of
from ribwright.core.tables import drill_sizes

if TYPE_CHECKING:
    from ribwright.core.fastening.seam import SeamPlan

_HALF = 0.6
"""Of the end lines, above and below the row."""
_MARGIN = 0.1
_HAND_HIGH = 0.2


def drill_strip(plan: SeamPlan) -> Scene:
    """The row at full size: centres to prick through, datum end, hole numbers.

    The lettering stands between the end lines where the strip is long enough for it, under them where it is not, so
    that no letter hides where the part ends.
    """
    spec = plan.spec
    radius = float(drill_sizes().get(plan.pilot, drill_sizes()["#40"])) / 2
    length = (
        spec.part_length.value
        if spec.part_length is not None
        else plan.positions_in[-1] + plan.positions_in[0]
    )
    items: list[Item] = [
        Line((0.0, -_HALF), (0.0, _HALF), "heavy", "marked"),
        Line((length, -_HALF), (length, _HALF), "outline", "marked"),
        Line((0.0, 0.0), (length, 0.0), "centre", "marked"),
    ]
    revision = f"revision {spec.revision}" if spec.revision else ""
    told = "; ".join(part for part in (spec.title, f"{spec.drawing} {revision}".strip()) if part)
    under = -_HALF - 0.2
    room = length - 2 * _MARGIN
    datum = f"datum end: {spec.row_runs}"
    hand = 0.0 if spec.hand == "none" else width_of(f"{spec.hand.upper()} HAND", _HAND_HIGH, bold=True) + 0.3
    for text, height, inside in ((datum, 0.11, 0.42), (told, 0.1, -0.56)):
        fits = width_of(text, height) + (hand if inside > 0 else 0.0) <= room
        items.append(Text((_MARGIN, inside if fits else under), text, height))
        if not fits:
            under -= 0.2
        if inside > 0 and hand:
            at = (_MARGIN + width_of(text, height) + 0.3, 0.36) if fits else (_MARGIN, under - 0.1)
            items.append(Hand(at, spec.hand, _HAND_HIGH))  # type: ignore[arg-type]
            if not fits:
                under -= 0.4
    for hole, x in enumerate(plan.positions_in, start=1):
        items.append(Circle((x, 0.0), radius, "outline", "drilled"))
        items.append(Line((x - 0.12, 0.0), (x + 0.12, 0.0), "thin"))
        items.append(Line((x, -0.12), (x, 0.12), "thin"))
        said = f"{hole} open" if hole in plan.open_holes else str(hole)
        items.append(Text((x, 0.17), said, 0.09, "middle"))
    described = f"Full-size strip of {len(plan.positions_in)} hole centres over {length:.3f} in, pilot drill {plan.pilot}."
    return Scene(tuple(items), f"Drill strip: {spec.title}", described)
