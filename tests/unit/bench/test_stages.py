"""What can be done now."""

from __future__ import annotations

import pytest

from ribwright.core.bench.stages import Operation, Stage, ready_stages, working_order
from ribwright.errors import CycleError


def op(
    ref: str,
    *stages: str,
    after: tuple[str, ...] = (),
    blocked: str = "",
    needs: dict[str, tuple[str, ...]] | None = None,
) -> Operation:
    made = tuple(Stage(name, after=(needs or {}).get(name, ())) for name in stages)
    return Operation(ref, ref, made, after, "A", blocked)


def test_the_next_stage_of_each_operation_is_ready_or_waits() -> None:
    operations = [
        op("A1", "drill", "rivet"),
        op("A2", "drill", after=("A1/rivet",)),
        op("A3", "drill", blocked="discrepancy D4"),
    ]
    ready, waiting = ready_stages(operations, {"A1/drill"})
    assert [(r.ref, r.stage) for r in ready] == [("A1", "rivet")]
    assert {w.ref: w.waits_for for w in waiting} == {"A2": ("A1/rivet",), "A3": ("discrepancy D4",)}
    ready, _ = ready_stages(operations, {"A1/drill", "A1/rivet"})
    assert [(r.ref, r.stage) for r in ready] == [("A2", "drill")]


def test_a_whole_operation_may_be_waited_for() -> None:
    operations = [op("A1", "drill", "rivet"), op("A2", "drill", after=("A1",))]
    assert [r.ref for r in ready_stages(operations, {"A1/drill"})[0]] == ["A1"]
    assert [r.ref for r in ready_stages(operations, {"A1/drill", "A1/rivet"})[0]] == ["A2"]


def test_begun_operations_come_first_then_like_stages_side_by_side() -> None:
    operations = [op("A1", "rivet"), op("A2", "drill"), op("A3", "fit", "rivet"), op("A4", "drill")]
    ready, _ = ready_stages(operations, {"A3/fit"})
    assert [r.ref for r in ready] == ["A3", "A2", "A4", "A1"]


def test_working_order_respects_every_after_even_woven() -> None:
    operations = [
        op("A1", "drill", "rivet", needs={"rivet": ("A2/drill",)}),
        op("A2", "drill", "rivet", needs={"rivet": ("A1/rivet",)}),
    ]
    order = working_order(operations)
    assert sorted(order) == [("A1", "drill"), ("A1", "rivet"), ("A2", "drill"), ("A2", "rivet")]
    assert order.index(("A2", "drill")) < order.index(("A1", "rivet")) < order.index(("A2", "rivet"))


def test_a_circle_is_named() -> None:
    operations = [
        op("A1", "drill", after=("A2",)),
        op("A2", "drill", after=("A3/drill",)),
        op("A3", "drill", after=("A1",)),
    ]
    with pytest.raises(CycleError) as refused:
        ready_stages(operations, set())
    assert all(ref in refused.value.sentence() for ref in ("A1", "A2", "A3"))
