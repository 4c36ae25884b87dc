"""A dark end with dark skin beside it: the edge that stands clear, not the middle of the broad band."""

from __future__ import annotations

import numpy as np
import pytest

from ribwright.core.metrology.edge_fit import BOTH, STEP_MM, fit_shift, rows_times
from ribwright.core.metrology.joined_skin import clear_edge
from ribwright.core.metrology.trace import Strip, follow

SHEET_MM, BLUR_MM = 0.4, 0.3
OFFSET_MM = np.arange(-130, 131) * STEP_MM


def _rows(skin_mm: float, *, inside: bool = True, count: int = 60) -> np.ndarray:
    """Light across a black end at offset 0 with so much dark skin beside it, exactly blurred (error function)."""
    from math import erf

    def step(x):
        return np.array([0.5 * (1 + erf(v / BLUR_MM / np.sqrt(2))) for v in x])

    low = -SHEET_MM - (skin_mm if inside else 0.0)
    high = 0.0 if inside else skin_mm
    band = step(OFFSET_MM - low) - step(OFFSET_MM - high)
    light = 0.6 - 0.55 * band
    noise = np.random.default_rng(3).normal(0, 0.002, (count, len(light)))
    return light + noise


@pytest.mark.parametrize("inside", [True, False])
@pytest.mark.parametrize("skin_mm", [0.3, 0.5, 0.9])
def test_the_clear_edge_is_found_however_broad_the_band(skin_mm, inside):
    at = np.full(60, round((0.05 - OFFSET_MM[0]) / STEP_MM))
    place, broad, _ = clear_edge(
        -_rows(skin_mm, inside=inside), OFFSET_MM, at, sheet_mm=SHEET_MM, blur_mm=BLUR_MM, skin_inside=inside
    )
    assert broad.all()
    assert np.abs(place).max() < 0.05


def test_a_path_with_the_cards_blur_known_does_not_slide_into_the_skin():
    light = _rows(0.5)
    strip = Strip(-light, light, OFFSET_MM, SHEET_MM, np.ones(light.shape, dtype=bool), np.full(60, 0.9))
    without = follow(strip, low_mm=-3.0, high_mm=3.0)
    known = follow(strip, low_mm=-3.0, high_mm=3.0, blur_mm=BLUR_MM)
    assert np.abs(without.offset_mm).mean() > 0.15
    assert np.abs(known.offset_mm).max() < 0.06
    assert known.doubt_mm.min() > 0.05


def test_where_the_blur_is_the_cards_nothing_changes():
    light = _rows(0.0)
    strip = Strip(-light, light, OFFSET_MM, SHEET_MM, np.ones(light.shape, dtype=bool), np.full(60, 0.9))
    without, known = (follow(strip, low_mm=-3.0, high_mm=3.0, blur_mm=b) for b in (None, BLUR_MM))
    assert np.array_equal(without.offset_mm, known.offset_mm)


def test_products_in_pieces_are_the_products():
    rng = np.random.default_rng(0)
    rows, matrix = rng.normal(size=(500, 33)), rng.normal(size=(33, 251))
    assert np.allclose(rows_times(rows, matrix), rows @ matrix, atol=1e-12)
    shift, _, share = fit_shift(rows[:, :20], np.arange(20) * STEP_MM - 0.5, 0.4, 0.2, BOTH)
    assert np.isfinite(shift).all()
    assert (share <= 1).all()
