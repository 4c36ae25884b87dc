"""A drawing as SVG: responsive, coloured by the page it stands on, with its text equivalent."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from html import escape
from itertools import pairwise

from ribwright import __version__
from ribwright.core.scene.items import LAYERS, STYLES, Arc, Circle, Line, Polygon, Polyline, Primitive, Text
from ribwright.core.scene.legible import MARGIN, is_note, raised
from ribwright.core.scene.lettering import CAPITAL_HEIGHT
from ribwright.core.scene.page import Page
from ribwright.core.scene.scene import Bounds, Scene, around
from ribwright.core.scene.strokes import arc_extremes, box_of, drawn
from ribwright.core.writers.pens import GRADES, dash_pt, weight_pt


def _css() -> str:
    ink = "var(--drawing-ink, currentColor)"
    rules = [
        f".rw-drawing{{fill:none;stroke:{ink};stroke-linecap:round;stroke-linejoin:round}}",
        ".rw-drawing *{vector-effect:non-scaling-stroke}",
        f".rw-drawing text{{fill:{ink};stroke:none;font-family:var(--drawing-face,Helvetica,Arial,'Liberation Sans',"
        "sans-serif);font-variant-numeric:tabular-nums}",
        ".rw-drawing .rw-bold{font-weight:700}",
        f".rw-drawing .rw-solid{{fill:{ink}}}",
        f".rw-drawing .rw-ink{{fill:{ink};stroke:none}}",
        ".rw-drawing .rw-tint{fill:var(--drawing-tint,rgba(128,128,128,.15))}",
        ".rw-drawing .rw-paper{fill:var(--drawing-paper,#fff)}",
        ".rw-drawing .rw-bare{fill:var(--drawing-paper,#fff);stroke:none}",
    ]
    rules += [
        f".rw-drawing .rw-grade-{step}{{fill:var(--drawing-grade-{step},{colour})}}"
        for step, colour in enumerate(GRADES)
    ]
    for style in STYLES:
        dash = " ".join(f"{v * 4 / 3:.1f}" for v in dash_pt(style))
        rules.append(
            f".rw-drawing .rw-{style}{{stroke-width:{weight_pt(style) * 4 / 3:.2f}px"
            + (f";stroke-dasharray:{dash}" if dash else "")
            + "}"
        )
    for layer in LAYERS[:3]:
        rules.append(f".rw-drawing .rw-{layer}{{stroke:var(--drawing-{layer},{ink})}}")
    return "\n".join(rules)


SVG_CSS = _css()
"""The rules for the classes used here; a page's theme sets ``--drawing-ink``, ``-tint``, ``-paper``,
``-face`` and, if it wants, ``-cut``, ``-drilled``, ``-marked`` and ``-grade-0`` to ``-grade-4``."""

_STAND_ALONE = ".rw-drawing{color:#111;background:#fff}\n" + SVG_CSS


def svg_of(
    scene: Scene,
    *,
    width_px: int | None = None,
    stand_alone: bool = False,
    margin: float = MARGIN,
    least: float = 0.0,
    desk: float = 0.0,
) -> str:
    """The drawing as one ``<svg>`` element that fills the width it is given.

    Args:
        scene: what to draw.
        width_px: a fixed width; without it the element takes the width of its container.
        stand_alone: carry the style inside, for a file that is opened by itself.
        margin: free space round the drawing, as a share of its larger side.
        least: capitals' height that a narrow page gives to smaller lettering: it is marked ``rw-small``, there is room for
            it, and it takes the type size of the whole element as soon as the page lets it inherit that. Whole sentences are
            marked ``rw-note``, for the page to say them elsewhere.
        desk: the same for a wide page, where such lettering is marked ``rw-tiny``.
    """
    parts = drawn(scene)
    box = around(
        tuple(box_of(item) for item in (raised(parts, max(least, desk)) if least or desk else parts))
    )
    free = margin * max(box.width, box.height, 1e-6)
    view = Bounds(box.left - free, box.bottom - free, box.right + free, box.top + free)
    return _element(
        view,
        _lettered("".join(_part(item, least, desk) for item in parts), least, desk),
        scene.title,
        scene.described,
        (f' width="{width_px}"' if width_px else "")
        + (f' font-size="{_n(least / CAPITAL_HEIGHT)}"' if least else ""),
        stand_alone,
    )


def _lettered(body: str, least: float, desk: float) -> str:
    """Round the drawing, the type size of a wide page; a narrow one goes back to the whole element's, where it has one."""
    if not desk:
        return body
    named = ' class="rw-desk"' if least else ""
    return f'<g{named} font-size="{_n(desk / CAPITAL_HEIGHT)}">{body}</g>'


