"""More of what can be sent instead of a good photo: two sheets, moving pictures, several pictures in one file."""

import io
import json
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image

from ribwright.core.metrology.layout import layout_from
from ribwright.core.metrology.typed import profile_input, row_input
from ribwright.errors import InputError, UnreadablePhotoError
from ribwright.services.photo_measure import measure_profile_photo, read_photo, warm

OPENED = ("PNG", "MPO")  # the first picture of them; the others are no photo
DATA = Path(__file__).parents[1] / "data" / "photo"
CARD = json.loads((DATA / "a01.card.json").read_text())
CARD_TYPED = json.loads((DATA / "a01.input.json").read_text())
STRIP = json.loads((DATA / "b02.strip.json").read_text())
STRIP_TYPED = json.loads((DATA / "b02.input.json").read_text())


def test_two_gauge_sheets_in_one_photo_give_no_mixed_number(tmp_path):
    one = cv2.imread(str(DATA / "a01.jpg"), cv2.IMREAD_GRAYSCALE)
    half = cv2.resize(one, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    both = np.full_like(one, 90)
    both[200 : 200 + half.shape[0], : half.shape[1]] = half
    both[900 : 900 + half.shape[0], half.shape[1] :] = half
    cv2.imwrite(str(tmp_path / "both.jpg"), both)
    answer = measure_profile_photo(tmp_path / "both.jpg", layout=CARD, typed=CARD_TYPED)
    assert answer["status"] == "retake"
    assert answer["max_abs_bestfit_mm"] is None or answer["finding"] == "undecided"


def test_a_moving_picture_and_a_file_of_several_photos_are_their_first_or_refused(tmp_path):
    frames = [Image.fromarray(np.full((900, 1200), tone, np.uint8)) for tone in (60, 200)]
    for name, kind in (
        ("moving.gif", "GIF"),
        ("moving.png", "PNG"),
        ("several.mpo", "MPO"),
        ("pages.tiff", "TIFF"),
    ):
        out = io.BytesIO()
        first = frames[0].convert("RGB") if kind == "MPO" else frames[0]
        first.save(out, kind, save_all=True, append_images=[frames[1].convert(first.mode)])
        (tmp_path / name).write_bytes(out.getvalue())
        if kind in OPENED:
            picture = read_photo(tmp_path / name).picture
            assert picture.shape == (900, 1200)
            assert abs(float(picture.mean()) - 60) < 3
        else:
            with pytest.raises(UnreadablePhotoError):
                read_photo(tmp_path / name)


@pytest.mark.parametrize("value", ["0,8", "-1", -1, 0, float("inf"), None, [0.5], True])
def test_a_thickness_that_is_none_is_refused_with_its_name(value):
    with pytest.raises(InputError) as refused:
        profile_input(layout_from(CARD), {**CARD_TYPED, "sheet_thickness_mm": value})
    assert "sheet_thickness_mm" in str(refused.value)


@pytest.mark.parametrize("value", [0, -3, 2.5, "seven", None, float("nan")])
def test_a_number_of_heads_that_is_none_is_refused(value):
    with pytest.raises(InputError) as refused:
        row_input(layout_from(STRIP), {**STRIP_TYPED, "expected_count": value})
    assert "expected_count" in str(refused.value)


def test_a_print_far_from_its_size_or_stretched_is_asked_about_or_said():
    bars = CARD_TYPED["bars_measured"]
    for factor in (0.94, 1.06, 10.0):
        wrong = [{**bar, "measured_mm": bar["nominal_mm"] * factor} for bar in bars]
        with pytest.raises(InputError):
            profile_input(layout_from(CARD), {**CARD_TYPED, "bars_measured": wrong})
    stretched = [
        {**bar, "measured_mm": bar["nominal_mm"] * f} for bar, f in zip(bars, (1.0, 0.985), strict=True)
    ]
    given = profile_input(layout_from(CARD), {**CARD_TYPED, "bars_measured": stretched})
    assert any("stretched" in note for note in given.scale.notes)


def test_a_curved_card_seen_so_is_refused(tmp_path):
    one = cv2.imread(str(DATA / "a01.jpg"), cv2.IMREAD_GRAYSCALE)
    y, x = np.mgrid[0 : one.shape[0], 0 : one.shape[1]].astype(np.float32)
    u = (x - one.shape[1] / 2) / one.shape[1]
    bent = cv2.remap(one, x, y + 160 * u**2 * np.sin(9 * u), cv2.INTER_LINEAR)
    cv2.imwrite(str(tmp_path / "bent.jpg"), bent)
    answer = measure_profile_photo(tmp_path / "bent.jpg", layout=CARD, typed=CARD_TYPED)
    assert answer["status"] == "retake"


def test_what_measuring_compiles_is_compiled_beforehand():
    from ribwright.core.metrology.paths_compiled import best_through, closed_path

    warm()
    assert best_through.signatures
    assert closed_path.signatures
