"""The seam clicked through, from an empty project to the record read back on the command line."""

from __future__ import annotations

import json
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from ribwright.services.project import Actor, create_project
from seams import REF, SEAM, flat
from serving import Running, serve

pytestmark = pytest.mark.browser


def test_first_seam_by_form_then_sheet_readings_hours_and_record(page: Page, served: Running) -> None:
    page.goto("/airframe")
    page.get_by_label("Reference").fill("DN-22")
    page.get_by_label("Name").fill("Right aileron")
    page.get_by_role("button", name="Make the assembly").click()
    page.get_by_role("link", name="Enter a seam").click()
    for name, value in flat(SEAM).items():
        if name.startswith("exceptions.0") and page.locator(f'[name="{name}"]').count() == 0:
            page.get_by_role("button", name="add a row to Exceptions").click()
        box = page.locator(f'[name="{name}"]')
        (box.select_option(value) if box.evaluate("e => e.tagName") == "SELECT" else box.fill(value))
    page.get_by_role("button", name="Work it out and enter it").click()
    expect(page.get_by_role("heading", level=1)).to_have_text(SEAM["title"])
    expect(page.locator("table")).to_contain_text("MS20426AD3-3.5")
    page.get_by_role("link", name="fit", exact=True).click()
    page.get_by_label("Hours").fill("90 min")
    page.get_by_label("This stage is finished").select_option("yes")
    page.get_by_role("button", name="Log it").click()
    page.get_by_role("link", name="rivet", exact=True).click()
    heads = [".047", ".046", ".048", ".031", ".045", ".047", ".060", ".046", ".047", ".044", ".049", ".046"]
    for n, value in enumerate(heads):
        page.get_by_label(f"Line {n + 1}, where").fill("trial" if n == 0 else str(n))
        page.get_by_label(f"Line {n + 1}, what").select_option("formed head height")
        page.get_by_label(f"Line {n + 1}, value").fill(value)
    page.get_by_role("button", name="Enter readings").click()
    answer = page.get_by_role("status", name="Answer")
    expect(answer).to_contain_text("Replace: 3")
    expect(answer).to_contain_text("Set a little more: 6")
    shown = json.loads(served.command("operation", "show", "DN-22-S01", "--json"))
    assert shown["inputs"]["layers"][1]["thickness"] == ".040 in"
    assert [r["value"] for r in shown["readings"]] == heads
    assert [f["verdict"] for f in shown["findings"]].count("rework") == 2
    assert shown["stages"][0] == {"name": "fit", "done": True, "hours": "1.5"}
    assert json.loads(served.command("record", "check", "--json"))["ok"] is True


def test_one_more_seam_takes_at_most_eight_entries_and_ninety_seconds_by_keyboard_alone(
    page: Page, served: Running
) -> None:
    begun, pressed, entries = time.monotonic(), 0, 0

    def at(selector: str) -> None:
        nonlocal pressed
        for _ in range(120):
            if page.evaluate(f"document.activeElement.matches({json.dumps(selector)})"):
                return
            page.keyboard.press("Tab")
            pressed += 1
        pytest.fail(f"the keyboard doesn't reach {selector}")

    page.goto("/airframe/DN-21")
    at(f'a[href="/operation/{REF}"]')
    page.keyboard.press("Enter")
    page.wait_for_url(f"**/operation/{REF}")
    at('a[href*="like="]')
    page.keyboard.press("Enter")
    page.wait_for_url("**/operation/new?like=**")
    fields = {"title": "lower skin to spar, left aileron", "drawing": "DN-2102", "layers.0.part": "DN-2102 lower skin", "last": "56-3/4 in"}  # fmt: skip
    for name, value in fields.items():
        at(f'[name="{name}"]')
        page.keyboard.type(value)  # what the box held was selected on the way in
        entries += 1
    at('[name^="remove:exceptions"]')
    page.keyboard.press("Enter")
    entries += 1
    expect(page.locator('[name^="remove:exceptions"]')).to_have_count(0)
    assert page.evaluate("document.activeElement.id") == "rows-exceptions", "the focus stays at the rows"
    at("form.spec > .buttons button")
    page.keyboard.press("Enter")
    entries += 1
    expect(page.get_by_role("heading", level=1)).to_have_text("lower skin to spar, left aileron")
    at('a.button[href^="/stage/"]')
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text("Drill: lower skin to spar, left aileron")
    expect(page.locator(".bench-sheet")).to_contain_text("DN-2102, revision")
    assert entries <= 8
    assert time.monotonic() - begun < 90
    assert pressed < 200, "tabs on the whole way"
    shown = json.loads(served.command("operation", "show", "DN-21-S02", "--json"))["inputs"]
    assert (shown["last"], shown["drawing"]) == ("56-3/4 in", "DN-2102")
    assert "exceptions" not in shown


