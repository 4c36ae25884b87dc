"""An end as light as the card beside dark skin: the line on the skin is told by the edge a thickness farther."""

import numpy as np

from ribwright.core.metrology.edge_fit import STEP_MM, step
from ribwright.core.metrology.farther_edge import CONTRAST, farther_edge
from ribwright.core.metrology.trace import Strip, follow

X = np.arange(-160, 161) * STEP_MM
T, BLUR = 0.6, 0.18


def light(grey, *, shade=0.0):
    """Card .7 light (less in the corner), an end of ``grey``, skin .04 inside; shape (rows, samples)."""
    card = 0.7 * (1 - shade * np.exp(-np.maximum(X, 0) / 5.0))
    rng = np.random.default_rng(5)
    out = []
    for g in grey:
        row = 0.04 + (g - 0.04) * step(X + T, BLUR) + (card - g) * step(X, BLUR)
        out.append(row + rng.normal(0, 0.004, len(X)))
    return np.array(out)


def strip(luminance, lean=0.99):
    rows = len(luminance)
    inside = np.ones(luminance.shape, dtype=bool)
    return Strip(-luminance, luminance, X, T, inside, np.full(rows, lean), dark=True)


def contrast(luminance, edge, lean=0.99):
    rows = len(luminance)
    return farther_edge(-luminance, X, np.full(rows, edge), np.full(rows, lean), sheet_mm=T, blur_mm=BLUR)


def test_blur_and_shade_in_the_corner_are_no_farther_edge():
    assert np.abs(contrast(light(np.full(200, 0.05)), 0.0)).max() < 0.05
    assert np.abs(contrast(light(np.full(200, 0.05), shade=0.35), 0.0)).max() < 0.5 * CONTRAST + 0.02


def test_a_grey_end_beside_dark_skin_is_one():
    grey = light(np.full(200, 0.3))
    assert contrast(grey, -T).min() > 0.3
    assert not contrast(grey, -T, lean=0.1).any()  # skin on neither side, or on both: no side is clear


def test_a_line_that_leaves_the_end_for_the_skin_is_doubted_by_a_thickness():
    shiny = np.where(np.arange(400) < 200, 0.02, 0.3)
    found = follow(strip(light(shiny)), low_mm=-3, high_mm=3, blur_mm=BLUR)
    assert np.abs(found.offset_mm[:180]).max() < 0.1
    on_skin = np.abs(found.offset_mm + T) < 0.15
    assert on_skin[220:].all()
    assert found.farther[220:].all()
    assert not found.farther[:180].any()
    assert (found.doubt_mm[220:] >= T).all()
    assert np.median(found.doubt_mm[:180]) < 0.3
    plain = follow(strip(light(np.full(400, 0.02))), low_mm=-3, high_mm=3, blur_mm=BLUR)
    assert not plain.farther.any()
