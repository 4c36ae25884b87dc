"""A template from the drawing's own paper template: photographed on the gauge sheet, or its coordinates in a file."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from ribwright.core.templates.traced import points_of_line, traced_raw, upright
from ribwright.errors import FormatError, OutOfRangeError

if TYPE_CHECKING:
    from ribwright.core.metrology.scanned_line import ScannedLine
    from ribwright.core.metrology.template_in import TemplateOutline


def raw_from_photo(
    photo: Path, *, layout: Mapping[str, Any], typed: Mapping[str, Any], line_width_mm: float, part: str, station: str, thickness: str,
    given: str = "outside", kind: str = "female", hand: str = "none",
) -> dict[str, Any]:  # fmt: skip
    """Drawing data of ``traced-template`` from a photo of a line, wire or cut template on its card.

    Args:
        photo: of the card with the line on it.
        layout: of the card.
        typed: what was measured beside it (bars, heights).
        line_width_mm: of the line or wire.
        part, station, thickness, given, kind, hand: as the calculation's fields.

    Raises:
        UnreadablePhotoError: the card or the line can't be followed.
        GeometryError: a part of the line was not seen.
    """
    from ribwright.core.metrology.layout import layout_from
    from ribwright.core.metrology.template_in import measure_template
    from ribwright.core.metrology.typed import profile_input
    from ribwright.services.photo_measure import read_photo

    card = layout_from(layout)
    taken = read_photo(photo)
    found = measure_template(
        taken.picture,
        layout=card,
        typed=profile_input(card, typed),
        line_width_mm=line_width_mm,
        prior=taken.prior,
    )
    # The sheet's y runs down, as it is printed; a profile's runs up.
    points, reading = points_of_line(found.outline_mm * np.array([1.0, -1.0]), found.u95_mm)
    return traced_raw(
        points, reading, part=part, station=station, thickness=thickness, given=given, kind=kind, hand=hand
    )


def scanned_line(photo: Path, *, length_mm: float, scanned: bool) -> ScannedLine:
    """The one long dark line in a scan, or a photo from straight above, scaled by its greatest length.

    Args:
        photo: the file; no gauge sheet in it.
        length_mm: the greatest distance between two places of the line, measured on the paper.
        scanned: True for a flat-bed scan.

    Raises:
        InputError: the length is not one.
        UnreadablePhotoError: no picture, or not one long line.
    """
    import cv2

    from ribwright.core.metrology.scanned_line import line_of_scan
    from ribwright.services.photo_measure import read_photo

    taken = read_photo(photo, drawing=True)
    grey = taken.picture
    if grey.ndim == 3:
        grey = np.asarray(cv2.cvtColor(grey, cv2.COLOR_BGR2GRAY), dtype=np.uint8)
    return line_of_scan(grey, length_mm=length_mm, scanned=scanned, focal_px=taken.prior.focal_px)


def raw_from_scan(
    photo: Path, *, length_mm: float, scanned: bool, part: str, station: str, thickness: str, given: str = "outside", kind: str = "female",
    hand: str = "none",
) -> tuple[dict[str, Any], str]:  # fmt: skip
    """Drawing data of ``traced-template`` from a scan with one typed length, and how sure its line is, in words.

    Args and errors: as ``scanned_line`` and ``raw_from_photo``.
    """
    found = scanned_line(photo, length_mm=length_mm, scanned=scanned)
    points, reading = points_of_line(found.outline_mm * np.array([1.0, -1.0]), found.u95_mm)
    raw = traced_raw(
        points, reading, part=part, station=station, thickness=thickness, given=given, kind=kind, hand=hand
    )
    return raw, how_sure(found)


def how_sure(found: ScannedLine | TemplateOutline) -> str:
    """What a traced line is worth, for the builder: its uncertainty and its residual."""
    return f"good to ± {float(np.nanmedian(found.u95_mm)):.2f} mm, {found.residual_mm:.2f} mm about its smoothed form"


def raw_from_points(
    text: str, *, unit: str, reading: str, part: str, station: str, thickness: str, given: str = "outside", kind: str = "female",
    hand: str = "none",
) -> dict[str, Any]:  # fmt: skip
    """The same from lines of two numbers, x and y, in order along the profile.

    Args:
        text: two numbers a line, parted by comma, semicolon or blanks; a head line is passed over.
        unit: in or mm, of the numbers.
        reading: how well they were read, with unit.

    Raises:
        FormatError: a line that is not two numbers; names it.
        OutOfRangeError: fewer than 8 points, or more than 2000.
    """
    if unit not in ("in", "mm"):
        raise FormatError("unit", found=unit[:20], allowed="in, mm")
    rows = []
    for number, line in enumerate(text.splitlines(), 1):
        cells = [
            c
            for c in next(csv.reader(io.StringIO(line.replace(";", ",").replace("\t", ","))), [])
            if c.strip()
        ]
        if len(cells) == 1:
            cells = cells[0].split()
        if not cells:
            continue
        try:
            x, y = (float(cell) for cell in cells)
            if not (np.isfinite(x) and np.isfinite(y)):
                raise ValueError(line)
        except ValueError:
            if number == 1:
                continue
            raise FormatError(
                f"points, line {number}",
                found=line.strip()[:60],
                allowed="two numbers, x and y",
                mend="Mend that line.",
            ) from None
        rows.append((x, y))
    if not 8 <= len(rows) <= 2000:
        raise OutOfRangeError(
            "points", found=len(rows), allowed="8 to 2000", mend="Read more points along the profile."
        )
    points = np.array(rows) / (25.4 if unit == "mm" else 1.0)
    made = traced_raw(
        upright(points),
        0.0,
        part=part,
        station=station,
        thickness=thickness,
        given=given,
        kind=kind,
        hand=hand,
    )
    return made | {"reading": reading}
