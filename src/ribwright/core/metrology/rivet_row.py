"""A row of rivets measured from one photo with a strip beside it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ribwright.core.metrology.camera import FocalPrior, View
from ribwright.core.metrology.formed_rims import formed_rims, ray_places
from ribwright.core.metrology.layout import GaugeLayout
from ribwright.core.metrology.profile_rows import linear_light
from ribwright.core.metrology.rim import Rim, change_beside, directions, find_rim, radii
from ribwright.core.metrology.row_findings import (
    COVERAGE_MIN,
    FORMED_ROW_MIN,
    WAVERING,
    RowReading,
    holes_unlikely,
    judge,
)
from ribwright.core.metrology.row_search import GOES_ON, RIVAL_MAX, Edge, Row, find_edge, find_row
from ribwright.core.metrology.sharpness import blur_px, too_coarse
from ribwright.core.metrology.sighting import sight
from ribwright.core.metrology.typed import RowInput

Floats = NDArray[np.float64]
Single = NDArray[np.float32]

STRIP_BOW_MM = 0.1
RIM_HEIGHT = 0.35  # of a head's height: where a formed head is widest
SEARCH_MM = 32.0  # from the strip across the row
CELL_MM = 0.1
ROWS_TRIED = 3
# a line that cuts the picture: from the strip on, of its whole width
LINE_FROM_MM, LINE_ITSELF_MM, RIGHT_ACROSS = 4.0, 0.8, 0.85
BLUR_MOST_PX = 4.0
BLUR_SEEN_MM = 0.12  # good photos have less, so where rims waver blur is the likelier cause
BLURRED = "The photo is blurred: tap on the row to focus, brace the phone, hold it still, 16-20 cm away."
BESIDE_RIM_MM = 0.45  # of a flush head: from there on a line is the sheet's edge
# radii of a hole, in shanks, by which it is looked for: one drilled twice has them too
HOLE_VOTES_D = 0.46, 0.62
# as ALIKE, of a thing in the sheet's surface: of the row's usual one
ALIKE_COVERAGE, ALIKE_SURFACE = 0.7, 0.1
ASIDE_MM = 0.8  # of a hole drilled twice or a dimple: where it is found first
ALIKE = 0.3  # share by which a head beyond the row's end may differ in size, and in place (shanks)
CLIPPED_MAX, FULL_WHITE = 0.35, 0.97  # as beside a sheet's end
TOO_BRIGHT = "Too bright round the heads: no flash, no lamp, tap on the row so that the phone exposes for it."
SIDE_MAX_DEG, PX_PER_MM_MIN, RESIDUAL_MAX_PX = 25.0, 7.0, 0.25


def measure_row(
    picture: NDArray[np.uint8], *, layout: GaugeLayout, typed: RowInput, prior: FocalPrior
) -> RowReading:
    """Measure a row of heads, holes or dimples beside a strip.

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
        "away_mm": float(abs(view.station_mm()[2])),
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
    blur_mm = 0.0
    if typed.what in ("holes", "dimples"):
        blur_mm = min(blur_px(grey, view, layout, typed.scale), BLUR_MOST_PX) / quality["px_per_mm"]
    row, centres, rims = _row_found(
        grey, view, (grid_x, grid_y), (patch, seen), head_z, (low, high), typed, blur_mm
    )
    quality |= {"row_votes": row.worth, "row_weakest": row.weakest, "row_rival": row.rival}
    if row.reason:
        return RowReading("retake", row.reason, (), quality, typed.scale.notes)
    quality["clipped"] = _clipped(grey, view, centres, head_z, typed.shank_mm)
    if quality["clipped"] > CLIPPED_MAX:
        return RowReading("retake", TOO_BRIGHT, (), quality, typed.scale.notes)
    sheet, inside = rectified(grey, view, grid_x, grid_y, typed.strip_mm)
    clear_mm = 0.62 * typed.d_max_mm  # shade round formed heads included
    if typed.what == "flush heads":
        clear_mm = min(clear_mm, float(np.quantile([r.d_max_mm for r in rims], 0.75)) / 2 + BESIDE_RIM_MM)
    edge = find_edge(sheet, inside, row, cell_mm=CELL_MM, clear_mm=clear_mm, shank_mm=typed.shank_mm)
    quality["edge_coverage"] = edge.coverage
    away, edge_mm = None, None
    if edge.found:
        x = (centres[:, 0] - grid_x[0]) / CELL_MM
        line = edge.offset + edge.slope * x
        y = np.abs(centres[:, 1] - grid_y[0]) / CELL_MM
        away = (line - y) * CELL_MM / float(np.hypot(1.0, edge.slope))
        edge_mm = _edge_seen((grid_x, grid_y), edge, view.station_mm(), typed.strip_mm, head_z)
    reading = judge(centres, rims, away, edge.sigma_mm, typed, quality)
    if reading.status != "measured" and reading.reason.startswith(WAVERING):
        blur_mm = blur_px(grey, view, layout, typed.scale) / quality["px_per_mm"]
        if BLUR_SEEN_MM < blur_mm < 1.0:
            reading = replace(reading, reason=BLURRED)
    return replace(reading, view=view, z_mm=head_z, edge_mm=edge_mm)


