"""Before you close it, on the page: each open line is entered where it stands, and only then is the stage finished."""

from __future__ import annotations

import html
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

import closing_filled
from ribwright.services.closing import before_closing
from ribwright.services.closing_twist import enter_twist
from ribwright.services.project import Project, create_project
from ribwright.services.record import add_entries, check, get_object, readings, set_object

CLOSER = "DN-21-S27"
STAGE = f"/stage/{CLOSER}/rivet"


@pytest.fixture
def project(tmp_path: Path) -> Iterator[Project]:
    """An aeroplane with one aileron, nothing done yet; the shared client serves it."""
    with create_project(
        tmp_path / "p", name="Closing", actor=closing_filled.BUILDER, request_id="begin"
    ) as made:
        yield made


def send(client: TestClient, text: str, value: str, number: int, **more: str) -> int:
    form = {"request": f"line-{number}", "what": "line", "text": text, "value": value, **more}
    return client.post(STAGE, data=form).status_code


def test_a_space_is_closed_only_when_its_list_is_done(client: TestClient, project: Project) -> None:
    closing_filled.put(project, "DN-21")
    items = closing_filled.entries_of(project, CLOSER)
    space = "DN-21-A"
    # all but what is said about the space itself, which is entered on the page
    add_entries(
        project,
        actor=closing_filled.BUILDER,
        request_id="inside",
        items=[one for one in items if one.about != space],
    )
    add_entries(project, actor=closing_filled.BUILDER, request_id="tray", items=closing_filled.set_up(CLOSER))
    page = client.get(STAGE).text
    assert "Before you close it" in page
    finish = {"request": "finish-1", "what": "work", "hours": "1", "done": "yes"}
    refused = client.post(STAGE, data=finish)
    assert refused.status_code == 409
    for number, line in enumerate(before_closing(project, CLOSER).open):
        if line.key == "photo":
            bay = line.text.removeprefix("photo of ")
            photo = b"\xff\xd8\xff\xe0"  # refused: not a whole photo
            assert (
                client.post(
                    f"/photo/add/{space}",
                    data={"request": f"p{number}", "caption": bay},
                    files={"photo": ("x.jpg", photo, "image/jpeg")},
                ).status_code
                == 422
            )
            assert (
                client.post(
                    f"/photo/add/{space}",
                    data={"request": f"q{number}", "caption": bay},
                    files={"photo": ("x.png", picture(), "image/png")},
                ).status_code
                == 303
            )
            continue
        value, more = {
            "film": ("0", {}),
            "hardware": ("0", {}),
            "twist": ("0.1", {}),
            "second": ("every bay", {"who": "Tom Reed"}),
        }[line.key]
        assert send(client, line.text, "", 100 + number) == 422, "nothing typed is not an answer"
        assert send(client, line.text, value, number, **more) == 303
    assert before_closing(project, CLOSER).open == ()
    assert client.post(STAGE, data=finish | {"request": "finish-2"}).status_code == 303
    assert check(project).ok


def test_what_was_found_wrong_keeps_the_line_open(client: TestClient, project: Project) -> None:
    closing_filled.put(project, "DN-21")
    twist = next(line for line in before_closing(project, CLOSER).open if line.key == "twist")
    assert send(client, twist.text, "1.2 deg", 1) == 303
    again = next(line for line in before_closing(project, CLOSER).lines if line.key == "twist")
    assert not again.done
    assert "rework" in again.found
    assert send(client, "no such line", "0", 2) == 422
    shown = html.unescape(client.get(STAGE).text)
    assert re.search(r"twist end to end, degrees", shown)


def picture() -> bytes:
    import io

    from PIL import Image

    made = io.BytesIO()
    Image.new("RGB", (40, 30), (9, 99, 199)).save(made, "PNG")
    return made.getvalue()


def test_a_row_is_not_finished_while_its_own_list_is_open(client: TestClient, project: Project) -> None:
    closing_filled.put(project, "DN-21")
    ref = "DN-21-S01"
    before = [
        one for name in ("drill", "deburr", "finish", "refit") for one in closing_filled.of_stage(ref, name)
    ]
    bends = [
        one
        for bend in ("DN-21-B01", "DN-21-B02")
        for name in ("blank", "bend", "deburr")
        for one in closing_filled.of_stage(bend, name)
    ]
    add_entries(project, actor=closing_filled.BUILDER, request_id="before", items=[*bends, *before])
    finish = {"request": "rivet-1", "what": "work", "hours": "1", "done": "yes"}
    refused = client.post(f"/stage/{ref}/rivet", data=finish)
    assert refused.status_code == 409
    assert "in the tray" in html.unescape(refused.text)


def test_twist_is_judged_by_the_drawing_s_limit_with_the_band_of_the_readings(
    client: TestClient, project: Project
) -> None:
    closing_filled.put(project, "DN-21")
    space = get_object(project, "DN-21-A")

    def line() -> str:
        return next(one for one in before_closing(project, CLOSER).lines if one.key == "twist").found

    twist = next(one for one in before_closing(project, CLOSER).open if one.key == "twist")
    assert send(client, twist.text, "0.45 deg", 1) == 303
    assert line().startswith("undecided"), "half a degree by practice, two readings to a tenth each"
    reading = readings(project, space.ref)[-1]
    assert '"practice"' in reading["body"]
    assert float(reading["u"]) == pytest.approx(0.1 * 2**0.5, abs=1e-3)
    form = {"request": "t2", "first": "0.5", "second": "0.15", "first_turned": "-0.3", "second_turned": "0.05", "way": "level on the end ribs", "allowed": "0.5", "limits": "0.1", "wanted": "0"}  # fmt: skip
    assert client.post(f"/weight/twist/{space.ref}", data=form).status_code == 303
    assert line() == "within limits"  # .35 degrees by both ways round, good to a tenth
    assert client.post(f"/weight/twist/{space.ref}", data=form | {"request": "t3", "second_turned": ""}).status_code == 422  # fmt: skip
    tighter = {**space.data, "twist_deg": "0.2"}
    set_object(project, actor=closing_filled.BUILDER, request_id="t4", noun="space", ref=space.ref, data=tighter, parent=space.parent, title=space.title)  # fmt: skip
    assert 'value="0.2"' in client.get(f"/weight/twist/{space.ref}").text
    found, _ = enter_twist(project, actor=closing_filled.BUILDER, request_id="t5", ref=space.ref, raw={"first": "0.5", "second": "0.1"})  # fmt: skip
    assert found.verdict.value == "rework", "the drawing's limit wins over practice"
    assert line().startswith("rework")
    assert check(project).ok
