"""A formula as a person letters it. What tests run stays as it is written; this is only for reading."""

from __future__ import annotations

import re

_POWERS = {"2": "²", "3": "³"}
_UNITS = re.compile(r"(?<!per)_(in|psi|lbf|lb|mm|deg)$")
"""Dropped from a name: worksheets reckon in inches, pounds, psi and degrees. Other units stay and are read with the name."""
_TEMPERATURE = re.compile(r"_([cf])$")
_SAID = {
    "minimum": "lesser of ", "maximum": "greater of ", "radians": "", "degrees": "", "clip": "held between ", "where": "if ",
}  # fmt: skip


def lettered(formula: str) -> str:
    """``d_in**2 * maximum(a_in, b_in)`` as ``d² × greater of (a, b)``.

    Args:
        formula: printed text of a formula, or the same with numbers put in.

    Returns:
        The same, with signs of the trade in place of a program's; names lose their unit and their underscores.
    """
    said = re.sub(r" ?\*\* ?(?:\((-?[\d./ ]+)\)|(-?[\d.]+))", _power, formula)
    said = re.sub(r"\b(radians|degrees)\((-?[\w.]+)\)", _angle, said)
    said = said.replace(" ** ", "^").replace("**", "^").replace(" * ", " × ").replace("*", "×")
    return re.sub(r"[A-Za-z][A-Za-z0-9_]*", _name, said)


def _power(found: re.Match[str]) -> str:
    number = (found[1] or found[2]).strip()
    return _POWERS.get(number, f"^({number})" if found[1] else f"^{number}")


def _angle(found: re.Match[str]) -> str:
    return f"{found[2]}°" if found[1] == "radians" and re.fullmatch(r"-?[\d.]+", found[2]) else found[2]


def _name(found: re.Match[str]) -> str:
    word = found[0]
    if word in _SAID and found.string[found.end() : found.end() + 1] == "(":
        return _SAID[word]
    if "_" not in word:
        return word
    word = _TEMPERATURE.sub(lambda unit: f" °{unit[1].upper()}", word)
    return _UNITS.sub("", word).replace("_", " ")
