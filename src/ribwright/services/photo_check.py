"""Is this phone with this printer good enough: a thing of known size on the gauge sheet, measured from a photo."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from ribwright.errors import UnreadablePhotoError
from ribwright.services.photo_decode import Photo, decoded_photo, photo_content


def known_size_photo(photo: Path, *, layout: Mapping[str, Any], typed: Mapping[str, Any]) -> dict[str, Any]:
    """Measure a drill shank or a feeler stack of typed size on the sheet.

    Args:
        photo: the file.
        layout: of the strip beside which it lies, or of the uncut card on which it lies.
        typed: bars as measured, ``known_size_mm``, ``known_thing`` (shank or stack), for a stack ``known_height_mm``.

    Returns:
        ``status`` measured or retake with its ``reason``; ``known_mm``, ``measured_mm``, ``error_mm``, ``u95_mm``,
        ``finding`` (agrees, off) and ``words`` for the builder; ``notes``.

    Raises:
        As ``measure_profile_photo``.
    """
    from ribwright.core.metrology.known_size import measure_known_size
    from ribwright.core.metrology.layout import layout_from
    from ribwright.core.metrology.typed import known_size_input
    from ribwright.services.photo_measure import refused_words

    sheet = layout_from(layout)
    given = known_size_input(sheet, typed)
    content, media = photo_content(photo)
    taken: Photo | None = None
    nothing: dict[str, Any] = {
        "known_mm": given.size_mm, "measured_mm": None, "error_mm": None, "u95_mm": None, "finding": "undecided",
    }  # fmt: skip
    try:
        taken = decoded_photo(content, media)
        found = measure_known_size(taken.picture, layout=sheet, typed=given, prior=taken.prior)
    except UnreadablePhotoError as refused:
        notes = list(taken.notes) if taken else []
        return {"status": "retake", "reason": refused_words(refused), **nothing, "words": "", "notes": notes}
    agrees = abs(found.error_mm) <= found.u95_mm
    words = (
        f"Your phone and printer: {found.error_mm:+.2f} mm in {given.size_mm:.2f} mm, good to ± {found.u95_mm:.2f} mm. "
        + (
            "That agrees: go on."
            if agrees
            else "That is more than this way of measuring should give: measure the printed bars again with the caliper, "
            "press the paper flat, take the photo again from straight above; if it stays, don't trust photos of this phone."
        )
    )
    return {
        "status": "measured",
        "reason": "",
        "known_mm": given.size_mm,
        "measured_mm": round(found.measured_mm, 3),
        "error_mm": round(found.error_mm, 3),
        "u95_mm": round(found.u95_mm, 3),
        "finding": "agrees" if agrees else "off",
        "words": words,
        "notes": [*taken.notes, *given.scale.notes],
    }
