"""A camera's projection and its derivatives, compiled: what solving it asks for some fifty times a photo."""

from __future__ import annotations

import numba
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@numba.njit(cache=True, nogil=True)  # type: ignore[untyped-decorator]
def _perspective(parameters: Floats, rotation: Floats, place: Floats) -> tuple[float, float, float]:
    """Where a place falls at distance 1 before the camera, and one over how far before it the place lies."""
    x, y, z = place
    depth = rotation[2, 0] * x + rotation[2, 1] * y + rotation[2, 2] * z + parameters[5]
    near = 1.0 / depth if depth != 0.0 else 1.0
    a = (rotation[0, 0] * x + rotation[0, 1] * y + rotation[0, 2] * z + parameters[3]) * near
    b = (rotation[1, 0] * x + rotation[1, 1] * y + rotation[1, 2] * z + parameters[4]) * near
    return a, b, near


@numba.njit(cache=True, nogil=True)  # type: ignore[untyped-decorator]
def projected(parameters: Floats, rotation: Floats, xyz: Floats) -> Floats:
    """Picture coordinates (n, 2) of points (n, 3): perspective, then lens terms, then focal length and centre."""
    focal, cx, cy, k1, k2, p1, p2 = parameters[6:13]
    out = np.empty((len(xyz), 2))
    for i in range(len(xyz)):
        a, b, _ = _perspective(parameters, rotation, xyz[i])
        r2 = a * a + b * b
        wide = 1.0 + k1 * r2 + k2 * r2 * r2
        out[i, 0] = focal * (a * wide + 2 * p1 * a * b + p2 * (r2 + 2 * a * a)) + cx
        out[i, 1] = focal * (b * wide + p1 * (r2 + 2 * b * b) + 2 * p2 * a * b) + cy
    return out


@numba.njit(cache=True, nogil=True)  # type: ignore[untyped-decorator]
def derived(
    parameters: Floats, rotation: Floats, turning: Floats, xyz: Floats, bow: Floats, stretch_mm: Floats
) -> tuple[Floats, Floats]:
    """As ``projected``, with the derivatives by all seventeen parameters, (2n, 17).

    ``turning`` is that of the rotation matrix by the rotation's three numbers, (3, 9); ``bow`` (n, 3) and
    ``stretch_mm`` (n, 2) are how each point moves out of the sheet and along it with their parameters.
    """
    focal, cx, cy, k1, k2, p1, p2 = parameters[6:13]
    out, jac = np.empty((len(xyz), 2)), np.empty((2 * len(xyz), 17))
    for i in range(len(xyz)):
        x, y, z = xyz[i]
        a, b, near = _perspective(parameters, rotation, xyz[i])
        r2 = a * a + b * b
        wide, slope = 1.0 + k1 * r2 + k2 * r2 * r2, 2 * (k1 + 2 * k2 * r2)
        for axis in range(2):
            row, own, other = 2 * i + axis, (a, b)[axis], (b, a)[axis]
            tangential, along = (p1, p2)[axis], (p2, p1)[axis]
            bent = own * wide + 2 * tangential * a * b + along * (r2 + 2 * own * own)
            out[i, axis] = focal * bent + (cx, cy)[axis]
            # by the two perspective coordinates, then by the place before the camera
            by_own = focal * (wide + own * own * slope + 2 * tangential * other + 6 * along * own)
            by_other = focal * (own * other * slope + 2 * tangential * own + 2 * along * other)
            by_a, by_b = (by_own, by_other) if axis == 0 else (by_other, by_own)
            dx, dy, dz = by_a * near, by_b * near, -(by_a * a + by_b * b) * near
            for k in range(3):
                jac[row, k] = (
                    dx * (turning[k, 0] * x + turning[k, 1] * y + turning[k, 2] * z)
                    + dy * (turning[k, 3] * x + turning[k, 4] * y + turning[k, 5] * z)
                    + dz * (turning[k, 6] * x + turning[k, 7] * y + turning[k, 8] * z)
                )
            jac[row, 3], jac[row, 4], jac[row, 5] = dx, dy, dz
            jac[row, 6], jac[row, 7], jac[row, 8] = bent, 1.0 - axis, axis
            jac[row, 9], jac[row, 10] = focal * own * r2, focal * own * r2 * r2
            jac[row, 11 + axis] = focal * 2 * a * b
            jac[row, 12 - axis] = focal * (r2 + 2 * own * own)
            out_of = dx * rotation[0, 2] + dy * rotation[1, 2] + dz * rotation[2, 2]
            for k in range(3):
                jac[row, 13 + k] = out_of * bow[i, k]
            jac[row, 16] = (dx * rotation[0, 0] + dy * rotation[1, 0] + dz * rotation[2, 0]) * stretch_mm[
                i, 0
            ] + (dx * rotation[0, 1] + dy * rotation[1, 1] + dz * rotation[2, 1]) * stretch_mm[i, 1]
    return out, jac
