"""Drawings and sheets as files. reportlab and ezdxf are imported here only, and only when used."""

from ribwright.core.writers.to_dxf import dxf_of
from ribwright.core.writers.to_pdf import pdf_of_document, pdf_of_packet, pdf_of_pages
from ribwright.core.writers.to_svg import SVG_CSS, svg_of, svg_of_page
from ribwright.core.writers.to_text import text_of_document

__all__ = [
    "SVG_CSS",
    "dxf_of",
    "pdf_of_document",
    "pdf_of_packet",
    "pdf_of_pages",
    "svg_of",
    "svg_of_page",
    "text_of_document",
]
