"""Changes of equipment and ballast: FAA knowledge test questions, read with their answers in study pages that quote them."""

from __future__ import annotations

import pytest

from reference.printed import assert_printed
from ribwright.core.massprops.moments import ballast_lb
from ribwright.services.calculations import run_calculation

COVERS = {"ballast": "FAA knowledge test question, 4,954 lb at 30.5 in to the limit of 32.0 in: 57.16 lb"}


def change(item: str, what: str, weight: float, arm: float) -> dict[str, object]:
    return {"item": item, "what": what, "weight": weight, "arm": arm}


def test_seats_out_cabinet_seat_and_radio_in() -> None:
    """2,886 lb with a moment of 101,673.78; afterwards 3,003 lb, 110,670.78 lb·in, CG 36.85, moved 1.62 in aft."""
    made = run_calculation(
        "weight-change",
        {
            "empty_weight": 2886, "empty_cg": repr(101673.78 / 2886),
            "changes": [
                change("two seats", "take out", 30, 71), change("cabinet", "put in", 97, 71),
                change("seat and belt", "put in", 20, 71), change("radio", "put in", 30, 94),
            ],
        },
    ).answer["results"]  # fmt: skip
    assert_printed(made["weight"]["value"], "3003")
    assert_printed(made["moment"]["value"], "110670.78")
    assert_printed(made["cg"]["value"], "36.85")
    assert_printed(made["cg_change"]["value"], "1.62")


@pytest.mark.parametrize(
    ("weight", "cg", "changes", "then", "moment", "cg_then"),
    [
        (2100, 32.5, [("seats", "take out", 36, 73), ("structure", "put in", 17, 77), ("seat", "put in", 35, 74.5), ("radio", "put in", 35, 95)], "2151", "72863.5", "33.87"),
        (1500, 28.4, [("seats", "take out", 24, 68.5), ("structure", "put in", 28, 73), ("seat", "put in", 30, 70.5), ("radio", "put in", 25, 85)], "1559", "47240", "30.30"),
    ],
)  # fmt: skip
def test_structure_seat_and_radio(
    weight: float,
    cg: float,
    changes: list[tuple[str, str, float, float]],
    then: str,
    moment: str,
    cg_then: str,
) -> None:
    raw = {"empty_weight": weight, "empty_cg": cg, "changes": [change(*c) for c in changes]}
    made = run_calculation("weight-change", raw).answer["results"]
    assert_printed(made["weight"]["value"], then)
    assert_printed(made["moment"]["value"], moment)
    assert_printed(made["cg"]["value"], cg_then)


def test_the_same_question_as_a_build_up_of_two_parts_and_as_two_weighings() -> None:
    parts = [
        {"name": "aeroplane", "weighed": 1500, "arm": 28.4}, {"name": "structure", "weighed": 28, "arm": 73},
        {"name": "seat", "weighed": 6, "arm": 78.5}, {"name": "radio", "weighed": 25, "arm": 85},
    ]  # fmt: skip
    # seats out at 68.5 and in at 70.5: 30 lb less 24 lb, 2,115 less 1,644 lb·in, that is 6 lb at 78.5 in
    built = run_calculation("weight-build-up", {"parts": parts}).answer["results"]
    assert_printed(built["forecast_weight"]["value"], "1559")
    assert_printed(built["forecast_moment"]["value"], "47240")
    assert_printed(built["forecast_cg"]["value"], "30.30")
    compared = run_calculation(
        "weighings-compared",
        {
            "weighings": [{"when": "before", "weight": 1500, "cg": 28.4}, {"when": "after", "weight": 1559, "cg": "30.30"}],
            "changes": [{"item": p["name"], "weight": p["weighed"], "arm": p["arm"]} for p in parts[1:]],
        },
    ).answer  # fmt: skip
    assert compared["status"] == "within limits"
    assert compared["results"]["weight_unexplained"]["value"] == [0.0]


def test_ballast_to_the_forward_limit() -> None:
    assert_printed(
        float(ballast_lb(total_lb=4954.0, wanted_in=32.0, present_in=30.5, ballast_in=162.0)), "57.16"
    )


def test_negligible_changes_of_the_advisory_circular() -> None:
    """AC 43.13-1B par. 10-2c: 1 lb below 5,000 lb empty, and .05 per cent MAC."""
    raw = {"empty_weight": 1000, "empty_cg": 60, "lemac": 50, "mac": 50}
    for weight, arm, said in (
        (1.0, 84.9, "negligible: at most 1 lb"),
        (1.0, 85.2, "more than 0.05 % MAC"),
        (1.1, 60.0, "more than 1 lb"),
    ):
        made = run_calculation("weight-change", {**raw, "changes": [change("x", "put in", weight, arm)]})
        assert said in made.answer["results"]["negligible"]["value"]
