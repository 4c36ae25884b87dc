from __future__ import annotations

import numpy as np
import pytest
from shapely.geometry import Point, Polygon

from ribwright.core.geometry import flattened
from ribwright.core.scene import Circle, Line
from ribwright.core.scene.strokes import drawn
from ribwright.core.templates.blank import Flange, flanged_blank
from ribwright.core.templates.gauges import wedge_gauge
from ribwright.errors import GeometryError, OutOfRangeError

ALL = (Flange(0.6, 0.2), Flange(0.5, 0.2), Flange(0.6, 0.2), Flange(0.7, 0.15))


def _made(flanges=ALL, **more):
    return flanged_blank(
        **{
            "length_in": 8,
            "width_in": 3,
            "flanges": flanges,
            "relief_radius_in": 0.2,
            "least_flange_in": 0.4,
            **more,
        }
    )


def test_area_is_web_plus_flanges_less_reliefs():
    made = _made()
    plain = 8 * 3 + 2 * 3 * 0.8 + 8 * 0.7 + 8 * 0.85
    sheet = Polygon(flattened(made.shape, chord_error_in=1e-6))
    assert sheet.area == pytest.approx(plain)
    for x, y, d in made.reliefs_in:
        sheet = sheet.difference(Point(x, y).buffer(d / 2, quad_segs=400))
    assert made.area_in2 == pytest.approx(sheet.area, abs=1e-4)


def test_reliefs_only_where_two_bends_meet():
    assert len(_made().reliefs_in) == 4
    none = Flange(0, 0)
    assert len(_made((ALL[0], ALL[1], none, none)).reliefs_in) == 1
    assert _made((ALL[0], none, ALL[2], none)).reliefs_in == ()
    assert len(_made((none, none, none, none)).shape.points_in) == 4


def test_each_flange_has_two_bend_lines_its_allowance_apart():
    lines = [i for i in drawn(_made().scene) if isinstance(i, Line) and i.style == "fold"]
    assert len(lines) == 8
    assert {i.layer for i in lines} == {"marked"}
    right = sorted(i.a[0] for i in lines if i.a[0] == i.b[0] and i.a[0] > 0)
    assert right == pytest.approx([4, 4.2])


def test_relief_holes_are_drilled():
    circles = [i for i in drawn(_made().scene) if isinstance(i, Circle) and i.layer == "drilled"]
    assert {(round(abs(c.center[0]), 6), round(abs(c.center[1]), 6), c.radius) for c in circles} == {
        (4, 1.5, 0.2)
    }


def test_a_flange_that_the_brake_cannot_hold_is_named():
    with pytest.raises(GeometryError, match="left flange: it is shorter than the brake can hold"):
        _made((ALL[0], ALL[1], Flange(0.3, 0.2), ALL[3]))


def test_reliefs_and_holes_that_cannot_be():
    with pytest.raises(GeometryError, match="inside a bend"):
        _made(relief_radius_in=0.1)
    with pytest.raises(GeometryError, match="hole 2 runs into a bend"):
        _made(holes=((0, 0, 0.5), (3.9, 0, 0.5)))
    with pytest.raises(OutOfRangeError):
        _made(length_in=0)


def test_wedge_gauge_has_its_angle():
    scene = wedge_gauge(half_angle_deg=5.5, depth_in=1.5, root_in=0.05)
    ring = scene.items[0].points
    (x0, y0), (x1, y1) = ring[0], ring[-1]
    assert np.degrees(np.arctan2(y0 - y1, x1 - x0)) == pytest.approx(5.5, abs=0.05)
    assert Polygon(ring).is_valid
    with pytest.raises(OutOfRangeError):
        wedge_gauge(half_angle_deg=0)
