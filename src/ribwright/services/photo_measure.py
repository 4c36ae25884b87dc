"""Measuring from a photo file: header first, then decoding, then the measuring core.

What can't be a photo is an error; a photo that can't be measured is an answer: ``status`` "retake" with
the reason and what to change. The results are plain mappings, ready for JSON, with ``None`` for what was
not seen.
"""

from __future__ import annotations

import json
import math
import stat
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ribwright.errors import (
    FormatError,
    InputError,
    MissingError,
    OutOfRangeError,
    RibwrightError,
    UnreadablePhotoError,
)
from ribwright.services.photo_header import media_of, size_of

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from ribwright.core.metrology.camera import FocalPrior
    from ribwright.core.metrology.profile import ProfileReading
    from ribwright.core.metrology.rivet_row import RowReading

MAX_PIXELS = 60_000_000
MAX_BYTES = 60_000_000
MAX_JSON_BYTES = 5_000_000
FEWEST_PX = 600
REDUCE_ABOVE = 20_000_000  # pixels: larger JPEGs are decoded at half size
WIDE_FOCAL_EQ = 26.0  # mm, main lens of most phones: assumed, with a wide margin, when the photo does not say
ENDINGS = (".jpg", ".jpeg", ".png", ".webp", ".heic", ".heif")


@dataclass(frozen=True, slots=True)
class Photo:
    """A decoded photo, upright.

    Attributes:
        picture: shape (h, w) or (h, w, 3) blue-green-red, 8 bit.
        prior: what its data say of the focal length.
        notes: sentences for the builder.
    """

    picture: NDArray[np.uint8]
    prior: FocalPrior
    notes: tuple[str, ...]


def read_json(path: Path, field: str) -> Mapping[str, Any]:
    """A JSON object from a file.

    Raises:
        MissingError: no such file.
        FormatError: not a JSON object, or far too large.
    """
    content = _bytes_of(path, field, MAX_JSON_BYTES)
    try:
        found = json.loads(content.decode("utf-8"))
    except (ValueError, RecursionError):
        raise FormatError(field, found=f"{path.name} is not JSON", allowed="one JSON object") from None
    if not isinstance(found, dict):
        raise FormatError(field, found=type(found).__name__, allowed="one JSON object {…}")
    return found


def read_photo(path: Path, *, colour: bool = False) -> Photo:
    """Decode a photo after its header was checked, and turn it upright.

    Args:
        path: the file.
        colour: True keeps colour (needed for a coloured edge only: grey is three times faster).

    Raises:
        MissingError: no such file.
        UnreadablePhotoError: not a photo, too large, damaged, or its reader is not installed.
    """
    content = _bytes_of(path, "photo", MAX_BYTES)
    media = media_of(content)
    if media is None:
        raise UnreadablePhotoError(
            "photo",
            because="this is not a photo",
            found=f"{path.name}, {len(content)} bytes",
            allowed="JPEG, PNG, WebP or HEIC",
            mend="Send the original file of the phone's camera",
        )
    if media == "image/heic":
        return _heic(content, colour=colour)
    size = size_of(content, media)
    if size is None:
        raise _damaged()
    _check_size(*size)
    orientation, focal, zoom, noted = _exif(content)
    picture = _decoded(content, media, size, colour=colour)
    picture = _upright(picture, orientation)
    return _photo(picture, focal=focal, zoom=zoom, noted=noted, size=size)


def measure_profile_photo(
    photo: Path, *, layout: Mapping[str, Any], typed: Mapping[str, Any]
) -> dict[str, Any]:
    """Measure a profile on its card.

    Args:
        photo: the file.
        layout: the card's layout, as it was written with the sheet.
        typed: bars as measured, edge height, sheet thickness, tolerance, edge treatment, mount.

    Returns:
        ``status``, ``reason``, ``arc_positions_mm``, ``deviation_bestfit_mm``, ``u95_mm``,
        ``max_abs_bestfit_mm``, ``rotation_deg``, ``finding``, and beside them ``deviation_card_frame_mm``,
        ``seen_share``, ``quality``, ``notes``.

    Raises:
        InputError: layout or typed values can't be used.
        NoScaleError: a bar was not typed.
        UnreadablePhotoError: the file is no photo that can be decoded.
    """
    return profile_reading(photo, layout=layout, typed=typed)[0]


