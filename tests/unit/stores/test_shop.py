"""Crates, CSV, set-ups, the next weeks, samples and batches."""

from __future__ import annotations

import csv
import io
import itertools
from decimal import Decimal

import pytest

from ribwright import __version__
from ribwright.core.audit import read
from ribwright.core.audit.calculation import CALCULATIONS
from ribwright.core.bench.stages import Operation, Stage
from ribwright.core.stores import mix, sample
from ribwright.core.stores.books import Item, holdings
from ribwright.core.stores.count import WeighedBag, counted
from ribwright.core.stores.crates import CrateEntry, read_packing_list, shortages
from ribwright.core.stores.csv_text import from_csv, text_of_file, to_csv
from ribwright.core.stores.month import needed, pins, within_reach
from ribwright.core.stores.setups import StageToDo, pinned, same_set_up, set_up_for
from ribwright.errors import InputError

SEAM = {
    "calculation": "seam",
    "inputs": {"size": "3/32", "head": "flush 100°"},
    "fasteners": [{"part_number": "MS20426AD3-3.5", "count": "52"}],
}


def test_a_packing_list_as_suppliers_write_it() -> None:
    text = "Part Number;Qty;Received;Batch\r\nMS20426AD3-3.5;1000;950;B12\r\nAN3-4A;10;;\r\n"
    first, second = read_packing_list(text)
    assert (first.listed, first.got, first.lot) == (1000, 950, "B12")
    assert second.got is None


@pytest.mark.parametrize(
    "text",
    [
        "", "item\nx\n", "item,listed\n", "item,listed\n,5\n", "item,listed\nx,nan\n", "item,listed\nx,-1\n", "item,listed\nx,1e9\n",
        "item,listed\nx,5,6\n", "item,listed,colour\nx,5,red\n", 'item,listed\n"x,5\n', "item,listed,expires\nx,5,31.3.2027\n",
        "item,listed,listed\nx,1,2\n", "item,listed\nx,99999999999\n", "item,listed\nx\x00y,1\n", "item,listed\n" + "x" * 3000 + ",1\n",
    ],
)  # fmt: skip
def test_a_bad_packing_list_is_refused(text: str) -> None:
    with pytest.raises(InputError):
        read_packing_list(text)


def test_too_large_files_and_bytes_that_are_no_text_are_refused() -> None:
    for content in (b"a" * 2_000_001, b"\x00\x01\x02", b"\xff\xfe\x00"):
        with pytest.raises(InputError):
            text_of_file(content, field="file")
    assert text_of_file("é,1".encode("cp1252"), field="file") == "é,1"
    assert text_of_file("é,1".encode("utf-16"), field="file") == "é,1"
    with pytest.raises(InputError):
        from_csv("item,listed\n" + "x,1\n" * 20_001, columns={"item": True, "listed": True}, field="file")


def test_no_cell_of_an_export_is_run_by_a_spreadsheet() -> None:
    nasty = [
        "=1+1",
        "+cmd|' /C calc'!A0",
        "-2+3",
        "@SUM(A1)",
        "\t=1",
        "\r=1",
        "-5",
        "+.5",
        "plain",
        '"quoted"',
        "a\nb",
    ]
    text = to_csv(["what"], [[cell] for cell in nasty])
    cells = [row[0] for row in csv.reader(io.StringIO(text, newline=""))][1:]
    assert len(cells) == len(nasty)
    for before, after in zip(nasty, cells, strict=True):
        assert after in (before, "'" + before)
        assert not after.startswith(("=", "@", "\t", "\r"))
    assert cells[6] == "-5", "a plain number stays a number"
    assert cells[1].startswith("'")
    back = from_csv(to_csv(["item"], [["=x"]]), columns={"item": True}, field="f")
    assert back == [{"item": "=x"}], "and what went out comes in as it was"
    head, *lines = csv.reader(io.StringIO(text, newline=""))
    assert head[-1] == "made by"
    assert {line[-1] for line in lines} == {f"ribwright {__version__}"}, "each line says who wrote it"


def test_a_shortage_lasts_until_it_came_or_was_credited() -> None:
    first = CrateEntry(1, "C1", "X", "received", Decimal(100), Decimal(90), "2027-04-01", "the works")
    assert [one.short for one in shortages([first])] == [10]
    rest = CrateEntry(2, "C1", "X", "received", Decimal(0), Decimal(6), "", "")
    credit = CrateEntry(3, "C1", "X", "credited", Decimal(0), Decimal(4), "", "")
    (still,) = shortages([first, rest])
    assert (still.short, still.claim_by, still.supplier) == (4, "2027-04-01", "the works")
    assert shortages([first, rest, credit]) == ()


