"""From an edge that was planned to what is asked of it once it is rolled: only what was measured is left to type."""

from __future__ import annotations

from typing import Any

import numpy as np

from ribwright.core.audit import Outcome, Worksheet
from ribwright.core.audit.spec import raw_of
from ribwright.core.forming.nose_spec import NoseRoll, targets_of
from ribwright.errors import OutOfRangeError


def rolled_as_planned(spec: NoseRoll, outcome: Outcome, *, place_in: float | None = None) -> dict[str, Any]:
    """Inputs of *after the first roll* by field name, as the plan has them at one place along the edge.

    Args:
        spec: the edge.
        outcome: what its plan came to.
        place_in: along the edge from the lever's end; None is the middle of the templates.

    Raises:
        OutOfRangeError: a place beyond the section.
    """
    length = float(spec.length.value)
    if place_in is not None and not 0.0 <= place_in <= length:
        raise OutOfRangeError("Place", found=f"{place_in:g} in", allowed=f"0 to {length:g} in along the edge")
    targets = targets_of(spec, Worksheet())
    places = np.array([target.station_in for target in targets])
    wanted = np.array([1.0 / max(float(np.max(target.curvature_per_in)), 1e-6) for target in targets])
    arcs = np.array([float(np.sum(target.curvature_per_in) * target.step_in) for target in targets])
    at = float(np.mean(places)) if place_in is None else place_in
    order = np.argsort(places)
    radius = float(np.interp(at, places[order], wanted[order])) - 0.5 * float(spec.thickness.value)
    arc = float(np.degrees(np.interp(at, places[order], arcs[order])))
    raw = raw_of(spec)
    made = {
        name: raw[name]
        for name in ("alloy", "thickness", "grain", "certificate", "tools", "wrap")
        if raw.get(name)
    }
    return made | {
        "wanted": f"{radius:.4f} in",
        "arc": f"{min(max(arc, 20.0), 170.0):.1f} deg",
        "tool": f"{planned_diameter_in(spec, outcome):.4f} in",
    }


def planned_diameter_in(spec: NoseRoll, outcome: Outcome) -> float:
    """Outside diameter, with its wrap, of the last tool that the plan takes."""
    last = "second_tool" if "second_tool" in outcome.results else "tool"
    turns = "second_wrap_turns" if last == "second_tool" else "wrap_turns"
    name, wound = str(outcome.results[last].value), float(outcome.results[turns].value)  # type: ignore[arg-type]
    bare = next(float(tool.outside.value) for tool in spec.tools if tool.name == name)
    return bare + 2.0 * wound * (float(spec.wrap.value) if spec.wrap is not None else 0.0)
