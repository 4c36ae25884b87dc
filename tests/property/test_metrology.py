"""Photo metrology under random input: numbers are numbers, fits take out what they should."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ribwright.core.metrology.best_fit import best_fit
from ribwright.core.metrology.gauge_sheet import rivet_strip_layout
from ribwright.core.metrology.layout import layout_from, number
from ribwright.core.metrology.profile import decide
from ribwright.core.metrology.trace import best_path
from ribwright.core.metrology.typed import row_input
from ribwright.errors import InputError, RibwrightError

ANGLE = np.linspace(-1.9, 1.9, 61)
AT = np.column_stack([-40 * np.cos(ANGLE), 22 * np.sin(ANGLE)])
RUN = np.gradient(AT, axis=0)
NORMAL = np.column_stack([RUN[:, 1], -RUN[:, 0]]) / np.hypot(*RUN.T)[:, None]


@given(st.one_of(st.none(), st.text(), st.booleans(), st.floats(), st.integers(), st.lists(st.integers())))
def test_a_number_is_finite_and_within_its_limits_or_refused(value):
    try:
        found = number(value, "x", low=0.5, high=20)
    except InputError:
        return
    assert math.isfinite(found)
    assert 0.5 <= found <= 20


@settings(max_examples=40, deadline=None)
@given(st.floats(-1.5, 1.5), st.floats(-1.5, 1.5), st.floats(-0.02, 0.02))
def test_a_moved_part_of_right_shape_has_no_deviation(dx, dy, turn):
    c, s = math.cos(turn), math.sin(turn)
    fine = np.linspace(-2.1, 2.1, 900)
    shape = np.column_stack([-40 * np.cos(fine), 22 * np.sin(fine)])
    moved = shape @ np.array([[c, -s], [s, c]]).T + [dx, dy]
    deviation, _, pose = best_fit(AT, NORMAL, moved)
    assert np.nanmax(np.abs(deviation)) < 0.01
    assert abs(pose[2] - turn) < 1e-3


@settings(max_examples=60)
@given(st.lists(st.floats(-2, 2), min_size=3, max_size=61), st.floats(0.01, 0.5), st.floats(0.3, 2.0))
def test_a_finding_is_never_outside_its_uncertainty(deviation, u95, tolerance):
    values = np.array(deviation)
    finding = decide(values, np.full(len(values), u95), tolerance)
    if finding == "within limits":
        assert np.abs(values).max() + u95 <= tolerance + 1e-12
    if finding == "rework":
        assert np.abs(values).max() - u95 > tolerance


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10_000))
def test_the_best_path_is_no_worse_than_any_other(seed):
    rng = np.random.default_rng(seed)
    score = rng.normal(0, 1, (12, 15))
    path, worth = best_path(score)
    top = worth.max()
    assert np.allclose(worth.max(axis=1), top)  # every row lies on the best whole path
    other = np.clip(np.cumsum(rng.integers(-1, 2, 12)) + 7, 0, 14)
    steps = np.diff(other)
    total = score[np.arange(12), other].sum() - 0.03 * (steps**2).sum()
    assert total <= top + 1e-9
    assert np.abs(np.diff(path)).max() <= 2


@settings(max_examples=60)
@given(
    st.dictionaries(
        st.sampled_from(
            ["rivet_D_mm", "expected_count", "pitch_nominal_mm", "bars_measured", "limits", "flush", "row"]
        ),
        st.one_of(st.none(), st.floats(), st.text(max_size=5), st.lists(st.none(), max_size=2)),
    )
)
def test_whatever_is_typed_for_a_row_is_read_or_refused(typed):
    layout = layout_from(rivet_strip_layout())
    with pytest.raises(RibwrightError):
        row_input(layout, typed)
