"""The picture people can check: the photo laid flat, target, traced edge, deviation enlarged, doubt hatched."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ribwright.core.metrology.profile import ProfileReading

Floats = NDArray[np.float64]

ROOM_MM = 14.0
DOUBTFUL_MM = 0.2  # u95 beyond which a place is hatched
GAIN = 10.0


@dataclass(frozen=True, slots=True)
class Flat:
    """The photo laid flat on the plane of the sheet's end.

    Attributes:
        picture: shape (h, w) or (h, w, 3), 8 bit.
        low_mm: place of its top left corner in the card's frame.
        size_mm: its width and height.
    """

    picture: NDArray[np.uint8]
    low_mm: tuple[float, float]
    size_mm: tuple[float, float]


def laid_flat(picture: NDArray[np.uint8], reading: ProfileReading, *, px_per_mm: float = 5.0) -> Flat:
    """The photo round the target, rectified onto the plane of the sheet's end."""
    import cv2

    outline = reading.placed.outline_mm
    low, high = outline.min(axis=0) - ROOM_MM, outline.max(axis=0) + ROOM_MM
    columns, rows = (int(v) for v in np.ceil((high - low) * px_per_mm))
    x, y = np.meshgrid(low[0] + np.arange(columns) / px_per_mm, low[1] + np.arange(rows) / px_per_mm)
    world = np.column_stack([x.ravel(), y.ravel(), np.full(x.size, reading.z_mm)])
    px = reading.view.pixels(world).reshape(rows, columns, 2).astype(np.float32)
    flat = cv2.remap(picture, px[..., 0], px[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT)
    size = (columns / px_per_mm, rows / px_per_mm)
    return Flat(np.asarray(flat, dtype=np.uint8), (float(low[0]), float(low[1])), size)


def overlay_svg(reading: ProfileReading, flat: Flat, *, image_href: str, tolerance_mm: float) -> str:
    """SVG in millimetres: the flat photo, target, traced edge, deviation ten times enlarged, doubt hatched.

    Args:
        reading: what was measured.
        flat: the photo laid flat.
        image_href: where the flat picture is, or a data address.
        tolerance_mm: drawn as two thin lines, enlarged alike.
    """
    (x0, y0), (w, h) = flat.low_mm, flat.size_mm
    at, out = reading.placed.arc_xy_mm, reading.placed.normal_out
    # the best fit moved the target: draw it where it came to lie
    turn = np.radians(reading.rotation_deg)
    centre = at.mean(axis=0)
    turned = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])

    def moved(points: Floats) -> Floats:
        return np.asarray((points - centre) @ turned.T + centre + np.array(reading.shift_mm))

    place, normal = moved(at), out @ turned.T
    target = moved(reading.placed.outline_mm)
    seen = np.isfinite(reading.deviation_mm)
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{x0:.2f} {y0:.2f} {w:.2f} {h + 12:.2f}" '
        f'width="{w:.1f}mm" height="{h + 12:.1f}mm" font-family="sans-serif" font-size="3.2">',
        "<title>Photo laid flat with target, traced edge and deviation</title>",
        '<defs><pattern id="doubt" width="1.2" height="1.2" patternUnits="userSpaceOnUse" '
        'patternTransform="rotate(45)"><rect width=".5" height="1.2" fill="#b00"/></pattern></defs>',
        f'<image href="{image_href}" x="{x0:.2f}" y="{y0:.2f}" width="{w:.2f}" height="{h:.2f}" opacity=".75"/>',
        _line(target, "#0057b7", 0.25, "target"),
    ]
    for sign in (-1, 1):
        limit = place + sign * GAIN * tolerance_mm * normal
        lines.append(_line(limit, "#0057b7", 0.12, "limit, enlarged", dash="1 1"))
    for run in _runs(reading.contour_seen):
        lines.append(_line(reading.contour_mm[run], "#d00000", 0.2, "traced edge"))
    enlarged = place + GAIN * np.nan_to_num(reading.deviation_mm)[:, None] * normal
    for run in _runs(seen):
        lines.append(_line(enlarged[run], "#111111", 0.35, f"deviation {GAIN:g} times enlarged"))
    for k in np.flatnonzero(~seen | (np.nan_to_num(reading.u95_mm, nan=9.0) > DOUBTFUL_MM)):
        a, b = place[k] - 3 * normal[k], place[k] + 3 * normal[k]
        lines.append(_line(np.array([a, b]), "url(#doubt)", 2.4, "doubtful or not seen"))
    if seen.any():
        worst = int(np.nanargmax(np.abs(reading.deviation_mm)))
        spot = place[worst] + 6 * normal[worst]
        text = f"{reading.deviation_mm[worst]:+.2f} &#177; {reading.u95_mm[worst]:.2f} mm"
        lines.append(
            f'<circle cx="{place[worst][0]:.2f}" cy="{place[worst][1]:.2f}" r="1" fill="none" stroke="#d00000"/>'
        )
        lines.append(f'<text x="{spot[0]:.2f}" y="{spot[1]:.2f}">{text}</text>')
    words = f"{reading.finding}; tolerance &#177; {tolerance_mm:g} mm; black line: deviation x {GAIN:g}"
    lines.append(f'<text x="{x0 + 2:.2f}" y="{y0 + h + 5:.2f}">{words}</text>')
    lines.append(f'<text x="{x0 + 2:.2f}" y="{y0 + h + 10:.2f}">hatched: doubtful or not seen</text></svg>')
    return "\n".join(lines)


def _line(points: Floats, colour: str, width: float, title: str, dash: str = "") -> str:
    path = " ".join(f"{x:.2f},{y:.2f}" for x, y in points)
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<polyline points="{path}" fill="none" stroke="{colour}" stroke-width="{width}"{dashes}>'
        f"<title>{title}</title></polyline>"
    )


def _runs(mask: NDArray[np.bool_]) -> list[NDArray[np.int64]]:
    """Stretches of consecutive True, as indices."""
    at = np.flatnonzero(mask)
    if not len(at):
        return []
    return [run for run in np.split(at, np.flatnonzero(np.diff(at) > 1) + 1) if len(run) > 1]