def test_stages_of_one_set_up_come_together_with_their_tray() -> None:
    todo = [
        StageToDo(f"S{n}", stage, "", 1.0, stage == "rivet", SEAM)
        for n in (1, 2)
        for stage in ("drill", "dimple and countersink", "rivet")
    ]
    made = {one.name: one for one in same_set_up(todo)}
    assert set(made) == {
        "drill #40, pilot #42",
        "dimple dies or countersink 3/32, 100°",
        "set for 3/32, flush",
    }
    assert ("MS20426AD3-3.5", "104") in made["set for 3/32, flush"].tray
    assert made["set for 3/32, flush"].helper
    assert all(len(one.stages) == 2 for one in made.values())
    assert set_up_for("finish", SEAM) == "primer batch"
    assert pinned(52) == (13, 26)
    assert pinned(52, curved=True) == (52, 52)


def test_the_next_hours_follow_the_order_of_work_and_say_what_is_short() -> None:
    listed = [
        Operation("S1", "", (Stage("drill", 1.0), Stage("rivet", 2.0)), parent="A"),
        Operation(
            "S2", "", (Stage("drill", 1.0), Stage("rivet", 2.0, after=("S1/rivet",))), ("S1",), parent="A"
        ),
    ]
    ops = {one.ref: one for one in listed}
    reach = within_reach(ops, (), 4.0)
    assert reach == (("S1", "drill"), ("S1", "rivet"), ("S2", "drill"))
    assert within_reach(ops, {"S1/drill", "S1/rivet"}, 100) == (("S2", "drill"), ("S2", "rivet"))
    books = holdings(
        [
            Item("MS20426AD3-3.5", "rivets", "hardware", "piece", Decimal(40), order="P1"),
            Item("PIN-3", "pins", "temporary fastener", "piece", Decimal(10), size="3/32"),
        ],
        [],
    )
    (row,) = needed(reach, {"S1": SEAM, "S2": SEAM}, books)
    assert (row.fits, row.short, row.order, row.operations) == (52, 12, "P1", ("S1",))
    (pin,) = pins(reach, {"S1": SEAM, "S2": SEAM}, {"S1": "A", "S2": "A"}, books)
    assert (pin.least, pin.most, pin.owned, pin.short) == (26, 52, 10, 16)


def test_counting_by_weight_holds_the_true_number_for_every_error_inside_its_band() -> None:
    for n, scale_error, weight_error in itertools.product((100, 2000), (-1, 1), (-0.045, 0.0, 0.045)):
        one = 1 / 5547.6 * (1 + weight_error)
        shown = n * one + scale_error * 0.0009
        made = counted(
            read(
                WeighedBag, {"part_number": "MS20426AD3-3.5", "gross": f"{shown:.6f} lb", "scale": ".001 lb"}
            )
        )
        assert made.low <= n <= made.high
    wide = counted(read(WeighedBag, {"part_number": "MS20426AD3-3.5", "gross": "1 lb", "scale": "1 g"}))
    sharp = counted(
        read(WeighedBag, {"gross": "1 lb", "scale": "1 g", "sample_count": "500", "sample_weight": "41 g"})
    )
    assert sharp.high - sharp.low < wide.high - wide.low


@pytest.mark.parametrize(
    "raw",
    [
        {"gross": "1 lb"}, {"gross": "1 lb", "tare": "2 lb", "part_number": "MS20426AD3-3.5"}, {"gross": "1 lb", "sample_count": "5"},
        {"gross": "nan", "part_number": "MS20426AD3-3.5"}, {"gross": "1 lb", "part_number": "bag of rivets"},
        {"gross": "1 lb", "sample_count": "5", "sample_weight": "0 lb"},
    ],
)  # fmt: skip
def test_a_bag_that_can_not_be_counted_is_refused(raw: dict[str, str]) -> None:
    with pytest.raises(InputError):
        counted(read(WeighedBag, raw))


def test_the_sample_overlooks_bad_heads_as_seldom_as_it_says_by_counting_all_samples() -> None:
    pieces, bad = 12, 3
    for size in range(13):
        none = sum(
            1 for chosen in itertools.combinations(range(pieces), size) if not set(chosen) & set(range(bad))
        )
        every = sum(1 for _ in itertools.combinations(range(pieces), size))
        assert sample.chance_of_none(pieces=pieces, bad=bad, sample=size) == pytest.approx(none / every)
    least = sample.sample_size(pieces=pieces, bad=bad, miss_share=0.05)
    assert sample.chance_of_none(pieces=pieces, bad=bad, sample=least) <= 0.05
    assert sample.chance_of_none(pieces=pieces, bad=bad, sample=least - 1) > 0.05