def _edge_seen(
    grid: tuple[Floats, Floats], edge: Edge, station_mm: Floats, sheet_z: float, head_z: float
) -> tuple[tuple[float, float], tuple[float, float]]:
    """Both ends of the sheet's edge where it is seen on the rims' plane, for the overlay."""
    cells = np.array([0.0, len(grid[0]) - 1.0])
    ends = _places(grid, cells, edge.offset + edge.slope * cells)
    share = (head_z - station_mm[2]) / (sheet_z - station_mm[2])
    first, last = (station_mm[:2] + (ends - station_mm[:2]) * share).tolist()
    return (first[0], first[1]), (last[0], last[1])


def _clipped(grey: NDArray[np.uint8], view: View, centres: Floats, z_mm: float, shank_mm: float) -> float:
    """Share of full white where the rims are: half to one and a third shank diameters from the centres."""
    ends, radius = ray_places(shank_mm)
    near = radius[(radius > 0.5 * shank_mm) & (radius < 1.3 * shank_mm)][::3]
    return float((_rays(grey, view, centres, z_mm, ends[::2], near) > FULL_WHITE).mean())


def _row_found(
    grey: NDArray[np.uint8],
    view: View,
    grid: tuple[Floats, Floats],
    picture: tuple[Single, NDArray[np.bool_]],
    z_mm: float,
    radii_mm: tuple[float, float],
    typed: RowInput,
    blur_mm: float,
) -> tuple[Row, Floats, list[Rim]]:
    """The row and its rims; where what was found has no clear rims, what else the picture holds is tried."""
    patch, seen = picture
    low, high = radii_mm
    ends, radius = ray_places(typed.shank_mm)

    def light_at(places: Floats) -> Floats:
        return _rays(grey, view, places, z_mm, ends, radius)

    def rims_at(centres: Floats, ring_mm: float) -> tuple[Floats, list[Rim]]:
        if typed.what in ("holes", "dimples"):
            return _holes(grey, view, centres, z_mm, (low, high), blur_mm, shaded=typed.what == "dimples")
        if not typed.formed:
            return _thin_rims(grey, view, centres, z_mm, max(low, 0.85 * ring_mm), min(high, 1.15 * ring_mm))
        return formed_rims(
            light_at,
            centres,
            shank_mm=typed.shank_mm,
            head_height_mm=typed.head_height_mm,
            station_mm=view.station_mm() - np.array([0.0, 0.0, z_mm]),
        )

    least = FORMED_ROW_MIN if typed.formed else COVERAGE_MIN[typed.what]
    holes = typed.what in ("holes", "dimples")
    best: tuple[float, Row, Floats, list[Rim]] | None = None
    refused: Row | None = None
    areas = _areas(patch, seen, sheet_first=typed.what == "flush heads")
    rest: NDArray[np.bool_] | None = None
    for _ in range(ROWS_TRIED):
        area = next(areas, rest)
        if area is None:
            break
        row = find_row(
            patch,
            area,
            cell_mm=CELL_MM,
            count=typed.count,
            pitch_mm=typed.pitch_mm,
            low_mm=HOLE_VOTES_D[0] * typed.shank_mm if holes else low,
            high_mm=HOLE_VOTES_D[1] * typed.shank_mm if holes else high,
            thin=typed.what == "flush heads",
            alike=typed.what == "holes",
        )
        # what lies one pitch beyond either end is told from background by its rims, not by votes
        if row.reason and not row.rival > RIVAL_MAX:
            refused, rest = refused or row, None
            continue
        centres, rims = rims_at(_places(grid, row.x, row.y), row.ring_mm)
        clear = 0.0 if holes_unlikely(rims, typed) else float(np.median([r.coverage for r in rims]))
        if clear >= least and len(row.ends) and _goes_on(rims_at, centres, rims, row, grid, typed):
            return replace(row, reason=GOES_ON), np.empty((0, 2)), []
        if best is None or clear > best[0]:
            best = (clear, replace(row, reason=""), centres, rims)
        if clear >= least:
            break
        rest = area.copy()
        near = typed.d_max_mm / CELL_MM
        rest[max(0, int(row.y.min() - near)) : int(row.y.max() + near)] = False
    if best is None:
        assert refused is not None
        return refused, np.empty((0, 2)), []
    return best[1:]


