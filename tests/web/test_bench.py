"""Clock, tally, twist and what waited on a phone, as the server takes them."""

from __future__ import annotations

import asyncio
import json
import re

import pytest
from starlette.testclient import TestClient

from filled import ANN
from ribwright.core.bench import Verdict
from ribwright.core.fastening.tally import as_seen, check_marks, run_text, tally_findings
from ribwright.errors import ConflictError, InputError, OutOfRangeError, UnknownNameError
from ribwright.services.clock import clock_of, clocks, confirm_clock, start_clock, stop_clock
from ribwright.services.operations import enter_operation, operation_view
from ribwright.services.project import Actor, Project
from ribwright.services.record import check, history, readings, set_object, work
from ribwright.services.tally import enter_tally
from ribwright.services.twist import enter_turn, stops_of
from ribwright.web.live import Live, read_message
from seams import REF

BEN = Actor("Ben Ray", "helper")
QUEUE = {"ribwright-queue": "yes"}


def test_one_clock_a_person_and_its_hours_are_logged_once(project: Project) -> None:
    start_clock(project, actor=ANN, request_id="c1", ref=REF, stage="drill")
    start_clock(project, actor=ANN, request_id="c1", ref=REF, stage="drill")  # sent twice
    with pytest.raises(ConflictError, match="it runs since"):
        start_clock(project, actor=ANN, request_id="c2", ref=REF, stage="rivet")
    start_clock(project, actor=BEN, request_id="c3", ref=REF, stage="rivet")
    with pytest.raises(ConflictError, match="no clock runs|it runs on"):
        stop_clock(project, actor=ANN, request_id="c4", ref=REF, stage="rivet")
    stop_clock(project, actor=ANN, request_id="c5", ref=REF, stage="drill")
    stop_clock(project, actor=ANN, request_id="c5", ref=REF, stage="drill")
    waiting = next(one for one in clocks(project) if one.person == ANN.name)
    assert waiting.hours == "0.01"
    assert clock_of(project, ANN.name) is None
    with pytest.raises(InputError):
        confirm_clock(project, actor=ANN, request_id="c6", seq=waiting.seq, hours="nan")
    confirm_clock(project, actor=ANN, request_id="c7", seq=waiting.seq, hours="90 min", done=True)
    confirm_clock(project, actor=ANN, request_id="c7", seq=waiting.seq, hours="90 min", done=True)
    drilled = [row for row in work(project, REF) if row["stage"] == "drill"]
    assert [(row["hours"], row["done"], bool(row["started"])) for row in drilled] == [("1.5", "yes", True)]
    assert operation_view(project, REF).stage("drill").done
    assert [one.person for one in clocks(project)] == [BEN.name]
    assert check(project).ok


def test_an_empty_form_of_hours_makes_no_entry(client: TestClient, project: Project) -> None:
    before = len(work(project, REF))
    answer = client.post(f"/stage/{REF}/drill", data={"hours": " ", "done": "no", "request": "e1"})
    assert (answer.status_code, len(work(project, REF))) == (422, before)
    assert "Enter the hours, or say that the stage is finished" in answer.text
    answer = client.post(f"/stage/{REF}/drill", data={"hours": "", "words": "bit broke", "request": "e2"})
    assert (answer.status_code, len(work(project, REF))) == (303, before + 1)


@pytest.mark.parametrize(
    ("value", "says"),
    [("-0.19", "0 or more"), ("99", "such as 3.2 mm"), ("4.6", "at least"), ("4.6 mm", ""), (".19", "")],
)
def test_no_head_is_smaller_than_nothing_nor_passes_in_the_wrong_unit(
    client: TestClient, project: Project, value: str, says: str
) -> None:
    before = len(readings(project, REF))
    form = {"what": "readings", "requirement.0": "formed head diameter", "where.0": "trial", "value.0": value, "request": "s1"}  # fmt: skip
    answer = client.post(f"/stage/{REF}/rivet", data=form)
    assert (answer.status_code, len(readings(project, REF)) - before) == ((422, 0) if says else (200, 1))
    assert says in answer.text


