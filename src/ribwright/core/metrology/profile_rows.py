"""Rows across a target, and the light along them: what the tracing of a sheet's end starts from."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ribwright.core.metrology.arcs import arc_length_mm, unit_normals
from ribwright.core.metrology.camera import View
from ribwright.core.metrology.edge_fit import STEP_MM, rows_times
from ribwright.core.metrology.layout import GaugeLayout, Target
from ribwright.core.metrology.trace import SIDE_MM, Strip
from ribwright.core.metrology.typed import PrintScale, ProfileInput
from ribwright.errors import UnreadablePhotoError

Floats = NDArray[np.float64]

ROW_MM = 0.4  # between rows along the arc
SEARCH_MM = 5.0  # how far from the target the skin is looked for
NOTCH_ROOM_MM = 1.5  # kept from the window's rim: the cut is rough
SKIN_SEEN_MM = 12.0  # depth of skin that counts when it is seen beside the sheet's end


@dataclass(frozen=True, slots=True)
class Rows:
    """The target, finely: places, normals and arc length of each row, in the physical frame."""

    xy_mm: Floats
    normal: Floats
    arc_mm: Floats


def placed_target(target: Target, scale: PrintScale, view: View) -> Target:
    """The target in the physical frame: it keeps its size whatever the print's scale, about its middle."""
    middle = target.outline_mm.mean(axis=0)
    printed = middle * np.array([scale.x, scale.y])
    move = view.stretched_mm(printed[None])[0] - middle
    return Target(
        target.name, target.outline_mm + move, target.arc_mm, target.arc_xy_mm + move, target.normal_out
    )


def rows_along(target: Target) -> Rows:
    """Rows every ``ROW_MM`` along the judged arc and a little beyond, with smooth normals."""
    along = arc_length_mm(target.outline_mm)
    a, d = target.outline_mm[:-1], np.diff(target.outline_mm, axis=0)
    (dx, dy), (x, y) = d.T, (target.arc_xy_mm[:, None, :] - a).transpose(2, 0, 1)
    length2 = np.maximum(dx**2 + dy**2, 1e-12)
    u = np.clip((x * dx + y * dy) / length2, 0, 1)
    miss = np.hypot(x - u * dx, y - u * dy)
    k = miss.argmin(axis=1)
    places = along[k] + u[np.arange(len(k)), k] * np.sqrt(length2[k])
    on_line = bool((np.diff(places) > 0).all() and miss.min(axis=1).max() < 0.1)
    if not on_line:  # an outline that does not carry its places: use the places alone
        outline, along, places = (
            target.arc_xy_mm,
            target.arc_mm - target.arc_mm[0],
            target.arc_mm - target.arc_mm[0],
        )
    else:
        outline = target.outline_mm
    first, last = max(places[0] - 1.6, along[0]), min(places[-1] + 1.6, along[-1])
    at = np.linspace(first, last, int((last - first) / ROW_MM) + 2)
    xy = np.column_stack([np.interp(at, along, outline[:, i]) for i in (0, 1)])
    normal = unit_normals(xy)
    near = np.abs(at[:, None] - places[None, :]).argmin(axis=1)
    if float((normal * target.normal_out[near]).sum(axis=1).mean()) < 0:
        normal = -normal
    return Rows(xy, normal, np.interp(at, places, target.arc_mm) + _beyond(at, places))


def _beyond(at: Floats, places: Floats) -> Floats:
    """What lies before the first and after the last place, which interpolation would cut off."""
    return np.minimum(at - places[0], 0) + np.maximum(at - places[-1], 0)


def room_outside(layout: GaugeLayout, target: Target, typed: ProfileInput) -> float:
    """How far outside the target the skin may be looked for before the window's rim comes."""
    if not len(layout.blank_mm):
        return SEARCH_MM
    away = sum((target.arc_xy_mm[:, k, None] - layout.blank_mm[:, k]) ** 2 for k in (0, 1))
    nearest = float(np.sqrt(np.min(away)))
    return float(np.clip(nearest - (NOTCH_ROOM_MM if not typed.laid else 0.8), 1.5, SEARCH_MM))


