"""A document set in pages: the drawing office's sheet with ruled columns and a running foot."""

from __future__ import annotations

import math
from typing import Any

from ribwright import __version__
from ribwright.core.scene.document import (
    Bullets,
    Caution,
    Document,
    Fields,
    FillIn,
    Heading,
    PageBreak,
    Paragraph,
    Photos,
    Picture,
    Table,
    Verbatim,
)
from ribwright.core.scene.items import Text
from ribwright.core.scene.scene import bounds
from ribwright.core.scene.strokes import drawn
from ribwright.core.writers.pdf_photos import photo_within
from ribwright.core.writers.pdf_strokes import FACE, paint, settable
from ribwright.core.writers.pdf_words import say, styles
from ribwright.core.writers.pens import PT_PER_IN
from ribwright.errors import DoesNotFitError

MARGIN_PT = 46.0
LARGEST_LETTERS_IN = 0.11
"""A picture's smallest lettering is never set higher than this: what is larger only pushes the steps off the page."""
FOOT_PT = 34.0


def flow(canvas: Any, document: Document, size: tuple[float, float]) -> None:
    """Set ``document`` on pages of ``canvas``; the number of pages is known before the first is drawn."""
    width, height = size[0] * PT_PER_IN, size[1] * PT_PER_IN
    room = width - 2 * MARGIN_PT
    bottom = MARGIN_PT + FOOT_PT
    tall = height - MARGIN_PT - bottom
    sheets = _sheets([*_title(document, room), *_flowables(document, room, tall)], room, tall)
    for number, sheet in enumerate(sheets, 1):
        canvas.setPageSize((width, height))
        y = height - MARGIN_PT
        for flowable, high, before in sheet:
            y -= before + high
            flowable.drawOn(canvas, MARGIN_PT, y)
        _foot(canvas, document, width, number, len(sheets))
        canvas.showPage()


def _sheets(flowables: list[Any], room: float, tall: float) -> list[list[tuple[Any, float, float]]]:
    """Fill pages from the top: split what can be split, keep a heading with what follows it."""
    from reportlab.pdfgen.canvas import Canvas

    scratch = Canvas(None)
    sheets: list[list[tuple[Any, float, float]]] = [[]]
    left, gap = tall, 0.0
    queue = list(flowables)
    while queue:
        part = queue.pop(0)
        if isinstance(part, str):
            if sheets[-1]:
                sheets.append([])
                left, gap = tall, 0.0
            continue
        part.canv = scratch
        _, high = part.wrap(room, tall)
        before = max(gap, part.getSpaceBefore()) if sheets[-1] else 0.0
        company = _company(part, queue, scratch, room, tall)
        need = high + before + company
        if need > left and sheets[-1] and getattr(part, "least_high", high) <= left - before - company:
            part.shrink_to(left - before - company)  # a picture a little smaller saves half a sheet
            _, high = part.wrap(room, tall)
            need = high + before + company
        if need <= left + 0.01:
            sheets[-1].append((part, high, before))
            left -= high + before
            gap = part.getSpaceAfter()
            continue
        pieces = part.split(room, left - before) if left - before > 30 else []
        if len(pieces) > 1:
            queue[:0] = pieces
            _, first = pieces[0].wrap(room, left - before)
            if first <= left - before + 0.01:
                continue
            del queue[: len(pieces)]
        if sheets[-1]:
            sheets.append([])
            left, gap = tall, 0.0
            queue.insert(0, part)
            continue
        pieces = part.split(room, tall)
        if len(pieces) < 2:
            raise DoesNotFitError(
                "sheet",
                found=f"a block {high / PT_PER_IN:.1f} in high",
                allowed=f"{tall / PT_PER_IN:.1f} in on one page",
                mend="Choose larger paper or print it as a full-size template",
            )
        queue[:0] = pieces
    return [sheet for sheet in sheets if sheet] or [[]]


def _company(part: Any, queue: list[Any], scratch: Any, room: float, tall: float) -> float:
    """Height of what must stand below this block on the same page: headings never end a page."""
    wanted = 0.0
    for follower in queue:
        if not _kept_with_next(part) or isinstance(follower, str):
            break
        follower.canv = scratch
        high = follower.wrap(room, tall)[1]
        wanted += getattr(follower, "least_high", min(high, 60.0)) + 6.0
        part = follower
    return wanted


def _kept_with_next(part: Any) -> bool:
    return bool(getattr(part, "keepWithNext", 0) or getattr(getattr(part, "style", None), "keepWithNext", 0))


def _title(document: Document, room: float) -> list[Any]:
    from reportlab.platypus.flowables import HRFlowable

    s = styles()
    named = (("", document.reference), ("revision ", document.revision), ("seal ", document.seal))
    line = " · ".join(f"{name}{value}" for name, value in named if value)
    parts: list[Any] = [say(document.title, s["title"])]
    if line:
        parts.append(say(line, s["small"]))
    parts.append(HRFlowable(width=room, thickness=1.4, color="black", spaceBefore=1, spaceAfter=6))
    return parts