def test_keyboard_alone_enters_hours(page: Page, served: Running) -> None:
    page.goto(f"/stage/{REF}/drill")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    page.get_by_label("Hours").focus()
    page.keyboard.type("1.25")
    for _ in range(2):
        page.keyboard.press("Tab")
    page.keyboard.type("square holes")
    page.keyboard.press("Tab")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text(SEAM["title"])
    stages = json.loads(served.command("operation", "show", REF, "--json"))["stages"]
    assert stages[1] == {"name": "drill", "done": True, "hours": "1.25"}


def test_a_refused_form_keeps_what_was_typed(page: Page, served: Running) -> None:
    page.goto(f"/operation/{REF}/edit")
    page.locator('[name="pitch"]').fill("1,500")
    page.locator('[name="revision"]').fill("C")
    page.get_by_role("button", name="Work it out and enter it").click()
    expect(page.get_by_role("alert")).to_contain_text("more than one way")
    expect(page.locator('[name="revision"]')).to_have_value("C")
    expect(page.locator('[name="pitch"]')).to_have_attribute("aria-invalid", "true")
    page.locator('[name="pitch"]').fill("1.5 in")
    page.get_by_role("button", name="Work it out and enter it").click()
    expect(page.get_by_role("heading", level=1)).to_have_text(SEAM["title"])
    shown = json.loads(served.command("operation", "show", REF, "--json"))
    assert (shown["inputs"]["pitch"], shown["inputs"]["revision"]) == ("1.5 in", "C")


def test_the_rule_moves_down_the_sheet_on_a_phone(phone: Page, served: Running) -> None:
    phone.goto(f"/stage/{REF}/rivet")
    steps = phone.locator(".bench-sheet .steps.tick").last.locator("li")
    steps.nth(2).tap()
    expect(steps.nth(2)).to_have_attribute("aria-current", "step")
    phone.reload()
    expect(phone.locator(".bench-sheet .steps.tick").last.locator("li").nth(2)).to_have_class("at")
    width = phone.evaluate("document.documentElement.scrollWidth")
    assert width <= 390, "nothing sticks out to the side"
    small = phone.evaluate(
        "[...document.querySelectorAll('button, .button, input:not([type=hidden]), select, .index a, .steps.tick li')]"
        ".filter(e => e.getBoundingClientRect().width > 2 && e.getBoundingClientRect().height < 44).map(e => e.outerHTML.slice(0, 80))"
    )
    assert small == []
    assert json.loads(served.command("operation", "show", REF, "--json"))["stages"][0]["done"] is True


@pytest.fixture
def empty(tmp_path: Path) -> Iterator[Running]:
    create_project(tmp_path / "p", name="New", actor=Actor("Ann Bell"), request_id="begin").close()
    yield from serve(tmp_path / "p")


def test_an_empty_project_says_what_to_do(chromium: Browser, empty: Running) -> None:
    context = chromium.new_context(base_url=empty.url)
    page = context.new_page()
    page.goto("/")
    expect(page.get_by_role("main")).to_contain_text("Begin with one seam")
    page.get_by_role("link", name="Make an assembly first").click()
    expect(page.get_by_label("Reference")).to_be_visible()
    for path in ("/checks", "/record", "/calc"):
        assert page.goto(path).status == 200  # type: ignore[union-attr]
    context.close()
    assert json.loads(empty.command("bench", "next", "--json"))["stages"] == 0
