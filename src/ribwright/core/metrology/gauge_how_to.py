"""The page that goes with a gauge sheet: how it is made, how the part and the light lie, how it is photographed."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ribwright.core.metrology.gauge_print import KINDS
from ribwright.core.metrology.layout import bar_words
from ribwright.core.scene import (
    Arc,
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

# nearer than that the lens sees round the edge, farther off there are too few pixels a millimetre
AWAY = {
    "A": ("10 to 14 in", "25 to 35 cm"),
    "B": ("6 to 8 in", "16 to 20 cm"),
    "T": ("10 to 12 in", "25 to 30 cm"),
}
_LETTER = 0.25
_BARS = "Measure the printed bars with a caliper to .1 mm, from the middle of one end stroke to that of the other, and write down below:"
_ROW = "Measure the row of squares with a caliper to .1 mm, from the first square's outer edge to the last one's (not the cut line), and write down below:"
_MADE = {
    "A": (
        "Print at actual size, never “fit to page”; glue it to stiff board.",
        "Cut along the outline of the window, through the board. The dash-dotted line is only for placing: do not cut it.",
        "Paint the end of the sheet matt white or a strong green. Lay a dark matt cloth behind it and inside it.",
        "Put the end into the window so that it is flush with the face of the card, all round to 1/2 mm, and nowhere touches "
        "the card. If it stands proud, measure how far and type it.",
        _BARS,
    ),
    "B": (
        "Print at actual size; cut along the outer line.",
        "Tape it flat beside the row, within 3/4 in (20 mm) of the heads, no bubble under it.",
        "Count the heads beside it and type that number. Lay plain paper over the row where it goes on.",
        "Wipe the heads; take off film and swarf. Lay a plain dark cloth under the sheet's edge.",
        _ROW,
    ),
    "T": (
        "Print at actual size; cut along the outer line.",
        "Lay a straight-edge on the skin beside the trailing edge, less than 1 in (25 mm) from it. Pull the strip tight "
        "along it, tape down both ends, then take the straight-edge away.",
        "Lay a plain dark cloth beyond the trailing edge.",
        _ROW,
    ),
}
_LIGHT = {
    "A": "One soft lamp from the side, none that mirrors in the metal, no flash.",
    "B": "Soft light from all round: an overcast sky, or white paper held round the row; no lamp and no window from one side, no flash.",
    "T": "One soft lamp from the side, none that mirrors in the metal, no flash.",
}
_SHOWN = {
    "A": "All of the card in the picture. Tap on the sheet's end",
    "B": "All of the strip, the heads and the sheet's edge in the picture. Tap on a head",
    "T": "All of the strip and of the edge beside it in the picture. Tap on the edge",
}
_CAUTION = {
    "A": "Only ends and openings can be photographed end-on. In mid-span bend a soft wire over the skin, or press a pin comb on it "
    "and draw along its pins, or trace it with pencil; lay that on an uncut sheet and choose wire or line on its page.",
    "B": "What a photo can't see it doesn't measure: height of a head, a gap under it, cracks. "
    "First check your phone and printer with a drill shank of known size beside the strip.",
    "T": "The strip is as straight as what it was pulled along: see that first against a tight thread or a good rule. "
    "The photo tells of the edge beside the strip only.",
}


def how_to(layout: Mapping[str, Any], *, label: str, reference: str = "", seal: str = "") -> Document:
    """The second page: how the sheet is made, laid, lit and photographed, in pictures."""
    kind = str(layout["kind"])
    square = {"A": "card", "B": "strip", "T": "skin"}[kind]
    again = (
        "Take two photos, the second with the phone turned a quarter and from a little further away. Both are measured and compared.",
    )
    blocks: list[Any] = [
        Fields((("Sheet", label), ("Kind", KINDS[kind]))),
        Heading("Make it", 2),
        Bullets(_MADE[kind], ordered=True),
        *(FillIn(f"{bar_words(bar['name'])}, nominal {bar['nominal_mm']:g} mm, measured", "mm") for bar in layout["bars"]),
        Picture(_lies(kind)),
        Heading("Photograph it", 2),
        Picture(
            _taken(kind),
            f"From straight above, {AWAY[kind][0]} ({AWAY[kind][1]}) away, no zoom, no wide-angle lens. {_LIGHT[kind]} {_SHOWN[kind]} "
            "so that it is sharp, and brace the phone.",
        ),
        Bullets(
            (
                f"Hold the phone's back parallel to the {square}; lean no more than about {5 if kind == 'B' else 10}°.",
                *(again if kind == "A" else ()),
                "Don't crop, straighten, filter or send through a messenger that shrinks pictures.",
            )
        ),
        Caution(_CAUTION[kind]),
        Paragraph(
            "Each sheet belongs to its own outline and paper; its bars are typed with every photo.",
            small=True,
        ),
    ]  # fmt: skip
    return Document(f"How to use: {label}", reference, "", seal, tuple(blocks))


def _lies(kind: str) -> Scene:
    """How the part, the strip and the edge lie to one another."""
    if kind == "A":
        return together(_window(), moved(_end(0.0), 7.0, 0.0), moved(_end(0.45), 12.5, 0.0), title="the sheet's end in the window")  # fmt: skip
    return _beside(heads=kind == "B")


def _taken(kind: str) -> Scene:
    """The phone, the light, and what the picture shows."""
    light = _soft() if kind == "B" else _lamp()
    shown = (
        together(_frame(kind), moved(_frame(kind, turned=True), 4.6, 0.0)) if kind == "A" else _frame(kind)
    )
    return together(_stand(AWAY[kind][0]), moved(light, 7.0, 0.0), moved(shown, 12.5, 0.2), title="how to hold the phone")  # fmt: skip


def _window() -> Scene:
    """The card from above, the part's end in its window."""
    card = ((0.0, 0.0), (4.6, 0.0), (4.6, 0.75), (2.6, 0.75))
    items: list[Item] = [
        Polyline((*card[::-1], (0.0, 2.7), (4.6, 2.7), (4.6, 1.95), (2.6, 1.95)), False, "outline"),
        Arc((2.6, 1.35), 0.6, 90, 270, "outline"),
        *(
            Polygon(((x, y), (x + 0.25, y), (x + 0.25, y + 0.25), (x, y + 0.25)), "thin", fill="ink")
            for k, x in enumerate((0.25, 0.5, 0.75, 1.0, 1.25))
            for y in (0.35 + 0.25 * (k % 2), 0.85 + 0.25 * (k % 2), 1.35 + 0.25 * (k % 2), 1.85 + 0.25 * (k % 2))
        ),
        Line((2.6, 1.72), (5.2, 1.72), "heavy"),
        Line((2.6, 0.98), (5.2, 0.98), "heavy"),
        Arc((2.6, 1.35), 0.37, 90, 270, "heavy"),
        Text((2.5, 1.27), "dark cloth", _LETTER),
        Text((0.0, 2.95), "painted end in the cut window", _LETTER),
    ]  # fmt: skip
    return Scene(tuple(items), "window", "the card from above, the part's painted end within its window")