def _flowables(document: Document, room: float, tall: float) -> list[Any]:
    from reportlab.platypus.flowables import HRFlowable

    s = styles()
    out: list[Any] = []
    for n, block in enumerate(document.blocks):
        match block:
            case Heading():
                out.append(say(block.text, s[f"h{min(max(block.level, 1), 3)}"]))
                if block.level == 1:
                    rule = HRFlowable(width=room, thickness=0.5, color="black", spaceBefore=0, spaceAfter=4)
                    rule.keepWithNext = 1
                    out.append(rule)
            case Paragraph():
                said = say(block.text, s["small" if block.small else "body"])
                # what a heading's one sentence leads to begins on the same page
                before, after = document.blocks[n - 1 : n], document.blocks[n + 1 : n + 2]
                said.keepWithNext = bool(
                    before
                    and isinstance(before[0], Heading)
                    and after
                    and isinstance(after[0], Bullets | Table)
                )
                out.append(said)
            case Bullets():
                out += _bullets(block, room, s)
            case Table():
                out.append(_table(block, room, s))
            case Picture():
                drawing = _drawing(block, room, tall)
                out.append(drawing)
                if block.caption:
                    drawing.keepWithNext = 1
                    out.append(say(block.caption, s["caption"]))
            case Caution():
                out.append(_caution(block, room, s))
            case Fields():
                out.append(_fields(block, room, s))
            case FillIn():
                out.append(_fill_in(block, room, s))
            case Photos():
                out += _photos(block, room, s)
            case Verbatim():
                out += _verbatim(block)
            case PageBreak():
                out.append("new page")
    return out


def _ruled(rows: list[list[Any]], widths: list[float], rules: list[tuple[Any, ...]], repeat: int = 0) -> Any:
    from reportlab.platypus import Table as Ruled

    grid = Ruled(rows, colWidths=widths, repeatRows=repeat, hAlign="LEFT", spaceBefore=3, spaceAfter=7)
    grid.setStyle(
        [
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
            ("LEFTPADDING", (0, 0), (-1, -1), 4),
            ("RIGHTPADDING", (0, 0), (-1, -1), 4),
            ("TOPPADDING", (0, 0), (-1, -1), 2.2),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 2.6),
            *rules,
        ]
    )
    return grid


def _table(block: Table, room: float, s: dict[str, Any]) -> Any:
    rows = ([block.header] if block.header else []) + list(block.rows)
    count = max((len(row) for row in rows), default=1)
    shares = list(block.widths) if block.widths and len(block.widths) == count else [1.0] * count
    widths = [room * share / sum(shares) for share in shares]
    cells = []
    for n, row in enumerate(rows):
        head = n == 0 and bool(block.header)
        cells.append(
            [
                say(
                    text,
                    s[
                        ("headnumber" if head else "number")
                        if c in block.numeric
                        else ("head" if head else "cell")
                    ],
                )
                for c, text in enumerate(tuple(row) + ("",) * (count - len(row)))
            ]
        )
    rules: list[tuple[Any, ...]] = [
        ("LINEBELOW", (0, 0), (-1, -1), 0.3, "black"),
        ("LINEABOVE", (0, 0), (-1, 0), 0.9, "black"),
        ("LINEBEFORE", (1, 0), (-1, -1), 0.3, "black"),
    ]
    if block.header:
        rules.append(("LINEBELOW", (0, 0), (-1, 0), 0.9, "black"))
    return _ruled(cells or [[""]], widths, rules, 1 if block.header and len(cells) > 1 else 0)


def _fields(block: Fields, room: float, s: dict[str, Any]) -> Any:
    cells = [[say(name, s["cell"]), say(value, s["cell"])] for name, value in block.pairs]
    return _ruled(
        cells or [["", ""]], [room * 0.32, room * 0.68], [("LINEBELOW", (0, 0), (-1, -1), 0.3, "black")]
    )


def _caution(block: Caution, room: float, s: dict[str, Any]) -> Any:
    return _ruled(
        [[say("CAUTION", s["h3"]), say(block.text, s["body"])]],
        [62.0, room - 62.0],
        [("BOX", (0, 0), (-1, -1), 1.4, "black"), ("VALIGN", (0, 0), (-1, -1), "MIDDLE")],
    )


def _fill_in(block: FillIn, room: float, s: dict[str, Any]) -> Any:
    return _ruled(
        [[say(block.label, s["cell"]), "", say(block.unit, s["cell"])]],
        [room * 0.45, room * 0.3, room * 0.25],
        [("LINEBELOW", (1, 0), (1, 0), 0.6, "black"), ("TOPPADDING", (0, 0), (-1, -1), 7)],
    )


