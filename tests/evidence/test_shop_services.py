"""Stores against the plan: orders that arrive, hours of the settings, what to order and when; questions to a supplier."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

from closing_filled import put
from filled import ANN, filled
from ribwright.core.planning.tasks import Week
from ribwright.core.stores.crates import PackingLine
from ribwright.dunlin.inputs import TOOLS
from ribwright.dunlin.stores import round_tools
from ribwright.errors import ConflictError, MissingError, UnknownNameError
from ribwright.services.batches import mix_and_book
from ribwright.services.crates import receive_crate, settle_shortage
from ribwright.services.discrepancies import open_discrepancy, question_document
from ribwright.services.incoming import rows_by_size, unit_that_came
from ribwright.services.lots import trace_lot
from ribwright.services.month import hours_between, month_view, to_order
from ribwright.services.operations import enter_operation
from ribwright.services.plan_settings import save_settings, settings
from ribwright.services.portion import portion_view
from ribwright.services.project import Project, open_project
from ribwright.services.record import check, discrepancies, get_object, recent, set_object
from ribwright.services.stage_readings import enter_readings
from ribwright.services.stores import count_item, enter_item, item_view, take_item
from ribwright.services.stores_list import enter_csv
from seams import REF


@pytest.fixture(scope="module")
def project(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Project]:
    with filled(tmp_path_factory.mktemp("shop") / "p") as made:
        put(made, "DN-24")
        yield made


def test_days_off_and_blocked_stretches_give_no_hours() -> None:
    # 2026-11-02 is a Monday: two weeks of 3 h a day but Sunday
    week = Week(hours=(3.0,) * 6 + (0.0,))
    assert hours_between(week, date(2026, 11, 2), 14) == pytest.approx(36.0)
    less = Week(
        hours=(3.0,) * 6 + (0.0,),
        off=(date(2026, 11, 3),),
        blocked=((date(2026, 11, 9), date(2026, 11, 12)),),
    )
    assert hours_between(less, date(2026, 11, 2), 14) == pytest.approx(36.0 - 3.0 - 12.0)


def test_the_month_takes_the_hours_of_the_settings(project: Project) -> None:
    before = month_view(project)
    save_settings(
        project,
        actor=ANN,
        request_id="hours",
        raw={"hours": "Mon 0.5", "helper": "none", "daylight": "none"},
        seen_revision=settings(project).revision,
    )
    after = month_view(project)
    assert 2.0 <= after.hours <= 2.5, "four or five Mondays"
    assert after.stages < before.stages


def test_what_is_short_is_ordered_and_its_order_arrives_with_the_crate(project: Project) -> None:
    save_settings(
        project, actor=ANN, request_id="long", raw={"hours": "Mon 8, Tue 8, Wed 8, Thu 8, Fri 8"}, seen_revision=settings(project).revision
    )  # fmt: skip
    first, second, *_ = month_view(project, 3650).needed
    assert not first.short
    for request, one in (("n1", first), ("n2", second)):
        count_item(project, actor=ANN, request_id=request, ref=one.item, quantity="1")
    short = {one.item: one.short for one in month_view(project, 3650).short}
    number = first.item
    assert short == {number: first.fits - 1, second.item: second.fits - 1}
    set_object(
        project, actor=ANN, request_id="o1", noun="order", ref="O-1", title="solid rivets",
        data={"lead_weeks_likely": "2", "lead_weeks_late": "4", "price_usd": "90", "state": "to order", "needed_for": ["DN-24"]},
    )  # fmt: skip
    enter_item(
        project, actor=ANN, request_id="o2", ref=number, values={"title": "solid rivet", "order": "O-1"}
    )
    rows = {row.item: row for row in to_order(project, 3650)}
    assert rows[number].order == "O-1"
    assert Decimal(rows[number].short) == short[number]
    assert rows[number].now or rows[number].by >= project.now()[:10]
    assert rows[second.item].now, "the plan has no order that brings it, and work within reach waits for it"
    lines = (PackingLine(number, short[number], short[number], lot="L9"),)
    receive_crate(project, actor=ANN, request_id="o3", crate="O-1", lines=lines)
    assert get_object(project, "O-1").data["state"] == "received"
    assert get_object(project, "O-1").data["price_usd"] == "90", "nothing else of the order changes"
    assert number not in {row.item for row in to_order(project, 3650)}


BATCH = {
    "product": "primer", "parts_base": "100", "parts_hardener": "12", "area": "24 ft2", "coverage": "0.35 oz", "pot_life": "4 h", "temperature": "57",
    "humidity": "45 %", "coldest": "60", "mixed_at": "2026-11-20 19:30", "expires": "2027-09-30", "recoat_from": "1 h", "recoat_until": "24 h",
}  # fmt: skip


def test_a_mixed_batch_is_an_item_that_a_seam_can_name(project: Project) -> None:
    made = mix_and_book(project, actor=ANN, request_id="mix", raw=BATCH, base_lot="P-77", hardener_lot="H-3")
    again = mix_and_book(project, actor=ANN, request_id="mix", raw=BATCH, base_lot="P-77", hardener_lot="H-3")
    ref = made.object.ref
    assert again.object.ref == ref == "MIX-2026-11-20-1"
    facts = dict(made.facts)
    # a cold evening never makes the stated four hours longer
    assert facts["use it up by"] == "2026-11-20 23:30"
    assert facts["temperature"] == "57 °F"
    assert facts["humidity"] == "45 %"
    assert facts["recoat"].startswith("from 2026-11-20 20:30 to 2026-11-21 19:30")
    assert facts["outside the data sheet"].startswith("temperature")
    held = item_view(project, ref).held
    # 24 ft² of .35 oz and a quarter left in the cup
    assert held.on_hand == Decimal("10.50")
    take_item(project, actor=ANN, request_id="brush", ref=ref, quantity="4", about=REF, lot=ref)
    assert item_view(project, ref).held.on_hand == Decimal("6.50")
    (trace,) = trace_lot(project, ref)
    assert [use.about for use, _ in trace.uses] == [REF]
    assert "base lot P-77" in " ".join(trace.came_from)
    assert ref not in {row[0] for row in month_view(project).used_up}
    assert mix_and_book(project, actor=ANN, request_id="mix2", raw=BATCH).object.ref == "MIX-2026-11-20-2"
    with pytest.raises(MissingError):
        mix_and_book(project, actor=ANN, request_id="mix3", raw=BATCH | {"mixed_at": ""})


def test_a_question_goes_to_the_designer_or_to_the_supplier(project: Project) -> None:
    ref = discrepancies(project)[0]["ref"]
    assert question_document(project, ref).title == f"Question to the designer: {ref}"
    assert question_document(project, ref, to="supplier").title == f"Question to the supplier: {ref}"
    with pytest.raises(UnknownNameError):
        question_document(project, ref, to="anybody")


def test_round_tools_carry_their_measured_diameter() -> None:
    tools = round_tools()
    assert [tool.data["measured"] for tool in tools] == [f"{row[1]} in" for row in TOOLS]
    assert {tool.noun for tool in tools} == {"tool"}


def test_a_project_of_an_older_version_takes_stores_and_batches(tmp_path: Path) -> None:
    folder = tmp_path / "old"
    shutil.copytree(Path(__file__).parents[1] / "data" / "record" / "version-0.1.0", folder)
    with open_project(folder) as old:
        enter_item(old, actor=ANN, request_id="i", ref="X1", values={"quantity": "4"})
        assert item_view(old, "X1").held.on_hand == 4
        assert mix_and_book(old, actor=ANN, request_id="m", raw=BATCH).object.ref == "MIX-2026-11-20-1"
        assert portion_view(old).total.share is None
        assert check(old).ok


def test_the_same_form_counts_once_and_with_other_values_is_refused_aloud(project: Project) -> None:
    """What a second form under the first one's number says must not be lost in silence."""
    values = {"title": "sealant", "kind": "consumable", "quantity": "6", "place": "shelf 2"}
    lines = [PackingLine("ZQ3-4A", Decimal(10), Decimal(8)), PackingLine("X9", Decimal(2), Decimal(2))]
    owed_ = {"crate": "C7", "item": "ZQ3-4A", "came": True}
    for _ in range(2):
        enter_item(project, actor=ANN, request_id="i1", ref="SEAL", values=values)
        receive_crate(project, actor=ANN, request_id="c1", crate="C7", lines=lines, claim_by="2099-01-01")
        settle_shortage(project, actor=ANN, request_id="s1", quantity="1", **owed_)  # type: ignore[arg-type]
        assert enter_csv(project, actor=ANN, request_id="l1", content=b"item,quantity\nY1,3\nY2,4\n") in (
            0,
            2,
        )
        mix_and_book(project, actor=ANN, request_id="m1", raw=BATCH, base_lot="P-1")
    assert item_view(project, "ZQ3-4A").held.on_hand == 9
    before = len(recent(project, limit=1000))
    again: list[Callable[[], object]] = [
        lambda: enter_item(project, actor=ANN, request_id="i1", ref="SEAL", values=values | {"quantity": "7"}),
        lambda: enter_item(project, actor=ANN, request_id="i1", ref="SEAL", values=values | {"place": "bin 1"}),
        lambda: enter_item(project, actor=ANN, request_id="i1", ref="SEAL-2", values=values),
        lambda: receive_crate(project, actor=ANN, request_id="c1", crate="C7", lines=lines[:1], claim_by="2099-01-01"),
        lambda: receive_crate(project, actor=ANN, request_id="c1", crate="C8", lines=lines, claim_by="2099-01-01"),
        lambda: settle_shortage(project, actor=ANN, request_id="s1", quantity="2", **owed_),  # type: ignore[arg-type]
        lambda: enter_csv(project, actor=ANN, request_id="l1", content=b"item,quantity\nY1,3\nY2,5\n"),
        lambda: mix_and_book(project, actor=ANN, request_id="m1", raw=BATCH, base_lot="P-2"),
    ]  # fmt: skip
    for call in again:
        with pytest.raises(ConflictError, match="sent before with other values"):
            call()
    assert len(recent(project, limit=1000)) == before


