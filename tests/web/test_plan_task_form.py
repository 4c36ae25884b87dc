"""A task of the plan changed on its page: the date's answer first, then the record."""

from __future__ import annotations

import re

import pytest
from starlette.testclient import TestClient

from ribwright.services.plan import inputs
from ribwright.services.project import Project


def hidden(text: str, name: str) -> str:
    found = re.search(rf'name="{name}" value="([^"]*)"', text)
    assert found is not None
    return found[1]


def test_a_task_shows_what_it_does_to_the_date_and_is_saved_when_asked(
    client: TestClient, project: Project
) -> None:
    assert "/plan/task/weighing" in client.get("/plan/tasks", params={"words": "weighing"}).text
    shown = client.get("/plan/task/weighing").text
    before = {task.key: task for task in inputs(project).plan.tasks}["weighing"]
    form = {"title": before.title, "hours": "400", "hours_badly": f"{before.hours * before.spread:g}", "trade": before.trade,
            "needs": ", ".join(before.needs), "helper": "yes", "cure_hours": "0",
            "request": hidden(shown, "request"), "seen": hidden(shown, "seen"), "looked": ""}  # fmt: skip
    looked = client.post("/plan/task/weighing", data=form)
    assert looked.status_code == 200
    assert "days later" in looked.text
    assert {task.key: task for task in inputs(project).plan.tasks}["weighing"] == before
    saved = client.post(
        "/plan/task/weighing", data=form | {"save": "yes", "looked": hidden(looked.text, "looked")}
    )
    assert saved.status_code == 303
    after = {task.key: task for task in inputs(project).plan.tasks}["weighing"]
    assert (after.hours, after.spread, after.needs) == (400.0, before.spread, before.needs)


def test_a_new_task_and_bad_ones(client: TestClient, project: Project) -> None:
    good = {
        "ref": "DOLLY",
        "title": "a dolly",
        "hours": "6",
        "hours_badly": "9",
        "needs": "weighing",
        "cure_hours": "0",
        "seen": "0",
    }
    for name, value in (
        ("hours", "-2"),
        ("hours", "nan"),
        ("hours_badly", "3"),
        ("not_before", "soon"),
        ("uses", "floor"),
        ("ref", ""),
    ):
        refused = client.post("/plan/task", data=good | {name: value})
        assert refused.status_code == 422, (name, value)
        assert "note-refused" in refused.text or 'role="alert"' in refused.text
    circle = client.post(
        "/plan/task/weighing",
        data={"title": "w", "hours": "3", "hours_badly": "4", "needs": "first-flight", "cure_hours": "0"},
    )
    assert "waits for itself" in circle.text
    looked = client.post("/plan/task", data=good)
    client.post(
        "/plan/task", data=good | {"request": "n1", "save": "yes", "looked": hidden(looked.text, "looked")}
    )
    made = {task.key: task for task in inputs(project).plan.tasks}["DOLLY"]
    assert (made.hours, made.spread, made.needs) == (6.0, 1.5, ("weighing",))
    assert client.get("/plan/task/nothing").status_code == 404


def test_of_an_operation_the_form_changes_hours_and_not_its_order(
    client: TestClient, project: Project
) -> None:
    before = {task.key: task for task in inputs(project).plan.tasks}["DN-21-S01"]
    form = {"title": before.title, "hours": "25", "hours_badly": f"{before.hours * before.spread:g}", "trade": before.trade,
            "needs": ", ".join(before.needs), "parts": ", ".join(before.parts), "cure_hours": f"{before.cure_hours:g}"}  # fmt: skip
    looked = client.post("/plan/task/DN-21-S01", data=form)
    assert looked.status_code == 200, looked.text[-600:]
    client.post(
        "/plan/task/DN-21-S01",
        data=form | {"request": "o1", "save": "yes", "looked": hidden(looked.text, "looked")},
    )
    assert {task.key: task for task in inputs(project).plan.tasks}["DN-21-S01"].hours == pytest.approx(25.0)
    refused = client.post("/plan/task/DN-21-S01", data=form | {"trade": "systems"})
    assert refused.status_code == 422 or "Change it on the page" in refused.text


def test_a_task_behind_all_the_metal_stays_behind_it(client: TestClient, project: Project) -> None:
    before = {task.key: task for task in inputs(project).plan.tasks}["prepare-paint"]
    assert "DN-21-S01" in before.needs
    own = [need for need in before.needs if not need.startswith("DN-")]
    form = {
        "title": "t",
        "hours": "77",
        "hours_badly": "100",
        "needs": ", ".join(own),
        "cure_hours": "0",
        "seen": "0",
    }
    looked = client.post("/plan/task/prepare-paint", data=form)
    client.post(
        "/plan/task/prepare-paint",
        data=form | {"request": "b1", "save": "yes", "looked": hidden(looked.text, "looked")},
    )
    after = {task.key: task for task in inputs(project).plan.tasks}["prepare-paint"]
    assert after.hours == 77.0
    assert set(after.needs) == set(before.needs)
