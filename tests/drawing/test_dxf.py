"""DXF reopened with ezdxf: audit clean, layers, true arcs, areas against shapely."""

from __future__ import annotations

import io
import math

import numpy as np
import pytest
from shapely.geometry import Polygon as Area

from ribwright import __version__
from ribwright.core.geometry import area_in2, filleted, flattened, naca_section, with_arcs
from ribwright.core.geometry.outlines import Outline
from ribwright.core.scene import Arc, Circle, Dimension, Line, Marker, Polygon, Polyline, Scene, Text
from ribwright.core.writers import dxf_of

ezdxf = pytest.importorskip("ezdxf")


def _open(data):
    doc = ezdxf.read(io.StringIO(data.decode("utf-8").replace("\r\n", "\n")))
    auditor = doc.audit()
    assert auditor.errors == []
    assert auditor.fixes == []
    return doc


def _polyline(made, layer="cut"):
    return Polyline(
        tuple(map(tuple, made.points_in.tolist())), made.closed, "outline", layer, tuple(made.bulges.tolist())
    )


SCENE = Scene(
    (
        Line((0, 0), (3, 1), "hidden", "marked"),
        Arc((1, 2), 0.7, 20, 290),
        Marker((2, 2), "dimple-down", "A", 0.098),
        Dimension((0, 0), (3, 0), 0.5),
        Text((1, 3), "SIDE A", 0.2, "middle", 15),
        Polygon(((5, 0), (6, 0), (6, 1), (5, 1)), layer="cut"),
    )
)


def test_layers_say_what_is_done():
    doc = _open(dxf_of(SCENE))
    space = doc.modelspace()
    assert {layer.dxf.name for layer in doc.layers} >= {"CUT", "DRILL", "MARK", "PRINT"}
    assert {e.dxf.layer for e in space} == {"CUT", "DRILL", "MARK", "PRINT"}
    (hole,) = [e for e in space if e.dxf.layer == "DRILL"]
    assert hole.dxftype() == "CIRCLE"
    assert hole.dxf.radius == pytest.approx(0.049)
    assert (hole.dxf.center.x, hole.dxf.center.y) == (2, 2)
    assert doc.units == 1


def test_no_splines_no_blocks_and_closed_outlines():
    space = _open(dxf_of(SCENE)).modelspace()
    assert {e.dxftype() for e in space} <= {"LINE", "ARC", "CIRCLE", "LWPOLYLINE", "TEXT", "SOLID"}
    assert all(e.closed for e in space if e.dxftype() == "LWPOLYLINE" and e.dxf.layer == "CUT")


def _area(entity):
    made = Outline(
        np.array([(x, y) for x, y, _ in entity.get_points("xyb")]),
        np.array([b for _, _, b in entity.get_points("xyb")]),
        bool(entity.closed),
    )
    # shapely knows chords only: a polygon of very fine ones, by the reader's own vertices
    return Area(flattened(made, chord_error_in=1e-7)).area


def test_areas_after_the_round_trip_against_shapely():
    made = filleted([[0, 0], [6, 0], [6, 1.5], [2, 1.5], [2, 4], [0, 4]], 0.4)
    (entity,) = _open(dxf_of(Scene((_polyline(made),)))).modelspace()
    assert _area(entity) == pytest.approx(area_in2(made), abs=1e-5)
    # and by the reader's own idea of the path
    path = ezdxf.path.make_path(entity)
    fine = Area([(v.x, v.y) for v in path.flattening(1e-6)])
    # the reader draws its arcs as cubic curves
    assert fine.area == pytest.approx(area_in2(made), abs=5e-4)


def test_section_as_true_arcs_encloses_the_area_of_the_section():
    dense = naca_section("2412", count=1201) * 10
    fit = with_arcs(naca_section("2412") * 10)
    outline = Polyline(
        tuple(map(tuple, fit.points_in.tolist())), True, "outline", "cut", tuple(fit.bulges.tolist())
    )
    (entity,) = _open(dxf_of(Scene((outline,)))).modelspace()
    # .0004 in along some 20.5 in of outline at most
    assert _area(entity) == pytest.approx(Area(dense).area, abs=0.0004 * 20.5)


def test_metric_file_is_the_same_drawing():
    inch, metric = (_open(dxf_of(SCENE, unit=u)) for u in ("in", "mm"))
    assert metric.units == 4
    a = next(e for e in inch.modelspace() if e.dxftype() == "ARC")
    b = next(e for e in metric.modelspace() if e.dxftype() == "ARC")
    assert b.dxf.radius == pytest.approx(25.4 * a.dxf.radius)
    assert (b.dxf.start_angle, b.dxf.end_angle) == (a.dxf.start_angle, a.dxf.end_angle)


def test_text_keeps_place_height_and_angle():
    (text,) = _open(dxf_of(Scene((SCENE.items[4],)))).modelspace()
    assert text.dxf.text == "SIDE A"
    assert text.dxf.height == pytest.approx(0.2)
    assert text.dxf.rotation == pytest.approx(15)
    assert text.get_placement()[1].isclose((1, 3))


def test_same_values_same_bytes():
    assert dxf_of(SCENE) == dxf_of(SCENE)


def test_the_file_says_which_version_made_it():
    assert dxf_of(SCENE).startswith(f"999\nribwright {__version__}\n  0\nSECTION\n".encode())


def test_precision_of_coordinates():
    (line,) = _open(dxf_of(Scene((Line((1 / 3, 0), (100 / 7, math.pi)),)))).modelspace()
    assert line.dxf.end.isclose((100 / 7, math.pi), abs_tol=1e-9)


def test_circle_in_the_cut_layer():
    (circle,) = _open(dxf_of(Scene((Circle((1, 1), 2, layer="cut"),)))).modelspace()
    assert circle.dxf.layer == "CUT"
