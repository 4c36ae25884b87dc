from __future__ import annotations

import numpy as np
import pytest
from shapely.geometry import Point, Polygon

from ribwright.core.geometry import flattened
from ribwright.core.scene import Marker
from ribwright.core.templates.skin import NoseStation, SkinHole, skin_flat
from ribwright.errors import GeometryError

ROOT = NoseStation(0, 1.12, 6.0, 6.0, 5.5)
TIP = NoseStation(58, 0.78, 4.5, 4.5, 5.5)
T = 0.020


def _made(holes=(), root=ROOT, tip=TIP, **more):
    return skin_flat(root, tip, thickness_in=T, holes=holes, **more)


def test_cylinder_of_sheet_has_the_width_of_its_middle():
    made = _made(tip=NoseStation(58, 1.12, 6.0, 6.0, 5.5))
    width = 12 + (1.12 + T / 2) * (np.pi + np.radians(11))
    x0, y0, x1, y1 = Polygon(flattened(made.blank, chord_error_in=1e-5)).bounds
    assert y1 - y0 == pytest.approx(width, abs=2e-4)
    assert x1 - x0 == pytest.approx(58, abs=1e-9)
    assert made.area_in2 == pytest.approx(58 * width, rel=1e-5)


def test_area_of_a_tapered_flat_is_that_of_the_skin_in_space():
    made = _made()
    a, b = made.flat.skin.first_in, made.flat.skin.second_in
    triangles = [(a[:-1], b[:-1], a[1:]), (a[1:], b[:-1], b[1:])]
    true = sum(np.linalg.norm(np.cross(q - p, r - p), axis=1).sum() / 2 for p, q, r in triangles)
    assert made.area_in2 == pytest.approx(true, rel=1e-6)
    assert made.flat.stretch_in < 1e-9


def test_holes_are_marked_at_their_places_and_lie_on_the_sheet():
    holes = [
        SkinHole(5, 3.0, "upper", 0.098, "A"),
        SkinHole(30, 2.5, "lower", 0.098, "B"),
        SkinHole(57, 0.5, "lower", 0.128, "C"),
    ]
    made = _made(holes)
    markers = [i for i in made.scene.items if isinstance(i, Marker)]
    assert [(m.label, m.diameter) for m in markers] == [("A", 0.098), ("B", 0.098), ("C", 0.128)]
    assert np.allclose([m.at for m in markers], made.holes_in)
    sheet = Polygon(flattened(made.blank, chord_error_in=1e-4))
    assert all(
        sheet.contains(Point(p).buffer(h.diameter_in / 2)) for p, h in zip(made.holes_in, holes, strict=True)
    )


def test_distances_between_holes_on_one_flat_are_those_in_space():
    """The upper flat is plane: any two holes on it are as far apart on the sheet as on the wing."""
    holes = [SkinHole(z, s, "upper", 0.098) for z, s in ((3, 4.0), (29, 3.5), (55, 4.2))]
    made = _made(holes)
    from ribwright.core.geometry import on_skin, to_space

    number, share = on_skin(
        made.flat.skin,
        np.array([3.0, 29, 55]),
        np.array([-4.0, -3.5, -4.2]),
        origin=len(made.flat.first_in) // 2,
    )
    space = to_space(made.flat.skin, number, share)
    for i in range(3):
        for j in range(i):
            assert np.linalg.norm(made.holes_in[i] - made.holes_in[j]) == pytest.approx(
                np.linalg.norm(space[i] - space[j]), abs=1e-4
            )


def test_symmetric_nose_has_a_symmetric_flat():
    holes = [SkinHole(20, 3.0, side, 0.098) for side in ("upper", "lower")]
    upper, lower = _made(holes).holes_in
    assert upper == pytest.approx(lower * np.array([1, -1]), abs=1e-9)


def test_twist_is_refused_with_its_amount():
    with pytest.raises(GeometryError) as caught:
        _made(tip=NoseStation(58, 0.78, 3.0, 3.0, 12.5))
    assert "in of stretch" in str(caught.value)
    assert "degrees of twist" in str(caught.value)


def test_holes_that_cannot_be():
    with pytest.raises(GeometryError, match="holes 1 and 2 run into each other"):
        _made([SkinHole(20, 3.0, "upper", 0.098), SkinHole(20.05, 3.0, "upper", 0.098)])
    with pytest.raises(GeometryError, match="hole 1 lies off the skin"):
        _made([SkinHole(20, 30.0, "upper", 0.098)])
    with pytest.raises(GeometryError, match="needs a side"):
        _made([SkinHole(20, 3.0, "aft", 0.098)])


def test_edges_of_the_blank_are_true_arcs_within_their_tolerance():
    made = _made()
    assert len(made.blank.points_in) < 60
    sheet = Polygon(flattened(made.blank, chord_error_in=1e-6)).exterior
    for edge in (made.flat.first_in, made.flat.second_in):
        assert max(sheet.distance(Point(p)) for p in edge[::7]) < 0.0005


def test_foremost_line_is_foremost_also_with_unequal_slopes():
    root, tip = NoseStation(0, 1.12, 6, 6, 7.5, 2.0), NoseStation(58, 0.78, 4.5, 4.5, 7.5, 2.0)
    made = _made(root=root, tip=tip, holes=[SkinHole(29, 0.0, "upper", 0.1), SkinHole(29, 1.0, "lower", 0.1)])
    skin = made.flat.skin
    middle = len(skin.first_in) // 2
    for edge in (skin.first_in, skin.second_in):
        assert edge[:, 0].argmin() == middle
    # the hole on the foremost line lies on the flat's x axis, the other one an inch of skin away from it
    assert made.holes_in[0][1] == pytest.approx(0, abs=1e-9)
    assert made.holes_in[1][1] == pytest.approx(1.0, abs=1e-3)
