"""A sheet as plain text for the terminal."""

from __future__ import annotations

import textwrap

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

WIDTH = 88


def text_of_document(document: Document, *, width: int = WIDTH) -> str:
    """The whole sheet, wrapped to ``width`` characters; drawings appear as their description."""
    head = [document.title.upper(), "=" * min(width, max(1, len(document.title)))]
    line = _identity(document)
    if line:
        head.append(line)
    parts = ["\n".join(head)]
    for block in document.blocks:
        match block:
            case Heading():
                rule = {1: "=", 2: "-"}.get(block.level)
                parts.append(block.text + (f"\n{rule * min(width, len(block.text))}" if rule else ""))
            case Paragraph():
                parts.append(_wrapped(block.text, width))
            case Bullets():
                parts.append(_bullets(block, width))
            case Table():
                parts.append(_table(block, width))
            case Picture():
                told = block.scene.described
                words = (
                    told if told.startswith(block.caption) else f"{block.caption}. {told}".rstrip(". ") + "."
                )
                parts.append(_wrapped(f"[drawing] {words or block.scene.title}", width, "          "))
            case Caution():
                parts.append(_wrapped(f"CAUTION  {block.text}", width, "         "))
            case Fields():
                wide = max((len(name) for name, _ in block.pairs), default=0)
                parts.append(
                    "\n".join(
                        _wrapped(f"{name:<{wide}}  {value}", width, " " * (wide + 2))
                        for name, value in block.pairs
                    )
                )
            case FillIn():
                parts.append(f"{block.label} ____________ {block.unit}".rstrip())
            case Photos():
                parts += [_wrapped(f"[photo] {caption}", width, "        ") for _, caption in block.pictures]
            case Verbatim():
                parts.append(block.text)
            case PageBreak():
                parts.append("-" * width)
    parts.append(_wrapped(document.foot, width))
    return "\n\n".join(part for part in parts if part) + "\n"


def _identity(document: Document) -> str:
    named = (("", document.reference), ("revision ", document.revision), ("seal ", document.seal))
    return " · ".join(f"{name}{value}" for name, value in named if value)


def _wrapped(text: str, width: int, indent: str = "") -> str:
    return textwrap.fill(text, width, subsequent_indent=indent, break_long_words=False)


def _bullets(block: Bullets, width: int) -> str:
    lines = []
    for n, item in enumerate(block.items, 1):
        mark = ("[ ] " if block.tick else "") + (f"{n}. " if block.ordered else "" if block.tick else "- ")
        lines.append(_wrapped(mark + item, width, " " * len(mark)))
    return "\n".join(lines)


def _table(block: Table, width: int) -> str:
    rows = [block.header, *block.rows] if block.header else list(block.rows)
    if not rows:
        return ""
    count = max(len(row) for row in rows)
    padded = [tuple(row) + ("",) * (count - len(row)) for row in rows]
    wide = [max(len(row[c]) for row in padded) for c in range(count)]
    # Too wide for the terminal: the widest columns give way and wrap.
    while sum(wide) + 2 * (count - 1) > width and max(wide) > 12:
        wide[wide.index(max(wide))] -= 1
    out = []
    for n, row in enumerate(padded):
        cells = [textwrap.wrap(cell, wide[c], break_long_words=True) or [""] for c, cell in enumerate(row)]
        for k in range(max(len(cell) for cell in cells)):
            pieces = []
            for c, cell in enumerate(cells):
                piece = cell[k] if k < len(cell) else ""
                pieces.append(f"{piece:>{wide[c]}}" if c in block.numeric else f"{piece:<{wide[c]}}")
            out.append("  ".join(pieces).rstrip())
        if n == 0 and block.header:
            out.append("  ".join("-" * w for w in wide))
    return "\n".join(out)
