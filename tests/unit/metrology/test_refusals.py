"""What a photo is refused for: blur, a card found on one side only, another line all along the sheet's end."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from photo.render_camera import sheet_texture
from photo.render_profile import nose_outline
from ribwright.core.metrology.camera import FocalPrior
from ribwright.core.metrology.gauge_sheet import profile_card_layout, rivet_strip_layout
from ribwright.core.metrology.layout import layout_from
from ribwright.core.metrology.profile_findings import retake_reason
from ribwright.core.metrology.sharpness import blur_px, worst_blur_px
from ribwright.core.metrology.sighting import flat_round, sight
from ribwright.core.metrology.slips import rows_of_a_step
from ribwright.core.metrology.trace import _rival
from ribwright.core.metrology.typed import print_scale
from ribwright.errors import UnreadablePhotoError

GOOD = {
    "tilt_deg": 4.0, "px_per_mm": 9.0, "away_mm": 320.0, "bow_mm": 0.3, "residual_px": 0.04, "end_over_blur": 3.0, "blur_seen_mm": 0.15,
    "bars_off": 0.5, "bars_apart": 0.001, "both": 0.95,
    "card_round": 0.9, "clipped": 0.0, "weak": 0.0, "contrast": 0.5, "misfit": 0.0, "rough_mm": 0.005, "doubt_mm": 0.05,
    "rival": 0.3, "seen": 1.0, "missing_beside": 0.03, "step_rows": 0.0, "farther": 0.0, "whitened": 0.0, "blackened": 0.0,
}  # fmt: skip


@pytest.mark.parametrize("blur", [1.5, 2.5, 3.5])
def test_the_blur_of_a_picture_is_told_from_its_printed_edges(blur):
    layout = rivet_strip_layout()
    flat = 0.7 * sheet_texture(layout, 14.0)
    flat = cv2.copyMakeBorder(flat, 60, 60, 60, 60, cv2.BORDER_CONSTANT, value=0.3)
    soft = cv2.GaussianBlur(flat, (0, 0), blur)
    grey = np.asarray(255 * np.clip(soft, 0, 1) ** (1 / 2.2), dtype=np.uint8)
    strip = layout_from(layout)
    bars = [{"name": b["name"], "measured_mm": b["nominal_mm"]} for b in layout["bars"]]
    scale = print_scale(strip, bars)
    prior = FocalPrior(3000.0, 0.3)
    view = sight(grey, layout=strip, scale=scale, prior=prior, bow_sigma_mm=0.1).view
    assert blur_px(grey, view, strip, scale) == pytest.approx(np.hypot(blur, 0.9), rel=0.2)
    assert worst_blur_px(grey, view, strip, scale) == pytest.approx(np.hypot(blur, 0.9), rel=0.2)


@pytest.mark.parametrize("aslant", [False, True])
def test_a_double_image_is_as_blurred_aslant_as_along_the_squares(aslant):
    layout = profile_card_layout(name="nose", outline_mm=nose_outline(12, 12, 55))
    flat = cv2.copyMakeBorder(
        0.7 * sheet_texture(layout, 9.0), 60, 60, 60, 60, cv2.BORDER_CONSTANT, value=0.3
    )
    soft = cv2.GaussianBlur(flat, (0, 0), 1.5)
    x, y = (5, 5) if aslant else (7, 0)
    both = 0.5 * (soft + np.roll(soft, (y, x), axis=(0, 1)))
    grey = np.asarray(255 * np.clip(both, 0, 1) ** (1 / 2.2), dtype=np.uint8)
    card = layout_from(layout)
    scale = print_scale(card, [{"name": b["name"], "measured_mm": b["nominal_mm"]} for b in layout["bars"]])
    view = sight(grey, layout=card, scale=scale, prior=FocalPrior(3000.0, 0.3), bow_sigma_mm=0.3).view
    true = np.sqrt(1.5**2 + 0.9**2 + (x**2 + y**2) / 4)
    assert worst_blur_px(grey, view, card, scale) == pytest.approx(true, rel=0.12)
    if aslant:
        assert blur_px(grey, view, card, scale) < 0.85 * true


def test_a_card_that_fits_on_one_side_only_is_seen():
    x, y = np.meshgrid(np.arange(10.0), np.arange(8.0))
    corner = np.column_stack([x.ravel(), y.ravel()])
    middle = np.array([4.5, 3.5])
    assert flat_round(np.ones(80, dtype=bool), corner, middle) == 1.0
    assert flat_round(corner[:, 0] < 4.5, corner, middle) == 0.0
    few = np.arange(80) % 2 == 0
    assert flat_round(few, corner, middle) == pytest.approx(0.5, abs=0.11)


def test_a_line_that_goes_over_to_another_edge_has_steps_and_a_dent_has_none():
    at = 0.4 * np.arange(300)
    seen = np.ones(300, dtype=bool)
    dent = 0.9 * np.exp(-0.5 * ((at - 60) / 4.5) ** 2) + 0.03 * np.sin(at) + 0.02 * at
    assert rows_of_a_step(dent, seen) == 0
    over = dent + 0.4 * ((at > 20) & (at < 32))
    assert rows_of_a_step(over, seen) >= 6
    assert rows_of_a_step(over, (at < 15) | (at > 40)) == 0  # not seen there
    spike = dent.copy()
    spike[100:102] += 0.8
    assert rows_of_a_step(spike, seen) < 6
    assert rows_of_a_step(dent[:5], seen[:5]) == 0


def test_a_line_all_along_the_end_rivals_it_and_one_at_a_place_does_not():
    score = np.full((60, 120), 0.05)
    score[:, 60] = 1.5
    path = np.full(60, 60)
    assert _rival(score, path, 0.5) < 0.1
    score[20:26, 90] = 1.5
    assert _rival(score, path, 0.5) < 0.3
    score[:, 90] = 1.2
    assert _rival(score, path, 0.5) == pytest.approx(0.8, abs=0.02)


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"end_over_blur": 1.2}, "blurred"), ({"blur_seen_mm": 0.4}, "blurred"), ({"missing_beside": 0.4}, "beside the part"), ({"whitened": 0.4}, "another part"), ({"blackened": 0.8}, "another part"), ({"farther": 0.2}, "thickness farther"), ({"step_rows": 9.0}, "a step that no sheet has"),
        ({"card_round": 0.2}, "On one side"),
        ({"rival": 0.7}, "Another line"), ({"bow_mm": 4.0}, "bows"),
        ({"bars_off": 6.0}, "two bars"), ({"residual_px": 0.2, "bars_apart": 0.02}, "two bars"), ({"residual_px": 0.2}, "squares"),
    ],
)  # fmt: skip
def test_each_is_refused_in_words_that_say_what_to_change(wrong, words):
    assert retake_reason(GOOD) == ""
    assert words in retake_reason({**GOOD, **wrong})


def test_a_photo_made_smaller_on_its_way_is_told_from_one_taken_too_far_away():
    far = retake_reason({**GOOD, "px_per_mm": 3.0, "away_mm": 980.0})
    shrunk = retake_reason({**GOOD, "px_per_mm": 2.3, "away_mm": 320.0})
    assert far == "Too far away (3.0 pixels a millimetre): come to 25-35 cm."
    assert "taken from 32 cm" in shrunk
    assert "at full size" in shrunk


def test_two_cards_side_by_side_are_named_whichever_markers_are_seen_first():
    layout = profile_card_layout(name="nose", outline_mm=nose_outline(12, 12, 55))
    one = cv2.copyMakeBorder(0.7 * sheet_texture(layout, 6.0), 60, 60, 60, 60, cv2.BORDER_CONSTANT, value=0.3)
    grey = np.asarray(255 * np.clip(np.hstack([one, one]), 0, 1) ** (1 / 2.2), dtype=np.uint8)
    card = layout_from(layout)
    scale = print_scale(card, [{"name": b["name"], "measured_mm": b["nominal_mm"]} for b in layout["bars"]])
    with pytest.raises(UnreadablePhotoError, match="two gauge sheets"):
        sight(grey, layout=card, scale=scale, prior=FocalPrior(3000.0, 0.3), bow_sigma_mm=1.5)