def test_every_row_of_a_foreign_unit_is_looked_at() -> None:
    made = CALCULATIONS["incoming-inspection"]
    spec = read(
        made.spec,
        {"title": "centre section", "rows": [{"row": "a", "count": "84"}, {"row": "b", "count": "2"}]},
    )
    outcome = made.outcome(spec)
    (sheet,) = outcome.sheets
    assert any(step.startswith("b: ") for step in sheet.steps)
    assert {r.name for r in sheet.requirements} == {"formed head diameter", "formed head height"}


BATCH = {
    "product": "primer", "parts_base": "3", "parts_hardener": "1", "area": "10 ft2", "coverage": "1 oz", "coats": "2", "loss": "20 %", "pot_life": "4 h", "temperature": "95",
    "humidity": "45 %",
}  # fmt: skip


def test_a_batch_is_shared_by_weight_and_warm_shops_shorten_it() -> None:
    made = CALCULATIONS["mix-batch"]
    results = made.outcome(read(mix.Batch, {**BATCH, "mixed_at": "2027-03-04 19:30"})).results
    assert results["total"].value == pytest.approx(24.0)
    assert (results["base"].value, results["hardener"].value) == (pytest.approx(18.0), pytest.approx(6.0))
    assert results["pot_life"].value == pytest.approx(2.0), "18 °F warmer: half"
    assert results["use_by"].value == "2027-03-04 21:30"
    cold = made.outcome(read(mix.Batch, {**BATCH, "temperature": "50"})).results
    assert cold["pot_life"].value == pytest.approx(4.0), "never longer than the data sheet says"


def test_a_seam_takes_its_bead_and_old_tins_and_wet_days_are_found() -> None:
    made = CALCULATIONS["mix-batch"]
    raw = {
        "product": "sealant", "parts_base": "10", "parts_hardener": "1", "seam_length": "100 in", "bead_width": ".5 in", "bead_thickness": ".1 in", "density": ".05 lb/in3", "loss": "0 %",
        "pot_life": "2 h", "temperature": "70", "humidity": "90 %", "dampest": "80 %", "mixed_at": "2027-10-01 10:00", "expires": "2027-09-30",
    }  # fmt: skip
    outcome = made.outcome(read(mix.Batch, raw))
    assert outcome.results["total"].value == pytest.approx(100 * 0.5 * 0.1 * 0.05 * 16)
    assert {f.requirement: f.verdict.value == "within limits" for f in outcome.findings} == {
        "relative humidity": False, "days left before the tin expires": False,
    }  # fmt: skip


@pytest.mark.parametrize(
    "change", [{"area": ""}, {"mixed_at": "tonight"}, {"expires": "2027-02-30"}, {"coldest": "80", "warmest": "60"}, {"parts_base": "0"}, {"humidity": "120 %"}]
)  # fmt: skip
def test_a_batch_that_can_not_be_is_refused(change: dict[str, str]) -> None:
    with pytest.raises(InputError):
        CALCULATIONS["mix-batch"].outcome(read(mix.Batch, {**BATCH, **change}))


def test_far_more_operations_than_are_within_reach_change_nothing_of_the_order() -> None:
    """Those far down the list are looked at only when nothing before them can be done."""
    near = {f"A{n:04d}": Operation(f"A{n:04d}", "", (Stage("do", 1.0),), parent="A") for n in range(2000)}
    wanted = tuple((ref, "do") for ref in list(near)[:5])
    assert within_reach(near, (), 5.0) == wanted
    # the first waits for the last, which then is all that can be done; begun assemblies come first
    held = {ref: Operation(ref, "", one.stages, () if ref == "A1999" else ("A1999",), "A") for ref, one in near.items()}  # fmt: skip
    assert within_reach(held, (), 3.0) == (("A1999", "do"), ("A0000", "do"), ("A0001", "do"))
    begun = near | {"Z1": Operation("Z1", "", (Stage("fit"), Stage("do")), parent="Z")}
    assert within_reach(begun, {"Z1/fit"}, 2.0) == (("Z1", "do"), ("A0000", "do"))
    assert within_reach(near, (), 1.0, held={"A0000"}) == (("A0001", "do"),)
    assert len(within_reach(near, (), 1e9)) == 2000
