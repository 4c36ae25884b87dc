"""A profile measured from one photo: deviation of the outer skin from its target, with uncertainty."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ribwright.core.metrology.best_fit import best_fit, fit_push, through_the_fit
from ribwright.core.metrology.bridged import bridged
from ribwright.core.metrology.camera import PRIOR_BOW_MM, PRIOR_CAMERA_ASPECT, FocalPrior, View
from ribwright.core.metrology.layout import GaugeLayout, Target
from ribwright.core.metrology.profile_findings import PX_PER_MM_MIN, retake_reason
from ribwright.core.metrology.profile_findings import decide as decide
from ribwright.core.metrology.profile_rows import (
    SEARCH_MM,
    Rows,
    placed_target,
    room_outside,
    rows_along,
    sample_strip,
)
from ribwright.core.metrology.profile_rows import linear_light as linear_light
from ribwright.core.metrology.sharpness import worst_blur_px
from ribwright.core.metrology.sighting import Sighting, another_card, flat_round, sight
from ribwright.core.metrology.slips import rows_of_a_step
from ribwright.core.metrology.strange_marks import CORNERS_INSIDE, about_the_window
from ribwright.core.metrology.trace import Path, Strip, follow
from ribwright.core.metrology.typed import PrintScale, ProfileInput

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

SMOOTH_MM = 1.6  # half width of the local fit along the arc
HEIGHT_U95_MM = 0.3  # typed height of the sheet's end over the card
WEAK_CONTRAST = 0.12  # below this the end is not told from what lies beside it
# of a larger blur, what the skin beside the end may draw the edge aside, one sigma
BLUR_SHARE, BLUR_FREE_MM = 0.4, 0.18
NEWS_ROWS = 6.0  # neighbouring rows share pixels and grain: about every sixth is news
UNSEEN_NOTE = (
    "{} of {} places were not seen. In the best fit they count as the curve through their neighbours; how wrong that may "
    "be is in the uncertainty of all places."
)
BASE_SIGMA_MM = 0.018  # bevel, burr, thickness: what no scatter shows


@dataclass(frozen=True, slots=True)
class ProfileReading:
    """What one photo says of a profile. Arrays have one value a place of the layout; nan = not seen.

    Attributes:
        status: measured or retake.
        reason: why it must be taken again, or what limits it; a sentence.
        deviation_mm: + means metal outside the target, after the best fit.
        raw_mm: the same in the card's frame, without best fit.
        u95_mm: of ``deviation_mm``.
        max_abs_mm: largest absolute deviation.
        rotation_deg: of the best fit, the part against the target.
        shift_mm: of the best fit.
        finding: within limits, rework, undecided.
        seen: share of the places seen.
        contour_mm: shape (n, 2), the traced outer skin in the card's physical frame.
        contour_seen: shape (n,).
        placed: the target where the print puts it, in the same frame.
        view: the camera.
        z_mm: plane of the sheet's end in that frame.
        quality: numbers behind the decision to accept, by name.
        notes: sentences for the builder.
    """

    status: str
    reason: str
    arc_mm: Floats
    deviation_mm: Floats
    raw_mm: Floats
    u95_mm: Floats
    max_abs_mm: float
    rotation_deg: float
    shift_mm: tuple[float, float]
    finding: str
    seen: float
    contour_mm: Floats
    contour_seen: Mask
    placed: Target
    view: View
    z_mm: float
    quality: dict[str, float]
    notes: tuple[str, ...]


def measure_profile(
    picture: NDArray[np.uint8],
    *,
    layout: GaugeLayout,
    typed: ProfileInput,
    prior: FocalPrior,
    has_skin: bool = True,
) -> ProfileReading:
    """Measure a profile on its card.

    Args:
        picture: upright, shape (h, w) grey or (h, w, 3) blue-green-red, 8 bit.
        layout: of the card in the picture.
        typed: what the builder measured and typed.
        prior: focal length known beforehand.
        has_skin: a sheet goes on behind its end; a drawn line does not.

    Raises:
        UnreadablePhotoError: the card is not found or is not this one.
    """
    import cv2

    target = layout.target
    assert target is not None
    grey = picture if picture.ndim == 2 else np.asarray(cv2.cvtColor(picture, cv2.COLOR_BGR2GRAY))
    sighting = sight(grey, layout=layout, scale=typed.scale, prior=prior, bow_sigma_mm=PRIOR_BOW_MM)
    placed = placed_target(target, typed.scale, sighting.view)
    z_mm = float(sighting.view.surface_mm(placed.arc_xy_mm).mean()) - typed.edge_height_mm
    rows = rows_along(placed)
    strip = sample_strip(picture, sighting.view, rows, z_mm, typed)
    room = room_outside(layout, target, typed)
    middle = placed.arc_xy_mm.mean(axis=0)
    card_blur_px = worst_blur_px(grey, sighting.view, layout, typed.scale, middle)
    blur_mm = card_blur_px / pixels_per_mm(sighting.view)
    path = follow(strip, low_mm=-SEARCH_MM, high_mm=room, blur_mm=blur_mm if has_skin else None)
    corner_mm = layout.chess_xy_mm * np.array([typed.scale.x, typed.scale.y])
    within, missing, (whitened, blackened) = about_the_window(
        grey, sighting.view, sighting.kept, layout, typed.scale
    )
    if within >= CORNERS_INSIDE and pixels_per_mm(sighting.view) >= PX_PER_MM_MIN:
        raise another_card(f"{within} printed corners where this card's window should be")
    seen = {
        "missing_beside": missing,
        "whitened": whitened,
        # scissors may have gone through the rim; a laid part's card is not cut
        "blackened": blackened if typed.laid else 0.0,
        "clipped": _clipped(strip, path),
        "card_blur_px": card_blur_px,
        "card_round": flat_round(sighting.kept, corner_mm, middle),
    }
    return judge(sighting, placed, rows, path, z_mm, typed, seen)


def pixels_per_mm(view: View) -> float:
    """Of the picture, on the card."""
    return view.focal_px / float(abs(view.station_mm()[2]))


def _clipped(strip: Strip, path: Path) -> float:
    """Share of the samples just beside the sheet's end (or half that of the end itself) at full white."""
    x = strip.offset_mm[None, :] - path.offset_mm[:, None]
    beside = ((x > 0.1) & (x < 0.5)) | ((x < -strip.sheet_mm - 0.1) & (x > -strip.sheet_mm - 0.5))
    end = (x < -0.1 * strip.sheet_mm) & (x > -0.9 * strip.sheet_mm)
    full = strip.luminance > 0.97
    return max(float(full[beside].mean()), 0.5 * float(full[end].mean()))


