"""The band followed along a target, and the rim of a head, in pictures drawn from formulas."""

import numpy as np
import pytest

from ribwright.core.metrology.best_fit import best_fit
from ribwright.core.metrology.formed_rims import formed_rims, ray_places
from ribwright.core.metrology.profile import decide, linear_light, smooth_along
from ribwright.core.metrology.rim import ANGLES, find_rim, radii
from ribwright.core.metrology.trace import STEP_MM, Strip, follow


def _step(x, blur=0.12):
    return 1 / (1 + np.exp(-1.702 * x / blur))


def _strip(offset_of_row, *, sheet=0.5, out=0.1, band=0.7, inside=0.05, noise=0.005, lean=0.0, extra=None):
    rng = np.random.default_rng(1)
    x = np.arange(-6.5, 6.5, STEP_MM)
    rows = len(offset_of_row)
    d = x[None, :] - offset_of_row[:, None]
    light = inside + (band - inside) * _step(d + sheet) + (out - band) * _step(d)
    if extra is not None:
        light = light + extra(x[None, :])
    light = light + rng.normal(0, noise, light.shape)
    return Strip(light, light, x, sheet, np.ones(light.shape, bool), np.full(rows, lean))


def test_a_clear_edge_is_followed_to_a_few_micrometres():
    true = 0.8 * np.sin(np.arange(300) / 40)
    path = follow(_strip(true), low_mm=-4, high_mm=4)
    assert np.abs(path.offset_mm - true).max() < 0.03
    assert np.sqrt(((path.offset_mm - true) ** 2).mean()) < 0.008
    assert np.median(path.doubt_mm) < 0.06
    assert path.fit.min() > 0.95


def test_a_second_band_as_good_raises_the_doubt():
    def twin(x):
        return 0.6 * (_step(x - 2.0 + 0.5) - _step(x - 2.0))

    path = follow(_strip(np.zeros(200), extra=twin), low_mm=-4, high_mm=4)
    assert np.median(path.doubt_mm) > 1.0


def test_skin_as_bright_as_the_end_beside_it_is_told_by_the_clear_edge():
    # outer skin of the band's own brightness lies outside it for .8 mm: only the inner edge is clear
    def skin(x):
        return (0.7 - 0.1) * (_step(x) - _step(x - 0.8))

    path = follow(_strip(np.zeros(200), extra=skin, lean=-1.0), low_mm=-4, high_mm=4)
    assert abs(np.median(path.offset_mm)) < 0.03


def test_the_best_fit_takes_out_shift_and_turn_and_nothing_else():
    angle = np.linspace(-2.0, 2.0, 61)
    at = np.column_stack([-30 * np.cos(angle), 18 * np.sin(angle)])
    run = np.gradient(at, axis=0)
    normal = np.column_stack([-run[:, 1], run[:, 0]]) / np.hypot(*run.T)[:, None]
    if (at * normal).sum() < 0:
        normal = -normal
    c, s = np.cos(0.01), np.sin(0.01)
    moved = at @ np.array([[c, -s], [s, c]]).T + [0.4, -0.2]
    deviation, raw, pose = best_fit(at, normal, moved)
    assert np.nanmax(np.abs(deviation)) < 0.02
    assert np.nanmax(np.abs(raw)) > 0.3
    assert pose[2] == pytest.approx(0.01, abs=1e-3)


def test_decisions_respect_the_uncertainty():
    u = np.full(5, 0.1)
    assert decide(np.full(5, 0.6), u, 0.8) == "within limits"
    assert decide(np.array([0.1, 0.95, 0.96, 0.2, 0.0]), u, 0.8) == "rework"
    assert decide(np.array([0.1, 0.75, 0.76, 0.2, 0.0]), u, 0.8) == "undecided"
    assert decide(np.array([0.1, 0.1, 1.5, 0.1, 0.0]), u, 0.8) == "undecided"  # one place alone
    assert decide(np.full(5, np.nan), u, 0.8) == "undecided"


def test_smoothing_keeps_a_line_and_ignores_a_spike():
    arc = np.arange(0, 40, 0.4)
    offset = 0.02 * arc
    offset[50] += 3.0
    value, _ = smooth_along(arc, offset, np.ones(100), arc)
    assert np.abs(value - 0.02 * arc).max() < 0.06  # of 3 mm


