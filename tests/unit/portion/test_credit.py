"""Credit in tenths: what is refused, what is left out, what the total can still become."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ribwright.core.portion import (
    Claim,
    Evidence,
    credit,
    list_from_toml,
    list_to_toml,
    starting_list,
    tenths,
    weak_points,
)
from ribwright.core.portion.credit import check_claim
from ribwright.core.portion.lists import BLANK
from ribwright.errors import InputError

US = starting_list()
KEYS = [task.key for task in US.tasks]


@pytest.mark.parametrize(
    ("text", "value"), [("", 0), (".3", 3), ("0.3", 3), ("3/10", 3), ("1", 10), ("1.0", 10), ("0,5", 5)]
)
def test_tenths_as_typed(text: str, value: int) -> None:
    assert tenths(text, field="A") == value


@pytest.mark.parametrize("text", [".35", "1.1", "11/10", "-.1", "half", "nan", "１", "0.3.1", "2", "."])
def test_no_tenths(text: str) -> None:
    with pytest.raises(InputError):
        tenths(text, field="A")


def test_a_claim_adds_up_to_one_point_or_is_left_out() -> None:
    with pytest.raises(InputError, match=r"0\.9 in all"):
        check_claim(Claim(KEYS[0], {"A": 5, "D": 4}), US)
    with pytest.raises(InputError, match="left out"):
        check_claim(Claim(KEYS[0], {"D": 1}, applies=False), US)
    with pytest.raises(InputError):
        check_claim(Claim("NO99", {"D": 10}), US)
    with pytest.raises(InputError):
        check_claim(Claim(KEYS[0], {"Z": 10}), US)


claims = st.lists(st.tuples(st.integers(0, 10), st.booleans()), min_size=0, max_size=len(KEYS)).map(
    lambda rows: [
        Claim(key, {"A": 10 - own, "D": own} if applies else {}, applies)
        for key, (own, applies) in zip(KEYS, rows, strict=False)
    ]
)


@settings(max_examples=60, deadline=None)
@given(claims)
def test_totals_add_up_and_the_share_lies_between_its_ends(made: list[Claim]) -> None:
    total = credit(US, made)
    assert sum(one.tenths for one in total.columns) == 10 * total.claimed
    assert total.claimed + total.left_out + total.open == len(US.tasks)
    if total.share is not None:
        assert total.least - 1e-9 <= total.share <= total.most + 1e-9
        assert total.finding is not None
        assert (total.finding.verdict.value == "within limits") == (total.share >= 51)


def test_what_is_weakly_evidenced_is_said() -> None:
    claim = Claim(KEYS[0], {"C": 10})
    assert weak_points(claim, Evidence((), 0, 0, 0, 0, 0), ["C", "D"]) == ("no operation stands behind it",)
    weak = weak_points(claim, Evidence(("S1",), 2, 3.0, 1.0, 2, 0), ["C", "D"])
    assert any("marked" in one for one in weak)
    assert any("others logged 1.0 h" in one for one in weak)
    assert weak_points(claim, Evidence(("S1",), 2, 3.0, 0.0, 2, 1), ["C", "D"]) == ()
    assert weak_points(Claim(KEYS[0], {"A": 10}), Evidence((), 0, 0, 0, 0, 0), ["C", "D"]) == ()


def test_the_starting_list_says_that_its_words_are_ours_and_the_share_is_recalled() -> None:
    assert {task.rung for task in US.tasks} == {"practice"}
    assert US.least_rung == "memory"
    assert len(set(KEYS)) == len(KEYS)


def test_a_list_goes_out_and_comes_in_again() -> None:
    assert list_from_toml(list_to_toml(US)) == US
    ours = list_from_toml(BLANK)
    assert ours.least_share is None
    assert credit(ours, [Claim("T01", {"A": 4, "B": 6})]).finding is None


@pytest.mark.parametrize(
    "text",
    [
        "", "x =", "[[task]]\nkey='A1'", BLANK.replace('"T01"', '"t 1"'), BLANK.replace("builder = true", "builder = false"),
        BLANK.replace('rung = "practice"', 'rung = "compared"'), BLANK.replace('least_share = ""', 'least_share = "nan"'),
        BLANK + '\n[[task]]\nkey = "T01"\nsection = "wings"\ntitle = "again"\n', BLANK + "\nsecret = 1\n", BLANK.replace('"form ribs"', '""'), "a" * 300_000,
    ],
)  # fmt: skip
def test_a_bad_list_is_refused(text: str) -> None:
    with pytest.raises(InputError):
        list_from_toml(text)
