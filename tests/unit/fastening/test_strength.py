"""Joints, groups, rows along the load and inter-rivet buckling against independent solutions."""

from __future__ import annotations

import numpy as np
import pytest

from ribwright.core.fastening import buckling, groups, joint, row_loads  # noqa: F401
from ribwright.errors import GeometryError, OutsideTableError
from unit.fastening.test_first_calculations import run, value

PLATES = [
    {"part": "a", "thickness": ".050", "edge_distance": "5/16"},
    {"part": "b", "thickness": ".050", "edge_distance": "5/16"},
]


def test_lap_joint_is_shear_critical_and_bearing_matches_the_hand_sum() -> None:
    outcome = run("joint-strength", title="lap", layers=PLATES, size="5/32", count=1)
    assert value(outcome, "governs") == "rivets in shear"
    assert value(outcome, "capacity") == pytest.approx(595.7 * (1 - 0.04 * (0.15625 / 0.05 - 3)), abs=0.1)
    assert value(outcome, "bearing") == pytest.approx(121_000 * 0.15625 * 0.05, rel=1e-9)


def test_as_built_against_as_drawn_needs_no_load() -> None:
    whole = run("joint-strength", title="lap", layers=PLATES, size="1/8", count=10)
    assert "nothing was entered" in value(whole, "as_built_percent")
    one_less = run("joint-strength", title="lap", layers=PLATES, size="1/8", count=10, built_count=9)
    assert value(one_less, "as_built_percent") == pytest.approx(90.0)
    short = run("joint-strength", title="lap", layers=PLATES, size="1/8", count=10, built_edge=".14")
    assert 0 < value(short, "as_built_percent") < 100
    assert value(short, "as_built_governs") == "edge torn out"


def test_double_shear_takes_two_planes_and_the_middle_sheet() -> None:
    three = [*PLATES, {"part": "c", "thickness": ".050", "edge_distance": "5/16"}]
    outcome = run("joint-strength", title="strap", layers=three, size="1/8", count=1)
    factor = 1 - 0.13 * (0.125 / 0.05 - 1.5)
    assert value(outcome, "shear") == pytest.approx(2 * np.pi / 4 * 0.1285**2 * 30_000 * factor, rel=1e-9)


@pytest.mark.parametrize(
    ("raw", "error"),
    [
        ({"head": "flush 100°"}, OutsideTableError),
        ({"layers": [{"part": "a", "thickness": ".016", "edge_distance": ".25"}] * 2}, OutsideTableError),
        ({"built_edge": ".05"}, GeometryError),
        ({"width": "1", "in_line": 9}, GeometryError),
    ],
)
def test_refused_with_the_reason(raw: dict[str, object], error: type[Exception]) -> None:
    with pytest.raises(error):
        run("joint-strength", **({"title": "lap", "layers": PLATES, "size": "1/8", "count": 4} | raw))


def test_elastic_group_equals_a_rigid_body_on_springs() -> None:
    """Independent: stiffness matrix of a rigid plate on two springs a fastener, solved for its three motions."""
    rng = np.random.default_rng(3)
    for _ in range(30):
        n = int(rng.integers(2, 12))
        p, w = rng.uniform(-5, 5, (n, 2)), rng.uniform(50, 500, n)
        f, at = rng.uniform(-900, 900, 2), rng.uniform(-20, 20, 2)
        k = np.zeros((3, 3))
        for (x, y), c in zip(p, w, strict=True):
            b = np.array([[1, 0, -y], [0, 1, x]])
            k += c * b.T @ b
        motion = np.linalg.solve(k, [f[0], f[1], at[0] * f[1] - at[1] * f[0]])
        want = np.array(
            [c * np.array([[1, 0, -y], [0, 1, x]]) @ motion for (x, y), c in zip(p, w, strict=True)]
        )
        got = groups.elastic_group_lbf(points_in=p, capacities_lbf=w, force_lbf=f, at_in=at)
        np.testing.assert_allclose(got, want, rtol=1e-8, atol=1e-8)


