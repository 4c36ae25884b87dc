"""A trailing edge beside its strip, from a photo: bow, waviness, and what the drawing's limit says of them."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ribwright.errors import UnreadablePhotoError

if TYPE_CHECKING:
    from ribwright.core.metrology.straightness import Straightness

NO_LIMIT = "The drawing's limit decides; where it has none, ask the designer."
_ASK = "Refer: a driven edge is not bent back. Ask the designer before anything is done to it."


def straightness_photo(
    photo: Path, *, layout: Mapping[str, Any], typed: Mapping[str, Any]
) -> tuple[dict[str, Any], bytes | None]:
    """Measure how straight an edge is beside a printed strip.

    Args:
        photo: the file.
        layout: of the strip.
        typed: bars as measured, ``strip_thickness_mm``, ``reach_mm``, ``row``, and ``straight_mm`` where the drawing
            has a limit.

    Returns:
        ``status``, ``reason``, ``bow_mm``, ``waviness_mm``, ``u95_mm``, ``length_mm``, ``seen_share``, ``finding``,
        ``next``, ``notes``; and the photo laid flat with the edge as traced, a JPEG.

    Raises:
        As ``measure_profile_photo``.
    """
    from ribwright.core.metrology.layout import layout_from, number
    from ribwright.core.metrology.straightness import measure_straightness
    from ribwright.core.metrology.typed import print_scale
    from ribwright.services.photo_decode import decoded_photo, photo_content
    from ribwright.services.photo_measure import refused_words
    from ribwright.services.photo_overlay import edge_jpeg

    sheet = layout_from(layout)
    scale = print_scale(sheet, typed.get("bars_measured"))
    strip = number(typed.get("strip_thickness_mm", 0.13), "Thickness of the strip", low=0.0, high=5.0)
    reach = number(typed.get("reach_mm", 25.0), "Edge looked for within", low=3.0, high=60.0)
    asked = typed.get("straight_mm")
    limit = None if asked is None else number(asked, "Straight within", low=0.05, high=20.0)
    content, media = photo_content(photo)
    try:
        taken = decoded_photo(content, media)
        found = measure_straightness(
            taken.picture, layout=sheet, scale=scale, strip_mm=strip, reach_mm=reach,
            above=typed.get("row") == "above the strip", prior=taken.prior,
        )  # fmt: skip
    except UnreadablePhotoError as refused:
        again = {
            "status": "retake",
            "reason": refused_words(refused),
            "finding": "undecided",
            "next": "",
            "notes": [],
        }
        return again, None
    finding, following = _judged(found, limit)
    answer = {
        "status": "measured", "reason": "", "bow_mm": round(found.bow_mm, 3), "waviness_mm": round(found.waviness_mm, 3),
        "u95_mm": round(found.u95_mm, 3), "length_mm": round(float(found.along_mm[-1] - found.along_mm[0]), 1),
        "seen_share": round(found.seen, 3), "finding": finding, "next": following, "notes": [*taken.notes, *scale.notes],
    }  # fmt: skip
    return answer, edge_jpeg(found, taken, limit_mm=limit)


def _judged(found: Straightness, limit_mm: float | None) -> tuple[str, str]:
    from ribwright.core.bench.compare import Verdict, compare
    from ribwright.core.bench.requirement import Because, Reading, Requirement

    if limit_mm is None:
        return "undecided", NO_LIMIT
    findings = [
        compare(
            Requirement(
                name=name, unit="mm", low=-limit_mm, nominal=0.0, high=limit_mm, because=Because.drawing("", "", "called out"),
                how="photo beside a strip", when_low=_ASK, when_high=_ASK, refer_low=-limit_mm, refer_high=limit_mm,
            ),
            Reading(value, "mm", found.u95_mm),
        )
        for name, value in (("bow of the edge", found.bow_mm), ("waviness of the edge", found.waviness_mm))
    ]  # fmt: skip
    worst = max(findings, key=lambda one: tuple(Verdict).index(one.verdict))
    if worst.verdict is Verdict.WITHIN:
        return worst.verdict.value, "Straight enough: go on."
    return worst.verdict.value, f"{worst.requirement[0].upper()}{worst.requirement[1:]}: {worst.next}"
