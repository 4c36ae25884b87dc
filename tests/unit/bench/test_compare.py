"""The one comparator."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ribwright.core.bench import Because, Reading, Requirement, Verdict, compare, verdict_codes, worst
from ribwright.errors import OutOfRangeError, QuantityError


def limits(**more: float | None) -> Requirement:
    base = {"low": 0.038, "nominal": 0.047, "high": 0.053, "refer_low": None, "refer_high": None} | more
    return Requirement(
        name="height", unit="in", because=Because("drawing", "drawn", "drawing"), how="calipers", when_low="too low", when_high="too high", **base,
    )  # type: ignore[arg-type]  # fmt: skip


@pytest.mark.parametrize(
    ("value", "u", "verdict"),
    [
        (0.045, 0.0, Verdict.WITHIN),
        (0.038, 0.0, Verdict.WITHIN),  # the limit is the last good value
        (0.053, 0.0, Verdict.WITHIN),
        (0.0379, 0.0, Verdict.REWORK),
        (0.0531, 0.0, Verdict.REWORK),
        (0.039, 0.002, Verdict.UNDECIDED),
        (0.036, 0.001, Verdict.REWORK),
        (0.045, 0.02, Verdict.UNDECIDED),
    ],
)
def test_verdicts(value: float, u: float, verdict: Verdict) -> None:
    found = compare(limits(), Reading(value, "in", u))
    assert found.verdict is verdict
    assert found.reason
    assert found.next == {"within limits": "Go on.", "undecided": "Measure better: calipers"}.get(
        verdict.value, "too low" if value < 0.045 else "too high"
    )


def test_beyond_the_refer_limit_it_is_referred() -> None:
    assert compare(limits(refer_low=0.03), Reading(0.031, "in")).verdict is Verdict.REWORK
    assert compare(limits(refer_low=0.03), Reading(0.029, "in")).verdict is Verdict.REFER
    assert compare(limits(refer_high=0.06), Reading(0.061, "in")).verdict is Verdict.REFER


def test_units_are_converted_and_other_dimensions_refused() -> None:
    assert compare(limits(), Reading(1.2, "mm")).verdict is Verdict.WITHIN
    assert compare(limits(), Reading(1.2, "mm")).margin == pytest.approx(
        min(1.2 / 25.4 - 0.038, 0.053 - 1.2 / 25.4)
    )
    with pytest.raises(QuantityError):
        compare(limits(), Reading(1.2, "lb"))


def test_a_reading_must_be_a_number() -> None:
    for value, u in ((float("nan"), 0.0), (float("inf"), 0.0), (1.0, -1.0), (1.0, float("nan"))):
        with pytest.raises(OutOfRangeError):
            Reading(value, "in", u)


@given(st.floats(-1, 1), st.floats(0, 0.1), st.floats(-1, 1), st.floats(0, 1))
def test_within_and_out_exclude_each_other_whatever_the_band(
    value: float, u: float, low: float, width: float
) -> None:
    high = low + width
    code = int(verdict_codes(value=value, low=low, high=high, refer_low=-np.inf, refer_high=np.inf, u=u))
    inside = low - 1e-6 <= value - u and value + u <= high + 1e-6
    outside = value + u < low + 1e-6 or value - u > high - 1e-6
    assert (code == 0) <= inside
    assert (code == 2) <= outside
    assert code in (0, 1, 2)


def test_the_worst_decides() -> None:
    made = [compare(limits(), Reading(v, "in", u)) for v, u in ((0.045, 0.0), (0.03, 0.0), (0.039, 0.002))]
    assert worst(made) is Verdict.REWORK
    assert worst(made[:1]) is Verdict.WITHIN
    assert worst([]) is None


def test_a_requirement_survives_the_record() -> None:
    made = limits(refer_low=0.03)
    assert Requirement.from_data(made.as_data()) == made
    assert all(value is None or isinstance(value, str | dict) for value in made.as_data().values())


def test_limits_are_shown_on_the_safe_side() -> None:
    assert limits(low=0.03751, high=0.05249).limits_text() == "0.038 in to 0.052 in"
    assert limits(low=None).limits_text() == "at most 0.053 in"
    assert limits(high=None).limits_text() == "at least 0.038 in"


def test_a_decimal_limit_is_not_missed_by_the_last_binary_digit() -> None:
    assert 0.1 + 0.2 > 0.3
    assert compare(limits(low=0.1, high=0.3), Reading(0.1 + 0.2, "in")).verdict is Verdict.WITHIN
