"""Straight edges and drawn lines, in pictures made from a camera written apart from the measuring code."""

import json

import cv2
import numpy as np
import pytest

from photo.render_camera import make_camera, sheet_texture
from photo.render_profile import nose_outline, true_deviation
from ribwright.core.metrology.camera import FocalPrior
from ribwright.core.metrology.edge_overlay import edge_overlay
from ribwright.core.metrology.gauge_sheet import profile_card_layout, rivet_strip_layout
from ribwright.core.metrology.layout import layout_from
from ribwright.core.metrology.scanned_line import line_of_scan
from ribwright.core.metrology.straightness import measure_straightness
from ribwright.core.metrology.template_in import measure_template
from ribwright.core.metrology.typed import print_scale, profile_input
from ribwright.core.templates.traced import points_of_line, traced_raw, upright
from ribwright.errors import InputError, UnreadablePhotoError
from ribwright.services.calculations import run_calculation
from ribwright.services.photo_measure import measure_profile_photo
from ribwright.services.photo_straight import straightness_photo

PRIOR = FocalPrior(2970, 0.04)


def _photo(flat, per_mm, low, camera):
    """The flat picture (grey levels, ``per_mm`` texels a mm, first texel at ``low``) as the camera sees it."""
    v, u = np.mgrid[0:3024:8, 0:4032:8].astype(float)
    rays = camera.rays(u, v)
    t = -camera.C[2] / rays[..., 2]
    x, y = camera.C[0] + t * rays[..., 0], camera.C[1] + t * rays[..., 1]
    grow = np.array([[0.125, 0, 0], [0, 0.125, 0]])
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    maps = [
        cv2.warpAffine(((c - o) * per_mm - 0.5).astype(np.float32), grow, (4032, 3024), flags=flags)
        for c, o in ((x, low[0]), (y, low[1]))
    ]
    seen = cv2.remap(flat, *maps, cv2.INTER_LINEAR, borderValue=60)
    seen = cv2.GaussianBlur(seen, (0, 0), 1.0) + np.random.default_rng(1).normal(0, 1.5, seen.shape)
    return np.clip(seen, 0, 255).astype(np.uint8)


def _coded(linear):
    return (255 * np.where(linear < 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)).astype(
        np.float32
    )


def _edge_photo(raw, bow_mm):
    """A skin with a strip on it, its edge 7 mm below the strip, over something dark."""
    per_mm = 14.0
    strip = _coded(sheet_texture(raw, per_mm))
    room = int(14 * per_mm)
    flat = np.full((strip.shape[0] + room, strip.shape[1]), 170, np.float32)
    flat[: strip.shape[0]] = strip
    y, x = np.mgrid[0 : flat.shape[0], 0 : flat.shape[1]] / per_mm
    a = (x - 73.5) / 73.5
    edge = 28 + 7 + bow_mm * (1 - a**2)
    flat[y > edge] = 40
    camera = make_camera(np.random.default_rng(4), look_at=(73, 20), distance=190, tilt_deg=5)
    return _photo(flat, per_mm, (0, 0), camera)


