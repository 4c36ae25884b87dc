"""What each calculation's input promised: ``docs/promises.json``, and what a change breaks of it.

    python scripts/promises.py            says what is broken and writes what came anew

A field that goes away, a unit that changes, a field that must now be entered, a narrower limit or a choice that goes
away breaks what somebody stored or scripted: then the version of that input goes up (``SCHEMA_VERSIONS``).
"""

from __future__ import annotations

import json
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[1]
KEPT = ROOT / "docs" / "promises.json"


def promise(schema: Mapping[str, Any]) -> dict[str, Any]:
    """What a schema promises, without its words.

    A value holds a field's ``unit``, ``choices``, ``low`` and ``high`` where it has them, ``must`` when it can't be
    left out, and ``rows`` with the same of its columns.
    """
    made = {}
    for name, said in schema["properties"].items():
        one: dict[str, Any] = {"must": name in schema["required"]}
        named = (
            ("unit", "x-unit"),
            ("choices", "enum"),
            ("low", "minimum"),
            ("high", "maximum"),
            ("least", "minItems"),
        )
        one |= {ours: said[theirs] for ours, theirs in named if theirs in said}
        if "items" in said:
            one["rows"] = promise(said["items"])
        made[name] = one
    return made


def broken(before: Mapping[str, Any], now: Mapping[str, Any], where: str = "") -> list[str]:
    """What of an earlier promise no longer holds, one sentence each."""
    found = [
        f"{where}{name} must now be entered"
        for name, one in now.items()
        if one["must"] and not before.get(name, {}).get("must")
    ]
    for name, old in before.items():
        new, field = now.get(name), f"{where}{name}"
        if new is None:
            found.append(f"{field} is gone")
            continue
        if old.get("unit") != new.get("unit"):
            found.append(f"{field} was in {old.get('unit')!r} and is in {new.get('unit')!r}")
        gone = set(old.get("choices", ())) - set(new.get("choices", old.get("choices", ())))
        found += [f"{field} can no longer be {choice!r}" for choice in sorted(gone)]
        if new.get("low", -1e99) > old.get("low", -1e99) or new.get("least", 0) > old.get("least", 0):
            found.append(f"{field} can no longer be as small")
        if new.get("high", 1e99) < old.get("high", 1e99):
            found.append(f"{field} can no longer be as large")
        if "rows" in old:
            found += broken(old["rows"], new.get("rows", {}), f"{field}.")
    return found


def current() -> dict[str, dict[str, Any]]:
    """Version and promise of every calculation, as the program stands."""
    from ribwright.core.audit import index
    from ribwright.services.calculations import schema_of

    made = {}
    for name in sorted(entry.name for entry in index.entries()):
        said = schema_of(name)
        made[name] = {"version": int(said["$id"].rsplit(":", 1)[1]), "fields": promise(said)}
    return made


def faults(before: Mapping[str, Any], now: Mapping[str, Any]) -> list[str]:
    """Promises broken without a higher version; a calculation that is gone is one too."""
    found = []
    for name, old in before.items():
        new = now.get(name)
        if new is None:
            found.append(f"{name}: the calculation is gone")
        elif new["version"] < old["version"]:
            found.append(f"{name}: version {old['version']} went back to {new['version']}")
        elif new["version"] == old["version"]:
            found += [f"{name}: {said}; raise its version" for said in broken(old["fields"], new["fields"])]
    return found


def main() -> int:
    """Say what is broken; else keep what is promised now."""
    now = current()
    found = faults(json.loads(KEPT.read_text(encoding="utf-8")), now) if KEPT.exists() else []
    for line in found:
        print(line)
    if not found:
        lines = (
            f"{json.dumps(name)}:{json.dumps(one, separators=(',', ':'), sort_keys=True)}"
            for name, one in now.items()
        )
        KEPT.write_text("{\n" + ",\n".join(lines) + "\n}\n", encoding="utf-8")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
