from __future__ import annotations

import numpy as np
import pytest

from ribwright.core.geometry import naca_section, parallel, resampled, smoothed, with_arcs
from ribwright.core.geometry.curves import arc_length_in, evaluate, spline, tangents
from ribwright.core.geometry.outlines import Outline, length_in
from ribwright.errors import GeometryError, OutOfRangeError

TURN = np.linspace(-2, 2, 41)
CIRCLE = np.stack([2 * np.cos(TURN), 2 * np.sin(TURN)], axis=1)


def test_spline_repeats_a_cubic():
    u = np.array([0, 0.7, 1.1, 2.0, 3.5, 4.0])
    points = np.stack([u**3 - 2 * u, 1 - u**2], axis=1)
    curve = spline(points, u)
    at = np.linspace(0, 4, 33)
    assert np.allclose(evaluate(curve, at), np.stack([at**3 - 2 * at, 1 - at**2], axis=1), atol=1e-10)
    assert np.allclose(evaluate(curve, at, derivative=1)[:, 0], 3 * at**2 - 2, atol=1e-9)
    assert np.allclose(evaluate(curve, at, derivative=2)[:, 1], -2, atol=1e-8)


def test_spline_against_scipy():
    interpolate = pytest.importorskip("scipy.interpolate")
    rng = np.random.default_rng(3)
    u = np.sort(rng.uniform(0, 5, 15))
    points = rng.normal(size=(15, 2))
    at = np.linspace(u[0], u[-1], 100)
    assert np.allclose(evaluate(spline(points, u), at), interpolate.CubicSpline(u, points)(at), atol=1e-9)


def test_parallel_of_a_circle_is_a_circle():
    assert np.abs(np.hypot(*parallel(CIRCLE, 0.5).T) - 1.5).max() < 1e-4
    assert np.abs(np.hypot(*parallel(CIRCLE, -0.5).T) - 2.5).max() < 1e-4


def test_parallel_tighter_than_the_curve_says_where():
    with pytest.raises(GeometryError, match="bends tighter than this offset near"):
        parallel(CIRCLE, 2.1)


def test_resampled_is_even():
    u = np.linspace(-2, 2, 30) ** 3 / 4
    made = resampled(np.stack([2 * np.cos(u), 2 * np.sin(u)], axis=1), 51)
    steps = np.diff(arc_length_in(made))
    assert np.ptp(steps) / steps.mean() < 1e-3


def test_smoothing_takes_noise_away_and_tells_how_far_it_moved():
    before = after = 0.0
    for seed in range(12):
        read = CIRCLE + np.random.default_rng(seed).normal(0, 0.01, CIRCLE.shape)
        made = smoothed(read, reading_error_in=0.0125)
        assert made.residual_rms_in == pytest.approx(0.0125, rel=1e-6)
        assert made.residual_max_in == pytest.approx(np.linalg.norm(made.points_in - read, axis=1).max())
        before += np.sqrt(np.mean((np.hypot(*read.T) - 2) ** 2))
        after += np.sqrt(np.mean((np.hypot(*made.points_in.T) - 2) ** 2))
    assert after < 0.75 * before


def test_smoothing_leaves_what_is_already_smooth():
    straight = np.stack([np.linspace(0, 3, 13), np.linspace(1, 2, 13)], axis=1)
    assert smoothed(straight, reading_error_in=0.01).residual_max_in < 1e-9
    assert np.array_equal(smoothed(CIRCLE, reading_error_in=0).points_in, CIRCLE)


def test_a_larger_reading_error_moves_points_further():
    read = CIRCLE + np.random.default_rng(5).normal(0, 0.01, CIRCLE.shape)
    moved = [smoothed(read, reading_error_in=e).residual_max_in for e in (0.002, 0.005, 0.01)]
    assert moved == sorted(moved)
    assert moved[0] < moved[-1]


def test_smoothing_refuses_what_it_cant_use():
    with pytest.raises(OutOfRangeError):
        smoothed(CIRCLE[:4], reading_error_in=0.01)
    with pytest.raises(OutOfRangeError):
        smoothed(CIRCLE, reading_error_in=float("nan"))
    with pytest.raises(GeometryError, match="points 1 and 2"):
        smoothed(np.concatenate([CIRCLE[:1], CIRCLE]), reading_error_in=0.01)


@pytest.mark.parametrize("code", ["0012", "2412", "23015"])
@pytest.mark.parametrize("tolerance", [4e-4, 1e-4])
def test_arcs_stay_within_their_tolerance_of_a_dense_section(code, tolerance):
    chord = 48.0
    fit = with_arcs(naca_section(code) * chord, tolerance_in=tolerance)
    assert fit.worst_in <= tolerance
    # measured against a section eight times as dense: every dense point near some arc
    dense = naca_section(code, count=1601) * chord
    away = _distance_to_arcs(dense, fit.points_in, fit.bulges)
    assert away.max() <= tolerance + 1e-4
    assert len(fit.points_in) < 140
    assert length_in(Outline(fit.points_in, fit.bulges, False)) == pytest.approx(
        arc_length_in(dense)[-1], abs=2e-3
    )


def test_arcs_of_a_circle_are_the_circle():
    fit = with_arcs(CIRCLE, tolerance_in=1e-4)
    assert fit.worst_in < 1e-4
    assert len(fit.points_in) <= 9


def test_arcs_meet_without_a_corner():
    fit = with_arcs(naca_section("2412") * 10, tolerance_in=4e-4)
    p, b = fit.points_in, fit.bulges[:-1]
    chord = np.arctan2(*np.diff(p, axis=0).T[::-1])
    half = 2 * np.arctan(b)
    leaving, arriving = chord - half, chord + half
    corner = (leaving[1:] - arriving[:-1] + np.pi) % (2 * np.pi) - np.pi
    assert np.abs(np.degrees(corner)).max() < 0.3


def _distance_to_arcs(points, nodes, bulges):
    best = np.full(len(points), np.inf)
    for a, b, bulge in zip(nodes, nodes[1:], bulges, strict=False):
        chord = b - a
        run = np.hypot(*chord)
        if abs(bulge) < 1e-9:
            t = np.clip((points - a) @ chord / run**2, 0, 1)
            best = np.minimum(best, np.hypot(*(points - a - t[:, None] * chord).T))
            continue
        center = (a + b) / 2 + np.array([-chord[1], chord[0]]) * (1 - bulge**2) / (4 * bulge)
        radius = np.hypot(*(a - center))
        arm = points - center
        turn = np.arctan2(
            *(
                arm
                @ np.array([[a[0] - center[0], -(a[1] - center[1])], [a[1] - center[1], a[0] - center[0]]])
            ).T[::-1]
        )
        full = 4 * np.arctan(bulge)
        inside = (turn * np.sign(full) >= -1e-9) & (np.abs(turn) <= abs(full) + 1e-9)
        ends = np.minimum(np.hypot(*(points - a).T), np.hypot(*(points - b).T))
        best = np.minimum(best, np.where(inside, np.abs(np.hypot(*arm.T) - radius), ends))
    return best


def test_tangents_of_a_circle():
    t = tangents(CIRCLE)
    assert np.abs(np.sum(t * CIRCLE, axis=1)).max() < 1e-3
