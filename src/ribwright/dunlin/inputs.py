"""Drawing data for calculations other than the plain row: a bend, a rolled nose, a wedge, pull-type rivets.

What no calculation covers (a bought bracket, a bent steel fitting) has an empty name; it has its stages all the same.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from ribwright.core.audit import read
from ribwright.core.audit.index import load
from ribwright.core.fastening.spacing import spaces_for
from ribwright.dunlin.rows import FLUSH, Joined, row
from ribwright.dunlin.things import DRAWING_REVISION, Point, Thing, apart, inch, points, size_of

PULL_RIVET = "MS20600AD4W2"
TOOLS = (
    ("1/2 in pipe", "0.840", "0.622", "steel"), ("3/4 in pipe", "1.050", "0.824", "PVC pipe"), ("1 in pipe", "1.315", "1.049", "PVC pipe"),
    ("1-1/4 in pipe", "1.660", "1.380", "PVC pipe"), ("1-1/2 in tube", "1.500", "1.370", "aluminium"), ("7/8 in rod", "0.875", "", "steel"),
    ("1-1/8 in bar", "1.125", "", "aluminium"),
)  # fmt: skip
"""Round tools that the builder has: nominal name, outside, inside, material."""

_BENT = {
    "2024-T3 clad": "2024-T3 clad",
    "2024-T3": "2024-T3",
    "6061-T6": "6061-T6",
    "6061-T4": "6061-T4",
    "5052-H32": "5052-H32",
}
_FLANGE_IN = 0.625


def bend_inputs(part: Thing, how: str) -> tuple[str, dict[str, Any]]:
    """The calculation of a bent part, and its drawing data: a web with a flange each side, or an angle."""
    data = part.data
    thickness = float(data["thickness"])
    material = _BENT.get(str(data.get("material", "")))
    if material is None:
        return "", {}
    ratio = 4.0 if material.startswith("2024") else 3.0
    web, _ = size_of(points(data["outline"]))
    radius = inch(max(ratio * thickness, 0.0625))
    if how == "bracket":
        legs = [{"length": "0.9 in", "bend": "90 deg"}, {"length": inch(web) + " in"}]
    else:
        legs = [
            {"length": f"{_FLANGE_IN} in", "bend": "90 deg"}, {"length": f"{inch(max(web, 1.2))} in", "bend": "90 deg"},
            {"length": f"{_FLANGE_IN} in"},
        ]  # fmt: skip
    return "bend-flat", {
        "title": part.title, "drawing": str(data.get("drawing", "")), "revision": DRAWING_REVISION, "alloy": material,
        "thickness": f"{data['thickness']} in", "radius": f"{radius} in", "legs": legs,
    }  # fmt: skip


def nose_inputs(
    *, title: str, drawing: str, hand: str, length: float, radius: tuple[float, float], thickness: str
) -> tuple[str, dict[str, Any]]:
    """The calculation of a rolled nose section, and its drawing data: a quarter turn of each skin, tapered."""
    tools = [
        {
            "name": name,
            "outside": f"{outside} in",
            **({"inside": f"{inside} in"} if inside else {}),
            "material": material,
        }
        for name, outside, inside, material in TOOLS
    ]
    return "nose-roll", {
        "title": title, "drawing": drawing, "revision": DRAWING_REVISION, "hand": hand, "alloy": "2024-T3 clad",
        "thickness": f"{thickness} in", "length": f"{inch(length)} in", "levers": "both ends",
        "stations": [
            {"place": f"{inch(place)} in", "radius": f"{inch(r)} in", "arc": "90 deg"}
            for place, r in ((0.0, radius[0]), (length / 2, sum(radius) / 2), (length, radius[1]))
        ],
        "tools": tools,
    }  # fmt: skip


def template_inputs(
    *,
    part: str,
    drawing: str,
    hand: str,
    length: float,
    radius: tuple[float, float],
    thickness: str,
    places: Sequence[float],
) -> tuple[str, dict[str, Any]]:
    """The calculation of the nose's profile templates: the drawn ends, and where a board is cut."""
    return "profile-templates", {
        "part": part, "drawing": drawing, "revision": DRAWING_REVISION, "hand": hand, "thickness": f"{thickness} in",
        "kind": "female", "touches": "outside",
        "ends": [
            {
                "station": f"{inch(place)} in", "inside_radius": f"{inch(r)} in", "upper_flat": f"{inch(2.6 * r)} in",
                "lower_flat": f"{inch(2.6 * r)} in", "slope": "5.5 deg",
            }
            for place, r in ((0.0, radius[0]), (length, radius[1]))
        ],
        "stations": [{"station": f"{inch(place)} in"} for place in places],
    }  # fmt: skip


