"""Lines of points: arc length, even spacing, normals."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def arc_length_mm(points_mm: Floats) -> Floats:
    """Length along a line of points, shape (n, 2) -> (n,), beginning at 0."""
    return np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points_mm, axis=0).T))])


def resampled(points_mm: Floats, step_mm: float) -> Floats:
    """The same line with points at even distances of about ``step_mm``, both ends kept."""
    along = arc_length_mm(points_mm)
    count = max(round(float(along[-1]) / step_mm), 1) + 1
    at = np.linspace(0.0, along[-1], count)
    return np.column_stack([np.interp(at, along, points_mm[:, i]) for i in (0, 1)])


def unit_normals(points_mm: Floats) -> Floats:
    """Unit normals to the right of the direction of travel, seen on paper with y down.

    On an outline that runs over the top towards the nose on the left and back below, they point away
    from the enclosed area.
    """
    run = np.gradient(points_mm, axis=0)
    length = np.maximum(np.hypot(run[:, 0], run[:, 1]), 1e-12)
    return np.column_stack([-run[:, 1], run[:, 0]]) / length[:, None]
