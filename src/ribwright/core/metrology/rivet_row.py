"""A row of rivets measured from one photo with a strip beside it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ribwright.core.metrology.camera import FocalPrior, View
from ribwright.core.metrology.formed_rims import formed_rims, ray_places
from ribwright.core.metrology.layout import GaugeLayout
from ribwright.core.metrology.profile_rows import linear_light
from ribwright.core.metrology.rim import Rim, directions, find_rim, radii
from ribwright.core.metrology.row_search import Row, find_edge, find_row
from ribwright.core.metrology.sighting import sight
from ribwright.core.metrology.typed import RowInput

Floats = NDArray[np.float64]

STRIP_BOW_MM = 0.1
RIM_HEIGHT = 0.35  # of a head's height: where a formed head is widest
SEARCH_MM = 32.0  # from the strip across the row
CELL_MM = 0.1
FLUSH_SIGMA_MM = 0.03  # what no scatter shows: blur, height
FORMED_U95_D = 0.065  # of the shank: what no scatter shows of a formed head: shade at the foot, its shape
SIDES_SHARE, SIDES_MAX_D = 0.5, 0.115  # what half rings' disagreement adds to u95; of a whole row, in shanks
OVAL_SIGMA_MM, POOR_MM = 0.08, 1.0  # of the difference of two diameters; what rays that see no rim add
ROWS_TRIED = 3
U95_MAX_MM = 0.6  # beyond which a row's diameters tell nothing
FORMED_ROW_MIN, FORMED_MIN = 0.62, 0.55  # share of the rays' evidence near the oval, of a row and of one head
SIDE_MAX_DEG, PX_PER_MM_MIN, RESIDUAL_MAX_PX = 25.0, 7.0, 0.25
COVERAGE_MIN = 0.35


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


@dataclass(frozen=True, slots=True)
class RowReading:
    """A row: ``status`` measured or retake with its ``reason``, the heads, and notes for the builder."""

    status: str
    reason: str
    heads: tuple[HeadReading, ...]
    quality: dict[str, float]
    notes: tuple[str, ...]


def measure_row(
    picture: NDArray[np.uint8], *, layout: GaugeLayout, typed: RowInput, prior: FocalPrior
) -> RowReading:
    """Measure a row of formed or flush heads beside a strip.

    Args:
        picture: upright, shape (h, w) grey or (h, w, 3), 8 bit.
        layout: of the strip.
        typed: what the builder typed.
        prior: focal length known beforehand.

    Raises:
        UnreadablePhotoError: the strip is not found or is not this one.
    """
    import cv2

    grey = picture if picture.ndim == 2 else np.asarray(cv2.cvtColor(picture, cv2.COLOR_BGR2GRAY))
    sighting = sight(grey, layout=layout, scale=typed.scale, prior=prior, bow_sigma_mm=STRIP_BOW_MM)
    view = sighting.view
    quality = {
        "corners": float(sighting.corners),
        "residual_px": view.residual_px,
        "tilt_deg": view.tilt_deg(),
        "px_per_mm": view.focal_px / float(abs(view.station_mm()[2])),
    }
    reason = _bad_view(quality)
    if reason:
        return RowReading("retake", reason, (), quality, typed.scale.notes)
    size = np.array(layout.size_mm) * np.array([typed.scale.x, typed.scale.y])
    grid_x = np.arange(-4.0, size[0] + 4.0, CELL_MM)
    depth = np.arange(0.5, SEARCH_MM, CELL_MM)
    grid_y = size[1] + depth if not typed.above else -depth
    head_z = typed.strip_mm - RIM_HEIGHT * typed.head_height_mm
    patch, seen = rectified(grey, view, grid_x, grid_y, head_z)
    low, high = radius_range(typed)
    row, centres, rims = _row_found(grey, view, (grid_x, grid_y), (patch, seen), head_z, (low, high), typed)
    quality |= {"row_votes": row.worth, "row_weakest": row.weakest, "row_rival": row.rival}
    if row.reason:
        return RowReading("retake", row.reason, (), quality, typed.scale.notes)
    sheet, inside = rectified(grey, view, grid_x, grid_y, typed.strip_mm)
    edge = find_edge(
        sheet, inside, row, cell_mm=CELL_MM, clear_mm=0.62 * typed.d_max_mm, shank_mm=typed.shank_mm
    )
    quality["edge_coverage"] = edge.coverage
    away = None
    if edge.found:
        x = (centres[:, 0] - grid_x[0]) / CELL_MM
        line = edge.offset + edge.slope * x
        y = np.abs(centres[:, 1] - grid_y[0]) / CELL_MM
        away = (line - y) * CELL_MM / float(np.hypot(1.0, edge.slope))
    return _judge(centres, rims, away, edge.sigma_mm, typed, quality)


def _row_found(
    grey: NDArray[np.uint8],
    view: View,
    grid: tuple[Floats, Floats],
    picture: tuple[Floats, NDArray[np.bool_]],
    z_mm: float,
    radii_mm: tuple[float, float],
    typed: RowInput,
) -> tuple[Row, Floats, list[Rim]]:
    """The row and its rims; where what was found has no clear rims, what else the picture holds is tried."""
    patch, seen = picture
    low, high = radii_mm
    ends, radius = ray_places(typed.shank_mm)

    def light_at(places: Floats) -> Floats:
        return _rays(grey, view, places, z_mm, ends, radius)

    best: tuple[float, Row, Floats, list[Rim]] | None = None
    for _ in range(1 if typed.flush else ROWS_TRIED):
        row = find_row(
            patch,
            seen,
            cell_mm=CELL_MM,
            count=typed.count,
            pitch_mm=typed.pitch_mm,
            low_mm=low,
            high_mm=high,
            thin=typed.flush,
        )
        if row.reason and best is None:
            return row, np.empty((0, 2)), []
        if row.reason:
            break
        centres = np.column_stack(
            [
                grid[k][0] + at * CELL_MM * np.sign(grid[k][1] - grid[k][0])
                for k, at in enumerate((row.x, row.y))
            ]
        )
        if typed.flush:
            low, high = max(low, 0.85 * row.ring_mm), min(high, 1.15 * row.ring_mm)
            return row, *_thin_rims(grey, view, centres, z_mm, low, high)
        centres, rims = formed_rims(
            light_at,
            centres,
            shank_mm=typed.shank_mm,
            head_height_mm=typed.head_height_mm,
            station_mm=view.station_mm() - np.array([0.0, 0.0, z_mm]),
        )
        clear = float(np.median([r.coverage for r in rims]))
        if best is None or clear > best[0]:
            best = (clear, row, centres, rims)
        if clear >= FORMED_ROW_MIN:
            break
        seen = seen.copy()
        near = typed.d_max_mm / CELL_MM
        seen[max(0, int(row.y.min() - near)) : int(row.y.max() + near)] = False
    assert best is not None
    return best[1:]


def radius_range(typed: RowInput) -> tuple[float, float]:
    """Radii between which a rim is looked for: beyond the limits on both sides, so that rejects are seen."""
    if typed.flush:
        return 0.62 * typed.shank_mm, max(1.25 * typed.shank_mm, 0.55 * typed.d_max_mm)
    return 0.40 * typed.d_min_mm, 0.64 * typed.d_max_mm


def _bad_view(quality: dict[str, float]) -> str:
    if quality["tilt_deg"] > SIDE_MAX_DEG:
        return f"The camera looked {quality['tilt_deg']:.0f}° aside: hold it square over the row, within 5°."
    if quality["px_per_mm"] < PX_PER_MM_MIN:
        return f"Too far away ({quality['px_per_mm']:.1f} pixels a millimetre): come to 16-20 cm."
    if quality["residual_px"] > RESIDUAL_MAX_PX:
        return "The strip is blurred or does not lie flat: brace the phone, focus on the row."
    return ""


def rectified(
    grey: NDArray[np.uint8], view: View, x_mm: Floats, y_mm: Floats, z_mm: float
) -> tuple[Floats, NDArray[np.bool_]]:
    """Linear light on a grid of the plane z, (len(y), len(x)), and which of it lies in the picture."""
    import cv2

    coarse_x, coarse_y = np.linspace(x_mm[0], x_mm[-1], 40), np.linspace(y_mm[0], y_mm[-1], 12)
    gx, gy = np.meshgrid(coarse_x, coarse_y)
    px = view.pixels(np.column_stack([gx.ravel(), gy.ravel(), np.full(gx.size, z_mm)]))
    px = px.reshape(*gx.shape, 2)
    to_x = np.linspace(0, len(coarse_x) - 1, len(x_mm), dtype=np.float32)
    to_y = np.linspace(0, len(coarse_y) - 1, len(y_mm), dtype=np.float32)
    map_x, map_y = np.meshgrid(to_x, to_y)
    u = cv2.remap(px[..., 0].astype(np.float32), map_x, map_y, cv2.INTER_LINEAR)
    v = cv2.remap(px[..., 1].astype(np.float32), map_x, map_y, cv2.INTER_LINEAR)
    height, width = grey.shape
    seen = (u > 1) & (v > 1) & (u < width - 2) & (v < height - 2)
    return _sample(grey, u, v), seen


def _sample(grey: NDArray[np.uint8], u: NDArray[np.float32], v: NDArray[np.float32]) -> Floats:
    import cv2

    height, width = grey.shape
    x0, x1 = int(np.clip(u.min() - 2, 0, width - 2)), int(np.clip(u.max() + 3, 2, width))
    y0, y1 = int(np.clip(v.min() - 2, 0, height - 2)), int(np.clip(v.max() + 3, 2, height))
    crop = cv2.LUT(np.ascontiguousarray(grey[y0:y1, x0:x1]), linear_light())
    out = cv2.remap(crop, u - x0, v - y0, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(out, dtype=np.float64)


def _rays(
    grey: NDArray[np.uint8], view: View, centres: Floats, z_mm: float, ends: Floats, radius_mm: Floats
) -> Floats:
    """Linear light along rays from ``centres`` (heads, 2) on the plane z, shape (heads, rays, samples)."""
    coarse = np.linspace(radius_mm[0], radius_mm[-1], 5)
    xy = centres[:, None, None, :] + ends[:, None, :] * coarse[:, None]
    world = np.column_stack([xy.reshape(-1, 2), np.full(xy[..., 0].size, z_mm)])
    px = view.pixels(world).reshape(len(centres), len(ends), len(coarse), 2).astype(np.float32)
    at = (radius_mm - radius_mm[0]) / (coarse[1] - coarse[0])
    k = np.clip(at.astype(np.int64), 0, len(coarse) - 2)
    w = (at - k).astype(np.float32)[:, None]
    uv = px[:, :, k] * (1 - w) + px[:, :, k + 1] * w
    return np.stack([_sample(grey, of_head[..., 0], of_head[..., 1]) for of_head in uv])


def _thin_rims(
    grey: NDArray[np.uint8], view: View, centres: Floats, z_mm: float, low: float, high: float
) -> tuple[Floats, list[Rim]]:
    """Thin rims and their centres: again with rays from the rim's own centre, until it stays."""
    r = radii(low, high)
    places, rims = centres.copy(), []
    for k in range(len(centres)):
        for _ in range(4):
            light = _rays(grey, view, places[k : k + 1], z_mm, directions(), r)[0]
            rim = find_rim(light, r, low_mm=low, high_mm=high)
            moved = np.clip(rim.centre_mm, -0.8, 0.8)
            places[k] += moved
            if np.abs(moved).max() < 0.04:
                break
        rims.append(rim)
    return places, rims


