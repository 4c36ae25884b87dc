"""A result that is a limit is shown on its safe side; any other to the nearest."""

from __future__ import annotations

import pytest

from ribwright.core.audit import Result
from ribwright.services.calculations import run_calculation


@pytest.mark.parametrize(("limit", "said"), [("", "0.234 in"), ("least", "0.235 in"), ("most", "0.234 in")])
def test_the_number(limit: str, said: str) -> None:
    assert Result("e", 0.234375, "in", limit=limit).shown.startswith(said)  # type: ignore[arg-type]


def test_last_good_values_are_never_shown_wider_than_they_are() -> None:
    assert Result("h", 0.047, "in", 0.0375, 0.0525, limit="range").band == "0.038 in to 0.052 in"
    assert Result("r", 0.9, "in", 0.8446, 1.0704).band == "0.845 in to 1.070 in"


def test_a_seams_limits_read_the_same_in_results_and_requirements() -> None:
    from seams import SEAM

    outcome = run_calculation("seam", SEAM).outcome
    by_name = {r.name: r for r in outcome.requirements}
    assert outcome.results["formed_head_height"].band == by_name["formed head height"].limits_text()