def svg_of_page(page: Page, *, stand_alone: bool = False) -> str:
    """A full-size page as SVG: what the preview shows is what the printer gets, correction left out."""
    w = page.window
    clip = "c" + hashlib.sha256(f"{page.drawing.title}{page.number}".encode()).hexdigest()[:10]
    body = (
        f'<clipPath id="{clip}"><rect x="{_n(w.left)}" y="{_n(-w.top)}" width="{_n(w.width)}" '
        f'height="{_n(w.height)}"/></clipPath><g clip-path="url(#{clip})">'
        + "".join(_part(item) for item in drawn(page.drawing))
        + "</g>"
        + "".join(_part(item) for item in drawn(page.furniture))
    )
    size = f' width="{_n(page.width)}in" height="{_n(page.height)}in"' if stand_alone else ""
    described = f"Sheet {page.number} of {page.of}. {page.drawing.described}".strip()
    return _element(
        Bounds(0, 0, page.width, page.height), body, page.drawing.title, described, size, stand_alone
    )


def _element(view: Bounds, body: str, title: str, described: str, size: str, stand_alone: bool) -> str:
    mark = hashlib.sha256(f"{title}\0{described}\0{body}".encode()).hexdigest()[:10]
    named = f' aria-labelledby="t{mark} d{mark}"' if title or described else ""
    head = f'<title id="t{mark}">{escape(title)}</title>' if named else ""
    head += f'<desc id="d{mark}">{escape(described)}</desc>' if named else ""
    if stand_alone:
        head += f"<metadata>ribwright {__version__}</metadata><style>{_STAND_ALONE}</style>"
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="rw-drawing" role="img"{named}{size} '
        f'viewBox="{_n(view.left)} {_n(-view.top)} {_n(view.width)} {_n(view.height)}">'
        f"{head}{body}</svg>"
    )


def _n(value: float) -> str:
    """Five decimals (a quarter of a micrometre), without the zeros."""
    text = f"{value:.5f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _xy(points: Iterable[tuple[float, float]]) -> str:
    return " ".join(f"{_n(x)},{_n(-y)}" for x, y in points)


def _part(item: Primitive, least: float = 0.0, desk: float = 0.0) -> str:
    match item:
        case Line():
            (x1, y1), (x2, y2) = item.a, item.b
            return f'<line class="{_class(item)}" x1="{_n(x1)}" y1="{_n(-y1)}" x2="{_n(x2)}" y2="{_n(-y2)}"/>'
        case Circle():
            return (
                f'<circle class="{_class(item)}" cx="{_n(item.center[0])}" cy="{_n(-item.center[1])}" '
                f'r="{_n(item.radius)}"/>'
            )
        case Arc():
            sweep = (item.end_deg - item.start_deg) % 360 or 360.0
            (x1, y1), (x2, y2) = arc_extremes(item.center, item.radius, item.start_deg, item.end_deg)[:2]
            r = _n(item.radius)
            return (
                f'<path class="{_class(item)}" d="M{_n(x1)},{_n(-y1)}A{r},{r} 0 {int(sweep > 180)} 0 '
                f'{_n(x2)},{_n(-y2)}"/>'
            )
        case Polyline():
            return f'<path class="{_class(item)}" d="{_path(item)}"/>'
        case Polygon():
            fill = f" rw-{item.fill}" if item.fill != "none" else ""
            return f'<polygon class="{_class(item)}{fill}" points="{_xy(item.points)}"/>'
        case Text():
            x, y = item.at
            turn = f' transform="rotate({_n(-item.angle_deg)} {_n(x)} {_n(-y)})"' if item.angle_deg else ""
            anchor = f' text-anchor="{item.anchor}"' if item.anchor != "start" else ""
            named = " ".join(
                n
                for n, true in (
                    ("rw-bold", item.bold),
                    ("rw-small", item.height < least and not is_note(item)),
                    ("rw-tiny", item.height < desk and not is_note(item)),
                    ("rw-note", least and is_note(item)),
                )
                if true
            )
            named = f' class="{named}"' if named else ""
            return (
                f'<text{named} x="{_n(x)}" y="{_n(-y)}" font-size="{_n(item.height / CAPITAL_HEIGHT)}"'
                f"{anchor}{turn}>{escape(item.text)}</text>"
            )


def _class(item: Line | Circle | Arc | Polyline | Polygon) -> str:
    return f"rw-{item.style}" + (f" rw-{item.layer}" if item.layer != "printed" else "")


def _path(item: Polyline) -> str:
    points = item.points + (item.points[:1] if item.closed else ())
    out = [f"M{_xy(points[:1])}"]
    for n, (a, b) in enumerate(pairwise(points)):
        bulge = item.bulges[n] if n < len(item.bulges) else 0.0
        if bulge:
            chord = ((b[0] - a[0]) ** 2 + (b[1] - a[1]) ** 2) ** 0.5
            r = _n(chord * (1 + bulge * bulge) / (4 * abs(bulge)))
            # SVG's y runs down, so a left-turning arc is its "sweep 0".
            out.append(f"A{r},{r} 0 {int(abs(bulge) > 1)} {int(bulge < 0)} {_xy((b,))}")
        else:
            out.append(f"L{_xy((b,))}")
    return "".join(out) + ("Z" if item.closed else "")
