"""What is drawn over the photo of an edge beside its strip: the straight line, the edge as traced, its departure enlarged."""

from __future__ import annotations

import numpy as np

from ribwright.core.metrology.overlay import Label, Overlay, Stroke
from ribwright.core.metrology.straightness import Straightness

GAINS, ROOM_MM, BESIDE_MM, WIDE_MM = (20.0, 10.0, 4.0), 16.0, 26.0, 60.0
LETTER_MM = 4.5


def edge_overlay(found: Straightness, *, limit_mm: float | None = None) -> Overlay:
    """The overlay of a measured edge; a limit is drawn as two thin lines, enlarged as the departure is."""
    seen = np.isfinite(found.edge_mm[:, 1])
    x, y, off = found.edge_mm[seen, 0], found.edge_mm[seen, 1], found.offset_mm[seen]
    line = np.polyval(np.polyfit(x, y, 1), x)
    away = 1.0 if float((y - line) @ off) >= 0 else -1.0  # the edge lies below or above the strip
    most = max(float(np.abs(off).max()), limit_mm or 0.0)
    gain = next((one for one in GAINS if most * one < ROOM_MM), GAINS[-1])
    straight = np.column_stack([x, line])
    made = [Stroke(straight[[0, -1]], "target"), Stroke(np.column_stack([x, y]), "edge")]
    if limit_mm is not None:
        made += [
            Stroke(straight[[0, -1]] + np.array([0.0, sign * gain * limit_mm]), "limit") for sign in (-1, 1)
        ]
    made.append(Stroke(np.column_stack([x, line + away * gain * off]), "deviation"))
    worst = int(np.abs(off).argmax())
    low = np.array([x.min() - 2.0, line.min() - BESIDE_MM])
    high = np.array([x.max() + 2.0, line.max() + BESIDE_MM])
    at = (
        float(np.clip(x[worst] - WIDE_MM / 2, low[0], high[0] - WIDE_MM)),
        float(line[worst] + BESIDE_MM - 4.0),
    )
    words = f"{off[worst]:+.2f} +/- {found.u95_mm:.2f} mm"
    feet = [
        f"bow {found.bow_mm:+.2f} mm, waviness {found.waviness_mm:.2f} mm, each +/- {found.u95_mm:.2f} mm",
        f"blue: straight line; red: edge as traced; black: departure x {gain:g}",
    ]
    if limit_mm is not None:
        feet.append(f"thin blue: limit of {limit_mm:g} mm x {gain:g}")
    return Overlay(
        "Photo laid flat with the edge as traced", tuple(made), (Label(at, words),), tuple(feet),
        (float(low[0]), float(low[1])), (float(high[0]), float(high[1])), found.z_mm, letter_mm=LETTER_MM,
    )  # fmt: skip
