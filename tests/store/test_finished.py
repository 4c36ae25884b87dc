"""What counts as finished, and which request ids are taken."""

from __future__ import annotations

import pytest

from ribwright.core.record.entry import check_request_id
from ribwright.errors import RibwrightError
from ribwright.services.bench import finished


def test_the_last_word_decides_whether_a_stage_is_finished() -> None:
    row = {"about": "A", "stage": "drill"}
    assert finished([row | {"done": "yes"}, row | {"done": ""}]) == {"A/drill"}
    assert finished([row | {"done": "yes"}, row | {"done": "no"}]) == set()
    assert finished([row | {"done": "no"}, row | {"done": "yes"}]) == {"A/drill"}


@pytest.mark.parametrize("bad", ["", " a", "a b", "a\n", "x" * 81, "ä", "#1"])
def test_a_request_id_that_could_be_mistaken_is_refused(bad: str) -> None:
    with pytest.raises(RibwrightError):
        check_request_id(bad)
