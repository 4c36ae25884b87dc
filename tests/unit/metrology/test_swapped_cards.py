"""Another part's card under the camera: named by its numbers, by its window, by what is missing beside it."""

from __future__ import annotations

from functools import cache

import cv2
import numpy as np
import pytest

from photo.render_camera import sheet_texture
from photo.render_profile import nose_outline
from ribwright.core.metrology.camera import FocalPrior
from ribwright.core.metrology.gauge_sheet import profile_card_layout
from ribwright.core.metrology.layout import layout_from
from ribwright.core.metrology.profile_findings import BLACKENED_MAX, WHITENED_MAX
from ribwright.core.metrology.sighting import sight
from ribwright.core.metrology.strange_marks import about_the_window, strange_marks
from ribwright.core.metrology.typed import print_scale
from ribwright.errors import OutOfRangeError, UnreadablePhotoError

PER_MM = 9.0
NOSES = {
    "small": (8.0, 8.0, 50.0), "large": (24.0, 17.0, 75.0), "twin": (10.0, 9.0, 52.0), "other twin": (8.0, 11.0, 50.0)
}  # fmt: skip


def _card(kind: str, *, numbered: int | None = None) -> dict:
    card = profile_card_layout(name=kind, outline_mm=nose_outline(*NOSES[kind]))
    if numbered is not None:
        first = card["charuco"]["first_id"]
        card["charuco"]["first_id"] = numbered
        for marker in card["markers"]:
            marker["id"] += numbered - first
    return card


@cache
def _photo(kind: str, numbered: int | None = None) -> np.ndarray:
    card = _card(kind, numbered=numbered)
    light = 0.7 * sheet_texture(card, PER_MM)
    window = np.round(np.array(card["blank_polygon"]) * PER_MM).astype(np.int32)
    cv2.fillPoly(light, [window], 0.05)
    light = cv2.copyMakeBorder(light, 60, 60, 60, 60, cv2.BORDER_CONSTANT, value=0.2)
    return np.asarray(255 * np.clip(cv2.GaussianBlur(light, (0, 0), 1.2), 0, 1) ** (1 / 2.2), dtype=np.uint8)


def _sight(kind: str, card: dict):
    layout = layout_from(card)
    bars = [{"name": b["name"], "measured_mm": b["nominal_mm"]} for b in card["bars"]]
    scale = print_scale(layout, bars)
    grey = _photo(*kind) if isinstance(kind, tuple) else _photo(kind)
    seen = sight(grey, layout=layout, scale=scale, prior=FocalPrior(3000.0, 0.3), bow_sigma_mm=0.3)
    return grey, seen, layout, scale


@pytest.mark.parametrize("kind", ["small", "large"])
def test_the_right_card_has_nothing_strange_on_it(kind):
    grey, seen, layout, scale = _sight(kind, _card(kind))
    assert strange_marks(grey, seen.view, layout, scale) == 0
    within, missing, otherwise = about_the_window(grey, seen.view, seen.kept, layout, scale)
    assert max(otherwise) < 0.02
    assert within == 0
    assert missing < 0.05


def test_cards_of_two_parts_are_numbered_unlike_and_told_apart():
    assert _card("small")["charuco"]["first_id"] != _card("large")["charuco"]["first_id"]
    for kind, other in (("small", "large"), ("large", "small")):
        with pytest.raises(UnreadablePhotoError, match="another part"):
            _sight(kind, _card(other))


def test_cards_numbered_alike_are_told_by_their_windows():
    with pytest.raises(
        UnreadablePhotoError, match="another part"
    ):  # markers are printed where its window should be
        _sight(("small", 0), _card("large", numbered=0))
    grey, seen, layout, scale = _sight(("large", 0), _card("small", numbered=0))
    missing = about_the_window(grey, seen.view, seen.kept, layout, scale)[1]
    assert missing > 0.5


@pytest.mark.parametrize(("kind", "other"), [("small", "twin"), ("twin", "small"), ("small", "other twin")])
def test_cards_numbered_alike_whose_windows_differ_by_millimetres_are_told_by_what_is_printed_about_them(
    kind, other
):
    grey, seen, layout, scale = _sight((kind, 0), _card(other, numbered=0))
    within, missing, (whitened, blackened) = about_the_window(grey, seen.view, seen.kept, layout, scale)
    assert within < 6
    assert missing < 0.15
    assert whitened > WHITENED_MAX or blackened > BLACKENED_MAX
    grey, seen, layout, scale = _sight((kind, 0), _card(kind, numbered=0))
    assert max(about_the_window(grey, seen.view, seen.kept, layout, scale)[2]) < 0.02


def test_a_marker_that_its_book_has_not_is_refused():
    card = _card("small")
    card["markers"][3]["id"] = 400
    with pytest.raises(OutOfRangeError, match="0 to 249"):
        layout_from(card)
