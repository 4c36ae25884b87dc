from __future__ import annotations

import numpy as np
import pytest
from shapely.geometry import LineString, Point, Polygon

from ribwright.core.geometry import area_in2, flattened, naca_section, nose_outline
from ribwright.core.scene import Circle, Hand, Marker, Polyline, Text, mirrored
from ribwright.core.scene.lettering import width_of
from ribwright.core.scene.strokes import drawn
from ribwright.core.templates.profile import BoardHole, Label, profile_template
from ribwright.errors import GeometryError, OutOfRangeError

NOSE = nose_outline(radius_in=1.12, upper_flat_in=3, lower_flat_in=3, upper_slope_deg=5.5)
LABEL = Label("DN-2101 nose skin", 12.5, "left")


def _made(kind="female", touches="outside", given="inside", profile=NOSE, **more):
    return profile_template(
        profile, LABEL, given=given, touches=touches, thickness_in=0.020, kind=kind, **more
    )


def test_female_template_of_an_inside_profile_has_the_radius_plus_the_sheet():
    profile = _made().profile
    arc = flattened(profile, chord_error_in=1e-7)[1:-1]
    assert np.abs(np.hypot(arc[:, 0] - 1.12, arc[:, 1]) - 1.14).max() < 1e-9


def test_male_template_of_an_outside_profile_loses_the_sheet():
    profile = _made("male", "inside", "outside").profile
    arc = flattened(profile, chord_error_in=1e-7)[1:-1]
    assert np.abs(np.hypot(arc[:, 0] - 1.12, arc[:, 1]) - 1.10).max() < 1e-9


def test_male_and_female_against_one_surface_share_their_edge():
    a = _made("female", "inside").profile
    b = _made("male", "inside").profile
    assert np.array_equal(a.points_in, b.points_in)


def test_body_of_a_female_template_and_of_a_male_one_fill_the_rectangle():
    """What the female board lacks is what the male one is, on the same profile."""
    female, male = _made("female", "inside").body, _made("male", "inside").body
    low, high = female.points_in.min(axis=0), female.points_in.max(axis=0)
    notch = 0.06**2  # one notch in each board
    whole = float(np.prod(high - low))
    assert abs(area_in2(female)) + abs(area_in2(male)) == pytest.approx(whole - 2 * notch, abs=1e-6)


def test_kerf_moves_the_path_into_the_waste():
    plain, cut = _made().body, _made(kerf_in=0.010).body
    a, b = (Polygon(flattened(m, chord_error_in=1e-6)) for m in (plain, cut))
    # what is left after a beam .010 wide has followed the path is the board as wanted
    left = b.buffer(-0.005, join_style="mitre")
    assert left.symmetric_difference(a).area < 1e-3
    assert b.area > a.area


def test_smooth_section_stays_within_a_hundredth_of_a_millimetre():
    section = naca_section("23012", count=401) * 40
    fore = section[section[:, 0] < 14]
    made = profile_template(fore, LABEL, given="outside", touches="inside", thickness_in=0.025, kind="male")
    assert 0 < made.arc_error_in <= 0.0004
    line = LineString(flattened(made.profile, chord_error_in=1e-6))
    # every given point lies one sheet thickness from the template's edge, ends left out
    off = np.array([line.distance(Point(p)) for p in fore[3:-3]])
    assert np.abs(off - 0.025).max() < 0.02 / 25.4


def test_a_profile_tighter_than_the_sheet_is_refused_with_its_place():
    section = naca_section("0006") * 10
    with pytest.raises(GeometryError, match=r"bends tighter than this offset near|vanishes"):
        profile_template(
            section[section[:, 0] < 4],
            LABEL,
            given="outside",
            touches="inside",
            thickness_in=0.2,
            kind="male",
        )


def test_what_stands_on_the_board():
    words = " ".join(p.text for p in drawn(_made().scene) if isinstance(p, Text))
    for part in (
        "STA 12.5",
        "DN-2101 nose skin",
        "against the outside",
        "looks outboard",
        "LEFT HAND",
        "UP",
        "FWD",
    ):
        assert part in words


def test_on_a_narrow_board_the_lettering_ends_before_the_cut_edge():
    narrow = nose_outline(radius_in=0.5, upper_flat_in=0.4, lower_flat_in=0.4, upper_slope_deg=5.5)
    board = drawn(_made(profile=narrow).scene)
    aft = max(x for item in board if isinstance(item, Polyline) for x, _ in item.points)
    written = [item for item in board if isinstance(item, Text) and item.anchor == "start"]
    assert sum("template" in item.text for item in written) == 1
    for item in written:
        assert item.at[0] + width_of(item.text, item.height) <= aft


def test_mirrored_template_is_for_the_other_hand():
    hands = [i.hand for i in mirrored(_made().scene).items if isinstance(i, Hand)]
    assert hands == ["right"]


def test_only_the_board_is_cut_and_nothing_is_scribed():
    items = _made().scene.items
    cut = [i for i in items if getattr(i, "layer", "") == "cut"]
    assert len(cut) == 1
    assert isinstance(cut[0], Polyline)
    assert cut[0].closed
    assert {getattr(i, "layer", "printed") for i in items} <= {"cut", "marked", "printed"}


def test_finger_hole_only_where_there_is_room():
    big = _made("male", "inside")
    assert sum(isinstance(i, Circle) and i.layer == "cut" for i in big.scene.items) == 1
    small = nose_outline(radius_in=0.4, upper_flat_in=2, lower_flat_in=2, upper_slope_deg=3)
    made = _made("male", "inside", profile=small)
    assert not any(isinstance(i, Circle) for i in made.scene.items)


@pytest.mark.parametrize(
    "more", [{"kerf_in": -0.1}, {"kerf_in": 1}, {"backing_in": 0.1}, {"kerf_in": float("nan")}]
)
def test_impossible_boards(more):
    with pytest.raises(OutOfRangeError):
        _made(**more)


def test_hinge_hole_lies_where_it_is_drawn_or_is_refused():
    hinge = BoardHole((3.2, -0.4), 0.125, "hinge centre")
    made = _made("male", "inside", holes=[hinge])
    (marker,) = [i for i in made.scene.items if isinstance(i, Marker)]
    assert (marker.at, marker.diameter, marker.layer) == ((3.2, -0.4), 0.125, "drilled")
    with pytest.raises(GeometryError, match="hinge centre: this hole lies off the board"):
        _made("female", holes=[hinge])


def test_no_notch_where_the_datum_misses_the_board():
    plain, far = _made().body, _made(datum_y_in=5.0).body
    assert len(plain.points_in) == len(far.points_in) + 3
    edge = _made(datum_y_in=float(plain.points_in[:, 1].max()) - 0.03).body
    assert len(edge.points_in) == len(far.points_in)


def test_notch_points_at_the_chord_line():
    body = _made(datum_y_in=0.25).body
    left = body.points_in[:, 0].min()
    tip = body.points_in[np.isclose(body.points_in[:, 0], left + 0.06)]
    assert tip[:, 1] == pytest.approx([0.25])
