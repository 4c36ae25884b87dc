"""The skin's deviation unrolled: a strip chart a station, made from the same data as the view in space."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from ribwright.core.scene import Scene
from ribwright.core.scene.strip import Strip, strip_charts

MOST = 7
"""Strips that one drawing holds; more stations are thinned out evenly, the ends kept."""


def skin_strips(data: Mapping[str, Any]) -> Scene | None:
    """Strip charts of a skin's data (see ``view_data``): where it was read, or what is expected at each template; else None."""
    strips = _read(data) if data.get("readings") else _expected(data) if data.get("expected") else []
    if not strips or not data["limit"]:
        return None
    if len(strips) > MOST:
        strips = [strips[round(k * (len(strips) - 1) / (MOST - 1))] for k in range(MOST)]
    read = bool(data.get("readings"))
    return strip_charts(
        strips,
        data["limit"],
        unit=data["unit"],
        along="upper side \u2190 from the foremost line \u2192 lower side" if read else "from the free edge",
        title="Read against the target" if read else "Expected against the templates",
        doubtful="not measured" if read else "not worked out",
    )


def _rows(data: Mapping[str, Any]) -> dict[float, list[tuple[float, float]]]:
    """Arc length and deviation of each station of the grid."""
    rows: dict[float, list[tuple[float, float]]] = {}
    for station, arc, off in zip(data["station"], data["arc"], data["off"], strict=True):
        rows.setdefault(station, []).append((arc, math.nan if off is None else off))
    return rows


def _read(data: Mapping[str, Any]) -> list[Strip]:
    rows = _rows(data)
    found: dict[float, dict[float, float]] = {}
    for one in data["readings"]:
        arc = -one["along"] if one["side"] == "upper" else one["along"]
        found.setdefault(one["station"], {})[arc] = one["off"]
    strips = []
    for station, offs in sorted(found.items()):
        near = rows[min(rows, key=lambda one, at=station: abs(one - at))]  # type: ignore[misc]
        low, high = min(a for a, _ in near), max(a for a, _ in near)
        places = {low: math.nan, high: math.nan} | offs
        strips.append(_strip(station, sorted(places.items())))
    return strips


def _expected(data: Mapping[str, Any]) -> list[Strip]:
    rows = _rows(data)
    strips = []
    for one in data["expected"]:
        station = min(rows, key=lambda at, wanted=one["station"]: abs(at - wanted))  # type: ignore[misc]
        strips.append(_strip(one["station"], sorted(rows[station])))
    return strips


def _strip(station: float, places: list[tuple[float, float]]) -> Strip:
    return Strip(f"STA {station:g}", [a for a, _ in places], [v for _, v in places])
