"""Flattening against closed forms, and against an independent integration of the geodesic curvature."""

from __future__ import annotations

import numpy as np
import pytest

from ribwright.core.geometry import (
    flat_of,
    flattened,
    nose_outline,
    on_skin,
    skin_between,
    skin_through,
    to_flat,
    to_space,
)
from ribwright.core.geometry.develop import Skin
from ribwright.core.geometry.outlines import Outline, length_in
from ribwright.errors import GeometryError, OutOfRangeError

MM = 25.4


def _arc(radius):
    return Outline(np.array([[radius, 0], [-radius, 0]]), np.array([1.0, 0.0]), False)


def test_cylinder_flattens_to_a_rectangle():
    flat = flat_of(skin_between(_arc(1.2), _arc(1.2), station_first_in=0, station_second_in=30), start_at=0)
    assert flat.first_in[-1] == pytest.approx([0, np.pi * 1.2], abs=2e-5)
    assert flat.second_in[-1] == pytest.approx([30, np.pi * 1.2], abs=2e-5)
    assert flat.stretch_in < 1e-11


def test_cone_flattens_to_the_sector_of_the_closed_form():
    r1, r2, height = 1.5, 0.7, 30.0
    skin = skin_between(_arc(r1), _arc(r2), station_first_in=0, station_second_in=height)
    flat = flat_of(skin, start_at=0)
    slant = np.hypot(height, r1 - r2)
    rho = r1 * slant / (r1 - r2)
    phi = np.pi * np.linspace(0, 1, len(flat.first_in)) * (r1 - r2) / slant
    for got, reach in ((flat.first_in, rho), (flat.second_in, rho - slant)):
        exact = np.stack([rho - reach * np.cos(phi), reach * np.sin(phi)], axis=1)
        assert np.abs(got - exact).max() * MM < 0.001


def test_holes_of_a_cone_against_the_closed_form():
    r1, r2, height = 1.5, 0.7, 30.0
    skin = skin_between(_arc(r1), _arc(r2), station_first_in=0, station_second_in=height)
    flat = flat_of(skin, start_at=0)
    station = np.array([3.0, 11.0, 27.5])
    radius = r1 + (r2 - r1) * station / height
    angle = np.array([0.4, 1.7, 2.9])
    number, share = on_skin(skin, station, radius * angle)
    got = to_flat(flat, number, share)
    slant = np.hypot(height, r1 - r2)
    reach = radius * slant / (r1 - r2)
    turn = angle * (r1 - r2) / slant
    rho = r1 * slant / (r1 - r2)
    exact = np.stack([rho - reach * np.cos(turn), reach * np.sin(turn)], axis=1)
    assert np.abs(got - exact).max() * MM < 0.005
    space = to_space(skin, number, share)
    assert np.allclose(np.hypot(space[:, 0], space[:, 1]), radius, atol=1e-4)


