"""A series counts on the numbers in its words and runs its sizes straight to the last one."""

from __future__ import annotations

from typing import Any

import pytest

from ribwright.core.audit import read
from ribwright.core.audit.series import numbered, series, tapered
from ribwright.core.fastening.seam_spec import Seam
from ribwright.errors import OutOfRangeError, QuantityError, UnknownNameError

RIB: dict[str, Any] = {
    "title": "rib 1 to spar, bay 09", "drawing": "DN-2100", "revision": "B", "first": ".3 in", "last": "30 mm", "part_length": "1.652", "pitch": ".526",
    "layers": [
        {"part": "DN-2105 rib 1", "thickness": ".025", "material": "2024-T3 clad"},
        {"part": "DN-2103 spar", "thickness": ".040", "material": "6061-T6"},
    ],
}  # fmt: skip


def made(**asked: Any) -> tuple[dict[str, Any], ...]:
    given = {"count": 4, "steps": {}, "last": {}} | asked
    return series(read(Seam, RIB), RIB, **given)


def test_words_with_numbers_are_found_once_and_alloys_and_drawings_are_left_alone() -> None:
    assert numbered(read(Seam, RIB)) == ("rib 1", "bay 09", "DN-2105", "DN-2103")


def test_numbers_count_on_where_they_stand_and_keep_their_noughts() -> None:
    found = made(steps={"rib 1": 1, "DN-2105": 2, "bay 09": 1})
    assert [one["title"] for one in found] == [f"rib {n} to spar, bay {8 + n:02d}" for n in (2, 3, 4, 5)]
    assert [one["layers"][0]["part"] for one in found] == [
        f"DN-{2105 + 2 * n} rib {n + 1}" for n in (1, 2, 3, 4)
    ]
    for one in found:
        assert one["layers"][1] == RIB["layers"][1]
        assert one["drawing"] == "DN-2100"
        assert {k: v for k, v in one.items() if k not in ("title", "layers")} == {
            k: v for k, v in RIB.items() if k not in ("title", "layers")
        }


def test_sizes_lie_evenly_on_the_straight_to_the_last_and_units_may_mix() -> None:
    found = made(last={"last": "20 mm", "layers.0.thickness": ".041", "first": " "})
    mm = [round(read(Seam, one).last.to("mm"), 2) for one in found]
    assert mm == [27.5, 25.0, 22.5, 20.0]
    assert [one["last"] for one in found] == [
        "27.5 mm",
        "25 mm",
        "22.5 mm",
        "20 mm",
    ]  # in the unit of both ends
    assert [one["layers"][0]["thickness"] for one in found] == [
        "0.029 in",
        "0.033 in",
        "0.037 in",
        "0.041 in",
    ]
    assert {one["first"] for one in found} == {".3 in"}


def test_what_can_taper_is_named_with_its_row() -> None:
    labels = {one.path: one.label for one in tapered(read(Seam, RIB))}
    assert labels["layers.1.thickness"].endswith(", 2")
    assert "part_length" in labels


@pytest.mark.parametrize(
    ("asked", "error", "words"),
    [
        ({"count": 0}, OutOfRangeError, "1 to 60"),
        ({"count": 61}, OutOfRangeError, "61"),
        ({"steps": {"rib 2": 1}}, UnknownNameError, "rib 2"),
        ({"steps": {"rib 1": -1}}, OutOfRangeError, "smaller step"),
        ({"steps": {"rib 1": 5000}}, OutOfRangeError, "-1000 to 1000"),
        ({"last": {"nowhere": "1 in"}}, UnknownNameError, "nowhere"),
        ({"last": {"last": "1,5"}}, QuantityError, "at the last one"),
        ({"last": {"last": "3 lb"}}, QuantityError, "at the last one"),
        ({"last": {"layers.0.thickness": "9 in"}}, OutOfRangeError, "number 1 of the series"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_named(asked: dict[str, Any], error: type[Exception], words: str) -> None:
    with pytest.raises(error) as refused:
        made(**asked)
    assert words in refused.value.sentence()  # type: ignore[attr-defined]
