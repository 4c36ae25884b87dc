"""Gauges, blocks, blanks and sections as calculations: what they answer, and what they refuse."""

from __future__ import annotations

import tomllib
from pathlib import Path

import numpy as np
import pytest
from shapely.geometry import Polygon as Area

from ribwright.core.audit import read
from ribwright.core.audit.index import load
from ribwright.core.geometry import flattened, naca_section
from ribwright.core.scene import Circle, Marker, Polyline, full_size
from ribwright.core.templates.block_sheets import RibBlock, curved_turn, rib_outline
from ribwright.errors import (
    ConflictError,
    DoesNotFitError,
    GeometryError,
    MissingError,
    NoSuchRowError,
    OutOfRangeError,
)

EXAMPLES = Path(__file__).parents[3] / "docs" / "examples"


def run(name, **change):
    raw = tomllib.loads((EXAMPLES / f"{name}.toml").read_text(encoding="utf-8")) | change
    made = load(name)
    return made.outcome(read(made.spec, raw))


def value(outcome, key):
    return outcome.results[key].value


def test_head_gauge_holds_the_printed_limits_or_the_drawing():
    made = run("head-gauge")
    assert value(made, "holes") == pytest.approx((0.122, 0.163))
    assert value(made, "greatest_heights") == pytest.approx((0.050, 0.070))
    drawn = run("head-gauge", sizes=[{"size": "0.125", "least_height": ".055"}])
    assert value(drawn, "least_heights") == pytest.approx((0.055,))
    in_diameters = run("head-gauge", criterion="in diameters", sizes=[{"size": "5/32"}])
    assert value(in_diameters, "holes") == pytest.approx((1.3 * 5 / 32,))
    holes = [i.radius * 2 for i in made.templates[0].items if isinstance(i, Circle)]
    assert holes == pytest.approx([0.122, 0.163])


def test_head_gauge_refuses_what_no_table_has_and_sizes_given_twice():
    with pytest.raises(NoSuchRowError):
        run("head-gauge", sizes=[{"size": "5/32"}])
    with pytest.raises(ConflictError):
        run("head-gauge", sizes=[{"size": "1/8"}, {"size": "1/8"}])


def test_edge_gauge_by_head_and_drawing():
    made = run(
        "edge-gauge",
        steps=[{"size": "1/8"}, {"size": "1/8", "head": "flush"}, {"size": "1/8", "least": ".3"}],
    )
    assert value(made, "distances") == pytest.approx((0.25, 0.3125, 0.3))


def test_trailing_edge_gauge_opens_by_the_wedge():
    made = run("trailing-edge-gauge")
    assert value(made, "mouth") == pytest.approx(0.05 + 2 * 1.5 * np.tan(np.radians(5.5)))
    ring = next(i for i in made.templates[0].items if isinstance(i, Polyline))
    ys = [y for x, y in ring.points if x == 0.0]
    assert min(y for y in ys if y > 0) * 2 == pytest.approx(value(made, "mouth"))


def test_hinge_off_the_rod_is_the_distance_to_the_line_between_the_ends():
    made = run("hinge-line")
    assert value(made, "worst") == pytest.approx(np.hypot(0.014, 0.005))
    assert value(made, "at") == 29.0
    assert len(made.templates) == 3
    at = next(i.at for i in made.templates[1].items if isinstance(i, Marker))
    assert at == pytest.approx((1.15, 1.4))
    assert made.status == "within limits"
    moved = tomllib.loads((EXAMPLES / "hinge-line.toml").read_text())["hinges"]
    moved[1]["aft_measured"] = "1.25"
    assert run("hinge-line", hinges=moved).status == "rework"
    with pytest.raises(GeometryError, match="one station"):
        run("hinge-line", hinges=[moved[0], moved[0]])


def test_sight_line_lies_one_radius_from_where_the_bend_begins():
    made = run("sight-line")
    allowance = (0.01743 * 0.15625 + 0.0078 * 0.040) * 90
    assert value(made, "allowance") == pytest.approx(allowance)
    flat = 0.75 - (0.15625 + 0.040)
    assert value(made, "flat") == pytest.approx(flat)
    assert value(made, "sight") == pytest.approx(flat + allowance - 0.15625)


def test_a_flange_shorter_than_the_brake_can_hold_is_named_with_the_mend():
    with pytest.raises(GeometryError, match="shorter than the brake can hold") as refused:
        run("sight-line", flange=".4")
    assert refused.value.mend
    with pytest.raises(GeometryError, match="shorter than the brake can hold") as refused:
        run("flat-blank", sides=[{"side": "upper", "flange": ".35"}])
    assert "trim it" in refused.value.mend
    with pytest.raises(GeometryError, match="shorter than its bend needs"):
        run("flat-blank", sides=[{"side": "upper", "flange": ".12"}])


def test_block_is_the_mold_line_less_sheet_and_skin():
    made = run("form-block")
    spec = read(RibBlock, tomllib.loads((EXAMPLES / "form-block.toml").read_text()))
    mold = Area(flattened(rib_outline(spec), chord_error_in=1e-4))
    inside = mold.buffer(-0.05, join_style="mitre", mitre_limit=50)
    assert value(made, "bend_line_area") == pytest.approx(inside.area, rel=2e-4)
    assert value(made, "foot_inset") == pytest.approx(0.75 * np.tan(np.radians(3)))


