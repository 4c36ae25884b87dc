"""Random seams, many at once and one by one; layouts held against an independent geometry library."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ribwright.core.audit import Worksheet, read
from ribwright.core.bench import worst
from ribwright.core.fastening.batch import REFUSALS, SeamColumns, check_seams, columns_of
from ribwright.core.fastening.rivets import SIZES
from ribwright.core.fastening.seam import Seam, plan_seam
from ribwright.errors import RibwrightError

_VERDICT = {"within limits": 0, "undecided": 1, "rework": 2, "refer": 3}


def random_columns(n: int, seed: int) -> SeamColumns:
    """Plausible and impossible seams together."""
    rng = np.random.default_rng(seed)
    layers = rng.integers(2, 5, n)
    stock = np.array([0.016, 0.020, 0.025, 0.032, 0.040, 0.050, 0.063, 0.080, 0.125, 0.190])
    thickness = np.where(np.arange(4)[None] < layers[:, None], stock[rng.integers(0, 10, (n, 4))], 0.0)
    edge = np.where((rng.random((n, 4)) < 0.4) & (thickness > 0), rng.uniform(0.02, 1.0, (n, 4)), np.nan)
    size = np.where(rng.random(n) < 0.3, np.array([3, 4, 5, 6, 8])[rng.integers(0, 5, n)], 0)
    first = rng.uniform(0.0, 3.0, n)
    last = first + rng.uniform(-0.5, 60.0, n)
    pitch = np.where(rng.random(n) < 0.5, rng.uniform(0.05, 3.0, n), np.nan)
    part = np.where(rng.random(n) < 0.6, last + rng.uniform(0.01, 2.0, n), np.nan)
    return SeamColumns(
        thickness,
        edge,
        rng.random(n) < 0.5,
        size.astype(np.int64),
        np.full(n, np.nan),
        first,
        last,
        pitch,
        part,
    )


def raw_of_column(c: SeamColumns, i: int) -> dict[str, object]:
    """One column as a person would enter it."""
    raw: dict[str, object] = {
        "title": "random", "head": "flush 100°" if c.flush[i] else "universal", "first": repr(float(c.first_in[i])),
        "last": repr(float(c.last_in[i])),
        "layers": [
            {"part": str(k), "thickness": repr(float(t)), "treatment": "neither" if not c.flush[i] else "dimple"}
            | ({} if np.isnan(e) else {"edge_distance": repr(float(e))})
            for k, (t, e) in enumerate(zip(c.thickness_in[i], c.edge_in[i], strict=True)) if t > 0
        ],
    }  # fmt: skip
    if c.size_32[i]:
        raw["size"] = next(s for s in SIZES if eval(s) * 32 == c.size_32[i])
    if not np.isnan(c.pitch_in[i]):
        raw["pitch"] = repr(float(c.pitch_in[i]))
    if not np.isnan(c.part_length_in[i]):
        raw["part_length"] = repr(float(c.part_length_in[i]))
    return raw


def test_many_at_once_equals_one_by_one() -> None:
    columns = random_columns(400, 11)
    done = check_seams(columns)
    answered = 0
    for i in range(400):
        try:
            plan, findings = plan_seam(read(Seam, raw_of_column(columns, i)), Worksheet())
        except RibwrightError:
            assert done.refused[i] != 0, (i, raw_of_column(columns, i))
            continue
        answered += 1
        assert done.refused[i] == 0, (REFUSALS[done.refused[i]], raw_of_column(columns, i))
        assert plan.rivet.diameter_32 == done.size_32[i]
        assert plan.rivet.length_16 * 2 == done.length_32[i]
        got = done.position_in[done.start[i] : done.start[i + 1]]
        np.testing.assert_allclose(got, plan.positions_in, atol=1e-9)
        verdict = worst(findings)
        assert verdict is None or _VERDICT[verdict.value] == done.verdict[i]
        assert plan.letters == done.letters(i)
    assert answered > 150


def test_a_hundred_thousand_random_seams_answer_or_say_why() -> None:
    columns = random_columns(100_000, 5)
    done = check_seams(columns)
    assert (done.refused >= 0).all()
    assert (done.refused < len(REFUSALS)).all()
    assert np.isfinite(done.position_in).all()
    assert np.isfinite(done.margin).all()
    assert (done.holes[done.refused != 0] == 0).all()
    made = done.refused == 0
    assert made.mean() > 0.3
    seam = np.repeat(np.arange(len(made)), done.holes)
    # no hole of a seam that is within limits lies nearer to an edge or an end than its least distance
    ratio = np.where(columns.flush, 2.5, 2.0) * done.size_32 / 32
    good = (done.verdict == 0) & made
    part = columns.part_length_in[seam]
    known = good[seam] & ~np.isnan(part)
    near = np.minimum(done.position_in, part - done.position_in)
    assert (near[known] >= ratio[seam][known] - 1e-7).all()
    edges = np.where(np.isnan(columns.edge_in), np.inf, columns.edge_in).min(1)
    assert (edges[good] >= ratio[good] - 1e-7).all()


def test_end_distances_by_an_independent_geometry_library() -> None:
    shapely = pytest.importorskip("shapely")
    columns = random_columns(4000, 8)
    done = check_seams(columns)
    checked = 0
    for i in np.flatnonzero((done.refused == 0) & (done.verdict == 0) & ~np.isnan(columns.part_length_in)):
        strip = shapely.box(0.0, -100.0, columns.part_length_in[i], 100.0)
        holes = shapely.points(
            np.c_[done.position_in[done.start[i] : done.start[i + 1]], np.zeros(done.holes[i])]
        )
        least = (2.5 if columns.flush[i] else 2.0) * done.size_32[i] / 32
        assert shapely.distance(strip.exterior, holes).min() >= least - 1e-7
        checked += 1
    assert checked > 100


@settings(max_examples=60, deadline=None)
@given(
    thickness=st.lists(st.floats(0.01, 0.5), min_size=2, max_size=5),
    first=st.floats(0, 100),
    run=st.floats(-1, 200),
    pitch=st.none() | st.floats(0.05, 24),
    head=st.sampled_from(["flush 100°", "universal"]),
)
def test_any_seam_answers_or_refuses(
    thickness: list[float], first: float, run: float, pitch: float | None, head: str
) -> None:
    raw: dict[str, object] = {
        "title": "any", "first": repr(first), "last": repr(max(first + run, 0.0)), "head": head,
        "layers": [{"part": "x", "thickness": repr(t)} for t in thickness],
    }  # fmt: skip
    if pitch is not None:
        raw["pitch"] = repr(pitch)
    try:
        plan, _ = plan_seam(read(Seam, raw), Worksheet())
    except RibwrightError as refused:
        assert refused.sentence()
        return
    assert np.isfinite(plan.positions_in).all()
    assert plan.rivet.length_in > plan.grip_in
    assert len(plan.letters) == len(plan.positions_in)


def test_columns_of_keep_what_was_entered() -> None:
    seam = read(
        Seam,
        {
            "title": "x",
            "first": "1",
            "last": "5",
            "rivet": "MS20426AD3-4",
            "layers": [{"part": "a", "thickness": ".02"}] * 2,
        },
    )
    c = columns_of((seam,))
    assert (c.size_32[0], c.length_in[0], c.flush[0]) == (3, 0.25, True)
