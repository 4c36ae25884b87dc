"""Every kind of input that is no good photo gives a sentence: never a number, never a traceback."""

import io
import json
import os
import struct
import zlib
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image

from ribwright.errors import InputError, MissingError, RibwrightError, UnreadablePhotoError
from ribwright.services.photo_measure import measure_profile_photo, measure_row_photo, read_json, read_photo

DATA = Path(__file__).parents[1] / "data" / "photo"
LAYOUT = json.loads((DATA / "a01.card.json").read_text())
TYPED = json.loads((DATA / "a01.input.json").read_text())


def _png_header(width, height):
    def chunk(kind, body):
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 1, 0, 0, 0, 0))
        + chunk(b"IDAT", zlib.compress(b"\0" * 1000))
        + chunk(b"IEND", b"")
    )


def _jpeg(width=1200, height=900):
    out = io.BytesIO()
    Image.fromarray(np.full((height, width), 128, np.uint8)).save(out, "JPEG")
    return out.getvalue()


def test_a_bomb_is_refused_from_its_header(tmp_path):
    (tmp_path / "bomb.png").write_bytes(_png_header(30000, 30000))
    with pytest.raises(UnreadablePhotoError, match="megapixels"):
        read_photo(tmp_path / "bomb.png")


def test_a_jpeg_that_lies_about_its_size_is_refused(tmp_path):
    content = bytearray(_jpeg())
    at = content.find(b"\xff\xc0")
    content[at + 5 : at + 9] = struct.pack(">HH", 60000, 60000)
    (tmp_path / "lie.jpg").write_bytes(content)
    with pytest.raises(UnreadablePhotoError, match="pixels"):
        read_photo(tmp_path / "lie.jpg")


@pytest.mark.parametrize("kept", [0.02, 0.3, 0.95])
def test_a_truncated_photo_is_refused(tmp_path, kept):
    content = (DATA / "a01.jpg").read_bytes()
    (tmp_path / "cut.jpg").write_bytes(content[: int(kept * len(content))])
    with pytest.raises(UnreadablePhotoError):
        read_photo(tmp_path / "cut.jpg")


def test_all_eight_orientations_give_the_same_picture(tmp_path):
    rng = np.random.default_rng(1)
    upright = cv2.resize(rng.integers(0, 255, (9, 12), dtype=np.uint8), (1200, 900))
    stored = {
        1: upright,
        2: upright[:, ::-1],
        3: upright[::-1, ::-1],
        4: upright[::-1],
        5: upright.T,
        6: np.rot90(upright, 1),
        7: upright[::-1, ::-1].T,
        8: np.rot90(upright, -1),
    }
    for number, picture in stored.items():
        exif = Image.Exif()
        exif[274] = number
        Image.fromarray(np.ascontiguousarray(picture)).save(tmp_path / "o.png", exif=exif)
        back = read_photo(tmp_path / "o.png").picture
        assert back.shape == upright.shape
        assert np.array_equal(back, upright), number


def test_a_photo_without_lens_data_or_cropped_says_so(tmp_path):
    (tmp_path / "plain.jpg").write_bytes(_jpeg())
    plain = read_photo(tmp_path / "plain.jpg")
    assert plain.prior.relative >= 0.3
    assert plain.notes
    out = io.BytesIO()
    exif = Image.Exif()
    exif.get_ifd(0x8769).update({0xA405: 26, 0xA002: 4032, 0xA003: 3024})
    Image.fromarray(np.full((900, 1200), 128, np.uint8)).save(out, "JPEG", exif=exif)
    (tmp_path / "cropped.jpg").write_bytes(out.getvalue())
    cropped = read_photo(tmp_path / "cropped.jpg")
    assert cropped.prior.relative >= 0.3
    assert "cropped" in cropped.notes[0]
    assert read_photo(DATA / "a01.jpg").prior.relative < 0.05


@pytest.mark.parametrize("mode", ["1", "P"])
def test_a_picture_of_few_tones_is_no_photo_but_a_drawing(tmp_path, mode):
    grey = Image.fromarray(np.tile(np.arange(0, 240, dtype=np.uint8), (800, 5)))
    grey.convert("RGB").convert(mode).save(tmp_path / "x.png")
    with pytest.raises(UnreadablePhotoError, match="few tones"):
        read_photo(tmp_path / "x.png")
    assert read_photo(tmp_path / "x.png", drawing=True).picture.shape == (800, 1200)