def _integrated(first, second, za, zb, places, steps=200_000):
    """Dense reference by another route: the flat of the first section is the plane curve whose curvature is the
    section's geodesic curvature; rulings keep their angle to it. Trapezoid rule on exact derivatives."""
    # First section's own parameters: stroke number + share of the stroke, matched on both sections.
    out = []
    p, heading = np.zeros(2), 0.0
    for n in range(3):
        a, b, bulge = first.points_in[n], first.points_in[n + 1], first.bulges[n]
        c, d, other = second.points_in[n], second.points_in[n + 1], second.bulges[n]
        u = np.linspace(0, 1, steps // 3 + 1)
        x, dx, ddx = _stroke(a, b, bulge, u)
        y, _, _ = _stroke(c, d, other, u)
        rule = np.concatenate([y - x, np.full((len(u), 1), zb - za)], axis=1)
        tangent = np.concatenate([dx, np.zeros((len(u), 1))], axis=1)
        bend = np.concatenate([ddx, np.zeros((len(u), 1))], axis=1)
        normal = np.cross(tangent, rule)
        normal /= np.linalg.norm(normal, axis=1)[:, None]
        speed = np.linalg.norm(tangent, axis=1)
        # tangent x rule points away from the reader of the flat, where rulings lie to the right
        geodesic = -np.sum(np.cross(tangent, bend) * normal, axis=1) / speed**3
        du = u[1] - u[0]
        turn = np.concatenate([[0], np.cumsum((geodesic * speed)[1:] + (geodesic * speed)[:-1])]) * du / 2
        way = heading + turn
        velocity = speed[:, None] * np.stack([np.cos(way), np.sin(way)], axis=1)
        path = p + np.concatenate([[[0, 0]], np.cumsum(velocity[1:] + velocity[:-1], axis=0)]) * du / 2
        size = np.linalg.norm(rule, axis=1)
        cosine = np.sum(rule * tangent, axis=1) / size / speed
        at = way - np.arccos(cosine)  # rulings lie to the right of the direction of travel
        for stroke, share_u, share_t in places:
            if stroke == n:
                k = round(share_u * (len(u) - 1))
                reach = share_t * size[k]
                out.append(path[k] + reach * np.array([np.cos(at[k]), np.sin(at[k])]))
        if n == 0:
            base = at[0]
        p, heading = path[-1], way[-1]
    c, s = np.cos(-base), np.sin(-base)
    return np.array(out) @ np.array([[c, s], [-s, c]])


def _stroke(a, b, bulge, u):
    if abs(bulge) < 1e-12:
        return a + u[:, None] * (b - a), np.repeat((b - a)[None], len(u), 0), np.zeros((len(u), 2))
    chord = b - a
    center = (a + b) / 2 + np.array([-chord[1], chord[0]]) * (1 - bulge**2) / (4 * bulge)
    arm, turn = a - center, 4 * np.arctan(bulge)
    c, s = np.cos(turn * u)[:, None], np.sin(turn * u)[:, None]
    side = np.array([-arm[1], arm[0]])
    at = c * arm + s * side
    return center + at, turn * (-s * arm + c * side), -(turn**2) * at


def test_general_tapered_nose_against_a_dense_integration():
    """Radius and flats taper at different rates, and the tip is swept: holes within .1 mm is asked for."""
    first = nose_outline(radius_in=1.13, upper_flat_in=9.0, lower_flat_in=8.6, upper_slope_deg=5.5)
    second = nose_outline(radius_in=0.79, upper_flat_in=6.9, lower_flat_in=6.7, upper_slope_deg=5.5)
    second = Outline(second.points_in + np.array([0.6, 0.2]), second.bulges, False)
    skin = skin_between(first, second, station_first_in=0, station_second_in=58)
    flat = flat_of(skin, start_at=0)
    assert flat.stretch_in < 1e-9
    assert flat.twist_deg < 1e-6
    places = [
        (0, 0.25, 0.1),
        (0, 1.0, 0.9),
        (1, 0.3, 0.0),
        (1, 0.5, 0.5),
        (1, 0.9, 1.0),
        (2, 0.5, 0.3),
        (2, 1.0, 1.0),
    ]
    exact = _integrated(first, second, 0, 58, places)
    arc_count = len(skin.first_in) - 17
    starts = {0: (0, 8), 1: (8, arc_count), 2: (8 + arc_count, 8)}
    number = np.array([starts[n][0] + share * starts[n][1] for n, share, _ in places])
    got = to_flat(flat, number, np.array([t for _, _, t in places]))
    assert np.abs(got - exact).max() * MM < 0.01


def test_edges_of_the_flat_keep_their_true_length():
    first = nose_outline(radius_in=1.13, upper_flat_in=9, lower_flat_in=8.6, upper_slope_deg=5.5)
    second = nose_outline(radius_in=0.79, upper_flat_in=6.9, lower_flat_in=6.7, upper_slope_deg=5.5)
    flat = flat_of(skin_between(first, second, station_first_in=0, station_second_in=58))
    for edge, made in ((flat.first_in, first), (flat.second_in, second)):
        assert np.linalg.norm(np.diff(edge, axis=0), axis=1).sum() == pytest.approx(length_in(made), abs=2e-5)


def test_directions_matched_on_dense_curves_give_the_same_flat():
    first = nose_outline(radius_in=1.13, upper_flat_in=6, lower_flat_in=6, upper_slope_deg=5.5)
    second = nose_outline(radius_in=0.79, upper_flat_in=4.5, lower_flat_in=4.5, upper_slope_deg=5.5)
    a = flat_of(skin_between(first, second, station_first_in=0, station_second_in=58), start_at=0)
    dense = [flattened(made, chord_error_in=1e-6) for made in (first, second)]
    b = flat_of(skin_through(*dense, station_first_in=0, station_second_in=58), start_at=0)
    for p, q in ((a.first_in, b.first_in), (a.second_in, b.second_in)):
        assert np.abs(p[-1] - q[-1]).max() * MM < 0.1


def test_a_twisted_wedge_says_how_far_it_is_from_flat_sheet():
    first = nose_outline(radius_in=1.13, upper_flat_in=6, lower_flat_in=6, upper_slope_deg=5.5)
    second = nose_outline(radius_in=0.79, upper_flat_in=4.5, lower_flat_in=4.5, upper_slope_deg=8.5)
    forced = flat_of(skin_between(first, second, station_first_in=0, station_second_in=58))
    assert forced.twist_deg == pytest.approx(3.0, abs=0.02)
    assert forced.stretch_in > 1e-3
    dense = [flattened(made, chord_error_in=1e-5) for made in (first, second)]
    fair = flat_of(skin_through(*dense, station_first_in=0, station_second_in=58))
    assert fair.stretch_in < forced.stretch_in / 100


def test_hyperbolic_paraboloid_stretches_as_its_curvature_says():
    """A saddle can't be laid flat; its planes at the ends of a ruling differ by the twist."""
    n = np.linspace(0, 10, 401)
    skin = Skin(
        np.stack([n, np.zeros_like(n), np.zeros_like(n)], axis=1),
        np.stack([n, 0.1 * (n - 5), np.full_like(n, 10.0)], axis=1),
    )
    flat = flat_of(skin)
    assert flat.stretch_in > 1e-3
    assert flat.twist_deg == pytest.approx(np.degrees(np.arctan(0.1)), rel=0.03)


def test_holes_off_the_skin_are_named():
    skin = skin_between(_arc(1.2), _arc(0.9), station_first_in=0, station_second_in=30)
    with pytest.raises(GeometryError, match="hole 2 lies off the skin"):
        on_skin(skin, np.array([5.0, 31.0]), np.array([1.0, 1.0]))
    with pytest.raises(GeometryError, match="hole 1 lies off the skin"):
        on_skin(skin, np.array([5.0]), np.array([-0.1]))


def test_sections_that_do_not_belong_together():
    line = Outline(np.array([[0.0, 0], [3, 0]]), np.zeros(2), False)
    with pytest.raises(GeometryError, match="straight on one section"):
        skin_between(_arc(1), line, station_first_in=0, station_second_in=3)
    with pytest.raises(GeometryError, match="at one station"):
        skin_between(_arc(1), _arc(2), station_first_in=3, station_second_in=3)
    wave = np.stack([np.linspace(0, 6, 50), np.sin(np.linspace(0, 6, 50))], axis=1)
    with pytest.raises(GeometryError, match="turns both ways"):
        skin_through(wave, wave, station_first_in=0, station_second_in=3)


def test_nose_section_in_closed_form():
    made = nose_outline(
        radius_in=1.12, upper_flat_in=5, lower_flat_in=4, upper_slope_deg=5.5, lower_slope_deg=3
    )
    assert length_in(made) == pytest.approx(5 + 4 + 1.12 * (np.pi + np.radians(8.5)), rel=1e-12)
    assert np.hypot(*(made.points_in[1] - (1.12, 0))) == pytest.approx(1.12)
    with pytest.raises(GeometryError, match="crosses itself"):
        nose_outline(radius_in=0.5, upper_flat_in=9, lower_flat_in=9, upper_slope_deg=10)
    with pytest.raises(OutOfRangeError):
        nose_outline(radius_in=0, upper_flat_in=9, lower_flat_in=9, upper_slope_deg=10)
