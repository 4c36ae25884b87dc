"""The list of all calculations, generated and committed, so that listing or running one imports no other.

The index lies with the tables (``data/calculations.json``); the
development command ``scripts/generate.py`` writes it from :func:`found`, and a test holds it against that.
"""

from __future__ import annotations

import importlib
import json
import pkgutil
from dataclasses import asdict, dataclass
from functools import cache

from ribwright.core.audit.calculation import CALCULATIONS, Calculation
from ribwright.core.audit.spec import Field, fields_of
from ribwright.core.tables.loader import index_text
from ribwright.errors import UnknownNameError


@dataclass(frozen=True, slots=True)
class Entry:
    """One calculation in the index: enough to list it, nothing that must be imported."""

    name: str
    title: str
    summary: str
    module: str
    fields: tuple[dict[str, object], ...]
    results: tuple[str, ...]


@cache
def entries() -> tuple[Entry, ...]:
    """All calculations by name, from the committed index, read once."""
    raw = json.loads(index_text())
    return tuple(
        Entry(**{**one, "fields": tuple(one["fields"]), "results": tuple(one["results"])}) for one in raw
    )


TRADES = {
    "fastening": "Rivets, bolts, holes", "forming": "Bending and rolling", "templates": "Templates and gauges", "stores": "Stores",
    "massprops": "Weight, balance, rigging, tanks", "flight": "Flight and wiring", "planning": "Hours and dates",
}  # fmt: skip
"""What each domain is called where calculations are listed, in the order in which a builder meets them."""


def by_trade() -> dict[str, tuple[Entry, ...]]:
    """All calculations under the name of their trade, each by its title."""
    made: dict[str, list[Entry]] = {title: [] for title in TRADES.values()}
    for entry in sorted(entries(), key=lambda one: one.title.lower()):
        made[TRADES[entry.module.split(".")[2]]].append(entry)
    return {title: tuple(some) for title, some in made.items()}


def load(name: str) -> Calculation:
    """The calculation of this name; imports its module and no other domain.

    Raises:
        UnknownNameError: there is none; the sentence lists those nearest in spelling.
    """
    known = {entry.name: entry for entry in entries()}
    entry = known.get(name)
    if entry is None:
        import difflib

        near = difflib.get_close_matches(name, known, n=4, cutoff=0.3) or list(known)[:8]
        raise UnknownNameError(
            "calculation", found=name, allowed=", ".join(near), mend="`ribwright calc --list` shows all."
        )
    importlib.import_module(entry.module)
    return CALCULATIONS[name]


def found() -> tuple[Entry, ...]:
    """What the index must hold: every domain imported, every calculation seen. Used when generating and in tests."""
    import ribwright.core as core

    for module in pkgutil.walk_packages(core.__path__, "ribwright.core."):
        if not module.name.endswith("_compiled"):
            importlib.import_module(module.name)
    made = []
    for calc in sorted(CALCULATIONS.values(), key=lambda c: c.name):
        made.append(
            Entry(
                calc.name, calc.title, calc.summary, calc.run.__module__,
                tuple(_field(f) for f in fields_of(calc.spec)), calc.result_keys,
            )
        )  # fmt: skip
    return tuple(made)


def text_of(made: tuple[Entry, ...]) -> str:
    """The index as it is committed."""
    return json.dumps([asdict(entry) for entry in made], indent=1, ensure_ascii=False, sort_keys=True) + "\n"


def _field(field: Field) -> dict[str, object]:
    said: dict[str, object] = {
        "name": field.name,
        "kind": field.kind,
        "label": field.label,
        "help": field.help,
    }
    if field.unit:
        said["unit"] = field.unit
    if field.example:
        said["example"] = field.example
    if field.choices:
        said["choices"] = list(field.choices)
    if field.optional or field.default is not None or field.kind == "flag":
        said["optional"] = True
    if field.row is not None:
        said["row"] = [_field(f) for f in fields_of(field.row)]
    return said
