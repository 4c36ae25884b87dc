"""From a line traced in a photo (or typed as coordinates) to the points of a template.

The line comes in the gauge sheet's millimetres, however it lay there; a template wants inches, its nose to
the left and its points from the upper aft end over the nose to the lower.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from ribwright.core.geometry.outlines import FloatArray
from ribwright.errors import GeometryError, OutOfRangeError

MOST_POINTS = 160
LONGEST_GAP_MM = 12.0


def points_of_line(line_mm: FloatArray, u95_mm: FloatArray | None = None) -> tuple[FloatArray, float]:
    """Points (n, 2) in inches for a template, and how well they were read (one standard deviation, inches).

    Args:
        line_mm: points (n, 2) along the line, in order, y up.
        u95_mm: how well each is known, nan where the line was not seen; all of it when left out.

    The line is turned so that the chord between its ends stands upright and its nose lies to the left: which
    of its halves is the upper one stays as it lay on the sheet.

    Raises:
        OutOfRangeError: fewer than 12 points were seen.
        GeometryError: a stretch of more than 12 mm was not seen; says where.
    """
    line = np.asarray(line_mm, dtype=np.float64)
    seen = np.isfinite(line).all(axis=1)
    known = np.full(len(line), 0.2) if u95_mm is None else np.asarray(u95_mm, dtype=np.float64)
    seen &= np.isfinite(known)
    line, known = line[seen], known[seen]
    if len(line) < 12:
        raise OutOfRangeError(
            "traced line",
            found=f"{len(line)} points seen",
            allowed="at least 12",
            mend="Take the photo again.",
        )
    steps = np.hypot(*np.diff(line, axis=0).T)
    if u95_mm is not None and steps.max() > LONGEST_GAP_MM:
        x, y = line[int(steps.argmax())]
        raise GeometryError(
            "traced line", because="a stretch of the line was not seen", found=f"{steps.max():.0f} mm after ({x:.0f}, {y:.0f}) mm on the sheet",
            mend="Take the photo again with the whole line in view",
        )  # fmt: skip
    run = np.concatenate([[0.0], np.cumsum(steps)])
    keep = np.concatenate([[True], steps > 1e-9])
    line, run, known = line[keep], run[keep], known[keep]
    count = min(MOST_POINTS, max(12, len(line)))
    at = np.linspace(0.0, run[-1], count)
    even = np.column_stack([np.interp(at, run, line[:, k]) for k in (0, 1)]) / 25.4
    return upright(even), float(np.median(known)) / 2 / 25.4


def upright(points: FloatArray) -> FloatArray:
    """The points turned so that their ends lie above each other, the nose to the left, the upper end first."""
    chord = points[0] - points[-1]
    size = float(np.hypot(*chord))
    if size < 1e-6:
        raise GeometryError(
            "traced line",
            because="it is closed, and a profile is open",
            mend="Trace it from one aft end round the nose to the other",
        )
    up = chord / size
    right = np.array([up[1], -up[0]])
    made = np.column_stack([(points - points[-1]) @ right, (points - points[-1]) @ up])
    if made[:, 0].mean() > 0:  # the nose came to the right: half a turn, and the other end is the upper one
        made = -made[::-1]
    return np.asarray(made - np.array([made[:, 0].min(), (made[0, 1] + made[-1, 1]) / 2]))


def traced_raw(
    points_in: FloatArray,
    reading_in: float,
    *,
    part: str,
    station: str,
    thickness: str,
    given: str,
    kind: str,
    hand: str = "none",
) -> dict[str, Any]:
    """Drawing data of ``traced-template`` from points; what is shown and entered is what was traced."""
    return {
        "part": part, "station": station, "hand": hand, "points": [{"x": f"{x:.4f} in", "y": f"{y:.4f} in"} for x, y in points_in.tolist()],
        "reading": f"{reading_in:.4f} in", "given": given, "kind": kind, "thickness": thickness,
    }  # fmt: skip
