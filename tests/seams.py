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

NOSE_REF = "DN-21-N01"
NOSE = {
    "title": "roll nose section 2", "drawing": "DN-2100", "revision": "B", "hand": "left", "alloy": "2024-T3 clad",
    "thickness": ".020 in", "length": "25 in", "levers": "both ends",
    "stations": [{"place": "0 in", "radius": "1.083 in", "arc": "90 deg"}, {"place": "25 in", "radius": "0.937 in", "arc": "90 deg"}],
    "tools": [
        {"name": "1 in pipe", "outside": "1.315 in", "inside": "1.049 in", "material": "PVC pipe"},
        {"name": "1-1/2 in tube", "outside": "1.500 in", "inside": "1.370 in", "material": "aluminium"},
        {"name": "1-1/8 in bar", "outside": "1.125 in", "material": "aluminium"},
    ],
}  # fmt: skip
