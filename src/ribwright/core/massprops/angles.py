"""Angles of rigging: from a rise, from the trailing edge's way, from a level read both ways round; a least-squares fit."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ribwright.core.audit import formula
from ribwright.errors import GeometryError

Floats = NDArray[np.float64]


@formula(
    "rig.slope",
    symbol="a",
    shown="degrees(asin(rise_in / length_in))",
    unit="deg",
    source="fales",
    locator="alignment: natural sine of 1 degree times the distance gives the rise",
    rung="seen",
    limits={"rise_in": (-20.0, 20.0), "length_in": (20.5, 1000.0)},
)
def slope_angle_deg(*, rise_in: ArrayLike, length_in: ArrayLike) -> Floats:
    """Angle of a straight edge or string of a length whose ends differ by a rise."""
    return np.degrees(np.arcsin(np.asarray(rise_in, float) / np.asarray(length_in, float)))


@formula(
    "rig.travel",
    symbol="d",
    shown="degrees(2 * asin(edge_in / (2 * radius_in)))",
    unit="deg",
    source="statics",
    locator="chord of a circle",
    rung="derived",
    limits={"edge_in": (0.0, 30.0), "radius_in": (15.5, 100.0)},
    excuse="one isosceles triangle: an edge that moves by its radius has turned 60 degrees",
)
def edge_travel_deg(*, edge_in: ArrayLike, radius_in: ArrayLike) -> Floats:
    """Travel of a surface whose trailing edge moved by a straight distance, at a radius from the hinge."""
    return np.degrees(2 * np.arcsin(np.asarray(edge_in, float) / (2 * np.asarray(radius_in, float))))


@formula(
    "level.reversed",
    symbol="a",
    shown="(reading_deg - turned_deg) / 2",
    unit="deg",
    source="statics",
    locator="a level read both ways round",
    rung="derived",
    limits={"reading_deg": (-90.0, 90.0), "turned_deg": (-90.0, 90.0)},
    excuse="turned end for end, the slope changes its sign and the level's own error does not",
)
def reversed_level_deg(*, reading_deg: ArrayLike, turned_deg: ArrayLike) -> Floats:
    """True slope from a level read once each way round: its own error cancels."""
    return (np.asarray(reading_deg, float) - np.asarray(turned_deg, float)) / 2


@formula(
    "level.error",
    symbol="e",
    shown="(reading_deg + turned_deg) / 2",
    unit="deg",
    source="statics",
    locator="a level read both ways round",
    rung="derived",
    limits={"reading_deg": (-90.0, 90.0), "turned_deg": (-90.0, 90.0)},
    excuse="what is left of both readings when the slope cancels",
)
def level_error_deg(*, reading_deg: ArrayLike, turned_deg: ArrayLike) -> Floats:
    """The level's own error, from readings both ways round."""
    return (np.asarray(reading_deg, float) + np.asarray(turned_deg, float)) / 2


def fitted(design: ArrayLike, observed: ArrayLike, *, u: ArrayLike) -> tuple[Floats, Floats]:
    """Weighted linear least squares.

    Args:
        design: shape (n, p), one row a measurement.
        observed: n values, in any one unit.
        u: half-widths of their bands, same unit.

    Returns:
        The p coefficients, and the matrix whose diagonal holds the squared half-widths of their bands.

    Raises:
        GeometryError: the measurements don't determine all coefficients.
    """
    a, y, w = np.asarray(design, float), np.asarray(observed, float), 1 / np.asarray(u, float)
    weighted = a * w[:, None]
    scale = np.linalg.norm(weighted, axis=0)
    if len(a) < a.shape[1] or not (scale > 0).all() or np.linalg.matrix_rank(weighted / scale) < a.shape[1]:
        raise GeometryError(
            "Measured points", found=f"{len(a)} that say too little", allowed="points apart from each other",
            because="they leave the line undetermined", mend="Measure more points, farther apart.",
        )  # fmt: skip
    inverse = np.linalg.pinv(weighted)
    return inverse @ (y * w), inverse @ inverse.T
