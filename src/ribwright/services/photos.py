"""Taking photos in: looked at before they are decoded, kept by digest, with a report copy and a thumbnail.

A photo is hostile until its header says otherwise: its type is told by its content, its size is read
from the header (a small file can unpack to gigabytes), and its name is never part of a path.
"""

from __future__ import annotations

import io
import re
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from ribwright import __version__
from ribwright.core.record.entry import Entry
from ribwright.core.record.rules import check_role
from ribwright.errors import UnreadablePhotoError
from ribwright.services.entering import add_entry
from ribwright.services.photo_header import media_of, no_heic_reader, size_of
from ribwright.services.project import Actor, Project
from ribwright.store import photos as stored_photos

if TYPE_CHECKING:
    from PIL.Image import Image

MAX_BYTES = 60_000_000
MAX_PIXELS = {
    "image/jpeg": 220_000_000,
    "image/png": 50_000_000,
    "image/webp": 50_000_000,
    "image/heic": 60_000_000,
}
"""A JPEG is decoded reduced, so that a large one costs little."""

OVERLAY = "overlay.jpg"
"""Name of the picture that is kept with a measured photo: the photo laid flat, lettered with what was measured."""

REPORT_PX = 1600
THUMB_PX = 320

_UPRIGHT = ("exif", "Raw profile type exif", "xmp", "XML:com.adobe.xmp")
"""Where a picture says which way is up; its other notes are left behind."""
_STRIP_PX = 2_000_000
_UNPACKING = threading.Lock()
"""One picture at a time is unpacked: of 50 megapixels, it fills 200 MB."""

_DATE_IFD, _DATE_TAG, _PLACE_IFD, _ORIENTATION = 0x8769, 36867, 0x8825, 0x0112


def add_photo(
    project: Project,
    *,
    actor: Actor,
    request_id: str,
    content: bytes,
    about: str = "",
    name: str = "",
    caption: str = "",
    stage: str = "",
) -> Entry:
    """Take one photo in.

    Args:
        project: an open project.
        actor: who enters it.
        request_id: of the form.
        content: the file's bytes.
        about: reference of the object that it shows.
        name: what the file was called; kept as a word only.
        caption: what it shows.
        stage: of the operation.

    Raises:
        UnreadablePhotoError: not a photo, truncated, or larger than can be taken.
        RefusedError: the role keeps no photos; said before anything is kept.
        As ``entering.add_entry``.
    """
    check_role("photo", by=actor.name, role=actor.role)
    media = check_header(content)
    image, taken_at, position = _decoded(content, media)
    report = _jpeg(image, REPORT_PX, quality=82)
    thumb = _jpeg(image, THUMB_PX, quality=75)
    body = {
        "digest": stored_photos.keep_photo(project.store, content),
        "report": stored_photos.keep_photo(project.store, report),
        "thumb": stored_photos.keep_photo(project.store, thumb),
        "media": media,
        "name": plain_name(name),
        "caption": caption,
        "stage": stage,
        "taken_at": taken_at,
        "position": "yes" if position else "no",
    }
    return _entered(project, actor, request_id, about, body)


def keep_unopened(
    project: Project,
    *,
    actor: Actor,
    request_id: str,
    content: bytes,
    about: str = "",
    name: str = "",
    caption: str = "",
    stage: str = "",
) -> Entry:
    """Keep a photo that can't be opened as it was sent, without copies: its reader may come, or a better one.

    It counts as one that says where it was taken: what can't be read might.

    Raises:
        UnreadablePhotoError: it does not even begin as a photo does, or is larger than can be taken.
        As ``add_photo``.
    """
    check_role("photo", by=actor.name, role=actor.role)
    media = media_of(content)
    if media is None or len(content) > MAX_BYTES:
        media = check_header(content)
    body = {
        "digest": stored_photos.keep_photo(project.store, content),
        "media": media,
        "name": plain_name(name),
        "caption": caption,
        "stage": stage,
        "position": "yes",
    }
    return _entered(project, actor, request_id, about, body)


def _entered(project: Project, actor: Actor, request_id: str, about: str, body: dict[str, str]) -> Entry:
    said = {key: value for key, value in body.items() if value}
    return add_entry(project, actor=actor, request_id=request_id, kind="photo", about=about, body=said)


def photo_content(project: Project, digest: str) -> tuple[bytes, str]:
    """The bytes of a kept photo and its type.

    Raises:
        UnknownNameError: there is none of this digest.
    """
    content = stored_photos.read_photo(project.store, digest)
    return content, media_of(content) or "application/octet-stream"


def check_header(content: bytes) -> str:
    """Type of a photo by its content, its size by its header; nothing is decoded.

    Raises:
        UnreadablePhotoError: not a photo, or larger than can be taken.
    """
    if len(content) > MAX_BYTES:
        raise UnreadablePhotoError("photo", found=f"{len(content)} bytes", allowed=f"up to {MAX_BYTES} bytes")
    media = media_of(content)
    if media is None:
        raise UnreadablePhotoError("photo", found=_what_it_is(content), allowed="JPEG, PNG, WebP or HEIC")
    size = _heif_size(content) if media == "image/heic" else size_of(content, media)
    if size is None or min(size) < 1:
        raise UnreadablePhotoError(
            "photo", because="its header can't be read", mend="Take it again, or save it anew"
        )
    if size[0] * size[1] > MAX_PIXELS[media] or max(size) > 65_000:
        raise UnreadablePhotoError(
            "photo",
            found=f"{size[0]} by {size[1]} pixels",
            allowed=f"up to {MAX_PIXELS[media]:,} pixels of this type",
        )
    return media


