"""What the rims of a row say: each head, hole or dimple against its limits, and whether the row is to be believed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ribwright.core.metrology.camera import View
from ribwright.core.metrology.rim import Rim
from ribwright.core.metrology.typed import RowInput

Floats = NDArray[np.float64]

# what no scatter shows of a rim in the sheet's surface, of each and of all of a row alike: blur, a deburred edge, how
# deep a dimple's hole lies
SURFACE_SIGMA_MM = {"flush heads": (0.04, 0.0), "holes": (0.02, 0.04), "dimples": (0.03, 0.063)}
# u95 of a formed head's diameters: so many of its own scatter (all rays deceived alike) and of the row's usual one
OWN_SIGMAS, ROW_SIGMAS = 1.3, 0.6
SPREAD_MAX_D = (
    0.073  # of a row's heads, usual scatter of a diameter, in shanks: beyond it another ring may be the rim
)
WAVERING = "More than one ring round these heads may be the rim"
LOST_D = 0.3  # scatter of one head's diameter, in shanks, at which it is not told from what lies round it
OVAL_BASE_MM, OVAL_SIGMAS = (
    0.05,
    0.8,
)  # u95 of the difference of two diameters: always, and of its own scatter
POOR_MM = 1.0  # what rays that see no rim add
# A formed head's findings are lopsided: it is passed only where it is clearly inside, by this share of u95 (about five to
# one), and rejected where it is likelier out than in: a false reject costs a gauge check. Most heads of a row are good,
# so the less a measurement says, the farther out it must lie: by u95 squared over shanks, times this
PASSED_AT, REJECTED_AT = 0.42, 1.5
U95_MAX_MM = 0.65  # beyond which a row's diameters tell nothing
COVERAGE_MIN = {"flush heads": 0.5, "holes": 0.35, "dimples": 0.35}  # share of a rim that must be seen
# of the shank: 100° heads measure 1.8 to 1.91 (Table flush-head); the usual one of own formed rows hardly more than 1.66 (renders, no
# source): the size alone says nothing certain
FLUSH_USUAL_D = 1.7
BESIDE_MAX = 0.05  # change of light's logarithm beside a flush head's rim: a barrel has shade and sides there
HOLE_USUAL_D = (0.85, 1.3)  # of the rivet: beyond it the row is not what was typed
HOLE_UNLIKE_D = 0.08  # usual difference of a row's smallest diameters, in shanks: one drill made them
WAIST_MM = 0.12  # of a hole: what two opposite arcs lie inside an oval before it is a figure-eight
FORMED_ROW_MIN, FORMED_MIN = 0.62, 0.55  # share of the rays' evidence near the oval, of a row and of one head


@dataclass(frozen=True, slots=True)
class HeadReading:
    """One head. Lengths in mm in the strip's physical frame; ``None`` = not to be told."""

    cx: float
    cy: float
    d_max: float
    d_min: float
    pitch_to_next_mm: float | None
    edge_distance_mm: float | None
    u95_mm: float
    finding: str
    reasons: tuple[str, ...]
    coverage: float
    turn_rad: float = 0.0  # direction of the largest diameter


@dataclass(frozen=True, slots=True)
class RowReading:
    """A row: ``status`` measured or retake with its ``reason``, the heads, and notes for the builder.

    ``view``, the rims' plane ``z_mm`` and the sheet's edge on it (two ends) are for the overlay.
    """

    status: str
    reason: str
    heads: tuple[HeadReading, ...]
    quality: dict[str, float]
    notes: tuple[str, ...]
    view: View | None = None
    z_mm: float = 0.0
    edge_mm: tuple[tuple[float, float], tuple[float, float]] | None = None