def _row_light(heads, *, side=0.2, top=0.8, sheet=0.5, shade=0.35):
    """Light of heads (x, y, radius, oval) on a sheet, as a function of the rays' origins."""
    ends, radius = ray_places(3.2)
    rng = np.random.default_rng(3)

    def light_at(centres):
        place = centres[:, None, None, :] + ends[:, None, :] * radius[:, None]
        out = np.full(place.shape[:3], sheet)
        for x, y, size, oval in heads:
            away, angle = (
                np.hypot(place[..., 0] - x, place[..., 1] - y),
                np.arctan2(place[..., 1] - y, place[..., 0] - x),
            )
            d = away - size * (1 + oval / 2 * np.cos(2 * angle))
            outside = sheet * (1 - shade * np.exp(-np.maximum(d, 0) / 0.25))
            inside = side + (top - side) * (1 - _step(d + 0.6, 0.1))
            mixed = inside + (outside - inside) * _step(d, 0.08)
            out = np.where(d < 2.0, mixed, out)
        return out + rng.normal(0, 0.004, out.shape)

    return light_at


def _formed(heads, start=(0.0, 0.0), **light):
    centres = np.array([[x, y] for x, y, _, _ in heads]) + start
    camera = np.array([20.0, 0.0, -190.0])
    return formed_rims(
        _row_light(heads, **light), centres, shank_mm=3.2, head_height_mm=1.6, station_mm=camera
    )


ROW = [(0.0, 0.0, 2.4, 0.0), (15.0, 0.2, 2.3, 0.02), (30.0, -0.1, 2.5, 0.0), (45.0, 0.0, 2.4, 0.01)]


# the last is nearly without a rim to see: the side is about as dark as the shade at its foot
@pytest.mark.parametrize(("side", "shade", "agree"), [(0.1, 0.35, 0.2), (0.8, 0.3, 0.2), (0.2, 0.5, 0.4)])
def test_the_rim_is_the_outer_edge_not_the_flat_top(side, shade, agree):
    centres, rims = _formed(ROW, side=side, shade=shade)
    mean = np.array([(r.d_max_mm + r.d_min_mm) / 2 for r in rims])
    assert np.abs(mean - [2 * size for _, _, size, _ in ROW]).max() < 0.3
    assert np.ptp(mean - [2 * size for _, _, size, _ in ROW]) < agree  # one light, one error
    assert np.abs(centres - [[x, y] for x, y, _, _ in ROW]).max() < 0.75 * agree
    assert min(r.coverage for r in rims) > (0.5 if agree < 0.3 else 0.2)


def test_an_oval_rim_is_found_from_a_start_beside_it():
    heads = [*ROW[:3], (45.0, 0.0, 2.4, 0.15)]
    _, rims = _formed(heads, start=(0.5, -0.4), side=0.08)
    assert rims[3].d_max_mm - rims[3].d_min_mm == pytest.approx(0.72, abs=0.2)
    assert rims[0].d_max_mm - rims[0].d_min_mm < 0.25


def test_a_bare_sheet_has_no_rim():
    bare = [(x, y, -9.0, 0.0) for x, y, _, _ in ROW]
    _, rims = _formed(bare)
    plain = _formed(ROW)[1]
    assert np.median([r.coverage for r in rims]) < 0.8 * np.median([r.coverage for r in plain])


def test_a_thin_dark_ring_is_measured():
    r = radii(2.5, 4.5)
    light = 0.5 * (1 - 0.25 * np.exp(-0.5 * ((r[None, :] - 3.6) / 0.06) ** 2)) * np.ones((ANGLES, 1))
    light = light + np.random.default_rng(2).normal(0, 0.004, light.shape)
    rim = find_rim(light, r, low_mm=2.5, high_mm=4.5)
    assert rim.d_max_mm == pytest.approx(7.2, abs=0.05)


def test_linear_light_is_monotonic_and_ends_at_one():
    table = linear_light()
    assert table[0] == 0
    assert table[255] == pytest.approx(1)
    assert (np.diff(table) > 0).all()
    assert table[188] == pytest.approx(0.503, abs=0.002)  # IEC 61966-2-1: 50 % light is near level 188
