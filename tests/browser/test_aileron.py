"""The aileron clicked through: a rolled nose copied, the other hand in one action, a line before closing; read back from the record."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

import closing_filled
from ribwright.services.project import create_project
from serving import Running, serve

pytestmark = pytest.mark.browser


@pytest.fixture
def aileron(tmp_path: Path) -> Iterator[Running]:
    """The left aileron of the Dunlin, nothing done yet."""
    with create_project(
        tmp_path / "p", name="Aileron", actor=closing_filled.BUILDER, request_id="begin"
    ) as project:
        closing_filled.put(project, "DN-21")
    yield from serve(tmp_path / "p")


def test_nose_other_hand_and_a_closing_line_end_in_the_record(chromium: Browser, aileron: Running) -> None:
    context = chromium.new_context(base_url=aileron.url)
    page = context.new_page()
    page.set_default_timeout(60_000)
    page.goto("/operation/DN-21-R02")
    expect(page.locator("figure svg")).to_be_visible()
    page.get_by_role("link", name="One more like this").click()
    page.locator('[name="title"]').fill("roll the spare nose section")
    page.locator('[name="ref"]').fill("DN-21-R09")
    page.get_by_role("button", name="Work it out and enter it").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("roll the spare nose section")
    page.goto("/airframe/DN-21")
    page.get_by_label("Reference of the other hand").fill("DN-26")
    page.get_by_role("button", name="Make the right hand").click()
    expect(page.get_by_role("main")).to_contain_text("DN-26-S25")
    page.goto("/stage/DN-21-S27/rivet")
    line = page.locator(".lines li", has_text="no protective film or tape is left inside")
    line.locator("summary").click()
    line.get_by_label("pieces of film left").fill("0")
    line.get_by_role("button", name="Enter").click()
    expect(page.locator(".lines li", has_text="no protective film or tape is left inside")).to_contain_text(
        "done"
    )
    context.close()
    nose = json.loads(aileron.command("operation", "show", "DN-21-R09", "--json"))
    assert nose["inputs"]["stations"][0]["radius"]
    assert nose["answer"]["results"]["tool"]["value"]
    other = json.loads(aileron.command("operation", "show", "DN-26-S25", "--json"))
    assert other["inputs"]["hand"] == "right"
    closing = json.loads(aileron.command("bench", "closing", "DN-21-S27", "--json"))
    assert next(one for one in closing["lines"] if one["key"] == "film")["done"] is True
    assert not closing["ready"]
    assert json.loads(aileron.command("record", "check", "--json"))["ok"] is True
