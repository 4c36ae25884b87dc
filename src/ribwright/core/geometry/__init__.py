"""Shapes as numbers: outlines with true arcs, aerofoil sections, lofted and developed surfaces."""

from ribwright.core.geometry.aerofoil import naca_section, naca_thickness, respaced, section_from_text
from ribwright.core.geometry.biarcs import ArcFit, with_arcs
from ribwright.core.geometry.curves import Smoothed, arc_length_in, parallel, resampled, smoothed
from ribwright.core.geometry.develop import (
    FlatSkin,
    Skin,
    flat_of,
    on_skin,
    skin_between,
    skin_through,
    to_flat,
    to_space,
)
from ribwright.core.geometry.lofts import Loft, Mesh, PlaneCut, cut, loft, mesh, section_at, sections_at
from ribwright.core.geometry.nose import nose_outline
from ribwright.core.geometry.offset import offset_outline
from ribwright.core.geometry.outlines import (
    Outline,
    area_in2,
    circle_outline,
    crossing,
    filleted,
    flattened,
    length_in,
    outline,
)

__all__ = [
    "ArcFit",
    "FlatSkin",
    "Loft",
    "Mesh",
    "Outline",
    "PlaneCut",
    "Skin",
    "Smoothed",
    "arc_length_in",
    "area_in2",
    "circle_outline",
    "crossing",
    "cut",
    "filleted",
    "flat_of",
    "flattened",
    "length_in",
    "loft",
    "mesh",
    "naca_section",
    "naca_thickness",
    "nose_outline",
    "offset_outline",
    "on_skin",
    "outline",
    "parallel",
    "resampled",
    "respaced",
    "section_at",
    "section_from_text",
    "sections_at",
    "skin_between",
    "skin_through",
    "smoothed",
    "to_flat",
    "to_space",
    "with_arcs",
]
