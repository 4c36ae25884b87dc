from __future__ import annotations

import math

import pytest

from ribwright.core.scene import (
    Arc,
    Circle,
    Dimension,
    Hand,
    Hatch,
    Leader,
    Line,
    Marker,
    Polygon,
    Polyline,
    Scene,
    Text,
    bounds,
    hand_mark,
    length_text,
    lettering_for,
    mirrored,
    moved,
    orientation,
    together,
    turned,
    width_of,
)
from ribwright.core.scene.strokes import arc_of_bulge, drawn

EVERYTHING = Scene(
    (
        Line((0, 0), (3, 1)),
        Arc((1, 2), 0.7, 20, 200),
        Circle((4, 1), 0.3, layer="drilled"),
        Polyline(((0, 0), (2, 0), (2, 1)), True, bulges=(0.4, 0, -0.2)),
        Polygon(((5, 0), (6, 0), (6, 1)), fill="tint"),
        Hatch(((7, 0), (8, 0), (8, 2), (7, 2)), angle_deg=30, spacing=0.2),
        Text((1, 3), "TEXT", 0.2, "start", 15),
        Dimension((0, 0), (2, 0), 0.5),
        Dimension((0, 0), (2, 1), -0.5, along="x"),
        Dimension((0, 0), (2, 1), 0.4, along="y"),
        Leader((2, 1), (3, 2), "a note"),
        Marker((3, 0.5), "dimple-up", "A"),
        Hand((0, 4), "left"),
    ),
    title="everything",
)


def _words(scene):
    return [part.text for part in drawn(scene) if isinstance(part, Text)]


def test_mirrored_twice_is_the_same_drawing():
    again = mirrored(mirrored(EVERYTHING, 3.25), 3.25)
    for a, b in zip(EVERYTHING.items, again.items, strict=True):
        assert type(a) is type(b)
        if isinstance(a, Arc):
            assert (b.start_deg, b.end_deg) == pytest.approx((a.start_deg, a.end_deg))
        else:
            assert a == b


def test_mirror_reflects_bounds_and_changes_the_hand():
    plain = Scene(tuple(i for i in EVERYTHING.items if not isinstance(i, Text | Hand)))
    a, b = bounds(plain), bounds(mirrored(plain))
    assert (b.left, b.right) == pytest.approx((-a.right, -a.left), abs=1e-9)
    assert (b.bottom, b.top) == pytest.approx((a.bottom, a.top), abs=0.12)
    assert "LEFT HAND" in _words(EVERYTHING)
    assert "RIGHT HAND" in _words(mirrored(EVERYTHING))
    assert "LEFT HAND" not in _words(mirrored(EVERYTHING))


def test_mirror_keeps_a_dimple_up():
    marker = next(i for i in mirrored(EVERYTHING).items if isinstance(i, Marker))
    assert marker.kind == "dimple-up"


def test_moved_shifts_everything():
    a, b = bounds(EVERYTHING), bounds(moved(EVERYTHING, 2, -3))
    assert (b.left - a.left, b.top - a.top) == pytest.approx((2, -3))


def test_a_quarter_turn_keeps_lengths():
    # lettering is wider than the lines and turns with them, so widths and heights swap as a whole
    scene = Scene((Line((0, 0), (4, 1)), Dimension((0, 0), (4, 1), 0.5, along="x"), Circle((2, 0.5), 0.2)))
    a, b = bounds(scene), bounds(turned(scene, 90))
    assert (b.width, b.height) == pytest.approx((a.height, a.width), abs=1e-9)


def test_bounds_of_arcs_reach_their_quadrants():
    box = bounds(Scene((Arc((0, 0), 2, 45, 135),)))
    assert (box.top, box.bottom) == pytest.approx((2, math.sqrt(2)))
    box = bounds(Scene((Polyline(((1, 0), (-1, 0)), bulges=(1.0,)),)))
    assert (box.top, box.bottom) == pytest.approx((1, 0), abs=1e-12)
    box = bounds(Scene((Polyline(((1, 0), (-1, 0)), bulges=(-1.0,)),)))
    assert (box.top, box.bottom) == pytest.approx((0, -1), abs=1e-12)


@pytest.mark.parametrize("bulge", [0.3, -0.3, 1.7, -0.05])
def test_bulge_to_arc_runs_through_both_ends(bulge):
    a, b = (1.0, 2.0), (4.0, 3.5)
    center, radius, start, end = arc_of_bulge(a, b, bulge)
    first, last = (a, b) if bulge > 0 else (b, a)
    for angle, point in ((start, first), (end, last)):
        on = (
            center[0] + radius * math.cos(math.radians(angle)),
            center[1] + radius * math.sin(math.radians(angle)),
        )
        assert on == pytest.approx(point)
    assert math.radians((end - start) % 360) == pytest.approx(4 * math.atan(abs(bulge)))


