"""A series of like operations from one: numbers in its words count on, lengths run straight to the last one."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from ribwright.core.audit.spec import Field, fields_of, read
from ribwright.core.units import Quantity, canonical_unit, parse
from ribwright.errors import InputError, OutOfRangeError, UnknownNameError

SAME = frozenset(("drawing", "revision", "material"))
"""Words that no series counts on."""
MOST = 60
_NUMBERED = re.compile(r"([A-Za-z]+[ -]?)(\d{1,6})(?!\d*[./]\d)\b")


@dataclass(frozen=True, slots=True)
class Tapered:
    """A length or other quantity that may differ along the series: its path, label, unit and value in the first."""

    path: str
    label: str
    unit: str
    value: Quantity


def numbered(spec: object) -> tuple[str, ...]:
    """Words with a number in them, each once: ``rib 1``, ``DN-2105``."""
    found: dict[str, None] = {}
    for path, field, value in _values(spec):
        if field.kind == "text" and path.rpartition(".")[2] not in SAME:
            found.update((match.group(0), None) for match in _NUMBERED.finditer(str(value)))
    return tuple(found)


def tapered(spec: object) -> tuple[Tapered, ...]:
    """Quantities that were entered, rows numbered from 1 in their labels."""
    return tuple(
        Tapered(path, _label(path, field), field.unit, value)
        for path, field, value in _values(spec)
        if isinstance(value, Quantity)
    )


def series(
    spec: object,
    raw: Mapping[str, Any],
    *,
    count: int,
    steps: Mapping[str, int],
    last: Mapping[str, str],
) -> tuple[dict[str, Any], ...]:
    """Drawing data of ``count`` further operations after the one given.

    Args:
        spec: the first operation's drawing data, read.
        raw: the same as entered.
        count: how many more, 1 to 60.
        steps: by how much each of ``numbered(spec)`` counts on from one to the next.
        last: value in the last one by path of ``tapered(spec)``; those between lie evenly on the straight from
            the first. A quantity left out stays.

    Raises:
        OutOfRangeError: a count or step outside what is allowed, a number that would fall below 0.
        UnknownNameError: a word or path that the first does not have.
        QuantityError: a value that is no quantity of its kind.
    """
    if not 1 <= count <= MOST:
        raise OutOfRangeError("How many more", found=count, allowed=f"1 to {MOST}")
    words = numbered(spec)
    for word, step in steps.items():
        if word not in words:
            raise UnknownNameError(
                "Counts on", found=word, allowed=", ".join(words) or "no word has a number"
            )
        if not -1000 <= step <= 1000:
            raise OutOfRangeError(word, found=step, allowed="-1000 to 1000")
    ends = _ends(spec, last)

    def one(n: int) -> dict[str, Any]:
        def word(match: re.Match[str]) -> str:
            whole, figures = match.group(0), match.group(2)
            number = int(figures) + n * steps.get(whole, 0)
            if number < 0:
                raise OutOfRangeError(whole, found=number, allowed="0 and more", mend="Take a smaller step.")
            return f"{match.group(1)}{number:0{len(figures)}d}"

        def changed(path: str, text: str) -> str:
            if path in ends:
                first, end = ends[path]
                # both ends in one unit: those between in it too; else in the unit that kernels take
                if first.unit == end.unit:
                    symbol, low, high = first.unit.symbol, float(first.number), float(end.number)
                else:
                    symbol, low, high = canonical_unit(first.unit).symbol, first.value, end.value
                return f"{low + (high - low) * n / count:.4f}".rstrip("0").rstrip(".") + f" {symbol}"
            return text if path.rpartition(".")[2] in SAME else _NUMBERED.sub(word, text)

        return _mapped(raw, changed, texts)

    texts = {path for path, field, _ in _values(spec) if field.kind == "text"} | set(ends)
    made = tuple(one(n) for n in range(1, count + 1))
    for number, data in enumerate(made, 1):
        try:
            read(type(spec), data)
        except InputError as refused:
            refused.field = f"number {number} of the series, {refused.field}"
            raise
    return made


def _ends(spec: object, last: Mapping[str, str]) -> dict[str, tuple[Quantity, Quantity]]:
    """First and last quantity by path."""
    having = {one.path: one for one in tapered(spec)}
    found = {}
    for path, text in last.items():
        if path not in having:
            raise UnknownNameError("At the last one", found=path, allowed=", ".join(having))
        if text.strip():
            end = parse(text, having[path].unit, field=f"{having[path].label} at the last one")
            found[path] = (having[path].value, end)
    return found


def _values(spec: object, path: str = "") -> Iterator[tuple[str, Field, Any]]:
    for field in fields_of(type(spec)):
        value = getattr(spec, field.name)
        if field.kind == "rows":
            for n, row in enumerate(value):
                yield from _values(row, f"{path}{field.name}.{n}.")
        elif value is not None:
            yield f"{path}{field.name}", field, value


def _label(path: str, field: Field) -> str:
    row = re.search(r"\.(\d+)\.", path)
    return f"{field.label}, {int(row.group(1)) + 1}" if row else field.label


def _mapped(
    raw: Mapping[str, Any], change: Callable[[str, str], str], paths: set[str], path: str = ""
) -> dict[str, Any]:
    made: dict[str, Any] = {}
    for name, value in raw.items():
        here = f"{path}{name}"
        if isinstance(value, list):
            made[name] = [_mapped(row, change, paths, f"{here}.{n}.") for n, row in enumerate(value)]
        else:
            made[name] = change(here, str(value)) if here in paths else value
    return made
