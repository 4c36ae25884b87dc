"""A gauge sheet on paper at its true size."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ribwright.core.metrology.gauge_sheet import inked_squares, white_rim
from ribwright.core.scene import (
    Item,
    Line,
    Polygon,
    Polyline,
    Scene,
    Text,
    moved,
)
from ribwright.core.scene.page import PAPERS, Page
from ribwright.core.scene.scene import Bounds
from ribwright.errors import DoesNotFitError

MM = 25.4
STRIP_MARGIN_MM = 12.0
KINDS = {"A": "profile sheet", "B": "rivet strip", "T": "straight-edge strip"}


def gauge_scene(layout: Mapping[str, Any], *, label: str) -> Scene:
    """Everything that is printed of a gauge sheet, in inches, the layout's top left corner at (0, height)."""
    width, height = layout["page"] if "page" in layout else layout["size"]

    def at(x: float, y: float) -> tuple[float, float]:
        return x / MM, (height - y) / MM

    items: list[Item] = []
    for x, y, w, h in inked_squares(layout):
        corners = (at(x, y), at(x + w, y), at(x + w, y + h), at(x, y + h))
        items.append(Polygon(corners, "thin", fill="ink"))
    rim = white_rim(layout)
    if len(rim):
        items.append(Polygon(tuple(at(x, y) for x, y in rim), "thin", fill="bare"))
    for bar in layout["bars"]:
        items += _bar(bar, at, strip="size" in layout)
    blank = layout.get("blank_polygon") or []
    if blank:
        closed = str(layout.get("cut", "")).startswith("not")
        line = tuple(at(x, y) for x, y in blank)
        items.append(Polyline(line, closed, "thin" if closed else "outline", "printed" if closed else "cut"))
    target = layout.get("target")
    if target:
        items.append(Polyline(tuple(at(x, y) for x, y in target["outline_xy"]), False, "centre", "marked"))
    if "page" in layout:
        items.append(Text(at(16.5, height - 5.0), label, 0.09))
    else:
        items.append(
            Polyline((at(0, 0), at(width, 0), at(width, height), at(0, height)), True, "thin", "cut")
        )
    return Scene(
        tuple(items), label, f"{KINDS[str(layout['kind'])]}: chess squares with markers and bars to measure"
    )


def _bar(bar: Mapping[str, Any], at: Any, *, strip: bool) -> list[Item]:
    (x0, y0), (x1, y1) = bar["p0"], bar["p1"]
    said = f"{bar['nominal_mm']:g} mm"
    if strip:  # the bar is the row of squares itself
        return []
    across = (0.0, 1.6) if bar["axis"] == "x" else (1.6, 0.0)
    ends = [
        Line(at(x - across[0], y - across[1]), at(x + across[0], y + across[1]), "thin")
        for x, y in ((x0, y0), (x1, y1))
    ]
    middle = at((x0 + x1) / 2, (y0 + y1) / 2)
    text = (
        Text((middle[0], middle[1] + 0.04), f"measure between the end strokes: {said}", 0.07, "middle")
        if bar["axis"] == "x"
        else Text(
            (middle[0] - 0.04, middle[1]), f"measure between the end strokes: {said}", 0.07, "middle", 90.0
        )
    )
    return [Line(at(x0, y0), at(x1, y1), "thin"), *ends, text]


def gauge_page(
    layout: Mapping[str, Any],
    *,
    label: str,
    paper: str = "letter",
    correction: tuple[float, float] = (1.0, 1.0),
) -> Page:
    """The sheet as one page; it is never scaled or tiled, because its markers would be cut.

    Args:
        paper: of :data:`~ribwright.core.scene.page.PAPERS`.
        correction: of this printer, for the short and the long edge of the paper.

    Raises:
        DoesNotFitError: the sheet is larger than the paper.
    """
    short, long = PAPERS[paper]
    scene = gauge_scene(layout, label=label)
    width, height = ((v / MM) for v in (layout["page"] if "page" in layout else layout["size"]))
    whole = "page" in layout
    need = (width, height) if whole else (width + 2 * STRIP_MARGIN_MM / MM, height + 2 * STRIP_MARGIN_MM / MM)
    lying = need[0] > need[1]
    page_w, page_h = (long, short) if lying else (short, long)
    if page_w == float("inf"):
        page_w = need[0]
    if need[0] > page_w + 0.02 or need[1] > page_h + 0.02:
        raise DoesNotFitError(
            "gauge sheet",
            found=f"{need[0] * MM:.0f} x {need[1] * MM:.0f} mm",
            allowed=f"{page_w * MM:.0f} x {page_h * MM:.0f} mm, {paper}",
            mend="Take the paper it was made for, or make a smaller sheet.",
        )
    dx, dy = (
        (0.0, page_h - height) if whole else ((page_w - width) / 2, page_h - height - STRIP_MARGIN_MM / MM)
    )
    placed = moved(scene, dx, dy)
    furniture = Scene(() if whole else (Text((dx, dy - 0.2), label, 0.1),))
    short_x = page_w <= page_h
    factors = correction if short_x else (correction[1], correction[0])
    return Page(paper, page_w, page_h, placed, Bounds(0.0, 0.0, page_w, page_h), furniture, factors)
