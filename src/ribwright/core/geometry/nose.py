"""The section of a skin that is rolled round a nose: two flats tangent to one arc.

x runs aft from the foremost point of the arc, y up.
"""

from __future__ import annotations

import numpy as np

from ribwright.core.geometry.outlines import Outline, refuse_crossing
from ribwright.errors import OutOfRangeError


def nose_outline(
    *,
    radius_in: float,
    upper_flat_in: float,
    lower_flat_in: float,
    upper_slope_deg: float,
    lower_slope_deg: float | None = None,
) -> Outline:
    """Open outline from the end of the upper flat round the nose to the end of the lower flat.

    Args:
        radius_in: radius of this surface at the nose.
        upper_flat_in, lower_flat_in: length of each flat from where the arc ends.
        upper_slope_deg, lower_slope_deg: how each flat runs towards the chord line going aft; the lower
            one as the upper one when left out.

    Raises:
        OutOfRangeError: a radius or flat that is not above 0, a slope beyond 45 degrees.
        GeometryError: the flats cross aft of the nose.
    """
    lower = upper_slope_deg if lower_slope_deg is None else lower_slope_deg
    for name, value in (
        ("nose radius", radius_in),
        ("upper flat", upper_flat_in),
        ("lower flat", lower_flat_in),
    ):
        if not (np.isfinite(value) and 0 < value < 1e4):
            raise OutOfRangeError(name, found=value, allowed="more than 0 in")
    for name, value in (("upper slope", upper_slope_deg), ("lower slope", lower)):
        if not -45 <= value <= 45:
            raise OutOfRangeError(name, found=value, allowed="-45 to 45 degrees")
    au, al = np.radians(upper_slope_deg), np.radians(lower)
    top = np.array([radius_in * (1 + np.sin(au)), radius_in * np.cos(au)])
    low = np.array([radius_in * (1 + np.sin(al)), -radius_in * np.cos(al)])
    end_u = top + upper_flat_in * np.array([np.cos(au), -np.sin(au)])
    end_l = low + lower_flat_in * np.array([np.cos(al), np.sin(al)])
    refuse_crossing(np.array([end_u, top, low, end_l]), False, "flats")
    turn = np.pi + au + al
    return Outline(np.array([end_u, top, low, end_l]), np.array([0.0, np.tan(turn / 4), 0.0, 0.0]), False)
