"""Splice, wedge row, pull-type row, identify and bolt: what they must say for cases worked by hand."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest

from ribwright.core.audit import Outcome, Worksheet, read
from ribwright.core.audit.calculation import CALCULATIONS
from ribwright.core.audit.index import found
from ribwright.core.fastening import bolts, double_flush, identify, length, pull_rivets, splice, wedge  # noqa: F401
from ribwright.errors import DoesNotFitError, GeometryError, InputError, OutsideTableError, TableError


def run(name: str, **raw: Any) -> Outcome:
    made = CALCULATIONS[name]
    outcome = made.run(read(made.spec, raw), Worksheet())
    assert tuple(outcome.results) == made.result_keys
    json.dumps({k: r.as_data() for k, r in outcome.results.items()}, allow_nan=False)
    return outcome


def value(outcome: Outcome, key: str) -> Any:
    return outcome.results[key].value


WEDGE: dict[str, Any] = {
    "title": "trailing edge", "near_skin": ".020", "half_angle": "5.5 deg", "from_edge_first": "3/8", "from_edge_last": "5/16",
    "edge_thickness": ".02", "first": "1/2", "last": "57.5", "pitch": "1", "part_length": "58",
}  # fmt: skip
PULL: dict[str, Any] = {
    "title": "nose lap", "layers": [{"part": "upper", "thickness": ".020"}, {"part": "lower", "thickness": ".020"}],
    "rivet": "supplier's data sheet", "diameter": "1/8", "hole_low": ".128", "hole_high": ".132", "grip_low": ".031",
    "grip_high": ".125", "first": "1", "last": "21", "pitch": "2", "shear": "260 lb",
}  # fmt: skip


def test_a_head_keeps_the_volume_of_what_stood_proud() -> None:
    d, hole, grip, proud, height = 0.125, 0.1285, 0.1, 0.1875, 0.0625
    head = float(
        length.head_diameter_in(
            proud_in=proud, diameter_in=d, hole_in=hole, grip_in=grip, head_height_in=height
        )
    )
    assert head**2 * height + grip * hole**2 == pytest.approx((grip + proud) * d**2, rel=1e-12)


def test_wedge_grip_shrinks_toward_the_edge_and_each_hole_gets_a_length_inside_its_own_limits() -> None:
    outcome = run("wedge-row", **WEDGE)
    grips, lengths = np.array(value(outcome, "grips")), np.array(value(outcome, "length_in_hole"))
    proud = outcome.results["shank_proud"]
    assert (np.diff(grips) < 0).all()
    assert (lengths - grips >= proud.low - 1e-9).all()
    assert (lengths - grips <= proud.high + 1e-9).all()
    assert value(outcome, "ranges") >= 2
    # the trade's band for 3/32, and the volume that fills a 100° seat lies in or near it
    assert 0.044 < proud.low < 0.046
    assert 0.050 < proud.high < 0.052


def test_double_flush_shank_fills_hole_and_far_cone() -> None:
    d, hole, head, grip = 0.09375, 0.096, 0.179, 0.11
    h = float(double_flush.cone_depth_in(head_in=head, hole_in=hole))
    proud = float(
        double_flush.double_flush_proud_in(
            grip_in=grip, depth_in=h, hole_in=hole, diameter_in=d, head_in=head
        )
    )
    z = np.linspace(0, h, 20001)
    width = hole + (head - hole) * z / h
    cone = float(np.trapezoid(width**2, z))
    assert (grip - h + proud) * d**2 == pytest.approx((grip - 2 * h) * hole**2 + cone, rel=1e-6)


def test_wedge_sheets_say_square_to_the_chord_and_square_to_each_face() -> None:
    said = json.dumps(
        [s.settings and [x.value for x in s.settings] for s in run("wedge-row", **WEDGE).sheets]
    )
    assert "square to the chord" in said
    assert "off the hole" in said
    assert len(run("wedge-row", **WEDGE).templates) == 3


def test_a_wedge_stack_no_thicker_than_its_skins_is_refused() -> None:
    with pytest.raises(GeometryError, match="two skins"):
        run("wedge-row", **WEDGE | {"stack_first": ".035", "stack_last": ".05"})


def test_pull_rivet_stack_inside_its_grip_range() -> None:
    outcome = run("pull-rivet-row", **PULL)
    assert outcome.status == "within limits"
    assert value(outcome, "rivets") == 11
    assert value(outcome, "row_shear") == 11 * 260
    assert value(outcome, "final_drill") == "#30"
    thick = [{"part": "a", "thickness": ".063"}, {"part": "b", "thickness": ".063"}]
    assert run("pull-rivet-row", **PULL | {"layers": thick}).status == "rework"
    near = run(
        "pull-rivet-row",
        **PULL | {"layers": [{"part": "a", "thickness": ".061"}] * 2, "stack_tolerance": ".006"},
    )
    assert near.findings[0].verdict.value == "undecided"


def test_pull_rivet_without_strength_says_so_and_a_turned_range_is_refused() -> None:
    bare = {k: v for k, v in PULL.items() if k != "shear"}
    assert "not stated" in value(run("pull-rivet-row", **bare), "row_shear")
    with pytest.raises(InputError, match="turned round"):
        run("pull-rivet-row", **PULL | {"grip_high": ".02"})


@pytest.mark.parametrize(
    ("raw", "number", "structural"),
    [
        ({"shank": ".0935", "length": ".219", "head": ".178", "shape": "flush 100°"}, "MS20426AD3-3.5", True),
        ({"shank": ".125", "length": ".25", "head": ".25"}, "MS20470AD4-4", True),
        ({"shank": ".125", "length": ".25", "head": ".25", "mark": "plain"}, "MS20470A4-4", False),
        (
            {"shank": ".155", "length": ".374", "head": ".31", "mark": "two raised dashes"},
            "MS20470DD5-6",
            True,
        ),
        (
            {
                "shank": ".189",
                "length": ".657",
                "head": ".375",
                "shape": "hexagon",
                "mark": "cross or asterisk",
            },
            "AN3-5",
            True,
        ),
        (
            {
                "shank": ".249",
                "length": "1.655",
                "head": ".437",
                "shape": "hexagon",
                "mark": "cross or asterisk",
            },
            "AN4-15",
            True,
        ),
    ],
)
def test_identify(raw: dict[str, str], number: str, structural: bool) -> None:
    outcome = run("identify", **raw)
    assert value(outcome, "part_number") == number
    assert value(outcome, "structural") is structural
    assert outcome.results["sure"].shown.startswith("shank")


def test_identify_says_when_numbers_disagree_and_warns_of_soft_ones() -> None:
    assert "in doubt" in value(run("identify", shank=".125", length=".23", head=".2"), "sure")
    assert any(
        "SOFT" in c for c in run("identify", shank=".125", length=".25", head=".25", mark="plain").cautions
    )
    with pytest.raises(InputError, match="no solid rivet"):
        run("identify", shank=".11", length=".25", head=".25")


def test_splice_refuses_what_the_tables_do_not_hold() -> None:
    with pytest.raises(TableError):
        run("splice", title="x", thickness=".032", width="10", material="6061-T6")
    with pytest.raises(OutsideTableError):
        run("splice", title="x", thickness=".190", width="10")
    with pytest.raises(OutsideTableError):
        run("splice", title="x", thickness=".016", width="10", size="1/4")
    with pytest.raises(DoesNotFitError):
        run("splice", title="x", thickness=".032", width=".3")


def test_splice_on_primary_structure_gives_no_outline_to_cut() -> None:
    assert not run("splice", title="x", thickness=".032", width="10", primary="yes").templates


def test_bolt_by_stack_torque_and_drag() -> None:
    outcome = run("bolt", title="bracket", stack=".25", size="AN3", drag="6 lb-in")
    torque = outcome.results["torque"]
    assert (torque.low, torque.high) == (26.0, 31.0)
    assert value(outcome, "grip") >= 0.25
    assert outcome.status == "within limits"
    short = run("bolt", title="bracket", stack=".3", size="AN3", dash=5)
    assert short.findings[0].verdict.value == "rework"
    assert "not stated" in run("bolt", title="b", stack=".25", lubricated="yes").results["torque"].shown


def test_all_are_in_the_index() -> None:
    names = {e.name for e in found()}
    assert {"seam", "splice", "wedge-row", "pull-rivet-row", "identify", "bolt"} <= names
