"""The one module of the core that reads files: its own tables, through ``importlib.resources``."""

from __future__ import annotations

import hashlib
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from importlib import resources
from importlib.resources.abc import Traversable
from itertools import pairwise

from ribwright.core.units import parse
from ribwright.errors import NoSuchRowError, OutsideTableError, TableError, UnknownNameError

RUNGS = ("compared", "seen", "derived", "second-hand", "practice", "memory")
"""The one ladder of trust, best first. ``compared`` (held against the document itself) is set by a person only."""


@dataclass(frozen=True, slots=True)
class Source:
    """A published work, or the honest statement that there is none."""

    name: str
    title: str
    edition: str = ""
    year: str = ""
    publisher: str = ""
    rights: str = ""

    def cited(self, locator: str = "") -> str:
        """One line for a sheet: title, edition, locator."""
        parts = [self.title, self.edition, locator]
        return ", ".join(part for part in parts if part)


@dataclass(frozen=True, slots=True)
class Cell:
    """One printed cell.

    ``value`` is in the column's own unit (``unit``), not canonical; ``text`` keeps the printed digits.
    """

    text: str
    value: float
    unit: str
    table: str
    row: str
    column: str
    source: Source
    locator: str
    rung: str
    digest: str

    @property
    def canonical(self) -> float:
        """The value in the canonical unit of its dimension (a plain float for a kernel)."""
        return parse(self.text, self.unit, field=f"{self.table} {self.row}").value

    @property
    def cited(self) -> str:
        """Table, row and source in one line."""
        return f"{self.source.cited(self.locator)}; table {self.table}, row {self.row}"


@dataclass(frozen=True, slots=True)
class Table:
    """A table as printed: rows by key, columns with units, source, rung, and what to do between rows."""

    name: str
    title: str
    source: Source
    locator: str
    rung: str
    between_rows: str  # refuse | next-lower | next-higher | linear
    note: str
    units: Mapping[str, str]
    rows: Mapping[str, Mapping[str, str]]
    row_rungs: Mapping[str, str]
    digest: str

    def cell(self, row: str, column: str) -> Cell:
        """The cell of a row and column, as printed.

        Raises:
            NoSuchRowError: no such row or an empty cell; the sentence names the neighbours.
        """
        if column not in self.units:
            raise UnknownNameError(f"column of {self.name}", found=column, allowed=", ".join(self.units))
        cells = self.rows.get(row)
        if cells is None:
            raise NoSuchRowError(
                f"table {self.title}",
                found=row,
                allowed=self._neighbours(row),
                mend="Choose one of the rows named.",
            )
        text = cells.get(column)
        if text is None:
            filled = [key for key, c in self.rows.items() if column in c]
            raise NoSuchRowError(
                f"table {self.title}",
                found=f"an empty cell at row {row}, column {column}",
                allowed=", ".join(filled) or "no row of this column",
                mend="The source prints nothing here, so nothing is worked out from it.",
            )
        unit_symbol = self.units[column]
        value = 0.0 if unit_symbol == "text" else _plain(text, unit_symbol, self.name, row)
        return Cell(
            text, value, unit_symbol, self.name, row, column, self.source, self.locator,
            self.row_rungs.get(row, self.rung), self.digest,
        )  # fmt: skip

    def row_keys(self) -> tuple[str, ...]:
        """All row keys in printed order."""
        return tuple(self.rows)

    def at(self, value: float, column: str) -> Cell:
        """The cell for a number on a table whose rows are numbers, by its ``between_rows`` rule.

        Raises:
            OutsideTableError: before the first or after the last row; never extrapolated.
            NoSuchRowError: between rows of a table that refuses that.
        """
        keys = [key for key, cells in self.rows.items() if column in cells]
        numbers = [_plain(key, "", self.name, key) for key in keys]
        for key, number in zip(keys, numbers, strict=True):
            if abs(number - value) <= 1e-9 * max(1.0, abs(number)):
                return self.cell(key, column)
        if not numbers or value < min(numbers) or value > max(numbers):
            raise OutsideTableError(
                f"table {self.title}",
                found=f"{value:g}",
                allowed=f"{keys[0]} to {keys[-1]}" if keys else "nothing",
            )
        below, above = next(
            (a, b) for a, b in pairwise(sorted(zip(numbers, keys, strict=True))) if a[0] < value < b[0]
        )
        if self.between_rows == "next-lower":
            return self.cell(below[1], column)
        if self.between_rows == "next-higher":
            return self.cell(above[1], column)
        raise NoSuchRowError(
            f"table {self.title}",
            found=f"{value:g}",
            allowed=f"{below[1]} or {above[1]}",
            mend="Choose a row that is printed.",
        )

    def _neighbours(self, row: str) -> str:
        keys = list(self.rows)
        if len(keys) <= 12:
            return ", ".join(keys)
        close = sorted(keys, key=lambda key: (_distance(key, row), keys.index(key)))[:6]
        return "nearest rows " + ", ".join(sorted(close, key=keys.index)) + f" (of {len(keys)})"