def test_rib_with_a_front_cut_lies_on_its_section():
    spec = read(
        RibBlock,
        tomllib.loads((EXAMPLES / "form-block.toml").read_text()) | {"fore": "15", "aft": "65", "pins": []},
    )
    ring = flattened(rib_outline(spec), chord_error_in=1e-4) / 48
    dense = Area(naca_section("23012", count=2001))
    from shapely.geometry import Point, box

    part = dense.intersection(box(0.15, -1, 0.65, 1))
    assert max(part.boundary.distance(Point(p)) for p in ring) * 48 < 0.0006
    assert Area(ring).area == pytest.approx(part.area, rel=1e-4)


def test_former_from_corners_either_way_round():
    corners = [{"x": str(x), "y": str(y), "radius": "1"} for x, y in ((0, 0), (10, 0), (10, 8), (0, 8))]
    for given in (corners, corners[::-1]):
        spec = read(
            RibBlock,
            {"part": "former", "corners": given, "thickness": ".032", "radius": "1/8", "springback": "2"},
        )
        assert curved_turn(rib_outline(spec)) == pytest.approx(2 * np.pi)


def test_flutes_take_up_what_the_curved_flange_has_too_much():
    made = run("form-block")
    flutes, depth = value(made, "flutes"), value(made, "flute_depth")
    assert depth <= 0.125
    assert flutes * np.pi**2 * depth**2 / (4 * 0.375) == pytest.approx(value(made, "excess"))


@pytest.mark.parametrize(
    ("change", "error"),
    [
        ({"corners": [{"x": "0", "y": "0"}]}, ConflictError),
        ({"section": "", "corners": []}, MissingError),
        ({"section": "", "corners": [{"x": "0", "y": "0"}, {"x": "4", "y": "4"}, {"x": "4", "y": "0"}, {"x": "0", "y": "4"}]}, GeometryError),
        ({"block": "1/4"}, OutOfRangeError),
        ({"pins": [{"x": "400 in", "y": "0"}]}, (GeometryError, OutOfRangeError)),
        ({"fore": "24"}, OutOfRangeError),
    ],
)  # fmt: skip
def test_blocks_that_cannot_be(change, error):
    with pytest.raises(error):
        run("form-block", **change)


def test_cradle_pieces_and_what_it_refuses():
    made = run("nose-cradle")
    assert len(made.templates) == 5
    assert value(made, "length") == pytest.approx(50 + 3)
    with pytest.raises(GeometryError, match="touch"):
        run("nose-cradle", stations=[{"station": "4"}, {"station": "4.4"}])


def test_section_by_an_upright_plane_is_the_section_itself_and_grows_with_the_slant():
    flat = run("surface-section", station="24", swept="0", canted="0", at_aft="0", at_up="0")
    assert value(flat, "length") == pytest.approx(
        54, abs=0.06
    )  # the nose of a cambered section lies a little before its chord
    inside = run("surface-section", swept="0", canted="0", inwards=".03")
    whole = run("surface-section", swept="0", canted="0")
    assert value(whole, "area") - value(inside, "area") == pytest.approx(
        0.03 * value(whole, "around"), rel=2e-2
    )
    # A constant section swept by 30 degrees is longer by 1 / cos 30.
    same = [{"station": str(z), "section": "0012", "chord": "40"} for z in (0, 100)]
    swept = run("surface-section", sections=same, station="50", at_aft="20", swept="30", canted="0")
    assert value(swept, "length") == pytest.approx(40 / np.cos(np.radians(30)), abs=0.01)
    assert value(swept, "height") == pytest.approx(4.8, abs=0.005)
    with pytest.raises(GeometryError, match="leaves the surface"):
        run("surface-section", station="30", swept="60")


def test_flat_blank_has_the_area_of_its_polygon():
    made = run("flat-blank")
    items = made.templates[0].items
    ring = Area(next(i for i in items if isinstance(i, Polyline)).points)
    cut = [i for i in items if isinstance(i, Circle) and i.layer == "drilled"]
    holes = [i for i in items if isinstance(i, Marker)]
    left = ring
    for at, radius in [(c.center, c.radius) for c in cut] + [(h.at, h.diameter / 2) for h in holes]:
        from shapely.geometry import Point

        left = left.difference(Point(at).buffer(radius, quad_segs=256))
    assert value(made, "area") == pytest.approx(left.area, rel=1e-4)
    assert value(made, "weight") == pytest.approx(left.area * 0.032 * 0.100, rel=1e-3)


def test_holes_at_one_place_and_webs_that_cannot_be():
    with pytest.raises(GeometryError, match="holes 1 and 2 lie on one place"):
        run("flat-blank", holes=[{"x": "1", "y": "0", "diameter": ".1"}] * 2)
    with pytest.raises(GeometryError, match="two flanges"):
        run("flat-blank", sides=[{"side": "upper", "flange": "1"}] * 2)
    with pytest.raises(GeometryError, match="corner would tear"):
        run("flat-blank", relief="1/16")
    with pytest.raises(GeometryError, match="off the web"):
        run("flat-blank", joggles=[{"x": "30", "depth": ".03", "run": "1/4"}])


def test_one_sheet_where_tiling_is_not_wanted_is_refused_with_larger_paper():
    scene = run("surface-section").templates[0]
    with pytest.raises(DoesNotFitError, match="choose larger paper"):
        full_size(scene, "letter", tile=False)
    assert len(full_size(scene, "letter")) > 2
