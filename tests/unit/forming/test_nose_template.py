"""Full-size boards of a rolled edge: each is the inside of the skin, lies clear of the next, and says its place."""

from __future__ import annotations

import itertools
import tomllib
from pathlib import Path

import numpy as np
import pytest

from ribwright.core.forming.nose_template import BACKING_IN, board_in, inside_in
from ribwright.core.forming.target import circle_target, ellipse_target
from ribwright.core.scene import Polyline, Text
from ribwright.services.calculations import run_calculation

EXAMPLE = Path(__file__).parents[3] / "docs" / "examples" / "nose-roll.toml"


@pytest.mark.parametrize(("radius", "arc"), [(0.3, 90.0), (1.1, 90.0), (1.1, 40.0), (2.0, 150.0)])
def test_the_curve_is_the_skins_inside(radius: float, arc: float) -> None:
    target = circle_target(station_in=0, inner_radius_in=radius, arc_deg=arc, thickness_in=0.02, flat_in=0.5)
    curve = inside_in(target, 0.02)
    assert curve[0] == pytest.approx([0, 0], abs=1e-12)
    assert curve[-1, 1] == pytest.approx(0, abs=1e-9)
    assert curve[:, 1].max() < 1e-9
    # points a circle of the inside radius passes through, as three of them tell
    bent = curve[: int(len(curve) * (arc * radius * np.pi / 180) / (arc * radius * np.pi / 180 + 0.5)) - 2]
    (ax, ay), (bx, by), (cx, cy) = bent[0], bent[len(bent) // 2], bent[-1]
    sides = np.hypot(bx - ax, by - ay), np.hypot(cx - bx, cy - by), np.hypot(ax - cx, ay - cy)
    twice_area = abs((bx - ax) * (cy - ay) - (cx - ax) * (by - ay))
    assert np.prod(sides) / (2 * twice_area) == pytest.approx(radius, rel=2e-4)
    # the straight behind it is straight, and as long as asked
    assert np.hypot(*(curve[-1] - curve[-10])) == pytest.approx(9 * target.step_in, rel=1e-6)


def test_the_board_has_square_sides_and_a_straight_back() -> None:
    target = ellipse_target(station_in=0, depth_in=1.4, half_height_in=1.0, thickness_in=0.02, flat_in=0.5)
    board = board_in(target, 0.02)
    assert board[-1] == pytest.approx([0, BACKING_IN])
    assert board[-2] == pytest.approx([board[-3, 0], BACKING_IN])


def test_one_board_a_place_none_on_another_and_each_says_where_it_belongs() -> None:
    raw = tomllib.loads(EXAMPLE.read_text(encoding="utf-8"))
    done = run_calculation("nose-roll", raw)
    (scene,) = done.outcome.templates
    boards = [np.array(i.points) for i in scene.items if isinstance(i, Polyline) and i.layer == "cut"]
    assert len(boards) == len(raw["stations"]) > 1
    for one, after in itertools.pairwise(boards):
        assert one[:, 0].max() < after[:, 0].min()
    words = [i.text for i in scene.items if isinstance(i, Text)]
    for station in done.spec.stations:
        assert f"{station.place.value:g} in" in words
        assert f"inside radius {station.radius.value:.3f} in" in words
    assert len(scene.described) < 200
    # tighter by the tenth of the radius, the board is narrower
    tight = run_calculation("nose-roll", raw | {"stations": [{"place": "0", "radius": ".9"}], "points": []})
    wide = run_calculation("nose-roll", raw | {"stations": [{"place": "0", "radius": "1.1"}], "points": []})
    spans = [np.ptp([x for x, _ in next(i for i in d.outcome.templates[0].items if isinstance(i, Polyline)).points]) for d in (tight, wide)]  # fmt: skip
    assert spans[0] < spans[1]
