"""A gauge sheet on paper: the sheet itself at its true size, and the page that says how to photograph it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ribwright.core.metrology.gauge_sheet import inked_squares
from ribwright.core.scene import (
    Bullets,
    Caution,
    Circle,
    Dimension,
    Document,
    Fields,
    FillIn,
    Heading,
    Item,
    Line,
    Paragraph,
    Picture,
    Polygon,
    Polyline,
    Scene,
    Text,
    moved,
    together,
)
from ribwright.core.scene.page import PAPERS, Page
from ribwright.core.scene.scene import Bounds
from ribwright.errors import DoesNotFitError

MM = 25.4
STRIP_MARGIN_MM = 12.0
KINDS = {"A": "profile sheet", "B": "rivet strip", "T": "straight-edge strip"}
# nearer than that the lens sees round the edge, farther off there are too few pixels a millimetre
AWAY = {
    "A": ("10 to 14 in", "25 to 35 cm"),
    "B": ("6 to 8 in", "16 to 20 cm"),
    "T": ("10 to 12 in", "25 to 30 cm"),
}


def gauge_scene(layout: Mapping[str, Any], *, label: str) -> Scene:
    """Everything that is printed of a gauge sheet, in inches, the layout's top left corner at (0, height)."""
    width, height = layout["page"] if "page" in layout else layout["size"]

    def at(x: float, y: float) -> tuple[float, float]:
        return x / MM, (height - y) / MM

    items: list[Item] = []
    for x, y, w, h in inked_squares(layout):
        corners = (at(x, y), at(x + w, y), at(x + w, y + h), at(x, y + h))
        items.append(Polygon(corners, "thin", fill="ink"))
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


def how_to(layout: Mapping[str, Any], *, label: str, reference: str = "", seal: str = "") -> Document:
    """The second page: how the sheet is made, laid, lit and photographed, in pictures."""
    kind = str(layout["kind"])
    bars = [f"{bar['name'].replace('_', ' ')}, nominal {bar['nominal_mm']:g} mm" for bar in layout["bars"]]
    made = {
        "A": (
            "Print at actual size, never “fit to page”; glue it to stiff board.",
            "Cut along the outline of the window. The dash-dotted line is only for placing: do not cut it.",
            "Paint the end of the sheet matt white or a strong green, and lay a dark matt cloth behind and inside it.",
            "Hold the sheet's end flush with the face of the card, all round to 1/2 mm. If it stands proud, measure how far and type it.",
        ),
        "B": (
            "Print at actual size; cut along the outer line.",
            "Tape it flat beside the row, its edge along the row, no bubble under it.",
            "Wipe the heads; take off film and swarf. Soft light: overcast sky, or white paper held round the row.",
        ),
        "T": (
            "Print at actual size; cut along the outer line.",
            "Stretch it along a straight-edge that lies on the skin beside the trailing edge; the strip shows how straight the edge is, not the straight-edge itself.",
        ),
    }[kind]
    blocks: list[Any] = [
        Fields((("Sheet", label), ("Kind", KINDS[kind]))),
        Heading("Make it", 2),
        Bullets((*made, _measure_bars(kind)), ordered=True),
        *(FillIn(f"{name}, measured", "mm") for name in bars),
        Heading("Photograph it", 2),
        Picture(
            together(
                _stand(AWAY[kind][0]),
                moved(_light(), 7.0, 0.0),
                moved(_frame(kind), 12.5, 0.2),
                title="how to hold the phone",
            ),
            f"From straight above, {AWAY[kind][0]} ({AWAY[kind][1]}) away, no zoom, no wide-angle lens. One soft lamp from the side, "
            "none that mirrors in the metal, no flash. All of the sheet in the picture. Tap on the edge so that it is sharp, and brace the phone.",
        ),
        Bullets(
            (
                f"Hold the phone's back parallel to the {'strip' if kind == 'B' else 'card' if kind == 'A' else 'skin'}; lean no more than about {5 if kind == 'B' else 10}°.",
                *(
                    [
                        "Take two photos, the second turned a quarter and from a little further away. Both are measured and compared."
                    ]
                    if kind == "A"
                    else []
                ),
                "Don't crop, straighten, filter or send through a messenger that shrinks pictures.",
            )
        ),
        Caution(
            "What a photo can't see it doesn't measure: height of a head, a gap under it, cracks. "
            "First check your phone and printer with a drill shank of known size on the sheet."
            if kind == "B"
            else "The strip is as straight as what it was stretched along: see that first against a tight thread or a good rule."
            if kind == "T"
            else "Only ends and openings can be photographed end-on. In mid-span bend a soft wire over the skin, "
            "or trace it with pencil, and lay that on the uncut sheet."
        ),
        Paragraph(
            "Each sheet belongs to its own outline and paper; its bars are typed with every photo.",
            small=True,
        ),
    ]
    return Document(f"How to use: {label}", reference, "", seal, tuple(blocks))


def _measure_bars(kind: str) -> str:
    if kind == "A":
        return "Measure each bar with a caliper to .1 mm, from the middle of one end stroke to that of the other, and write it down:"
    return "Measure the row of squares with a caliper to .1 mm, from the first square's outer edge to the last one's (not the cut line), and write it down:"


def _stand(away: str) -> Scene:
    items: list[Item] = [
        Polygon(((0, 0), (4, 0), (4, 0.12), (0, 0.12)), "outline", fill="tint"),
        Polygon(((1.5, 2.6), (2.5, 2.6), (2.5, 2.75), (1.5, 2.75)), "heavy", fill="solid"),
        Line((2.0, 2.6), (0.1, 0.12), "thin"),
        Line((2.0, 2.6), (3.9, 0.12), "thin"),
        Line((2.0, 2.6), (2.0, 0.12), "centre"),
        Dimension((4.2, 0.12), (4.2, 2.6), -0.2, away, height=0.22),
        Text((1.2, 2.95), "phone, square to the sheet", 0.24),
    ]
    return Scene(tuple(items), "distance", f"the phone straight above the sheet, {away} away")


def _light() -> Scene:
    items: list[Item] = [
        Polygon(((0, 0), (4, 0), (4, 0.12), (0, 0.12)), "outline", fill="tint"),
        Circle((-0.8, 1.8), 0.3, "heavy"),
        *(Line((-0.5, 1.7 - 0.15 * k), (1.2 + k, 0.15), "thin") for k in range(3)),
        Text((-1.6, 2.3), "lamp at the side", 0.24),
        Polygon(((1.7, 2.0), (2.7, 2.0), (2.7, 2.15), (1.7, 2.15)), "heavy", fill="solid"),
    ]
    return Scene(tuple(items), "light", "one lamp from the side, low, none behind the phone")


def _frame(kind: str) -> Scene:
    inner = (
        ((0.3, 0.3), (3.7, 0.3), (3.7, 2.1), (0.3, 2.1))
        if kind == "A"
        else ((0.3, 1.2), (3.7, 1.2), (3.7, 1.7), (0.3, 1.7))
    )
    items: list[Item] = [
        Polygon(((0, 0), (4, 0), (4, 2.4), (0, 2.4)), "heavy"),
        Polygon(inner, "outline", fill="tint"),
        Text((0.5, 1.4), "the whole sheet" if kind == "A" else "the whole strip", 0.24),
    ]
    if kind != "A":
        items += [Circle((0.7 + 0.5 * k, 0.8), 0.12) for k in range(6)]
    return Scene(tuple(items), "frame", "the whole sheet fills most of the picture")
