"""The overlay picture of a measured photo, as one SVG with the photo inside."""

from __future__ import annotations

import base64
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from ribwright.errors import UnreadablePhotoError

if TYPE_CHECKING:
    from ribwright.core.metrology.profile import ProfileReading
    from ribwright.services.photo_measure import Photo


def profile_overlay(
    reading: ProfileReading, taken: Photo, *, layout: Mapping[str, Any], typed: Mapping[str, Any]
) -> str:
    """SVG of the photo laid flat with target, traced edge, enlarged deviation and hatched doubt.

    Raises:
        InputError: layout or typed values can't be used.
        UnreadablePhotoError: the flat picture can't be written.
    """
    import cv2

    from ribwright.core.metrology.layout import layout_from
    from ribwright.core.metrology.overlay import laid_flat, overlay_svg
    from ribwright.core.metrology.typed import profile_input

    given = profile_input(layout_from(layout), typed)
    flat = laid_flat(taken.picture, reading)
    written, code = cv2.imencode(".jpg", flat.picture, [cv2.IMWRITE_JPEG_QUALITY, 80])
    if not written:
        raise UnreadablePhotoError("photo", because="the flat picture can't be written")
    href = "data:image/jpeg;base64," + base64.b64encode(code.tobytes()).decode("ascii")
    return overlay_svg(reading, flat, image_href=href, tolerance_mm=given.tolerance_mm)


def overlay_jpeg(reading: ProfileReading, taken: Photo, *, tolerance_mm: float) -> bytes:
    """The same overlay as a JPEG, to be kept with the reading.

    Raises:
        UnreadablePhotoError: the picture can't be written.
    """
    import cv2

    from ribwright.core.metrology.overlay import laid_flat, overlay_picture

    flat = laid_flat(taken.picture, reading, px_per_mm=8.0)
    made = overlay_picture(reading, flat, tolerance_mm=tolerance_mm)
    written, code = cv2.imencode(".jpg", made, [cv2.IMWRITE_JPEG_QUALITY, 88])
    if not written:
        raise UnreadablePhotoError("photo", because="the overlay can't be written")
    return bytes(code.tobytes())
