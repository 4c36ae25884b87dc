"""What a deviation along a profile says of its bend: how much turn a zone lacks, and to what radius it is bent."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

SLOPE_PLACES = 2  # each way: what a slope is fitted to
BENT_ENDS = 4  # places left out at either end of a bend, where a small shift along the skin looks like bend
BENT_SHARE = 0.3  # of the sharpest bend of the target: from here on an arc counts as bent


@dataclass(frozen=True, slots=True)
class ZoneBend:
    """A zone's bend against the target's.

    Attributes:
        first, last: places, as indices of the arc.
        lacks_deg: turn that is missing between them; negative: too much of it.
        u95_deg: of that.
        wanted_mm: mean radius of the target's outer skin there.
        found_mm: mean radius of the skin as it is; infinite if flat or bent the other way.
        arc_deg: turn of the target there.
    """

    first: int
    last: int
    lacks_deg: float
    u95_deg: float
    wanted_mm: float
    found_mm: float
    arc_deg: float


def zone_bend(
    run: list[int], *, arc_mm: Floats, xy_mm: Floats, normal: Floats, deviation_mm: Floats, u95_mm: Floats
) -> ZoneBend | None:
    """Bend of the zone round a run of places off the target; None where it is not bent or too little is seen.

    The skin's places are the target's, each moved out by its deviation: how they turn over their own length is
    compared with what the target turns over as much. Where the fit laid the target does not matter.

    Args:
        run: places outside the tolerance, neighbours.
        arc_mm: along the target.
        xy_mm: places of the target, shape (n, 2).
        normal: outward there, shape (n, 2).
        deviation_mm: + outside; NaN not seen.
        u95_mm: of the deviation.
    """
    count = len(arc_mm)
    angle = np.unwrap(np.arctan2(normal[:, 1], normal[:, 0]))
    curvature = np.gradient(angle, arc_mm)
    curvature = curvature * np.sign(curvature.sum() or 1.0)  # + round the nose
    reach, whole = max(3, len(run) // 2), 1.0
    first, last = max(run[0] - reach, 0), min(run[-1] + reach, count - 1)
    if (
        run[0] - reach < 0 or run[-1] + reach >= count
    ):  # a leg's end: what it lacks was lost where the bend is
        bent = np.flatnonzero(curvature > BENT_SHARE * curvature.max())
        first, last = int(bent[0]) + BENT_ENDS, int(bent[-1]) - BENT_ENDS
        whole = len(bent) / max(last - first + 1, 1)
    first, last = max(first, SLOPE_PLACES), min(last, count - 1 - SLOPE_PLACES)
    if last - first < 2 * SLOPE_PLACES:
        return None
    turn = float(angle[last] - angle[first])
    length = float(arc_mm[last] - arc_mm[first])
    if abs(turn) < np.radians(5) or not np.isfinite(deviation_mm[first : last + 1]).all():
        return None
    made = xy_mm + deviation_mm[:, None] * normal
    ends = [_direction(made, at) for at in (first, last)]
    turned = abs(float(np.unwrap(np.array(ends))[1] - ends[0]))
    made_mm = float(np.hypot(*np.diff(made[first : last + 1], axis=0).T).sum())
    lacks = abs(turn) * made_mm / length - turned  # of the turn that so much skin should have
    step = float(arc_mm[first + SLOPE_PLACES] - arc_mm[first - SLOPE_PLACES])
    doubt = float(np.nanmax(u95_mm[[first, last]])) * np.sqrt(2.0) / step
    return ZoneBend(
        first,
        last,
        float(np.degrees(lacks * whole)),
        float(np.degrees(doubt * whole)),
        length / abs(turn),
        made_mm / turned if turned > 1e-3 else float("inf"),
        float(np.degrees(abs(turn))),
    )


def _direction(made_mm: Floats, at: int) -> float:
    """Direction of the skin at a place, from its neighbours."""
    near = made_mm[at - SLOPE_PLACES : at + SLOPE_PLACES + 1]
    along = np.arange(-SLOPE_PLACES, SLOPE_PLACES + 1.0)
    return float(np.arctan2((along * near[:, 1]).sum(), (along * near[:, 0]).sum()))
