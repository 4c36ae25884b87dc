"""The plan's pages and forms: nothing is saved before its effect on the date was shown."""

from __future__ import annotations

import re
import threading
from typing import Any

import pytest
from starlette.testclient import TestClient

from ribwright.errors import Stopped
from ribwright.services import plan as plan_service
from ribwright.services.plan import plan_standing, plan_view
from ribwright.services.plan_schedule import work_order_standing
from ribwright.services.plan_settings import settings
from ribwright.services.plan_tonight import evening
from ribwright.services.plan_tonight_form import tonight_spec
from ribwright.services.project import Project
from ribwright.services.record import objects


def hidden(text: str, name: str) -> str:
    found = re.search(rf'name="{name}" value="([^"]*)"', text)
    assert found is not None
    return found.group(1)


def test_settings_are_saved_only_after_a_look_at_the_date(client: TestClient, project: Project) -> None:
    first = client.get("/plan/settings")
    entry = {
        "request": hidden(first.text, "request"),
        "seen": hidden(first.text, "seen"),
        "hours": "Sat 3, Sun 3",
    }
    unseen = client.post("/plan/settings", data=entry | {"save": "yes", "looked": ""})
    assert unseen.status_code == 200
    assert re.search(r"4-in-5 date moves \d+ days later", unseen.text)
    assert settings(project).revision == 0, "nothing is saved yet"
    other = client.post(
        "/plan/settings",
        data=entry | {"hours": "Sun 9", "save": "yes", "looked": hidden(unseen.text, "looked")},
    )
    assert other.status_code == 200, "what was looked at is not what was sent"
    saved = client.post(
        "/plan/settings", data=entry | {"save": "yes", "looked": hidden(unseen.text, "looked")}
    )
    assert saved.status_code == 303
    assert sum(settings(project).week.hours) == 6
    wrong = client.post("/plan/settings", data=entry | {"hours": "Mon 25"})
    assert wrong.status_code == 422
    assert "24 hours" in wrong.text


def test_an_order_that_the_plan_starts_with_can_be_filled_in_and_the_others_stay(
    client: TestClient, project: Project
) -> None:
    first = client.get("/plan/order/engine")
    entry = {
        "request": hidden(first.text, "request"), "seen": hidden(first.text, "seen"), "title": "Engine", "state": "to order",
        "lead_weeks_likely": "100", "lead_weeks_late": "150", "price_usd": "28000", "deposit_usd": "5000",
    }  # fmt: skip
    looked = client.post("/plan/order/engine", data=entry)
    assert looked.status_code == 200
    assert "4-in-5 date" in looked.text
    assert (
        client.post(
            "/plan/order/engine", data=entry | {"save": "yes", "looked": hidden(looked.text, "looked")}
        ).status_code
        == 303
    )
    assert [one.ref for one in objects(project, noun="order")] == ["engine"]
    plan_view(project)
    text = client.get("/plan").text
    assert "/plan/order/propeller" in text
    assert "/plan/order/engine" in text
    without = client.post("/plan/order/engine", data=entry | {"lead_weeks_late": "100"})
    assert without.status_code == 422
    assert "spread" in without.text
    assert client.get("/plan/order/none").status_code == 404


def test_tonight_filters_by_warmth_and_says_why_each_is_on_the_list(client: TestClient) -> None:
    text = client.get("/", params={"hours": "2", "who": "alone", "temperature": "18 °C"}).text
    assert "fits into tonight" in text or "more than tonight" in text
    assert client.get("/", params={"hours": "30", "who": "alone"}).status_code == 422
    assert client.get("/", params={"temperature": "cold"}).status_code == 422


def test_evening_ranks_by_cost_and_leaves_out_what_needs_help_or_warmth(project: Project) -> None:
    made = evening(project, tonight_spec({"hours": "2", "who": "alone", "temperature": "3 °C"}), wait=None)
    assert not made.running
    assert made.ranked > 0
    out = {ref: why for ref, _, why in made.left_out}
    assert out["controls"] == "needs the helper"
    costs = [round(group.lines[0].cost_days) for group in made.groups]
    assert costs == sorted(costs, reverse=True)
    warm = evening(
        project, tonight_spec({"hours": "2", "who": "with the helper", "temperature": "20 °C"}), wait=None
    )
    assert "controls" in {line.ref for group in warm.groups for line in group.lines}


def test_while_an_item_is_missing_the_rest_is_listed_with_the_chance_of_running_dry(
    client: TestClient,
) -> None:
    text = client.get("/plan/waiting", params={"item": "engine"}).text
    assert re.search(r"In \d+ of 100 simulated builds", text)
    assert "firewall-forward" not in text, "it waits behind the engine"
    assert "fuel-system" in text
    assert client.get("/plan/waiting", params={"item": "none"}).status_code == 404


