"""Measuring from a photo file: header first, then decoding, then the measuring core.

What is no photo is an error; a photo that can't be opened or measured is an answer: ``status`` "retake" with
the reason and what to change. The results are plain mappings, ready for JSON, with ``None`` for what was
not seen.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ribwright.errors import FormatError, UnreadablePhotoError
from ribwright.services.photo_decode import Photo as Photo
from ribwright.services.photo_decode import decoded_photo, file_bytes, photo_content
from ribwright.services.photo_decode import read_photo as read_photo

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from ribwright.core.metrology.profile import ProfileReading
    from ribwright.core.metrology.row_findings import RowReading

MAX_JSON_BYTES = 5_000_000
UNSEEN = {
    "heads": ". Seen from above only: height, a gap under the head, cracks, and an oval that all heads share are for a gauge on a sample.",
    "holes": ". Seen from above only: cracks, burrs and the depth of a dimple can't be.",
}


def read_json(path: Path, field: str) -> Mapping[str, Any]:
    """A JSON object from a file.

    Raises:
        MissingError: no such file.
        FormatError: not a JSON object, or far too large.
    """
    content = file_bytes(path, field, MAX_JSON_BYTES)
    try:
        found = json.loads(content.decode("utf-8"))
    except (ValueError, RecursionError):
        raise FormatError(
            field, found=f"{path.name} can't be read as it is", allowed="the file as the program wrote it"
        ) from None
    if not isinstance(found, dict):
        raise FormatError(
            field, found=type(found).__name__, allowed="named values, as the program wrote them"
        )
    return found


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
        UnreadablePhotoError: the file is no photo.
    """
    return profile_reading(photo, layout=layout, typed=typed)[0]


def profile_reading(
    photo: Path, *, layout: Mapping[str, Any], typed: Mapping[str, Any]
) -> tuple[dict[str, Any], ProfileReading | None, Photo | None]:
    """As ``measure_profile_photo``, with the core's reading (None when the card was not found) and the photo (None when
    it can't be opened)."""
    from ribwright.core.metrology.layout import layout_from
    from ribwright.core.metrology.profile import measure_profile
    from ribwright.core.metrology.template_in import measure_drawn
    from ribwright.core.metrology.typed import profile_input

    sheet = layout_from(layout)
    given = profile_input(sheet, typed)
    target = sheet.target
    assert target is not None
    content, media = photo_content(photo)
    taken: Photo | None = None
    try:
        taken = decoded_photo(content, media, colour=given.treatment == "green")
        measure = measure_drawn if given.drawn else measure_profile
        reading = measure(taken.picture, layout=sheet, typed=given, prior=taken.prior)
    except UnreadablePhotoError as refused:
        nothing: list[float | None] = [None] * len(target.arc_mm)
        return (
            {
                "status": "retake",
                "reason": refused_words(refused),
                "arc_positions_mm": [float(a) for a in target.arc_mm],
                "deviation_bestfit_mm": nothing,
                "u95_mm": nothing,
                "max_abs_bestfit_mm": None,
                "rotation_deg": None,
                "finding": "undecided",
                "deviation_card_frame_mm": nothing,
                "seen_share": 0.0,
                "quality": {},
                "notes": list(taken.notes) if taken else [],
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
    return row_reading(photo, layout=layout, typed=typed)[0]


def row_reading(
    photo: Path, *, layout: Mapping[str, Any], typed: Mapping[str, Any]
) -> tuple[dict[str, Any], RowReading | None, Photo | None]:
    """As ``measure_row_photo``, with the core's reading (None when the strip was not found) and the photo (None when it
    can't be opened)."""
    from ribwright.core.metrology.layout import layout_from
    from ribwright.core.metrology.rivet_row import measure_row
    from ribwright.core.metrology.typed import row_input

    strip = layout_from(layout)
    given = row_input(strip, typed)
    content, media = photo_content(photo)
    taken: Photo | None = None
    try:
        taken = decoded_photo(content, media)
        reading = measure_row(taken.picture, layout=strip, typed=given, prior=taken.prior)
    except UnreadablePhotoError as refused:
        nothing = {
            "status": "retake",
            "reason": refused_words(refused),
            "heads": [],
            "summary": "",
            "quality": {},
            "notes": list(taken.notes) if taken else [],
        }
        return nothing, None, taken
    return _row_answer(reading, taken.notes, given.what), reading, taken


def _row_answer(reading: RowReading, notes: tuple[str, ...], what: str) -> dict[str, Any]:
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
        summary += UNSEEN["holes" if what in ("holes", "dimples") else "heads"]
    return {
        "status": reading.status,
        "reason": reading.reason,
        "heads": heads,
        "summary": summary,
        "quality": reading.quality,
        "notes": [*notes, *reading.notes],
    }


def refused_words(refused: UnreadablePhotoError) -> str:
    """Why a photo can't be measured, as a sentence of its own."""
    said = refused.sentence().removeprefix("photo: ")
    return said[:1].upper() + said[1:]


def _number(value: float | None) -> float | None:
    return None if value is None or not math.isfinite(value) else round(float(value), 4)


def _list(values: NDArray[np.float64]) -> list[float | None]:
    return [_number(float(v)) for v in values]


def warm() -> None:
    """Compile what measuring compiles, once, so that the first photo doesn't wait for it; kept on the disk."""
    import numpy as np

    from ribwright.core.metrology.camera_compiled import derived, projected
    from ribwright.core.metrology.light_compiled import light_along
    from ribwright.core.metrology.paths_compiled import best_through, closed_path
    from ribwright.core.metrology.row_compiled import gathered, likeliest, mean_along

    some, single, at = np.zeros((4, 4)), np.ones(4, np.float32), np.zeros((1, 1), np.int64)
    best_through(some, 1, 0.05)
    closed_path(some, 1, 0.05)
    camera, places = np.ones(17), np.zeros((4, 3))
    projected(camera, np.eye(3), places)
    derived(camera, np.eye(3), np.zeros((3, 9)), places, places, np.zeros((4, 2)))
    light_along(some.astype(np.uint8), single, np.zeros((2, 2, 2)), 2)
    gathered(*np.nonzero(some == 0), *(np.ones(16, np.float32),) * 3, np.ones(1), 4, 4)
    likeliest(some.astype(np.float32), single, at[0], at[0], 1, 1, 0.0)
    mean_along(some[:1].astype(np.float32), at, 2)
