"""A spec, described once: a frozen dataclass whose fields say unit, label, help, example and limits.

    @dataclass(frozen=True, slots=True)
    class Lap:
        \"\"\"Two sheets lapped.\"\"\"

        thickness: Quantity = quantity("in", "Sheet thickness", help="of the thinner sheet", example=".032")
        holes: tuple[Hole, ...] = rows(Hole, "Holes", help="one row a hole", least=0)

``read`` makes a spec from JSON, TOML or a form; ``raw_of`` writes it back as it was entered; the web
form, the command line's help, the JSON schema and the docs are derived from ``fields_of``. A list of
rows is a field kind: a form adds and removes rows, and no field anywhere takes JSON.
"""

from __future__ import annotations

import dataclasses
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

from ribwright.core.tables import drill_sizes
from ribwright.core.units import Quantity, parse
from ribwright.errors import InputError, MissingError, OutOfRangeError, QuantityError, UnknownNameError

S = TypeVar("S")
_KEY = "ribwright"
MOST_ROWS = 2000
MOST_TEXT = 2000


@dataclass(frozen=True, slots=True)
class Field:
    """One input: its name in JSON and TOML, and everything a form, a flag or a page of docs says of it."""

    name: str
    kind: str  # quantity | choice | text | whole | flag | rows
    label: str
    help: str
    unit: str = ""
    example: str = ""
    optional: bool = False
    default: object = None
    low: str | None = None
    high: str | None = None
    choices: tuple[str, ...] = ()
    row: type | None = None
    least: int = 0


def _field(field: Field) -> Any:
    metadata = {_KEY: field}
    if field.kind == "rows":
        return dataclasses.field(default=(), metadata=metadata, kw_only=True)
    if field.optional or field.default is not None:
        default = field.default
        if field.kind == "quantity" and isinstance(default, str):
            default = parse(default, field.unit, field=field.label, named=drill_sizes())
        return dataclasses.field(default=default, metadata=metadata, kw_only=True)
    return dataclasses.field(metadata=metadata, kw_only=True)


def quantity(
    unit: str,
    label: str,
    *,
    help: str,
    example: str,
    low: str | None = None,
    high: str | None = None,
    optional: bool = False,
    default: str | None = None,
) -> Any:
    """A value with a unit; ``low`` and ``high`` are the last values allowed, as text with a unit."""
    return _field(Field("", "quantity", label, help, unit, example, optional, default, low, high))


def choice(
    label: str, choices: Sequence[str], *, help: str, default: str | None = None, optional: bool = False
) -> Any:
    """One of a few words."""
    return _field(
        Field("", "choice", label, help, "", choices[0], optional, default, None, None, tuple(choices))
    )


def text(
    label: str, *, help: str, example: str = "", optional: bool = False, default: str | None = None
) -> Any:
    """One line of text."""
    return _field(Field("", "text", label, help, "", example, optional, default))


def whole(
    label: str,
    *,
    help: str,
    example: str,
    low: int = 0,
    high: int = 1_000_000,
    optional: bool = False,
    default: int | None = None,
) -> Any:
    """A whole number."""
    return _field(Field("", "whole", label, help, "", example, optional, default, str(low), str(high)))


def flag(label: str, *, help: str, default: bool = False) -> Any:
    """Yes or no."""
    return _field(Field("", "flag", label, help, "", "yes", False, default))


def rows(row: type, label: str, *, help: str, least: int = 0) -> Any:
    """A list of rows, each a small spec of its own."""
    return _field(Field("", "rows", label, help, row=row, least=least))


def fields_of(spec: type) -> tuple[Field, ...]:
    """The fields of a spec class in the order in which a form asks for them."""
    return tuple(
        dataclasses.replace(item.metadata[_KEY], name=item.name)
        for item in dataclasses.fields(spec)
        if _KEY in item.metadata
    )


def read(spec: type[S], raw: Mapping[str, object]) -> S:
    """Make a spec from what was entered; all mistakes are found, the first is raised with the others in ``others``.

    Args:
        spec: the spec class.
        raw: by field name; a bare number takes the field's unit, text may carry a unit, rows are lists of mappings.

    Raises:
        InputError: one of its leaves, naming the field as the builder knows it.
    """
    made, mistakes = _read(spec, raw, "", "")
    if mistakes:
        first = mistakes[0]
        first.others = tuple(mistakes[1:])
        raise first
    return made  # type: ignore[return-value]


