"""What is drawn over the photo of a row: each rim as traced and how sure, number, finding, the sheet's edge."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ribwright.core.metrology.overlay import Label, Overlay, Stroke
from ribwright.core.metrology.row_findings import HeadReading, RowReading

Floats = NDArray[np.float64]

ABOVE_MM, BELOW_MM, BESIDE_MM = 3.2, 5.6, 3.0  # shown beyond the rims: room for number and size
HATCHES = 20
LETTERS = {"reject": "R", "undecided": "?", "nothing wrong seen": "ok"}
LETTER_MM = 1.3


def row_overlay(reading: RowReading, *, first: int = 0, last: int | None = None) -> Overlay:
    """The overlay of a measured row: rejects are boxed, undecided rims are hatched as wide as they are unsure.

    Args:
        reading: with at least one head.
        first: head, from 0, with which it begins.
        last: head before which it ends; left out, the row's end.
    """
    heads = reading.heads[first:last]
    assert heads
    made: list[Stroke] = []
    below = BELOW_MM
    labels: list[Label] = []
    if reading.edge_mm is not None:
        made.append(Stroke(np.array(reading.edge_mm), "sheet"))
    for number, head in enumerate(heads, first + 1):
        # of a row that is to be taken again no head is decided
        finding = head.finding if reading.status == "measured" else "undecided"
        made.append(Stroke(_oval(head, 0.0), "rim"))
        inside, outside = _oval(head, -head.u95_mm / 2), _oval(head, head.u95_mm / 2)
        made += [Stroke(inside, "sure"), Stroke(outside, "sure")]
        if finding == "undecided":
            step = (len(outside) - 1) // HATCHES
            made += [
                Stroke(np.array([inside[k], outside[k + step // 2]]), "hatch")
                for k in range(0, len(outside) - step, step)
            ]
        if finding == "reject":
            half = head.d_max / 2 + 0.5
            corners = np.array([(-half, -half), (half, -half), (half, half), (-half, half), (-half, -half)])
            made.append(Stroke(corners + np.array([head.cx, head.cy]), "box"))
        radius = head.d_max / 2
        labels.append(Label((head.cx - 1.6, head.cy - radius - 1.0), f"{number} {LETTERS[finding]}"))
        words = [f"{head.d_max:.2f}", f"{head.d_min:.2f}", f"+/- {head.u95_mm:.2f}"]
        if head.edge_distance_mm is not None and any("edge" in why for why in head.reasons):
            words.append(f"edge {head.edge_distance_mm:.1f}")
            below = BELOW_MM + 1.2 * LETTER_MM
        labels += [
            Label((head.cx - 1.6, head.cy + radius + 0.8 + 1.2 * LETTER_MM * k), said)
            for k, said in enumerate(words, 1)
        ]
    at = np.array([(h.cx, h.cy) for h in heads])
    reach = max(h.d_max for h in heads) / 2
    low = at.min(axis=0) - np.array([reach + BESIDE_MM, reach + ABOVE_MM])
    high = at.max(axis=0) + np.array([reach + BESIDE_MM, reach + below])
    feet = [
        "R, boxed: reject; ?, hatched: undecided",
        "ok: nothing wrong seen from above",
        "mm: largest, smallest diameter, good to",
        "thin: how far the rim may be off; blue: sheet's edge",
    ]
    if reading.status != "measured":
        feet.insert(0, "to be taken again")
    return Overlay(
        "Photo laid flat with the rims as traced",
        tuple(made),
        tuple(labels),
        tuple(feet),
        (float(low[0]), float(low[1])),
        (float(high[0]), float(high[1])),
        reading.z_mm,
        letter_mm=LETTER_MM,
    )


def _oval(head: HeadReading, wider: float) -> Floats:
    """The rim, ``wider`` by so much all round."""
    ring = np.linspace(0, 2 * np.pi, 81)
    mean, lobe = (head.d_max + head.d_min) / 4, (head.d_max - head.d_min) / 4
    radius = np.maximum(mean + lobe * np.cos(2 * (ring - head.turn_rad)) + wider, 0.05)
    return np.column_stack([head.cx + radius * np.cos(ring), head.cy + radius * np.sin(ring)])