@pytest.mark.parametrize(
    ("length", "text"),
    [
        (1.1875, "1-3/16"),
        (0.5, "1/2"),
        (3, "3"),
        (0.032, ".032"),
        (1.12, "1.120"),
        (0.0, "0"),
        (2.4996, "2-1/2"),
    ],
)
def test_lengths_as_a_shop_writes_them(length, text):
    assert length_text(length) == text


def test_dimension_letters_what_it_measures():
    assert _words(Scene((Dimension((0, 0), (3, 4), 0.5),))) == ["5"]
    assert _words(Scene((Dimension((0, 0), (3, 4), 0.5, along="x"),))) == ["3"]
    assert _words(Scene((Dimension((0, 0), (3, 4), 0.5, along="y"),))) == ["4"]
    assert _words(Scene((Dimension((0, 0), (3, 4), 0.5, text="5 REF"),))) == ["5 REF"]


@pytest.mark.parametrize(("a", "b"), [((0, 0), (3, 0)), ((3, 0), (0, 0)), ((0, 0), (0, 3)), ((2, 2), (0, 0))])
def test_dimension_text_reads_from_below_or_from_the_right(a, b):
    text = next(p for p in drawn(Scene((Dimension(a, b, 0.5),))) if isinstance(p, Text))
    assert -90 < round(text.angle_deg, 6) <= 90


@pytest.mark.parametrize(("offset", "side"), [(0.5, 1), (-0.5, -1)])
def test_offset_is_to_the_left_of_the_direction(offset, side):
    line = [p for p in drawn(Scene((Dimension((0, 0), (5, 0), offset),))) if isinstance(p, Line)][-1]
    assert line.a[1] == pytest.approx(0.5 * side)


def test_short_dimensions_put_their_arrows_outside():
    heads = [p for p in drawn(Scene((Dimension((0, 0), (0.1, 0), 0.5),))) if isinstance(p, Polygon)]
    tips = sorted(h.points[0][0] for h in heads)
    backs = sorted(h.points[1][0] for h in heads)
    assert tips == pytest.approx([0, 0.1])
    assert backs[0] < 0
    assert backs[1] > 0.1


def test_hatching_stays_inside_its_area():
    area = ((0, 0), (4, 0), (4, 1), (2, 1), (2, 3), (0, 3))
    lines = drawn(Scene((Hatch(area, 45, 0.1),)))
    total = sum(math.dist(p.a, p.b) for p in lines)
    # length of lining times spacing is the area
    assert total * 0.1 == pytest.approx(4 + 4, rel=0.01)
    for p in lines:
        x, y = (p.a[0] + p.b[0]) / 2, (p.a[1] + p.b[1]) / 2
        assert (0 <= x <= 4 and 0 <= y <= 1) or (0 <= x <= 2 and 0 <= y <= 3)


def test_every_kind_of_hole_has_a_shape_of_its_own():
    shapes = {
        kind: tuple(type(p).__name__ + getattr(p, "style", "") for p in drawn(Scene((Marker((0, 0), kind),))))
        for kind in ("hole", "dimple-up", "dimple-down", "countersink", "left-open")
    }
    assert len(set(shapes.values())) == 5


def test_a_hole_is_drawn_at_its_true_size_in_the_drilling_layer():
    circles = [
        p for p in drawn(Scene((Marker((1, 2), "dimple-down", diameter=0.128),))) if isinstance(p, Circle)
    ]
    drilled = [c for c in circles if c.layer == "drilled"]
    assert [(c.center, c.radius) for c in drilled] == [((1, 2), 0.064)]


def test_arrows_of_orientation_point_where_they_say():
    scene = orientation((1, 1), up=(0, 2), fwd=(-1, 0))
    tips = {round(p.points[0][0], 6): round(p.points[0][1], 6) for p in scene.items if isinstance(p, Polygon)}
    assert tips == {1.0: 1.6, 0.4: 1.0}
    assert _words(scene) == ["UP", "FWD"]


def test_no_hand_no_letters():
    assert hand_mark((0, 0), "none").items == ()
    assert _words(hand_mark((0, 0), "right")) == ["RIGHT HAND"]


def test_together_keeps_order_and_first_title():
    both = together(
        Scene((Line((0, 0), (1, 1)),), described="one."), Scene((Text((0, 0), "x"),), "t", "two.")
    )
    assert len(both.items) == 2
    assert (both.title, both.described) == ("t", "one. two.")


def test_widths_are_those_of_the_face_that_is_printed():
    metrics = pytest.importorskip("reportlab.pdfbase.pdfmetrics")
    for text in ("Nose template, station 12.5", "1-3/16", "UP FWD INBD", "98° ±.005 ×½"):
        real = metrics.stringWidth(text, "Helvetica", 1 / 0.718)
        assert width_of(text, 1.0) == pytest.approx(real, rel=1e-3)


def test_lettering_keeps_its_printed_height():
    assert lettering_for(58, shown_in=7, printed_in=0.1) * 7 / 58 == pytest.approx(0.1)


def test_empty_scene_has_no_size():
    assert bounds(Scene()).width == 0