def _goes_on(
    rims_at: Callable[[Floats, float], tuple[Floats, list[Rim]]],
    centres: Floats,
    rims: list[Rim],
    row: Row,
    grid: tuple[Floats, Floats],
    typed: RowInput,
) -> bool:
    """Whether what lies one pitch beyond either end is one more of the row."""
    beyond = _places(grid, *row.ends.T)
    clear = float(np.median([r.coverage for r in rims]))
    if typed.what in (
        "holes",
        "dimples",
    ):  # seen with the row, whose step is theirs; of one drilled twice the least is the drill's
        whole = np.vstack([centres, beyond])
        order = np.argsort(whole[:, 0])
        found, more = rims_at(whole[order], row.ring_mm)
        at_end = np.flatnonzero(order >= len(centres))
        usual = float(np.median([r.d_min_mm for r in rims]))
        return any(
            more[k].coverage >= ALIKE_COVERAGE * clear
            and abs(more[k].d_min_mm - usual) < ALIKE_SURFACE * usual
            and np.hypot(*(found[k] - whole[order][k])) < ALIKE * typed.shank_mm + ASIDE_MM
            for k in at_end
        )
    found, more = rims_at(beyond, row.ring_mm)
    usual = float(np.median([r.d_max_mm + r.d_min_mm for r in rims]))
    return any(
        r.coverage >= (FORMED_ROW_MIN if typed.formed else ALIKE_COVERAGE * clear)
        and abs(r.d_max_mm + r.d_min_mm - usual) < (ALIKE if typed.formed else ALIKE_SURFACE) * usual
        and np.hypot(*(at - was)) < ALIKE * typed.shank_mm
        for r, at, was in zip(more, found, beyond, strict=True)
    )


def _areas(patch: Single, seen: NDArray[np.bool_], *, sheet_first: bool) -> Iterator[NDArray[np.bool_]]:
    """Where a row may lie, the likelier first: anywhere, or before a line right across the picture.

    Heads and holes stand out from what lies behind the sheet; flush heads do not, so for them the sheet comes first.
    """
    if not sheet_first:
        yield seen
    sheet = _sheet_only(patch, seen)
    if sheet is not None:
        yield sheet
    if sheet_first:
        yield seen


def _sheet_only(patch: Single, seen: NDArray[np.bool_]) -> NDArray[np.bool_] | None:
    """What is seen of the sheet: as far as a line that runs right across the picture; None if there is none.

    The row lies before the sheet's edge, and what lies behind it may look more like a row than the row does.
    """
    wide = patch.shape[1]
    strip = Row(np.array([0.0, wide / 2, wide - 1.0]), np.zeros(3), 0.0, 0.0, 0.0, 0.0, "")
    line = find_edge(patch, seen, strip, cell_mm=CELL_MM, clear_mm=LINE_FROM_MM, shank_mm=SEARCH_MM / 7)
    if not line.found or line.coverage < RIGHT_ACROSS:
        return None
    y, x = np.mgrid[0 : patch.shape[0], 0:wide]
    return np.asarray(seen & (y < line.offset + line.slope * x - LINE_ITSELF_MM / CELL_MM), dtype=np.bool_)