def _read(spec: type[S], raw: object, where: str, key: str) -> tuple[S | None, list[InputError]]:
    if not isinstance(raw, Mapping):
        return None, [InputError(where or spec.__name__, found=_brief(raw), allowed="named values")]
    mistakes: list[InputError] = []
    known = fields_of(spec)
    for entered_name in raw:
        if entered_name not in {field.name for field in known}:
            mistakes.append(
                UnknownNameError(
                    f"{where}{_brief(entered_name)}",
                    found=str(entered_name),
                    allowed=", ".join(f.name for f in known),
                    mend="Remove it or correct its name.",
                )
            )
    values: dict[str, object] = {}
    for field in known:
        entered = raw.get(field.name)
        path = where + field.label
        try:
            if field.kind == "rows":
                values[field.name] = _read_rows(field, entered, path, key + field.name, mistakes)
            elif entered is None or (isinstance(entered, str) and not entered.strip()):
                if field.kind == "flag" or field.optional or field.default is not None:
                    continue
                raise MissingError(path, allowed=_hint(field), mend=f"Enter it: {field.help}.")
            else:
                values[field.name] = _read_one(field, entered, path)
        except InputError as mistake:
            mistake.name = key + field.name
            mistakes.append(mistake)
    if mistakes:
        return None, mistakes
    try:
        return spec(**values), []
    except InputError as mistake:  # a spec's own __post_init__ may refuse impossible combinations
        named = next((f.name for f in known if mistake.field.startswith(f.label)), "")
        mistake.name = key + named if named else key.rstrip(".")
        return None, [mistake]


def _read_rows(
    field: Field, entered: object, path: str, key: str, mistakes: list[InputError]
) -> tuple[object, ...]:
    assert field.row is not None
    if entered is None:
        entered = []
    if not isinstance(entered, Sequence) or isinstance(entered, str):
        raise InputError(path, found=_brief(entered), allowed="a list of rows")
    if len(entered) > MOST_ROWS:
        raise OutOfRangeError(path, found=f"{len(entered)} rows", allowed=f"at most {MOST_ROWS}")
    if len(entered) < field.least:
        raise MissingError(
            path,
            found=f"{len(entered)} rows",
            allowed=f"at least {field.least}",
            mend=f"Fill in {'a row' if field.least == 1 else f'{field.least} rows'}: {field.help}.",
        )
    made: list[object] = []
    for number, one in enumerate(entered, start=1):
        row, wrong = _read(field.row, one, f"{path} {number}, ", f"{key}.{number - 1}.")
        mistakes += wrong
        made.append(row)
    return tuple(made)


def _read_one(field: Field, entered: object, path: str) -> object:
    if field.kind == "flag":
        return _flag(entered, path)
    if isinstance(entered, bool) or not isinstance(entered, str | int | float):
        raise QuantityError(path, found=_brief(entered), allowed=_hint(field))
    if isinstance(entered, float) and not math.isfinite(entered):
        raise QuantityError(path, found=entered, allowed="a finite number")
    if field.kind == "quantity":
        return _quantity(field, entered, path)
    if field.kind == "whole":
        return _whole(field, entered, path)
    said = str(entered).strip()
    if any(ord(c) < 32 or 0xD800 <= ord(c) <= 0xDFFF for c in said):
        raise InputError(
            path,
            found=ascii(said)[:80],
            allowed="one line of plain text",
            mend="Remove line breaks and control characters.",
        )
    if len(said) > MOST_TEXT:
        raise OutOfRangeError(path, found=f"{len(said)} characters", allowed=f"at most {MOST_TEXT}")
    if field.kind == "choice":
        match = next((c for c in field.choices if c.casefold() == said.casefold()), None)
        if match is None:
            raise UnknownNameError(
                path, found=said, allowed=", ".join(field.choices), mend="Choose one of these."
            )
        return match
    return said


def _quantity(field: Field, entered: str | int | float, path: str) -> Quantity:
    typed = entered if isinstance(entered, str) else repr(entered)
    value = parse(typed, field.unit, field=path, named=drill_sizes())
    for bound, wrong in ((field.low, -1), (field.high, 1)):
        if bound is not None:
            limit = parse(bound, field.unit, field=path)
            over = value.value - limit.value
            if over * wrong > 1e-12 * max(1.0, abs(limit.value)):
                raise OutOfRangeError(
                    path,
                    found=value.text,
                    allowed=_range(field),
                    mend=f"Check the value: {field.help}.{_meant_mm(field, value, path)}",
                )
    return value


