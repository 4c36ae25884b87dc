"""Strips, gauges, blocks, cradle: what is drawn is what is asked, measured on the drawing."""

from __future__ import annotations

import numpy as np
import pytest
from shapely.geometry import Polygon

from ribwright.core.geometry import area_in2, filleted, flattened, naca_section, outline, with_arcs
from ribwright.core.scene import Bounds, Circle, Line, Polyline, Scene, Text, bounds
from ribwright.core.scene.strokes import drawn
from ribwright.core.templates.blocks import (
    cradle,
    form_block,
    lightening_hole,
)
from ribwright.core.templates.gauges import HeadLimits, edge_gauge, guide_plate, head_gauge, sight_overlay
from ribwright.core.templates.skin import NoseStation, nose_at
from ribwright.core.templates.strips import fan_strip
from ribwright.errors import DoesNotFitError, GeometryError, OutOfRangeError

ROW = [0.375 + 1.125 * n for n in range(8)]


def _cut(scene):
    return [p for p in drawn(scene) if getattr(p, "layer", "") == "cut"]


def test_fan_divides_every_row_in_its_range():
    scene = fan_strip(8, least_pitch_in=0.75, greatest_pitch_in=1.25, width_in=6)
    lines = [i for i in scene.items if isinstance(i, Line) and abs(i.b[1] - i.a[1]) == 6]
    assert len(lines) == 9
    for y in (0.0, 1.7, 6.0):
        x = np.array([i.a[0] + (i.b[0] - i.a[0]) * y / 6 for i in lines])
        pitch = 0.75 + 0.5 * y / 6
        assert np.allclose(np.diff(x), pitch, atol=1e-12)


def test_pitch_scale_of_the_fan_is_true():
    scene = fan_strip(4, least_pitch_in=0.8, greatest_pitch_in=1.2, width_in=5)
    texts = {i.text: i.at[1] + 0.035 for i in scene.items if isinstance(i, Text)}
    assert texts["1"] == pytest.approx(5 * (1 - 0.8) / 0.4)
    # each tick touches the fan's outer line where the pitch is the one it says
    ticks = [i for i in scene.items if isinstance(i, Line) and i.a[1] == i.b[1]]
    assert len(ticks) == 7
    for tick in ticks:
        assert tick.b[0] == pytest.approx(-2 * (0.8 + 0.4 * tick.b[1] / 5))


def test_impossible_fans():
    with pytest.raises(OutOfRangeError):
        fan_strip(0, least_pitch_in=1, greatest_pitch_in=2)
    with pytest.raises(OutOfRangeError):
        fan_strip(5, least_pitch_in=2, greatest_pitch_in=1)


def test_head_gauge_has_the_limits_as_gaps_and_holes():
    limits = [HeadLimits("3/32", 0.122, 0.038, 0.050), HeadLimits("1/8", 0.163, 0.050, 0.070)]
    plate, *holes = sorted(_cut(head_gauge(limits)), key=lambda p: isinstance(p, Circle))
    assert [2 * h.radius for h in holes] == pytest.approx([0.122, 0.163])
    heights = {round(y, 6) for _, y in plate.points} - {0.0, 1.5, 1.38}
    assert heights == {0.05, 0.038, 0.07}
    # gaps wide enough to clear the head that they measure
    x = [x for x, y in plate.points if abs(y - 0.038) < 1e-9]
    assert max(x) - min(x) == pytest.approx(1.8 * 0.122)
    assert (max(x) + min(x)) / 2 == pytest.approx(0.94)
    with pytest.raises(OutOfRangeError):
        head_gauge([HeadLimits("1/8", 0.163, 0.070, 0.050)])
    with pytest.raises(OutOfRangeError):
        head_gauge([])


def test_edge_gauge_steps_are_the_distances():
    (plate,) = _cut(edge_gauge([("3/32", 0.1875), ("1/8", 0.25)]))
    assert {y for _, y in plate.points} == {-0.4, 0.1875, 0.25}
    Polygon(plate.points).is_valid  # noqa: B018
    assert Polygon(plate.points).is_valid