def profile_reading(
    photo: Path, *, layout: Mapping[str, Any], typed: Mapping[str, Any]
) -> tuple[dict[str, Any], ProfileReading | None, Photo]:
    """As ``measure_profile_photo``, with the core's reading (None when the card was not found) and the photo."""
    from ribwright.core.metrology.layout import layout_from
    from ribwright.core.metrology.profile import measure_profile
    from ribwright.core.metrology.typed import profile_input

    sheet = layout_from(layout)
    given = profile_input(sheet, typed)
    target = sheet.target
    assert target is not None
    taken = read_photo(photo, colour=given.treatment == "green")
    try:
        reading = measure_profile(taken.picture, layout=sheet, typed=given, prior=taken.prior)
    except UnreadablePhotoError as refused:
        nothing: list[float | None] = [None] * len(target.arc_mm)
        return (
            {
                "status": "retake",
                "reason": refused.sentence(),
                "arc_positions_mm": [float(a) for a in target.arc_mm],
                "deviation_bestfit_mm": nothing,
                "u95_mm": nothing,
                "max_abs_bestfit_mm": None,
                "rotation_deg": None,
                "finding": "undecided",
                "deviation_card_frame_mm": nothing,
                "seen_share": 0.0,
                "quality": {},
                "notes": list(taken.notes),
            },
            None,
            taken,
        )
    measured = reading.status == "measured"
    answer = {
        "status": reading.status,
        "reason": reading.reason,
        "arc_positions_mm": [float(a) for a in reading.arc_mm],
        "deviation_bestfit_mm": _list(reading.deviation_mm),
        "u95_mm": _list(reading.u95_mm),
        "max_abs_bestfit_mm": _number(reading.max_abs_mm),
        "rotation_deg": _number(reading.rotation_deg) if measured else None,
        "finding": reading.finding,
        "deviation_card_frame_mm": _list(reading.raw_mm),
        "seen_share": round(reading.seen, 3),
        "quality": reading.quality,
        "notes": [*taken.notes, *reading.notes],
    }
    return answer, reading, taken


def measure_row_photo(photo: Path, *, layout: Mapping[str, Any], typed: Mapping[str, Any]) -> dict[str, Any]:
    """Measure a rivet row beside its strip.

    Returns:
        ``status``, ``reason``, ``heads`` (each ``cx``, ``cy``, ``d_max``, ``d_min``, ``pitch_to_next_mm``,
        ``edge_distance_mm``, ``u95_mm``, ``finding``, ``reasons``), ``summary``, ``quality``, ``notes``.

    Raises:
        As ``measure_profile_photo``.
    """
    from ribwright.core.metrology.layout import layout_from
    from ribwright.core.metrology.rivet_row import measure_row
    from ribwright.core.metrology.typed import row_input

    strip = layout_from(layout)
    given = row_input(strip, typed)
    taken = read_photo(photo)
    try:
        reading = measure_row(taken.picture, layout=strip, typed=given, prior=taken.prior)
    except UnreadablePhotoError as refused:
        return {
            "status": "retake",
            "reason": refused.sentence(),
            "heads": [],
            "summary": "",
            "quality": {},
            "notes": list(taken.notes),
        }
    return _row_answer(reading, taken.notes)