def judge(
    centres: Floats,
    rims: list[Rim],
    away: Floats | None,
    edge_sigma: float,
    typed: RowInput,
    quality: dict[str, float],
) -> RowReading:
    heads = []
    usual_sigma = float(np.median([r.sigma_mm for r in rims])) if rims else 0.0
    step = np.hypot(*np.diff(centres, axis=0).T) if len(centres) > 1 else np.empty(0)
    for k, rim in enumerate(rims):
        if not typed.formed:
            poor = 0.25 * max(0.0, 0.6 - rim.coverage)
            each, alike = SURFACE_SIGMA_MM[typed.what]
            own = float(np.hypot(rim.sigma_mm, each))
            u95 = 2 * float(np.linalg.norm((own, rim.shared_mm, alike))) + poor
            u_oval = 2 * own + poor
        else:
            poor = POOR_MM * max(0.0, 0.75 - rim.coverage)
            u95 = OWN_SIGMAS * rim.sigma_mm + ROW_SIGMAS * usual_sigma + poor
            u_oval = OVAL_BASE_MM + OVAL_SIGMAS * rim.sigma_mm + poor
        distance = None if away is None else float(away[k])
        u_edge = 2 * float(np.hypot(edge_sigma, 0.06))
        finding, reasons = head_finding(rim, distance, (u95, u_oval, u_edge), typed)
        heads.append(
            HeadReading(
                cx=float(centres[k, 0]),
                cy=float(centres[k, 1]),
                d_max=rim.d_max_mm,
                d_min=rim.d_min_mm,
                pitch_to_next_mm=float(step[k]) if k < len(step) else None,
                edge_distance_mm=distance,
                u95_mm=u95,
                finding=finding,
                reasons=reasons,
                coverage=rim.coverage,
                turn_rad=rim.turn_rad,
            )
        )
    coverage = np.array([r.coverage for r in rims])
    quality |= {"coverage": float(np.median(coverage)), "coverage_low": float(coverage.min())}
    reason = (
        row_unlikely(rims, typed, quality)
        if typed.formed
        else flush_unlikely(rims, typed, quality) or holes_unlikely(rims, typed)
    )
    uneven = np.abs(step - typed.pitch_mm) > 0.25 * typed.pitch_mm if len(step) else np.zeros(0, dtype=bool)
    lost = [
        str(k) for k, r in enumerate(rims, 1) if not typed.formed and r.coverage < COVERAGE_MIN[typed.what]
    ]
    if np.median(coverage) < (FORMED_ROW_MIN if typed.formed else COVERAGE_MIN[typed.what]):
        reason = "The heads' rims can't be told from the sheet: soft light from all sides, focus on the row."
    elif reason:
        pass
    elif lost:
        reason = (
            f"{'Head' if typed.what == 'flush heads' else 'Hole'} {' and '.join(lost)} from the left can't be made out: check the number typed, clear what covers it, or "
            "photograph the row without it."
        )
    elif np.median([h.u95_mm for h in heads]) > U95_MAX_MM:
        reason = (
            "The heads' rims are not sharp enough to measure: soft light from all sides, focus on the row."
        )
    elif uneven.any():
        reason = "The rivets found are not at the pitch typed: check count and pitch, show the whole row."
    elif away is None:
        reason = "The sheet's edge is not seen beyond the row: show it, against a plain background."
    status = "retake" if reason else "measured"
    return RowReading(
        status, reason, tuple(heads), {k: round(v, 4) for k, v in quality.items()}, typed.scale.notes
    )


def row_unlikely(rims: list[Rim], typed: RowInput, quality: dict[str, float]) -> str:
    """Why a row of formed heads as found is not to be believed: what deceives on one head deceives on all."""
    spread = float(np.median([r.sigma_mm for r in rims]))
    usual = float(np.median([(r.d_max_mm + r.d_min_mm) / 2 for r in rims]))
    quality |= {"spread_mm": spread, "usual_mm": usual, "common_oval_mm": rims[0].common_mm}
    if usual > max(typed.d_max_mm, FLUSH_USUAL_D * typed.shank_mm):
        return (
            f"The usual head of this row seems to measure {usual:.1f} mm, outside the limits and as wide as a flush head: if these are flush "
            "heads, choose flush heads; if not, a shadow was taken for the rim: change the light; if it stays so, gauge heads."
        )
    if spread > SPREAD_MAX_D * typed.shank_mm:
        return (
            f"{WAVERING} (diameters waver by {spread:.2f} mm). Soft light from "
            "all sides (white paper round the row), no lamp or window from one side; or light from another side."
        )
    lost = [str(k) for k, r in enumerate(rims, 1) if r.sigma_mm > LOST_D * typed.shank_mm]
    if lost:
        return (
            f"Head {' and '.join(lost)} from the left can't be made out: clear what covers it, soft light on the whole row, "
            "or photograph the row without it."
        )
    if not typed.d_min_mm <= usual <= typed.d_max_mm:
        return (
            f"The usual head of this row seems to measure {usual:.1f} mm, outside the limits: a shadow or a bright "
            "top taken for the rim is likelier than a row all bad. Change the light; if it stays so, gauge heads."
        )
    return ""


