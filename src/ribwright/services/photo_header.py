"""Type and size of a picture from its first bytes, without a decoder."""

from __future__ import annotations

import struct

from ribwright.errors import UnreadablePhotoError

_HEIF_BRANDS = (b"heic", b"heix", b"heim", b"heis", b"hevc", b"mif1", b"msf1")


def media_of(content: bytes) -> str | None:
    """The type of a picture by its content; None when it is none that is taken."""
    if content[:3] == b"\xff\xd8\xff":
        return "image/jpeg"
    if content[:8] == b"\x89PNG\r\n\x1a\n":
        return "image/png"
    if content[:4] == b"RIFF" and content[8:12] == b"WEBP":
        return "image/webp"
    if content[4:8] == b"ftyp" and content[8:12] in _HEIF_BRANDS:
        return "image/heic"
    return None


def few_tones(content: bytes, media: str) -> bool:
    """True for a picture of black and white alone, of at most 16 greys, or of a palette: no photo comes so."""
    return media == "image/png" and len(content) > 25 and (content[24] < 8 or content[25] == 3)


def size_of(content: bytes, media: str) -> tuple[int, int] | None:
    """Width and height in pixels by the header; None when it can't be read."""
    try:
        if media == "image/png":
            return _png(content)
        if media == "image/jpeg":
            return _jpeg(content)
        if media == "image/webp":
            return _webp(content)
    except (struct.error, IndexError):
        pass
    return None


def _png(content: bytes) -> tuple[int, int] | None:
    if content[12:16] != b"IHDR":
        return None
    width, height = struct.unpack(">II", content[16:24])
    return width, height


def _jpeg(content: bytes) -> tuple[int, int] | None:
    at = 2
    while at + 4 <= len(content):
        if content[at] != 0xFF:
            return None
        marker = content[at + 1]
        if marker == 0xFF:  # a filling byte
            at += 1
            continue
        if marker == 0x01 or 0xD0 <= marker <= 0xD8:  # markers without a length
            at += 2
            continue
        if marker in (0xD9, 0xDA):  # the picture begins before its size was said
            return None
        (length,) = struct.unpack(">H", content[at + 2 : at + 4])
        if 0xC0 <= marker <= 0xCF and marker not in (0xC4, 0xC8, 0xCC):
            height, width = struct.unpack(">HH", content[at + 5 : at + 9])
            return width, height
        at += 2 + max(length, 2)
    return None


def _webp(content: bytes) -> tuple[int, int] | None:
    kind = content[12:16]
    if kind == b"VP8X":
        width = int.from_bytes(content[24:27], "little") + 1
        height = int.from_bytes(content[27:30], "little") + 1
        return (width, height) if len(content) >= 30 else None
    if kind == b"VP8L" and content[20] == 0x2F:
        (bits,) = struct.unpack("<I", content[21:25])
        return (bits & 0x3FFF) + 1, ((bits >> 14) & 0x3FFF) + 1
    if kind == b"VP8 " and content[23:26] == b"\x9d\x01\x2a":
        width, height = struct.unpack("<HH", content[26:30])
        return width & 0x3FFF, height & 0x3FFF
    return None


def no_heic_reader() -> UnreadablePhotoError:
    """What is said where the package that reads HEIC is missing."""
    return UnreadablePhotoError(
        "photo",
        because="HEIC photos need the package pi-heif, which is not installed",
        mend="Install it (pip install pi-heif), or set the phone's camera to JPEG (most compatible) and take it again",
    )