def wedge_row(
    seed: int,
    ref: str,
    parent: str,
    title: str,
    upper: Thing,
    wedge: Thing,
    lower: Thing,
    called: bool,
    *,
    start: Point,
    end: Point,
    hand: str,
    pitch: float,
    space: str,
    after_rivet: Sequence[str],
) -> Thing:
    """A trailing edge: both skins on a wedge, riveted flush on both sides.

    Args:
        start, end: first and last hole, in the coordinates that skins and wedge share.
        after_rivet: stages that come before its riveting.
    """
    run = apart(start, end)
    made = row(
        seed, ref, parent, title, tuple(Joined(part, start, end) for part in (upper, wedge, lower)), run, hand=hand,
        pitch=pitch, space=space, called=called, fit=True,
    )  # fmt: skip
    stages = [
        {**stage, "after": list(after_rivet)} if stage["name"] == "rivet" else stage
        for stage in made.data["stages"]
    ]
    inputs = {
        "title": title, "drawing": made.data["drawing"], "revision": DRAWING_REVISION, "hand": hand,
        "near_skin": f"{upper.data['thickness']} in", "far_skin": f"{lower.data['thickness']} in", "half_angle": "5.5 deg",
        "edge_thickness": ".010 in", "from_edge_first": "0.4 in", "from_edge_last": "0.4 in", "first": "0.375 in",
        "last": f"{inch(0.375 + run)} in", "part_length": f"{inch(run + 0.75)} in", "size": "3/32",
        "pitch": f"{inch(pitch)} in",
    }  # fmt: skip
    return replace(
        made,
        data={
            **made.data,
            "calculation": "wedge-row",
            "inputs": inputs,
            "stages": stages,
            "head_side": "outside, both faces",
            "fasteners": [{"part_number": _wedge_rivet(inputs), "count": made.data["fasteners"][0]["count"]}],
        },
    )


def _wedge_rivet(inputs: Mapping[str, Any]) -> str:
    """The rivet that the wedge's own calculation takes, for the hardware list (it may be cut to length)."""
    made = load("wedge-row")
    lengths = str(made.outcome(read(made.spec, inputs)).results["lengths"].value)
    return lengths.split(":")[1].split()[0].rstrip(",;")


def pull_row(
    seed: int,
    ref: str,
    parent: str,
    title: str,
    joined: Sequence[Joined],
    run: float,
    *,
    hand: str,
    pitch: float,
    closes: str = "",
    space: str = "",
    after: Sequence[str] = (),
    after_rivet: Sequence[str] = (),
) -> Thing:
    """A row of 1/8 in pull-type rivets with protruding heads."""
    made = row(
        seed, ref, parent, title, joined, run, hand=hand, head="universal", size="1/8", pitch=pitch, ends=(0.4, 0.4),
        closes=closes, space=space, after=after,
    )  # fmt: skip
    holes = spaces_for(0.4, 0.4 + run, pitch) + 1
    stages = [
        {**stage, "after": list(after_rivet), "helper": "no"} if stage["name"] == "rivet" else stage
        for stage in made.data["stages"]
    ]
    inputs = {
        "title": title, "drawing": made.data["drawing"], "revision": DRAWING_REVISION, "hand": hand, "rivet": PULL_RIVET,
        "head": "universal", "diameter": "1/8 in", "hole_low": ".128 in", "hole_high": ".132 in", "grip_low": ".031 in",
        "grip_high": ".125 in", "first": "0.4 in", "last": f"{inch(0.4 + run)} in", "part_length": f"{inch(run + 0.8)} in",
        "pitch": f"{inch(pitch)} in",
        "layers": [
            {"part": one.part.title, "thickness": f"{one.part.data['thickness']} in", "material": one.part.data["material"]} for one in joined
        ],
    }  # fmt: skip
    return replace(
        made,
        data={
            **made.data, "calculation": "pull-rivet-row", "inputs": inputs, "stages": stages, "pull_type": "yes",
            "fasteners": [{"part_number": PULL_RIVET, "count": str(holes)}],
        },
    )  # fmt: skip


__all__ = [
    "DRAWING_REVISION",
    "FLUSH",
    "bend_inputs",
    "nose_inputs",
    "pull_row",
    "template_inputs",
    "wedge_row",
]