@pytest.mark.parametrize("bow_mm", [0.0, 1.2, -0.8])
def test_bow_of_an_edge_beside_a_strip(bow_mm):
    raw = rivet_strip_layout(kind="T")
    layout = layout_from(json.loads(json.dumps(raw)))
    scale = print_scale(layout, [{"name": "strip_length", "measured_mm": 140.0}])
    found = measure_straightness(
        _edge_photo(raw, bow_mm),
        layout=layout,
        scale=scale,
        strip_mm=0.0,
        reach_mm=12,
        above=False,
        prior=PRIOR,
    )
    assert found.bow_mm == pytest.approx(bow_mm, abs=found.u95_mm)
    assert found.waviness_mm < 0.25
    assert found.seen > 0.95
    # the picture has the straight line where the edge is, and the departure on the side where it lies
    drawn = edge_overlay(found, limit_mm=1.0)
    kinds = {stroke.kind: stroke.points for stroke in drawn.strokes}
    assert np.abs(kinds["edge"][:, 1] - 35.0).max() < abs(bow_mm) + 0.6
    if bow_mm:
        middle = kinds["deviation"][len(kinds["deviation"]) // 2, 1] - kinds["target"][:, 1].mean()
        assert np.sign(middle) == np.sign(bow_mm)
    assert drawn.feet[-1].startswith("thin blue: limit of 1 mm")


@pytest.mark.parametrize(
    ("limit", "finding", "said"),
    [(None, "undecided", "ask the designer"), (2.5, "within limits", "go on"), (0.5, "refer", "Bow of the edge"), (1.15, "undecided", "")],
)  # fmt: skip
def test_an_edge_is_held_against_the_drawing_s_limit_and_drawn(tmp_path, limit, finding, said):
    raw = json.loads(json.dumps(rivet_strip_layout(kind="T")))
    path = tmp_path / "edge.jpg"
    cv2.imwrite(str(path), _edge_photo(raw, 1.2))
    typed = {"bars_measured": [{"name": "strip_length", "measured_mm": 140.0}], "strip_thickness_mm": 0.0}
    answer, picture = straightness_photo(
        path, layout=raw, typed=typed | ({} if limit is None else {"straight_mm": limit})
    )
    assert answer["status"] == "measured"
    assert answer["bow_mm"] == pytest.approx(1.2, abs=answer["u95_mm"])
    assert answer["finding"] == finding
    assert said in answer["next"]
    assert picture is not None
    assert cv2.imdecode(np.frombuffer(picture, np.uint8), cv2.IMREAD_COLOR).shape[1] > 1000


@pytest.mark.parametrize(
    "wrong",
    [{"reach_mm": -5.0}, {"reach_mm": 1e9}, {"strip_thickness_mm": float("nan")}, {"straight_mm": 0.0}],
)
def test_what_can_not_be_typed_of_an_edge_is_refused(tmp_path, wrong):
    raw = json.loads(json.dumps(rivet_strip_layout(kind="T")))
    path = tmp_path / "none.jpg"
    cv2.imwrite(str(path), np.full((300, 400), 90, np.uint8))
    typed = {"bars_measured": [{"name": "strip_length", "measured_mm": 140.0}]}
    with pytest.raises(InputError):
        straightness_photo(path, layout=raw, typed=typed | wrong)


def _card_with_line(draw, width_mm=0.6):
    raw = json.loads(
        json.dumps(profile_card_layout(name="n", outline_mm=nose_outline(14, 12, 55), laid=True))
    )
    per_mm = 12.0
    flat = _coded(sheet_texture(raw, per_mm))
    outline = np.array(raw["target"]["outline_xy"])
    run = np.gradient(outline, axis=0)
    normal = np.column_stack([-run[:, 1], run[:, 0]]) / np.hypot(*run.T)[:, None]
    drawn = outline + 0.7 * normal
    if draw:
        points = np.round(drawn * per_mm * 16).astype(np.int32)
        picture = flat.astype(np.uint8)
        cv2.polylines(picture, [points], False, 30, round(width_mm * per_mm), cv2.LINE_AA, shift=4)
        flat = picture.astype(np.float32)
    camera = make_camera(np.random.default_rng(8), look_at=(146, 105), distance=300, tilt_deg=6)
    layout = layout_from(raw)
    bars = [{"name": b.name, "measured_mm": b.nominal_mm} for b in layout.bars]
    typed = profile_input(
        layout,
        {"bars_measured": bars, "sheet_thickness_mm": width_mm, "tolerance_mm": 0.8, "mount": "laid"},
    )
    return _photo(flat, per_mm, (0, 0), camera), layout, typed, drawn


def test_a_drawn_line_becomes_an_outline():
    picture, layout, typed, drawn = _card_with_line(True)
    found = measure_template(picture, layout=layout, typed=typed, line_width_mm=0.6, prior=PRIOR)
    seen = np.isfinite(found.u95_mm)
    gap = np.hypot(*np.moveaxis(found.outline_mm[seen][:, None] - drawn[None], 2, 0)).min(axis=1)
    assert seen.mean() > 0.9
    assert np.sqrt((gap**2).mean()) < 0.12  # the points of the line are .2 mm apart
    assert found.residual_mm < 0.1
    # It goes on to the template: the sheet's y runs down, a profile's up.
    points, reading = points_of_line(found.outline_mm * np.array([1.0, -1.0]), found.u95_mm)
    raw = traced_raw(
        points, reading, part="tip rib", station="0", thickness=".025", given="outside", kind="female"
    )
    results = run_calculation("traced-template", raw).outcome.results
    whole = np.hypot(*np.diff(drawn, axis=0).T).sum()
    assert 0.9 * whole < results["curve_length"].value * 25.4 < 1.02 * whole
    assert results["residual_max"].value < 0.02


@pytest.mark.parametrize(("what", "width"), [("wire", 1.5), ("line", 0.6)])
@pytest.mark.parametrize("bump_mm", [0.0, 1.1])
def test_a_wire_or_a_line_of_mid_span_is_held_against_the_target_as_the_skin_was(
    tmp_path, what, width, bump_mm
):
    """A wire lay on the skin with its inner edge, a pencil's line is the skin in its middle."""
    raw = json.loads(json.dumps(profile_card_layout(name="n", outline_mm=nose_outline(14, 12, 55))))
    per_mm = 12.0
    flat = _coded(sheet_texture(raw, per_mm)).astype(np.uint8)
    outline, at = np.array(raw["target"]["outline_xy"]), np.array(raw["target"]["arc_xy"])
    run = np.gradient(outline, axis=0)
    normal = np.column_stack([-run[:, 1], run[:, 0]]) / np.hypot(*run.T)[:, None]
    s = np.r_[0, np.cumsum(np.hypot(*np.diff(outline, axis=0).T))]
    skin = bump_mm * np.exp(-0.5 * ((s - 0.3 * s[-1]) / 7.0) ** 2)
    away = width / 2 if what == "wire" else 0.0
    drawn = outline + (skin + away)[:, None] * normal
    cv2.polylines(
        flat, [np.round(drawn * per_mm * 16).astype(np.int32)], False, 30, round(width * per_mm), cv2.LINE_AA, shift=4
    )  # fmt: skip
    camera = make_camera(np.random.default_rng(8), look_at=(146, 105), distance=300, tilt_deg=6)
    path = tmp_path / "line.jpg"
    cv2.imwrite(str(path), _photo(flat.astype(np.float32), per_mm, (0, 0), camera))
    bars = [{"name": bar["name"], "measured_mm": bar["nominal_mm"]} for bar in raw["bars"]]
    typed = {"bars_measured": bars, "sheet_thickness_mm": width, "tolerance_mm": 0.5, "mount": what}
    answer = measure_profile_photo(path, layout=raw, typed=typed)
    assert answer["status"] == "measured", answer["reason"]
    true, _, _ = true_deviation(
        at, np.array(raw["target"]["arc_normal_out"]), outline + skin[:, None] * normal
    )
    found = np.array(answer["deviation_bestfit_mm"], dtype=float)
    assert np.sqrt(np.nanmean((found - true) ** 2)) < 0.08
    assert answer["finding"] == ("rework" if bump_mm else "within limits")
    assert any(what in note for note in answer["notes"])


def test_no_line_gives_no_outline():
    picture, layout, typed, _ = _card_with_line(False)
    with pytest.raises(UnreadablePhotoError):
        measure_template(picture, layout=layout, typed=typed, line_width_mm=0.6, prior=PRIOR)


def _scan(lines, per_mm=6.0, paper=(120.0, 160.0), angle_deg=0.0):
    """A page with lines in millimetres drawn on it, a little grey to one side, as a scanner gives it."""
    size = (int(paper[1] * per_mm), int(paper[0] * per_mm))
    page = np.full(size, 244, np.uint8)
    a = np.radians(angle_deg)
    turn = np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]])
    for line in lines:
        at = ((line - line.mean(axis=0)) @ turn.T + np.array(paper) / 2) * per_mm
        cv2.polylines(
            page, [np.round(at * 16).astype(np.int32)], False, 40, round(0.5 * per_mm), cv2.LINE_AA, shift=4
        )
    cv2.putText(page, "STA 20", (30, 50), cv2.FONT_HERSHEY_SIMPLEX, 1.0, 60, 2)
    noise = np.random.default_rng(5).normal(0, 3, size)
    return np.clip(page * np.linspace(0.85, 1, size[1]) + noise, 0, 255).astype(np.uint8)


