"""The plan on the command line: dates in order, orders the most pressing first."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from filled import filled
from ribwright.cli.app import main
from ribwright.errors import InputError, RibwrightError
from ribwright.services.plan import plan_view, project_plan


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    filled(tmp_path / "p").close()
    return tmp_path / "p"


def run(folder: Path, *words: str) -> dict[str, object]:
    done = subprocess.run(
        [sys.executable, "-m", "ribwright", "plan", *words, "--project", str(folder), "--json"],
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr
    made: dict[str, object] = json.loads(done.stdout)
    return made


def test_dates_stand_in_order_and_work_already_done_is_not_planned(folder: Path) -> None:
    from ribwright.services.project import open_project

    said = run(folder, "dates")
    days = [one["day"] for one in said["dates"]]  # type: ignore[union-attr,index]
    assert days == sorted(days)
    assert days[0] > said["start"]  # type: ignore[operator]
    hours = [one["hours"] for one in said["hours_to_go"]]  # type: ignore[union-attr,index]
    assert hours == sorted(hours)
    assert hours[0] > 0
    with open_project(folder) as project:
        plan, problems = project_plan(project)
        assert not problems
        seam = next(task for task in plan.tasks if task.key == "DN-21-S01")
        # six stages of two hours are left: fit is finished
        assert seam.hours == pytest.approx(12.0)
        assert plan_view(project) is plan_view(project), "kept until the record moves"


def test_orders_are_the_most_pressing_first(folder: Path) -> None:
    made = run(folder, "orders")["orders"]
    days = [one["day"] for one in made]  # type: ignore[union-attr,index]
    assert days
    assert days == sorted(days)


def test_what_cant_be_planned_is_said_and_the_rest_still_stands(folder: Path) -> None:
    from filled import ANN
    from ribwright.services.project import open_project
    from ribwright.services.record import set_object

    with open_project(folder) as project:
        for ref, after, hours in (
            ("A1", "A2", "1"),
            ("A2", "A1", "1"),
            ("A3", "DN-21-S01", "soon"),
            ("A4", "DN-21-S01", "-3"),
        ):
            data = {"stages": [{"name": "do", "hours": hours}], "after": [ref if ref == after else after]}
            set_object(
                project,
                actor=ANN,
                request_id=f"bad-{ref}",
                noun="operation",
                ref=ref,
                parent="DN-21",
                data=data,
            )
    said = run(folder, "dates")
    problems = " ".join(said["problems"])  # type: ignore[arg-type]
    assert "A1" in problems
    assert "A2" in problems
    assert "A3" in problems
    assert "A4" in problems
    assert said["dates"]


def test_the_calendar_is_read_back_by_an_independent_reader(folder: Path) -> None:
    text = str(run(folder, "export", "calendar")["text"])
    assert all(len(line.encode()) <= 75 for line in text.split("\r\n"))
    lines = text.replace("\r\n ", "").split("\r\n")
    assert lines[0] == "BEGIN:VCALENDAR"
    assert lines[-2:] == ["END:VCALENDAR", ""]
    events: list[dict[str, str]] = []
    for line in lines:
        name, _, value = line.partition(":")
        if line == "BEGIN:VEVENT":
            events.append({})
        elif events and name not in ("END", "BEGIN"):
            events[-1][name.split(";")[0]] = value
    assert events
    assert len({event["UID"] for event in events}) == len(events)
    assert all(len(event["DTSTART"]) == 8 and event["DTEND"] > event["DTSTART"] for event in events)
    assert any(event["SUMMARY"].startswith("Order by today") for event in events)
    sessions = [event for event in events if event["SUMMARY"].startswith("In the shop")]
    assert len(sessions) == 30, "five days a week for six weeks"


def test_a_setting_shows_its_effect_and_is_saved_only_when_asked(folder: Path) -> None:
    shown = run(folder, "settings", "hours=Mon-Fri 4, Sat 8, Sun 8")
    assert shown["effect"]["days"] < 0  # type: ignore[index]
    assert not shown["saved"]
    assert run(folder, "settings")["settings"]["hours"]["default"]  # type: ignore[index]
    assert run(folder, "settings", "hours=Sat 8", "--save")["saved"]
    assert run(folder, "settings")["settings"]["hours"]["value"] == "Sat 8"  # type: ignore[index]


def test_tonight_and_while_waiting(folder: Path) -> None:
    made = run(folder, "next", "--hours", "2 h", "--temperature", "3 °C")
    refs = [stage["ref"] for group in made["groups"] for stage in group["stages"]]  # type: ignore[union-attr,index]
    assert "panel-plan" in refs
    assert "canopy" not in refs
    said = run(folder, "waiting", "engine")
    assert 0 <= said["runs_dry"] <= 1  # type: ignore[operator]
    assert "engine-hung" not in {task["key"] for task in said["tasks"]}  # type: ignore[union-attr,index]


def here(folder: Path, capsys: pytest.CaptureFixture[str], *words: str) -> dict[str, object]:
    """The same command in this process: what is tried is the command, not the start of a program."""
    main.main(["plan", *words, "--project", str(folder), "--json"], standalone_mode=False)
    made: dict[str, object] = json.loads(capsys.readouterr().out)
    return made


def test_an_order_and_a_task_show_their_effect_and_are_stored_only_when_asked(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shown = here(folder, capsys, "order", "engine")["entries"]
    assert shown["state"] == "to order"  # type: ignore[index]
    late = here(folder, capsys, "order", "engine", "lead_weeks_likely=300", "lead_weeks_late=400")
    assert late["effect"]["days"] > 100  # type: ignore[index]
    assert here(folder, capsys, "order", "engine")["entries"] == shown, "nothing was stored"
    with pytest.raises(InputError, match="without a spread"):
        here(folder, capsys, "order", "engine", "lead_weeks_late=1")
    with pytest.raises(RibwrightError, match="nothing of this name"):
        here(folder, capsys, "order", "ENGIN", "lead_weeks_late=1")
    new = ("task", "HANG", "title=hang it", "hours=400", "hours_badly=500")
    assert here(folder, capsys, *new)["effect"]["days"] > 0  # type: ignore[index]
    with pytest.raises(RibwrightError, match="nothing of this name"):
        here(folder, capsys, "task", "HANG")
    assert here(folder, capsys, *new, "--save")["saved"]
    assert here(folder, capsys, "task", "HANG")["entries"]["hours"] == "400"  # type: ignore[index]
    circle = here(folder, capsys, "task", "HANG", "needs=HANG")
    assert "HANG waits for HANG" in " ".join(circle["problems"])  # type: ignore[arg-type]
    with pytest.raises(InputError, match="0 to 20000"):
        here(folder, capsys, "task", "HANG", "hours=-3")


def test_weeks_are_blocked_and_the_medical_route_chosen_on_the_command_line(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    blocked = here(
        folder, capsys, "settings", "blocked=2027-01-04 to 2028-01-02; 2028-06-01 to 2028-06-30", "--save"
    )
    assert blocked["effect"]["days"] > 200  # type: ignore[index]
    assert blocked["settings"]["blocked"]["value"][1] == {"first": "2028-06-01", "last": "2028-06-30"}  # type: ignore[index]
    with pytest.raises(InputError, match="such as 2027-07-10 to 2027-07-24"):
        here(folder, capsys, "settings", "blocked=2027-01-04")
    names = [row["name"] for row in here(folder, capsys, "pilot")["pilot"]]  # type: ignore[union-attr]
    assert "medical course under part 68" in names
    route = "route=third-class certificate (under 40 at the examination)"
    here(folder, capsys, "settings", route, "certificate=2026-01-15", "--save")
    rows = {row["name"]: row for row in here(folder, capsys, "pilot")["pilot"]}  # type: ignore[union-attr]
    assert "medical course under part 68" not in rows
    assert rows["third-class medical certificate"]["covered_until"] == "2031-01-31"


def test_an_order_of_work_is_feasible_and_bounded_and_the_solver_is_missed_in_one_sentence(
    folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    made = here(folder, capsys, "schedule", "--schedules", "60")
    assert made["bound_hours"] <= made["hours"]  # type: ignore[operator]
    first = {row["ref"]: row["first"] for row in made["tasks"]}  # type: ignore[union-attr]
    assert first["weighing"] > first["panel-plan"]
    assert "weighing" not in [row["ref"] for row in made["tasks"][:5]]  # type: ignore[index]
    proved = here(folder, capsys, "schedule", "--schedules", "60", "--prove", "--work", "0.1")
    assert proved["exact_solver"]
    assert proved["hours"] <= made["hours"]  # type: ignore[operator]
    assert proved["bound_hours"] >= made["bound_hours"]  # type: ignore[operator]
    monkeypatch.setitem(sys.modules, "ortools.sat.python", None)
    with pytest.raises(RibwrightError, match=r"extra `proof` is not installed.*pip install"):
        here(folder, capsys, "schedule", "--prove")


def test_a_stopped_search_keeps_its_best(folder: Path) -> None:
    from ribwright.errors import Stopped
    from ribwright.services.plan_schedule import work_order
    from ribwright.services.project import open_project

    def stop(made: int, of: int) -> None:
        raise Stopped("schedule")

    with open_project(folder) as project:
        found = work_order(project, schedules=100_000, progress=stop)
    assert found.rows
    assert found.shortest or (found.stopped and found.made < 100_000)


@pytest.mark.parametrize(
    "words",
    [
        ("--schedules", "0"),
        ("--schedules", "100000000000000000000"),
        ("--work", "nan"),
        ("--work", "-1"),
        ("--work", "inf"),
    ],
)
def test_a_search_without_end_or_without_work_is_refused(
    folder: Path, capsys: pytest.CaptureFixture[str], words: tuple[str, str]
) -> None:
    with pytest.raises(RibwrightError, match=rf"^{words[0][2:]}: .*Allowed: "):
        here(folder, capsys, "schedule", *words)