def test_plastic_group_equals_static_optimum_by_linear_programming() -> None:
    """Independent lower bound: the greatest load in equilibrium with forces inside 64-sided yield circles."""
    from scipy.optimize import linprog

    rng = np.random.default_rng(5)
    sides = 64
    angles = 2 * np.pi * np.arange(sides) / sides
    for _ in range(6):
        n = int(rng.integers(2, 7))
        p, w = rng.uniform(-3, 3, (n, 2)), rng.uniform(100, 400, n)
        f, at = rng.uniform(-300, 300, 2), rng.uniform(-8, 8, 2)
        equal = np.zeros((3, 2 * n + 1))
        equal[0, 0:-1:2], equal[1, 1:-1:2] = 1, 1
        equal[2, 0:-1:2], equal[2, 1:-1:2] = -p[:, 1], p[:, 0]
        equal[:, -1] = [-f[0], -f[1], -(at[0] * f[1] - at[1] * f[0])]
        under = np.zeros((n * sides, 2 * n + 1))
        for i in range(n):
            under[i * sides : (i + 1) * sides, 2 * i] = np.cos(angles)
            under[i * sides : (i + 1) * sides, 2 * i + 1] = np.sin(angles)
        found = linprog(
            [0] * 2 * n + [-1],
            under,
            np.repeat(w, sides),
            equal,
            np.zeros(3),
            [(None, None)] * 2 * n + [(0, None)],
        )
        got, _ = groups.plastic_group_factor(points_in=p, capacities_lbf=w, force_lbf=f, at_in=at)
        # a polygon outside the circle overstates by at most 1/cos(pi/64)
        assert got <= -found.fun * (1 + 1e-6)
        assert got >= -found.fun * np.cos(np.pi / sides) * (1 - 1e-6)


def test_plastic_is_never_below_elastic_and_a_central_load_gives_the_sum() -> None:
    p = np.array([(0.0, 0.0), (1.0, 0.0), (2.0, 0.0)])
    factor, centre = groups.plastic_group_factor(
        points_in=p, capacities_lbf=np.full(3, 100.0), force_lbf=(0, 50), at_in=(1, 0)
    )
    assert factor == pytest.approx(6.0, rel=1e-6)
    assert centre is None
    outcome = run(
        "fastener-group", title="bracket", load_y="-100", at_x="5", at_y="0",
        fasteners=[{"x": "0", "y": str(y), "capacity": "388"} for y in (-1, 0, 1)],
    )  # fmt: skip
    assert value(outcome, "plastic_factor") >= value(outcome, "elastic_factor") > 0


def test_row_shares_equal_a_spring_matrix_built_here() -> None:
    """Independent: nodes of both sheets at every fastener, sheet springs between them, fastener springs across."""
    for n, ku, kl, c, pitch in (
        (2, 4e5, 6e5, 5e-6, 0.5),
        (5, 4e5, 4e5, 5e-6, 0.5),
        (12, 9e5, 3e5, 2e-6, 1.0),
    ):
        k = np.zeros((2 * n, 2 * n))

        def spring(i: int, j: int, s: float, k: np.ndarray = k) -> None:
            k[i, i] += s
            k[j, j] += s
            k[i, j] -= s
            k[j, i] -= s

        for i in range(n - 1):
            spring(i, i + 1, ku / pitch)
            spring(n + i, n + i + 1, kl / pitch)
        for i in range(n):
            spring(i, n + i, 1 / c)
        load = np.zeros(2 * n)
        load[0] = -1.0  # upper sheet pulled at the first fastener, lower sheet held at the last
        keep = np.arange(2 * n - 1)
        u = np.zeros(2 * n)
        u[keep] = np.linalg.solve(k[np.ix_(keep, keep)], load[keep])
        want = np.abs((u[:n] - u[n:]) / c)
        got = row_loads.row_shares(
            count=n, pitch_in=pitch, stiffness_upper_lbf=ku, stiffness_lower_lbf=kl, flexibility=c
        )
        np.testing.assert_allclose(got, want, rtol=1e-8)
        assert got.sum() == pytest.approx(1)


def test_equal_sheets_load_both_ends_alike_and_the_middle_least() -> None:
    outcome = run(
        "row-loads",
        title="lap",
        count=9,
        pitch="1/2",
        width="1",
        upper=".063",
        lower=".063",
        diameter="1/8",
        load="2000",
    )
    loads = np.array(value(outcome, "loads"))
    np.testing.assert_allclose(loads, loads[::-1], rtol=1e-9)
    assert loads.argmin() == 4
    assert value(outcome, "highest_against_equal") > 1


def test_inter_rivet_states_both_fixities_and_never_passes_yield() -> None:
    wide = run("inter-rivet", title="skin", thickness=".025", pitch="1-1/8")
    assert value(wide, "buckling_stress") == pytest.approx(
        3 * np.pi**2 * 10.7e6 / 12 * (0.025 / 1.125) ** 2, rel=0.01
    )
    assert value(wide, "buckling_stress_other") == pytest.approx(
        value(wide, "buckling_stress") * 4 / 3, rel=0.02
    )
    close = run("inter-rivet", title="skin", thickness=".063", pitch="1/2", stress="40 ksi")
    assert value(close, "buckling_stress") <= 37_000
    assert close.status == "refer"
