"""Where each hole of a row lies in each part that it joins, in the part's own coordinates."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ribwright.errors import GeometryError

Floats = NDArray[np.float64]

ROUGH_IN = 0.002
"""Rows are written to a thousandth of an inch at both ends."""


def hole_table(join: Mapping[str, Any], positions_in: Sequence[float]) -> Floats:
    """Hole centres in one part, shape (n, 2).

    Args:
        join: ``part``, ``axes`` and ``row``: first and last hole as two points, as text.
        positions_in: holes along the row as the calculation lays them out, from the datum end.

    Raises:
        GeometryError: the part's row is not as long as the row that was laid out.
    """
    start, end = (np.array([float(one) for one in point]) for point in join["row"])
    along = np.asarray(positions_in, float)
    run, length = float(along[-1] - along[0]), float(np.hypot(*(end - start)))
    if abs(run - length) > ROUGH_IN:
        raise GeometryError(
            f"row in {join['part']}", found=f"{length:.3f} in long", allowed=f"{run:.3f} in, as the row is laid out",
            mend="Correct where the row lies in this part.",
        )  # fmt: skip
    share = (along - along[0])[:, None] / (run or 1.0)
    return np.asarray(start + share * (end - start), dtype=np.float64)


def inside(outline: Sequence[Sequence[str]], points_in: Floats) -> tuple[NDArray[np.bool_], Floats]:
    """Which points lie inside a closed outline, and their distance to its nearest edge.

    Args:
        outline: corners as text, in order, the first not repeated.
        points_in: shape (n, 2).

    Returns:
        Inside or not, and distance to the edge, each of shape (n,).
    """
    corners = np.array([[float(a), float(b)] for a, b in outline])
    a, b = corners[None, :, :], np.roll(corners, -1, axis=0)[None, :, :]
    p = points_in[:, None, :]
    crosses = (a[..., 1] > p[..., 1]) != (b[..., 1] > p[..., 1])
    rise = np.where(b[..., 1] == a[..., 1], 1.0, b[..., 1] - a[..., 1])
    at = a[..., 0] + (p[..., 1] - a[..., 1]) * (b[..., 0] - a[..., 0]) / rise
    within = (np.sum(crosses & (p[..., 0] < at), axis=1) % 2).astype(bool)
    edge = b - a
    share = np.clip(np.sum((p - a) * edge, axis=2) / np.maximum(np.sum(edge**2, axis=2), 1e-12), 0.0, 1.0)
    nearest = a + share[..., None] * edge
    distance = np.min(np.hypot(p[..., 0] - nearest[..., 0], p[..., 1] - nearest[..., 1]), axis=1)
    return within, np.asarray(distance, dtype=np.float64)
