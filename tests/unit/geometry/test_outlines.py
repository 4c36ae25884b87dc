from __future__ import annotations

import numpy as np
import pytest
from shapely.geometry import Point, Polygon

from ribwright.core.geometry import (
    area_in2,
    circle_outline,
    crossing,
    filleted,
    flattened,
    length_in,
    offset_outline,
    outline,
)
from ribwright.core.geometry.outlines import Outline, counter_clockwise, reversed_outline
from ribwright.errors import GeometryError

ELL = [[0, 0], [6, 0], [6, 1.5], [2, 1.5], [2, 4], [0, 4]]


def test_circle_in_closed_form():
    circle = circle_outline((3, -2), 1.25)
    assert area_in2(circle) == pytest.approx(np.pi * 1.25**2, rel=1e-14)
    assert length_in(circle) == pytest.approx(2 * np.pi * 1.25, rel=1e-14)


def test_filleted_ell_against_shapely():
    made = filleted(ELL, 0.4)
    fine = Polygon(flattened(made, chord_error_in=1e-7))
    assert area_in2(made) == pytest.approx(fine.area, abs=1e-6)
    assert length_in(made) == pytest.approx(fine.length, abs=1e-5)
    # five corners open to the outside and one inwards: area changes by (1 - pi/4) r^2 each
    assert area_in2(made) == pytest.approx(14 - 4 * (1 - np.pi / 4) * 0.4**2, rel=1e-12)


def test_each_radius_may_differ_and_zero_stays_sharp():
    made = filleted([[0, 0], [4, 0], [4, 3], [0, 3]], [0.5, 0, 0.25, 1])
    lost = (1 - np.pi / 4) * (0.5**2 + 0.25**2 + 1)
    assert area_in2(made) == pytest.approx(12 - lost, rel=1e-12)
    assert len(made.points_in) == 7


def test_full_round_ends_leave_no_empty_stroke():
    slot = filleted([[0, 0], [3, 0], [3, 1], [0, 1]], 0.5)
    assert area_in2(slot) == pytest.approx(2 + np.pi / 4, rel=1e-12)
    assert len(slot.points_in) == 4 + 2


def test_radius_too_large_names_the_side():
    with pytest.raises(GeometryError, match="corner 2 to the next is too short"):
        filleted([[0, 0], [4, 0], [4, 1], [0, 1]], [0.1, 0.6, 0.6, 0.1])


@pytest.mark.parametrize("distance", [0.1, 0.3, 1.0, -0.1, -0.3])
def test_offset_of_a_smooth_outline_follows_steiner(distance):
    """A smooth closed curve offset by d has area A + L d + pi d^2 and length L + 2 pi d, exactly."""
    made = filleted(ELL, 0.4) if distance < 0.4 else filleted([[0, 0], [6, 0], [6, 4], [0, 4]], 0.4)
    out = offset_outline(made, distance)
    area = area_in2(made) + length_in(made) * distance + np.pi * distance**2
    assert area_in2(out) == pytest.approx(area, rel=1e-12)
    assert length_in(out) == pytest.approx(length_in(made) + 2 * np.pi * distance, rel=1e-12)


@pytest.mark.parametrize("corners", ["round", "mitre"])
@pytest.mark.parametrize("distance", [0.3, -0.3])
def test_offset_of_sharp_corners_against_shapely(distance, corners):
    out = offset_outline(outline(ELL), distance, corners=corners)
    style = {"round": 1, "mitre": 2}[corners]
    fine = Polygon(ELL).buffer(distance, join_style=style, quad_segs=500, mitre_limit=20)
    assert area_in2(out) == pytest.approx(fine.area, abs=1e-5)
    gap = Polygon(flattened(out, chord_error_in=1e-6)).symmetric_difference(fine).area
    assert gap < 1e-4


def test_offset_of_a_clockwise_outline_also_grows():
    clockwise = reversed_outline(filleted(ELL, 0.4))
    assert area_in2(clockwise) < 0
    assert abs(area_in2(offset_outline(clockwise, 0.2))) > abs(area_in2(clockwise))


def test_offset_that_eats_an_arc_is_refused_with_its_place():
    with pytest.raises(GeometryError, match="arc after point 1 vanishes"):
        offset_outline(filleted(ELL, 0.4), -0.5)


def test_offset_that_eats_the_part_is_refused():
    with pytest.raises(GeometryError):
        offset_outline(outline([[0, 0], [4, 0], [4, 1], [0, 1]]), -0.6)


