"""What comes to the builder is entered on its own form and on the command line, and reads as a story."""

from __future__ import annotations

import io
import json
import re
import subprocess
import sys

import pytest
from PIL import Image
from starlette.testclient import TestClient

from filled import ANN
from ribwright.errors import InputError, MissingError, OutOfRangeError
from ribwright.services.noting import KINDS, enter
from ribwright.services.project import Project
from ribwright.services.record import (
    add_entry,
    discrepancies,
    get_object,
    history,
    materials,
    objects,
    photos,
    readings,
)
from seams import REF


def send(client: TestClient, kind: str, **typed: str) -> int:
    form = {
        "request": f"note-test-{kind}-{len(typed)}",
        "about": REF,
        **{k.replace("__", "."): v for k, v in typed.items()},
    }
    return client.post(
        f"/record/enter/{kind}", data=form, headers={"origin": "http://127.0.0.1:8370"}
    ).status_code


def test_material_torque_departure_and_visit_stand_in_the_story(client: TestClient, project: Project) -> None:
    assert send(client, "material", item="MS20470AD3-4", lot="L-881", quantity="64") == 303
    assert (
        send(client, "torque", where="hinge 2", value="28", drag="4", instrument="wrench 2", stripe="yes")
        == 303
    )
    assert (
        send(client, "departure", words="rivet 12 is 1/8 in", reason="oversize hole", authority="letter 7")
        == 303
    )
    assert send(client, "visit", who="J. Field, adviser", words="row 3 looked at, good") == 303
    assert materials(project, REF, lot="L-881")[0]["quantity"] == "64"
    torque = next(r for r in readings(project, REF) if r["requirement"] == "torque")
    assert (torque["value"], torque["unit"]) == ("28", "lb·in")
    page = client.get(f"/operation/{REF}").text
    for said in ("MS20470AD3-4 L-881", "hinge 2 torque 28", "rivet 12 is 1/8 in", "row 3 looked at"):
        assert said in re.sub(r"\s+", " ", page)


def test_a_new_drawing_revision_marks_what_was_made_to_the_old_one(
    client: TestClient, project: Project
) -> None:
    drawing = next(one for one in objects(project, noun="drawing"))
    assert not get_object(project, REF).outdated
    assert send(client, "drawing-revision", drawing=drawing.ref, revision="Z", words="pitch of row 3") == 303
    assert get_object(project, REF).outdated
    assert send(client, "drawing-revision", drawing=drawing.ref, revision="Z", words="once more") == 422
    assert "instead of" in history(project, drawing.ref)[-1].entry.body["words"]


def test_a_notice_that_asks_for_work_opens_a_discrepancy_on_each_part(
    client: TestClient, project: Project
) -> None:
    before = len(discrepancies(project))
    assert send(client, "notice", words="nothing for us", effect="nothing to do") == 303
    assert len(discrepancies(project)) == before
    assert (
        send(
            client, "notice", number="SN-4", words="look for cracks", effect="look again", applies__0__ref=REF
        )
        == 303
    )
    assert "SN-4" in discrepancies(project)[-1]["what"]


@pytest.mark.parametrize(
    ("kind", "typed", "error"),
    [
        ("torque", {"where": "a", "value": "4", "drag": "9", "instrument": "w"}, OutOfRangeError),
        ("torque", {"where": "a", "value": "28 deg", "instrument": "w"}, InputError),
        ("notice", {"words": "w", "effect": "change it"}, MissingError),
        ("material", {}, MissingError),
        ("departure", {"words": "x"}, MissingError),
    ],
)
def test_what_can_not_be_used_is_refused_and_nothing_is_entered(
    project: Project, kind: str, typed: dict[str, str], error: type[Exception]
) -> None:
    count = len(history(project, REF))
    about = "" if kind == "notice" else REF
    with pytest.raises(error):
        enter(project, actor=ANN, request_id="refused-1234567890", kind=kind, about=about, raw=typed)
    assert len(history(project, REF)) == count


def test_a_refused_form_keeps_what_was_typed(client: TestClient) -> None:
    answer = client.post(
        "/record/enter/material",
        data={"about": REF, "lot": "L-99", "request": "kept-12345678"},
        headers={"origin": "http://127.0.0.1:8370"},
    )
    assert answer.status_code == 422
    assert 'value="L-99"' in answer.text
    assert "Enter it" in answer.text


def test_the_command_enters_the_same(project: Project) -> None:
    where = ["--project", str(project.store.folder)]

    def run(*words: str) -> subprocess.CompletedProcess[str]:
        command = [sys.executable, "-m", "ribwright", "record", "enter", *words]
        return subprocess.run(command, capture_output=True, text=True)

    assert set(json.loads(run("--json").stdout)["kinds"]) == set(KINDS)
    made = run("material", "--about", REF, "--item", "AN3-5A", "--lot", "B7", *where, "--json")
    assert json.loads(made.stdout)["entries"][0]["body"]["lot"] == "B7"
    refused = run("material", "--about", REF, "--colour", "red", *where)
    assert refused.returncode != 0
    assert "--colour" in refused.stderr


def test_photos_of_an_evening_are_offered_to_the_operation_whose_clock_ran(
    client: TestClient, project: Project
) -> None:
    ran = {"stage": "drill", "hours": "1", "from": "2026-05-01T19:00:00", "to": "2026-05-01T20:00:00"}
    add_entry(project, actor=ANN, request_id="clock-12345678", kind="work", about=REF, body=ran)
    sent = []
    for name, stamp in (("../../in.jpg", "2026:05:01 19:30:00"), ("late.jpg", "2026:05:01 22:30:00")):
        exif = Image.Exif()
        exif.get_ifd(0x8769)[36867] = stamp
        out = io.BytesIO()
        Image.new("RGB", (64, 48), (len(name), 40, 90)).save(out, "JPEG", exif=exif)
        sent.append(("photos", (name, out.getvalue(), "image/jpeg")))
    sent.append(("photos", ("note.txt", b"no photo at all", "text/plain")))
    before = len(photos(project, REF))
    answer = client.post("/photos", files=sent, headers={"origin": "http://127.0.0.1:8370"})
    assert answer.status_code == 200
    assert len(photos(project, REF)) == before
    assert answer.text.count(f'value="{REF}" list=') == 1
    assert "JPEG, PNG, WebP or HEIC" in answer.text
    form = dict(re.findall(r'name="((?:mark|name|taken|request)[.\d]*)" value="([^"]*)"', answer.text))
    assert form["name.0"] == "in.jpg"
    form |= {"about.0": REF, "caption.0": "row 3", "about.1": ""}
    for _ in range(2):  # sent again by an impatient thumb: counts once
        assert (
            client.post("/photos/place", data=form, headers={"origin": "http://127.0.0.1:8370"}).status_code
            == 303
        )
    kept = photos(project, REF)
    assert len(kept) == before + 1
    assert kept[-1]["caption"] == "row 3"
