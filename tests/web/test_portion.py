"""Who is in a photo is marked by hand beside the claim that it stands behind."""

from __future__ import annotations

import re

from starlette.testclient import TestClient

from filled import ANN
from ribwright.services.portion import claim_line, enter_claim
from ribwright.services.project import Project
from ribwright.services.record import photos


def test_the_builder_is_marked_in_a_photo_and_taken_out_again(client: TestClient, project: Project) -> None:
    picture = photos(project)[0]
    enter_claim(
        project, actor=ANN, request_id="claim", key="W01", columns={"D": "1"}, evidence=[picture["about"]]
    )
    assert claim_line(project, "W01").evidence.builder_photos == 0
    text = client.get("/portion/W01").text
    assert f'name="photo" value="{picture["seq"]}"' in text
    form = {"request": "mark", "what": "photo", "photo": str(picture["seq"]), "who": ANN.name, "there": "yes"}
    assert client.post("/portion/W01", data=form).status_code == 303
    assert claim_line(project, "W01").evidence.builder_photos == 1
    assert re.search(rf"<b>{ANN.name}</b>", client.get("/portion/W01").text)
    assert client.post("/portion/W01", data=form | {"request": "off", "there": "no"}).status_code == 303
    assert claim_line(project, "W01").evidence.builder_photos == 0
    for wrong in ({"photo": "x"}, {"photo": "1"}, {"who": " "}):
        answer = client.post("/portion/W01", data=form | {"request": "bad"} | wrong)
        assert answer.status_code in (404, 422), wrong
