from __future__ import annotations

import numpy as np
import pytest
from shapely.geometry import LineString, Point

from ribwright.core.geometry import (
    cut,
    loft,
    mesh,
    naca_section,
    respaced,
    section_at,
    section_from_text,
    sections_at,
)
from ribwright.errors import FormatError, GeometryError, OutOfRangeError, OutsideTableError

ROOT, TIP = naca_section("2412") * 50, naca_section("0010") * 30 + np.array([4.0, 1.0])


def test_straight_taper_is_linear_between_its_sections():
    wing = loft([0, 100], [ROOT, TIP])
    assert np.allclose(section_at(wing, 25), 0.75 * ROOT + 0.25 * TIP, atol=1e-12)
    assert np.array_equal(section_at(wing, 100), TIP)


def test_sections_in_any_order_of_stations():
    a, b = loft([100, 0], [TIP, ROOT]), loft([0, 100], [ROOT, TIP])
    assert np.array_equal(a.sections_in, b.sections_in)


def test_smooth_loft_repeats_a_quadratic_taper():
    stations = np.array([0.0, 30, 70, 100])
    wing = loft(stations, [ROOT * (1 - 4e-5 * z * z) for z in stations], smooth=True)
    assert np.allclose(section_at(wing, 50), ROOT * (1 - 4e-5 * 2500), atol=1e-9)


def test_nothing_beyond_the_ends():
    with pytest.raises(OutsideTableError, match="0 to 100 in"):
        section_at(loft([0, 100], [ROOT, TIP]), 100.5)
    with pytest.raises(OutsideTableError):
        sections_at(loft([0, 100], [ROOT, TIP]), [float("nan")])


def test_two_sections_at_one_station_are_refused():
    with pytest.raises(GeometryError, match="at one station"):
        loft([0, 0], [ROOT, TIP])
    with pytest.raises(GeometryError, match="two sections"):
        loft([0], [ROOT])


def test_uneven_sections_are_brought_together():
    wing = loft([0, 10], [naca_section("0012", count=81), naca_section("0012", count=161)])
    assert np.allclose(wing.sections_in[0], wing.sections_in[1], atol=2e-4)


def test_plane_at_a_station_gives_that_section():
    wing = loft([0, 100], [ROOT, TIP])
    found = cut(wing, (0, 0, 40), (0, 0, 1))
    assert np.allclose(found.in_plane_in, section_at(wing, 40), atol=1e-9)


@pytest.mark.parametrize("smooth", [False, True])
def test_slanted_plane_lies_in_plane_and_on_the_surface(smooth):
    wing = loft([0, 40, 100], [ROOT, ROOT * 0.85, TIP], smooth=smooth)
    normal = np.array([0.3, 0.1, 1.0])
    point = np.array([10.0, 0, 50])
    found = cut(wing, point, normal)
    assert np.abs((found.points_in - point) @ normal).max() < 1e-9
    column = np.arange(len(found.points_in))
    on = sections_at(wing, found.points_in[:, 2])[column, column]
    assert np.allclose(on, found.points_in[:, :2], atol=1e-9)
    # the plane's own coordinates keep lengths
    true = np.linalg.norm(np.diff(found.points_in, axis=0), axis=1)
    assert np.allclose(np.linalg.norm(np.diff(found.in_plane_in, axis=0), axis=1), true, atol=1e-12)


def test_cone_cut_by_a_slanted_plane_is_the_ellipse_of_the_closed_form():
    turn = np.linspace(0, 2 * np.pi, 181)
    circle = np.stack([np.cos(turn), np.sin(turn)], axis=1)
    cone = loft([0, 10], [2 * circle, circle])
    alpha = np.radians(20)
    found = cut(cone, (0, 0, 5), (np.sin(alpha), 0, np.cos(alpha)))
    # radius at z is 2 - z/10; on the plane z = 5 - x tan(alpha)
    x, y, z = found.points_in.T
    assert np.allclose(x**2 + y**2, (2 - z / 10) ** 2, atol=1e-12)
    # ends of the long axis, in closed form: x = +-(1.5 + x tan(alpha)/10)
    k = np.tan(alpha) / 10
    assert x.max() == pytest.approx(1.5 / (1 - k), rel=1e-12)
    assert x.min() == pytest.approx(-1.5 / (1 + k), rel=1e-12)
    assert np.ptp(found.in_plane_in[:, 0]) == pytest.approx(
        (1.5 / (1 - k) + 1.5 / (1 + k)) / np.cos(alpha), rel=1e-12
    )


