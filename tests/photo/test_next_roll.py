"""From a profile's photo to the next roll: how much turn is missing, which tool, how much further."""

from __future__ import annotations

import numpy as np
import pytest

from photo.render_profile import nose_outline, true_deviation
from ribwright.core.metrology.gauge_sheet import profile_card_layout
from ribwright.errors import FormatError
from ribwright.services.photo_bend import bend_of, next_roll, roll_of_input
from ribwright.services.photo_next import profile_next

RADIUS_MM = 26.0


def _tool(name: str, outside: str, inside: str = "") -> dict[str, str]:
    kind = {"material": "PVC pipe", "inside": inside} if inside else {"material": "aluminium"}
    return {"name": name, "outside": outside, **kind}


PLAN = {
    "alloy": "2024-T3 clad", "thickness": ".020 in", "tool": "1.05", "zone": "zone 20 to 34 in along the edge",
    "tools": [_tool("3/4 pipe", "1.05", ".82"), _tool("1 in rod", "1.0"), _tool("0.95 rod", ".95")],
}  # fmt: skip


@pytest.fixture(scope="module")
def layout():
    return profile_card_layout(name="nose", outline_mm=nose_outline(RADIUS_MM, 6, 60), laid=False)


def _answer(layout, turned_deg: float, finding: str = "rework"):
    """What a photo would say of a nose whose two legs stand open by so much each, spread over its arc."""
    target = layout["target"]
    outline = np.array(target["outline_xy"])
    along = np.r_[0, np.cumsum(np.hypot(*np.diff(outline, axis=0).T))]
    along -= along[-1] / 2
    run = np.unwrap(np.arctan2(*np.gradient(outline, axis=0).T[::-1]))
    way = np.sign(run[-1] - run[0])
    run = run - way * np.radians(turned_deg) * np.clip(along / (np.pi / 2 * RADIUS_MM), -1, 1)
    made = np.cumsum(np.column_stack([np.cos(run), np.sin(run)]) * np.gradient(along)[:, None], axis=0)
    made += outline[len(outline) // 2] - made[len(outline) // 2]
    deviation, _, _ = true_deviation(np.array(target["arc_xy"]), np.array(target["arc_normal_out"]), made)
    return {
        "finding": finding, "deviation_bestfit_mm": deviation.tolist(), "u95_mm": [0.08] * len(deviation),
        "arc_positions_mm": target["arc_positions_mm"],
    }  # fmt: skip


@pytest.mark.parametrize("turned", [-3.0, 2.0, 5.0])
def test_the_turn_that_a_nose_lacks_is_told(layout, turned):
    answer = _answer(layout, turned)
    bend = bend_of([0, 1, 2, 3], answer, layout)  # a leg that stands off: the bend is where the nose is
    assert bend.lacks_deg == pytest.approx(2 * turned, rel=0.2)  # the two ends of the bend are left out
    assert bend.wanted_mm == pytest.approx(RADIUS_MM, rel=0.02)
    assert bend.u95_deg < 1.0


def test_zone_tool_and_angle_are_named_where_the_plan_is_known(layout):
    answer = _answer(layout, 8.0)
    said = profile_next(answer, 0.8, layout=layout, plan=PLAN)
    assert said.startswith("zone 20 to 34 in along the edge: ")
    roll = next_roll([0, 1, 2, 3], answer, layout, PLAN)
    assert roll in said
    assert "roll again on 1 in rod (1.00 in), " in roll
    further = float(roll.rsplit(", ", 1)[1].removesuffix("° further"))
    lacks = bend_of([0, 1, 2, 3], answer, layout).lacks_deg
    assert lacks < further < 3.5 * lacks  # on the tool it turns further than it keeps when let go
    # too much bend is never rolled away, and what is within the template is left alone
    assert "roll again" not in profile_next(_answer(layout, -4.0), 0.8, layout=layout, plan=PLAN)
    assert (
        profile_next(_answer(layout, 0.1, "within limits"), 0.8, layout=layout, plan=PLAN) == "It fits: stop."
    )
    # without a plan the opening is asked for
    assert "after the roll" in profile_next(answer, 0.8)


def test_a_radius_that_the_planned_tool_can_not_leave_is_said_to_be_so(layout):
    assert "held in the photo" in profile_next(
        _answer(layout, 9.0), 0.8, layout=layout, plan={**PLAN, "tool": "1.66"}
    )


def test_the_plan_beside_a_photo_is_checked():
    assert roll_of_input({}) is None
    assert roll_of_input({"roll": {"tool": "1.05"}, "sheet_thickness_mm": 0.5})["thickness"] == "0.5 mm"
    for wrong in ({"roll": 3}, {"roll": {"tool": "1", "speed": 2}}):
        with pytest.raises(FormatError):
            roll_of_input(wrong)
