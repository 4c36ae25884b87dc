"""From a profile's photo and the plan of its edge to the next roll: which tool, how much further."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from ribwright.core.metrology.layout import layout_from
from ribwright.core.metrology.zone_bend import ZoneBend, zone_bend
from ribwright.errors import FormatError, FormingError, RibwrightError

_MM = 25.4
LARGEST_BENT_IN = 6.0  # inside radius beyond which no round tool is meant
PLAN_KEYS = ("alloy", "thickness", "grain", "certificate", "tool", "tools", "wrap")


def roll_of_input(typed: Mapping[str, Any]) -> Mapping[str, Any] | None:
    """The plan of the roll that may stand beside a photo as ``roll``: alloy, tool, tools, and where.

    Raises:
        FormatError: it is no mapping, or holds what no plan has.
    """
    roll = typed.get("roll")
    if roll is None:
        return None
    allowed = (*PLAN_KEYS, "zone")
    if not isinstance(roll, Mapping) or any(key not in allowed for key in roll):
        found = (
            ", ".join(k for k in roll if k not in allowed)
            if isinstance(roll, Mapping)
            else type(roll).__name__
        )
        raise FormatError("roll", found=found, allowed=", ".join(allowed))
    thickness = roll.get("thickness") or f"{float(typed.get('sheet_thickness_mm') or 0.0):g} mm"
    return {**roll, "thickness": thickness}


def next_roll(
    run: list[int], answer: Mapping[str, Any], layout: Mapping[str, Any], plan: Mapping[str, Any]
) -> str:
    """What to roll next for a run of places off the template; empty where the photo tells no bend.

    Args:
        run: places, neighbours.
        answer: what the photo said.
        layout: of its card.
        plan: inputs of *after the first roll* as the edge's plan has them.
    """
    bend = bend_of(run, answer, layout)
    if bend is None:
        return ""
    if abs(bend.lacks_deg) <= bend.u95_deg:
        return "how much turn it lacks can't be told from here"
    size = f"{abs(bend.lacks_deg):.0f}° (± {max(1.0, np.ceil(bend.u95_deg)):.0f}°)"
    said = f"its bend {'lacks' if bend.lacks_deg > 0 else 'has'} {size}" + (
        "" if bend.lacks_deg > 0 else " too much"
    )
    thickness = _thickness_in(plan)
    wanted = bend.wanted_mm / _MM - thickness
    found = bend.found_mm / _MM - thickness
    if not 0.05 <= wanted <= LARGEST_BENT_IN:
        return said
    found = min(found, 3.0 * wanted) if found > 0 else 3.0 * wanted
    half = min(np.radians(bend.arc_deg) / 2, 0.6)
    asked = {key: plan[key] for key in PLAN_KEYS if plan.get(key)} | {
        "thickness": f"{thickness:.4f} in",
        "wanted": f"{wanted:.4f} in",
        "chord": f"{2 * found * np.sin(half):.4f} in",
        "height": f"{found * (1 - np.cos(half)):.4f} in",
    }
    from ribwright.services.calculations import run_calculation

    try:
        results = run_calculation("nose-next-pass", asked).outcome.results
    except FormingError:
        return (
            f"{said}; a radius of {found:.2f} in is not what this sheet takes from a {_length_in(plan['tool']):.2f} in tool "
            "let go: it was held in the photo, or was not rolled as planned"
        )
    except RibwrightError as refused:
        return f"{said}; which tool can't be said from here ({refused.sentence()})"
    verdict = str(results["verdict"].value)
    if verdict == "stop":
        return (
            f"{said}; no more rolling: {results['because'].value}. Ease it to the template by hand, close it and "
            "photograph it again"
        )
    if verdict != "roll again":
        return f"{said}; {verdict}: {results['because'].value}"
    turns = int(float(results["wrap_turns"].value)) if "wrap_turns" in results else 0  # type: ignore[arg-type]
    tool = str(results["tool"].value) + (f" with {turns} turn{'s' * (turns != 1)} of wrap" if turns else "")
    # what the sheet turns on the tool comes back as less when let go: by the two middle-line radii
    across = _outside_in(plan, str(results["tool"].value)) + 2 * turns * _length_in(plan.get("wrap"))
    further = bend.lacks_deg * float(results["expected"].value) / (across / 2)  # type: ignore[arg-type]
    return f"{said}: roll again on {tool} ({across:.2f} in), {further:.0f}° further"


def bend_of(run: list[int], answer: Mapping[str, Any], layout: Mapping[str, Any]) -> ZoneBend | None:
    """Bend of a zone against the template's, from the photo's deviations."""
    target = layout_from(layout).target
    if target is None:
        return None
    return zone_bend(
        run,
        arc_mm=target.arc_mm,
        xy_mm=target.arc_xy_mm,
        normal=target.normal_out,
        deviation_mm=np.array(answer["deviation_bestfit_mm"], dtype=float),
        u95_mm=np.array(answer["u95_mm"], dtype=float),
    )


def _thickness_in(plan: Mapping[str, Any]) -> float:
    return _length_in(plan.get("thickness"))


def _length_in(text: Any) -> float:
    from ribwright.core.units import parse

    return parse(str(text), "in", field="thickness").to("in") if text else 0.0


def _outside_in(plan: Mapping[str, Any], name: str) -> float:
    return next(_length_in(tool["outside"]) for tool in plan["tools"] if str(tool["name"]) == name)
