"""The page Flight and what is entered on it: one line at a time, in order, by people with names; its command twins."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import pytest
from click.testing import CliRunner
from starlette.testclient import TestClient

from filled import ANN
from ribwright.cli.app import main
from ribwright.errors import ConflictError, MissingError, OutOfRangeError, UnknownNameError
from ribwright.services.amending import settle
from ribwright.services.flight import (
    enter_flight,
    enter_look,
    enter_paper,
    flight_view,
    project_paper_tasks,
    set_flight,
)
from ribwright.services.form_data import form_data, set_form_data
from ribwright.services.operations import enter_operation
from ribwright.services.performance import keep_data, kept_data, performance_page
from ribwright.services.plan_settings import save_settings
from ribwright.services.project import Project
from ribwright.services.record import check, discrepancies

EXAMPLES = Path(__file__).parents[2] / "docs" / "examples"


def test_a_paper_needs_evidence_and_what_comes_before(project: Project) -> None:
    with pytest.raises(ConflictError, match="registration number"):
        enter_paper(project, actor=ANN, request_id="a1", key="marks", evidence="photo 3")
    with pytest.raises(MissingError):
        enter_paper(project, actor=ANN, request_id="a2", key="number", evidence=" ")
    with pytest.raises(UnknownNameError):
        enter_paper(project, actor=ANN, request_id="a3", key="licence", evidence="x")
    enter_paper(
        project,
        actor=ANN,
        request_id="a4",
        key="number",
        evidence="reserved, letter of May",
        read="2026-11-20",
    )
    view = flight_view(project)
    assert {d.paper.key for d in view.dues if d.done} == {"number"}
    tasks = {task.key: task for task in project_paper_tasks(project, last_work=("last",))}
    assert tasks["paper-number"].done
    assert "last" in tasks["paper-second-look"].needs
    assert not check(project).problems


def test_own_rows_and_the_day_aimed_at(project: Project) -> None:
    set_flight(project, actor=ANN, request_id="b1", first="2028-05-01", rows={"repairman": {"drop": "yes"}})
    set_flight(project, actor=ANN, request_id="b2", hours="25")
    view = flight_view(project)
    assert (view.first.isoformat(), view.phase.asked) == ("2028-05-01", 25.0)
    review = next(w for w in view.pilot if w.rule.name == "flight review")
    assert (
        review.opens.isoformat() == "2026-05-01"
    )  # the first day of the 24th calendar month before May 2028
    assert "repairman" not in {d.paper.key for d in view.dues}
    save_settings(project, actor=ANN, request_id="b4", raw={"review": "2026-05-31", "landings": "2028-01-15"})
    dated = {w.rule.name: w for w in flight_view(project).pilot}
    # 24 calendar months after the month of 31 May 2026 end with May 2028; 90 days after 15 January don't reach May
    assert (dated["flight review"].covered_until.isoformat(), dated["flight review"].needed) == (
        "2028-05-31",
        False,
    )  # type: ignore[union-attr]
    assert dated["recent take-offs and landings"].needed
    with pytest.raises(OutOfRangeError):
        set_flight(project, actor=ANN, request_id="b3", hours="9000")


def test_a_line_takes_two_people_and_words(project: Project) -> None:
    with pytest.raises(MissingError):
        enter_look(project, actor=ANN, request_id="c1", key="always-1", who="Ann Bell", words="")
    assert enter_look(project, actor=ANN, request_id="c2", key="always-1", who="Ann Bell", words="free").open
    with pytest.raises(ConflictError, match="second person"):
        enter_look(project, actor=ANN, request_id="c3", key="always-1", who="ann  bell", words="free")
    assert not enter_look(
        project, actor=ANN, request_id="c4", key="always-1", who="Bob", words="free, stops touched"
    ).open
    with pytest.raises(UnknownNameError):
        enter_look(project, actor=ANN, request_id="c5", key="all", who="Bob", words="fine")


def test_flight_cards_wait_for_the_inspection_and_their_order(project: Project) -> None:
    with pytest.raises(ConflictError, match="card 01"):
        enter_flight(project, actor=ANN, request_id="d1", key="02", hours="0.5", finished=True, words="x")
    for n, key in enumerate(("01", "02")):
        enter_flight(
            project, actor=ANN, request_id=f"d2-{n}", key=key, hours="0.5", finished=True, words="straight"
        )
    with pytest.raises(ConflictError, match="inspection"):
        enter_flight(project, actor=ANN, request_id="d3", key="03", hours="0.8", finished=True, words="flew")
    for d in discrepancies(project, unsettled=True):
        settle(
            project, actor=ANN, request_id=f"d4-{d['ref']}", discrepancy=d["ref"], decision="rework", reason="done anew", authority="designer"
        )  # fmt: skip
    for line in flight_view(project).open_lines:
        for who in ("Ann Bell", "Bob"):
            if not (who == "Bob" and not line.look.two):
                enter_look(project, actor=ANN, request_id=f"d5-{line.look.key}-{who[:3]}".replace(" ", ""), key=line.look.key, who=who, words="looked, fine")  # fmt: skip
    assert not flight_view(project).open_lines
    with pytest.raises(OutOfRangeError):
        enter_flight(project, actor=ANN, request_id="d6", key="03", hours="30", finished=True, words="flew")
    stands = enter_flight(
        project, actor=ANN, request_id="d7", key="03", hours="0.8", finished=True, words="trim nose down"
    )
    assert (stands.hours, stands.left[0]) == (0.8, "04")
    assert not check(project).problems


def test_kept_data_make_the_page(project: Project) -> None:
    raw = {
        "title": "flaps up",
        "weight": "1420 lb",
        "stalls": [{"cas": f"{v} kt", "weight": "1400 lb"} for v in (46, 47, 48)],
    }
    for request in ("e1", "e2"):
        keep_data(project, actor=ANN, request_id=request, name="stall-speed", title="flaps up", raw=raw)
    assert len(kept_data(project)) == 1
    text = str(performance_page(project))
    assert "47.3" in text
    assert "Not flown yet" in text
    with pytest.raises(UnknownNameError):
        keep_data(project, actor=ANN, request_id="e3", name="seam", title="x", raw={})


def test_the_page_takes_forms_and_says_what_is_wrong(client: TestClient, project: Project) -> None:
    head = {"origin": "http://127.0.0.1:8370", "sec-fetch-site": "same-origin"}
    bad = client.post(
        "/flight",
        data={"request": "f1", "what": "look", "key": "always-1", "who": "", "words": "x"},
        headers=head,
    )
    assert bad.status_code == 422
    assert "Who looked" in bad.text
    good = client.post(
        "/flight",
        data={"request": "f2", "what": "look", "key": "always-1", "who": "Cy", "words": "free"},
        headers=head,
    )
    assert good.status_code == 303
    assert "Cy: " in client.get("/flight").text
    first = client.post("/flight", data={"request": "f3", "what": "set", "first": "2028-02-30"}, headers=head)
    assert first.status_code == 422
    form = {"request": "f4", "title": "flaps down", "weight": "1420 lb"}
    form |= {
        f"stalls.{n}.{k}": v for n in range(3) for k, v in (("cas", f"{44 + n} kt"), ("weight", "1400 lb"))
    }
    assert client.post("/flight/data/stall-speed", data=form, headers=head).status_code == 303
    assert "flaps down" in client.get("/flight").text


def test_the_command_is_the_page_s_twin(project: Project) -> None:
    def run(*words: str) -> dict[str, object]:
        done = CliRunner().invoke(main, ["flight", *words, "--project", str(project.where), "--json"])
        assert done.exit_code == 0, done.output
        made: dict[str, object] = json.loads(done.output)
        return made

    assert len(run("papers")["papers"]) == 15  # type: ignore[arg-type]
    assert "a second person" in str(run("look", "always-2", "free", "--who", "Ann")["open"])
    assert run("flown", "01", "0.4", "straight", "--finished")["left"] != []
    with pytest.raises(ConflictError, match="card 02"):
        CliRunner().invoke(
            main,
            ["flight", "flown", "03", "1", "flew", "--project", str(project.where)],
            catch_exceptions=False,
        )
    kept = run("keep", "wire", "--in", str(EXAMPLES / "wire.toml"))
    assert "wire" in str(kept["ref"])
    assert "No. 12" in str(run("performance"))


def test_data_for_the_forms_come_from_the_record_and_nothing_is_guessed(
    client: TestClient, project: Project
) -> None:
    lines = {line.label: line for line in form_data(project)}
    assert lines["Serial number, as you give it"].value == ""
    assert lines["Empty weight"].value == "", "nothing was weighed yet"
    keep_weighing = (EXAMPLES / "weighing.toml").read_text(encoding="utf-8")
    enter_operation(
        project,
        actor=ANN,
        request_id="w1",
        ref="W1",
        calculation="weighing",
        raw=tomllib.loads(keep_weighing),
    )
    headers = {"origin": "http://127.0.0.1:8370"}
    form = {"request": "forms-12345678", "what": "forms", "serial": " 001 ", "builder": "Ann <Bell>"}
    assert client.post("/flight", data=form, headers=headers).status_code == 303
    known = {line.label: line for line in form_data(project)}
    assert known["Serial number, as you give it"].value == "001"
    assert known["Empty weight"].value.endswith(" lb")
    assert "not signed" in known["Empty weight"].origin
    page = client.get("/flight").text
    assert "Ann &lt;Bell&gt;" in page
    assert "This is no form" in page
    set_flight(project, actor=ANN, request_id="keep", hours="30")
    assert {line.key: line.value for line in form_data(project)}["serial"] == "001", "kept beside the rest"
    assert (
        client.post("/flight", data={"request": "forms-2", "what": "forms"}, headers=headers).status_code
        == 422
    )
    with pytest.raises(UnknownNameError, match="licence"):
        set_form_data(project, actor=ANN, request_id="x", values={"licence": "1"})
