"""Stretches that were not seen: the fit takes what their neighbours say, and the uncertainty what that may miss."""

import numpy as np
import pytest

from photo.render_profile import nose_outline, true_deviation
from ribwright.core.metrology.arcs import arc_length_mm, unit_normals
from ribwright.core.metrology.best_fit import best_fit, fit_push, through_the_fit
from ribwright.core.metrology.bridged import LEAST_SIGMA_MM, UNTOLD_SIGMA_MM, bridged

ARC = np.arange(0.0, 140.0, 0.4)


def test_a_parabola_is_carried_through_a_gap_and_a_line_past_an_end():
    seen = np.ones(len(ARC), dtype=bool)
    seen[150:170] = False
    curve = 0.3 + 0.01 * ARC - 2e-4 * ARC**2
    filled, sigma = bridged(ARC, np.where(seen, curve, 9.0), seen)
    assert filled == pytest.approx(curve, abs=1e-6)
    assert sigma[~seen] == pytest.approx(LEAST_SIGMA_MM)
    assert not sigma[seen].any()
    seen = ARC > 6.0
    line = 0.2 - 0.01 * ARC
    filled, _ = bridged(ARC, np.where(seen, line, -7.0), seen)
    assert filled == pytest.approx(line, abs=1e-6)


def test_how_wrong_a_guess_may_be_is_tried_where_the_edge_was_seen():
    waves = 0.5 * np.sin(2 * np.pi * ARC / 18.0)
    missed = []
    for first in range(40, 280, 7):
        seen = np.ones(len(ARC), dtype=bool)
        seen[first : first + 18] = False
        filled, sigma = bridged(ARC, np.where(seen, waves, 4.0), seen)
        missed.append((np.abs(filled - waves) <= 2 * sigma)[~seen].mean())
        assert sigma.max() < 0.5
    assert np.mean(missed) >= 0.95
    seen = np.zeros(len(ARC), dtype=bool)
    seen[:5] = seen[-5:] = True
    assert bridged(ARC, waves, seen)[1].max() == UNTOLD_SIGMA_MM
    assert not bridged(ARC, waves, np.ones(len(ARC), dtype=bool))[1].any()


def test_a_nose_whited_out_does_not_move_opened_legs_along_the_chord():
    nose = nose_outline(12, 14, 55)
    along = arc_length_mm(nose) - arc_length_mm(nose)[-1] / 2
    out = unit_normals(nose)
    out *= np.sign((out * (nose - nose.mean(axis=0))).sum())
    made = nose - 4.0 * (np.abs(along) / along[-1])[:, None] ** 1.5 * out
    places = np.linspace(4 - along[-1], along[-1] - 4, 61)
    at, normal = (np.column_stack([np.interp(places, along, a[:, i]) for i in (0, 1)]) for a in (nose, out))
    normal /= np.hypot(*normal.T)[:, None]
    true, _, _ = true_deviation(at, normal, made)
    rows = np.arange(2 - along[-1], along[-1] - 2, 0.4)
    xy, across = (np.column_stack([np.interp(rows, along, a[:, i]) for i in (0, 1)]) for a in (nose, out))
    offset = np.interp(rows, along, -4.0 * (np.abs(along) / along[-1]) ** 1.5)
    seen = np.abs(rows) > 5.0
    astray = np.where(seen, offset, offset + 0.8)  # a lamp's reflex: the line bulges there
    whole, guess = bridged(rows, astray, seen)
    found, _, _ = best_fit(at, normal, xy + whole[:, None] * across)
    places_seen = np.abs(places) > 6.0
    moved = through_the_fit(fit_push(at, normal), places, np.interp(places, rows, guess))
    miss = np.abs(found - true)[places_seen]
    assert miss.max() < 0.05
    assert (miss <= 2 * np.hypot(moved[places_seen], 0.018)).all()
    led, _, _ = best_fit(at, normal, xy + astray[:, None] * across)
    assert np.abs(led - true)[places_seen].max() > 0.1


def test_what_is_wrong_at_one_place_moves_all_others_a_little():
    angle = np.linspace(-2.0, 2.0, 61)
    at = np.column_stack([-30 * np.cos(angle), 18 * np.sin(angle)])
    normal = unit_normals(at)
    arc = arc_length_mm(at)
    sigma = np.where(np.abs(np.arange(61) - 30) < 3, 0.5, 0.0)
    moved = through_the_fit(fit_push(at, normal), arc, sigma)
    assert 0.01 < moved.mean() < moved.max() < 0.5
    assert moved[0] > 0.02  # far from it
    assert not through_the_fit(fit_push(at, normal), arc, np.zeros(61)).any()
    again = through_the_fit(fit_push(at, normal), arc, 2 * sigma)
    assert again == pytest.approx(2 * moved)