def smooth_along(arc_mm: Floats, offset_mm: Floats, weight: Floats, at_mm: Floats) -> tuple[Floats, Floats]:
    """Robust local straight-line fit; value and one-sigma of it at each of ``at_mm``."""
    step = (arc_mm[-1] - arc_mm[0]) / max(len(arc_mm) - 1, 1)
    half = int(np.ceil(SMOOTH_MM / step)) + 1
    middle = np.clip(np.searchsorted(arc_mm, at_mm), 0, len(arc_mm) - 1)
    rows = middle[:, None] + np.arange(-half, half + 1)
    there = (rows >= 0) & (rows < len(arc_mm))
    rows = np.clip(rows, 0, len(arc_mm) - 1)
    gap, values = arc_mm[rows] - at_mm[:, None], offset_mm[rows]
    basic = np.clip(1 - (gap / SMOOTH_MM) ** 2, 0, 1) * weight[rows] * there
    kernel = basic
    value = np.zeros(len(at_mm))
    for turn in range(3):
        s0, s1, s2 = kernel.sum(axis=1), (kernel * gap).sum(axis=1), (kernel * gap**2).sum(axis=1)
        m0, m1 = (kernel * values).sum(axis=1), (kernel * gap * values).sum(axis=1)
        det = s0 * s2 - s1**2
        good = det > 1e-9 * np.maximum(s0, 1e-12) ** 2
        safe = np.where(good, det, 1.0)
        value = np.where(good, (s2 * m0 - s1 * m1) / safe, m0 / np.maximum(s0, 1e-12))
        slope = np.where(good, (s0 * m1 - s1 * m0) / safe, 0.0)
        miss = values - value[:, None] - slope[:, None] * gap
        spread = np.sqrt((kernel * miss**2).sum(axis=1) / np.maximum(s0, 1e-12))
        if turn < 2:
            limit = 2.5 * np.maximum(np.minimum(spread, 0.3), 0.01)[:, None]
            kernel = basic / np.maximum(np.abs(miss) / limit, 1.0) ** 2
    count = kernel.sum(axis=1) ** 2 / np.maximum((kernel**2).sum(axis=1), 1e-12)
    return value, spread / np.sqrt(np.maximum(count / NEWS_ROWS, 1.0))


