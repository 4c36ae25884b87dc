"""From an edge that was planned to what is asked of it once it is rolled: only what was measured is left to type."""

from __future__ import annotations

from typing import Any

import numpy as np

from ribwright.core.audit import Outcome, Worksheet
from ribwright.core.audit.spec import raw_of
from ribwright.core.forming.nose_spec import NoseRoll
from ribwright.core.forming.nose_targets import targets_of
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
    opening = outcome.results["opening"]
    made = {
        name: raw[name]
        for name in ("alloy", "thickness", "grain", "certificate", "tools", "wrap")
        if raw.get(name)
    }
    return made | {
        "wanted": f"{radius:.4f} in",
        "arc": f"{min(max(arc, 20.0), 170.0):.1f} deg",
        "tool": f"{planned_diameter_in(spec, outcome):.4f} in",
        **(
            {"planned_low": f"{opening.low:.4f} in", "planned_high": f"{opening.high:.4f} in"}
            if opening.low is not None and opening.high is not None
            else {}
        ),
    }


def planned_diameter_in(spec: NoseRoll, outcome: Outcome) -> float:
    """Outside diameter, with its wrap, of the last tool that the plan takes."""
    last = "second_tool" if "second_tool" in outcome.results else "tool"
    turns = "second_wrap_turns" if last == "second_tool" else "wrap_turns"
    name, wound = str(outcome.results[last].value), float(outcome.results[turns].value)  # type: ignore[arg-type]
    bare = next(float(tool.outside.value) for tool in spec.tools if tool.name == name)
    return bare + 2.0 * wound * (float(spec.wrap.value) if spec.wrap is not None else 0.0)


def outer_outline_mm(spec: NoseRoll, *, place_in: float) -> np.ndarray:
    """The outer skin of the closed nose at a place: upper aft end, round the nose, lower aft end.

    Args:
        place_in: along the edge; the template nearest to it is taken.

    Returns:
        Shape (n, 2) in mm, x aft, y down, the nose at the left: what a gauge sheet is made round.
    """
    targets = targets_of(spec, Worksheet())
    target = min(targets, key=lambda one: abs(one.station_in - place_in))
    outer = target.points_in + 0.5 * float(spec.thickness.value) * target.normals
    # the template starts at the joint, which lies at the nose: its first direction is up the nose
    upper = np.column_stack([outer[:, 1], -outer[:, 0]])
    lower = upper * np.array([1.0, -1.0])
    return np.asarray(25.4 * np.vstack([upper[::-1], lower[1:]]))


def template_points_in(
    outline_in: np.ndarray, *, upper: bool, offset_in: float = 0.0, count: int = 25
) -> np.ndarray:
    """Half of a whole profile as the points of a template: from the nose, the inside of the skin.

    Args:
        outline_in: shape (n, 2), x aft, y down, from the upper aft end round the nose to the lower aft end.
        upper: the half above the nose, else the one below.
        offset_in: inwards, when the outline is the outside of the skin: its thickness.
        count: points given back, evenly spread.

    Returns:
        Shape (count, 2): along the first direction at the nose, and aft.
    """
    run = np.gradient(outline_in, axis=0)
    normal = np.column_stack([-run[:, 1], run[:, 0]]) / np.maximum(np.hypot(*run.T), 1e-12)[:, None]
    nose = int(np.argmin(outline_in[:, 0]))
    inwards = normal if normal[nose, 0] > 0 else -normal
    inner = outline_in + offset_in * inwards
    half = inner[nose::-1] if upper else inner[nose:]
    half = np.abs(half - half[0])
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(half, axis=0).T))])
    places = np.linspace(0.0, along[-1], count)
    return np.column_stack([np.interp(places, along, half[:, k]) for k in (1, 0)])
