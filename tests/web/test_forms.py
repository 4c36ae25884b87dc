"""Forms: sent twice counts once, an old page never overwrites, nothing typed is lost."""

from __future__ import annotations

import html
import io
import re

from PIL import Image
from starlette.testclient import TestClient

from filled import ANN
from ribwright import errors
from ribwright.core.audit import read
from ribwright.core.fastening.seam import Seam
from ribwright.services.calculations import read_text, toml_of
from ribwright.services.operations import enter_operation
from ribwright.services.project import Project
from ribwright.services.record import (
    check,
    findings,
    get_entry,
    get_object,
    history,
    objects,
    photos,
    readings,
    recent,
)
from ribwright.web.errors import STATUS, status_of
from seams import REF, SEAM, flat


def hidden(page: str, name: str) -> str:
    found = re.search(rf'name="{name}" value="([^"]*)"', page)
    assert found, f"no hidden {name}"
    return html.unescape(found.group(1))


def test_a_form_sent_twice_counts_once(client: TestClient, project: Project) -> None:
    page = client.get("/operation/new?in=DN-21").text
    form = flat(SEAM) | {
        "request": hidden(page, "request"),
        "seen": hidden(page, "seen"),
        "calculation": "seam",
        "parent": "DN-21",
        "ref": "DN-21-S09",
    }
    first, second = client.post("/operation/new", data=form), client.post("/operation/new", data=form)
    assert first.status_code == second.status_code == 303
    assert first.headers["location"] == second.headers["location"] == "/operation/DN-21-S09"
    assert len(history(project, "DN-21-S09")) == 1
    assert get_object(project, "DN-21-S09").data["inputs"]["pitch"] == "1-1/8 in"


def test_an_old_page_does_not_overwrite_a_newer_one(client: TestClient, project: Project) -> None:
    page = client.get(f"/operation/{REF}/edit").text
    base = flat(SEAM) | {"seen": hidden(page, "seen"), "calculation": "seam", "parent": "DN-21"}
    assert (
        client.post(f"/operation/{REF}/edit", data=base | {"request": "one", "pitch": "1 in"}).status_code
        == 303
    )
    answer = client.post(f"/operation/{REF}/edit", data=base | {"request": "two", "pitch": "3/4 in"})
    assert answer.status_code == 409
    assert "was changed after your page was opened" in answer.text
    assert get_object(project, REF).data["inputs"]["pitch"] == "1 in"


def test_what_was_typed_is_kept_when_it_is_refused(client: TestClient, project: Project) -> None:
    before = len(recent(project))
    form = flat(SEAM) | {
        "request": "r",
        "seen": "0",
        "calculation": "seam",
        "parent": "DN-21",
        "first": "1,500",
        "layers.1.thickness": "thick",
    }
    answer = client.post("/operation/new", data=form)
    assert answer.status_code == 422
    assert "more than one way" in answer.text
    assert "Layers 2, Thickness" in answer.text
    for typed in ("1,500", "thick", "DN-2101 upper skin", "57-1/4 in", "hinge bracket goes in later"):
        assert f'value="{typed}"' in answer.text
    assert hidden(answer.text, "request") == "r", "the same form keeps its id"
    assert len(recent(project)) == before


def test_rows_are_added_copied_and_removed_without_javascript(client: TestClient) -> None:
    form = flat(SEAM) | {"request": "r", "seen": "0", "calculation": "seam"}
    more = client.post("/operation/new", data=form | {"add:layers": "1"}).text
    assert 'name="layers.2.part"' in more
    assert 'name="layers.3.part"' not in more
    copied = client.post("/operation/new", data=form | {"copy:layers:1": "1"}).text
    assert copied.count('value="DN-2110 spar"') == 2
    fewer = client.post("/operation/new", data=form | {"remove:exceptions:0": "1"}).text
    assert 'name="exceptions.0.hole"' not in fewer
    assert 'value="57-1/4 in"' in fewer


def test_no_field_takes_json(client: TestClient) -> None:
    page = client.get("/operation/new").text
    assert "<textarea" not in page
    names = set(re.findall(r'name="([^"]+)"', page))
    assert {"layers.0.thickness", "first", "pitch", "head"} <= names
    assert Seam.__doc__


def test_readings_find_what_to_replace_and_stand_in_the_record(client: TestClient, project: Project) -> None:
    page = client.get(f"/stage/{REF}/rivet").text
    form = {"request": hidden(page, "request"), "what": "readings", "instrument": "calipers"}
    for n, (where, value) in enumerate([("trial", ".047"), ("1", ".046"), ("2", ".031"), ("3", ".060")]):
        form |= {f"where.{n}": where, f"requirement.{n}": "formed head height", f"value.{n}": value}
    answer = client.post(f"/stage/{REF}/rivet", data=form)
    assert answer.status_code == 200
    assert "Replace: 2" in answer.text
    assert "Set a little more: 3" in answer.text
    kinds = [line.entry.kind for line in history(project, REF)]
    assert kinds.count("reading") == 2 + 4
    bad = client.post(f"/stage/{REF}/rivet", data=form | {"request": "x1", "value.2": "three"})
    assert bad.status_code == 422
    assert 'value=".060"' in bad.text
    assert [line.entry.kind for line in history(project, REF)].count("reading") == 6