def test_buying_an_assembly_saves_its_hours_and_costs_money_and_share(client: TestClient) -> None:
    entry = {
        "saves": "DN-21", "price": "4000", "parts_price": "1000", "lead_weeks_likely": "4", "lead_weeks_late": "6", "look_hours": "2",
        "points_lost": "1.5",
    }  # fmt: skip
    text = client.post("/plan/make-or-buy", data=entry).text
    assert "3,000" in text
    assert re.search(r"14 h</td>", text), "six stages of two hours and the nose"
    assert len(set(re.findall(r"<td>([0-9.]+) %", text))) == 2, "the share falls"
    for name, value in (
        ("saves", "none"),
        ("points_lost", "1000"),
        ("lead_weeks_late", "4"),
        ("price", "nan"),
    ):
        assert client.post("/plan/make-or-buy", data=entry | {name: value}).status_code == 422


def test_tasks_are_taken_in_after_a_look_and_all_or_none(client: TestClient, project: Project) -> None:
    text = '[[task]]\nkey = "hangar"\nhours = 900\n\n[[task]]\nkey = "floor"\nhours = 5\nneeds = ["hangar"]\n\n[[item]]\nkey = "stone"\nlead_days = 20\nlead_spread = 1.5\n'
    looked = client.post("/plan/take-in", data={"text": text})
    assert "later" in looked.text
    assert not objects(project, noun="task")
    entry = {
        "request": hidden(looked.text, "request"),
        "looked": hidden(looked.text, "looked"),
        "save": "yes",
    }
    assert client.post("/plan/take-in", data=entry | {"text": text}).status_code == 303
    assert {one.ref for one in objects(project, noun="task")} == {"hangar", "floor"}
    assert "hangar" in client.get("/plan/tasks.csv").text
    for bad in (
        "",
        "key,hours\nx,lots",
        "[[task]]\nkey = 1",
        "key,colour\nx,red",
        '[[task]]\nkey = "DN-21"\nhours = 2',
    ):
        assert client.post("/plan/take-in", data={"text": bad}).status_code in (409, 422)


def test_a_plan_that_was_stopped_says_so_and_goes_on_when_asked(
    client: TestClient, project: Project, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stopped(*_: object) -> None:
        raise Stopped("plan")

    first = client.get("/plan/settings")
    entry = {
        "request": hidden(first.text, "request"),
        "seen": hidden(first.text, "seen"),
        "hours": "Sat 7, Sun 7",
    }
    looked = client.post("/plan/settings", data=entry)
    client.post("/plan/settings", data=entry | {"save": "yes", "looked": hidden(looked.text, "looked")})
    with monkeypatch.context() as patched:
        patched.setattr("ribwright.services.plan.work_out", stopped)
        text = client.get("/plan").text
    assert "Work it out again" in text
    assert "Ready for its first flight" not in text
    assert client.post("/plan/go-on").status_code == 303
    plan_view(project)
    text = client.get("/plan").text
    assert "Ready for its first flight" in text
    assert "Work it out again" not in text


def test_the_order_of_work_is_shown_by_the_month_and_can_be_stopped(
    client: TestClient, project: Project
) -> None:
    found = work_order_standing(project, wait=None).result
    assert found is not None
    text = client.get("/plan/order-of-work").text
    assert found.says in text
    assert all(row.key in text for row in found.rows)
    begins = [row.first for row in found.rows]
    assert begins == sorted(begins)
    assert len(re.findall(r"<details", text)) == len({f"{day:%Y-%m}" for day in begins})
    assert "no dates to promise" in text
    assert client.post("/plan/order-of-work/stop").status_code == 303


def test_the_calendar_does_not_wait_for_a_plan_that_is_being_worked_out(
    client: TestClient, project: Project, monkeypatch: pytest.MonkeyPatch
) -> None:
    go, step = threading.Event(), plan_service.work_out

    def slow(*args: Any, **kwargs: Any) -> Any:
        assert go.wait(60)
        return step(*args, **kwargs)

    first = client.get("/plan/settings")
    entry = {
        "request": hidden(first.text, "request"),
        "seen": hidden(first.text, "seen"),
        "hours": "Sat 6, Sun 5",
    }
    looked = client.post("/plan/settings", data=entry)
    with monkeypatch.context() as patched:
        patched.setattr(plan_service, "work_out", slow)
        patched.setattr("ribwright.web.routes.plan.PATIENCE_S", 0.05)
        client.post("/plan/settings", data=entry | {"save": "yes", "looked": hidden(looked.text, "looked")})
        early = client.get("/plan/calendar.ics")
        assert client.post("/plan/stop").status_code == 303
        go.set()
        plan_standing(project, wait=None)  # stopped, and asked for again
        stopped = client.get("/plan/calendar.ics")
    for answer in (early, stopped):
        assert answer.status_code == 503
        assert int(answer.headers["retry-after"]) > 0
        assert "Being worked out" in answer.text
    plan_view(project)
    whole = client.get("/plan/calendar.ics")
    assert whole.status_code == 200
    assert whole.headers["content-type"].startswith("text/calendar")
    assert whole.text.startswith("BEGIN:VCALENDAR")
