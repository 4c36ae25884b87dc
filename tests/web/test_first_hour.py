"""A stranger's first steps: every stop of the walk is there, and a file is looked at before it is entered."""

from __future__ import annotations

import re
from pathlib import Path

from starlette.testclient import TestClient

from filled import ANN
from ribwright.services.dunlin import load_dunlin
from ribwright.services.project import Project, create_project
from ribwright.services.record import objects, set_object
from ribwright.services.series import first_of
from ribwright.web.app import create_app
from ribwright.web.walk import WALK, stop_path
from seams import REF, SEAM, flat

HEADERS = {"origin": "http://127.0.0.1:8370"}


def test_every_stop_of_the_walk_answers_in_the_demonstration(tmp_path: Path) -> None:
    with create_project(tmp_path / "p", name="Dunlin", actor=ANN, request_id="begin") as made:
        load_dunlin(made, actor=ANN, request_id="dunlin-12345678")
        with TestClient(create_app(made, actor=ANN), base_url="http://127.0.0.1:8370") as client:
            said = client.get("/walk").text
            assert "/walk" in client.get("/").text
            for number, (path, name, _) in enumerate(WALK, 1):
                assert name in said
                assert f'href="{stop_path(number)}"' in said
                if path != "/plan":  # its first time takes seconds; its own tests open it
                    shown = client.get(stop_path(number))
                    assert shown.status_code == 200, path
                    assert f"{number} of {len(WALK)}: {name}" in shown.text
                    assert "Back" in shown.text or number == 1
                    assert ("Next: " in shown.text) == (number < len(WALK))
            for altered in ("13", "0", "x", "-1", "1" * 99, "²"):
                assert 'class="walking"' not in client.get("/record", params={"walk": altered}).text


def test_an_own_project_is_led_to_its_first_seam(tmp_path: Path) -> None:
    with (
        create_project(tmp_path / "p", name="Mine", actor=ANN, request_id="begin") as made,
        TestClient(create_app(made, actor=ANN), base_url="http://127.0.0.1:8370") as client,
    ):
        assert "Enter the first seam" in client.get("/walk").text
        assert "Enter the first seam" in client.get("/").text
        assert "This is the Dunlin" not in client.get("/").text


def test_a_first_seam_is_found_again_and_its_assembly_made_with_it(tmp_path: Path) -> None:
    with (
        create_project(tmp_path / "p", name="Mine", actor=ANN, request_id="begin") as made,
        TestClient(
            create_app(made, actor=ANN), base_url="http://127.0.0.1:8370", follow_redirects=False
        ) as client,
    ):
        seam = flat(SEAM) | {"calculation": "seam", "seen": "0"}
        alone = client.post("/operation/new", data=seam | {"request": "alone-1234"}, headers=HEADERS)
        assert (alone.status_code, alone.headers["location"]) == (303, "/operation/OP-S01")
        assert 'href="/operation/OP-S01"' in client.get("/airframe").text
        assert 'href="/stage/OP-S01/drill">Bench sheet: drill' in client.get("/operation/OP-S01").text
        assert (
            'href="/stage/OP-S01/drill"' in client.get("/stage/OP-S01/fit").text
        )  # fit has no sheet of its own
        inside = seam | {"request": "first-1234", "parent": "DN-21"}
        assert client.post("/operation/new", data=inside, headers=HEADERS).status_code == 303
        # from then on an unknown one may be a slip: it is asked first, and nothing is made
        slip = seam | {"request": "slip-12345", "parent": "DN-12"}
        asked = client.post("/operation/new", data=slip, headers=HEADERS)
        assert asked.status_code == 422
        assert "There is no assembly DN-12 yet" in asked.text
        assert [one.ref for one in objects(made, noun="assembly")] == ["DN-21"]
        assert client.post("/operation/new", data=slip | {"make": "yes"}, headers=HEADERS).status_code == 303
        assert [one.ref for one in objects(made, noun="assembly")] == ["DN-12", "DN-21"]


