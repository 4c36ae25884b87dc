"""A photo file decoded: header first, then the picture upright, with what its data say of the lens."""

from __future__ import annotations

import math
import stat
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from ribwright.errors import InputError, MissingError, OutOfRangeError, UnreadablePhotoError
from ribwright.services.photo_header import few_tones, media_of, no_heic_reader, size_of

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from ribwright.core.metrology.camera import FocalPrior

MAX_PIXELS = 60_000_000
MAX_BYTES = 60_000_000
FEWEST_PX = 600
FILLED_ROWS = 16  # no camera gives so many rows of one tone
REDUCE_ABOVE = 20_000_000  # pixels: larger JPEGs are decoded at half size
WIDE_FOCAL_EQ = 26.0  # mm, main lens of most phones: assumed, with a wide margin, when the photo does not say


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


def read_photo(path: Path, *, colour: bool = False, drawing: bool = False) -> Photo:
    """Decode a photo after its header was checked, and turn it upright.

    Args:
        path: the file.
        colour: True keeps colour (needed for a coloured edge only: grey is three times faster).
        drawing: a scanned drawing, which may be of black and white alone.

    Raises:
        MissingError: no such file.
        UnreadablePhotoError: not a photo, too large, damaged, or its reader is not installed.
    """
    content, media = photo_content(path)
    return decoded_photo(content, media, colour=colour, drawing=drawing)


def photo_content(path: Path) -> tuple[bytes, str]:
    """The bytes of a file that begins as a photo does, and its type; raises as ``read_photo``."""
    content = file_bytes(path, "photo", MAX_BYTES)
    media = media_of(content)
    if media is None:
        raise UnreadablePhotoError(
            "photo",
            because="this is not a photo",
            found=f"{path.name}, {len(content)} bytes",
            allowed="JPEG, PNG, WebP or HEIC",
            mend="Send the original file of the phone's camera",
        )
    return content, media


def decoded_photo(content: bytes, media: str, *, colour: bool = False, drawing: bool = False) -> Photo:
    """As ``read_photo``, of what ``photo_content`` gave.

    Raises:
        UnreadablePhotoError: too large, damaged, or its reader is not installed.
    """
    if media == "image/heic":
        return _heic(content, colour=colour)
    size = size_of(content, media)
    if size is None:
        raise _damaged()
    _check_size(*size)
    if few_tones(content, media) and not drawing:
        raise UnreadablePhotoError(
            "photo",
            because="this picture has only a few tones (black and white, or a palette)",
            mend="Send the original of the phone's camera, not a converted copy",
        )
    orientation, focal, zoom, noted = _exif(content)
    picture = _decoded(content, media, size, colour=colour)
    if media == "image/jpeg" and _looks_filled_up(picture) and _runs_out(content):
        raise _damaged()
    picture = _upright(picture, orientation)
    return _photo(picture, focal=focal, zoom=zoom, noted=noted, size=size)


def file_bytes(path: Path, field: str, most: int) -> bytes:
    """The bytes of a regular file, or a sentence why not; pipes, folders and devices are not opened."""
    try:
        found = path.stat()
    except FileNotFoundError:
        raise MissingError(
            field,
            found=str(path),
            because="there is no such file",
            mend="Give the name of a file that is there",
        ) from None
    except (OSError, ValueError):
        raise UnreadablePhotoError(field, found=str(path), because="this file can't be reached") from None
    if not stat.S_ISREG(found.st_mode):
        raise UnreadablePhotoError(
            field, found=str(path), because="this is not a file", mend="Give the photo itself"
        )
    if found.st_size == 0:
        raise UnreadablePhotoError(
            field,
            found=f"{path.name}, 0 bytes",
            because="this file is empty",
            mend="Copy it from the phone again"
            if field == "photo"
            else "Give the file as the program wrote it",
        )
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


def _runs_out(content: bytes) -> bool:
    """True if a JPEG's picture is not whole although its end mark is there: it changes when more is put before the mark."""
    import cv2
    import numpy as np

    end = content.rfind(b"\xff\xd9")
    longer = content[:end] + bytes((37 * k + 11) % 254 for k in range(4096)) + content[end:]
    flag = cv2.IMREAD_REDUCED_GRAYSCALE_8 | cv2.IMREAD_IGNORE_ORIENTATION
    seen = [cv2.imdecode(np.frombuffer(each, np.uint8), flag) for each in (content, longer)]
    return any(one is None for one in seen) or not np.array_equal(seen[0], seen[1])


def _looks_filled_up(picture: NDArray[np.uint8]) -> bool:
    """True if the last rows are one even grey, as a decoder fills up what a file that was cut short lacks."""
    last = picture[-FILLED_ROWS:]
    spread = last.max(axis=0).max(axis=0) - last.min(axis=0).min(axis=0)  # of each colour
    # full black and full white a photo may well end with
    return int(spread.max()) <= 1 and 5 < int(last[0, 0].mean()) < 250


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
        raise no_heic_reader() from None
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
        raise UnreadablePhotoError(
            "photo",
            because="this HEIC photo is damaged, or of a kind that can't be read here",
            mend="Copy the original from the phone again, or set its camera to JPEG (most compatible) and take it again",
        ) from None
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
