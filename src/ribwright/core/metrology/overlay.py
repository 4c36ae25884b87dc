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


@dataclass(frozen=True, slots=True)
class Stroke:
    """One line of the overlay, in the card's frame in mm; ``kind`` is a key of :data:`KINDS`."""

    points: Floats
    kind: str


KINDS: dict[str, tuple[str, float, str, str]] = {
    "target": ("#0057b7", 0.25, "target", ""),
    "limit": ("#0057b7", 0.12, "limit, enlarged", "1 1"),
    "edge": ("#d00000", 0.2, "traced edge", ""),
    "deviation": ("#111111", 0.35, f"deviation {GAIN:g} times enlarged", ""),
    "doubt": ("url(#doubt)", 2.4, "doubtful or not seen", ""),
}
"""Colour, width in mm, title and dashes of each kind of line."""


def strokes_of(reading: ProfileReading, tolerance_mm: float) -> tuple[tuple[Stroke, ...], Floats, Floats]:
    """Every line of the overlay, and the judged places with their normals where the best fit put them."""
    at, out = reading.placed.arc_xy_mm, reading.placed.normal_out
    # the best fit moved the target: draw it where it came to lie
    turn = np.radians(reading.rotation_deg)
    centre = at.mean(axis=0)
    turned = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])

    def moved(points: Floats) -> Floats:
        return np.asarray((points - centre) @ turned.T + centre + np.array(reading.shift_mm))

    place, normal = moved(at), np.asarray(out @ turned.T)
    seen = np.isfinite(reading.deviation_mm)
    made = [Stroke(moved(reading.placed.outline_mm), "target")]
    made += [Stroke(place + sign * GAIN * tolerance_mm * normal, "limit") for sign in (-1, 1)]
    made += [Stroke(reading.contour_mm[run], "edge") for run in _runs(reading.contour_seen)]
    enlarged = place + GAIN * np.nan_to_num(reading.deviation_mm)[:, None] * normal
    made += [Stroke(enlarged[run], "deviation") for run in _runs(seen)]
    for k in np.flatnonzero(~seen | (np.nan_to_num(reading.u95_mm, nan=9.0) > DOUBTFUL_MM)):
        made.append(Stroke(np.array([place[k] - 3 * normal[k], place[k] + 3 * normal[k]]), "doubt"))
    return tuple(made), place, normal


def _worst(reading: ProfileReading) -> tuple[int, str] | None:
    if not np.isfinite(reading.deviation_mm).any():
        return None
    at = int(np.nanargmax(np.abs(reading.deviation_mm)))
    return at, f"{reading.deviation_mm[at]:+.2f} +/- {reading.u95_mm[at]:.2f} mm"


def overlay_svg(reading: ProfileReading, flat: Flat, *, image_href: str, tolerance_mm: float) -> str:
    """SVG in millimetres: the flat photo, target, traced edge, deviation ten times enlarged, doubt hatched.

    Args:
        reading: what was measured.
        flat: the photo laid flat.
        image_href: where the flat picture is, or a data address.
        tolerance_mm: drawn as two thin lines, enlarged alike.
    """
    (x0, y0), (w, h) = flat.low_mm, flat.size_mm
    strokes, place, normal = strokes_of(reading, tolerance_mm)
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{x0:.2f} {y0:.2f} {w:.2f} {h + 12:.2f}" '
        f'width="{w:.1f}mm" height="{h + 12:.1f}mm" font-family="sans-serif" font-size="3.2">',
        "<title>Photo laid flat with target, traced edge and deviation</title>",
        '<defs><pattern id="doubt" width="1.2" height="1.2" patternUnits="userSpaceOnUse" '
        'patternTransform="rotate(45)"><rect width=".5" height="1.2" fill="#b00"/></pattern></defs>',
        f'<image href="{image_href}" x="{x0:.2f}" y="{y0:.2f}" width="{w:.2f}" height="{h:.2f}" opacity=".75"/>',
        *(_line(one.points, *KINDS[one.kind]) for one in strokes),
    ]
    worst = _worst(reading)
    if worst is not None:
        k, said = worst
        spot = place[k] + 6 * normal[k]
        lines.append(
            f'<circle cx="{place[k][0]:.2f}" cy="{place[k][1]:.2f}" r="1" fill="none" stroke="#d00000"/>'
        )
        lines.append(f'<text x="{spot[0]:.2f}" y="{spot[1]:.2f}">{said.replace("+/-", "&#177;")}</text>')
    words = f"{reading.finding}; tolerance &#177; {tolerance_mm:g} mm; black line: deviation x {GAIN:g}"
    lines.append(f'<text x="{x0 + 2:.2f}" y="{y0 + h + 5:.2f}">{words}</text>')
    lines.append(f'<text x="{x0 + 2:.2f}" y="{y0 + h + 10:.2f}">hatched: doubtful or not seen</text></svg>')
    return "\n".join(lines)


def overlay_picture(reading: ProfileReading, flat: Flat, *, tolerance_mm: float) -> NDArray[np.uint8]:
    """The same overlay as a picture, to be kept and printed with the reading; shape (h, w, 3), 8 bit."""
    import cv2

    scale = flat.picture.shape[1] / flat.size_mm[0]
    picture = flat.picture if flat.picture.ndim == 3 else cv2.cvtColor(flat.picture, cv2.COLOR_GRAY2BGR)
    picture = cv2.addWeighted(picture, 0.75, np.full_like(picture, 255), 0.25, 0.0)
    foot = np.full((int(12 * scale), picture.shape[1], 3), 255, dtype=np.uint8)
    picture = np.ascontiguousarray(np.vstack([picture, foot]))
    strokes, place, _ = strokes_of(reading, tolerance_mm)

    def px(points: Floats) -> NDArray[np.int32]:
        # cv2 takes sixteenths of a pixel
        return np.asarray(np.rint((points - np.array(flat.low_mm)) * scale * 16), dtype=np.int32)

    for one in strokes:
        colour, width, _, dash = KINDS[one.kind]
        ink = (0, 0, 176) if one.kind == "doubt" else tuple(int(colour[i : i + 2], 16) for i in (5, 3, 1))
        thick = 1 if dash or one.kind == "doubt" else max(1, round(width * scale))
        cv2.polylines(picture, [px(one.points)], False, ink, thick, cv2.LINE_AA, 4)
    worst = _worst(reading)
    words = [
        f"{reading.finding}; tolerance +/- {tolerance_mm:g} mm; black: deviation x {GAIN:g}; dark red: doubtful or not seen"
    ]
    if worst is not None:
        k, said = worst
        x, y = (int(v) // 16 for v in px(place[k]))
        cv2.circle(picture, (x, y), int(scale), (0, 0, 208), 1, cv2.LINE_AA)
        words.append(f"largest: {said}")
    for line, text in enumerate(words):
        y = flat.picture.shape[0] + int((4.5 + 5 * line) * scale)
        cv2.putText(
            picture,
            text,
            (int(2 * scale), y),
            cv2.FONT_HERSHEY_SIMPLEX,
            0.09 * scale,
            (0, 0, 0),
            1,
            cv2.LINE_AA,
        )
    return picture


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
