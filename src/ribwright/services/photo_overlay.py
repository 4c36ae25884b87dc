"""The overlay of a measured photo, as one SVG with the photo inside, or as a JPEG to be kept."""

from __future__ import annotations

import base64
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from ribwright import __version__
from ribwright.errors import UnreadablePhotoError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from ribwright.core.metrology.camera import View
    from ribwright.core.metrology.overlay import Overlay
    from ribwright.core.metrology.profile import ProfileReading
    from ribwright.core.metrology.row_findings import RowReading
    from ribwright.core.metrology.straightness import Straightness
    from ribwright.services.photo_measure import Photo

SVG_PX_PER_MM, KEPT_WIDE_PX = 5.0, 1600
KEPT_PX_PER_MM = (8.0, 20.0)
HEADS_A_BAND = 4


def profile_svg(
    reading: ProfileReading, taken: Photo, *, layout: Mapping[str, Any], typed: Mapping[str, Any]
) -> str:
    """SVG of the photo laid flat with target, traced edge, enlarged deviation and hatched doubt.

    Raises:
        InputError: layout or typed values can't be used.
        UnreadablePhotoError: the flat picture can't be written.
    """
    from ribwright.core.metrology.layout import layout_from
    from ribwright.core.metrology.profile_overlay import profile_overlay
    from ribwright.core.metrology.typed import profile_input

    tolerance = profile_input(layout_from(layout), typed).tolerance_mm
    return _svg(profile_overlay(reading, tolerance_mm=tolerance), reading.view, taken)


def row_svg(reading: RowReading, taken: Photo) -> str | None:
    """SVG of the photo laid flat with every rim as traced, how sure, and the finding; None where no row was found.

    Raises:
        UnreadablePhotoError: the flat picture can't be written.
    """
    from ribwright.core.metrology.row_overlay import row_overlay

    if reading.view is None or not reading.heads:
        return None
    return _svg(row_overlay(reading), reading.view, taken)


def profile_jpeg(reading: ProfileReading, taken: Photo, *, tolerance_mm: float) -> bytes:
    """The same overlay as a JPEG, to be kept with the reading; raises as ``profile_svg``."""
    from ribwright.core.metrology.profile_overlay import profile_overlay

    return _kept(profile_overlay(reading, tolerance_mm=tolerance_mm), reading.view, taken)


def row_jpeg(reading: RowReading, taken: Photo) -> bytes | None:
    """The same overlay as a JPEG, a few heads in each of its bands so that it can be read when printed small; raises,
    and answers None, as ``row_svg``."""
    import cv2
    import numpy as np

    from ribwright.core.metrology.overlay import laid_flat, overlay_picture, with_feet
    from ribwright.core.metrology.row_overlay import row_overlay

    count = len(reading.heads)
    if reading.view is None or not count:
        return None
    each = -(-count // -(-count // HEADS_A_BAND))  # bands as alike as can be
    parts = [row_overlay(reading, first=first, last=first + each) for first in range(0, count, each)]
    bands = [
        overlay_picture(one, laid_flat(taken.picture, reading.view, one, px_per_mm=KEPT_PX_PER_MM[1]))
        for one in parts
    ]
    wide = max(band.shape[1] for band in bands)
    white = (255, 255, 255)
    bands = [
        np.asarray(
            cv2.copyMakeBorder(b, 0, 0, 0, wide - b.shape[1], cv2.BORDER_CONSTANT, value=white),
            dtype=np.uint8,
        )
        for b in bands
    ]
    return _jpeg(with_feet(np.vstack(bands), parts[0].feet, parts[0].letter_mm * KEPT_PX_PER_MM[1]), 88)


def edge_jpeg(found: Straightness, taken: Photo, *, limit_mm: float | None) -> bytes:
    """The overlay of an edge beside its strip as a JPEG; raises as ``profile_svg``."""
    from ribwright.core.metrology.edge_overlay import edge_overlay

    return _kept(edge_overlay(found, limit_mm=limit_mm), found.view, taken)


def _svg(overlay: Overlay, view: View, taken: Photo) -> str:
    from ribwright.core.metrology.overlay import laid_flat, overlay_svg

    wide = overlay.high_mm[0] - overlay.low_mm[0]
    flat = laid_flat(taken.picture, view, overlay, px_per_mm=max(SVG_PX_PER_MM, min(1000 / wide, 10.0)))
    content = base64.b64encode(_jpeg(flat.picture, 80)).decode("ascii")
    return overlay_svg(overlay, flat, image_href=f"data:image/jpeg;base64,{content}")


def _kept(overlay: Overlay, view: View, taken: Photo) -> bytes:
    """About as wide as a page can print it."""
    from ribwright.core.metrology.overlay import laid_flat, overlay_picture, with_feet

    least, most = KEPT_PX_PER_MM
    fine = min(max(KEPT_WIDE_PX / (overlay.high_mm[0] - overlay.low_mm[0]), least), most)
    flat = laid_flat(taken.picture, view, overlay, px_per_mm=fine)
    return _jpeg(with_feet(overlay_picture(overlay, flat), overlay.feet, overlay.letter_mm * fine), 88)


def _jpeg(picture: NDArray[np.uint8], quality: int) -> bytes:
    import cv2

    written, code = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, quality])
    if not written:
        raise UnreadablePhotoError("photo", because="the picture with the traced edge can't be written")
    content = bytes(code.tobytes())
    made_by = f"ribwright {__version__}".encode()  # as a comment of the file, right behind its first mark
    return content[:2] + b"\xff\xfe" + (2 + len(made_by)).to_bytes(2, "big") + made_by + content[2:]
