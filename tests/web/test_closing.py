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
from ribwright.services.project import Project, create_project
from ribwright.services.record import add_entries, check

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
