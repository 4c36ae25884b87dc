"""The books: counts, lots, what a finished stage takes, and that nothing is taken twice."""

from __future__ import annotations

from decimal import Decimal

from hypothesis import given, settings
from hypothesis import strategies as st

from ribwright.core.stores.books import Item, Move, holdings

BAG = Item(
    "MS20426AD3-3.5", "rivets", "hardware", "piece", Decimal(500), lot="L1", part_number="MS20426AD3-3.5"
)


def d(value: int) -> Decimal:
    return Decimal(value)


def test_a_count_is_the_truth_of_its_day_and_moves_follow() -> None:
    held = holdings(
        [BAG],
        [
            Move(2, BAG.ref, "fitted", d(52), about="S1"), Move(3, BAG.ref, "counted", d(400), d(380), d(420), day="2027-03-01"),
            Move(4, BAG.ref, "fitted", d(40), about="S2"), Move(5, BAG.ref, "discarded", d(10)), Move(6, BAG.ref, "received", d(100), lot="L2"),
        ],
    )[BAG.ref]  # fmt: skip
    assert (held.on_hand, held.low, held.high) == (450, 430, 470)
    assert (held.counted_on, held.since) == ("2027-03-01", 50)


def test_a_bag_noted_on_a_seam_is_taken_once_and_gives_the_lot() -> None:
    noted = Move(2, BAG.ref, "used", None, lot="L7", about="S1")
    held = holdings([BAG], [noted, Move(3, BAG.ref, "fitted", d(52), about="S1")])[BAG.ref]
    assert held.on_hand == 448
    assert [(use.about, use.lot, use.known) for use in held.uses] == [("S1", "L7", "noted")]
    assert held.unsaid == 0


def test_a_quantity_said_by_hand_stands_in_the_place_of_the_list() -> None:
    said = Move(2, BAG.ref, "used", d(55), lot="L1", about="S1")
    held = holdings([BAG], [said, Move(3, BAG.ref, "fitted", d(52), about="S1")])[BAG.ref]
    assert held.on_hand == 445
    assert len(held.uses) == 1


def test_one_lot_in_the_store_is_the_lot_and_two_are_not_guessed() -> None:
    first = Move(2, BAG.ref, "fitted", d(5), about="S1")
    second = Move(4, BAG.ref, "fitted", d(5), about="S2")
    held = holdings([BAG], [first, Move(3, BAG.ref, "received", d(100), lot="L2", about="C1"), second])[
        BAG.ref
    ]
    assert [(use.lot, use.known) for use in held.uses] == [
        ("L1", "the only lot in the store"),
        ("", "not noted"),
    ]
    assert {one.lot: one.came for one in held.lots} == {"L1": 500, "L2": 100}


def test_a_use_without_a_quantity_is_counted_as_unsaid() -> None:
    assert holdings([BAG], [Move(2, BAG.ref, "used", None, about="S1")])[BAG.ref].unsaid == 1


def test_names_are_compared_without_case_and_spaces() -> None:
    assert holdings([BAG], [Move(2, "ms20426ad3 -3.5", "discarded", d(1))])[BAG.ref].on_hand == 499


moves = st.lists(
    st.tuples(st.sampled_from(["counted", "received", "discarded", "fitted", "used"]), st.integers(0, 900), st.sampled_from(["", "L1", "L2"]), st.sampled_from(["S1", "S2", "S3"])),
    max_size=30,
)  # fmt: skip


@settings(max_examples=80, deadline=None)
@given(moves)
def test_the_band_holds_the_figure_and_lots_never_take_more_than_moves_say(
    rows: list[tuple[str, int, str, str]],
) -> None:
    made = [
        Move(n, BAG.ref, what, d(amount), lot=lot, about=about)
        for n, (what, amount, lot, about) in enumerate(rows, 2)
    ]
    held = holdings([BAG], made)[BAG.ref]
    assert held.low <= held.on_hand <= held.high
    out = sum(m.quantity or 0 for m in made if m.what in ("discarded", "fitted", "used"))
    assert sum(one.gone for one in held.lots) <= out
