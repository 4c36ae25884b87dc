"""The Dunlin's pack, read as somebody reads it who knows nothing of the program."""

from __future__ import annotations

import re

import pypdfium2
import pytest

from closing_filled import put
from ribwright.services.closing import before_closing, spaces
from ribwright.services.evening import lot_of
from ribwright.services.evidence import write_pack
from ribwright.services.flap import AUTHORITY, BUILDER, CLOSER, LOOKED_IN, MENDED_LOT, SPACE, close_left_flap
from ribwright.services.lots import lots_in, trace_lot
from ribwright.services.month import month_view, tonight
from ribwright.services.portion import portion_view
from ribwright.services.project import create_project
from ribwright.services.record import check, work


@pytest.fixture(scope="module")
def read_pack(tmp_path_factory: pytest.TempPathFactory) -> tuple[str, dict[str, object]]:
    folder = tmp_path_factory.mktemp("flap")
    with create_project(folder / "p", name="Dunlin", actor=BUILDER, request_id="begin") as project:
        put(project, "DN-23", "DN-24")
        number = close_left_flap(project)
        entries = check(project).entries
        assert close_left_flap(project) == number
        facts = {
            "number": number, "again": check(project).entries - entries, "whole": check(project).ok, "lot": lot_of(project, "MS20426AD3-3"),
            "closed": {space.ref: closed for space, _, closed in spaces(project)}, "open": before_closing(project, CLOSER).open,
            "traced": trace_lot(project, lot_of(project, "MS20426AD3-3")), "mended": lots_in(project, ["DN-23-S15"]),
            "portion": portion_view(project), "month": month_view(project), "tonight": tonight(project), "riveted": work(project, CLOSER)[-1],
        }  # fmt: skip
        pack = write_pack(project, folder / "pack")
        document = pypdfium2.PdfDocument(pack.pdf)
        text = " ".join(" ".join(page.get_textpage().get_text_range().split()) for page in document)
        document.close()
    return text, facts


def test_a_stranger_finds_what_happened_to_the_left_flap(read_pack: tuple[str, dict[str, object]]) -> None:
    text, facts = read_pack
    start = text.index("Spaces closed, and who looked in before")
    for said in (
        SPACE, LOOKED_IN, "lamp and mirror", f"{facts['number']} on DN-23-S15", "the drill wandered", "oversize hole at hole 4",
        "one 1/8 in flush rivet set in hole 4", AUTHORITY, str(facts["lot"]), MENDED_LOT, "Major portion: the builder's tenths",
        "amateur fabrication", "The builder's share so far", "the hardware house",
    ):  # fmt: skip
        assert said in text[start:], said
    table = text[text.index("Departures from the drawings, and notices") :]
    assert re.match(r".{0,120}?\d{4}-\d\d-\d\d repair DN-23-S15", table), "each has its day"


def test_the_flap_was_closed_through_its_list_and_counts_once(
    read_pack: tuple[str, dict[str, object]],
) -> None:
    _, facts = read_pack
    assert facts["again"] == 0
    assert facts["whole"]
    assert facts["closed"][SPACE] is True  # type: ignore[index]
    assert facts["open"] == ()
    assert facts["riveted"]["done"] == "yes"  # type: ignore[index]


def test_lots_lead_both_ways(read_pack: tuple[str, dict[str, object]]) -> None:
    _, facts = read_pack
    (trace,) = facts["traced"]  # type: ignore[misc]
    assert "DN-23-S15" in {use.about for use, _ in trace.uses}
    assert all(use.known == "noted" for use, _ in trace.uses)
    held = {(one.item, one.lot) for one in facts["mended"]}  # type: ignore[attr-defined]
    assert {("MS20426AD3-3", facts["lot"]), ("MS20426AD4-3.5", MENDED_LOT)} <= held


def test_tenths_add_up_and_weak_claims_are_shown(read_pack: tuple[str, dict[str, object]]) -> None:
    text, facts = read_pack
    view = facts["portion"]
    total = view.total  # type: ignore[attr-defined]
    # by hand: A .2 + .3 + .5, B .3, C 1, D .8 + .7 + 1 + .2
    assert [one.points for one in total.columns] == ["1.0", "0.3", "1.0", "2.7"]
    assert total.share == pytest.approx(74.0)
    assert total.left_out == 1
    whole = next(line for line in view.lines if line.task.key == "AF06")  # type: ignore[attr-defined]
    assert whole.evidence.builder_photos == 1
    assert any("no photo" in " ".join(line.weak) for line in view.weak)  # type: ignore[attr-defined]
    assert "no photo" in text


def test_the_month_and_tonight_are_worked_out(read_pack: tuple[str, dict[str, object]]) -> None:
    _, facts = read_pack
    assert facts["month"].stages > 0  # type: ignore[attr-defined]
    assert any(pin.size == "3/32" and pin.owned == 188 for pin in facts["month"].pins)  # type: ignore[attr-defined]
    assert len(facts["tonight"][0].stages) > 1  # type: ignore[index]
