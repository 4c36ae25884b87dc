"""The form helper: a server-made request id and the revision that was seen, in every form; fields from the spec."""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from ribwright.core.audit.spec import Field, fields_of
from ribwright.errors import InputError, RibwrightError


@dataclass(frozen=True, slots=True)
class Input:
    """One input as the page shows it: its flat name, what was entered, and what is wrong with it."""

    name: str
    field: Field
    value: str
    mistake: str = ""


@dataclass(frozen=True, slots=True)
class RowSet:
    """A list of rows as the page shows it."""

    name: str
    field: Field
    rows: tuple[tuple[Input, ...], ...]
    mistake: str = ""


@dataclass(frozen=True, slots=True)
class FormPage:
    """A whole form: inputs in order, mistakes at their fields and summed up, request id, seen revision."""

    parts: tuple[Input | RowSet, ...]
    request_id: str
    seen: str
    mistakes: tuple[str, ...] = ()


def new_request_id() -> str:
    """Made by the server with the page; a form sent twice carries the same one and counts once."""
    return f"web-{secrets.token_hex(16)}"


def form_page(
    spec: type,
    raw: Mapping[str, Any],
    *,
    request_id: str = "",
    seen: str = "",
    error: RibwrightError | None = None,
    extra_rows: Mapping[str, int] | None = None,
) -> FormPage:
    """The form of a spec with what was entered so far.

    Args:
        raw: by field name, rows as lists (as ``form_to_raw`` or ``raw_of`` give it).
        error: what was refused; its mistakes are shown at their fields.
        extra_rows: empty rows to add behind, by field name (the row buttons work without JavaScript).
    """
    wrong: dict[str, str] = {}
    mistakes: list[str] = []
    if error is not None:
        for one in (error, *getattr(error, "others", ())):
            mistakes.append(one.sentence())
            if isinstance(one, InputError) and one.name:
                wrong.setdefault(one.name, one.sentence())
    parts: list[Input | RowSet] = []
    for field in fields_of(spec):
        if field.kind != "rows":
            parts.append(
                Input(field.name, field, _value(field, raw.get(field.name)), wrong.get(field.name, ""))
            )
            continue
        assert field.row is not None
        entered = [row for row in raw.get(field.name, ()) or () if isinstance(row, Mapping)]
        count = max(len(entered) + (extra_rows or {}).get(field.name, 0), field.least)
        made = []
        for number in range(count):
            row = entered[number] if number < len(entered) else {}
            made.append(
                tuple(
                    Input(
                        f"{field.name}.{number}.{cell.name}",
                        cell,
                        _value(cell, row.get(cell.name)),
                        wrong.get(f"{field.name}.{number}.{cell.name}", ""),
                    )
                    for cell in fields_of(field.row)
                )
            )
        parts.append(RowSet(field.name, field, tuple(made), wrong.get(field.name, "")))
    return FormPage(tuple(parts), request_id or new_request_id(), seen, tuple(mistakes))


def _value(field: Field, entered: object) -> str:
    if entered is None:
        if field.default is None:
            return ""
        return "yes" if field.default is True else "no" if field.default is False else str(field.default)
    return str(entered)


def row_change(form: Mapping[str, str]) -> tuple[str, str, int] | None:
    """Which row button was pressed: (``add``, ``remove`` or ``copy``), the list's name, the row's number."""
    for key in form:
        verb, _, rest = key.partition(":")
        if verb in ("add", "remove", "copy") and rest:
            name, _, number = rest.partition(":")
            return verb, name, int(number) if number.isdigit() and len(number) < 5 else 0
    return None


def changed_rows(
    raw: Mapping[str, Any], change: tuple[str, str, int]
) -> tuple[dict[str, Any], dict[str, int]]:
    """What was entered with a row added, removed or copied, and how many empty rows to show."""
    verb, name, number = change
    made = dict(raw)
    rows = list(made.get(name, ()) or ())
    extra: dict[str, int] = {}
    if verb == "remove" and 0 <= number < len(rows):
        rows.pop(number)
    elif verb == "copy" and 0 <= number < len(rows):
        rows.insert(number + 1, dict(rows[number]))
    elif verb == "add":
        extra[name] = 1
    made[name] = rows
    return made, extra
