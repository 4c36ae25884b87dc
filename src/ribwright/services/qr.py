"""QR codes: for a page, as the path of an SVG, and for a terminal."""

from __future__ import annotations

import io

QUIET = 4
"""Modules of clear margin that readers need on every side."""


def qr_path(text: str) -> tuple[int, str]:
    """A QR code as side length in modules (with its margin) and the ``d`` of an SVG path of its dark modules."""
    import segno

    rows = [list(row) for row in segno.make(text, error="m", micro=False).matrix]
    parts: list[str] = []
    for y, row in enumerate(rows):
        x = 0
        while x < len(row):
            end = x
            while end < len(row) and row[end]:
                end += 1
            if end > x:
                parts.append(f"M{x + QUIET} {y + QUIET}h{end - x}v1h-{end - x}z")
            x = end + 1
    return len(rows) + 2 * QUIET, "".join(parts)


def qr_text(text: str) -> str:
    """A QR code in half blocks, for a terminal with light letters on dark."""
    import segno

    out = io.StringIO()
    segno.make(text, error="l", micro=False).terminal(out=out, compact=True)
    return out.getvalue()