def _meant_mm(field: Field, value: Quantity, path: str) -> str:
    """What to write where a bare number is far too large in inches and fits in millimetres."""
    if field.unit != "in" or not re.fullmatch(r"\d+(\.\d*)?|\.\d+", value.text):
        return ""
    mm = parse(f"{value.text} mm", "in", field=path)
    low, high = (
        parse(bound, "in", field=path) if bound is not None else mm for bound in (field.low, field.high)
    )
    return f" If it is in millimetres, write {mm.text}." if low.value <= mm.value <= high.value else ""


def _whole(field: Field, entered: str | int | float, path: str) -> int:
    typed = str(entered).strip()
    if not re.fullmatch(r"[+-]?\d{1,9}(\.0)?", typed, re.ASCII):
        raise QuantityError(path, found=typed, allowed="a whole number", mend="Enter a whole number.")
    number = int(float(typed))
    if not int(field.low or 0) <= number <= int(field.high or 0):
        raise OutOfRangeError(path, found=number, allowed=f"{field.low} to {field.high}")
    return number


def _flag(entered: object, path: str) -> bool:
    if isinstance(entered, bool):
        return entered
    said = str(entered).strip().casefold()
    if said in ("yes", "true", "1", "on"):
        return True
    if said in ("no", "false", "0", "off"):
        return False
    raise UnknownNameError(path, found=_brief(entered), allowed="yes, no")


def _range(field: Field) -> str:
    if field.low is not None and field.high is not None:
        return (
            f"{field.low} to {field.high} {field.unit}".strip()
            if field.low.replace(".", "").isdigit()
            else f"{field.low} to {field.high}"
        )
    return (
        f"{field.low} {field.unit} or more" if field.low is not None else f"{field.high} {field.unit} or less"
    )


def _hint(field: Field) -> str:
    if field.kind == "choice":
        return ", ".join(field.choices)
    return f"for example {field.example}" if field.example else field.help


def _brief(value: object) -> str:
    return f"{value!r}"[:80]


def raw_of(spec: object) -> dict[str, Any]:
    """The spec as it was entered: text with units, rows as lists; what ``read`` turns back into an equal spec."""
    raw: dict[str, Any] = {}
    for field in fields_of(type(spec)):
        value = getattr(spec, field.name)
        if value is None:
            continue
        if field.kind == "rows":
            if value:
                raw[field.name] = [raw_of(row) for row in value]
        elif field.kind == "flag":
            raw[field.name] = "yes" if value else "no"
        elif isinstance(value, Quantity):
            raw[field.name] = _with_unit(value, field)
        else:
            raw[field.name] = str(value)
    return raw


def _with_unit(value: Quantity, field: Field) -> str:
    """As entered; a bare number gets the unit it was read in, so that the text stands on its own."""
    bare = re.fullmatch(r"[\d\s./eE+-]+", value.text, re.ASCII) is not None
    return f"{value.text} {value.unit.symbol}".strip() if bare and value.unit.symbol != "%" else value.text


def form_to_raw(spec: type, form: Mapping[str, str]) -> dict[str, Any]:
    """A web form's flat names (``layers.0.thickness``) as nested raw values; wholly empty rows are left out."""
    raw: dict[str, Any] = {}
    for field in fields_of(spec):
        if field.kind == "flag":
            raw[field.name] = form.get(field.name, "no")
        elif field.kind != "rows":
            if field.name in form:
                raw[field.name] = form[field.name]
        else:
            assert field.row is not None
            numbers = sorted(
                {int(m.group(1)) for key in form if (m := re.match(rf"{field.name}\.(\d{{1,4}})\.", key))}
            )
            found = []
            for number in numbers:
                prefix = f"{field.name}.{number}."
                part = {k[len(prefix) :]: v for k, v in form.items() if k.startswith(prefix)}
                flags = {f.name for f in fields_of(field.row) if f.kind in ("flag", "choice")}
                if any(v.strip() for k, v in part.items() if k not in flags):
                    found.append(form_to_raw(field.row, part))
            raw[field.name] = found
    return raw