def geometry_sigma(view: View, placed: Target, z_mm: float, typed: ProfileInput) -> Floats:
    """One sigma at each place from pose, lens, bow, height and bars, after the best fit took its share."""
    at, n = placed.arc_xy_mm, placed.normal_out
    world = np.column_stack([at, np.full(len(at), z_mm)])
    _, jac = view.jacobian(world)
    # a pixel's move, turned into a move on the plane z = z_mm
    rotation = view.rotation()
    on_plane = (jac[:, :, 3:6] @ rotation)[:, :, :2]
    shape_sensitivity = -np.linalg.solve(on_plane, jac)  # (m, 2, parameters)
    across = (n[:, :, None] * shape_sensitivity).sum(axis=1)
    height = -np.linalg.solve(on_plane, (jac[:, :, 3:6] @ rotation)[:, :, 2:])[:, :, 0]
    rise = (n * height).sum(axis=1)
    bow = _bow_rise(view, at)
    across[:, 13:16] += rise[:, None] * bow
    lever = at - at.mean(axis=0)
    push = fit_push(at, n)
    inverse = np.linalg.pinv(push)

    def left_over(pattern: Floats) -> Floats:
        return pattern - push @ (inverse @ pattern)

    part = left_over(across)
    # corners share small errors (paper, ink, focus): the solution is believed less than its scatter says
    variance = 9.0 * np.einsum("ij,jk,ik->i", part, view.covariance, part)
    variance += (left_over(rise[:, None])[:, 0] * HEIGHT_U95_MM / 2) ** 2
    for axis, u95 in ((0, typed.scale.u95_x), (1, typed.scale.u95_y)):
        variance += (left_over((n[:, axis] * lever[:, axis])[:, None])[:, 0] * u95 / 2) ** 2
    return np.sqrt(np.maximum(variance, 0.0))


def _bow_rise(view: View, at: Floats) -> Floats:
    """How the plane of the sheet's end moves with each bow term: with the card's mean under the target."""
    w = (at - view.middle_mm) / view.half_mm
    mean = np.array([(w[:, 0] ** 2).mean(), (w[:, 1] ** 2).mean(), (w[:, 0] * w[:, 1]).mean()])
    return np.broadcast_to(mean, (len(at), 3))


def judge(
    sighting: Sighting,
    placed: Target,
    rows: Rows,
    path: Path,
    z_mm: float,
    typed: ProfileInput,
    seen_of: Mapping[str, float],
) -> ProfileReading:
    """Deviation, uncertainty, gate and finding from a traced path."""
    good = (path.contrast > WEAK_CONTRAST) & (path.fit > 0.5) & ~path.farther
    weight = np.where(good, 1e-4 / np.maximum(path.sigma_mm, 0.01) ** 2, 0.0) + 1e-9
    dense, _ = smooth_along(rows.arc_mm, path.offset_mm, weight, rows.arc_mm)
    near = np.abs(rows.arc_mm[None, :] - placed.arc_mm[:, None]) <= SMOOTH_MM
    seen = _mostly(near, good)
    around = np.abs(rows.arc_mm[None, :] - rows.arc_mm[:, None]) <= SMOOTH_MM
    whole, guess = bridged(rows.arc_mm, dense, good & _mostly(around, good))
    contour = rows.xy_mm + whole[:, None] * rows.normal
    deviation, raw, pose = best_fit(placed.arc_xy_mm, placed.normal_out, contour)
    _, scatter = smooth_along(rows.arc_mm, path.offset_mm, weight, placed.arc_mm)
    doubt = (near * path.doubt_mm[None, :]).max(axis=1)
    geometry = geometry_sigma(sighting.view, placed, z_mm, typed)
    px_per_mm = pixels_per_mm(sighting.view)
    blur_mm = seen_of["card_blur_px"] / px_per_mm
    blurred = BLUR_SHARE * max(0.0, blur_mm - BLUR_FREE_MM)
    astray = np.hypot(doubt / 2, np.where(seen, 0.0, np.interp(placed.arc_mm, rows.arc_mm, guess)))
    moved = through_the_fit(fit_push(placed.arc_xy_mm, placed.normal_out), placed.arc_mm, astray)
    sigma = np.sqrt(scatter**2 + geometry**2 + BASE_SIGMA_MM**2 + blurred**2 + astray**2 + moved**2)
    u95 = 2.0 * sigma + np.maximum(np.abs(_jump(placed.arc_mm, deviation)) - 0.03, 0.0)
    seen = seen & np.isfinite(deviation)
    guessed = decide(deviation, u95, typed.tolerance_mm)  # with what is not seen, and may be over
    deviation, raw, u95 = (np.where(seen, a, np.nan) for a in (deviation, raw, u95))
    quality = {
        "corners": float(sighting.corners),
        "residual_px": sighting.view.residual_px,
        "tilt_deg": sighting.view.tilt_deg(),
        "px_per_mm": px_per_mm,
        "away_mm": sighting.view.focal_px / px_per_mm,
        "bow_mm": _bow(sighting.view),
        "bars_off": abs(sighting.view.stretch()) / _bars_sigma(typed.scale),
        "bars_apart": abs(typed.scale.x / typed.scale.y - 1.0),
        "contrast": float(np.median(path.contrast)),
        "weak": float((path.contrast < WEAK_CONTRAST).mean()),
        "fit": float(np.median(path.fit)),
        "misfit": float((path.fit < 0.9).mean()),
        "blur_mm": path.blur_mm,
        "seen": float(seen.mean()),
        "step_rows": float(rows_of_a_step(path.offset_mm, good)),
        "rival": path.rival,
        "both": path.both,
        "farther": float(path.farther.mean()),
        "rough_mm": float(np.median(np.abs(path.offset_mm - dense))),
        "doubt_mm": float(np.quantile(doubt, 0.9)),
        **seen_of,
    }
    quality["end_over_blur"] = typed.sheet_mm / blur_mm
    quality["blur_seen_mm"] = blur_mm
    reason = retake_reason(quality)
    worst = float(np.nanmax(np.abs(deviation))) if seen.any() else float("nan")
    status = "retake" if reason else "measured"
    finding = "undecided" if reason else decide(deviation, u95, typed.tolerance_mm)
    if finding == "within limits" and guessed != finding:
        finding = "undecided"
    unseen = int((~seen).sum())
    notes = typed.scale.notes + sighting.notes + ((UNSEEN_NOTE.format(unseen, len(seen)),) if unseen else ())
    return ProfileReading(
        status=status,
        reason=reason,
        arc_mm=placed.arc_mm,
        deviation_mm=deviation,
        raw_mm=raw,
        u95_mm=u95,
        max_abs_mm=worst,
        rotation_deg=float(np.degrees(pose[2])),
        shift_mm=pose[:2],
        finding=finding,
        seen=float(seen.mean()),
        contour_mm=contour,
        contour_seen=good,
        placed=placed,
        view=sighting.view,
        z_mm=z_mm,
        quality={k: round(v, 4) for k, v in quality.items()},
        notes=notes,
    )