def test_a_scanned_line_is_as_large_as_its_typed_length():
    drawn = nose_outline(14, 12, 55)
    length = np.hypot(*np.moveaxis(drawn[:, None] - drawn[None], 2, 0)).max()
    for angle in (0, 137):
        page = _scan([drawn], angle_deg=angle)
        found = line_of_scan(page, length_mm=length, scanned=True, focal_px=3000)
        got, true = upright(found.outline_mm * [1, -1]), upright(drawn * [1, -1])
        gap = np.hypot(*np.moveaxis(got[:, None] - true[None], 2, 0)).min(axis=1)
        assert np.median(gap) < 0.15
        assert np.quantile(gap, 0.95) < 0.5  # the points of the line are .2 mm apart, its ends are blunt
        assert found.residual_mm < 0.05
        assert np.nanmedian(found.u95_mm) < 0.25
    by_hand = line_of_scan(page, length_mm=length, scanned=False, focal_px=3000)
    assert np.nanmax(by_hand.u95_mm) > 1.3 * np.nanmax(found.u95_mm)


def test_a_scan_that_is_not_one_open_line_is_refused():
    drawn = nose_outline(14, 12, 55)
    for lines, said in (
        ([], "no long line"),
        ([drawn, drawn * 0.9 + 3], "more than one"),
        ([np.vstack([drawn, drawn[:1]])], "closed"),
        ([drawn * 4], "out of the picture"),
    ):
        with pytest.raises(UnreadablePhotoError, match=said):
            line_of_scan(_scan(lines), length_mm=70, scanned=True, focal_px=3000)
    for length in (0.0, float("nan"), -5.0, "wide"):
        with pytest.raises(InputError):
            line_of_scan(_scan([drawn]), length_mm=length, scanned=True, focal_px=3000)
