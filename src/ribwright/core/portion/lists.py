"""Lists of tasks as text that a builder edits: one TOML a country, columns and tasks, each with its rung."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from ribwright.core.tables import RUNGS, table
from ribwright.errors import FormatError, MissingError, OutOfRangeError, UnknownNameError

MOST_TASKS = 1000
MOST_COLUMNS = 8
MOST_TEXT = 200_000
_KEY = re.compile(r"[A-Z][A-Z0-9-]{0,19}")
BLANK = """# A list of tasks for another country or another form: put its own lines here.
name = "ours"
country = "name of the country"
rule = "the rule that it serves, and its edition"
rung = "practice"
least_share = ""

[[column]]
key = "A"
title = "others"
builder = false

[[column]]
key = "B"
title = "the builder"
builder = true

[[task]]
key = "T01"
section = "wings"
title = "form ribs"
"""


@dataclass(frozen=True, slots=True)
class Column:
    """A column of credit; ``builder`` says that it counts for the builder."""

    key: str
    title: str
    builder: bool


@dataclass(frozen=True, slots=True)
class PortionTask:
    """A line of the list. ``rung`` says where its words come from."""

    key: str
    section: str
    title: str
    rung: str


@dataclass(frozen=True, slots=True)
class PortionList:
    """A country's list.

    Attributes:
        name: short, for files.
        country: whose.
        rule: the rule that it serves, in words.
        rung: of the words of the tasks as a whole.
        least_share: percent that the builder's columns must reach, or None where no number is entered.
        least_rung: how far that number can be trusted.
        columns, tasks: in their order.
    """

    name: str
    country: str
    rule: str
    rung: str
    least_share: float | None
    least_rung: str
    columns: tuple[Column, ...]
    tasks: tuple[PortionTask, ...]

    def task(self, key: str) -> PortionTask:
        """The line of this key.

        Raises:
            UnknownNameError: there is none.
        """
        found = next((one for one in self.tasks if one.key == key), None)
        if found is None:
            raise UnknownNameError(
                "task", found=key, allowed=f"a key of the list “{self.name}”, such as {self.tasks[0].key}"
            )
        return found


def starting_list() -> PortionList:
    """What a new project has: the columns of the published checklist, and tasks in our own words to start from."""
    rule = table("regulations/portion-rule")
    share = rule.cell("least share of the builder", "share")
    words = table("regulations/portion-tasks")
    tasks = []
    sections: dict[str, int] = {}
    for title in words.row_keys():
        section = words.cell(title, "section").text
        sections[section] = sections.get(section, 0) + 1
        letter = "".join(word[0] for word in section.split() if word != "and").upper()
        tasks.append(PortionTask(f"{letter}{sections[section]:02d}", section, title, words.rung))
    return PortionList(
        "us", "United States of America", f"14 CFR 21.191(g); {rule.source.cited(rule.locator)}", words.rung, share.value, share.rung,
        (
            Column("A", "manufacturer: kit, part or component", False), Column("B", "commercial assistance", False),
            Column("C", "amateur assembly", True), Column("D", "amateur fabrication", True),
        ),
        tuple(tasks),
    )  # fmt: skip


def list_to_toml(made: PortionList) -> str:
    """The list as text to be edited and taken in again."""
    lines = [
        "# Tasks for the major portion. Put the lines of the form that your authority uses in place of these.",
        f"name = {_text(made.name)}", f"country = {_text(made.country)}", f"rule = {_text(made.rule)}", f"rung = {_text(made.rung)}",
        f"least_share = {_text('' if made.least_share is None else f'{made.least_share:g}')}", f"least_rung = {_text(made.least_rung)}",
    ]  # fmt: skip
    for column in made.columns:
        lines += [
            "",
            "[[column]]",
            f"key = {_text(column.key)}",
            f"title = {_text(column.title)}",
            f"builder = {'true' if column.builder else 'false'}",
        ]
    for task in made.tasks:
        lines += [
            "",
            "[[task]]",
            f"key = {_text(task.key)}",
            f"section = {_text(task.section)}",
            f"title = {_text(task.title)}",
        ]
        if task.rung != made.rung:
            lines.append(f"rung = {_text(task.rung)}")
    return "\n".join(lines) + "\n"


def list_from_toml(text: str) -> PortionList:
    """Read an edited list.

    Raises:
        FormatError, MissingError, UnknownNameError, OutOfRangeError: naming the line's key.
    """
    if len(text) > MOST_TEXT:
        raise FormatError("list of tasks", found=f"{len(text):,} characters", allowed=f"up to {MOST_TEXT:,}")
    try:
        raw = tomllib.loads(text.lstrip("\ufeff"))
    except (tomllib.TOMLDecodeError, RecursionError) as problem:
        raise FormatError(
            "list of tasks", found=str(problem)[:200], allowed="TOML with [[column]] and [[task]]"
        ) from None
    known = {"name", "country", "rule", "rung", "least_share", "least_rung", "column", "task"}
    for name in raw:
        if name not in known:
            raise UnknownNameError("list of tasks", found=name, allowed=", ".join(sorted(known)))
    rung = _rung(raw.get("rung", "practice"), "rung")
    columns = tuple(
        _column(row, f"column {n}") for n, row in enumerate(_tables(raw, "column", MOST_COLUMNS), 1)
    )
    tasks = tuple(_task(row, f"task {n}", rung) for n, row in enumerate(_tables(raw, "task", MOST_TASKS), 1))
    for what, keys in (("column", [c.key for c in columns]), ("task", [t.key for t in tasks])):
        twice = next((key for key in keys if keys.count(key) > 1), "")
        if twice:
            raise FormatError(f"{what} key", found=f"{twice} twice", allowed="each once")
    if not any(c.builder for c in columns) or all(c.builder for c in columns):
        raise FormatError(
            "column: builder", found="all alike", allowed="at least one for the builder and one for others"
        )
    return PortionList(
        _said(raw, "name", "list of tasks"), _said(raw, "country", "list of tasks"), str(raw.get("rule", ""))[:500], rung, _share(raw.get("least_share", "")),
        _rung(raw.get("least_rung", "practice"), "least_rung"), columns, tasks,
    )  # fmt: skip


def _tables(raw: Mapping[str, Any], name: str, most: int) -> Sequence[Mapping[str, Any]]:
    rows = raw.get(name)
    if not rows:
        raise MissingError(f"list of tasks: {name}", mend=f"Enter at least one [[{name}]].")
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise FormatError(f"list of tasks: {name}", found="not a list of tables", allowed=f"[[{name}]]")
    if len(rows) > most:
        raise OutOfRangeError(f"list of tasks: {name}", found=len(rows), allowed=f"up to {most}")
    return rows


def _known(row: Mapping[str, Any], names: tuple[str, ...], where: str) -> None:
    for name in row:
        if name not in names:
            raise UnknownNameError(where, found=name, allowed=", ".join(names))


def _column(row: Mapping[str, Any], where: str) -> Column:
    _known(row, ("key", "title", "builder"), where)
    builder = row.get("builder", False)
    if not isinstance(builder, bool):
        raise FormatError(f"{where}: builder", found=builder, allowed="true or false")
    return Column(_key(row, where), _said(row, "title", where), builder)


def _task(row: Mapping[str, Any], where: str, rung: str) -> PortionTask:
    _known(row, ("key", "section", "title", "rung"), where)
    return PortionTask(
        _key(row, where),
        _said(row, "section", where),
        _said(row, "title", where),
        _rung(row.get("rung", rung), f"{where}: rung"),
    )


def _key(row: Mapping[str, Any], where: str) -> str:
    key = row.get("key", "")
    if not isinstance(key, str) or not _KEY.fullmatch(key):
        raise FormatError(f"{where}: key", found=key, allowed="capital letters and digits, such as W01")
    return key


def _said(row: Mapping[str, Any], name: str, where: str) -> str:
    value = row.get(name, "")
    if not isinstance(value, str) or not value.strip():
        raise MissingError(f"{where}: {name}", found=value if value != "" else None, allowed="text")
    if len(value) > 200 or not value.isprintable():
        raise FormatError(f"{where}: {name}", found=value[:60], allowed="up to 200 printable characters")
    return value.strip()


def _rung(value: object, where: str) -> str:
    if value not in RUNGS or value == "compared":
        raise UnknownNameError(where, found=value, allowed=", ".join(RUNGS[1:]))
    return str(value)


def _share(value: object) -> float | None:
    text = str(value).strip().removesuffix("%").strip()
    if not text:
        return None
    if not re.fullmatch(r"\d{1,3}(\.\d{1,3})?", text, re.ASCII) or not 0 < float(text) <= 100:
        raise OutOfRangeError("least_share", found=value, allowed="above 0, up to 100 per cent, or empty")
    return float(text)


def _text(value: str) -> str:
    return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'
