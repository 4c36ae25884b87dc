"""The Dunlin is one aeroplane: what is joined meets, what is made fits its stock, what is used is listed."""

from __future__ import annotations

from collections import Counter, defaultdict

import numpy as np
import pytest

from ribwright.core.bench.closing import closing_list, closing_stage
from ribwright.core.bench.hole_table import hole_table, inside
from ribwright.core.bench.stages import Operation, Stage, working_order
from ribwright.core.bench.standing import Thing as Standing
from ribwright.core.fastening.rivets import read_part_number
from ribwright.core.fastening.spacing import row_positions_in, spaces_for
from ribwright.core.units import parse
from ribwright.dunlin import dunlin
from ribwright.dunlin.parts import EXTRUSIONS, SHEETS, extrusion_stock, sheet_stock
from ribwright.dunlin.stores import CUT_IN
from ribwright.dunlin.things import area_in2, points, size_of
from ribwright.errors import OutOfRangeError
from ribwright.services.calculations import run_calculation

THINGS = dunlin()
BY_REF = {thing.ref: thing for thing in THINGS}
PARTS = [thing for thing in THINGS if thing.noun == "part"]
OPERATIONS = [thing for thing in THINGS if thing.noun == "operation"]
ROWS = [one for one in OPERATIONS if one.data["calculation"] in ("seam", "pull-rivet-row", "wedge-row")]


def positions(one):
    """Holes along a row as its drawing data place them."""
    inputs = one.data["inputs"]
    first, last, pitch = (parse(inputs[key], "in", field=key).value for key in ("first", "last", "pitch"))
    return row_positions_in(first, last, spaces_for(first, last, pitch))


def test_its_size_is_that_of_a_whole_aeroplane():
    counts = Counter(thing.noun for thing in THINGS)
    assert counts["assembly"] == 14
    assert counts["order"] == 24
    assert 405 <= counts["part"] <= 435
    assert 620 <= counts["operation"] <= 660
    fasteners = sum(int(f["count"]) for one in OPERATIONS for f in one.data.get("fasteners", ()))
    assert 10_500 <= fasteners <= 12_000
    hours = sum(float(stage["hours"]) for one in OPERATIONS for stage in one.data["stages"])
    assert 1500 <= hours <= 3000


def test_each_reference_stands_once_and_parents_come_first():
    seen = set()
    for thing in THINGS:
        assert thing.ref not in seen
        assert not thing.parent or thing.parent in seen
        assert set(thing.made_from) <= seen
        seen.add(thing.ref)


def test_every_value_is_text():
    def leaves(value):
        if isinstance(value, dict):
            for one in value.values():
                yield from leaves(one)
        elif isinstance(value, list | tuple):
            for one in value:
                yield from leaves(one)
        else:
            yield value

    assert all(isinstance(leaf, str) for thing in THINGS for leaf in leaves(thing.data))


def test_every_hole_lies_in_every_part_that_it_joins():
    looked_at = 0
    for one in ROWS:
        assert {join["part"] for join in one.data["joins"]} == set(one.data["parts"])
        along = positions(one)
        size = (
            0.125
            if one.data.get("pull_type")
            else read_part_number(one.data["fasteners"][0]["part_number"]).diameter_in
        )
        for join in one.data["joins"]:
            part = BY_REF[join["part"]]
            assert join["axes"] == part.data["axes"], (one.ref, part.ref)
            within, distance = inside(part.data["outline"], hole_table(join, along))
            assert within.all(), (one.ref, one.title, part.ref)
            assert distance.min() >= 1.5 * size, (one.ref, one.title, part.title, distance.min())
            looked_at += len(along)
    assert looked_at > 15_000
    for one in OPERATIONS:  # bolts: their places are given hole by hole
        if one not in ROWS and "joins" in one.data:
            for join in one.data["joins"]:
                within, _ = inside(BY_REF[join["part"]].data["outline"], np.array(points(join["row"])))
                assert within.all(), one.ref


def test_no_two_holes_of_a_part_run_into_each_other():
    holes = defaultdict(list)
    for one in ROWS:
        along = positions(one)
        for join in one.data["joins"]:
            holes[join["part"]].append((one.ref, hole_table(join, along)))
    for part, rows in holes.items():
        everything = np.concatenate([row for _, row in rows])
        owner = np.repeat(np.arange(len(rows)), [len(row) for _, row in rows])
        apart = np.hypot(*(everything[:, None, :] - everything[None, :, :]).transpose(2, 0, 1))
        np.fill_diagonal(apart, np.inf)
        a, b = np.unravel_index(int(np.argmin(apart)), apart.shape)
        assert apart.min() >= 0.25, (part, rows[owner[a]][0], rows[owner[b]][0], apart.min())