def test_a_file_is_shown_with_what_it_comes_to_before_it_is_entered(
    client: TestClient, project: Project
) -> None:
    text = client.get(f"/operation/{REF}/drawing-data.toml").text
    before = len(objects(project, noun="operation"))
    form = {"request": "take-12345678", "calculation": "seam", "parent": "DN-21", "text": text}
    shown = client.post("/operation/take-in", data=form, headers=HEADERS)
    assert shown.status_code == 200
    assert "MS20426AD3" in shown.text
    assert len(objects(project, noun="operation")) == before
    form["ref"] = re.search(r'name="ref" value="([^"]+)"', shown.text)[1]  # type: ignore[index]
    for _ in range(2):
        assert (
            client.post("/operation/take-in", data=form | {"enter": "yes"}, headers=HEADERS).status_code
            == 303
        )
    assert len(objects(project, noun="operation")) == before + 1


def test_a_broken_file_is_named_and_what_was_pasted_is_kept(client: TestClient) -> None:
    for text in ('title = "half', "{", "pitch = 3", "[[layers]]\npart = 1"):
        form = {"request": "take-12345679", "calculation": "seam", "text": text}
        shown = client.post("/operation/take-in", data=form, headers=HEADERS)
        assert shown.status_code == 422, text
        assert "Not taken in" in shown.text
    assert (
        client.post(
            "/operation/take-in", data={"calculation": "none", "text": "a = 1"}, headers=HEADERS
        ).status_code
        == 422
    )


def test_a_series_is_looked_at_then_entered_whole_and_once(client: TestClient, project: Project) -> None:
    path = f"/operation/{REF}/like"
    words = first_of(project, REF).words
    paths = [one.path for one in first_of(project, REF).quantities]
    form = {
        "request": "like-12345678", "count": "3", f"step.{words.index('DN-2101')}": "1",
        f"last.{paths.index('last')}": "57 in",
    }  # fmt: skip
    before = {one.ref for one in objects(project, noun="operation")}
    shown = client.post(path, data=form, headers=HEADERS)
    assert shown.status_code == 200
    assert {one.ref for one in objects(project, noun="operation")} == before
    refs = re.search(r'name="refs" value="([^"]*)"', shown.text)
    assert refs is not None
    for _ in range(2):
        sent = client.post(path, data=form | {"enter": "yes", "refs": refs.group(1)}, headers=HEADERS)
        assert (sent.status_code, sent.headers.get("location")) == (303, "/airframe/DN-21")
    made = [one for one in objects(project, noun="operation") if one.ref not in before]
    assert sorted(one.ref for one in made) == refs.group(1).split()
    assert [one.data["inputs"]["layers"][0]["part"] for one in made] == [
        f"DN-{n} upper skin" for n in (2102, 2103, 2104)
    ]
    assert made[-1].data["inputs"]["last"] == "57 in"
    assert all(one.parent == "DN-21" for one in made)


def test_a_series_with_one_that_cannot_be_enters_none(client: TestClient, project: Project) -> None:
    path = f"/operation/{REF}/like"
    paths = [one.path for one in first_of(project, REF).quantities]
    before = len(objects(project, noun="operation"))
    form = {"request": "like-23456789", "count": "3", f"last.{paths.index('first')}": "58 in"}
    shown = client.post(path, data=form, headers=HEADERS)
    assert shown.status_code in (200, 422)
    assert "Enter all" not in shown.text
    assert 'value="58 in"' in shown.text
    refused = client.post(path, data=form | {"enter": "yes"}, headers=HEADERS)
    assert refused.status_code == 422
    assert len(objects(project, noun="operation")) == before
    for count in ("", "many", "-1", "1e9"):
        assert client.post(path, data=form | {"count": count}, headers=HEADERS).status_code == 422


