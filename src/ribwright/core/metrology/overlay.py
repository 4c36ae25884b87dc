"""The picture people can check: the photo laid flat, what was traced drawn over it, doubt hatched.

What lines a profile and a row have is theirs (``profile_overlay``, ``row_overlay``); how they are drawn, as SVG
or as a picture to be kept, is here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

import numpy as np
from numpy.typing import NDArray

from ribwright import __version__
from ribwright.core.metrology.camera import View

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Flat:
    """The photo laid flat on a plane.

    Attributes:
        picture: shape (h, w) or (h, w, 3), 8 bit.
        low_mm: place of its top left corner in the sheet's frame.
        size_mm: its width and height.
    """

    picture: NDArray[np.uint8]
    low_mm: tuple[float, float]
    size_mm: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Stroke:
    """One line of the overlay, in the sheet's frame in mm; ``kind`` is a key of :data:`KINDS`."""

    points: Floats
    kind: str


@dataclass(frozen=True, slots=True)
class Label:
    """Words beside a place, in the sheet's frame in mm."""

    at: tuple[float, float]
    words: str


@dataclass(frozen=True, slots=True)
class Overlay:
    """What is drawn over a photo laid flat.

    Attributes:
        title: what the picture shows.
        strokes: lines, in the order in which they are drawn.
        labels: words at their places.
        feet: lines of words below the picture.
        low_mm: top left corner of what is to be shown, in the sheet's frame.
        high_mm: bottom right corner.
        z_mm: the plane on which the photo is laid flat.
        letter_mm: height of the words.
    """

    title: str
    strokes: tuple[Stroke, ...]
    labels: tuple[Label, ...]
    feet: tuple[str, ...]
    low_mm: tuple[float, float]
    high_mm: tuple[float, float]
    z_mm: float
    letter_mm: float = 3.2


KINDS: dict[str, tuple[str, float, str, str]] = {
    "target": ("#0057b7", 0.25, "target", ""),
    "limit": ("#0057b7", 0.12, "limit, enlarged", "1 1"),
    "edge": ("#d00000", 0.2, "traced edge", ""),
    "deviation": ("#111111", 0.35, "deviation, enlarged", ""),
    "doubt": ("url(#doubt)", 2.4, "doubtful or not seen", ""),
    "rim": ("#d00000", 0.1, "traced rim", ""),
    "sure": ("#d00000", 0.06, "uncertainty of the rim", ".4 .4"),
    "hatch": ("#b00000", 0.1, "undecided", ""),
    "box": ("#111111", 0.15, "reject", ""),
    "sheet": ("#0057b7", 0.1, "sheet's edge", ""),
}
"""Colour, width in mm, title and dashes of each kind of line."""


COARSE_PX, EDGE_PX = 16, 12


def laid_flat(picture: NDArray[np.uint8], view: View, overlay: Overlay, *, px_per_mm: float) -> Flat:
    """The photo rectified onto the overlay's plane, as far as the overlay reaches."""
    import cv2

    low, high = np.array(overlay.low_mm), np.array(overlay.high_mm)
    columns, rows = (int(v) for v in np.ceil((high - low) * px_per_mm))
    # the projection is smooth: known at every sixteenth pixel, evenly between
    across, down = (np.arange(0, n + COARSE_PX, COARSE_PX) / px_per_mm for n in (columns, rows))
    x, y = np.meshgrid(low[0] + across, low[1] + down)
    world = np.column_stack([x.ravel(), y.ravel(), np.full(x.size, overlay.z_mm)])
    coarse = view.pixels(world).reshape(len(down), len(across), 2).astype(np.float32)
    grow = np.array([[1 / COARSE_PX, 0, 0], [0, 1 / COARSE_PX, 0]])
    px = cv2.warpAffine(coarse, grow, (columns, rows), flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP)
    flat = cv2.remap(picture, px[..., 0], px[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT)
    return Flat(np.asarray(flat, dtype=np.uint8), overlay.low_mm, (columns / px_per_mm, rows / px_per_mm))


def overlay_svg(overlay: Overlay, flat: Flat, *, image_href: str) -> str:
    """SVG in millimetres.

    Args:
        overlay: what is drawn.
        flat: the photo laid flat.
        image_href: where the flat picture is, or a data address.
    """
    (x0, y0), (w, h) = flat.low_mm, flat.size_mm
    tall = h + (1 + 1.5 * len(overlay.feet)) * overlay.letter_mm
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{x0:.2f} {y0:.2f} {w:.2f} {tall:.2f}" '
        f'width="{w:.1f}mm" height="{tall:.1f}mm" font-family="sans-serif" font-size="{overlay.letter_mm:g}">',
        f"<title>{escape(overlay.title)}</title><metadata>ribwright {__version__}</metadata>",
        '<defs><pattern id="doubt" width="1.2" height="1.2" patternUnits="userSpaceOnUse" '
        'patternTransform="rotate(45)"><rect width=".5" height="1.2" fill="#b00"/></pattern></defs>',
        f'<image href="{image_href}" x="{x0:.2f}" y="{y0:.2f}" width="{w:.2f}" height="{h:.2f}" opacity=".75"/>',
        *(_line(one.points, *KINDS[one.kind]) for one in overlay.strokes),
        *(
            f'<text x="{one.at[0]:.2f}" y="{one.at[1]:.2f}">{escape(_pretty(one.words))}</text>'
            for one in overlay.labels
        ),
    ]
    for k, words in enumerate(overlay.feet):
        y = y0 + h + (1.4 + 1.5 * k) * overlay.letter_mm
        lines.append(f'<text x="{x0 + 2:.2f}" y="{y:.2f}">{escape(_pretty(words))}</text>')
    return "\n".join([*lines, "</svg>"])


