"""Random seams, many at once and one by one; layouts held against an independent geometry library."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ribwright.core.audit import Worksheet, read
from ribwright.core.bench import worst
from ribwright.core.fastening.batch import REFUSALS, SeamColumns, check_seams, columns_of
from ribwright.core.fastening.bolts import AN_SIZES, THIN_WASHER_IN, WASHER_IN, bolt_lengths, washers_for
from ribwright.core.fastening.double_flush import length_ranges
from ribwright.core.fastening.groups import elastic_group_lbf
from ribwright.core.fastening.rivets import SIZES
from ribwright.core.fastening.seam import Seam, plan_seam
from ribwright.core.fastening.splice import lay_rows
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
        raw["size"] = next(s for s in SIZES if Fraction(s) * 32 == int(c.size_32[i]))
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
    except RibwrightError:
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


@settings(max_examples=150, deadline=None)
@given(
    start=st.floats(0.03, 0.5),
    slope=st.floats(-0.003, 0.003),
    holes=st.integers(1, 60),
    low=st.floats(0.03, 0.06),
    wide=st.floats(0.002, 0.02),
)
def test_each_wedge_length_stands_proud_within_its_band_at_every_hole_it_serves(
    start: float, slope: float, holes: int, low: float, wide: float
) -> None:
    grips = np.maximum(start + slope * np.arange(holes), 0.02)
    made = length_ranges(list(grips), low_in=low, high_in=low + wide, size="3/32", head="flush 100°")
    assert [n for r in made for n in range(r.first, r.last + 1)] == list(range(1, holes + 1))
    for one in made:
        proud = one.length_in - grips[one.first - 1 : one.last]
        assert proud.min() >= low - 2e-6
        assert proud.max() <= low + wide + 2e-6


@settings(max_examples=150, deadline=None)
@given(count=st.integers(1, 300), width=st.floats(0.5, 60), size=st.sampled_from(SIZES))
def test_rows_of_a_splice_hold_at_least_what_is_asked_at_no_less_than_the_least_pitch(
    count: int, width: float, size: str
) -> None:
    d = float(Fraction(size))
    try:
        laid = lay_rows(count, width, d)
    except RibwrightError:
        return
    points = np.array(laid.points_in())
    assert len(points) >= count
    assert points[:, 0].min() >= 2 * d - 1e-9
    assert points[:, 0].max() <= width - 2 * d + 1e-9
    if len(points) > 1:
        gap = np.hypot(*np.moveaxis(points[:, None] - points[None], 2, 0))
        assert gap[~np.eye(len(points), dtype=bool)].min() >= 2.5 * d - 1e-9


@settings(max_examples=200, deadline=None)
@given(stack=st.floats(0.02, 5.0), size=st.sampled_from(AN_SIZES))
def test_a_bolt_never_bears_on_its_thread_and_takes_at_most_three_washers(stack: float, size: str) -> None:
    usable = {k: w for k, (_, grip) in bolt_lengths(size).items() if (w := washers_for(stack, grip))}
    for dash, (thick, thin) in usable.items():
        grip = bolt_lengths(size)[dash][1]
        assert grip >= stack - 1e-6
        assert grip <= stack + thick * WASHER_IN + thin * THIN_WASHER_IN + 1e-6
        assert 1 <= thick + thin <= 3
    assert usable or stack > 1


@settings(max_examples=60, deadline=None)
@given(
    points=st.lists(st.tuples(st.floats(-5, 5), st.floats(-5, 5)), min_size=2, max_size=9, unique=True),
    force=st.tuples(st.floats(-500, 500), st.floats(-500, 500)),
    at=st.tuples(st.floats(-10, 10), st.floats(-10, 10)),
)
def test_group_forces_balance_the_load(
    points: list[tuple[float, float]], force: tuple[float, float], at: tuple[float, float]
) -> None:
    p = np.array(points)
    if np.ptp(p, axis=0).max() < 0.05:
        return
    each = elastic_group_lbf(points_in=p, capacities_lbf=np.full(len(p), 300.0), force_lbf=force, at_in=at)
    np.testing.assert_allclose(each.sum(0), force, atol=1e-6)
    turned = (p[:, 0] * each[:, 1] - p[:, 1] * each[:, 0]).sum()
    assert abs(turned - (at[0] * force[1] - at[1] * force[0])) < 1e-4
