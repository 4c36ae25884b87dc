"""Tasks and dates as text: TOML and CSV in, CSV and iCalendar out."""

from __future__ import annotations

import csv
import io
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from datetime import date, timedelta

from ribwright import __version__
from ribwright.core.planning.tasks import Item, Task
from ribwright.errors import FormatError, MissingError, UnknownNameError

COLUMNS = (
    "key", "title", "hours", "spread", "trade", "needs", "parts", "helper", "warm", "daylight", "cure_hours",
    "uses", "tools", "setup", "spent_hours", "done", "not_before", "source",
)  # fmt: skip
MADE_BY = "made_by"
"""Last column of a list that was written here: the version; passed over when it is read."""
YES = {"yes", "true", "1", "y", "x"}
NO = {"no", "false", "0", "n", ""}


def tasks_from_toml(text: str) -> tuple[tuple[Task, ...], tuple[Item, ...]]:
    """Tasks (`[[task]]`) and items (`[[item]]`) of a TOML text.

    Raises:
        FormatError: Not TOML, or a value of the wrong kind.
        UnknownNameError: A field that is none.
        MissingError: A field that is needed.
    """
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as problem:
        raise FormatError(
            "plan file", found=str(problem), allowed="TOML with [[task]] and [[item]]"
        ) from None
    for name in data:
        if name not in ("task", "item"):
            raise UnknownNameError("plan file", found=name, allowed="[[task]] and [[item]]")
    for name in ("task", "item"):
        rows = data.get(name, [])
        if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
            raise FormatError(f"plan file: {name}", found="not a list of tables", allowed=f"[[{name}]]")
    tasks = tuple(task_from(row, f"task {n}") for n, row in enumerate(data.get("task", []), 1))
    items = tuple(item_from(row, f"item {n}") for n, row in enumerate(data.get("item", []), 1))
    return tasks, items


def tasks_from_csv(text: str) -> tuple[Task, ...]:
    """Tasks of a CSV text with a heading line; lists are separated by semicolons.

    Raises:
        FormatError, UnknownNameError, MissingError: As `tasks_from_toml`.
    """
    reader = csv.DictReader(io.StringIO(text.lstrip("\ufeff")))
    if reader.fieldnames is None:
        raise FormatError("task list", found="an empty file", allowed="a heading line and a line a task")
    for name in reader.fieldnames:
        if name not in (*COLUMNS, MADE_BY):
            raise UnknownNameError("task list: column", found=name, allowed=", ".join(COLUMNS))
    tasks = []
    for number, row in enumerate(reader, 2):
        if None in row:
            raise FormatError(
                f"task list, line {number}", found="more cells than headings", allowed="as many"
            )
        row.pop(MADE_BY, None)
        tasks.append(task_from({k: v for k, v in row.items() if v not in (None, "")}, f"line {number}"))
    return tuple(tasks)


def task_from(row: Mapping[str, object], where: str) -> Task:
    """A task of named values, as a line of a list or an object of the record holds them."""
    known = {f.name for f in fields(Task)}
    _names(row, known, where)
    for name in ("key", "hours"):
        if name not in row:
            raise MissingError(f"{where}: {name}", mend="Every task needs a key and its hours")
    return Task(
        key=str(row["key"]),
        title=str(row.get("title", row["key"])),
        hours=_float(row["hours"], f"{where}: hours"),
        spread=_float(row.get("spread", 1.5), f"{where}: spread"),
        trade=str(row.get("trade", "general")),
        needs=_list(row.get("needs", ()), f"{where}: needs"),
        parts=_list(row.get("parts", ()), f"{where}: parts"),
        helper=_flag(row.get("helper", False), f"{where}: helper"),
        warm=_flag(row.get("warm", False), f"{where}: warm"),
        daylight=_flag(row.get("daylight", False), f"{where}: daylight"),
        cure_hours=_float(row.get("cure_hours", 0.0), f"{where}: cure_hours"),
        uses=_uses(row.get("uses", ()), f"{where}: uses"),
        tools=_list(row.get("tools", ()), f"{where}: tools"),
        setup=str(row.get("setup", "")),
        spent_hours=_float(row.get("spent_hours", 0.0), f"{where}: spent_hours"),
        done=_flag(row.get("done", False), f"{where}: done"),
        not_before=_date(row.get("not_before"), f"{where}: not_before"),
        source=str(row.get("source", "")),
    )


def item_from(row: Mapping[str, object], where: str) -> Item:
    """An item of named values."""
    _names(row, {f.name for f in fields(Item)}, where)
    for name in ("key", "lead_days", "lead_spread"):
        if name not in row:
            raise MissingError(
                f"{where}: {name}", mend="An item needs a key, its lead time and the spread of it"
            )
    queue = row.get("queue_position")
    return Item(
        key=str(row["key"]),
        title=str(row.get("title", row["key"])),
        lead_days=_float(row["lead_days"], f"{where}: lead_days"),
        lead_spread=_float(row["lead_spread"], f"{where}: lead_spread"),
        price=_float(row.get("price", 0.0), f"{where}: price"),
        deposit=_float(row.get("deposit", 0.0), f"{where}: deposit"),
        refundable=_flag(row.get("refundable", False), f"{where}: refundable"),
        order_on=_date(row.get("order_on"), f"{where}: order_on"),
        ordered=_flag(row.get("ordered", False), f"{where}: ordered"),
        arrived=_flag(row.get("arrived", False), f"{where}: arrived"),
        holding_month=_float(row.get("holding_month", 0.0), f"{where}: holding_month"),
        queue_position=None if queue is None else int(_float(queue, f"{where}: queue_position")),
    )