def _judge(
    centres: Floats,
    rims: list[Rim],
    away: Floats | None,
    edge_sigma: float,
    typed: RowInput,
    quality: dict[str, float],
) -> RowReading:
    heads = []
    step = np.hypot(*np.diff(centres, axis=0).T) if len(centres) > 1 else np.empty(0)
    for k, rim in enumerate(rims):
        if typed.flush:
            u95 = 2 * float(np.hypot(rim.sigma_mm, FLUSH_SIGMA_MM)) + 0.25 * max(0.0, 0.6 - rim.coverage)
            u_oval = u95
        else:
            poor = POOR_MM * max(0.0, 0.75 - rim.coverage)
            parts = (2 * rim.sigma_mm, FORMED_U95_D * typed.shank_mm, SIDES_SHARE * np.ptp(rim.sides_mm))
            u95 = float(np.linalg.norm(parts)) + poor
            u_oval = 2 * OVAL_SIGMA_MM + poor
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
            )
        )
    coverage = np.array([r.coverage for r in rims])
    quality |= {"coverage": float(np.median(coverage)), "coverage_low": float(coverage.min())}
    reason = "" if typed.flush else _row_unlikely(rims, typed, quality)
    uneven = np.abs(step - typed.pitch_mm) > 0.25 * typed.pitch_mm if len(step) else np.zeros(0, dtype=bool)
    if np.median(coverage) < (COVERAGE_MIN if typed.flush else FORMED_ROW_MIN):
        reason = "The heads' rims can't be told from the sheet: soft light from all sides, focus on the row."
    elif reason:
        pass
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


