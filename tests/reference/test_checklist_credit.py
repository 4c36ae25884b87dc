"""The credit example of the published checklist instructions, and rivets a pound of common practice."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from ribwright.core.audit import read
from ribwright.core.portion.credit import Claim, check_claim, credit, points, tenths
from ribwright.core.portion.lists import starting_list
from ribwright.core.stores.count import WeighedBag, counted

DATA = Path(__file__).parents[1] / "data" / "stores"
RIVETS = tomllib.loads((DATA / "rivets-a-pound.toml").read_text(encoding="utf-8"))


def test_one_task_is_one_point_shared_in_tenths() -> None:
    said = tomllib.loads((DATA / "checklist-credit.toml").read_text(encoding="utf-8"))
    listed = starting_list()
    claim = Claim(
        listed.tasks[0].key,
        {
            "A": tenths(said["manufacturer"], field="A"),
            "B": tenths(said["commercial"], field="B"),
            "D": tenths(said["builder_fabrication"], field="D"),
        },
    )
    left_out = Claim(listed.tasks[1].key, {}, applies=False, words="no such part on this aeroplane")
    total = credit(listed, [check_claim(claim, listed), check_claim(left_out, listed)])
    assert [one.points for one in total.columns] == ["0.5", "0.3", "0.0", "0.2"]
    assert points(sum(one.tenths for one in total.columns)) == said["total"]
    assert (total.claimed, total.left_out) == (1, 1)
    assert total.share == pytest.approx(20.0)


@pytest.mark.parametrize("one", RIVETS["rivet"], ids=lambda one: str(one["part_number"]))
def test_a_pound_of_rivets_counts_as_the_trade_says_within_its_band(one: dict[str, object]) -> None:
    made = counted(read(WeighedBag, {"part_number": one["part_number"], "gross": "1 lb", "scale": "0 lb"}))
    band = float(RIVETS["band_percent"]) / 100
    said = float(str(one["a_pound"]))
    assert abs(made.count - said) <= band * said
    assert made.low <= said <= made.high