def test_a_part_shows_its_blank_its_operations_and_no_name_of_ours(
    client: TestClient, project: Project
) -> None:
    set_object(
        project, actor=ANN, request_id="strap", noun="part", ref="DN-2119", parent="DN-21", title="strap",
        data={
            "made": "sheet", "axes": "x z", "material": "6061-T6", "thickness": ".063", "arm_in": "97.4", "weight_lb": ".02",
            "outline": [["0", "0"], ["2", "0"], ["2", "6"], ["0", "6"]],
        },
    )  # fmt: skip
    set_object(
        project, actor=ANN, request_id="row", noun="operation", ref="DN-21-X1", parent="DN-21", title="strap to web",
        data={
            "calculation": "seam", "parts": ["DN-2119"], "fasteners": [{"part_number": "MS20470AD3-3", "count": "5"}],
            "joins": [{"part": "DN-2119", "axes": "x z", "row": [["1", "1"], ["1", "5"]]}],
        },
    )  # fmt: skip
    said = client.get("/airframe/DN-2119").text
    assert "5 pilot holes" in said
    assert "arm, in aft of the datum" in said
    assert 'href="/operation/DN-21-X1"' in said
    for name in ("arm_in", "arm in<", "weight lb"):
        assert name not in said


def test_a_file_that_is_chosen_tells_its_kind_and_what_is_no_file_of_drawing_data_is_refused(
    client: TestClient, project: Project
) -> None:
    before = len(objects(project, noun="operation"))

    def shown(content: bytes, **more: str) -> tuple[int, str]:
        sent = client.post(
            "/operation/take-in", data={"request": "file-12345678", "calculation": "", "text": ""} | more,
            files={"file": ("seam.toml", content)}, headers=HEADERS,
        )  # fmt: skip
        return sent.status_code, sent.text

    seam = client.get(f"/operation/{REF}/drawing-data.toml").content
    status, text = shown(seam, text="what the file replaces")
    assert status == 200
    assert '<option value="seam" selected>' in text
    assert "MS20426AD3" in text
    assert "what the file replaces" not in text
    example = Path(__file__).parents[2] / "docs" / "examples" / "nose-roll.toml"
    assert '<option value="nose-roll" selected>' in shown(example.read_bytes())[1]
    for content, said in (
        (b"", "nothing was entered"),
        (b"\xff\xfe\x00x", "no plain text"),
        (b'{"a":' * 4000 + b"1" + b"}" * 4000, "values within values"),
        (b'speling = "1"', "none that knows these names"),
        (b"title = [oops", "line 1"),
        (b'title = "<script>alert(1)</script>"\nfirst = "nan"', "&lt;script&gt;"),
    ):
        status, text = shown(content)
        assert (status, said in text) == (422, True), content[:20]
        assert "<script>alert" not in text
    assert len(objects(project, noun="operation")) == before


def test_an_assembly_that_names_its_side_has_that_hand_and_its_other_hand_is_proposed(tmp_path: Path) -> None:
    with (
        create_project(tmp_path / "p", name="Mine", actor=ANN, request_id="begin") as made,
        TestClient(create_app(made, actor=ANN), base_url="http://127.0.0.1:8370") as client,
    ):
        seam = flat(SEAM) | {
            "calculation": "seam",
            "seen": "0",
            "request": "side-12345",
            "parent": "left flap",
        }
        assert client.post("/operation/new", data=seam, headers=HEADERS).status_code == 200
        assert {one.ref: one.hand for one in objects(made, noun="assembly")} == {"left flap": "left"}
        page = client.get("/airframe/left flap").text
        assert 'name="to" value="right flap"' in page
        for wrong in ("", "left flap"):
            sent = client.post(
                "/airframe/left flap/other-hand", data={"request": "other-1234", "to": wrong}, headers=HEADERS
            )
            assert sent.status_code in (409, 422)
            assert "what the other hand is called" in sent.text
        sent = client.post(
            "/airframe/left flap/other-hand",
            data={"request": "other-9999", "to": "right flap"},
            headers=HEADERS,
        )
        assert sent.status_code == 200
        assert {one.hand for one in objects(made, parent="right flap")} == {"right"}