def _distance(key: str, row: str) -> float:
    def number(text: str) -> float:
        digits = "".join(c for c in text if c.isdigit() or c in "./")
        try:
            return float(Fraction(digits)) if digits else float("inf")
        except (ValueError, ZeroDivisionError):
            return float("inf")

    a, b = number(key), number(row)
    return abs(a - b) if a != float("inf") and b != float("inf") else 0.0 if key == row else 1e9


def _plain(text: str, unit_symbol: str, name: str, row: str) -> float:
    quantity = parse(text, "" if unit_symbol == "text" else unit_symbol, field=f"table {name}, row {row}")
    return float(quantity.number)


def _data() -> Traversable:
    return resources.files("ribwright.core.tables") / "data"


@cache
def sources() -> Mapping[str, Source]:
    """Every published work that a table or formula may cite, by short name."""
    raw = tomllib.loads((_data() / "sources.toml").read_text(encoding="utf-8"))
    return {name: Source(name=name, **fields) for name, fields in raw.items()}


def source(name: str) -> Source:
    """A source by its short name.

    Raises:
        UnknownNameError: not in ``sources.toml``.
    """
    found = sources().get(name)
    if found is None:
        raise UnknownNameError(
            "source", found=name, allowed=", ".join(sources()), mend="Add it to sources.toml."
        )
    return found


@cache
def table(name: str) -> Table:
    """Load a table, for example ``drills/number``.

    Raises:
        UnknownNameError: there is no such table.
        TableError: the file is malformed (a defect of the program; tests walk all tables).
    """
    if name not in table_names():
        import difflib

        near = difflib.get_close_matches(name, table_names(), n=5, cutoff=0.4) or table_names()[:5]
        raise UnknownNameError(
            "table", found=name, allowed=", ".join(near), mend="`ribwright table list` shows all."
        )
    text = (_data() / f"{name}.toml").read_text(encoding="utf-8")
    raw = tomllib.loads(text)
    rung = raw["status"]
    rows: dict[str, dict[str, str]] = {}
    row_rungs: dict[str, str] = {}
    for key, cells in raw["cells"].items():
        if "status" in cells:
            row_rungs[key] = cells["status"]
        rows[key] = {column: printed for column, printed in cells.items() if column != "status"}
        unknown = set(rows[key]) - set(raw["units"])
        if unknown or not all(isinstance(v, str) for v in rows[key].values()):
            raise TableError(
                f"table {name}", found=f"row {key}", allowed="text cells in the columns declared"
            )
    for used in (rung, *row_rungs.values()):
        if used not in RUNGS:
            raise TableError(f"table {name}", found=used, allowed=", ".join(RUNGS))
    return Table(
        name=name,
        title=raw["title"],
        source=source(raw["source"]),
        locator=raw.get("locator", ""),
        rung=rung,
        between_rows=raw.get("between_rows", "refuse"),
        note=raw.get("note", ""),
        units=raw["units"],
        rows=rows,
        row_rungs=row_rungs,
        digest=hashlib.sha256(text.encode()).hexdigest(),
    )


@cache
def table_names() -> tuple[str, ...]:
    """All tables as ``topic/name``, sorted."""
    found = []
    for topic in _data().iterdir():
        if topic.is_dir():
            found += [f"{topic.name}/{f.name[:-5]}" for f in topic.iterdir() if f.name.endswith(".toml")]
    return tuple(sorted(found))


@cache
def drill_sizes() -> Mapping[str, Fraction]:
    """Number and letter drills as exact inches, for reading ``#30`` and ``F`` where a length is asked."""
    sizes = {}
    for name in ("drills/number", "drills/letter"):
        for key, cells in table(name).rows.items():
            sizes[key] = Fraction(cells["diameter"])
    return sizes


def lowest_rung(rungs: Iterable[str]) -> str:
    """The weakest rung of several; what a sheet says once at its foot."""
    ranked = [RUNGS.index(rung) for rung in rungs]
    return RUNGS[max(ranked)] if ranked else RUNGS[2]


def net_text(name: str) -> str:
    """The weights of a trained net, as JSON; the program that trained it stands in it."""
    return (_data() / "photo" / f"{name}.json").read_text(encoding="utf-8")


def index_text() -> str:
    """The committed index of calculations, which lies with the tables because only this module reads files."""
    return (_data() / "calculations.json").read_text(encoding="utf-8")
