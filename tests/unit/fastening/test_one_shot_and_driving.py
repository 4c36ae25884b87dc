"""One-shot zones against an independent geometry library; the driving model against Timoshenko's strip; patches."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from ribwright.core.audit import read
from ribwright.core.fastening import driven_row, one_shot, patch  # noqa: F401
from ribwright.core.scene import Circle
from ribwright.errors import GeometryError, InputError, OutOfRangeError
from unit.fastening.test_first_calculations import run, value

HOLE: dict[str, Any] = {
    "title": "rear spar attach, left", "diameter": "1/4 in", "x": "0", "x_room": ".06", "y": "0", "arm": "30 in", "incidence_room": ".1 deg",
    "edges": [
        {"part": "plate", "side": "right of the hole", "at": ".62"},
        {"part": "plate", "side": "below the hole", "at": "-.60"},
        {"part": "bracket", "side": "left of the hole", "at": "-.60"},
        {"part": "bracket", "side": "above the hole", "at": ".60"},
    ],
}  # fmt: skip


def test_a_zone_for_two_parts_incidence_and_sweep_at_once() -> None:
    outcome = run("one-shot-hole", **HOLE)
    assert value(outcome, "answer") == "drill"
    assert value(outcome, "room") >= 0
    assert (value(outcome, "x"), value(outcome, "y")) == (0.0, 0.0)
    assert value(outcome, "zone_height") == pytest.approx(2 * (30 * np.tan(np.radians(0.1)) - 0.01), abs=1e-9)


def test_short_edges_move_the_hole_then_ask_to_measure_then_to_shim() -> None:
    def with_right(at: str) -> Any:
        edges = [{**e, "at": at} if e["side"].startswith("right") else e for e in HOLE["edges"]]
        return run("one-shot-hole", **HOLE | {"edges": edges})

    moved = with_right(".50")
    assert value(moved, "answer") == "drill"
    assert value(moved, "x") < 0
    close = with_right(".455")
    assert (value(close, "answer"), close.status) == ("measure better", "undecided")
    none = with_right(".40")
    assert (value(none, "answer"), none.status) == ("shim or ask", "refer")
    assert value(none, "lacking") > 0
    assert none.sheets[0].steps[0].startswith("Do not drill")


def test_zone_equals_an_intersection_by_an_independent_library() -> None:
    shapely = pytest.importorskip("shapely")
    rng = np.random.default_rng(2)
    big = shapely.box(-50, -50, 50, 50)
    for _ in range(60):
        m = int(rng.integers(3, 8))
        angle = rng.uniform(0, 2 * np.pi, m)
        n = np.stack([np.cos(angle), np.sin(angle)], axis=1)
        halves = one_shot.Halves(
            tuple("x" * m), n, rng.uniform(-2, 0.3, m), rng.uniform(0, 0.5, m), rng.uniform(0, 0.1, m)
        )
        want = big
        for (nx, ny), right in zip(n, halves.offsets_in + halves.least_in + halves.error_in, strict=True):
            foot, along = np.array([nx, ny]) * right, np.array([-ny, nx])
            corners = [
                foot + along * 300,
                foot - along * 300,
                foot - along * 300 + (nx * 300, ny * 300),
                foot + along * 300 + (nx * 300, ny * 300),
            ]
            want = want.intersection(shapely.Polygon(corners))
        ring = one_shot.zone_in(halves, 1.0)
        got = shapely.Polygon(ring).intersection(big).area if len(ring) >= 3 else 0.0
        assert got == pytest.approx(want.area, rel=1e-6, abs=1e-6)
        point, room = one_shot.roomiest(halves, 1.0)
        assert (room >= 0) == (want.area > 0) or abs(room) < 1e-6
        if room > 1e-6 and want.area > 0 and abs(point).max() < 40:
            assert want.contains(shapely.Point(point))


def test_open_zones_and_half_entries_are_refused() -> None:
    with pytest.raises(GeometryError, match="without end"):
        run(
            "one-shot-hole",
            title="x",
            diameter="1/4",
            edges=[{"part": "a", "side": "left of the hole", "at": "-1"}],
        )
    with pytest.raises(OutOfRangeError):
        run("one-shot-hole", title="x", diameter="1/4", arm="30", edges=HOLE["edges"])


def _strips(t1: float, t2: float, g1: float, g2: float) -> tuple[driven_row.Strip, ...]:
    return (
        driven_row.Strip(2 * t1, 2 * t1**3 / 12, t1 / 2, g1),
        driven_row.Strip(2 * t2, 2 * t2**3 / 12, t1 + t2 / 2, g2),
    )


def _curvature(done: driven_row.Driven, pitch: float) -> np.ndarray:
    return np.diff(done.deflection_in, 2) / pitch**2


@pytest.mark.parametrize(("t1", "t2"), [(0.02, 0.02), (0.02, 0.06), (0.05, 0.03)])
def test_held_everywhere_it_is_timoshenkos_two_layer_strip(t1: float, t2: float) -> None:
    """S. Timoshenko, Analysis of bi-metal thermostats (1925): curvature of a strip of two layers that grow unequally."""
    n, pitch, g = 31, 1.0, 3e-4
    done = driven_row.drive(
        _strips(t1, t2, g, 0.0),
        count=n,
        pitch_in=pitch,
        modulus_psi=1e7,
        order=tuple(range(n)),
        held=frozenset(range(n)),
    )
    m, h = t1 / t2, t1 + t2
    want = 6 * (g / pitch) * (1 + m) ** 2 / (h * (3 * (1 + m) ** 2 + (1 + m) * (m**2 + 1 / m)))
    middle = np.abs(_curvature(done, pitch))[5:-5]
    np.testing.assert_allclose(middle, want, rtol=1e-6)


def test_with_tight_fasteners_everywhere_the_order_does_not_matter() -> None:
    n = 21
    made = [
        driven_row.drive(
            _strips(0.02, 0.05, 4e-4, 1e-4),
            count=n,
            pitch_in=1.0,
            modulus_psi=1e7,
            order=driven_row.order_of(n, name),
            held=frozenset(range(n)),
        )
        for name in driven_row.ORDERS
    ]
    for one in made[1:]:
        np.testing.assert_allclose(one.deflection_in, made[0].deflection_in, atol=1e-12)
        assert one.mismatch_in == 0


def test_equal_growth_of_equal_layers_bows_nothing_and_order_matters_when_loose() -> None:
    n = 21
    even = driven_row.drive(
        _strips(0.03, 0.03, 3e-4, 3e-4),
        count=n,
        pitch_in=1.0,
        modulus_psi=1e7,
        order=tuple(range(n)),
        held=frozenset(),
    )
    assert np.abs(even.deflection_in).max() < 1e-10
    loose = {
        name: driven_row.drive(
            _strips(0.02, 0.06, 4e-4, 0.0),
            count=n,
            pitch_in=1.0,
            modulus_psi=1e7,
            order=driven_row.order_of(n, name),
            held=frozenset(),
        )
        for name in driven_row.ORDERS
    }
    assert loose["every tenth, then halving"].mismatch_in < loose["one end to the other"].mismatch_in


@pytest.mark.parametrize("name", driven_row.ORDERS)
@pytest.mark.parametrize("n", [3, 11, 30, 61])
def test_every_order_takes_each_hole_once(name: str, n: int) -> None:
    assert sorted(driven_row.order_of(n, name)) == list(range(n))


def test_driven_row_says_that_it_is_a_model() -> None:
    layers = [
        {"part": "skin", "thickness": ".020", "width": "2", "growth": ".0003"},
        {"part": "edge", "thickness": ".063", "width": ".75", "growth": ".0001"},
    ]
    outcome = run("driven-row", title="te", layers=layers, holes=31, pitch="1")
    assert "never overrules" in outcome.cautions[0]
    assert np.isfinite(value(outcome, "bow"))
    assert read(driven_row.Driving, {"title": "te", "layers": layers, "holes": 31, "pitch": "1"}).holes == 31


def test_patch_holds_what_the_table_asks_beyond_each_side() -> None:
    outcome = run("patch", title="bay 4", thickness=".032", width="2 in", height="1.5 in")
    assert value(outcome, "answer") == "patch"
    needed = value(outcome, "rivets_a_side")
    assert needed == 10  # 2 in at 4.9 a inch
    holes = np.array([i.center for i in outcome.templates[0].items if isinstance(i, Circle)])
    assert len(holes) == value(outcome, "rivets")
    for axis, side in ((1, 1.5), (0, 2.0)):
        for sign in (1, -1):
            assert (sign * holes[:, axis] > side / 2).sum() >= needed
    gap = np.hypot(*np.moveaxis(holes[:, None] - holes[None], 2, 0))
    assert gap[~np.eye(len(holes), dtype=bool)].min() >= 3 * 0.125 - 1e-9
    half = np.array([value(outcome, "patch_width"), value(outcome, "patch_height")]) / 2
    assert (half - np.abs(holes)).min() >= 0.25 - 1e-9
    assert (np.maximum(np.abs(holes)[:, 0] - 1.0, np.abs(holes)[:, 1] - 0.75)).min() >= 0.25 - 1e-9


def test_patch_is_not_for_new_or_primary_parts() -> None:
    assert (
        value(run("patch", title="x", thickness=".032", width="2", height="1.5", new_part="yes"), "answer")
        == "replace the part"
    )
    primary = run("patch", title="x", thickness=".032", width="2", height="1.5", primary="yes")
    assert value(primary, "answer") == "ask"
    assert not primary.templates
    assert not primary.sheets[0].tray
    with pytest.raises(InputError):
        run("patch", title="x", thickness=".032", width="2", height="1.5", corner="1")