def test_every_part_fits_a_sheet_or_an_extrusion_in_stores_or_is_ordered():
    sheets = {sheet_stock(*key): size for key, size in SHEETS.items()}
    bars = {extrusion_stock(name): (row[2], row[3]) for name, row in EXTRUSIONS.items()}
    for part in PARTS:
        made = part.data["made"]
        if made == "bought":
            assert BY_REF[part.data["order"]].noun == "order"
            continue
        width, length = size_of(points(part.data["outline"]))
        stock = BY_REF[part.data["stock"]]
        assert stock.noun == "stock"
        assert float(stock.data["thickness"]) == float(part.data["thickness"])
        assert stock.data["material"] == part.data["material"]
        sheet = sheets[stock.ref] if made == "sheet" else bars[stock.ref]
        if made == "extrusion":  # it may lie askew in the part's axes: its own width and length count
            corners = np.array(points(part.data["outline"]))
            length = float(np.hypot(*(np.roll(corners, -1, axis=0) - corners).T).max())
            width = area_in2(points(part.data["outline"])) / length
        assert width <= sheet[0] + 1e-9, (part.title, width, sheet)
        assert length <= sheet[1] + 1e-9, (part.title, length, sheet)
        assert int(stock.data["on_hand"]) >= int(stock.data["needed"]) >= 1


def test_the_sheets_counted_in_stores_are_enough_area():
    used = defaultdict(float)
    for part in PARTS:
        if part.data["made"] == "sheet":
            a, b = (float(one) for one in part.data["blank"])
            used[part.data["stock"]] += a * b
    for key, size in SHEETS.items():
        ref = sheet_stock(*key)
        if ref in used:
            assert used[ref] <= int(BY_REF[ref].data["needed"]) * (size[0] + CUT_IN) * (size[1] + CUT_IN)


def test_every_fastener_is_in_the_hardware_list_once():
    used = Counter()
    for one in OPERATIONS:
        numbers = [f["part_number"] for f in one.data.get("fasteners", ())]
        assert len(numbers) == len(set(numbers)), one.ref
        used.update({f["part_number"]: int(f["count"]) for f in one.data.get("fasteners", ())})
    listed = [thing for thing in THINGS if thing.noun == "stock" and thing.data["kind"] == "hardware"]
    assert Counter(thing.data["part_number"] for thing in listed) == Counter(dict.fromkeys(used, 1))
    for thing in listed:
        assert int(thing.data["needed"]) == used[thing.ref]
        assert int(thing.data["on_hand"]) >= used[thing.ref]


def test_a_row_has_as_many_fasteners_as_holes_less_those_left_open():
    for one in ROWS:
        inputs = one.data["inputs"]
        left = [e for e in inputs.get("exceptions", ()) if e["what"] == "left open"]
        count = sum(int(f["count"]) for f in one.data["fasteners"])
        assert count == len(positions(one)) - len(left), one.ref


def test_weights_add_to_the_empty_weight_and_balance():
    weight = sum(float(part.data["weight_lb"]) for part in PARTS)
    assert weight == pytest.approx(float(BY_REF["DN"].data["empty_weight_lb"]), rel=0.02)
    assert all(float(part.data["weight_lb"]) > 0 for part in PARTS)
    arm = sum(float(part.data["weight_lb"]) * float(part.data["arm_in"]) for part in PARTS) / weight
    # a tailwheel aeroplane stands on its wheels: empty, its weight lies behind the main wheels and ahead of the aft limit
    assert 61.5 < arm < float(BY_REF["DN"].data["cg_aft_in"])


def test_each_closing_operation_has_a_list():
    closing = [one for one in OPERATIONS if one.data.get("closes")]
    spaces = {thing.ref for thing in THINGS if thing.noun == "space"}
    assert Counter(one.data["closes"] for one in closing) == Counter(dict.fromkeys(spaces, 1))
    standing = [
        Standing(t.ref, t.noun, t.title, t.hand, t.parent, t.data)
        for t in THINGS
        if t.noun not in ("stock", "tool", "order")
    ]
    for one in closing:
        family = [s for s in standing if s.parent == one.parent or s.ref == one.parent]
        me = next(s for s in family if s.ref == one.ref)
        lines = closing_list(me, family, ())
        assert closing_stage(me) in ("rivet", "close")
        assert {"work", "film", "hardware", "photo", "second"} <= {
            line.key for line in lines if not line.done
        }, one.ref