def test_a_unit_that_came_part_built_is_inspected_by_its_own_rows(project: Project) -> None:
    sizes = rows_by_size(project, "DN-24")
    raw = unit_that_came(project, "DN-24", supplier="the works")
    assert raw["size"] == next(iter(sizes))
    assert [int(row["count"]) for row in raw["rows"]] == [count for _, count in sizes[raw["size"]]]
    one = enter_operation(
        project, actor=ANN, request_id="inspect", ref="DN-24-I01", calculation="incoming-inspection", raw=raw, parent="DN-24"
    )  # fmt: skip
    made, _ = enter_readings(
        project, actor=ANN, request_id="inspect-1", ref=one.ref, stage="incoming inspection",
        values=[{"where": f"{sizes[raw['size']][0][0].ref}, head 3", "requirement": "formed head diameter", "value": ".08 in"}],
    )  # fmt: skip
    assert made[0].verdict.value != "within limits"
    assert "ask the supplier" in made[0].next
    refused = open_discrepancy(
        project,
        actor=ANN,
        request_id="inspect-2",
        about=one.ref,
        kind="bad batch",
        where="head 3",
        words="formed head too small",
    )
    ref = next(row["ref"] for row in discrepancies(project) if row["about"] == one.ref)
    assert refused.about == one.ref
    assert question_document(project, ref, to="supplier").title.startswith("Question to the supplier")
    with pytest.raises(UnknownNameError) as wrong:
        unit_that_came(project, "DN-24", size="1/2")
    assert "3/32" in wrong.value.sentence()
