"""Gauge sheets and the one-photo calibration, against geometry written apart from the measuring code."""

import json

import numpy as np
import pytest

from photo.render_camera import make_camera
from photo.render_profile import nose_outline
from ribwright.core.metrology.camera import FocalPrior, solve_view
from ribwright.core.metrology.gauge_sheet import inked_squares, profile_card_layout, rivet_strip_layout
from ribwright.core.metrology.layout import layout_from
from ribwright.core.metrology.typed import print_scale, profile_input, row_input
from ribwright.errors import (
    DoesNotFitError,
    GeometryError,
    InputError,
    NoScaleError,
    OutOfRangeError,
    UnreadablePhotoError,
)


def _card(laid=False):
    layout = profile_card_layout(name="nose", outline_mm=nose_outline(12, 12, 60), laid=laid)
    return json.loads(json.dumps(layout))


def test_a_card_keeps_clear_of_its_window_and_reads_back():
    raw = _card()
    layout = layout_from(raw)
    blank = np.array(raw["blank_polygon"])
    gap = np.hypot(*(layout.chess_xy_mm[:, None] - blank[None]).transpose(2, 0, 1)).min()
    assert gap > 5.9
    assert len(layout.chess_id) > 120
    assert layout.target is not None
    assert len(layout.target.arc_mm) == 61
    middle = layout.target.outline_mm.mean(axis=0)
    outward = ((layout.target.arc_xy_mm - middle) * layout.target.normal_out).sum(axis=1)
    assert (outward > 0).mean() > 0.9
    for x, y, w, h in inked_squares(raw):
        assert min(x, y) >= 0
        assert x + w <= raw["page"][0]
        assert y + h <= raw["page"][1]


def test_a_profile_too_large_or_turned_round_is_refused():
    with pytest.raises(DoesNotFitError):
        profile_card_layout(name="x", outline_mm=nose_outline(40, 20, 300))
    with pytest.raises(GeometryError):
        profile_card_layout(name="x", outline_mm=nose_outline(12, 12, 60) * [-1, 1])


def test_a_strip_has_three_rows_and_one_bar():
    layout = layout_from(rivet_strip_layout())
    assert len(layout.chess_id) == 38
    assert [b.name for b in layout.bars] == ["strip_length"]
    with pytest.raises(OutOfRangeError):
        rivet_strip_layout(length_mm=20)


@pytest.mark.parametrize("tilt", [1.0, 8.0, 20.0])
def test_the_camera_is_found_again_from_its_corners(tilt):
    rng = np.random.default_rng(int(tilt))
    layout = layout_from(_card())
    camera = make_camera(rng, look_at=(145, 105), distance=310, tilt_deg=tilt)
    xy = layout.chess_xy_mm
    z = 0.8 * ((xy[:, 0] - 145) / 116) ** 2
    px = camera.pixels(np.column_stack([xy, z])) + rng.normal(0, 0.05, xy.shape)
    px[:6] += 15.0  # gross corners
    view = solve_view(xy_mm=xy, pixels=px, size_px=(4032, 3024), prior=FocalPrior(2970, 0.04))
    assert view.used[6:].mean() > 0.95
    assert not view.used[:6].any()
    assert view.residual_px < 0.08
    # what counts: places on the sheet's plane seen through the solved camera, after a rigid fit
    grid = np.array([[x, y] for x in range(60, 220, 20) for y in range(40, 180, 20)], dtype=float)
    there = camera.pixels(np.column_stack([grid, 0.8 * ((grid[:, 0] - 145) / 116) ** 2]))
    seen = view.pixels(np.column_stack([view.stretched_mm(grid), view.surface_mm(grid)]))
    miss = (seen - there) / (view.focal_px / 310)
    miss -= miss.mean(axis=0)
    lever = grid - grid.mean(axis=0)
    turn = (lever[:, 0] * miss[:, 1] - lever[:, 1] * miss[:, 0]).sum() / (lever**2).sum()
    miss -= turn * np.column_stack([-lever[:, 1], lever[:, 0]])
    assert np.sqrt((miss**2).mean()) < 0.05


