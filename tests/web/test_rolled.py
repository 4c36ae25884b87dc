"""A rolled edge: the rule's reading gives stop or what next, and a lot of sheet narrows the next edge."""

from __future__ import annotations

import json
import re
import subprocess
import sys

import pytest
from starlette.testclient import TestClient

from filled import ANN
from ribwright.core.forming.closing import opening_in
from ribwright.errors import ConflictError, MissingError, UnknownNameError
from ribwright.services.operations import operation_view
from ribwright.services.project import Project
from ribwright.services.record import findings, readings, set_object
from ribwright.services.rolled import FOUND, enter_roll, judge_roll, narrow_by_lot, planned, rolls
from seams import NOSE, NOSE_REF, REF

HEADERS = {"origin": "http://127.0.0.1:8370"}


def opening_of(share: float) -> str:
    """What the rule shows at the middle of the edge when the radius is this share too large."""
    wanted = (1.083 + 0.937) / 2 + 0.01
    made = opening_in(wanted_radius_in=wanted, rolled_radius_in=wanted * (1 + share), arc_rad=1.5708)
    return f"{float(made):.3f}"


def test_the_plan_gives_everything_but_the_reading(project: Project) -> None:
    _, raw = planned(project, NOSE_REF, place="25")
    assert float(raw["wanted"].split()[0]) == pytest.approx(0.937, abs=0.002)
    assert float(raw["arc"].split()[0]) == pytest.approx(90, abs=2)
    assert float(raw["tool"].split()[0]) >= 1.125
    with pytest.raises(UnknownNameError):
        planned(project, REF)


def test_a_small_opening_says_stop_and_a_wide_one_never_does(project: Project) -> None:
    assert (
        judge_roll(project, NOSE_REF, {"opening": opening_of(0.01)}).outcome.results["verdict"].value
        == "stop"
    )
    alone = {"planned_low": "-1 in", "planned_high": "-0.9 in"}  # as if the plan had expected something else
    wide = judge_roll(
        project, NOSE_REF, {"opening": opening_of(0.4), "tool": "1.315"} | alone
    ).outcome.results
    assert wide["verdict"].value == "roll again"
    assert wide["tool"].value == "1-1/8 in bar"
    over = judge_roll(project, NOSE_REF, {"opening": opening_of(-0.08)}).outcome.results["verdict"].value
    assert over in ("ease open", "can't be saved")


def test_entered_from_the_page_it_stands_with_what_was_expected(client: TestClient, project: Project) -> None:
    form = {
        "request": "rolled-12345678",
        "opening": opening_of(0.01),
        "lot": "S-771",
        "place": "12.5",
        "stage": "roll",
    }
    page = client.post(f"/operation/{NOSE_REF}/rolled", data=form, headers=HEADERS)
    assert page.status_code == 200, page.text[:500]
    assert 'class="big-answer">stop' in page.text
    assert not rolls(project)
    for _ in range(2):
        answer = client.post(f"/operation/{NOSE_REF}/rolled", data=form | {"enter": "yes"}, headers=HEADERS)
        assert answer.status_code == 303
    (one,) = rolls(project, lot="S-771")
    assert one.low_in < one.middle_in < one.high_in
    assert one.found_in == pytest.approx(1.01 * 1.02 - 0.01, abs=0.02)
    assert findings(project, NOSE_REF)[-1]["verdict"] == "within limits"
    assert "S-771" in client.get(f"/operation/{NOSE_REF}/rolled").text


def test_what_a_lot_has_shown_narrows_the_band_of_its_next_edge(project: Project) -> None:
    for number, share in enumerate((0.05, 0.055)):
        enter_roll(
            project, actor=ANN, request_id=f"lot-12345678-{number}", ref=NOSE_REF, stage="roll", lot="S-771",
            typed={"opening": opening_of(share), "limits": "1/64"},
        )  # fmt: skip
    second = "DN-21-N02"
    set_object(
        project, actor=ANN, request_id="second-nose-1", noun="operation", ref=second, parent="DN-21", title="section 3",
        data={"calculation": "nose-roll", "inputs": NOSE, "stages": [{"name": "roll", "hours": "2"}]},
    )  # fmt: skip
    before = operation_view(project, second).worked
    narrow_by_lot(project, actor=ANN, request_id="narrow-12345678", ref=second, lot="S-771")
    after = operation_view(project, second).worked
    assert before is not None
    assert after is not None
    assert len(after.spec.earlier) == 2

    def width(done: object) -> float:
        radius = done.outcome.results["radius"]  # type: ignore[attr-defined]
        return float((radius.high - radius.low) / radius.value)

    assert width(after) < 0.6 * width(before)
    with pytest.raises(ConflictError):
        narrow_by_lot(project, actor=ANN, request_id="narrow-again-1", ref=second, lot="S-771")
    with pytest.raises(MissingError):
        narrow_by_lot(project, actor=ANN, request_id="narrow-other-1", ref=second, lot="S-772")


def test_nothing_measured_is_named_and_nothing_is_entered(client: TestClient, project: Project) -> None:
    page = client.post(
        f"/operation/{NOSE_REF}/rolled", data={"request": "r-12345678", "place": "900"}, headers=HEADERS
    )
    assert page.status_code == 422
    assert "900 in" in page.text
    page = client.post(f"/operation/{NOSE_REF}/rolled", data={"request": "r-12345679"}, headers=HEADERS)
    assert page.status_code == 422
    assert re.search("Opening between mating holes", page.text)
    assert not [row for row in readings(project) if row["requirement"] == FOUND]


def test_the_command_says_the_same(project: Project) -> None:
    words = [
        "--opening",
        opening_of(0.01),
        "--lot",
        "S-1",
        "--enter",
        "--json",
        "--project",
        str(project.store.folder),
    ]
    done = subprocess.run(
        [sys.executable, "-m", "ribwright", "operation", "rolled", NOSE_REF, *words],
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout)["results"]["verdict"]["value"] == "stop"
    assert rolls(project, lot="S-1")


def test_an_edge_that_stands_far_open_was_not_held_and_is_no_contradiction(project: Project) -> None:
    said = judge_roll(project, NOSE_REF, {"opening": opening_of(1.5)}).outcome.results
    assert "more open than this tool leaves" in said["because"].value
    assert said["verdict"].value in ("roll again", "stop")
    planned_one = judge_roll(project, NOSE_REF, {"opening": planned(project, NOSE_REF)[1]["planned_high"]})
    assert "as far as the plan expected" in planned_one.outcome.results["because"].value