def test_guide_plate_clears_its_neighbours():
    scene = guide_plate(set_diameter_in=0.401, pitch_in=1.0, head_diameter_in=0.179)
    plate, hole = sorted(_cut(scene), key=lambda p: isinstance(p, Circle))
    half = max(x for x, _ in plate.points)
    assert half == pytest.approx(1.0 - 0.179 / 2 - 0.015)
    assert bounds(Scene((plate,))) == Bounds(-half, -0.75, half, 0.75)
    assert hole.radius == pytest.approx(0.401 / 2 + 0.015)


def test_guide_plate_that_cannot_be_says_the_largest_set():
    with pytest.raises(DoesNotFitError) as caught:
        guide_plate(set_diameter_in=0.9, pitch_in=0.5, head_diameter_in=0.179)
    largest = float(str(caught.value).split("at most ")[1].split()[0])
    guide_plate(set_diameter_in=largest - 1e-3, pitch_in=0.5, head_diameter_in=0.179)


def test_sight_line_lies_one_radius_in():
    scene = sight_overlay(radius_in=0.125, bend_allowance_in=0.22)
    folds = [i for i in scene.items if isinstance(i, Line) and i.style == "fold"]
    assert [f.a[1] for f in folds] == [0.125]
    with pytest.raises(OutOfRangeError):
        sight_overlay(radius_in=0, bend_allowance_in=0.22)


def _rib():
    section = naca_section("23012") * 40
    fit = with_arcs(section[(section[:, 0] > 0) & (section[:, 0] < 26)])
    return outline(fit.points_in, fit.bulges)


def test_form_block_is_smaller_by_sheet_and_skin_all_round():
    rib = filleted([[0, 0], [12, 0], [12, 3], [0, 3]], 0.5)
    made = form_block(
        rib,
        thickness_in=0.025,
        skin_in=0.020,
        block_in=0.75,
        springback_deg=6,
        edge_radius_in=0.09,
        pins=[(3, 1.5)],
    )
    assert area_in2(made.top) == pytest.approx(
        Polygon(flattened(rib, chord_error_in=1e-6)).buffer(-0.045).area, abs=1e-3
    )
    assert made.relief_in == pytest.approx(0.75 * np.tan(np.radians(6)))
    top, foot = (Polygon(flattened(m, chord_error_in=1e-5)) for m in (made.top, made.foot))
    assert top.contains(foot)
    assert foot.exterior.distance(top.exterior) == pytest.approx(made.relief_in, abs=1e-4)


def test_form_block_of_an_aerofoil_rib():
    made = form_block(_rib(), thickness_in=0.025, block_in=0.75, springback_deg=5, edge_radius_in=0.09)
    assert 0 < area_in2(made.foot) < area_in2(made.top) < abs(area_in2(_rib()))


def test_block_refuses_what_it_cannot_be():
    rib = filleted([[0, 0], [12, 0], [12, 3], [0, 3]], 0.5)
    with pytest.raises(GeometryError, match="pin 2 lies off"):
        form_block(
            rib,
            thickness_in=0.025,
            block_in=0.75,
            springback_deg=5,
            edge_radius_in=0.1,
            pins=[(3, 1.5), (3, 3.2)],
        )
    for more in ({"springback_deg": 45}, {"block_in": 0}, {"edge_radius_in": 2}, {"thickness_in": 0}):
        with pytest.raises(OutOfRangeError):
            form_block(
                rib,
                **{
                    "thickness_in": 0.025,
                    "block_in": 0.75,
                    "springback_deg": 5,
                    "edge_radius_in": 0.1,
                    **more,
                },
            )
    with pytest.raises(GeometryError):
        form_block(rib, thickness_in=0.2, block_in=4, springback_deg=20, edge_radius_in=0.1)