def test_a_cut_short_photo_with_an_end_mark_is_refused(tmp_path):
    whole = _jpeg()
    (tmp_path / "x.jpg").write_bytes(whole[: len(whole) // 2] + b"\xff\xd9")
    for colour in (False, True):
        with pytest.raises(UnreadablePhotoError, match="cut short"):
            read_photo(tmp_path / "x.jpg", colour=colour)


@pytest.mark.parametrize("mode", ["L", "RGB", "RGBA", "LA", "I;16", "CMYK"])
def test_all_kinds_of_pixels_are_converted(tmp_path, mode):
    grey = Image.fromarray(np.tile(np.arange(0, 240, dtype=np.uint8), (800, 5)))
    name = "x.jpg" if mode == "CMYK" else "x.png"
    picture = grey.convert("RGB").convert("CMYK") if mode == "CMYK" else grey
    if mode == "I;16":
        picture = Image.fromarray(np.asarray(grey).astype(np.uint16) * 256)
    elif mode != "CMYK":
        picture = grey.convert("RGB").convert(mode) if mode in ("RGBA", "LA") else grey.convert(mode)
    picture.save(tmp_path / name)
    for colour in (False, True):
        found = read_photo(tmp_path / name, colour=colour).picture
        assert found.dtype == np.uint8
        assert found.shape[:2] == (800, 1200)


def test_heic_is_opened_or_named(tmp_path):
    (tmp_path / "x.heic").write_bytes(b"\0\0\0\x18ftypheic\0\0\0\0mif1heic" + b"\0" * 400)
    with pytest.raises(UnreadablePhotoError):
        read_photo(tmp_path / "x.heic")


def test_a_48_megapixel_photo_is_decoded_at_half_size(tmp_path):
    out = io.BytesIO()
    Image.fromarray(np.full((6048, 8064), 128, np.uint8)).save(out, "JPEG")
    (tmp_path / "big.jpg").write_bytes(out.getvalue())
    assert read_photo(tmp_path / "big.jpg").picture.shape == (3024, 4032)


def test_what_is_no_file_is_refused(tmp_path):
    (tmp_path / "empty.jpg").write_bytes(b"")
    (tmp_path / "text.jpg").write_text("not a photo")
    (tmp_path / "small.jpg").write_bytes(_jpeg(80, 60))
    (tmp_path / "gone.jpg").symlink_to(tmp_path / "nowhere.jpg")
    os.mkfifo(tmp_path / "pipe.jpg")
    for name in ("empty.jpg", "text.jpg", "small.jpg", "gone.jpg", "pipe.jpg", ".", "never.jpg", "nul\0.jpg"):
        with pytest.raises((UnreadablePhotoError, MissingError)) as refused:
            read_photo(tmp_path / name)
        assert len(str(refused.value).splitlines()) == 1


@pytest.mark.parametrize("content", [b"", b"{", b"[]", b"\xff\xfe", b"[" * 100000, b'{"a": NaN'])
def test_json_that_is_none_is_refused(tmp_path, content):
    (tmp_path / "x.json").write_bytes(content)
    with pytest.raises(RibwrightError):
        read_json(tmp_path / "x.json", "input")


def test_json_numbers_that_are_none_are_refused(tmp_path):
    (tmp_path / "x.json").write_text(json.dumps({**TYPED, "sheet_thickness_mm": float("nan")}))
    with pytest.raises(InputError):
        measure_profile_photo(DATA / "a01.jpg", layout=LAYOUT, typed=read_json(tmp_path / "x.json", "input"))


def _save(tmp_path, picture):
    cv2.imwrite(str(tmp_path / "t.jpg"), picture)
    return tmp_path / "t.jpg"


def test_photos_of_something_else_are_retakes_with_the_reason(tmp_path):
    original = cv2.imread(str(DATA / "a01.jpg"), cv2.IMREAD_GRAYSCALE)
    mirrored = measure_profile_photo(_save(tmp_path, original[:, ::-1]), layout=LAYOUT, typed=TYPED)
    assert mirrored["status"] == "retake"
    assert "mirrored" in mirrored["reason"]
    other = {**LAYOUT, "dictionary": "DICT_6X6_250"}
    wrong = measure_profile_photo(DATA / "a01.jpg", layout=other, typed=TYPED)
    assert wrong["status"] == "retake"
    assert "another gauge sheet" in wrong["reason"]
    noise = np.random.default_rng(0).integers(0, 255, (900, 1200), dtype=np.uint8)
    nothing = measure_profile_photo(_save(tmp_path, noise), layout=LAYOUT, typed=TYPED)
    assert nothing["status"] == "retake"
    covered = original.copy()
    covered[:, :2300] = 90
    covered[1500:, :] = 90
    half = measure_profile_photo(_save(tmp_path, covered), layout=LAYOUT, typed=TYPED)
    assert half["status"] == "retake"
    for answer in (mirrored, wrong, nothing, half):
        assert answer["finding"] == "undecided"
        assert json.loads(json.dumps(answer, allow_nan=False))


def test_ids_of_another_card_are_named():
    shifted = json.loads(json.dumps(LAYOUT))
    for marker in shifted["markers"]:
        marker["id"] += 170
    shifted["markers"] = [m for m in shifted["markers"] if m["id"] < 250]
    answer = measure_profile_photo(DATA / "a01.jpg", layout=shifted, typed=TYPED)
    assert answer["status"] == "retake"
    assert "another gauge sheet" in answer["reason"]


def test_blurred_and_dark_photos_are_retakes(tmp_path):
    original = cv2.imread(str(DATA / "a01.jpg"), cv2.IMREAD_GRAYSCALE)
    for spoiled in (cv2.GaussianBlur(original, (0, 0), 7), original // 30, cv2.resize(original, (900, 675))):
        answer = measure_profile_photo(_save(tmp_path, spoiled), layout=LAYOUT, typed=TYPED)
        assert answer["status"] == "retake", answer["max_abs_bestfit_mm"]


def test_a_part_that_is_covered_is_not_bridged(tmp_path):
    original = cv2.imread(str(DATA / "a01.jpg"))
    original[700:1300, 2100:2750] = (90, 120, 160)
    answer = measure_profile_photo(_save(tmp_path, original), layout=LAYOUT, typed=TYPED)
    missing = [d is None for d in answer["deviation_bestfit_mm"]]
    assert answer["status"] == "retake" or any(missing)


def test_a_strip_given_for_a_card_is_refused():
    strip = json.loads((DATA / "b02.strip.json").read_text())
    with pytest.raises(InputError):
        measure_profile_photo(DATA / "a01.jpg", layout=strip, typed=TYPED)
    typed = json.loads((DATA / "b02.input.json").read_text())
    assert measure_row_photo(DATA / "a01.jpg", layout=strip, typed=typed)["status"] == "retake"
