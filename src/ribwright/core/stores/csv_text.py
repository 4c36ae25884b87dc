"""Tables as CSV, both ways, with care: what a spreadsheet would run is defused, what can't be read is refused."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping, Sequence

from ribwright import __version__
from ribwright.errors import FormatError, MissingError, OutOfRangeError, UnknownNameError

MOST_BYTES = 2_000_000
MOST_LINES = 20_000
MOST_CELL = 2_000
_RUNS = ("=", "+", "-", "@", "\t", "\r")
"""A cell that begins so is run as a formula by spreadsheets."""
MADE_BY = "made by"
"""Last column of every list: the version that wrote it. A line before the heading would break other readers."""


def to_csv(head: Sequence[str], lines: Iterable[Sequence[object]]) -> str:
    """CSV text with a heading line, and the version that wrote it as the last cell of each line.

    A cell that a spreadsheet would run gets an apostrophe before it; numbers stay.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow([*head, MADE_BY])
    for line in lines:
        cells = ["" if cell is None else str(cell) for cell in line]
        writer.writerow([*map(_defused, cells), f"ribwright {__version__}"])
    return out.getvalue()


def _defused(text: str) -> str:
    if text.startswith(_RUNS) and not _plain_number(text):
        return "'" + text
    return text


def _plain_number(text: str) -> bool:
    body = text[1:] if text[:1] in "+-" else text
    return bool(body) and body.isascii() and body.replace(".", "", 1).isdigit()


def text_of_file(content: bytes, *, field: str) -> str:
    """The text of a file in one of the encodings that spreadsheets write.

    Raises:
        FormatError: too large, or no text.
    """
    if len(content) > MOST_BYTES:
        raise FormatError(
            field, found=f"{len(content):,} bytes", allowed=f"up to {MOST_BYTES:,}", mend="Split the file."
        )
    if content[:2] in (b"\xff\xfe", b"\xfe\xff"):
        codes: tuple[str, ...] = ("utf-16",)
    else:
        codes = ("utf-8-sig", "cp1252")
    for code in codes:
        try:
            text = content.decode(code)
        except UnicodeDecodeError:
            continue
        if "\x00" in text:
            break
        return text
    raise FormatError(
        field, found="bytes that are no text", allowed="CSV as UTF-8", mend="Save it again as CSV, UTF-8."
    )


def from_csv(
    text: str, *, columns: Mapping[str, bool], field: str, also: Mapping[str, str] | None = None
) -> list[dict[str, str]]:
    """Lines of a CSV text by column; a comma, semicolon or tab parts the cells. The column ``made by`` is passed over.

    Args:
        columns: name to whether it is needed.
        field: what the file is, for the sentence of an error.
        also: other spellings of column names.

    Raises:
        FormatError, MissingError, UnknownNameError, OutOfRangeError: naming line and column.
    """
    if len(text) > MOST_BYTES:
        raise FormatError(field, found=f"{len(text):,} characters", allowed=f"up to {MOST_BYTES:,}")
    text = text.lstrip("\ufeff")
    first = text.split("\n", 1)[0]
    mark = max(",;\t", key=first.count)
    names = {name: name for name in (*columns, MADE_BY)} | dict(also or {})
    made: list[dict[str, str]] = []
    try:
        rows = csv.reader(io.StringIO(text, newline=""), delimiter=mark, strict=True)
        head = [_name(cell, names, field) for cell in next(rows, [])]
        if not head:
            raise MissingError(field, found="an empty file", allowed="a heading line: " + ", ".join(columns))
        for name, needed in columns.items():
            if needed and name not in head:
                raise MissingError(f"{field}: column {name}", allowed=", ".join(columns))
        if len(set(head)) != len(head):
            raise FormatError(field, found=", ".join(head), allowed="each column once")
        for number, row in enumerate(rows, 2):
            if number > MOST_LINES:
                raise OutOfRangeError(
                    field, found="more lines", allowed=f"up to {MOST_LINES:,}", mend="Split the file."
                )
            if not any(cell.strip() for cell in row):
                continue
            if len(row) > len(head):
                raise FormatError(
                    f"{field}, line {number}", found=f"{len(row)} cells", allowed=f"{len(head)}"
                )
            cells = dict(zip(head, (cell.strip() for cell in row), strict=False))
            for name, cell in cells.items():
                if len(cell) > MOST_CELL or not all(c.isprintable() or c in "\n\r\t" for c in cell):
                    raise FormatError(
                        f"{field}, line {number}, {name}", found=cell[:40], allowed="printable text"
                    )
            made.append({name: cells.get(name, "").removeprefix("'") for name in columns})
    except csv.Error as problem:
        raise FormatError(
            field, found=str(problem), allowed="CSV: cells parted by commas, quotes closed"
        ) from None
    return made


def _name(cell: str, names: Mapping[str, str], field: str) -> str:
    key = cell.strip().lower().replace("_", " ")
    found = names.get(key)
    if found is None:
        raise UnknownNameError(
            f"{field}: column",
            found=cell[:40],
            allowed=", ".join(name for name in dict.fromkeys(names.values()) if name != MADE_BY),
        )
    return found