def _end(proud: float) -> Scene:
    """The card from the side, the skin's end flush with its face or standing proud of it."""
    face, skin = 1.6, 2.0
    items: list[Item] = [
        Polygon(((0, face - 0.3), (1.7, face - 0.3), (1.7, face), (0, face)), "outline", fill="tint"),
        Polygon(((2.5, face - 0.3), (3.6, face - 0.3), (3.6, face), (2.5, face)), "outline", fill="tint"),
        Polygon(((skin, 0.0), (skin + 0.2, 0.0), (skin + 0.2, face + proud), (skin, face + proud)), "heavy"),
        Text((0.1, face - 0.62), "card", _LETTER),
    ]
    if proud:
        items += [
            Line((skin + 0.2, face + proud), (3.6, face + proud), "thin"),
            Dimension((3.3, face), (3.3, face + proud), -0.1, "", height=0.22),
            Text((0.0, 2.95), "proud: type how far", _LETTER),
        ]
    else:
        items.append(Text((0.0, 2.95), "flush: type 0", _LETTER))
    return Scene(tuple(items), "end", "the card from the side, the end of the skin against its face")


def _beside(*, heads: bool) -> Scene:
    """The strip on the skin, the row or the edge beside it."""
    items: list[Item] = [
        Polyline(((0, 3.0), (0, 0.5), (11.0, 0.5), (11.0, 3.0)), False, "outline"),
        Polygon(((0.6, 2.0), (10.4, 2.0), (10.4, 2.8), (0.6, 2.8)), "outline", fill="tint"),
        Text((0.8, 2.28), "strip, taped down flat" if heads else "strip, pulled tight, its ends taped down", _LETTER),
        Text((0.0, 0.1), "plain dark cloth beyond the sheet's edge" if heads else "plain dark cloth beyond the trailing edge", _LETTER),
    ]  # fmt: skip
    if heads:
        items += [Circle((1.2 + 1.2 * k, 1.2), 0.2) for k in range(8)]
        items += [
            Line((9.9, 1.2), (11.7, 1.2), "thin"),
            Line((10.4, 2.0), (11.7, 2.0), "thin"),
            Dimension((11.5, 1.2), (11.5, 2.0), -0.1, height=0.22, text=""),
            Text((11.8, 1.5), "at most 3/4 in (20 mm)", _LETTER),
        ]
    else:
        items += [
            Line((11.0, 0.5), (11.7, 0.5), "thin"),
            Line((10.4, 2.0), (11.7, 2.0), "thin"),
            Dimension((11.5, 0.5), (11.5, 2.0), -0.1, height=0.22, text=""),
            Text((11.8, 1.2), "less than 1 in (25 mm)", _LETTER),
            Text((0.8, 0.7), "trailing edge", _LETTER),
        ]
    return Scene(tuple(items), "beside", "the strip on the skin and what lies beside it")