def test_corners_that_are_no_plane_are_refused():
    with pytest.raises(UnreadablePhotoError):
        solve_view(
            xy_mm=np.array([[0.0, 0.0], [1, 0], [2, 0], [3, 0], [4, 0], [5, 0]]),
            pixels=np.zeros((6, 2)),
            size_px=(4032, 3024),
            prior=FocalPrior(2900, 0.04),
        )


def _bars(x, y):
    return [{"name": "bar_x", "measured_mm": x}, {"name": "bar_y", "measured_mm": y}]


def test_the_print_scale_comes_from_the_typed_bars():
    layout = layout_from(_card())
    scale = print_scale(layout, _bars(194.0, 145.5))
    assert scale.x == pytest.approx(0.97)
    assert scale.y == pytest.approx(0.97)
    assert not scale.notes
    assert print_scale(layout, _bars(203.0, 150.0)).notes  # differ by more than 1 %


@pytest.mark.parametrize(
    ("bars", "error"),
    [
        (None, NoScaleError),
        (_bars(200.0, None), NoScaleError),
        (_bars(188.0, 150.0), OutOfRangeError),
        (_bars(211.0, 150.0), OutOfRangeError),
        (_bars(2000.0, 150.0), OutOfRangeError),
        (_bars(7.874, 5.906), OutOfRangeError),
        (_bars("199,9", 150.0), InputError),
        (_bars(float("nan"), 150.0), InputError),
        (_bars(-200.0, 150.0), InputError),
        (_bars(True, 150.0), InputError),
    ],
)
def test_bars_that_can_not_be_right_are_refused(bars, error):
    with pytest.raises(error):
        print_scale(layout_from(_card()), bars)


def test_inches_are_named():
    with pytest.raises(OutOfRangeError, match="inches"):
        print_scale(layout_from(_card()), _bars(7.874, 5.906))


GOOD = {"bars_measured": _bars(200.0, 150.0), "sheet_thickness_mm": 0.5, "tolerance_mm": 0.8}


@pytest.mark.parametrize(
    "wrong",
    [
        {"sheet_thickness_mm": 0},
        {"sheet_thickness_mm": None},
        {"tolerance_mm": float("inf")},
        {"tolerance_mm": "0.8"},
        {"edge_height_above_card_mm": 1e400},
        {"edge_treatment": "pink"},
        {"mount": "glued"},
    ],
)
def test_typed_values_are_checked(wrong):
    profile_input(layout_from(_card()), GOOD)
    with pytest.raises(InputError):
        profile_input(layout_from(_card()), {**GOOD, **wrong})


ROW = {
    "rivet_D_mm": 3.2,
    "expected_count": 8,
    "pitch_nominal_mm": 14.0,
    "bars_measured": [{"name": "strip_length", "measured_mm": 140.0}],
    "limits": {
        "d_min_over_D": 1.3,
        "d_max_over_D": 1.75,
        "ovality_max": 0.1,
        "edge_distance_min_over_D": 1.8,
    },
}


@pytest.mark.parametrize(
    "wrong",
    [
        {"expected_count": 0},
        {"expected_count": 7.5},
        {"rivet_D_mm": "1/8"},
        {"pitch_nominal_mm": 2.0},
        {"flush": "no"},
        {"row": "left"},
        {"limits": {**ROW["limits"], "d_min_over_D": 1.9}},
        {"limits": {}},
        {"limits": []},
    ],
)
def test_typed_values_of_a_row_are_checked(wrong):
    layout = layout_from(rivet_strip_layout())
    assert row_input(layout, ROW).d_min_mm == pytest.approx(4.16)
    with pytest.raises(InputError):
        row_input(layout, {**ROW, **wrong})


@pytest.mark.parametrize(
    "change",
    [
        {"kind": "Z"},
        {"dictionary": "DICT_9X9"},
        {"chess_corners": []},
        {"chess_corners": [{"id": 1, "xy": [1, 2]}] * 10},
        {"markers": 3},
        {"target": None},
        {"page": [297]},
        {"units": "inch"},
        {"bars": [{"name": "b", "axis": "q", "nominal_mm": 200}]},
    ],
)
def test_a_layout_that_is_not_one_is_refused(change):
    with pytest.raises(InputError):
        layout_from({**_card(), **change})


@pytest.mark.parametrize("entry", [None, 3, [], "x", {}])
def test_a_layout_must_be_an_object(entry):
    with pytest.raises(InputError):
        layout_from(entry)