def _mostly(near: Mask, good: Mask) -> Mask:
    """Where most of the rows near by are good."""
    return np.asarray((near & good[None, :]).sum(axis=1) >= 0.6 * np.maximum(near.sum(axis=1), 1))


def _bars_sigma(scale: PrintScale) -> float:
    """One sigma of how far the two typed bars may stretch the picture against each other."""
    return float(np.hypot(np.hypot(scale.u95_x / 2, scale.u95_y / 2), PRIOR_CAMERA_ASPECT))


def _bow(view: View) -> float:
    """How far the board's highest and lowest place lie apart, whichever way it is bent or twisted."""
    at = np.linspace(-1.0, 1.0, 9)
    x, y = (a.ravel() for a in np.meshgrid(at, at))
    height = np.column_stack([x**2, y**2, x * y]) @ view.bow_mm
    return float(np.ptp(height))


def _jump(arc_mm: Floats, deviation: Floats) -> Floats:
    """How far each place lies off the curve through its eight neighbours: skin has no steps."""
    places = np.arange(len(arc_mm))
    k = places[:, None] + np.array([-4, -3, -2, -1, 1, 2, 3, 4])
    known = (k >= 0) & (k < len(arc_mm))
    k = np.clip(k, 0, len(arc_mm) - 1)
    known &= np.isfinite(deviation)[k]
    x = np.where(known, (arc_mm[k] - arc_mm[:, None]) / 10.0, 0.0)
    y = np.where(known, deviation[k], 0.0)
    between = (x.min(axis=1) < 0) & (x.max(axis=1) > 0)  # beyond the last neighbour a straight line
    base = np.stack([known, x, x**2 * between[:, None]], axis=2).astype(np.float64)
    normal = base.transpose(0, 2, 1) @ base
    normal[:, 2, 2] += ~between
    enough = (known.sum(axis=1) >= 4) & np.isfinite(deviation)
    normal[~enough] = np.eye(3)
    curve = np.linalg.solve(normal, (base * y[:, :, None]).sum(axis=1)[..., None])[:, 0, 0]
    return np.where(enough, np.nan_to_num(deviation) - curve, 0.0)
