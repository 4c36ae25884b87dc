"""Surfaces from sections: straight-tapered or smooth along the span, cut at a station or by any plane.

Sections lie in planes of one station each: x aft, y up, z the station along the span. All sections have
the same number of points, and points of the same number belong together.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from ribwright.core.geometry.curves import Spline, evaluate, resampled, spline
from ribwright.core.geometry.outlines import FloatArray
from ribwright.errors import GeometryError, OutsideTableError


@dataclass(frozen=True, slots=True, eq=False)
class Loft:
    """Stations (k,) rising, and a section (k, n, 2) at each."""

    stations_in: FloatArray
    sections_in: FloatArray
    smooth: bool = False


def loft(
    stations_in: Sequence[float] | FloatArray,
    sections_in: Sequence[FloatArray],
    *,
    smooth: bool = False,
) -> Loft:
    """A surface through sections; sections of unequal count are resampled evenly along their length.

    Raises:
        GeometryError: fewer than two sections, or two at one station.
    """
    stations = np.asarray(stations_in, dtype=np.float64)
    if len(stations) < 2 or len(stations) != len(sections_in):
        raise GeometryError(
            "sections", because="a surface needs at least two sections, each with its station"
        )
    order = np.argsort(stations, kind="stable")
    stations = stations[order]
    if (np.diff(stations) <= 0).any():
        k = int(np.flatnonzero(np.diff(stations) <= 0)[0])
        raise GeometryError(
            "sections", because="two sections lie at one station", found=f"{stations[k]:g} in"
        )
    sections = [np.asarray(sections_in[int(k)], dtype=np.float64) for k in order]
    counts = {len(s) for s in sections}
    if len(counts) > 1:
        sections = [resampled(s, max(counts)) for s in sections]
    stacked = np.stack(sections)
    if not (np.isfinite(stacked).all() and np.isfinite(stations).all()):
        raise GeometryError("sections", because="a point lies at no finite place")
    return Loft(stations, stacked, smooth and len(stations) > 2)


def sections_at(made: Loft, stations_in: Sequence[float] | FloatArray) -> FloatArray:
    """Sections (m, n, 2) at stations (m,).

    Raises:
        OutsideTableError: beyond the first or last section; a surface is never carried on past its end.
    """
    at = np.atleast_1d(np.asarray(stations_in, dtype=np.float64))
    low, high = made.stations_in[0], made.stations_in[-1]
    outside = (at < low - 1e-9) | (at > high + 1e-9) | ~np.isfinite(at)
    if outside.any():
        raise OutsideTableError(
            "station",
            found=f"{at[np.flatnonzero(outside)[0]]:g} in",
            allowed=f"{low:g} to {high:g} in",
            mend="Give a section there, or choose a station between",
        )
    shape = made.sections_in.shape
    if made.smooth:
        flat = evaluate(_along(made), at)
        return flat.reshape(len(at), *shape[1:])
    k = np.clip(np.searchsorted(made.stations_in, at, side="right") - 1, 0, shape[0] - 2)
    share = (at - made.stations_in[k]) / (made.stations_in[k + 1] - made.stations_in[k])
    a, b = made.sections_in[k], made.sections_in[k + 1]
    s = share[:, None, None]
    return np.asarray((1 - s) * a + s * b)


def section_at(made: Loft, station_in: float) -> FloatArray:
    """The section (n, 2) at one station; see :func:`sections_at`."""
    return np.asarray(sections_at(made, [station_in])[0])


def _along(made: Loft) -> Spline:
    flat = made.sections_in.reshape(len(made.stations_in), -1)
    return spline(flat, made.stations_in)


@dataclass(frozen=True, slots=True, eq=False)
class PlaneCut:
    """Where a plane meets a surface: in space (n, 3), and in the plane (n, 2) from its given point."""

    points_in: FloatArray
    in_plane_in: FloatArray


def cut(made: Loft, point_in: Sequence[float], normal: Sequence[float]) -> PlaneCut:
    """The curve in which a plane cuts the surface.

    Args:
        made: the surface.
        point_in: a point (x, y, z) of the plane; the origin of the plane's own coordinates.
        normal: direction square to the plane, of any length. The plane's first axis is the one nearest
            to x, its second completes a right-handed set as seen from the side to which z grows.

    Raises:
        GeometryError: the plane misses a part of the surface; says which.
    """
    p = np.asarray(point_in, dtype=np.float64)
    n = np.asarray(normal, dtype=np.float64)
    size = float(np.linalg.norm(n))
    if not (np.isfinite(n).all() and np.isfinite(p).all()) or size < 1e-12:
        raise GeometryError("plane", because="its direction has no length")
    n = n / size * (-1.0 if n[2] < 0 else 1.0)
    fine = made.stations_in
    if made.smooth:
        fine = np.unique(np.concatenate([np.linspace(a, b, 33) for a, b in pairwise(fine)]))
    grid = _in_space(sections_at(made, fine), fine)
    away = (grid - p) @ n
    sign = away > 0
    changes = sign[1:] != sign[:-1]
    missed = np.flatnonzero(~changes.any(axis=0))
    if missed.size:
        k = int(missed[0])
        raise GeometryError(
            "plane",
            because="the plane leaves the surface before it has cut all of it",
            found=f"it misses point {k + 1} of the section, {missed.size} of {grid.shape[1]} in all",
            mend="Move the plane, or give sections further out",
        )
    row = np.argmax(changes, axis=0)
    column = np.arange(grid.shape[1])
    f0, f1 = away[row, column], away[row + 1, column]
    z0, z1 = fine[row], fine[row + 1]
    z = z0 + (z1 - z0) * f0 / (f0 - f1)
    found = _rules_at(made, z)
    if made.smooth:
        for _ in range(30):
            f = (found - p) @ n
            if np.abs(f).max() < 1e-12:
                break
            keep = np.sign(f) == np.sign(f0)
            z0, f0 = np.where(keep, z, z0), np.where(keep, f, f0)
            z1, f1 = np.where(keep, z1, z), np.where(keep, f1, f)
            z = z0 + (z1 - z0) * f0 / (f0 - f1)
            found = _rules_at(made, z)
    first = np.array([1.0, 0.0, 0.0]) - n[0] * n
    if np.linalg.norm(first) < 1e-9:
        first = np.array([0.0, 0.0, 1.0])
    first = first / np.linalg.norm(first)
    second = np.cross(n, first)
    return PlaneCut(found, np.stack([(found - p) @ first, (found - p) @ second], axis=1))


def _rules_at(made: Loft, z: FloatArray) -> FloatArray:
    """Point j of the surface at its own station z[j]."""
    column = np.arange(len(z))
    return _in_space(sections_at(made, z)[column, column][:, None], z)[:, 0]


def _in_space(sections: FloatArray, z: FloatArray) -> FloatArray:
    depth = np.broadcast_to(z[:, None, None], (*sections.shape[:2], 1))
    return np.concatenate([sections, depth], axis=2)


@dataclass(frozen=True, slots=True, eq=False)
class Mesh:
    """Triangles for a view in space: vertices (m, 3), triangles (k, 3), and for each vertex its station and
    its length along the section from the section's first point."""

    vertices_in: FloatArray
    triangles: np.ndarray
    station_in: FloatArray
    arc_in: FloatArray


def mesh(made: Loft, *, along: int = 24, across: int = 96) -> Mesh:
    """A grid of ``along`` by ``across`` points on the surface, in triangles."""
    stations = np.linspace(made.stations_in[0], made.stations_in[-1], along)
    dense = sections_at(made, stations)
    picked = np.linspace(0, dense.shape[1] - 1, min(across, dense.shape[1])).round().astype(int)
    run = np.concatenate(
        [np.zeros((along, 1)), np.cumsum(np.linalg.norm(np.diff(dense, axis=1), axis=2), axis=1)], axis=1
    )
    grid = _in_space(dense[:, picked], stations)
    n = len(picked)
    first = (np.arange(along - 1)[:, None] * n + np.arange(n - 1)[None]).ravel()
    faces = np.concatenate(
        [
            np.stack([first, first + 1, first + n], axis=1),
            np.stack([first + 1, first + n + 1, first + n], axis=1),
        ]
    )
    return Mesh(grid.reshape(-1, 3), faces.astype(np.int32), np.repeat(stations, n), run[:, picked].ravel())
