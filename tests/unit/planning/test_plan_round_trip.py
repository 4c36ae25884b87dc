"""The list of tasks written out, edited and taken in again; one evening's filters."""

from __future__ import annotations

import csv
import io
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from filled import ANN, filled
from ribwright.core.planning.tasks import Plan, Task
from ribwright.core.planning.tonight import left_out
from ribwright.errors import ConflictError, InputError
from ribwright.services.plan import inputs
from ribwright.services.plan_export import plan_tasks_csv
from ribwright.services.plan_import import look_at, take_in
from ribwright.services.plan_tonight import evening, tonight_of
from ribwright.services.plan_tonight_form import tonight_spec


@pytest.fixture
def project(tmp_path: Path):
    with filled(tmp_path / "p") as made:
        yield made


def edited(text: str, **changes: dict[str, str]) -> str:
    rows = list(csv.DictReader(io.StringIO(text, newline="")))
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, rows[0])
    writer.writeheader()
    writer.writerows(row | changes.get(row["key"].replace("-", "_"), {}) for row in rows)
    return out.getvalue()


def test_the_list_as_written_out_changes_nothing(project):
    found = look_at(project, plan_tasks_csv(project))
    assert (found.tasks, found.operations) == ((), ())
    assert found.unchanged == len(inputs(project).plan.tasks)


def test_edited_hours_of_an_operation_come_into_its_stages(project):
    text = edited(
        plan_tasks_csv(project), DN_21_S01={"hours": "30", "helper": "yes"}, engine_run={"hours": "9"}
    )
    found = take_in(project, actor=ANN, request_id="csv", text=text)
    assert [one.ref for one in found.operations] == ["DN-21-S01"]
    tasks = {task.key: task for task in inputs(project).plan.tasks}
    assert tasks["DN-21-S01"].hours == pytest.approx(30.0)
    assert tasks["DN-21-S01"].helper
    assert look_at(project, text).operations == ()


def test_what_a_list_cant_change_is_said(project):
    with pytest.raises(ConflictError, match="DN-21-S01"):
        look_at(project, edited(plan_tasks_csv(project), DN_21_S01={"needs": "nothing"}))
    with pytest.raises(InputError):
        look_at(project, edited(plan_tasks_csv(project), DN_21_S01={"hours": "-3"}))
    rework = next(task.key for task in inputs(project).plan.tasks if task.key.startswith("discrepancy"))
    with pytest.raises(ConflictError, match="change it there"):
        look_at(project, f"key,hours\r\n{rework},3\r\n")


def test_tonight_asks_for_everything_that_a_task_may_want():
    task = Task("a", "a", 2.0, helper=True, warm=True, daylight=True, tools=("jig",), uses=(("floor", 30.0),))
    other = Task("b", "b", 2.0, uses=(("floor", 25.0),), spent_hours=1.0)
    plan = Plan(date(2026, 11, 25), (task, other), shop=(("floor", 50.0),))

    def why(**asked: str) -> str:
        return left_out(task, tonight_of(tonight_spec(asked), plan))

    full = {"who": "with the helper", "temperature": "20 °C", "light": "in daylight", "room": "floor 30"}
    assert why(**full) == ""
    assert why(**full | {"who": "alone"}) == "needs the helper"
    assert why(**full | {"temperature": "3 °C"}) == "needs a warm shop"
    assert why(**full | {"light": "by lamplight"}) == "needs daylight"
    assert why(**full | {"tools": "scales, jig"}) == "needs jig"
    assert why(**full | {"room": ""}) == "takes 30 of floor, 25 free"
    assert (
        left_out(replace(task, spent_hours=1.0), tonight_of(tonight_spec(full | {"room": "floor 5"}), plan))
        == ""
    )


def test_a_tool_that_is_away_leaves_its_stages_out(project):
    listed = evening(project, tonight_spec({"hours": "8 h", "who": "with the helper"}), wait=None)
    stage = next(line for one in listed.groups for line in one.lines if line.stage)
    name = next(one.set_up for one in listed.groups if stage in one.lines)
    asked = {"hours": "8 h", "who": "with the helper", "tools": name.split(",")[0]}
    without = evening(project, tonight_spec(asked), wait=None)
    assert (stage.ref, stage.stage) in {
        (ref, of) for ref, of, why in without.left_out if why.startswith("needs")
    }
