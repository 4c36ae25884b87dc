"""The bill of materials of an installed Ribwright: every package it needs, with version and licence.

``python scripts/bill_of_materials.py [--extra postgres --extra scale] [--out bill.json]``

Follows the requirements as they are installed. Ends with 1 when a licence is unknown or is not free. The form is
CycloneDX 1.5, an open one.
"""

from __future__ import annotations

import argparse
import json
import re
import sys
from importlib import metadata
from typing import Any

from packaging.requirements import Requirement

FREE = (
    "MIT", "MIT-0", "BSD", "0BSD", "BSD-2-Clause", "BSD-3-Clause", "Apache-2.0", "ISC", "PSF-2.0", "Python-2.0",
    "MPL-2.0", "LGPL-2.1", "LGPL-3.0", "LGPL-3.0-only", "LGPL-3.0-or-later", "Zlib", "CC0-1.0", "Unlicense", "HPND", "MIT-CMU",
)  # fmt: skip
"""Licences under which what needs these packages may be given on as it is (SPDX names)."""

_CLASSIFIERS = {
    "MIT License": "MIT",
    "BSD License": "BSD",
    "Apache Software License": "Apache-2.0",
    "ISC License (ISCL)": "ISC",
    "Python Software Foundation License": "PSF-2.0",
    "Mozilla Public License 2.0 (MPL 2.0)": "MPL-2.0",
    "GNU Lesser General Public License v3 (LGPLv3)": "LGPL-3.0",
    "GNU Library or Lesser General Public License (LGPL)": "LGPL-2.1",
    "Historical Permission Notice and Disclaimer (HPND)": "HPND",
}
_WORDS = {
    "mit license": "MIT",
    "the mit license": "MIT",
    "bsd license": "BSD",
    "bsd": "BSD",
    "new bsd": "BSD-3-Clause",
    "3-clause bsd license": "BSD-3-Clause",
    "bsd 3-clause": "BSD-3-Clause",
    "apache 2.0": "Apache-2.0",
    "apache license 2.0": "Apache-2.0",
    "apache license, version 2.0": "Apache-2.0",
    "psf": "PSF-2.0",
}


def licence_of(found: metadata.Distribution) -> str:
    """The licence as an SPDX expression; "" when the package doesn't say one that is known."""
    said = found.metadata
    stated = (said.get("License-Expression") or "").strip()
    if stated:
        return stated
    named = [_CLASSIFIERS.get(c.rpartition(" :: ")[2], c.rpartition(" :: ")[2])
             for c in said.get_all("Classifier") or () if c.startswith("License :: ") and c != "License :: OSI Approved"]  # fmt: skip
    if named:
        return " AND ".join(dict.fromkeys(named))
    free_text = (said.get("License") or "").strip()
    return _WORDS.get(free_text.casefold(), free_text if free_text in FREE else "") or _of_its_text(found)


def _of_its_text(found: metadata.Distribution) -> str:
    """By the title of the licence's own text, where the package says nothing else."""
    for name in found.metadata.get_all("License-File") or ():
        text = found.read_text(f"licenses/{name}") or found.read_text(name) or ""
        title = next((line.strip().casefold() for line in text.splitlines() if line.strip()), "")
        if title in _WORDS:
            return _WORDS[title]
    return ""


def is_free(expression: str) -> bool:
    """Whether an SPDX expression leaves a way that is free: all of an AND, one of an OR."""
    if not expression.strip():
        return False
    flat = re.sub(r"[()]", " ", expression)
    return all(
        any(_one_is_free(choice) for choice in re.split(r"\bOR\b", part))
        for part in re.split(r"\bAND\b", flat)
    )


def _one_is_free(name: str) -> bool:
    return re.sub(r"\s+WITH\s+.*", "", name.strip()) in FREE


def needed(root: str, extras: tuple[str, ...]) -> dict[str, metadata.Distribution]:
    """Every package that is needed, by name.

    Raises:
        PackageNotFoundError: one of them is not installed.
    """
    found: dict[str, metadata.Distribution] = {}
    open_ends: list[tuple[str, tuple[str, ...]]] = [(root, extras)]
    done: set[tuple[str, tuple[str, ...]]] = set()
    while open_ends:
        end = open_ends.pop()
        if end in done:
            continue
        done.add(end)
        package = metadata.distribution(end[0])
        found[re.sub(r"[-_.]+", "-", end[0]).lower()] = package
        for text in package.requires or ():
            need = Requirement(text)
            marks = [{"extra": extra} for extra in (*end[1], "")]
            if need.marker is None or any(need.marker.evaluate(mark) for mark in marks):
                open_ends.append((need.name, tuple(sorted(need.extras))))
    return found


def bill(root: str, extras: tuple[str, ...]) -> tuple[dict[str, Any], list[str]]:
    """The bill, and a sentence for each package that fails."""
    parts, wrong = [], []
    packages = needed(root, extras)
    own = packages.pop(root)
    for name, package in sorted(packages.items()):
        licence = licence_of(package)
        if not is_free(licence):
            wrong.append(f"{name} {package.version}: licence {licence or 'not known'}")
        parts.append(
            {
                "type": "library", "name": name, "version": package.version,
                "purl": f"pkg:pypi/{name}@{package.version}",
                "licenses": [{"expression": licence}] if licence else [],
            }
        )  # fmt: skip
    made = {
        "bomFormat": "CycloneDX",
        "specVersion": "1.5",
        "version": 1,
        "metadata": {"component": {"type": "application", "name": root, "version": own.version}},
        "components": parts,
    }
    return made, wrong


def main() -> int:
    parser = argparse.ArgumentParser()
    parser.add_argument("--extra", action="append", default=[], help="An optional part that is given on too.")
    parser.add_argument("--out", help="Write the bill here; else to standard output.")
    said = parser.parse_args()
    made, wrong = bill("ribwright", tuple(said.extra))
    text = json.dumps(made, indent=1, sort_keys=True) + "\n"
    if said.out:
        with open(said.out, "w", encoding="utf-8") as file:
            file.write(text)
    else:
        sys.stdout.write(text)
    for sentence in wrong:
        print(sentence, file=sys.stderr)
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
