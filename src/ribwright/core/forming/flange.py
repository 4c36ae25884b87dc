"""Bowed ribs, flutes, flanged holes, joggles, twist: short geometry for form block, pliers and level."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ribwright.core.audit import formula

Floats = NDArray[np.float64]


@formula(
    "flute.excess_bow",
    symbol="D",
    shown="8 * bow_in * height_in / (2 * length_in)",
    unit="in",
    source="forming-method",
    locator="flutes: a bow is a curvature 8 b / L^2 times half the rib's height, over L",
    rung="derived",
    limits={"bow_in": (0.0, 5.0), "length_in": (1.0, 200.0), "height_in": (0.2, 40.0)},
    excuse="geometry of a shallow arc",
)
def excess_from_bow_in(*, bow_in: ArrayLike, length_in: ArrayLike, height_in: ArrayLike) -> Floats:
    """How much a pressed rib's flange is too long, from the bow of its web over a length."""
    b, length, h = (np.asarray(a, float) for a in (bow_in, length_in, height_in))
    return np.asarray(8.0 * b * h / (2.0 * length))


@formula(
    "flute.takeup",
    symbol="u",
    shown="pi**2 * depth_in**2 / (4 * width_in)",
    unit="in",
    source="forming-method",
    locator="flutes: half a wave of depth d over a width p is longer than p by pi^2 d^2 / (4 p)",
    rung="derived",
    limits={"depth_in": (0.005, 0.2), "width_in": (0.2, 2.0)},
    excuse="length of a shallow sine wave",
)
def flute_takeup_in(*, depth_in: ArrayLike, width_in: ArrayLike) -> Floats:
    """Length of flange that one flute takes up."""
    d, p = np.asarray(depth_in, float), np.asarray(width_in, float)
    return np.asarray(np.pi**2 * d**2 / (4.0 * p))


@formula(
    "flange.hole_blank",
    symbol="d",
    shown="inside_diameter_in - 2 * (height_in - radius_in - thickness_in) + 2 * radius_in"
    " - pi * (radius_in + thickness_in / 2)",
    unit="in",
    source="forming-method",
    locator="flanged hole: length of the section kept, square flange",
    rung="derived",
    limits={
        "inside_diameter_in": (1.5, 40.0),
        "height_in": (0.2, 0.5),
        "radius_in": (0.03, 0.1),
        "thickness_in": (0.012, 0.08),
    },
    excuse="geometry; thinning of the stretched edge is left out, so the flange comes out a little short",
)
def hole_blank_in(
    *, inside_diameter_in: ArrayLike, height_in: ArrayLike, radius_in: ArrayLike, thickness_in: ArrayLike
) -> Floats:
    """Diameter to cut before a square flange is pressed round a lightening hole."""
    d, h, r, t = (np.asarray(a, float) for a in (inside_diameter_in, height_in, radius_in, thickness_in))
    return np.asarray(d - 2.0 * (h - r - t) + 2.0 * r - np.pi * (r + t / 2.0))


@formula(
    "flange.stretch",
    symbol="e",
    shown="inside_diameter_in / blank_in - 1",
    unit="",
    source="forming-method",
    locator="flanged hole: the edge grows from the blank's circle to the flange's",
    rung="derived",
    limits={"inside_diameter_in": (0.2, 40.0), "blank_in": (0.1, 40.0)},
    excuse="ratio of two circles",
)
def edge_stretch_share(*, inside_diameter_in: ArrayLike, blank_in: ArrayLike) -> Floats:
    """Stretch of the edge of a flanged hole; the sheet's elongation is its limit."""
    return np.asarray(np.asarray(inside_diameter_in, float) / np.asarray(blank_in, float) - 1.0)


@formula(
    "joggle.length",
    symbol="j",
    shown="hypot(run_in, depth_in)",
    unit="in",
    source="statics",
    locator="a joggle's slope",
    rung="derived",
    limits={"run_in": (0.02, 10.0), "depth_in": (0.005, 1.0)},
    excuse="one right triangle",
)
def joggle_length_in(*, run_in: ArrayLike, depth_in: ArrayLike) -> Floats:
    """Length of sheet along a joggle whose step is taken over a run."""
    return np.hypot(np.asarray(run_in, float), np.asarray(depth_in, float))


@formula(
    "twist.straight_edges",
    symbol="w",
    shown="degrees(atan(rise_in / span_in))",
    unit="deg",
    source="statics",
    locator="slope of a straight edge",
    rung="derived",
    limits={"rise_in": (-5.0, 5.0), "span_in": (2.0, 100.0)},
    excuse="one right triangle",
)
def slope_deg(*, rise_in: ArrayLike, span_in: ArrayLike) -> Floats:
    """Slope of a line from its rise over a span."""
    return np.degrees(np.arctan(np.asarray(rise_in, float) / np.asarray(span_in, float)))
