"""Plain items on a reportlab canvas, and the lettering that the built-in faces can set."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from functools import lru_cache
from itertools import pairwise
from typing import Any

from ribwright.core.scene.items import Arc, Circle, Line, Point, Polygon, Polyline, Primitive, Style, Text
from ribwright.core.scene.lettering import CAPITAL_HEIGHT
from ribwright.core.scene.strokes import arc_of_bulge
from ribwright.core.writers.pens import GRADES, PT_PER_IN, dash_pt, weight_pt

FACE, BOLD = "Helvetica", "Helvetica-Bold"
# reportlab sets these from Symbol and ZapfDingbats, which every PDF reader also carries.
_SYMBOLS = "≤≥≠≈∞→←↑↓−√∆∑πθαβδεφσΩ′″✓✔✗✘●■▲▼◆❏❑"
_PLAIN = {
    "☐": "❏", "☑": "✔", "‑": "-", "\u2009": " ", "\u202f": " ", "⅛": "1/8", "⅜": "3/8",
    "ł": "l", "Ł": "L", "đ": "d", "Đ": "D", "ı": "i", "⅝": "5/8", "⅞": "7/8", "⁄": "/", "△": "▲", "▽": "▼", "Δ": "∆", "∅": "Ø", "⌀": "Ø",
}  # fmt: skip


@lru_cache(maxsize=4096)
def settable(text: str) -> str:
    """``text`` with each character that the built-in faces lack replaced by its nearest plain form."""
    if text.isascii():
        return text
    return "".join(_settable(letter) for letter in text)


def _settable(letter: str) -> str:
    letter = _PLAIN.get(letter, letter)
    if len(letter) > 1 or letter in _SYMBOLS:
        return letter
    for candidate in (letter, unicodedata.normalize("NFKD", letter)):
        kept = (
            "".join(c for c in candidate if not unicodedata.combining(c)) if candidate != letter else letter
        )
        try:
            kept.encode("cp1252")
        except UnicodeEncodeError:
            continue
        if kept:
            return kept
    return "?"


def paint(canvas: Any, items: Iterable[Primitive], *, scale: float = 1.0, origin: Point = (0.0, 0.0)) -> None:
    """Draw items given in inches.

    Args:
        canvas: a reportlab canvas, its own coordinates in points.
        items: plain items (see :func:`ribwright.core.scene.strokes.drawn`).
        scale: size on paper over true size; line weights don't follow it.
        origin: where the drawing's (0, 0) lies, in points.
    """
    k = PT_PER_IN * scale
    ox, oy = origin

    def at(point: Point) -> Point:
        return (ox + point[0] * k, oy + point[1] * k)

    canvas.setLineCap(1)
    canvas.setLineJoin(1)
    canvas.setFillGray(0)
    canvas.setStrokeGray(0)
    pen: Style | None = None
    for item in items:
        if isinstance(item, Text):
            _letter(canvas, item, at(item.at), k)
            continue
        if item.style != pen:
            pen = item.style
            canvas.setLineWidth(weight_pt(pen))
            canvas.setDash(list(dash_pt(pen)))
        match item:
            case Line():
                canvas.line(*at(item.a), *at(item.b))
            case Circle():
                canvas.circle(*at(item.center), item.radius * k)
            case Arc():
                path = canvas.beginPath()
                sweep = (item.end_deg - item.start_deg) % 360 or 360.0
                _arc(path, at(item.center), item.radius * k, item.start_deg, sweep)
                canvas.drawPath(path)
            case Polyline():
                canvas.drawPath(_polyline(canvas, item, at))
            case Polygon():
                path = canvas.beginPath()
                path.moveTo(*at(item.points[0]))
                for point in item.points[1:]:
                    path.lineTo(*at(point))
                path.close()
                if item.fill in ("tint", "paper", "bare"):
                    canvas.setFillGray(0.9 if item.fill == "tint" else 1.0)
                elif item.fill.startswith("grade-"):
                    canvas.setFillColor(GRADES[int(item.fill[-1])])
                canvas.drawPath(
                    path, stroke=int(item.fill not in ("ink", "bare")), fill=int(item.fill != "none")
                )
                if item.fill not in ("none", "solid", "ink"):
                    canvas.setFillGray(0)


def _letter(canvas: Any, item: Text, place: Point, k: float) -> None:
    import math

    from reportlab.pdfbase.pdfmetrics import stringWidth

    face = BOLD if item.bold else FACE
    size = item.height / CAPITAL_HEIGHT * k
    words = settable(item.text)
    shift = {"start": 0.0, "middle": 0.5, "end": 1.0}[item.anchor]
    back = shift * stringWidth(words, face, size) if shift else 0.0
    a = math.radians(item.angle_deg)
    c, s = math.cos(a), math.sin(a)
    line = canvas.beginText()
    line.setTextTransform(c, s, -s, c, place[0] - back * c, place[1] - back * s)
    line.setFont(face, size)
    line.textOut(words)
    canvas.drawText(line)


def _arc(
    path: Any, center: Point, radius: float, start_deg: float, sweep_deg: float, first: bool = True
) -> None:
    """A circular arc as cubic curves of at most 30 degrees: off the circle by less than 1e-7 of its radius."""
    import math

    count = max(1, math.ceil(abs(sweep_deg) / 30))
    step = math.radians(sweep_deg / count)
    pull = 4 / 3 * math.tan(step / 4) * radius
    a = math.radians(start_deg)
    x, y = center[0] + radius * math.cos(a), center[1] + radius * math.sin(a)
    if first:
        path.moveTo(x, y)
    for _ in range(count):
        b = a + step
        x1, y1 = center[0] + radius * math.cos(b), center[1] + radius * math.sin(b)
        path.curveTo(
            x - pull * math.sin(a),
            y + pull * math.cos(a),
            x1 + pull * math.sin(b),
            y1 - pull * math.cos(b),
            x1,
            y1,
        )
        a, x, y = b, x1, y1


def _polyline(canvas: Any, item: Polyline, at: Any) -> Any:
    path = canvas.beginPath()
    points = item.points + (item.points[:1] if item.closed else ())
    path.moveTo(*at(points[0]))
    for n, (a, b) in enumerate(pairwise(points)):
        bulge = item.bulges[n] if n < len(item.bulges) else 0.0
        if bulge and a != b:
            pa, pb = at(a), at(b)
            center, radius, start, end = arc_of_bulge(pa, pb, bulge)
            sweep = (end - start) % 360
            if bulge > 0:
                _arc(path, center, radius, start, sweep, first=False)
            else:
                _arc(path, center, radius, end, -sweep, first=False)
        else:
            path.lineTo(*at(b))
    if item.closed:
        path.close()
    return path
