"""Words on a reportlab page: the faces of a sheet to read, and paragraphs that are set once."""

from __future__ import annotations

import copy
import functools
from html import escape
from typing import Any

from ribwright.core.writers.pdf_strokes import BOLD, FACE, settable

SIZE_PT, LEAD_PT = 9.5, 12.6


def styles() -> dict[str, Any]:
    """The faces of a sheet to read, by what they set."""
    from reportlab.lib.enums import TA_RIGHT
    from reportlab.lib.styles import ParagraphStyle

    body = ParagraphStyle("body", fontName=FACE, fontSize=SIZE_PT, leading=LEAD_PT, spaceAfter=5)
    cell = ParagraphStyle("cell", parent=body, fontSize=8.6, leading=11, spaceAfter=0)
    return {
        "body": body,
        "small": ParagraphStyle("small", parent=body, fontSize=7.6, leading=9.8),
        "title": ParagraphStyle("title", parent=body, fontName=BOLD, fontSize=17, leading=21, spaceAfter=2),
        "h1": ParagraphStyle(
            "h1",
            parent=body,
            fontName=BOLD,
            fontSize=13,
            leading=16,
            spaceBefore=12,
            spaceAfter=4,
            keepWithNext=1,
        ),
        "h2": ParagraphStyle(
            "h2",
            parent=body,
            fontName=BOLD,
            fontSize=10.5,
            leading=13.5,
            spaceBefore=9,
            spaceAfter=3,
            keepWithNext=1,
        ),
        "h3": ParagraphStyle("h3", parent=body, fontName=BOLD, spaceBefore=5, spaceAfter=2, keepWithNext=1),
        "cell": cell,
        "number": ParagraphStyle("number", parent=cell, alignment=TA_RIGHT),
        "head": ParagraphStyle("head", parent=cell, fontName=BOLD, fontSize=7.8, leading=10),
        "headnumber": ParagraphStyle(
            "headnumber", parent=cell, fontName=BOLD, fontSize=7.8, leading=10, alignment=TA_RIGHT
        ),
        "caption": ParagraphStyle(
            "caption", parent=body, fontSize=8, leading=10, spaceBefore=2, spaceAfter=7
        ),
    }


@functools.cache
def _set_once() -> Any:
    from reportlab.platypus import Paragraph as Set

    class SetOnce(Set):  # type: ignore[misc]
        # A table asks each cell's height several times over; the lines don't change while the width doesn't.
        set_at = -1.0

        def wrap(self, wide: float, high: float) -> tuple[float, float]:
            if wide != self.set_at:
                super().wrap(wide, high)
                self.set_at = wide
            return (self.width, self.height)

    return SetOnce


@functools.cache
def _face(style: str) -> Any:
    """How one of the styles sets a run of words, as the parser of marked-up text makes it."""
    return _set_once()("words", styles()[style]).frags[0]


def say(text: str, style: Any) -> Any:
    """A flowable that sets ``text``; a line end in it is one on paper."""
    words = settable(text)
    if "\n" in words or not words.strip():
        return _set_once()(escape(words, quote=False).replace("\n", "<br/>"), style)
    # Nothing is marked up on one line: the parser, a third of the time of a long pack, is passed by.
    run = copy.copy(_face(style.name))
    run.text = " ".join(words.split())
    return _set_once()(None, style, frags=[run])