def test_every_calculation_runs_and_agrees_with_the_hardware_list():
    """The right hand has the left's numbers; a rolled nose takes seconds, so that one of each surface is worked here."""
    worked = Counter()
    for one in OPERATIONS:
        name = one.data["calculation"]
        if not name or one.hand == "right" or (name == "nose-roll" and one.ref != "DN-21-R01"):
            continue
        done = run_calculation(name, one.data["inputs"])
        worked[name] += 1
        assert all(f.verdict.value == "within limits" for f in done.outcome.findings), one.ref
        results = done.outcome.results
        if name == "seam":
            assert results["rivet"].value == one.data["fasteners"][0]["part_number"], one.ref
            assert int(results["rivets"].value) == int(one.data["fasteners"][0]["count"]), one.ref
        if name == "wedge-row":
            assert one.data["fasteners"][0]["part_number"] in str(results["lengths"].value)
    assert worked["seam"] > 250
    assert worked["bend-flat"] > 30
    assert worked["wedge-row"] == 4
    assert worked["pull-rivet-row"] > 15


def test_the_work_has_an_order_without_a_circle():
    planned = [
        Operation(
            one.ref, one.title,
            tuple(Stage(s["name"], float(s["hours"]), s["helper"] == "yes", tuple(s.get("after", ()))) for s in one.data["stages"]),
            tuple(one.data["after"]), one.parent,
        )
        for one in OPERATIONS
    ]  # fmt: skip
    stages = {f"{op.ref}/{s.name}" for op in planned for s in op.stages}
    needed = {need for op in planned for need in (*op.after, *(n for s in op.stages for n in s.after))}
    assert needed <= stages | {op.ref for op in planned}
    order = [f"{ref}/{stage}" for ref, stage in working_order(planned)]
    assert len(order) == len(set(order)) == len(stages)
    place = {name: at for at, name in enumerate(order)}
    for op in planned:
        for need in op.after:
            assert place[need] < place[f"{op.ref}/{op.stages[0].name}"]
        for stage in op.stages:
            for need in stage.after:
                assert place[need] < place[f"{op.ref}/{stage.name}"], (op.ref, stage.name, need)


def test_the_left_aileron_is_as_it_is_drawn():
    skin, spar, rib = BY_REF["DN-2101"], BY_REF["DN-2103"], BY_REF["DN-2105"]
    assert (skin.data["thickness"], spar.data["thickness"], rib.data["thickness"]) == (".020", ".040", ".025")
    outline = np.array(points(skin.data["outline"]))
    assert np.ptp(outline[:, 0]) == pytest.approx(58.0)
    rolls = [one for one in OPERATIONS if one.parent == "DN-21" and one.data["calculation"] == "nose-roll"]
    assert len(rolls) == 4
    radii = [float(s["radius"].removesuffix(" in")) for one in rolls for s in one.data["inputs"]["stations"]]
    assert max(radii) == pytest.approx(1.12)
    assert min(radii) == pytest.approx(0.78)
    laps = [
        one for one in OPERATIONS if one.parent == "DN-21" and one.data["calculation"] == "pull-rivet-row"
    ]
    assert [one.data["closes"] for one in laps] == ["DN-21-N1", "DN-21-N2", "DN-21-N3", "DN-21-N4"]


def test_the_seed_moves_hours_and_stock_but_not_the_aeroplane():
    again, other = dunlin(), dunlin(seed=7)
    assert again == THINGS
    assert other != THINGS
    for a, b in zip(THINGS, other, strict=True):
        if a.noun == "part":
            assert a == b
        if a.noun == "operation":
            assert a.data["inputs"] == b.data["inputs"]


def test_ten_aeroplanes_are_ten_aeroplanes():
    ten = dunlin(scale=10)
    refs = [thing.ref for thing in ten]
    assert len(refs) == len(set(refs))
    assert sum(thing.noun == "part" for thing in ten) == 10 * len(PARTS)
    third = {thing.ref: thing for thing in ten if thing.ref.startswith("DN3")}
    known = set(refs)
    for thing in third.values():
        assert set(thing.made_from) <= known
        for ref in thing.data.get("parts", ()):
            assert ref in third
        assert "DN-" not in str(thing.data), thing.ref
    stock = {thing.ref: thing for thing in ten if thing.noun == "stock"}
    rivets = "MS20426AD3-3.5"
    assert int(stock[rivets].data["needed"]) == 10 * int(BY_REF[rivets].data["needed"])


@pytest.mark.parametrize("bad", [{"scale": 0}, {"scale": 1001}, {"seed": -1}])
def test_a_size_that_cant_be_is_refused(bad):
    with pytest.raises(OutOfRangeError):
        dunlin(**bad)
