"""A line photographed on its card becomes a template whose edge is the line that was drawn."""

from __future__ import annotations

import numpy as np
import pytest
from shapely.geometry import LineString, Point

from photo.render_profile import nose_outline
from ribwright.core.geometry import Outline, flattened
from ribwright.core.scene import Polyline
from ribwright.core.templates.traced import points_of_line, traced_raw, upright
from ribwright.errors import FormatError, GeometryError, OutOfRangeError
from ribwright.services.calculations import run_calculation
from ribwright.services.traced import raw_from_points


def edge_of(done) -> LineString:
    """The cut edge of the template, as a fine line."""
    body = next(i for i in done.outcome.templates[0].items if isinstance(i, Polyline) and i.layer == "cut")
    made = flattened(Outline(np.array(body.points), np.array(body.bulges), True), chord_error_in=1e-4)
    return LineString([*made, made[0]])


def test_the_template_is_the_drawn_line_and_says_how_far_points_moved():
    drawn = nose_outline(14, 12, 55)
    rng = np.random.default_rng(3)
    u95 = np.full(len(drawn), 0.1)
    u95[::17] = np.nan
    line = drawn * np.array([1.0, -1.0]) + rng.normal(0, 0.05, drawn.shape)
    points, reading = points_of_line(line, u95)
    assert reading == pytest.approx(0.05 / 25.4)
    raw = traced_raw(
        points, reading, part="tip rib", station="0", thickness=".025", given="outside", kind="female"
    )
    done = run_calculation("traced-template", raw)
    assert 0 < done.outcome.results["residual_max"].value < 6 * reading
    edge = edge_of(done)
    truth = upright(drawn * np.array([1.0, -1.0]) / 25.4)
    # The noise of the ends turns and moves the whole a little; what is left is the shape.
    gap = [edge.distance(Point(p)) * 25.4 for p in _fit(truth[30:-30:5], edge)]
    assert max(gap) < 0.15
    assert np.sqrt(np.mean(np.square(gap))) < 0.06


def _fit(points, onto):
    """Points moved and turned onto a line (iterated closest points)."""
    made = points.copy()
    for _ in range(20):
        near = np.array([onto.interpolate(onto.project(Point(p))).coords[0] for p in made])
        a, b = made - made.mean(axis=0), near - near.mean(axis=0)
        angle = np.arctan2(np.sum(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]), np.sum(a * b))
        c, s = np.cos(angle), np.sin(angle)
        made = a @ np.array([[c, s], [-s, c]]) + near.mean(axis=0)
    return made


def test_however_the_line_lay_its_nose_comes_to_the_left():
    t = np.linspace(np.radians(60), np.radians(300), 80)
    arc = np.column_stack([30 * np.cos(t), 30 * np.sin(t)])
    for angle in (0, 40, 130, 250):
        c, s = np.cos(np.radians(angle)), np.sin(np.radians(angle))
        for line in (arc, arc[::-1]):
            points, _ = points_of_line(line @ np.array([[c, s], [-s, c]]))
            assert points[0, 1] > points[-1, 1]
            assert points[:, 0].min() == pytest.approx(0)
            assert points[:, 0].argmin() == pytest.approx(len(points) / 2, abs=1)
            assert points[0, 0] == pytest.approx(points[-1, 0], abs=1e-6)


def test_what_was_not_seen_is_not_bridged():
    t = np.linspace(np.radians(60), np.radians(300), 80)
    line = 30 * np.column_stack([np.cos(t), np.sin(t)])
    u95 = np.full(80, 0.1)
    u95[30:45] = np.nan
    with pytest.raises(GeometryError, match="not seen"):
        points_of_line(line, u95)
    with pytest.raises(OutOfRangeError):
        points_of_line(line[:6])
    with pytest.raises(GeometryError, match="closed"):
        upright(np.array([[0.0, 0.0], [1.0, 1.0], [0.0, 0.0]]))


def test_points_in_a_file_are_read_or_the_line_is_named():
    t = np.linspace(np.radians(60), np.radians(300), 30)
    lines = [f"{1.2 * np.cos(a):.4f}, {1.2 * np.sin(a):.4f}" for a in t]
    ask = {"unit": "in", "reading": ".002 in", "part": "rib", "station": "0", "thickness": ".025"}
    done = run_calculation("traced-template", raw_from_points("x, y\n" + "\n".join(lines), **ask))
    assert done.outcome.results["curve_length"].value == pytest.approx(1.2 * np.radians(240), rel=2e-3)
    with pytest.raises(FormatError, match="line 12"):
        raw_from_points("\n".join([*lines[:11], "1.0, wide", *lines[12:]]), **ask)
    with pytest.raises(OutOfRangeError):
        raw_from_points("\n".join(lines[:5]), **ask)
    mixed = [*lines[:10], *lines[20:], *lines[10:20]]
    with pytest.raises(GeometryError):
        run_calculation("traced-template", raw_from_points("\n".join(mixed), **ask))
