"""Photos on a reportlab page: the JPEG goes into the file as it is, never decoded."""

from __future__ import annotations

import functools
import io
from typing import Any


def photo_within(content: bytes, *, wide_pt: float, high_pt: float) -> Any:
    """A flowable that shows a JPEG as large as it fits; the same bytes come into the file once.

    Raises:
        OSError: the bytes are no picture.
    """
    reader_of, shown = _kinds()
    return shown(reader_of(io.BytesIO(content)), wide_pt, high_pt)


@functools.cache
def _kinds() -> tuple[Any, Any]:
    from reportlab.lib.utils import ImageReader
    from reportlab.platypus.flowables import Flowable

    class Jpeg(ImageReader):  # type: ignore[misc]
        # The canvas knows pictures apart by these bytes. Its own reader would unpack every pixel for that,
        # though the compressed bytes are what it writes.
        _dataA = None

        def getRGBData(self) -> bytes:
            return bytes(self.fp.getvalue())

    class Shown(Flowable):  # type: ignore[misc]
        def __init__(self, reader: Any, wide_pt: float, high_pt: float) -> None:
            super().__init__()
            self.reader = reader
            across, up = reader.getSize()
            scale = min(wide_pt / across, high_pt / up)
            self.width, self.height = across * scale, up * scale

        def wrap(self, *_: float) -> tuple[float, float]:
            return (self.width, self.height)

        def draw(self) -> None:
            self.canv.drawImage(self.reader, 0, 0, self.width, self.height)

    return Jpeg, Shown