def test_a_stage_is_not_finished_before_its_turn(client: TestClient, project: Project) -> None:
    answer = client.post(
        f"/stage/{REF}/rivet", data={"request": "w1", "what": "work", "hours": "1", "done": "yes"}
    )
    assert answer.status_code == 409
    assert "drill is not finished" in answer.text
    assert (
        client.post(
            f"/stage/{REF}/drill", data={"request": "w2", "what": "work", "hours": "1.25", "done": "yes"}
        ).status_code
        == 303
    )
    assert len(objects(project, noun="operation")) == 2


def test_every_error_has_a_status() -> None:
    def tree(cls: type) -> list[type]:
        return [cls, *(sub for child in cls.__subclasses__() for sub in tree(child))]

    for cls in tree(errors.RibwrightError):
        assert 400 <= status_of(cls("x")) < 600
    assert set(STATUS) <= set(tree(errors.RibwrightError))


def test_a_reading_put_right_is_judged_anew(client: TestClient, project: Project) -> None:
    wrong = next(
        line.entry
        for line in history(project, REF)
        if line.entry.kind == "reading" and line.entry.body["where"] == "4"
    )
    assert [f["verdict"] for f in findings(project, REF)] == ["within limits", "rework"]
    form = {
        "request": "c1",
        "what": "correct",
        "new.value": ".046",
        "new.u": "",
        "new.instrument": "calipers",
        "because": "read upside down",
    }
    assert client.post(f"/record/{wrong.seq}/change", data=form).status_code == 303
    assert [f["verdict"] for f in findings(project, REF)] == ["within limits", "within limits"]
    assert [r["value"] for r in readings(project, REF)] == [".047", ".046"]
    assert get_entry(project, wrong.seq).entry.body["value"] == ".030", "the old entry stays as it was"
    assert check(project).ok


def test_a_discrepancy_from_finding_it_to_closing_it(client: TestClient, project: Project) -> None:
    form = {
        "request": "d1",
        "kind": "figure-eight hole",
        "where": "hole 14",
        "words": "drill wandered",
        "name.0": "largest",
        "value.0": ".141 in",
    }
    where = client.post(f"/discrepancy/note/{REF}", data=form).headers["location"]
    assert "discrepancy" in client.get("/").text, "work on the operation waits for it"
    assert (
        client.post(
            f"/stage/{REF}/drill", data={"request": "d2", "what": "work", "hours": "1", "done": "yes"}
        ).status_code
        == 409
    )
    pdf = client.get(where + "/question.pdf")
    assert pdf.content.startswith(b"%PDF")
    assert (
        client.post(where, data={"request": "d3", "what": "settle", "decision": "use as is"}).status_code
        == 422
    )
    done = client.post(
        where,
        data={
            "request": "d4",
            "what": "settle",
            "decision": "use as is",
            "reason": "edge distance holds",
            "authority": "designer, letter 4",
        },
    )
    assert done.status_code == 303
    assert "Closed: use as is" in client.get(where).text
    assert (
        client.post(
            f"/stage/{REF}/drill", data={"request": "d5", "what": "work", "hours": "1", "done": "yes"}
        ).status_code
        == 303
    )


def test_a_photo_is_kept_by_its_content_whatever_it_is_called(client: TestClient, project: Project) -> None:
    picture = io.BytesIO()
    Image.new("RGB", (40, 30), (200, 10, 10)).save(picture, "JPEG")
    sent = client.post(
        f"/photo/add/{REF}",
        data={"request": "p1"},
        files={"photo": ("../../etc/passwd\x00.exe", picture.getvalue(), "text/html")},
    )
    assert sent.status_code == 303
    kept = photos(project, REF)[-1]
    answer = client.get(f"/photo/{kept['digest']}")
    assert answer.headers["content-type"] == "image/jpeg"
    for content in (b"", b"<script>", b"\x89PNG\r\n\x1a\n" + b"\x00" * 40, picture.getvalue()[:200]):
        refused = client.post(
            f"/photo/add/{REF}",
            data={"request": f"p{len(content)}x"},
            files={"photo": ("a.jpg", content, "image/jpeg")},
        )
        assert refused.status_code in (422, 400), content
    assert len(photos(project, REF)) == 2


def test_drawing_data_go_out_as_a_file_and_come_back_equal(client: TestClient, project: Project) -> None:
    text = client.get(f"/operation/{REF}/drawing-data.toml").content
    raw = read_text(text, name="file", toml=True)
    assert read(Seam, raw) == read(Seam, SEAM)
    odd = {"title": 'a "quoted" \\\\ back\\tslash, ü', "layers": [{"part": "x = 1 # no comment"}]}
    assert read_text(toml_of(odd).encode(), name="file", toml=True) == odd
    entered = enter_operation(
        project, actor=ANN, request_id="again", ref="DN-21-S77", calculation="seam", raw=raw, parent="DN-21"
    )
    assert entered.data["inputs"] == get_object(project, REF).data["inputs"]