def test_a_refused_photo_leads_back_to_its_form(client: TestClient) -> None:
    there = f"/stage/{REF}/drill?open=finish"
    sent, here = {"photo": ("a.jpg", b"no photo")}, str(client.base_url).rstrip("/")
    for came, back in (
        (here + there, f'href="{there}"'),
        (f"{here}//evil.example/x", 'href="/evil.example/x"'),
        ("http://evil.example/stage", ""),
        ("", ""),
    ):
        answer = client.post(f"/photo/add/{REF}", files=sent, headers={"referer": came} if came else {})
        assert answer.status_code == 422
        assert ("Back to the form" in answer.text) == bool(back)
        assert back in answer.text


def test_of_the_other_aeroplanes_only_their_own_line_is_shown(client: TestClient, project: Project) -> None:
    mine = client.get("/airframe").text
    assert "more assemblies" not in mine
    for noun, ref, parent in (
        ("aircraft", "OLD", ""), ("assembly", "OLD-1", "OLD"), ("aircraft", "NEW", ""), ("assembly", "NEW-1", "NEW"),
    ):  # fmt: skip
        set_object(project, actor=ANN, request_id=ref, noun=noun, ref=ref, parent=parent, data={})
    page = client.get("/airframe").text
    shown = set(re.findall(r'<a href="/airframe/([^"]+)">', page))
    assert shown >= {"OLD", "NEW", "NEW-1"}
    assert "OLD-1" not in shown
    assert "more assemblies stand" in page
    assert "/airframe/OLD-1" in client.get("/airframe/OLD").text


def test_tally_is_few_entries_and_a_mended_head_is_settled(project: Project) -> None:
    before = len(history(project, REF))
    marks = dict.fromkeys(range(1, 7), "good") | {8: "a bit more", 9: "replace"}
    enter_tally(project, actor=ANN, request_id="t1", ref=REF, marks=marks)
    assert len(history(project, REF)) == before + 4
    row = enter_tally(project, actor=ANN, request_id="t2", ref=REF, marks={8: "good"})
    enter_tally(project, actor=ANN, request_id="t2", ref=REF, marks={8: "good"})  # sent twice
    assert (row.marks[8], row.marks[9]) == ("good", "replace")
    last = history(project, REF)[-1].entry
    assert (last.body["where"], last.body["verdict"]) == ("8", "undecided")
    assert len(history(project, REF)) == before + 6
    with pytest.raises(OutOfRangeError, match="hole with a rivet"):
        enter_tally(project, actor=ANN, request_id="t3", ref=REF, marks={7: "good"})
    with pytest.raises(ConflictError):
        enter_tally(project, actor=ANN, request_id="t2", ref=REF, marks={9: "good"})
    assert check(project).ok


def test_what_follows_from_marks() -> None:
    assert run_text([9, 1, 2, 3, 6, 7]) == "1 to 3, 6, 7, 9"
    found = tally_findings({1: "good", 2: "replace"}, {})
    assert [f.verdict for f in found] == [Verdict.REWORK, Verdict.UNDECIDED]
    assert as_seen((1, 2, 3), first_on="right") == (3, 2, 1)
    with pytest.raises(UnknownNameError):
        check_marks({1: "fine"}, [1])


def test_turn_of_the_lever_is_a_reading_without_a_finding(project: Project) -> None:
    import tomllib
    from pathlib import Path

    raw = tomllib.loads((Path(__file__).parents[2] / "docs/examples/nose-roll.toml").read_text("utf-8"))
    enter_operation(
        project, actor=ANN, request_id="n", ref="DN-21-R01", calculation="nose-roll", raw=raw, parent="DN-21"
    )
    stops = stops_of(operation_view(project, "DN-21-R01"))
    assert len(stops) == 1
    assert 90 < stops[0].deg < 200
    enter_turn(
        project,
        actor=ANN,
        request_id="n1",
        ref="DN-21-R01",
        stage="roll",
        turned="143.2",
        back="135",
        stop="143",
    )
    assert [r["value"] for r in readings(project, "DN-21-R01")] == ["143.2", "8.2"]
    for turned, back in (("nan", ""), ("-3", ""), ("100", "120"), ("900", "")):
        with pytest.raises(InputError):
            enter_turn(
                project, actor=ANN, request_id="n2", ref="DN-21-R01", stage="roll", turned=turned, back=back
            )


def reading(request: str, value: str, head: str, **more: str) -> dict[str, str]:
    return {"request": request, "what": "readings", "where.0": "9", "requirement.0": "formed head height", "value.0": value, "head": head, "tapped": "2020-01-01T00:00:00Z", **more}  # fmt: skip


