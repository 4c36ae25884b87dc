"""What must hold of every shape: areas, lengths, offsets, mirrors, tiles, flats."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon as Area

from ribwright.core.geometry import (
    area_in2,
    filleted,
    flat_of,
    flattened,
    length_in,
    nose_outline,
    offset_outline,
    skin_between,
)
from ribwright.core.geometry.outlines import outline, reversed_outline
from ribwright.core.scene import Circle, Line, Scene, bounds, full_size, mirrored
from ribwright.errors import GeometryError, RibwrightError

settings.register_profile("shapes", deadline=None, max_examples=40, derandomize=True)
settings.load_profile("shapes")

size = st.floats(0.5, 40, allow_nan=False)
small = st.floats(0.01, 0.3)


@st.composite
def stars(draw):
    """Star-shaped polygons, which never cross themselves."""
    count = draw(st.integers(3, 12))
    radii = draw(st.lists(st.floats(1, 6), min_size=count, max_size=count))
    turn = np.arange(count) * 2 * np.pi / count
    return np.stack([np.array(radii) * np.cos(turn), np.array(radii) * np.sin(turn)], axis=1)


@given(stars(), st.floats(0.001, 0.2))
def test_fillets_shorten_the_way_round_and_agree_with_shapely(points, radius):
    try:
        made = filleted(points, radius)
    except GeometryError:
        return
    fine = Area(flattened(made, chord_error_in=1e-6))
    assert fine.is_valid
    assert area_in2(made) == pytest.approx(fine.area, abs=1e-4)
    assert length_in(made) <= length_in(outline(points)) + 1e-9


@given(stars(), small)
def test_offsets_agree_with_shapely_both_ways(points, distance):
    made = outline(points)
    for side in (distance, -distance):
        try:
            out = offset_outline(made, side)
        except GeometryError:
            continue
        expected = Area(points).buffer(side, quad_segs=200)
        assert area_in2(out) == pytest.approx(expected.area, rel=2e-3, abs=2e-3)


@given(stars())
def test_reversing_changes_the_sign_of_the_area_and_no_length(points):
    made = outline(points)
    back = reversed_outline(made)
    assert area_in2(back) == pytest.approx(-area_in2(made))
    assert length_in(back) == pytest.approx(length_in(made))


@given(stars(), st.floats(-10, 10))
def test_mirrored_twice_is_where_it_was(points, about):
    scene = Scene(tuple(Line(tuple(a), tuple(b)) for a, b in zip(points, np.roll(points, 1, 0), strict=True)))
    again = mirrored(mirrored(scene, about), about)
    for a, b in zip(scene.items, again.items, strict=True):
        assert a.a == pytest.approx(b.a)
        assert a.b == pytest.approx(b.b)


@given(size, size, st.sampled_from(["letter", "a4", "a3", "tabloid", "roll-24in"]))
def test_every_point_of_a_drawing_is_on_a_sheet(wide, tall, paper):
    marks = [(u * wide, v * tall) for u in (0, 0.21, 0.5, 0.83, 1) for v in (0, 0.37, 0.74, 1)]
    scene = Scene(tuple(Circle(p, 0.01) for p in marks))
    pages = full_size(scene, paper)
    seen = set()
    first = bounds(scene)
    for page in pages:
        w = page.window
        for item in page.drawing.items:
            x, y = item.center
            if w.left <= x <= w.right and w.bottom <= y <= w.top:
                # which mark: undo the page's shift by its row and column
                gx = x - w.left + page.column * (w.width - 0.5)
                gy = y - w.bottom - page.row * (w.height - 0.5)
                seen.add((round(gx, 6), round(gy, 6)))
    assert len(seen) == len(set(marks))
    xs = sorted({s[0] for s in seen})
    assert xs[-1] - xs[0] == pytest.approx(wide, abs=1e-5)
    assert first.width == pytest.approx(wide + 0.02)


@given(
    st.floats(0.3, 2), st.floats(0.3, 2), st.floats(1, 9), st.floats(1, 9), st.floats(0, 8), st.floats(10, 90),
    st.floats(-2, 2), st.floats(-2, 2),
)  # fmt: skip
def test_a_nose_of_constant_wedge_angle_flattens_without_stretch(r1, r2, f1, f2, slope, span, sweep, lift):
    try:
        first = nose_outline(radius_in=r1, upper_flat_in=f1, lower_flat_in=f1, upper_slope_deg=slope)
        second = nose_outline(radius_in=r2, upper_flat_in=f2, lower_flat_in=f2, upper_slope_deg=slope)
    except RibwrightError:
        assume(False)
        return
    moved = type(second)(second.points_in + np.array([sweep, lift]), second.bulges, False)
    flat = flat_of(skin_between(first, moved, station_first_in=0, station_second_in=span, per_arc=181))
    assert flat.stretch_in < 1e-8
    assert flat.twist_deg < 1e-5
    # rulings and both edges keep their lengths
    skin = flat.skin
    assert np.allclose(
        np.linalg.norm(flat.first_in - flat.second_in, axis=1),
        np.linalg.norm(skin.first_in - skin.second_in, axis=1),
        atol=1e-9,
    )
    for edge, true in ((flat.first_in, skin.first_in), (flat.second_in, skin.second_in)):
        assert np.allclose(
            np.linalg.norm(np.diff(edge, axis=0), axis=1),
            np.linalg.norm(np.diff(true, axis=0), axis=1),
            atol=1e-9,
        )