def test_plane_that_misses_says_how_much():
    with pytest.raises(GeometryError, match="leaves the surface"):
        cut(loft([0, 100], [ROOT, TIP]), (0, 0, 10), (1, 0, 1))


def test_mesh_has_every_point_on_the_surface_and_no_flat_triangle():
    wing = loft([0, 100], [ROOT, TIP])
    made = mesh(wing, along=5, across=40)
    assert len(made.vertices_in) == 200
    assert made.triangles.shape == (2 * 4 * 39, 3)
    assert set(np.unique(made.triangles)) == set(range(200))
    corners = made.vertices_in[made.triangles]
    area = np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1)
    assert area.min() > 1e-6
    assert np.array_equal(np.unique(made.station_in), np.linspace(0, 100, 5))
    run = made.arc_in.reshape(5, 40)
    assert (np.diff(run, axis=1) > 0).all()
    assert run[0, -1] == pytest.approx(np.linalg.norm(np.diff(ROOT, axis=0), axis=1).sum())


@pytest.mark.parametrize("code", ["0012", "2412", "23012"])
def test_respaced_points_lie_on_the_section_at_fixed_shares(code):
    coarse, dense = naca_section(code, count=61), naca_section(code, count=4001)
    made = respaced(coarse, count=121)
    line = LineString(dense)
    # how far the spline through 61 points a side leaves the section, as a share of the chord
    assert max(line.distance(Point(p)) for p in made) < 2e-5
    low, high = made[120, 0], made[0, 0]
    share = (made[120:, 0] - low) / (made[-1, 0] - low)
    assert share == pytest.approx((1 - np.cos(np.linspace(0, np.pi, 121))) / 2, abs=1e-4)
    assert (low, high) == pytest.approx((dense[:, 0].min(), dense[0, 0]), abs=2e-5)


SELIG = "NACA 0012\n" + "\n".join(f"{x:.6f} {y:.6f}" for x, y in naca_section("0012", count=31))


def test_coordinate_file_round_the_nose():
    name, section = section_from_text(SELIG)
    assert name == "NACA 0012"
    assert np.allclose(section, naca_section("0012", count=31), atol=1e-6)


def test_coordinate_file_in_two_runs_from_the_nose():
    s = naca_section("2412", count=31)
    upper, lower = s[:31][::-1], s[30:]
    text = "A section\n 31. 31.\n\n" + "\n\n".join(
        "\n".join(f"{x:.6f}, {y:.6f}" for x, y in side) for side in (upper, lower)
    )
    _, section = section_from_text(text)
    assert np.allclose(section, s, atol=1e-6)


def test_coordinate_file_in_per_cent_and_from_below():
    s = naca_section("2412", count=31)
    text = "\n".join(f"{100 * x:.4f} {100 * y:.4f}" for x, y in s[::-1])
    name, section = section_from_text(text)
    assert name == ""
    assert np.allclose(section, s, atol=2e-6)


def test_mixed_order_names_the_line():
    lines = SELIG.splitlines()
    lines[8], lines[12] = lines[12], lines[8]
    with pytest.raises(GeometryError, match="mixed order") as caught:
        section_from_text("\n".join(lines))
    assert "line " in str(caught.value)


@pytest.mark.parametrize(
    "text",
    ["", "only a name", "name\n1 2\nthree four\n" + SELIG, "1 0\n0 0\n1 0", "x\n1 nan\n0 0", "x\n" * 600_000],
)
def test_unreadable_files_are_refused(text):
    with pytest.raises((FormatError, GeometryError)):
        section_from_text(text)


@pytest.mark.parametrize(
    ("code", "error"),
    [("12", FormatError), ("abcd", FormatError), ("0000", OutOfRangeError), ("2012", OutOfRangeError),
     ("26012", OutOfRangeError), ("21112", OutOfRangeError), ("23212", OutOfRangeError), ("٢٤١٢", FormatError)],
)  # fmt: skip
def test_numbers_that_the_families_do_not_have(code, error):
    with pytest.raises(error):
        naca_section(code)