def _names(row: Mapping[str, object], known: set[str], where: str) -> None:
    for name in row:
        if name not in known:
            raise UnknownNameError(where, found=name, allowed=", ".join(sorted(known)))


def _float(value: object, where: str) -> float:
    try:
        if isinstance(value, bool):
            raise ValueError
        return float(str(value).strip())
    except ValueError:
        raise FormatError(where, found=value, allowed="a number") from None


def _flag(value: object, where: str) -> bool:
    text = str(value).strip().lower()
    if text in YES:
        return True
    if text in NO:
        return False
    raise FormatError(where, found=value, allowed="yes or no")


def _date(value: object, where: str) -> date | None:
    if value in (None, ""):
        return None
    try:
        return date.fromisoformat(str(value).strip())
    except ValueError:
        raise FormatError(where, found=value, allowed="a date such as 2026-04-30") from None


def _list(value: object, where: str) -> tuple[str, ...]:
    if isinstance(value, str):
        return tuple(part.strip() for part in value.split(";") if part.strip())
    if isinstance(value, list | tuple) and all(isinstance(part, str) for part in value):
        return tuple(value)
    raise FormatError(where, found=value, allowed="names, separated by semicolons")


def _uses(value: object, where: str) -> tuple[tuple[str, float], ...]:
    if isinstance(value, Mapping):
        return tuple((str(name), _float(amount, where)) for name, amount in value.items())
    out = []
    for part in _list(value, where):
        name, colon, amount = part.rpartition(":")
        if not colon:
            raise FormatError(where, found=part, allowed="name:amount, such as floor:40")
        out.append((name.strip(), _float(amount, where)))
    return tuple(out)


def task_row(task: Task) -> dict[str, str]:
    """A task as named texts that `task_from` reads back to the same value."""
    return {
        "key": task.key, "title": task.title, "hours": repr(task.hours), "spread": repr(task.spread),
        "trade": task.trade, "needs": ";".join(task.needs), "parts": ";".join(task.parts),
        "helper": "yes" if task.helper else "", "warm": "yes" if task.warm else "",
        "daylight": "yes" if task.daylight else "", "cure_hours": repr(task.cure_hours),
        "uses": ";".join(f"{name}:{amount!r}" for name, amount in task.uses), "tools": ";".join(task.tools),
        "setup": task.setup, "spent_hours": repr(task.spent_hours), "done": "yes" if task.done else "",
        "not_before": task.not_before.isoformat() if task.not_before else "", "source": task.source,
    }  # fmt: skip


def tasks_to_csv(tasks: Sequence[Task]) -> str:
    """Tasks as CSV that `tasks_from_csv` reads back to the same values.

    A cell that a spreadsheet would take for a formula is not changed: the reading back must be exact.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow([*COLUMNS, MADE_BY])
    for task in tasks:
        row = task_row(task)
        writer.writerow([*(row[name] for name in COLUMNS), f"ribwright {__version__}"])
    return out.getvalue()


@dataclass(frozen=True, slots=True)
class Event:
    """An all-day event.

    Attributes:
        uid: Stays the same when the event moves.
        day: Its day.
        summary: What the calendar shows.
        description: What stands behind it.
    """

    uid: str
    day: date
    summary: str
    description: str = ""


def to_icalendar(events: Sequence[Event], *, stamp: date, name: str = "Ribwright") -> str:
    """All-day events as an iCalendar text (RFC 5545): CRLF, lines folded at 75 octets, text escaped.

    Args:
        events: What to write.
        stamp: Today; the core has no clock.
        name: Name of the calendar.
    """
    lines = [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        f"PRODID:-//Ribwright//Plan {__version__}//EN",
        f"X-WR-CALNAME:{_escaped(name)}",
    ]
    for event in sorted(events, key=lambda e: (e.day, e.uid)):
        lines += [
            "BEGIN:VEVENT",
            f"UID:{_escaped(event.uid)}@ribwright",
            f"DTSTAMP:{stamp:%Y%m%d}T000000Z",
            f"DTSTART;VALUE=DATE:{event.day:%Y%m%d}",
            f"DTEND;VALUE=DATE:{event.day + timedelta(days=1):%Y%m%d}",
            f"SUMMARY:{_escaped(event.summary)}",
            "TRANSP:TRANSPARENT",  # an order-by day or an evening planned doesn't make anybody busy all day
        ]
        if event.description:
            lines.append(f"DESCRIPTION:{_escaped(event.description)}")
        lines.append("END:VEVENT")
    lines.append("END:VCALENDAR")
    return "".join(_folded(line) for line in lines)


def _escaped(text: str) -> str:
    for plain, safe in (
        ("\\", "\\\\"),
        (";", "\\;"),
        (",", "\\,"),
        ("\r\n", "\\n"),
        ("\n", "\\n"),
        ("\r", ""),
    ):
        text = text.replace(plain, safe)
    return text


def _folded(line: str) -> str:
    out, width = "", 0
    for char in line:
        size = len(char.encode())
        if width + size > 75:
            out += "\r\n "
            width = 1
        out += char
        width += size
    return out + "\r\n"