def _stand(away: str) -> Scene:
    items: list[Item] = [
        Polygon(((0, 0), (4, 0), (4, 0.12), (0, 0.12)), "outline", fill="tint"),
        Polygon(((1.5, 2.6), (2.5, 2.6), (2.5, 2.75), (1.5, 2.75)), "heavy", fill="solid"),
        Line((2.0, 2.6), (0.1, 0.12), "thin"),
        Line((2.0, 2.6), (3.9, 0.12), "thin"),
        Line((2.0, 2.6), (2.0, 0.12), "centre"),
        Dimension((4.2, 0.12), (4.2, 2.6), -0.2, away, height=0.22),
        Text((0.6, 2.95), "phone, square to the sheet", _LETTER),
    ]
    return Scene(tuple(items), "distance", f"the phone straight above the sheet, {away} away")


def _lamp() -> Scene:
    items: list[Item] = [
        Polygon(((0, 0), (4, 0), (4, 0.12), (0, 0.12)), "outline", fill="tint"),
        Circle((-0.6, 1.8), 0.3, "heavy"),
        *(Line((-0.3, 1.7 - 0.15 * k), (1.2 + k, 0.15), "thin") for k in range(3)),
        Text((-0.9, 2.95), "soft lamp at the side", _LETTER),
        Polygon(((1.7, 2.0), (2.7, 2.0), (2.7, 2.15), (1.7, 2.15)), "heavy", fill="solid"),
    ]
    return Scene(tuple(items), "light", "one lamp from the side, low, none behind the phone")


def _soft() -> Scene:
    paper = ((0.1, 0.15), (0.2, 1.0), (0.6, 1.6), (1.4, 1.95))
    items: list[Item] = [
        Polygon(((0, 0), (4, 0), (4, 0.12), (0, 0.12)), "outline", fill="tint"),
        Polyline(paper, False, "heavy"),
        Polyline(tuple((4.0 - x, y) for x, y in paper), False, "heavy"),
        Polygon(((1.5, 2.2), (2.5, 2.2), (2.5, 2.35), (1.5, 2.35)), "heavy", fill="solid"),
        Text((-0.6, 2.95), "white paper all round", _LETTER),
    ]
    return Scene(tuple(items), "light", "white paper round the row, the phone looks in from above")


def _frame(kind: str, *, turned: bool = False) -> Scene:
    """What the picture shows: the whole sheet, and the part with it."""
    width, height = (2.4, 3.0) if turned else (4.0, 2.4)
    items: list[Item] = [Polygon(((0, 0), (width, 0), (width, height), (0, height)), "heavy")]
    if kind == "A":
        low, high = (0.25, width - 0.25), (0.3, height - 0.3)
        inner = ((low[0], high[0]), (low[1], high[0]), (low[1], high[1]), (low[0], high[1]))
        items += [
            Polygon(inner, "outline", fill="tint"),
            Text((0.5, height / 2), "turned" if turned else "the whole card", _LETTER),
        ]
        return Scene(tuple(items), "frame", "the whole card fills most of the picture")
    items += [
        Polygon(((0.3, 1.4), (3.7, 1.4), (3.7, 1.9), (0.3, 1.9)), "outline", fill="tint"),
        Text((0.5, 1.55), "the whole strip", _LETTER),
        Line((0.0, 0.5), (4.0, 0.5), "outline"),
    ]
    if kind == "B":
        items += [Circle((0.75 + 0.5 * k, 1.0), 0.12) for k in range(6)]
    items.append(Text((0.5, 0.15), "and the edge", _LETTER))
    return Scene(tuple(items), "frame", "the whole strip fills most of the picture's width")
