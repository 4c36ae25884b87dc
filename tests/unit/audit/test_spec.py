"""A spec described once: reading, writing back, forms, schema."""

from __future__ import annotations

import json

import pytest

from ribwright.core.audit import fields_of, form_to_raw, raw_of, read
from ribwright.core.audit.schema import schema
from ribwright.core.fastening.seam import Seam
from ribwright.errors import (
    GeometryError,
    InputError,
    MissingError,
    OutOfRangeError,
    QuantityError,
    UnknownNameError,
)
from seams import SEAM, flat


def test_round_trip_through_raw_and_form() -> None:
    spec = read(Seam, SEAM)
    assert read(Seam, raw_of(spec)) == spec
    assert read(Seam, form_to_raw(Seam, flat(raw_of(spec)))) == spec
    assert raw_of(read(Seam, raw_of(spec))) == raw_of(spec)


def test_numbers_take_the_fields_unit_and_text_may_carry_its_own() -> None:
    a = read(Seam, SEAM | {"first": 0.75, "last": 57.25})
    b = read(Seam, SEAM | {"first": "19.05 mm", "last": "1454.15 mm"})
    assert a.first.value == b.first.value == 0.75
    assert a.last.value == b.last.value == 57.25


def test_what_is_written_stands_on_its_own() -> None:
    assert raw_of(read(Seam, SEAM))["layers"][0]["thickness"] == ".020 in"


def test_all_mistakes_are_found_at_once_and_know_their_input() -> None:
    raw = {
        "first": "x1",
        "layers": [{"part": "a", "thickness": "5 kg"}, {"part": "b"}],
        "colour": "red",
        "hand": "up",
    }
    with pytest.raises(InputError) as refused:
        read(Seam, raw)
    mistakes = (refused.value, *refused.value.others)
    by_name = {m.name: type(m) for m in mistakes}
    assert by_name["first"] is QuantityError
    assert by_name["layers.0.thickness"] is QuantityError
    assert by_name["layers.1.thickness"] is MissingError
    assert by_name["hand"] is UnknownNameError
    assert by_name["title"] is MissingError
    assert any("colour" in m.sentence() for m in mistakes)


@pytest.mark.parametrize(
    ("change", "error", "name"),
    [
        ({"last": "1/2 in"}, GeometryError, "last"),
        ({"part_length": "50 in"}, GeometryError, "last"),
        ({"layers": []}, MissingError, ""),
        ({"first": -1}, OutOfRangeError, "first"),
        ({"first": True}, QuantityError, "first"),
        ({"first": float("nan")}, QuantityError, "first"),
        ({"title": "a\nb"}, InputError, "title"),
        ({"title": "x" * 3000}, OutOfRangeError, "title"),
        ({"layers": "none"}, InputError, "layers"),
        ({"layers": [1, 2]}, InputError, ""),
        ({"exceptions": [{"hole": "7.5", "what": "left open"}]}, QuantityError, "exceptions.0.hole"),
        ({"exceptions": [{"hole": 7, "what": "other fastener"}]}, MissingError, ""),
        ({"rivet": "MS20470AD3-4"}, InputError, "rivet"),
        ({"rivet": "nail"}, InputError, "rivet"),
    ],
)
def test_bad_input_is_refused(change: dict[str, object], error: type[InputError], name: str) -> None:
    with pytest.raises(error) as refused:
        read(Seam, SEAM | change)
    if name:
        assert refused.value.name == name


def test_schema_names_every_field_and_says_what_is_needed() -> None:
    made = schema(Seam)
    assert set(made["properties"]) == {f.name for f in fields_of(Seam)}
    assert set(made["required"]) == {"title", "layers", "first", "last"}
    assert made["properties"]["layers"]["minItems"] == 2
    json.dumps(made)


def test_empty_rows_of_a_form_are_left_out() -> None:
    form = flat(SEAM) | {"exceptions.1.hole": "", "exceptions.1.what": "left open", "exceptions.1.reason": ""}
    assert len(form_to_raw(Seam, form)["exceptions"]) == 1


def test_a_bare_number_that_fits_in_millimetres_only_is_asked_about() -> None:
    layers = [{"part": "skin", "thickness": "1.2"}, {"part": "spar", "thickness": "9"}]
    with pytest.raises(OutOfRangeError, match="If it is in millimetres, write 1.2 mm") as refused:
        read(Seam, SEAM | {"layers": layers})
    for said in (refused.value.sentence(), *(other.sentence() for other in refused.value.others)):
        assert ("write 9 mm" in said) == ("Layers 2" in said)
    with pytest.raises(OutOfRangeError) as refused:
        read(Seam, SEAM | {"layers": [layers[0] | {"thickness": "900"}, *SEAM["layers"]]})
    assert "millimetres" not in refused.value.sentence()