def test_a_form_that_waited_counts_once_and_a_clash_is_shown(client: TestClient, project: Project) -> None:
    path, head = f"/stage/{REF}/rivet", str(history(project, REF)[-1].entry.seq)
    mine = reading("phone-0a1b2c3d-1", ".047", head)
    for _ in range(2):
        answer = client.post(path, data=mine, headers=QUEUE)
        assert (answer.status_code, answer.headers["ribwright-taken"]) == (204, "phone-0a1b2c3d-1")
    other = client.post(path, data=reading("phone-99999999-1", ".030", head), headers=QUEUE)
    assert other.status_code == 409
    clash = other.json()["clashes"][0]
    assert (clash["what"], clash["mine"], clash["theirs"], clash["by"]) == (
        "9 formed head height",
        ".030",
        ".047",
        "Ann Bell",
    )
    again = client.post(path, data=reading("phone-99999999-1", ".030", head, over="yes"), headers=QUEUE)
    assert again.status_code == 204
    # the same number with other values is heard, never dropped
    changed = client.post(path, data=reading("phone-0a1b2c3d-1", ".050", head), headers=QUEUE)
    assert changed.status_code == 409
    assert "other values" in changed.json()["said"][0]
    assert [r["value"] for r in readings(project, REF)][-2:] == [".047", ".030"]
    wrong = client.post(path, data=reading("phone-0a1b2c3d-2", "1,500", head, over="yes"), headers=QUEUE)
    assert wrong.status_code == 422
    assert wrong.json()["said"]


def test_pages_of_the_day_are_kept_and_no_others(client: TestClient) -> None:
    work = ("/", f"/stage/{REF}/drill", f"/tally/{REF}", f"/operation/{REF}", f"/operation/{REF}/worksheet")
    for path in (*work, "/record", "/phones", f"/operation/{REF}/edit"):
        assert client.get(path).headers.get("ribwright-keep") == ("yes" if path in work else None), path
    assert client.get("/static/worker.js").headers["service-worker-allowed"] == "/"


def test_pages_and_styles_are_sent_small_and_streams_at_once(client: TestClient) -> None:
    page = client.get("/")
    assert (page.headers["content-encoding"], page.headers["vary"]) == ("gzip", "Accept-Encoding")
    assert "content-encoding" not in client.get("/", headers={"accept-encoding": "identity"}).headers
    stream = client.get(f"/live/{REF}")
    assert stream.headers["content-type"].startswith("text/event-stream")
    assert "content-encoding" not in stream.headers
    load = re.findall(r'(?:href|src)="(/static/[^"]+)"', client.get(f"/stage/{REF}/rivet").text)
    fonts = ("400", "600")
    load += [f"/static/vendor/barlow/barlow-semi-condensed-latin-{n}-normal.woff2" for n in fonts]
    load += ["/static/worker.js", f"/stage/{REF}/rivet"]
    sizes = {path: int(client.get(path).headers["content-length"]) for path in dict.fromkeys(load)}
    assert sum(sizes.values()) <= 120_000, sizes


def test_what_pages_say_to_each_other_is_checked() -> None:
    assert read_message({"kind": "mark", "stage": "rivet", "hole": "8", "mark": "good"})[0] == "mark/rivet/8"
    for form in ({"kind": "x"}, {"kind": "mark", "hole": "8", "mark": "bad"}, {"kind": "mark", "hole": "1e3"}, {"kind": "angle", "end": "far", "deg": "nan", "peak": "1"}, {"kind": "ruler", "list": "0", "at": "99999"}):  # fmt: skip
        with pytest.raises(InputError):
            read_message(form)


def test_a_stream_tells_of_entries_and_what_was_missed(project: Project) -> None:
    async def run() -> list[str]:
        live = Live(project)
        stream = live.listen(REF, 1)
        heard = [await anext(stream), await anext(stream)]
        enter_tally(project, actor=ANN, request_id="l1", ref=REF, marks={1: "good"})
        live.look()
        heard.append(await asyncio.wait_for(anext(stream), 3))
        live.say(REF, {"kind": "mark", "hole": "2"}, key="mark/rivet/2")
        heard.append(await anext(stream))
        await stream.aclose()  # type: ignore[attr-defined]
        return heard

    state, missed, moved, said = asyncio.run(run())
    assert "event: state" in state
    assert '"kinds": ["set"' in missed
    assert json.loads(moved.split("data: ")[1])["kinds"] == ["reading", "finding"]
    assert '"hole": "2"' in said