def _row_answer(reading: RowReading, notes: tuple[str, ...]) -> dict[str, Any]:
    heads = [
        {
            "cx": round(h.cx, 4),
            "cy": round(h.cy, 4),
            "d_max": round(h.d_max, 4),
            "d_min": round(h.d_min, 4),
            "pitch_to_next_mm": _number(h.pitch_to_next_mm),
            "edge_distance_mm": _number(h.edge_distance_mm),
            "u95_mm": round(h.u95_mm, 4),
            "finding": h.finding if reading.status == "measured" else "undecided",
            "reasons": list(h.reasons),
        }
        for h in reading.heads
    ]
    counts = {
        word: sum(h["finding"] == word for h in heads)
        for word in ("reject", "undecided", "nothing wrong seen")
    }
    summary = ", ".join(f"{n} {word}" for word, n in counts.items() if n)
    if reading.status == "measured":
        summary += (
            ". Seen from above only: height, a gap under the head and cracks are for a gauge on a sample."
        )
    return {
        "status": reading.status,
        "reason": reading.reason,
        "heads": heads,
        "summary": summary,
        "quality": reading.quality,
        "notes": [*notes, *reading.notes],
    }


def measure_folder(
    folder: Path,
    *,
    kind: str,
    layout: Path | None = None,
    typed: Path | None = None,
    workers: int = 1,
    progress: Callable[[int, int, str], None] | None = None,
) -> list[dict[str, Any]]:
    """Measure all photos of a folder, on several cores.

    A photo ``NAME.jpg`` uses ``NAME.card.json`` (or ``NAME.strip.json``) and ``NAME.input.json`` beside it
    where these exist, else the common ``layout`` and ``typed``.

    Args:
        folder: where the photos are.
        kind: "profile" or "heads".
        layout: layout common to all.
        typed: input common to all.
        workers: processes; 1 measures here.
        progress: called with how many are done, of how many, and the name; may raise ``Stopped``.

    Returns:
        One answer a photo, in order of name, with ``photo``; a photo that is an error has ``status`` "error".
    """
    if kind not in ("profile", "heads"):
        raise FormatError("kind", found=kind, allowed="profile, heads")
    if not folder.is_dir():
        raise MissingError("folder", found=str(folder), mend="Give the folder that holds the photos")
    photos = sorted(p for p in folder.iterdir() if p.suffix.lower() in ENDINGS)
    jobs = [(photo, kind, layout, typed) for photo in photos]
    answers: list[dict[str, Any]] = []
    if workers <= 1 or len(jobs) < 2:
        for done, job in enumerate(jobs, 1):
            answers.append(_one_of_folder(job))
            if progress:
                progress(done, len(jobs), job[0].name)
        return answers
    from concurrent.futures import ProcessPoolExecutor
    from multiprocessing import get_context

    with ProcessPoolExecutor(min(workers, len(jobs)), mp_context=get_context("spawn")) as pool:
        try:
            for done, answer in enumerate(pool.map(_one_of_folder, jobs), 1):
                answers.append(answer)
                if progress:
                    progress(done, len(jobs), answer["photo"])
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            raise
    return answers


def _one_of_folder(job: tuple[Path, str, Path | None, Path | None]) -> dict[str, Any]:
    photo, kind, layout, typed = job
    ending = "card" if kind == "profile" else "strip"
    own_layout, own_typed = photo.with_suffix(f".{ending}.json"), photo.with_suffix(".input.json")
    try:
        sheet = _beside(own_layout, layout, "layout")
        given = _beside(own_typed, typed, "input")
        measure = measure_profile_photo if kind == "profile" else measure_row_photo
        return {"photo": photo.name, **measure(photo, layout=sheet, typed=given)}
    except RibwrightError as wrong:
        return {"photo": photo.name, "status": "error", "reason": wrong.sentence(), "error": wrong.as_dict()}


def _beside(own: Path, common: Path | None, field: str) -> Mapping[str, Any]:
    chosen = own if own.is_file() else common
    if chosen is None:
        raise MissingError(field, found=f"no {own.name}", mend=f"Put {own.name} beside the photo")
    return read_json(chosen, field)