def overlay_picture(overlay: Overlay, flat: Flat) -> NDArray[np.uint8]:
    """The same overlay as a picture, to be kept and printed with the reading; shape (h, w, 3), 8 bit. Its feet are
    put below with :func:`with_feet`."""
    import cv2

    scale = flat.picture.shape[1] / flat.size_mm[0]
    picture = flat.picture if flat.picture.ndim == 3 else cv2.cvtColor(flat.picture, cv2.COLOR_GRAY2BGR)
    picture = cv2.addWeighted(picture, 0.75, np.full_like(picture, 255), 0.25, 0.0)
    picture = np.ascontiguousarray(picture)

    def px(points: Floats) -> NDArray[np.int32]:
        # cv2 takes sixteenths of a pixel
        return np.asarray(np.rint((points - np.array(flat.low_mm)) * scale * 16), dtype=np.int32)

    for one in overlay.strokes:
        colour, width, _, dash = KINDS[one.kind]
        ink = (0, 0, 176) if one.kind == "doubt" else tuple(int(colour[i : i + 2], 16) for i in (5, 3, 1))
        thick = 1 if dash or one.kind == "doubt" else max(1, round(width * scale))
        cv2.polylines(picture, [px(one.points)], False, ink, thick, cv2.LINE_AA, 4)
    for label in overlay.labels:
        x, y = (int(v) // 16 for v in px(np.array(label.at)))
        _write(picture, label.words, x, y, overlay.letter_mm * scale)
    return np.asarray(picture, dtype=np.uint8)


def with_feet(picture: NDArray[np.uint8], feet: Sequence[str], letter_px: float) -> NDArray[np.uint8]:
    """A picture with lines of words below it, ``letter_px`` high where its width has room for them."""
    high, wide = picture.shape[:2]
    foot = np.full((int((1 + 1.5 * len(feet)) * letter_px), wide, 3), 255, dtype=np.uint8)
    made = np.ascontiguousarray(np.vstack([picture, foot]))
    for k, words in enumerate(feet):
        _write(made, words, round(0.6 * letter_px), high + int((1.4 + 1.5 * k) * letter_px), letter_px)
    return made


def _write(picture: NDArray[np.uint8], words: str, x: int, y: int, letter_px: float) -> None:
    import cv2

    size, wide = 0.028 * letter_px, picture.shape[1] - 2 * EDGE_PX
    needed = cv2.getTextSize(words, cv2.FONT_HERSHEY_SIMPLEX, size, 1)[0][0]
    if needed > wide:
        size, needed = size * wide / needed, wide
    x = int(np.clip(x, EDGE_PX, EDGE_PX + wide - needed))
    # thicker letters would be wider ones: the light rim is the same letters, moved a little
    rim = [(a, b) for a in (-2, 0, 2) for b in (-2, 0, 2) if a or b]
    for (a, b), ink in [*((move, (255, 255, 255)) for move in rim), ((0, 0), (0, 0, 0))]:
        cv2.putText(picture, words, (x + a, y + b), cv2.FONT_HERSHEY_SIMPLEX, size, ink, 1, cv2.LINE_AA)


def _pretty(words: str) -> str:
    return words.replace("+/-", "±")  # the picture's letters have no such sign


def _line(points: Floats, colour: str, width: float, title: str, dash: str = "") -> str:
    path = " ".join(f"{x:.2f},{y:.2f}" for x, y in points)
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<polyline points="{path}" fill="none" stroke="{colour}" stroke-width="{width}"{dashes}>'
        f"<title>{title}</title></polyline>"
    )