def test_reversing_twice_gives_the_outline_back():
    made = filleted(ELL, 0.4)
    again = reversed_outline(reversed_outline(made))
    assert np.array_equal(again.points_in, made.points_in)
    assert np.array_equal(again.bulges, made.bulges)
    assert area_in2(counter_clockwise(reversed_outline(made))) == pytest.approx(area_in2(made))


def test_crossing_is_named_with_its_place():
    with pytest.raises(GeometryError) as caught:
        outline([[0, 0], [1, 1], [1, 0], [0, 1]])
    assert "near (0.500, 0.500) in, between points 1 and 3" in str(caught.value)


def test_crossing_arcs_are_seen():
    # two strokes that would only meet because one bulges into the other
    with pytest.raises(GeometryError, match="crosses itself"):
        outline([[0, 0], [4, 0], [4, 1], [0, 1]], [-1.0, 0, 0, 0])
    outline([[0, 0], [4, 0], [4, 1], [0, 1]], [1.0, 0, 0, 0])


def test_neighbours_that_share_a_corner_do_not_cross():
    assert crossing(np.array([[0, 0], [1, 0], [1, 1], [0, 1]], float)) is None


@pytest.mark.parametrize(
    ("points", "said"),
    [
        ([[0, 0], [1, 0], [1, 0], [0, 1]], "entered twice"),
        ([[0, 0], [1, float("nan")], [0, 1]], "no finite place"),
        ([[0, 0], [1, 0]], "three corners"),
        ([[0, 0]], "at least two points"),
    ],
)
def test_bad_outlines_are_refused(points, said):
    with pytest.raises(GeometryError, match=said):
        outline(points)


def test_flattened_keeps_its_chord_error():
    circle = circle_outline((0, 0), 2.0)
    for error in (1e-2, 1e-3, 4e-4):
        p = flattened(circle, chord_error_in=error)
        mid = (p + np.roll(p, -1, axis=0)) / 2
        sagitta = 2.0 - np.hypot(*mid.T)
        assert 0 < sagitta.max() <= error * (1 + 1e-9)


def test_area_of_an_outline_with_inward_arcs():
    made = Outline(np.array([[0, 0], [4, 0], [4, 3], [0, 3]], float), np.array([0, -0.5, 0, 0]), True)
    radius = 3 * (1 + 0.25) / 2
    turn = 4 * np.arctan(0.5)
    assert area_in2(made) == pytest.approx(12 - radius**2 / 2 * (turn - np.sin(turn)), rel=1e-12)
    hole = Polygon([(0, 0), (4, 0), (4, 3), (0, 3)]).difference(
        Point(4 + radius * np.cos(turn / 2), 1.5).buffer(radius, quad_segs=4000)
    )
    assert area_in2(made) == pytest.approx(hole.area, abs=1e-4)


@pytest.mark.parametrize("distance", [0.2, -0.2])
def test_offset_where_two_arcs_meet_in_a_corner_against_shapely(distance):
    """A lens, and a half moon whose inner arc turns the other way."""
    lens = Outline(np.array([[-2.0, 0], [2.0, 0]]), np.array([0.5, 0.4]), True)
    moon = Outline(np.array([[-2.0, 0], [2.0, 0]]), np.array([0.9, -0.3]), True)
    for made in (lens, moon):
        out = offset_outline(made, distance)
        fine = Polygon(flattened(made, chord_error_in=1e-7)).buffer(distance, quad_segs=400)
        assert area_in2(out) == pytest.approx(fine.area, abs=2e-3)
        gap = Polygon(flattened(out, chord_error_in=1e-6)).symmetric_difference(fine).area
        assert gap < 2e-3


def test_mitred_corner_of_a_line_and_an_arc():
    half = Outline(np.array([[-1.0, 0], [1.0, 0]]), np.array([0.0, 1.0]), True)
    out = offset_outline(half, 0.1, corners="mitre")
    low, high = (
        flattened(out, chord_error_in=1e-6).min(axis=0),
        flattened(out, chord_error_in=1e-6).max(axis=0),
    )
    # the grown arc of radius 1.1 carried on until it meets the line .1 below
    assert high[1] == pytest.approx(1.1, abs=1e-5)
    assert low == pytest.approx((-1.1, -0.1), abs=1e-3)
    assert np.abs(out.points_in[:, 0]).max() == pytest.approx(np.sqrt(1.1**2 - 0.1**2))