def _row_unlikely(rims: list[Rim], typed: RowInput, quality: dict[str, float]) -> str:
    """Why a row of formed heads as found is not to be believed: what deceives on one head deceives on all."""
    sides = float(np.ptp(np.median([r.sides_mm for r in rims], axis=0)))
    usual = float(np.median([(r.d_max_mm + r.d_min_mm) / 2 for r in rims]))
    quality |= {"sides_mm": sides, "usual_mm": usual}
    if sides > SIDES_MAX_D * typed.shank_mm:
        return (
            f"The heads' two sides do not agree on one rim (by {sides:.2f} mm): a shadow was taken for the head. "
            "Soft light from all sides (white paper round the row), no lamp or window from one side."
        )
    if not typed.d_min_mm <= usual <= typed.d_max_mm:
        return (
            f"The usual head of this row seems to measure {usual:.1f} mm, outside the limits: a shadow or a bright "
            "top taken for the rim is likelier than a row all bad. Change the light; if it stays so, gauge heads."
        )
    return ""


def head_finding(
    rim: Rim, distance: float | None, sure: tuple[float, float, float], typed: RowInput
) -> tuple[str, tuple[str, ...]]:
    """reject when a limit is surely passed, undecided when one is within the uncertainty.

    Each limit is turned into a margin, + inside; ovality's in millimetres of diameter difference. ``sure``: the
    uncertainties of a diameter, of the difference of two, and of the edge distance: a row's common error of size
    does not make heads out of round.
    """
    u95, u_oval, u_edge = sure
    mean = (rim.d_max_mm + rim.d_min_mm) / 2
    margins = [
        (rim.d_min_mm - typed.d_min_mm, u95, "smallest diameter too small"),
        (typed.d_max_mm - rim.d_max_mm, u95, "largest diameter too large"),
        (typed.ovality_max * mean - (rim.d_max_mm - rim.d_min_mm), u_oval, "out of round"),
    ]
    if distance is not None:
        margins.append((distance - typed.edge_min_mm, u_edge, "too near the edge"))
    surely = tuple(why for margin, u, why in margins if margin < -u)
    if surely and (typed.flush or rim.coverage >= FORMED_MIN):
        return "reject", surely
    maybe = tuple(why + "?" for margin, u, why in margins if margin < u)
    if maybe or distance is None or rim.coverage < (COVERAGE_MIN if typed.flush else FORMED_MIN):
        return "undecided", maybe
    return "nothing wrong seen", ()
