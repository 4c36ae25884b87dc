"""The calculations: what they answer on the Dunlin's numbers, and what they refuse."""

from __future__ import annotations

import tomllib
from pathlib import Path

import numpy as np
import pytest

from ribwright.core.audit import read
from ribwright.core.audit.calculation import CALCULATIONS
from ribwright.core.scene import Marker, full_size
from ribwright.core.templates import (  # noqa: F401  (registers the calculations)
    blank_nest,
    plate_sheets,
    printer_sheet,
    profile_set,
    section_set,
    skin_sheet,
)
from ribwright.errors import GeometryError, OutOfRangeError, OutsideTableError

EXAMPLES = Path(__file__).parents[3] / "docs" / "examples"


def _run(name, **change):
    raw = tomllib.loads((EXAMPLES / f"{name}.toml").read_text(encoding="utf-8")) | change
    made = CALCULATIONS[name]
    return made.outcome(read(made.spec, raw))


def _value(outcome, key):
    return outcome.results[key].value


def test_radii_of_the_aileron_nose_are_the_straight_taper_plus_the_sheet():
    outcome = _run("profile-templates")
    stations = np.array([2, 14.5, 29, 43.5, 56])
    assert _value(outcome, "radii") == pytest.approx(tuple(1.12 - 0.34 * stations / 58 + 0.020))
    assert len(outcome.templates) == 5
    assert [s.title.split("station ")[1] for s in outcome.templates] == [
        "2 in",
        "14.5 in",
        "29 in",
        "43.5 in",
        "56 in",
    ]


def test_male_set_is_the_inside_radius():
    outcome = _run("profile-templates", kind="male", touches="inside")
    assert _value(outcome, "radii")[2] == pytest.approx(0.95)


def test_hinge_line_runs_straight_through_the_boards():
    raw = tomllib.loads((EXAMPLES / "profile-templates.toml").read_text(encoding="utf-8"))
    ends = [
        end | {"hinge_aft": aft, "hinge_up": up}
        for end, aft, up in zip(raw["ends"], ("3.2", "2.3"), ("-.4", "-.3"), strict=True)
    ]
    outcome = _run("profile-templates", ends=ends, kind="male", touches="inside")
    places = [i.at for s in outcome.templates for i in s.items if isinstance(i, Marker)]
    share = np.array([2, 14.5, 29, 43.5, 56]) / 58
    assert np.allclose(places, np.stack([3.2 - 0.9 * share, -0.4 + 0.1 * share], axis=1))


def test_template_beyond_the_drawn_sections_is_refused():
    with pytest.raises(OutsideTableError, match="0 to 58 in"):
        _run("profile-templates", stations=[{"station": "60"}])
    with pytest.raises(GeometryError, match="female outside, male inside"):
        _run("profile-templates", touches="inside")


def test_section_templates_at_an_end_are_the_drawn_section():
    end = _run("section-templates", stations=[{"station": "24"}])
    middle = _run("section-templates", stations=[{"station": "90"}])
    assert _value(end, "curve_lengths")[0] > _value(middle, "curve_lengths")[0]
    from ribwright.core.geometry import naca_section
    from ribwright.core.geometry.curves import arc_length_in

    section = naca_section("23014", count=801) * 54
    fore = section[section[:, 0] <= section[:, 0].min() + 0.3 * np.ptp(section[:, 0])]
    assert _value(end, "curve_lengths")[0] == pytest.approx(arc_length_in(fore)[-1], abs=0.15)


def test_the_cut_end_of_a_section_lies_on_it():
    from shapely.geometry import LineString, Point

    from ribwright.core.geometry import naca_section
    from ribwright.core.templates.section_set import fore_part

    dense = LineString(naca_section("23014", count=4001) * 54)
    for share in (0.2, 0.2999, 0.3, 0.3001, 0.61):
        section = naca_section("23014", count=161) * 54
        fore = fore_part(section, share)
        assert max(dense.distance(Point(p)) for p in (fore[0], fore[-1])) < 2e-4
        assert fore[0, 0] == pytest.approx(fore[-1, 0], abs=1e-9)
        assert fore[0, 0] == pytest.approx(section[:, 0].min() + share * np.ptp(section[:, 0]), abs=1e-9)


def test_coordinates_of_a_naca_section_give_the_template_of_its_number():
    from ribwright.core.geometry import naca_section

    points = [
        {"section": "root list", "x": repr(x), "y": repr(y)}
        for x, y in naca_section("23014", count=61).tolist()
    ]
    raw = tomllib.loads((EXAMPLES / "section-templates.toml").read_text(encoding="utf-8"))
    listed = [raw["sections"][0] | {"section": "root list"}, raw["sections"][1]]
    by_points = _run("section-templates", sections=listed, coordinates=points)
    by_number = _run("section-templates")
    assert _value(by_points, "curve_lengths") == pytest.approx(_value(by_number, "curve_lengths"), abs=0.01)
    points[20], points[30] = points[30], points[20]
    with pytest.raises(GeometryError, match="coordinates of root list: points are in mixed order"):
        _run("section-templates", sections=listed, coordinates=points)


def test_traced_template_says_how_far_points_moved():
    outcome = _run("traced-template")
    assert _value(outcome, "residual_rms") <= 0.010 + 1e-9
    exact = _run("traced-template", reading="0")
    assert _value(exact, "residual_max") == 0
    raw = tomllib.loads((EXAMPLES / "traced-template.toml").read_text(encoding="utf-8"))
    with pytest.raises(GeometryError, match="reverse order"):
        _run("traced-template", points=raw["points"][::-1])
    misread = [dict(p) for p in raw["points"]]
    misread[4]["y"] = "1.06"
    assert _value(_run("traced-template", points=misread, reading=".05"), "worst_point") == 5


def test_flat_of_the_aileron_nose_skin():
    outcome = _run("flat-skin")
    assert _value(outcome, "stretch") < 1e-6
    for key, radius, flat in (("root_width", 1.12, 3.0), ("tip_width", 0.78, 2.25)):
        width = 2 * flat + (radius + 0.010) * (np.pi + np.radians(11))
        assert _value(outcome, key) == pytest.approx(width, abs=1e-4)
    assert _value(outcome, "hole_y")[1] == pytest.approx(-_value(outcome, "hole_y")[2])


def test_printer_check_corrects_and_refuses():
    assert _value(_run("printer-check"), "short_factor") == pytest.approx(4 / 3.984)
    with pytest.raises(OutOfRangeError, match="fit to page"):
        _run("printer-check", short="3.76", long="3.76")


def test_every_template_prints_on_letter_and_on_a4():
    for name in ("profile-templates", "section-templates", "traced-template", "guide-plate", "fan-strip"):
        for scene in _run(name).templates:
            for paper in ("letter", "a4"):
                assert full_size(scene, paper)


def test_fan_answers():
    fan = _run("fan-strip")
    assert (_value(fan, "shortest"), _value(fan, "longest")) == (6.0, 10.0)


def test_nest_of_the_example_keeps_every_piece():
    outcome = _run("nest-blanks")
    assert _value(outcome, "placed") == 9
    assert len(_value(outcome, "x")) == 9
    area = 5 * (11.2 * (3.5 + 2.25) / 2) + 4 * 21
    assert _value(outcome, "area") == pytest.approx(area, rel=0.01)
    assert _value(outcome, "weight") == pytest.approx(area * 0.025 * 0.1, rel=0.01)