def _bytes_of(path: Path, field: str, most: int) -> bytes:
    """The bytes of a regular file, or a sentence why not; pipes, folders and devices are not opened."""
    try:
        found = path.stat()
    except FileNotFoundError:
        raise MissingError(field, found=str(path), mend="Give the name of a file that is there") from None
    except (OSError, ValueError):
        raise UnreadablePhotoError(field, found=str(path), because="this file can't be reached") from None
    if not stat.S_ISREG(found.st_mode):
        raise UnreadablePhotoError(field, found=str(path), because="this is not a file")
    if found.st_size == 0:
        raise UnreadablePhotoError(field, found=f"{path.name}, 0 bytes", because="this file is empty")
    if found.st_size > most:
        raise OutOfRangeError(field, found=f"{found.st_size} bytes", allowed=f"at most {most} bytes")
    try:
        return path.read_bytes()
    except OSError:
        raise UnreadablePhotoError(field, found=str(path), because="this file can't be read") from None


def _check_size(width: int, height: int) -> None:
    if width * height > MAX_PIXELS:
        raise UnreadablePhotoError(
            "photo",
            because="too many pixels",
            found=f"{width} x {height}",
            allowed=f"at most {MAX_PIXELS // 1_000_000} megapixels",
            mend="Set the phone to 12 or 48 megapixels",
        )
    if min(width, height) < FEWEST_PX:
        raise UnreadablePhotoError(
            "photo",
            because="too few pixels to measure with",
            found=f"{width} x {height}",
            allowed=f"at least {FEWEST_PX} each way; 12 megapixels are right",
            mend="Send the original, not a copy from a messenger",
        )


def _damaged() -> UnreadablePhotoError:
    return UnreadablePhotoError(
        "photo", because="this photo is damaged or cut short", mend="Copy the original from the phone again"
    )


def _exif(content: bytes) -> tuple[int, float | None, float, tuple[int, int] | None]:
    """Orientation, 35-mm equivalent focal length, digital zoom, and the size its data state."""
    import io
    import warnings

    from PIL import Image

    try:
        with warnings.catch_warnings(), Image.open(io.BytesIO(content)) as image:
            warnings.simplefilter("ignore")
            exif = image.getexif()
            inner = exif.get_ifd(0x8769)
            orientation = exif.get(0x0112, 1)
            focal, zoom = _real(inner.get(0xA405)), _real(inner.get(0xA404)) or 1.0
            width, height = _real(inner.get(0xA002)), _real(inner.get(0xA003))
    except Exception:  # a photo's data are hostile too: whatever they break, the picture itself counts
        return 1, None, 1.0, None
    turn = int(orientation) if isinstance(orientation, int) and 1 <= orientation <= 8 else 1
    noted = (int(width), int(height)) if width and height else None
    return turn, focal if focal and 8 <= focal <= 300 else None, zoom, noted


def _real(value: object) -> float | None:
    try:
        found = float(value)  # type: ignore[arg-type]
    except (TypeError, ValueError, ZeroDivisionError, OverflowError):
        return None
    return found if math.isfinite(found) else None


def _decoded(content: bytes, media: str, size: tuple[int, int], *, colour: bool) -> NDArray[np.uint8]:
    import cv2
    import numpy as np

    if media == "image/jpeg" and b"\xff\xd9" not in content[-65536:]:
        raise _damaged()
    half = media == "image/jpeg" and size[0] * size[1] > REDUCE_ABOVE
    if colour:
        flag = cv2.IMREAD_REDUCED_COLOR_2 if half else cv2.IMREAD_COLOR
    else:
        flag = cv2.IMREAD_REDUCED_GRAYSCALE_2 if half else cv2.IMREAD_GRAYSCALE
    try:
        picture = cv2.imdecode(np.frombuffer(content, np.uint8), flag | cv2.IMREAD_IGNORE_ORIENTATION)
    except (cv2.error, MemoryError):
        picture = None
    if picture is None or picture.size == 0:
        raise _damaged()
    return np.asarray(picture, dtype=np.uint8)


