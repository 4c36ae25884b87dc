"""Full-size pages and sheets to read as PDF, the same bytes for the same values."""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import Any

from ribwright import __version__
from ribwright.core.scene.document import Document
from ribwright.core.scene.page import PAPERS, Page
from ribwright.core.scene.strokes import drawn
from ribwright.core.writers.pdf_strokes import BOLD, FACE, paint
from ribwright.core.writers.pens import PT_PER_IN
from ribwright.errors import MissingError, UnknownNameError

MAKER = "Ribwright"


def pdf_of_pages(pages: Sequence[Page]) -> bytes:
    """Full-size pages, never scaled except by the printer's own correction.

    Raises:
        MissingError: there is no page.
    """
    return pdf_of_packet((tuple(pages),))


def pdf_of_document(document: Document, paper: str = "letter") -> bytes:
    """A sheet to read: flowing text, tables and pictures with a foot on every page.

    Raises:
        UnknownNameError: no such paper, or a roll.
        DoesNotFitError: a full-size picture is larger than the page.
    """
    return pdf_of_packet((document,), paper)


def pdf_of_packet(parts: Sequence[Document | Sequence[Page]], paper: str = "letter") -> bytes:
    """Sheets and full-size pages in one file, in the order given, each part counting its own pages.

    Raises:
        MissingError: there is nothing in it.
        UnknownNameError: no such paper for the sheets, or a roll.
    """
    size = PAPERS.get(paper)
    if size is None or size[1] == float("inf"):
        raise UnknownNameError("paper", found=paper, allowed="letter, a4, tabloid, a3")
    if not any(parts if not isinstance(parts, Document) else ()):
        raise MissingError("pages", because="there is nothing to print")
    canvas, stream = _canvas(size)
    titles = []
    for part in parts:
        if isinstance(part, Document):
            from ribwright.core.writers.pdf_flow import flow

            titles.append(part.title)
            flow(canvas, part, size)
        else:
            titles += [page.drawing.title for page in part[:1]]
            for page in part:
                _page(canvas, page)
    canvas.setTitle(next((t for t in titles if t), MAKER))
    canvas.save()
    return stream.getvalue()


def _canvas(size: tuple[float, float]) -> tuple[Any, io.BytesIO]:
    from reportlab import rl_config
    from reportlab.pdfgen.canvas import Canvas

    # Without these the file is a quarter larger, names a face it never uses, and carries the time of day.
    rl_config.useA85 = 0
    stream = io.BytesIO()
    canvas = Canvas(
        stream,
        pagesize=(size[0] * PT_PER_IN, size[1] * PT_PER_IN),
        pageCompression=1,
        invariant=1,
        initialFontName=FACE,
    )
    canvas.setAuthor(MAKER)
    canvas.setCreator(f"{MAKER} {__version__}")
    canvas.setProducer(MAKER)
    # A reader that fits pages to the paper by itself is asked not to.
    canvas.setViewerPreference("PrintScaling", "None")
    return canvas, stream


def _page(canvas: Any, page: Page) -> None:
    k = PT_PER_IN
    canvas.setPageSize((page.width * k, page.height * k))
    canvas.saveState()
    fx, fy = page.correction
    if (fx, fy) != (1.0, 1.0):
        mx, my = page.width / 2 * k, page.height / 2 * k
        canvas.transform(fx, 0, 0, fy, mx * (1 - fx), my * (1 - fy))
    canvas.saveState()
    w = page.window
    path = canvas.beginPath()
    path.rect(w.left * k, w.bottom * k, w.width * k, w.height * k)
    canvas.clipPath(path, stroke=0, fill=0)
    paint(canvas, drawn(page.drawing))
    canvas.restoreState()
    paint(canvas, drawn(page.furniture))
    canvas.restoreState()
    canvas.showPage()


__all__ = ["BOLD", "FACE", "pdf_of_document", "pdf_of_packet", "pdf_of_pages"]
