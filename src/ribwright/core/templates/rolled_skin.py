"""The skin of a rolled edge in space: wanted at its templates, and coloured by how far the roll is expected to miss.

One layer: the middle of the sheet, straight along the span between the templates, the inner ends in line and
level. What is coloured is worked out, not measured.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np

from ribwright.core.audit import Worksheet
from ribwright.core.forming.nose_roll import solved
from ribwright.core.forming.nose_spec import NoseRoll
from ribwright.core.forming.nose_targets import targets_of
from ribwright.core.forming.target import Target, deviation_in, profile_in
from ribwright.core.geometry import mesh
from ribwright.core.geometry.develop import flat_of, skin_through
from ribwright.core.geometry.lofts import Mesh, loft
from ribwright.core.geometry.outlines import FloatArray

STATIONS, ROUND = 25, 60
FLAT_TWIST_DEG, FLAT_STRETCH_IN = 0.5, 0.005
"""A skin within both is laid flat without a difference that a rolled edge shows."""


def wanted_sections(targets: tuple[Target, ...]) -> list[FloatArray]:
    """Each template's middle line as it stands in the aeroplane: x aft from the inner end, y up, edge first."""
    out = []
    for target in targets:
        # the skin behind the curve lies aft; the curve rises from its edge
        end = float(np.sum(target.curvature_per_in) * target.step_in)
        c, s = np.cos(-end), np.sin(-end)
        points = (target.points_in - target.points_in[-1]) @ np.array([[c, s], [-s, c]])
        out.append(points * np.array([1.0, -1.0 if points[0, 1] > 0.0 else 1.0]))
    return out


def wanted_skin(spec: NoseRoll) -> Mesh | None:
    """Triangles of the wanted skin, arc length from the free edge; None where one template alone is given."""
    if len(spec.stations) < 2:
        return None
    return _meshed(targets_of(spec, Worksheet()))


def _meshed(targets: tuple[Target, ...]) -> Mesh:
    made = loft([t.station_in for t in targets], wanted_sections(targets))
    return mesh(made, along=STATIONS, across=ROUND)


def flatness(targets: tuple[Target, ...]) -> tuple[float, float]:
    """Largest twist along a ruling (degrees) and stretch (in) of the wanted skin laid flat, template to template."""
    worst = [
        flat_of(
            skin_through(a, b, station_first_in=one.station_in, station_second_in=two.station_in, count=201)
        )
        for (one, a), (two, b) in pairwise(zip(targets, wanted_sections(targets), strict=True))
    ]
    return max(f.twist_deg for f in worst), max(f.stretch_in for f in worst)


def rolled_skin(spec: NoseRoll) -> dict[str, Any] | None:
    """What a page needs to draw it: see ``view_data``; ``expected`` holds a row a template, ``said`` the sentences."""
    if len(spec.stations) < 2:
        return None
    found = solved(spec, Worksheet())
    targets = found.targets
    made = _meshed(targets)
    off = np.array(
        [
            deviation_in(profile_in(curvature, target.step_in), target)
            for curvature, target in zip(found.recipe.expected_per_in, targets, strict=True)
        ]
    )
    picked = np.linspace(0, off.shape[1] - 1, ROUND).round().astype(int)
    places = np.array([t.station_in for t in targets])
    along = np.linspace(places[0], places[-1], STATIONS)
    laid = np.column_stack([np.interp(along, places, off[:, k]) for k in picked])
    twist, stretch = flatness(targets)
    # a template's direction is known to one of its chords
    chord = float(np.degrees(max(np.max(t.curvature_per_in) * t.step_in for t in targets)))
    turns = [float(np.degrees(np.sum(t.curvature_per_in) * t.step_in)) for t in targets]
    if max(turns) - min(turns) > FLAT_TWIST_DEG + chord:
        flat = (
            f"From edge to straight the templates turn by {min(turns):.0f} to {max(turns):.0f}°: bends must run out at the edge between "
            "them, which no roll along the edge makes. Give them the same turn, or expect waves."
        )
    elif twist <= FLAT_TWIST_DEG + chord and stretch <= FLAT_STRETCH_IN:
        flat = f"It can be rolled from flat sheet: its planes turn by no more than {FLAT_TWIST_DEG + chord:.1f}° along a ruling, which is how fine the templates are read, and nothing stretches by more than {max(stretch, 0.001):.3f} in."
    else:
        flat = (
            f"It can't be rolled from flat sheet without force: its planes turn by {twist:.2f}° along a ruling, {stretch:.3f} in of "
            "stretch. Expect waves between the templates."
        )
    return {
        "vertices": np.round(made.vertices_in, 5).tolist(), "triangles": made.triangles.tolist(),
        "station": np.round(made.station_in, 4).tolist(), "arc": np.round(made.arc_in, 4).tolist(),
        "off": np.round(laid.ravel(), 5).tolist(), "limit": float(spec.tolerance.value), "unit": "in", "readings": [],
        "edge": True,
        "expected": [
            {"station": t.station_in, "length": float(t.step_in * (off.shape[1] - 1)), "inside": float(-o.min()), "outside": float(o.max())}
            for t, o in zip(targets, off, strict=True)
        ],
        "said": [
            "The surface is the one wanted; the colours show where the roll is expected to leave it, for a sheet of working values. "
            "Nothing here was measured.",
            flat,
        ],
    }  # fmt: skip