def _upright(picture: NDArray[np.uint8], orientation: int) -> NDArray[np.uint8]:
    import cv2
    import numpy as np

    mirrored = {2: 1, 4: 0}
    if orientation in mirrored:
        return np.asarray(cv2.flip(picture, mirrored[orientation]), dtype=np.uint8)
    if orientation in (5, 7):  # across one of the diagonals
        turned = cv2.transpose(picture)
        return np.asarray(turned if orientation == 5 else cv2.rotate(turned, cv2.ROTATE_180), dtype=np.uint8)
    turns = {3: cv2.ROTATE_180, 6: cv2.ROTATE_90_CLOCKWISE, 8: cv2.ROTATE_90_COUNTERCLOCKWISE}
    if orientation in turns:
        return np.asarray(cv2.rotate(picture, turns[orientation]), dtype=np.uint8)
    return picture


def _photo(
    picture: NDArray[np.uint8],
    *,
    focal: float | None,
    zoom: float,
    noted: tuple[int, int] | None,
    size: tuple[int, int],
) -> Photo:
    from ribwright.core.metrology.camera import FOCAL_KNOWN, FOCAL_UNKNOWN, FocalPrior

    height, width = picture.shape[:2]
    longer, diagonal = max(width, height), math.hypot(width, height)
    equivalent = focal or WIDE_FOCAL_EQ
    # makers refer the equivalent to the width or to the diagonal of the film frame: the middle of the two
    focal_px = equivalent * 0.5 * (longer / 36.0 + diagonal / 43.27)
    cropped = noted is not None and sorted(noted) != sorted(size)
    if focal is None:
        notes: tuple[str, ...] = (
            "The photo does not say which lens took it: the result is less certain. Send the original.",
        )
        return Photo(picture, FocalPrior(focal_px, FOCAL_UNKNOWN), notes)
    if cropped or zoom > 1.05:
        notes = ("The photo is cropped or zoomed: the result is less certain. Use 1x and send the original.",)
        return Photo(picture, FocalPrior(focal_px, FOCAL_UNKNOWN), notes)
    return Photo(picture, FocalPrior(focal_px, FOCAL_KNOWN), ())


def _heic(content: bytes, *, colour: bool) -> Photo:
    import cv2
    import numpy as np

    try:
        import pi_heif
    except ImportError:
        raise UnreadablePhotoError(
            "photo",
            because="HEIC photos need the package pi-heif, which is not installed",
            mend="Install it, or set the phone to JPEG (most compatible)",
        ) from None
    try:
        opened = pi_heif.open_heif(content, convert_hdr_to_8bit=True)
        _check_size(*opened.size)
        pixels = np.asarray(opened)
        mode, data = opened.mode, opened.info.get("exif")
    except InputError:
        raise
    except UnreadablePhotoError:
        raise
    except Exception:  # the reader's own errors are many and unlisted
        raise _damaged() from None
    focal, zoom = _heic_lens(data)
    if pixels.ndim == 3:
        code = cv2.COLOR_RGB2BGR if mode in ("RGB", "RGBA") else cv2.COLOR_BGR2RGB
        pixels = cv2.cvtColor(np.ascontiguousarray(pixels[..., :3]), code)
        if not colour:
            pixels = cv2.cvtColor(pixels, cv2.COLOR_BGR2GRAY)
    size = (int(pixels.shape[1]), int(pixels.shape[0]))
    return _photo(np.asarray(pixels, dtype=np.uint8), focal=focal, zoom=zoom, noted=None, size=size)


def _heic_lens(data: object) -> tuple[float | None, float]:
    from PIL import Image

    if not isinstance(data, bytes):
        return None, 1.0
    try:
        exif = Image.Exif()
        exif.load(data)
        inner = exif.get_ifd(0x8769)
        focal = _real(inner.get(0xA405))
        return focal if focal and 8 <= focal <= 300 else None, _real(inner.get(0xA404)) or 1.0
    except Exception:  # as in _exif
        return None, 1.0


def _number(value: float | None) -> float | None:
    return None if value is None or not math.isfinite(value) else round(float(value), 4)


def _list(values: NDArray[np.float64]) -> list[float | None]:
    return [_number(float(v)) for v in values]