def sample_strip(
    picture: NDArray[np.uint8], view: View, rows: Rows, z_mm: float, typed: ProfileInput
) -> Strip:
    """The picture across the target, in linear light, on the plane of the sheet's end."""
    import cv2

    margin = typed.sheet_mm + SIDE_MM + 0.4
    low, high = -SEARCH_MM - margin, SEARCH_MM + SIDE_MM + 0.4
    offset: Floats = np.asarray(
        np.arange(round(low / STEP_MM), round(high / STEP_MM) + 1) * STEP_MM, dtype=np.float64
    )
    # the projection is smooth: every eighth sample exactly, the rest between
    coarse = np.linspace(offset[0], offset[-1], 33)
    xy = rows.xy_mm[:, None, :] + coarse[None, :, None] * rows.normal[:, None, :]
    world = np.concatenate([xy, np.full((*xy.shape[:2], 1), z_mm)], axis=2)
    px = view.pixels(world.reshape(-1, 3)).reshape(len(rows.xy_mm), len(coarse), 2)
    u, v = (_between(coarse, np.ascontiguousarray(px[..., i]), offset) for i in (0, 1))
    height, width = picture.shape[:2]
    inside = (u >= 1) & (v >= 1) & (u <= width - 2) & (v <= height - 2)
    x0, x1 = int(np.clip(u.min() - 2, 0, width - 1)), int(np.clip(u.max() + 3, 1, width))
    y0, y1 = int(np.clip(v.min() - 2, 0, height - 1)), int(np.clip(v.max() + 3, 1, height))
    if x1 - x0 < 8 or y1 - y0 < 8:
        raise UnreadablePhotoError(
            "photo", because="the part is outside this photo", mend="Show card and part"
        )
    crop = cv2.LUT(np.ascontiguousarray(picture[y0:y1, x0:x1]), linear_light())
    seen = cv2.remap(
        crop,
        (u - x0).astype(np.float32),
        (v - y0).astype(np.float32),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )
    seen = np.asarray(seen, dtype=np.float64)
    if seen.ndim == 2:
        luminance = seen
    else:
        luminance = seen @ np.array([0.0722, 0.7152, 0.2126])
    coloured = typed.treatment == "green" and seen.ndim == 3
    if typed.treatment == "black":
        signal = -luminance
    elif coloured:
        signal = 1.6 * (seen[..., 1] - 0.5 * (seen[..., 0] + seen[..., 2]))
    else:
        signal = luminance
    sight_line = rows.xy_mm - view.station_mm()[:2]
    slope = (sight_line * rows.normal).sum(axis=1) / (z_mm - view.station_mm()[2])
    lean = np.tanh(slope * SKIN_SEEN_MM / 0.25)
    dark = typed.treatment == "black"
    return Strip(signal, luminance, offset, typed.sheet_mm, inside, lean, coloured, dark)


def linear_light() -> NDArray[np.float32]:
    """Linear light of each 8-bit level (sRGB's curve, IEC 61966-2-1)."""
    level = np.arange(256) / 255.0
    return np.asarray(
        np.where(level <= 0.04045, level / 12.92, ((level + 0.055) / 1.055) ** 2.4), dtype=np.float32
    )


def _between(known: Floats, values: Floats, wanted: Floats) -> Floats:
    """Linear interpolation along axis 1 with even spacing."""
    at = (wanted - known[0]) / (known[1] - known[0])
    k = np.clip(at.astype(np.int64), 0, len(known) - 2)
    w = at - k
    share = np.zeros((len(known), len(wanted)))
    share[k, np.arange(len(wanted))] = 1 - w
    share[k + 1, np.arange(len(wanted))] += w
    return rows_times(values, share)
