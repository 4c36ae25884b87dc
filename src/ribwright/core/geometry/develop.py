"""Skins that can be rolled from flat sheet: their rulings, their flat, and how far they are from it.

Two section curves in parallel planes carry exactly one developable surface whose rulings join points of
equal direction. Where the directions can't be matched the surface is unrolled all the same, and the
result says how much the sheet would have to stretch. Equations: docs/physics/developable.md.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ribwright.core.geometry.outlines import FloatArray, Outline, arc_points
from ribwright.errors import GeometryError


@dataclass(frozen=True, slots=True, eq=False)
class Skin:
    """Rulings of a skin: ends (n, 3) on the first and on the second section, in order along the sections."""

    first_in: FloatArray
    second_in: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class FlatSkin:
    """A skin laid flat: the same rulings in the plane, (n, 2) each.

    ``stretch_in`` is the largest difference, at the quarter points of the rulings, between lengths along the
    skin and along its flat; ``twist_deg`` the largest angle between the skin's planes at the two ends of a
    ruling. Both are 0 for a skin that can be rolled without stretching.
    """

    skin: Skin
    first_in: FloatArray
    second_in: FloatArray
    stretch_in: float
    twist_deg: float


def skin_between(
    first: Outline, second: Outline, *, station_first_in: float, station_second_in: float, per_arc: int = 361
) -> Skin:
    """Rulings between two sections of the same make-up: stroke by stroke, arcs by equal share of their turn.

    Exact when each pair of strokes has the same directions, as in a nose of constant wedge angle whose
    radius tapers.

    Raises:
        GeometryError: different numbers of strokes, a line against an arc, or two sections at one station.
    """
    if len(first.bulges) != len(second.bulges) or first.closed or second.closed:
        raise GeometryError(
            "sections", because="the two sections must be open and made of as many lines and arcs"
        )
    a, b = [first.points_in[:1]], [second.points_in[:1]]
    for n in range(len(first.points_in) - 1):
        p, q = float(first.bulges[n]), float(second.bulges[n])
        if (abs(p) < 1e-12) != (abs(q) < 1e-12):
            raise GeometryError(
                "sections", because=f"stroke {n + 1} is straight on one section and an arc on the other"
            )
        for rows, made, bulge in ((a, first, p), (b, second, q)):
            s, e = made.points_in[n], made.points_in[n + 1]
            if abs(bulge) > 1e-12:
                rows.append(_even_arc(s, e, bulge, per_arc))
            else:
                rows.append(s + np.linspace(0, 1, 9)[1:, None] * (e - s))
    return _skin(np.concatenate(a), np.concatenate(b), station_first_in, station_second_in)


def _even_arc(s: FloatArray, e: FloatArray, bulge: float, count: int) -> FloatArray:
    """``count`` steps along an arc, its start left out."""
    turn = abs(4 * np.arctan(bulge))
    radius = np.hypot(*(e - s)) * (1 + bulge**2) / (4 * abs(bulge))
    error = radius * (1 - np.cos(turn / count / 2)) * (1 + 1e-9)
    inside = arc_points(s, e, bulge, float(error))
    return np.concatenate([inside, e[None]])


def skin_through(
    first_in: FloatArray,
    second_in: FloatArray,
    *,
    station_first_in: float,
    station_second_in: float,
    count: int = 801,
) -> Skin:
    """Rulings between two convex curves (n, 2) given densely, joining points of equal direction.

    Directions that only one curve has (its ends) share the other curve's end. Straight stretches of equal
    direction are matched by their share of length.

    Raises:
        GeometryError: a curve turns both ways, or two sections at one station.
    """
    a, b = _by_direction(first_in, "first section"), _by_direction(second_in, "second section")
    low = min(a[1][0], b[1][0])
    high = max(a[1][-1], b[1][-1])
    # Direction and length together: a curve's own length keeps straight stretches in order.
    share = np.linspace(0, 1, count)
    turn = np.sort(np.concatenate([low + (high - low) * share, a[1], b[1]]))
    turn = turn[np.concatenate([[True], np.diff(turn) > 1e-12])]
    pa, pb = _at_directions(a, turn), _at_directions(b, turn)
    keep = np.concatenate(
        [
            [True],
            np.linalg.norm(np.diff(pa, axis=0), axis=1) + np.linalg.norm(np.diff(pb, axis=0), axis=1) > 1e-9,
        ]
    )
    return _skin(pa[keep], pb[keep], station_first_in, station_second_in)


def _by_direction(points: FloatArray, field: str) -> tuple[FloatArray, FloatArray]:
    """Points with a strictly rising direction (radians, sign of the turn removed) at each."""
    p = np.asarray(points, dtype=np.float64)
    steps = np.diff(p, axis=0)
    angle = np.unwrap(np.arctan2(steps[:, 1], steps[:, 0]))
    if angle[-1] < angle[0]:
        angle = -angle
    bends = np.diff(angle)
    if (bends < -1e-4).any():
        k = int(np.flatnonzero(bends < -1e-4)[0]) + 1
        raise GeometryError(
            field,
            because="the curve turns both ways; a rolled skin here turns one way only",
            found=f"near ({p[k, 0]:.3f}, {p[k, 1]:.3f}) in",
            mend="Split the skin there",
        )
    at = np.concatenate([[angle[0]], (angle[1:] + angle[:-1]) / 2, [angle[-1]]])
    run = np.concatenate([[0.0], np.cumsum(np.linalg.norm(steps, axis=1))])
    # A hair of rise per length orders the points of a straight stretch.
    return p, np.maximum.accumulate(at) + 1e-7 * run / run[-1]


def _at_directions(curve: tuple[FloatArray, FloatArray], turn: FloatArray) -> FloatArray:
    points, at = curve
    return np.stack([np.interp(turn, at, points[:, 0]), np.interp(turn, at, points[:, 1])], axis=1)


def _skin(a: FloatArray, b: FloatArray, za: float, zb: float) -> Skin:
    if abs(zb - za) < 1e-9:
        raise GeometryError("sections", because="two sections lie at one station", found=f"{za:g} in")
    return Skin(
        np.concatenate([a, np.full((len(a), 1), za)], axis=1),
        np.concatenate([b, np.full((len(b), 1), zb)], axis=1),
    )


def flat_of(skin: Skin, *, start_at: int | None = None) -> FlatSkin:
    """The skin unrolled, true in every triangle between neighbouring rulings.

    Its middle ruling (or number ``start_at``) lies along x, from the first section to the second, with its
    first end at the origin; rulings of higher number lie above it.
    """
    a, b = skin.first_in, skin.second_in
    fa, fb = _unrolled(a, b)
    k = len(a) // 2 if start_at is None else start_at
    way = fb[k] - fa[k]
    spin = np.conj(way) / abs(way)
    fa, fb = (fa - fa[k]) * spin, (fb - fa[k]) * spin
    first, second = np.stack([fa.real, fa.imag], axis=1), np.stack([fb.real, fb.imag], axis=1)
    return FlatSkin(skin, first, second, _stretch_in(a, b, first, second), _twist_deg(a, b))


def _unrolled(a: FloatArray, b: FloatArray) -> tuple[np.ndarray, np.ndarray]:
    """Ends of the rulings as complex numbers, laying triangle after triangle into the plane."""
    across = np.linalg.norm(b - a, axis=1)
    if across.min() < 1e-9:
        raise GeometryError("skin", because="the two sections touch there")
    step_a = np.linalg.norm(np.diff(a, axis=0), axis=1)
    step_b = np.linalg.norm(np.diff(b, axis=0), axis=1)
    diagonal = np.linalg.norm(a[1:] - b[:-1], axis=1)
    # Angles at A_i (between ruling and edge), and at A_i+1 (of both triangles that meet there).
    at_a = _angle(across[:-1], step_a, diagonal)
    # Where the rulings fan out from one point there is no first triangle: the point keeps its half turn.
    first = np.where(step_a < 1e-12, np.pi, _angle(step_a, diagonal, across[:-1]))
    at_next = first + _angle(diagonal, across[1:], step_b)
    # Each ruling is turned against the one before by what the two triangles leave of half a turn.
    turn = np.concatenate([[0.0], np.cumsum(at_a + at_next - np.pi)])
    edge = step_a * np.exp(1j * (turn[:-1] + at_a))
    fa = np.concatenate([[0.0], np.cumsum(edge)])
    return fa, fa + across * np.exp(1j * turn)


def _angle(p: FloatArray, q: FloatArray, opposite: FloatArray) -> FloatArray:
    """Angle between two sides of a triangle, well behaved for needles (Kahan's form)."""
    with np.errstate(divide="ignore", invalid="ignore"):
        big, small = np.maximum(p, q), np.minimum(p, q)
        mu = np.where(small >= opposite, opposite - (big - small), small - (big - opposite))
        top = np.maximum(((big - small) + opposite) * np.maximum(mu, 0.0), 0.0)
        out = 2 * np.arctan(np.sqrt(top / ((big + (small + opposite)) * ((big - opposite) + small))))
    return np.where((p < 1e-12) | (q < 1e-12), 0.0, np.nan_to_num(out))


def _stretch_in(a: FloatArray, b: FloatArray, fa: FloatArray, fb: FloatArray) -> float:
    worst = 0.0
    for share in (0.25, 0.5, 0.75):
        on, flat = a + share * (b - a), fa + share * (fb - fa)
        true = np.cumsum(np.linalg.norm(np.diff(on, axis=0), axis=1))
        laid = np.cumsum(np.linalg.norm(np.diff(flat, axis=0), axis=1))
        worst = max(worst, float(np.ptp(np.concatenate([[0.0], laid - true]))))
    return worst


def _twist_deg(a: FloatArray, b: FloatArray) -> float:
    rule = ((b - a)[1:] + (b - a)[:-1]) / 2
    da, db = np.diff(a, axis=0), np.diff(b, axis=0)
    na, nb = np.cross(da, rule), np.cross(db, rule)
    size = np.linalg.norm(na, axis=1) * np.linalg.norm(nb, axis=1)
    sound = size > 1e-16
    if not sound.any():
        return 0.0
    cosine = np.sum(na * nb, axis=1)[sound]
    sine = np.linalg.norm(np.cross(na, nb), axis=1)[sound]
    return float(np.degrees(np.arctan2(sine, cosine).max()))


def on_skin(
    skin: Skin, station_in: FloatArray, arc_in: FloatArray, *, origin: int = 0
) -> tuple[FloatArray, FloatArray]:
    """Where places given by station and length along the section lie on the skin.

    Args:
        skin: its sections at one station each.
        station_in: (m,) stations.
        arc_in: (m,) length along the section at that station, from ruling number ``origin``; positive in
            the order of the rulings.

    Returns:
        Number of the ruling (m,), fractional, and share (m,) of the way from first to second section.

    Raises:
        GeometryError: a place lies off the skin; says which.
    """
    za, zb = skin.first_in[0, 2], skin.second_in[0, 2]
    z, s = (
        np.atleast_1d(np.asarray(station_in, dtype=np.float64)),
        np.atleast_1d(np.asarray(arc_in, dtype=np.float64)),
    )
    share = (z - za) / (zb - za)
    number = np.empty_like(share)
    index = np.arange(len(skin.first_in), dtype=np.float64)
    for k, t in enumerate(share):
        row = skin.first_in + t * (skin.second_in - skin.first_in)
        run = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(row, axis=0), axis=1))])
        run -= run[origin]
        if not (-1e-9 <= t <= 1 + 1e-9 and run[0] - 1e-9 <= s[k] <= run[-1] + 1e-9):
            raise GeometryError(
                "hole",
                because=f"hole {k + 1} lies off the skin",
                found=f"station {z[k]:g} in, {s[k]:.3f} in along the section",
                allowed=f"station {min(za, zb):g} to {max(za, zb):g} in, {run[0]:.3f} to {run[-1]:.3f} in along it",
            )
        number[k] = np.interp(s[k], run, index)
    return number, share


def to_flat(flat: FlatSkin, number: FloatArray, share: FloatArray) -> FloatArray:
    """Places (m, 2) on the flat of places given by ruling number and share (see :func:`on_skin`)."""
    return _between(flat.first_in, flat.second_in, number, share)


def to_space(skin: Skin, number: FloatArray, share: FloatArray) -> FloatArray:
    """Places (m, 3) on the skin of places given by ruling number and share."""
    return _between(skin.first_in, skin.second_in, number, share)


def _between(first: FloatArray, second: FloatArray, number: FloatArray, share: FloatArray) -> FloatArray:
    k = np.clip(np.floor(number).astype(int), 0, len(first) - 2)
    f = (number - k)[:, None]
    a = first[k] + f * (first[k + 1] - first[k])
    b = second[k] + f * (second[k + 1] - second[k])
    return np.asarray(a + share[:, None] * (b - a))