def _places(grid: tuple[Floats, Floats], x: Floats, y: Floats) -> Floats:
    """Cells as places in mm, shape (n, 2)."""
    return np.column_stack(
        [g[0] + at * CELL_MM * np.sign(g[1] - g[0]) for g, at in zip(grid, (x, y), strict=True)]
    )


def _holes(
    grey: NDArray[np.uint8],
    view: View,
    centres: Floats,
    z_mm: float,
    radii_mm: tuple[float, float],
    blur_mm: float,
    *,
    shaded: bool,
) -> tuple[Floats, list[Rim]]:
    from ribwright.core.metrology.hole_rims import hole_rims

    def light_at(places: Floats, ends: Floats, radius: Floats) -> Floats:
        return _rays(grey, view, places, z_mm, ends, radius)

    low, high = radii_mm
    return hole_rims(light_at, centres, low_mm=low, high_mm=high, blur_mm=blur_mm, shaded=shaded)


def radius_range(typed: RowInput) -> tuple[float, float]:
    """Radii between which a rim is looked for: beyond the limits on both sides, so that rejects are seen."""
    if typed.what in ("holes", "dimples"):
        # a hole drilled twice is seen whole; a dimple's bend begins a little outside its hole
        most = 0.9 if typed.what == "holes" else 0.72
        return 0.4 * typed.d_min_mm, max(most * typed.shank_mm, 0.6 * typed.d_max_mm)
    if not typed.formed:
        return 0.62 * typed.shank_mm, max(1.25 * typed.shank_mm, 0.55 * typed.d_max_mm)
    return 0.40 * typed.d_min_mm, 0.64 * typed.d_max_mm


def _bad_view(quality: dict[str, float]) -> str:
    if quality["tilt_deg"] > SIDE_MAX_DEG:
        return f"The camera looked {quality['tilt_deg']:.0f}° aside: hold it square over the row, within 5°."
    if quality["px_per_mm"] < PX_PER_MM_MIN:
        return too_coarse(quality["px_per_mm"], quality["away_mm"], (16, 20))
    if quality["residual_px"] > RESIDUAL_MAX_PX:
        return "The strip is blurred or does not lie flat: brace the phone, focus on the row."
    return ""


def rectified(
    grey: NDArray[np.uint8], view: View, x_mm: Floats, y_mm: Floats, z_mm: float
) -> tuple[Single, NDArray[np.bool_]]:
    """Linear light on an even grid of the plane z, (len(y), len(x)), and which of it lies in the picture."""
    from ribwright.core.metrology.light_compiled import light_along

    coarse_x, coarse_y = np.linspace(x_mm[0], x_mm[-1], 40), np.linspace(y_mm[0], y_mm[-1], 12)
    gx, gy = np.meshgrid(coarse_x, coarse_y)
    px = view.pixels(np.column_stack([gx.ravel(), gy.ravel(), np.full(gx.size, z_mm)])).reshape(*gx.shape, 2)
    at = np.linspace(0.0, len(coarse_y) - 1.0, len(y_mm))
    k = np.minimum(at.astype(np.int64), len(coarse_y) - 2)
    w = (at - k)[:, None, None]
    lines = px[k] * (1 - w) + px[k + 1] * w
    found: tuple[Single, NDArray[np.bool_]] = light_along(grey, linear_light(), lines, len(x_mm))
    return found


def _rays(
    grey: NDArray[np.uint8], view: View, centres: Floats, z_mm: float, ends: Floats, radius_mm: Floats
) -> Floats:
    """Linear light along rays from ``centres`` (heads, 2) on the plane z at even radii, shape (heads, rays, samples)."""
    from ribwright.core.metrology.light_compiled import light_along

    coarse = np.linspace(radius_mm[0], radius_mm[-1], 5)
    xy = centres[:, None, None, :] + ends[:, None, :] * coarse[:, None]
    world = np.column_stack([xy.reshape(-1, 2), np.full(xy[..., 0].size, z_mm)])
    px = view.pixels(world).reshape(-1, len(coarse), 2)
    light = light_along(grey, linear_light(), px, len(radius_mm))[0]
    return np.asarray(light.reshape(len(centres), len(ends), -1), dtype=np.float64)


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
        rims.append(replace(rim, beside=change_beside(light, r, rim)))
    return places, rims