def _what_it_is(content: bytes) -> str:
    if not content:
        return "an empty file"
    known = ((b"%PDF", "a PDF"), (b"PK\x03\x04", "a packed archive"), (b"GIF8", "a GIF"), (b"II*\0", "a TIFF"), (b"MM\0*", "a TIFF"), (b"BM", "a bitmap"))  # fmt: skip
    told = next((words for head, words in known if content.startswith(head)), "")
    return told or ("a film" if content[4:8] == b"ftyp" else "another kind of file")


def taken(content: bytes) -> str:
    """When a photo was taken, by the camera's own clock; "" when it doesn't say."""
    media = check_header(content)
    with _guarded(media):
        return _taken_at(_opened(content, media))


def _decoded(content: bytes, media: str) -> tuple[Image, str, bool]:
    from PIL import ImageOps

    with _UNPACKING, _guarded(media):
        image = _opened(content, media)
        taken_at, position = _taken_at(image), _has_position(image, content)
        if media == "image/jpeg":
            share = REPORT_PX / max(image.size)  # of both sides: the shorter one needs no more
            image.draft("RGB", (max(1, int(share * image.width)), max(1, int(share * image.height))))
        image.load()
        upright = ImageOps.exif_transpose(_coarse(image))
        upright.thumbnail((REPORT_PX, REPORT_PX))
        return upright, taken_at, position


def _coarse(image: Image) -> Image:
    """A picture of at least twice the report's size in plain colours: strip by strip, as the whole may fill 200 MB."""
    from PIL import Image as pillow

    width, height = image.size
    factor = max(1, max(width, height) // (2 * REPORT_PX))
    made = pillow.new("RGB", (-(-width // factor), -(-height // factor)))
    made.info = {key: image.info[key] for key in _UPRIGHT if key in image.info}
    rows = factor * (1 + _STRIP_PX // (width * factor))
    for top in range(0, height, rows):
        strip = image.crop((0, top, width, min(height, top + rows))).convert("RGB")
        made.paste(strip.reduce(factor) if factor > 1 else strip, (0, top // factor))
    return made


@contextmanager
def _guarded(media: str) -> Iterator[None]:
    """Whatever a decoder throws at a broken file becomes one sentence. Decoders throw nearly anything
    (OSError, SyntaxError, struct.error, KeyError …), which is why this one place catches all of it."""
    try:
        yield
    except ImportError:
        raise no_heic_reader() from None
    except Exception as error:
        raise UnreadablePhotoError(
            "photo",
            found=media.removeprefix("image/").upper(),
            because="it is damaged or was cut off",
            mend="Take it again, or copy it again from the camera",
        ) from error


def _opened(content: bytes, media: str) -> Image:
    if media == "image/heic":
        import pi_heif

        heif = pi_heif.open_heif(io.BytesIO(content))
        image: Image = heif.to_pillow()
        return image
    from PIL import Image as pillow

    kind = {"image/jpeg": "JPEG", "image/png": "PNG", "image/webp": "WEBP"}[media]
    pillow.MAX_IMAGE_PIXELS = None  # the header was judged above, by type
    return pillow.open(io.BytesIO(content), formats=[kind])


def _heif_size(content: bytes) -> tuple[int, int]:
    with _guarded("image/heic"):
        import pi_heif

        size: tuple[int, int] = pi_heif.open_heif(io.BytesIO(content)).size
        return size


def _taken_at(image: Image) -> str:
    try:
        stamp = str(image.getexif().get_ifd(_DATE_IFD).get(_DATE_TAG, ""))
    except Exception:  # a broken note in a good photo: it only doesn't say when
        return ""
    match = re.fullmatch(r"(\d{4}):(\d\d):(\d\d) (\d\d:\d\d:\d\d)\x00*", stamp.strip())
    return f"{match[1]}-{match[2]}-{match[3]}T{match[4]}" if match else ""


def _has_position(image: Image, content: bytes) -> bool:
    try:
        if image.getexif().get_ifd(_PLACE_IFD):
            return True
    except Exception:  # what can't be read might hold one
        return True
    return b"exif:GPS" in content or b"GPSLatitude" in content


def _jpeg(image: Image, longest_px: int, *, quality: int) -> bytes:
    small = image.copy()
    small.thumbnail((longest_px, longest_px))
    out = io.BytesIO()
    # No EXIF, and no comment but ours: where it was taken stays out.
    small.save(out, "JPEG", quality=quality, optimize=False, comment=f"ribwright {__version__}")
    return out.getvalue()


def plain_name(name: str) -> str:
    """What a file was called, as a word only: no folders, nothing that can't be printed."""
    last = re.split(r"[/\\]", name)[-1]
    return "".join(character for character in last if character.isprintable())[:120].strip()
