"""What is drawn over the photo of a profile: target, traced edge, deviation enlarged, doubt hatched."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ribwright.core.metrology.overlay import Label, Overlay, Stroke
from ribwright.core.metrology.profile import ProfileReading

Floats = NDArray[np.float64]

ROOM_MM = 14.0
WIDE_MM = 32.0  # of a label such as "+0.19 +/- 0.10 mm"
DOUBTFUL_MM = 0.2  # u95 beyond which a place is hatched
GAIN, LESS_GAIN = 10.0, 4.0


def profile_overlay(reading: ProfileReading, *, tolerance_mm: float) -> Overlay:
    """The overlay of a measured profile; the tolerance is drawn as two thin lines, enlarged as the deviation is."""
    at, out = reading.placed.arc_xy_mm, reading.placed.normal_out
    # the best fit moved the target: draw it where it came to lie
    turn = np.radians(reading.rotation_deg)
    centre = at.mean(axis=0)
    turned = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])

    def moved(points: Floats) -> Floats:
        return np.asarray((points - centre) @ turned.T + centre + np.array(reading.shift_mm))

    place, normal = moved(at), np.asarray(out @ turned.T)
    seen = np.isfinite(reading.deviation_mm)
    largest = float(np.abs(reading.deviation_mm[seen]).max()) if seen.any() else 0.0
    gain = GAIN if largest * GAIN < ROOM_MM else LESS_GAIN
    made = [Stroke(moved(reading.placed.outline_mm), "target")]
    made += [Stroke(place + sign * gain * tolerance_mm * normal, "limit") for sign in (-1, 1)]
    made += [Stroke(reading.contour_mm[run], "edge") for run in _runs(reading.contour_seen)]
    enlarged = place + gain * np.nan_to_num(reading.deviation_mm)[:, None] * normal
    made += [Stroke(enlarged[run], "deviation") for run in _runs(seen)]
    for k in np.flatnonzero(~seen | (np.nan_to_num(reading.u95_mm, nan=9.0) > DOUBTFUL_MM)):
        made.append(Stroke(np.array([place[k] - 3 * normal[k], place[k] + 3 * normal[k]]), "doubt"))
    outline = reading.placed.outline_mm
    low, high = outline.min(axis=0) - ROOM_MM, outline.max(axis=0) + ROOM_MM
    labels: list[Label] = []
    feet = [
        f"{reading.finding}; tolerance +/- {tolerance_mm:g} mm",
        f"black: deviation x {gain:g}; thin blue: tolerance x {gain:g}",
        "blue: target; red: traced edge",
        "hatched: doubtful or not seen",
    ]
    if seen.any():
        worst = int(np.nanargmax(np.abs(reading.deviation_mm)))
        said = f"{reading.deviation_mm[worst]:+.2f} +/- {reading.u95_mm[worst]:.2f} mm"
        ring = np.linspace(0, 2 * np.pi, 25)
        made.append(Stroke(place[worst] + np.column_stack([np.cos(ring), np.sin(ring)]), "edge"))
        x, y = place[worst] + 6 * normal[worst]
        x = min(x, high[0] - WIDE_MM)  # its words stay in the picture
        labels.append(Label((float(x), float(y)), said))
        feet.append(f"largest: {said}")
    return Overlay(
        "Photo laid flat with target, traced edge and deviation",
        tuple(made),
        tuple(labels),
        tuple(feet),
        (float(low[0]), float(low[1])),
        (float(high[0]), float(high[1])),
        reading.z_mm,
    )


def _runs(mask: NDArray[np.bool_]) -> list[NDArray[np.int64]]:
    """Stretches of consecutive True, as indices."""
    at = np.flatnonzero(mask)
    if not len(at):
        return []
    return [run for run in np.split(at, np.flatnonzero(np.diff(at) > 1) + 1) if len(run) > 1]