def flush_unlikely(rims: list[Rim], typed: RowInput, quality: dict[str, float]) -> str:
    """Why a row of flush heads is not to be believed: formed heads show rings too, but smaller ones, and no mere lines."""
    if typed.what != "flush heads":
        return ""
    usual = float(np.median([(r.d_max_mm + r.d_min_mm) / 2 for r in rims]))
    beside = float(np.median([r.beside for r in rims]))
    quality |= {"usual_mm": usual, "beside": beside}
    if usual >= FLUSH_USUAL_D * typed.shank_mm or beside <= BESIDE_MAX:
        return ""
    return (
        f"The usual head of this row seems to measure {usual:.1f} mm and to stand out of the sheet, where flush heads show a thin ring of "
        f"about {1.85 * typed.shank_mm:.1f}. If these are formed heads, choose formed heads; if not, soft light from all sides."
    )


def holes_unlikely(rims: list[Rim], typed: RowInput) -> str:
    """Why a row of holes is not to be believed: the usual one is drilled to about the rivet's size."""
    if typed.what not in ("holes", "dimples"):
        return ""
    least = np.array([r.d_min_mm for r in rims]) / typed.shank_mm  # of one drilled twice it is the drill's
    usual = float(np.median(least))
    if float(np.median(np.abs(least - usual))) > HOLE_UNLIKE_D:
        return (
            f"What was found of {len(rims)} holes differs too much in size to be a row: plain paper behind the holes, nothing "
            "else in the picture; check what was typed."
        )
    out = float(np.quantile([max(r.waist_mm, (r.d_max_mm - r.d_min_mm) / 2) for r in rims], 0.25))
    if out > WAIST_MM:
        return (
            f"Nearly all holes of this row seem out of round, by {out:.2f} mm and more: something else was taken for its edge. Plain paper "
            "much darker or brighter than the metal behind the holes, soft light from all sides."
        )
    if HOLE_USUAL_D[0] <= usual <= HOLE_USUAL_D[1]:
        return ""
    return (
        f"The usual hole of this row seems to measure {usual * typed.shank_mm:.1f} mm for a rivet of {typed.shank_mm:g}: something "
        "else was taken for the row. Plain paper behind the holes, nothing else in the picture; check what was typed."
    )


def head_finding(
    rim: Rim, distance: float | None, sure: tuple[float, float, float], typed: RowInput
) -> tuple[str, tuple[str, ...]]:
    """reject when a limit is passed, undecided when one is too near to tell.

    Each limit is turned into a margin, + inside; ovality's in millimetres of diameter difference. ``sure``: the
    uncertainties of a diameter, of the difference of two, and of the edge distance: a row's common error of size
    does not make heads out of round. Formed heads: see ``PASSED_AT``; all else is decided at the whole of them.
    """
    u95, u_oval, u_edge = sure
    passed_at = PASSED_AT if typed.formed else 1.0
    mean = (rim.d_max_mm + rim.d_min_mm) / 2
    margins = [
        (rim.d_min_mm - typed.d_min_mm, u95, "too narrow"),
        (typed.d_max_mm - rim.d_max_mm, u95, "too wide"),
        (typed.ovality_max * mean - (rim.d_max_mm - rim.d_min_mm), u_oval, "out of round"),
    ]
    if rim.waist_mm:
        margins.append((WAIST_MM - rim.waist_mm, 2 * rim.sigma_mm, "drilled twice (figure-eight)"))
    if distance is not None:
        margins.append((distance - typed.edge_min_mm, u_edge, "too near the edge"))
    out = tuple(
        why
        for margin, u, why in margins
        if margin < -(min(u, REJECTED_AT * u**2 / typed.shank_mm) if typed.formed else u)
    )
    if out and rim.coverage >= (FORMED_MIN if typed.formed else COVERAGE_MIN["flush heads"]):
        return "reject", out
    maybe = tuple(why + "?" for margin, u, why in margins if margin < passed_at * u)
    if maybe or distance is None or rim.coverage < (FORMED_MIN if typed.formed else COVERAGE_MIN[typed.what]):
        return "undecided", maybe
    return "nothing wrong seen", ()
