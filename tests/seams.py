"""The seam that several tests enter: the Dunlin's left aileron, upper skin to spar."""

from __future__ import annotations

from typing import Any

SEAM: dict[str, Any] = {
    "title": "upper skin to spar, left aileron",
    "drawing": "DN-2100",
    "revision": "B",
    "hand": "left",
    "first": "3/4 in",
    "last": "57-1/4 in",
    "part_length": "58 in",
    "pitch": "1-1/8 in",
    "layers": [
        {"part": "DN-2101 upper skin", "thickness": ".020", "edge_distance": "5/16 in"},
        {"part": "DN-2110 spar", "thickness": ".040", "edge_distance": "5/16 in"},
    ],
    "exceptions": [{"hole": "7", "what": "left open", "reason": "hinge bracket goes in later"}],
}


def flat(raw: dict[str, Any], prefix: str = "") -> dict[str, str]:
    """The same as a web form's flat names."""
    form: dict[str, str] = {}
    for key, value in raw.items():
        if isinstance(value, list):
            for number, row in enumerate(value):
                form |= flat(row, f"{prefix}{key}.{number}.")
        else:
            form[prefix + key] = str(value)
    return form


REF = "DN-21-S01"
