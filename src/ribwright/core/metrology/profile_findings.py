"""What a traced profile says: to be taken again and why, within limits, to be reworked, or not to be told."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ribwright.core.metrology.sharpness import too_coarse

Floats = NDArray[np.float64]

TILT_MAX_DEG, PX_PER_MM_MIN, BOW_MAX_MM, RESIDUAL_MAX_PX, SEEN_MIN, CLIPPED_MAX = (
    28.0,
    4.8,
    3.0,
    0.15,
    0.88,
    0.35,
)
# a thinner end, against one sigma of the blur, melts into what lies beside it
END_OVER_BLUR_MIN, BLUR_MAX_MM = 1.25, 0.37
BOTH_MIN = 0.04  # share of the rows that show a band: without any, a single step may be what was followed
# sigmas of what a caliper reads; of one scale against the other, where the card's squares don't fit
BARS_OFF_MAX, BARS_APART_SEEN = 5.0, 0.01
STEP_ROWS = 6  # rows before which the line lies elsewhere than after them: what one clear step gives
FARTHER_MAX = 0.12  # share of the rows beside which, a thickness farther, lies an edge that may be the end's
MISSING_BESIDE_MAX = 0.15  # share of the chess corners within two and a half squares of the window
# share of what is printed beside the window otherwise than the layout says
WHITENED_MAX, BLACKENED_MAX = 0.15, 0.25
ROUND_MIN, RIVAL_MAX, RIVAL_FREE = 0.35, 0.6, 0.35


def retake_reason(quality: dict[str, float]) -> str:
    """Why a photo has to be taken again, as a sentence with what to change; empty if it has not."""
    q = quality
    if q["tilt_deg"] > TILT_MAX_DEG:
        return f"The camera looked {q['tilt_deg']:.0f}° aside: hold it square over the card, within 10°."
    if q["px_per_mm"] < PX_PER_MM_MIN:
        return too_coarse(q["px_per_mm"], q["away_mm"], (25, 35))
    if q["bow_mm"] > BOW_MAX_MM:
        return f"The card bows by {q['bow_mm']:.1f} mm: glue it to a flat board."
    if q["bars_off"] > BARS_OFF_MAX or (
        q["residual_px"] > RESIDUAL_MAX_PX and q["bars_apart"] > BARS_APART_SEEN
    ):
        return (
            "The two bars as typed don't fit the picture, which shows the print less stretched or stretched another "
            "way: measure both bars again, from the middle of one end stroke to that of the other."
        )
    if q["residual_px"] > RESIDUAL_MAX_PX:
        return "The card's squares are blurred or the card is not flat: brace the phone, focus on the edge."
    if q["end_over_blur"] < END_OVER_BLUR_MIN or q["blur_seen_mm"] > BLUR_MAX_MM:
        return (
            f"The picture is blurred by {q['blur_seen_mm']:.2f} mm, too much for the sheet's end: brace the phone, tap "
            "on the edge so that it focuses there, hold still."
        )
    if q["missing_beside"] > MISSING_BESIDE_MAX:
        return (
            f"{100 * q['missing_beside']:.0f} % of the card's corners beside the part are not seen: uncover them. If nothing "
            "covers them, this is another part's card: give the layout that was stored with this sheet."
        )
    if q["whitened"] > WHITENED_MAX or q["blackened"] > BLACKENED_MAX:
        return (
            "Beside the part the card is not printed as its layout says: clear what lies on it. If nothing does, this is "
            "another part's card: give the layout that was stored with this sheet."
        )
    if q["card_round"] < ROUND_MIN:
        return (
            "On one side of the part the card's squares do not fit the rest: glue the card to a flat board, clear "
            "what covers it, and show all of it."
        )
    if q["clipped"] > CLIPPED_MAX:
        return "Too bright beside the sheet's end: no flash, no lamp, tap on the edge so that the phone exposes for it."
    if q["both"] < BOTH_MIN:
        return (
            "Nowhere do both edges of the sheet's end stand out: paint it matt white or a strong colour, put a dark "
            "matt cloth behind, and focus on it."
        )
    if q["farther"] > FARTHER_MAX:
        return (
            "The line that was followed may be the skin's: a sheet's thickness farther out lies another edge. The end "
            "mirrors a lamp and is as light as what lies beside it: paint it matt, and let no lamp be mirrored in it."
        )
    if q["step_rows"] >= STEP_ROWS:
        return (
            "The line that was followed has a step that no sheet has: light mirrored by a shiny end, or skin beside it, "
            "led it to another edge. Paint the end matt, and let no lamp be mirrored in it."
        )
    trouble = {
        "The sheet's end does not stand out from what lies behind it: paint it matt white or a strong colour "
        "and put a dark matt cloth behind.": q["weak"] / 0.10 + max(0.0, 0.2 - q["contrast"]) / 0.1,
        "The sheet's end can't be told from its surroundings over too long a stretch: mind reflections beside "
        "it and stand the camera on the span axis.": q["misfit"] / 0.6,
        "The edge is ragged in the picture: focus on it, come nearer, clean the edge.": q["rough_mm"] / 0.08,
        "Another line lies close beside the sheet's end: change the background or the light.": q["doubt_mm"]
        / 0.5
        + 1.3 * (q["rival"] > RIVAL_MAX)
        + max(0.0, q["rival"] - RIVAL_FREE) / 0.5,
    }
    if sum(trouble.values()) > 1.2:
        return max(trouble, key=lambda k: trouble[k])
    if q["seen"] < SEEN_MIN:
        return f"Only {100 * q['seen']:.0f} % of the arc is seen: clear what covers it, and show all of the sheet's end."
    return ""


def decide(deviation_mm: Floats, u95_mm: Floats, tolerance_mm: float) -> str:
    """within limits if every place is, whatever its uncertainty; rework if one is surely not."""
    if not np.isfinite(deviation_mm).any():
        return "undecided"
    size = np.abs(deviation_mm)
    over = size - u95_mm > tolerance_mm
    near = np.nan_to_num(size) > 0.9 * tolerance_mm  # one place alone, without a neighbour, is no finding
    beside = np.r_[near[1:], False] | np.r_[False, near[:-1]]
    if (over & beside).any():
        return "rework"
    if np.nanmax(size + u95_mm) <= tolerance_mm:
        return "within limits"
    return "undecided"