def test_lightening_hole_with_its_flange():
    cut, flange = lightening_hole((3, 1), 1.5, 0.25)
    assert (cut.radius, flange.radius, cut.layer, flange.layer) == (0.75, 1.0, "cut", "marked")


STATIONS = [
    (z, nose_at(NoseStation(z, 1.12 - 0.34 * z / 58, 5, 5, 5.5), 0.0)) for z in (2.0, 20.0, 40.0, 56.0)
]


def test_cradle_pieces_fit_into_each_other():
    pieces = cradle(STATIONS, outwards_in=0.02, board_in=0.25, depth_in=2.5, base_in=2.0)
    assert len(pieces) == 5
    shapes = [Polygon(p.points) for scene in pieces for p in _cut(scene) if isinstance(p, Polyline)]
    assert all(s.is_valid for s in shapes)
    cross, runner = shapes[0], shapes[-1]
    # slots: two in the foot of each cross piece, one for each station in the top of a runner
    x0, y0, x1, _ = cross.bounds
    band = Polygon([(x0, y0), (x1, y0), (x1, y0 + 0.01), (x0, y0 + 0.01)])
    gaps = band.difference(cross)
    assert len(gaps.geoms) == 2
    assert all(abs(g.bounds[2] - g.bounds[0] - 0.26) < 1e-9 for g in gaps.geoms)
    rx0, _, rx1, ry1 = runner.bounds
    slots = Polygon([(rx0, ry1 - 0.01), (rx1, ry1 - 0.01), (rx1, ry1), (rx0, ry1)]).difference(runner)
    middles = sorted((g.bounds[0] + g.bounds[2]) / 2 for g in slots.geoms)
    assert middles == pytest.approx([2, 20, 40, 56])
    # put together, both stand on the bench: slot heights add up to the runner's height
    foot = min(y for x, y in zip(*cross.exterior.xy, strict=True) if y > y0 + 1e-9) - y0
    low = min(y for x, y in zip(*runner.exterior.xy, strict=True) if y > 1e-9)
    assert foot == pytest.approx(low)
    assert foot + low == pytest.approx(ry1)


def test_cup_of_the_cradle_is_the_outside_of_the_skin():
    scene = cradle(STATIONS, outwards_in=0.02, board_in=0.25, depth_in=2.5)[0]
    (piece,) = [Polygon(p.points) for p in _cut(scene) if isinstance(p, Polyline)]
    radius = 1.12 - 0.34 * 2 / 58 + 0.02
    center = (0.0, radius - 0.02)
    distances = [np.hypot(x - center[0], y - center[1]) for x, y in piece.exterior.coords]
    assert sum(abs(d - radius) < 1e-3 for d in distances) > 20
    assert min(distances) > radius - 2e-3


def test_lettering_of_small_plates_stays_on_them():
    from ribwright.core.templates.gauges import wedge_gauge

    pieces = cradle(STATIONS, outwards_in=0.02, board_in=0.25, depth_in=2.5, hand="left")
    for scene in (*pieces, wedge_gauge(half_angle_deg=5.5)):
        board = bounds(Scene(tuple(_cut(scene))))
        whole = bounds(scene)
        assert (whole.left, whole.bottom, whole.right, whole.top) == pytest.approx(
            (board.left, board.bottom, board.right, board.top)
        )


def test_cradles_that_cannot_be():
    with pytest.raises(GeometryError, match="two stations"):
        cradle(STATIONS[:1], outwards_in=0.02, board_in=0.25, depth_in=2)
    with pytest.raises(GeometryError, match="touch"):
        cradle([STATIONS[0], (2.1, STATIONS[1][1])], outwards_in=0.02, board_in=0.25, depth_in=2)
    with pytest.raises(GeometryError, match="ends inside the cradle"):
        cradle(STATIONS, outwards_in=0.02, board_in=0.25, depth_in=9)
