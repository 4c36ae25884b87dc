"""One seam: what is worked out, what is only noted, what is refused."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import pytest

from ribwright.core.audit import Outcome
from ribwright.core.fastening import seam  # noqa: F401
from ribwright.core.fastening.holes import treatments
from ribwright.core.scene import Circle, Hand, Marker, Text, bounds
from ribwright.errors import GeometryError, InputError, MissingError, NoSuchRowError, QuantityError
from unit.fastening.test_first_calculations import run, value

SEAM: dict[str, Any] = {
    "title": "skin to spar", "drawing": "DN-2100", "revision": "B", "hand": "left", "first": "3/4", "last": "57-1/4", "part_length": "58",
    "pitch": "1-1/8", "layers": [
        {"part": "skin", "thickness": ".020", "edge_distance": "5/16"}, {"part": "spar", "thickness": ".040", "edge_distance": "5/16"},
    ],
}  # fmt: skip


def notes(outcome: Outcome) -> str:
    return " ".join(step.text for step in outcome.steps if step.kind == "note")


def test_what_the_drawing_leaves_open_is_worked_out() -> None:
    outcome = run("seam", **SEAM)
    assert value(outcome, "rivet") == "MS20426AD3-3.5"
    assert (value(outcome, "pilot_drill"), value(outcome, "final_drill")) == ("#42", "#40")
    assert "skin: dimple" in value(outcome, "treatments")
    assert "spar: countersink" in value(outcome, "treatments")
    assert value(outcome, "holes") == 52
    assert outcome.status == "within limits"


def test_a_wide_pitch_called_out_is_a_note_and_no_finding() -> None:
    outcome = run("seam", **SEAM)
    assert "not a finding" in notes(outcome)
    assert all(f.verdict.value == "within limits" for f in outcome.findings)


def test_a_called_out_rivet_is_taken_and_our_arithmetic_is_a_note() -> None:
    outcome = run("seam", **SEAM, rivet="MS20426AD3-5")
    assert value(outcome, "rivet") == "MS20426AD3-5"
    assert "longer than grip plus 1.5 D" in notes(outcome)
    assert not [f for f in outcome.findings if "length" in f.requirement]


def test_head_at_both_ends_of_the_tolerance() -> None:
    loose = run("seam", **SEAM, stack_tolerance=".006").results["head_made"]
    tight = run("seam", **SEAM, stack_tolerance="0").results["head_made"]
    assert loose.low < tight.low < tight.value < tight.high < loose.high
    short = run("seam", **SEAM, rivet="MS20426AD3-2.5", stack_tolerance=".006")
    assert "under 1.3 D" in notes(short)


def test_short_edge_distance_is_asked() -> None:
    layers = [{**SEAM["layers"][0], "edge_distance": ".2"}, SEAM["layers"][1]]
    outcome = run("seam", **SEAM | {"layers": layers})
    assert outcome.status == "refer"
    assert outcome.findings[0].margin == pytest.approx(0.2 - 2.5 * 0.09375)


def test_each_hole_is_lettered_by_its_tightest_check() -> None:
    outcome = run("seam", **SEAM)
    assert "E (edge distance): 52 holes" in value(outcome, "tightest_checks")
    assert outcome.picture is not None
    letters = [i.text for i in outcome.picture.items if isinstance(i, Text) and i.text == "E"]
    assert len(letters) == 52


def test_open_holes_take_no_rivet_and_say_so_on_every_sheet() -> None:
    outcome = run("seam", **SEAM, exceptions=[{"hole": 7, "what": "left open"}])
    assert value(outcome, "rivets") == 51
    for sheet in outcome.sheets:
        assert any("7" in caution and "open" in caution for caution in sheet.cautions)


def test_full_size_strip_has_each_hole_at_its_place_and_the_hand() -> None:
    outcome = run("seam", **SEAM)
    strip = outcome.templates[0]
    holes = [i.center[0] for i in strip.items if isinstance(i, Circle)]
    assert holes == pytest.approx(value(outcome, "hole_positions"))
    assert any(isinstance(i, Hand) for i in strip.items)


def test_strength_of_a_protruding_rivet_uses_the_edge_distance_it_has() -> None:
    thick = [{"part": "a", "thickness": ".063", "edge_distance": "1/4"}, {"part": "b", "thickness": ".063"}]
    raw = SEAM | {"layers": thick, "head": "universal", "size": "5/32"}
    near = run("seam", **raw | {"layers": [{**thick[0], "edge_distance": ".25"}, thick[1]]})
    labels = {step.label: step for step in near.steps}
    assert "one rivet carries" in labels
    assert labels["bearing stress, 2024-T3 clad"].value == pytest.approx(
        101_000 + 24_000 * (0.25 / 0.15625 - 1.5) / 0.5
    )
    assert "flush joints" in notes(run("seam", **SEAM))


def test_a_narrow_flange_is_noted() -> None:
    layers = [SEAM["layers"][0], {**SEAM["layers"][1], "flange": "1/2", "bend_radius": "1/8"}]
    assert "narrower than" in notes(run("seam", **SEAM | {"layers": layers}))
    wide = [SEAM["layers"][0], {**SEAM["layers"][1], "flange": "7/8", "bend_radius": "1/8"}]
    assert "narrower than" not in notes(run("seam", **SEAM | {"layers": wide}))


def test_thin_layers_under_a_flush_head_are_dimpled_down_to_the_one_that_holds_the_cone() -> None:
    made = treatments(head="flush 100°", size="3/32", thickness_in=(0.020, 0.025, 0.063, 0.020))
    assert [one.kind for one in made] == ["dimple", "dimple", "countersink", "neither"]
    assert made[2].extra_depth_in == pytest.approx(0.305 * 0.045)
    assert {one.kind for one in treatments(head="universal", size="1/8", thickness_in=(0.02, 0.02))} == {
        "neither"
    }


def test_different_alloys_and_primary_structure_are_said() -> None:
    layers = [SEAM["layers"][0], {**SEAM["layers"][1], "material": "6061-T6"}]
    outcome = run("seam", **SEAM | {"layers": layers}, primary="yes")
    assert any("prime every faying surface" in c for c in outcome.cautions)
    assert "Primary structure" in outcome.cautions[0]


@pytest.mark.parametrize(
    ("raw", "error"),
    [
        ({"access": "one side"}, InputError),
        ({"last": "1/2"}, GeometryError),
        ({"last": "58"}, GeometryError),
        ({"pitch": ".08"}, GeometryError),
        ({"rivet": "MS20470AD3-4"}, InputError),
        ({"rivet": "MS20426AD3-1"}, GeometryError),
        ({"exceptions": [{"hole": 99, "what": "left open"}]}, GeometryError),
        ({"exceptions": [{"hole": 3, "what": "other fastener"}]}, MissingError),
        ({"layers": [{"part": "a", "thickness": ".2"}, {"part": "b", "thickness": ".2"}]}, NoSuchRowError),
        ({"layers": [{"part": "a", "thickness": ".4"}, {"part": "b", "thickness": ".2"}]}, GeometryError),
        (
            {
                "layers": [
                    {"part": "a", "thickness": ".02", "edge_distance": ".03"},
                    {"part": "b", "thickness": ".02"},
                ]
            },
            GeometryError,
        ),
    ],
)
def test_what_can_not_be_is_refused_with_the_mend(raw: dict[str, Any], error: type[Exception]) -> None:
    with pytest.raises(error):
        run("seam", **SEAM | raw)


def test_each_hole_has_a_bar_for_what_it_keeps_and_a_short_one_is_dark() -> None:
    from ribwright.core.scene import Polygon

    def bars(**more: Any) -> list[str]:
        outcome = run("seam", **SEAM | more)
        assert outcome.picture is not None
        fills = [
            i.fill for i in outcome.picture.items if isinstance(i, Polygon) and i.fill.startswith("grade")
        ]
        return fills[: int(value(outcome, "holes"))]

    layers = [{**SEAM["layers"][0], "edge_distance": ".2"}, SEAM["layers"][1]]
    assert set(bars(layers=layers)) == {"grade-0"}
    wide = [{**layer, "edge_distance": "1/2"} for layer in SEAM["layers"]]
    # only the last hole lies near the end of the part: 3/4 in against 7/8
    near = bars(layers=wide, first="7/8", last="57.77", part_length="58")
    assert near[-1] == "grade-0"
    assert "grade-0" not in near[:-1]


def test_the_steps_of_the_scale_keep_their_order_in_grey() -> None:
    from ribwright.core.writers.pens import GRADES

    def grey(colour: str) -> float:
        r, g, b = (int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5))
        linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in (r, g, b)]
        return 116 * (0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]) ** (1 / 3) - 16

    light = [grey(colour) for colour in GRADES]
    assert all(b - a > 12 for a, b in pairwise(light)), light


def test_a_bare_number_beside_millimetres_is_asked_about() -> None:
    """700 after 10 mm would be 700 inches: nobody means that."""
    metric = SEAM | {"first": "10 mm", "last": "700", "part_length": "", "pitch": ""}
    with pytest.raises(QuantityError, match="Write 700 mm or 700 in") as refused:
        run("seam", **metric)
    assert refused.value.name == "last"
    assert value(run("seam", **metric | {"last": "700 mm"}), "holes") == 50
    assert value(run("seam", **SEAM | {"pitch": "28 mm", "first": "0.75 in", "last": "57.25 in", "part_length": "58 in"}), "holes") > 50  # fmt: skip


@pytest.mark.parametrize(("length", "a_line"), [("58 in", 10), ("142 in", 16)])
def test_the_map_of_a_long_row_can_be_read_on_its_printed_sheet(length: str, a_line: int) -> None:
    """Ten holes a line made a long row a tall, narrow picture with numbers of half a millimetre."""
    last = f"{float(length.split()[0]) - 0.6:g} in"
    raw = SEAM | {"part_length": length, "first": ".6 in", "last": last, "pitch": "1 in"}
    drill = next(sheet for sheet in run("seam", **raw).sheets if sheet.stage == "drill")
    assert drill.picture is not None
    box = bounds(drill.picture)
    scale = min(7.2 / box.width, 380 / 72 / box.height)  # as the page has room
    numbers = [one.label for one in drill.picture.items if isinstance(one, Marker)]
    assert numbers == [str(k + 1) for k in range(len(numbers))]
    tallest = max(one.height for one in drill.picture.items if isinstance(one, Marker)) * scale
    assert tallest > 0.05
    assert box.width == pytest.approx(a_line, abs=0.3)