def _bullets(block: Bullets, room: float, s: dict[str, Any]) -> list[Any]:
    out = []
    for n, text in enumerate(block.items, 1):
        cells: list[Any] = [_Box()] if block.tick else []
        if block.ordered or not block.tick:
            cells.append(say(f"{n}." if block.ordered else "\u2013", s["body"]))
        widths = [18.0] * len(cells)
        cells.append(say(text, s["body"]))
        widths.append(room - sum(widths))
        row = _ruled(
            [cells], widths, [("LEFTPADDING", (0, 0), (-1, -1), 2), ("BOTTOMPADDING", (0, 0), (-1, -1), 0)]
        )
        row.spaceBefore = row.spaceAfter = 0
        row.keepWithNext = n == 1 < len(block.items)
        out.append(row)
    return out


def _Box() -> Any:
    """An empty square to tick."""
    from reportlab.platypus.flowables import Flowable

    class Box(Flowable):  # type: ignore[misc]
        def wrap(self, *_: float) -> tuple[float, float]:
            return (9.0, 10.5)

        def draw(self) -> None:
            self.canv.setLineWidth(0.7)
            self.canv.rect(0, 0.6, 8, 8)

    return Box()


LEAST_OF_PICTURE = 0.75
"""Share of its size to which a picture is drawn smaller when that keeps it on the page; never one at full size."""


def _drawing(block: Picture, room: float, tall: float) -> Any:
    from reportlab.platypus.flowables import Flowable

    box = bounds(block.scene)
    share = 1.0 if block.width == "full" else 0.5
    true_w, true_h = max(box.width, 1e-6) * PT_PER_IN, max(box.height, 1e-6) * PT_PER_IN
    if block.full_size:
        if true_w > room or true_h > tall - 30:
            raise DoesNotFitError(
                "picture",
                found=f"{box.width:.2f} by {box.height:.2f} in at full size",
                allowed=f"{room / PT_PER_IN:.2f} by {(tall - 30) / PT_PER_IN:.2f} in",
                mend="Print it as a full-size template, which is tiled",
            )
        scale = 1.0
    else:
        letters = min((one.height for one in drawn(block.scene) if isinstance(one, Text)), default=0.0)
        legible = LARGEST_LETTERS_IN / letters if letters else math.inf
        scale = min(room * share / true_w, min(tall - 40, 380.0) / true_h, legible)
    items = drawn(block.scene)

    class Drawn(Flowable):  # type: ignore[misc]
        def __init__(self) -> None:
            super().__init__()
            self.scale = scale
            self.spaceBefore = 15
            self.least_high = true_h * scale * (1.0 if block.full_size else LEAST_OF_PICTURE)

        def wrap(self, *_: float) -> tuple[float, float]:
            return (true_w * self.scale, true_h * self.scale)

        def shrink_to(self, high: float) -> None:
            self.scale = min(self.scale, high / true_h)

        def getSpaceBefore(self) -> float:
            return 6.0

        def getSpaceAfter(self) -> float:
            return 6.0

        def draw(self) -> None:
            self.canv.saveState()
            k = PT_PER_IN * self.scale
            paint(self.canv, items, scale=self.scale, origin=(-box.left * k, -box.bottom * k))
            self.canv.restoreState()

    return Drawn()


def _photos(block: Photos, room: float, s: dict[str, Any]) -> list[Any]:
    """Rows of photos, each with its caption below."""
    wide = room / block.across
    rows = []
    for start in range(0, len(block.pictures), block.across):
        cells: list[Any] = []
        for content, caption in block.pictures[start : start + block.across]:
            picture = photo_within(content, wide_pt=wide - 10, high_pt=max(150.0, 450.0 / block.across))
            cells.append([picture, say(caption, s["caption"])])
        cells += [""] * (block.across - len(cells))
        rows.append(_ruled([cells], [wide] * block.across, []))
    return rows


def _verbatim(block: Verbatim) -> list[Any]:
    from reportlab.lib.styles import ParagraphStyle
    from reportlab.platypus import Preformatted

    style = ParagraphStyle("verbatim", fontName="Courier", fontSize=7.6, leading=9.4)
    return [Preformatted(block.text, style)]


def _foot(canvas: Any, document: Document, width: float, number: int, of: int) -> None:
    y = MARGIN_PT + 12
    canvas.saveState()
    canvas.setLineWidth(0.5)
    canvas.line(MARGIN_PT, y + 14, width - MARGIN_PT, y + 14)
    canvas.setFont(FACE, 7.6)
    named = (("", document.reference), ("revision ", document.revision), ("seal ", document.seal))
    line = " · ".join(f"{name}{value}" for name, value in named if value) or document.title
    canvas.drawString(MARGIN_PT, y + 4, settable(line))
    canvas.drawRightString(width - MARGIN_PT, y + 4, f"ribwright {__version__} · page {number} of {of}")
    canvas.setFont(FACE, 6.8)
    canvas.drawString(MARGIN_PT, y - 6, settable(document.foot))
    canvas.restoreState()
