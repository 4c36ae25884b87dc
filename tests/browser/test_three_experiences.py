"""The three paths that carry the product, each walked in the browser against the clock: the paper template to *stop*,
the spoiled hole to the page for the designer, and what must be seen to before a space is closed."""

from __future__ import annotations

import io
import json
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
from pdfplumber import open as open_pdf
from playwright.sync_api import Browser, Page

import closing_filled
from ribwright.core.forming.closing import opening_in
from ribwright.core.metrology.layout import bar_words
from ribwright.services.gauge import sheet_of, sheet_pdf
from ribwright.services.project import create_project, open_project
from seams import NOSE_REF, REF
from serving import Running, serve

TWO_MINUTES = 120.0


def scanned_template(folder: Path, ref: str) -> bytes:
    """A scan of the project's own gauge sheet, with a pencil line on its target."""
    import cv2

    with open_project(folder) as project:
        sheet, pdf = sheet_of(project, ref), sheet_pdf(project, ref)
    with pypdfium2.PdfDocument(pdf) as made:
        scan = np.ascontiguousarray(made[0].render(scale=200 / 72).to_numpy()[..., :3])
    target = np.array(sheet.layout["target"]["outline_xy"])
    px = np.rint(target * 200 / 25.4 * 16).astype(np.int32)
    cv2.polylines(scan, [px], False, (30, 30, 30), round(0.8 * 200 / 25.4), cv2.LINE_AA, 4)
    scan = cv2.GaussianBlur((25 + 0.75 * scan).astype(np.uint8), (0, 0), 0.8)
    return bytes(cv2.imencode(".png", scan)[1].tobytes())


def test_from_the_paper_template_to_stop(page: Page, served: Running) -> None:
    begun = time.monotonic()
    page.goto(f"/operation/{NOSE_REF}")
    page.get_by_role("link", name="Measure by photo").click()
    page.get_by_label("Place along the edge").fill("0")
    page.get_by_role("button", name="Make it").click()
    page.wait_for_url("**/photo/gauge/**")
    ref = page.url.rsplit("/", 1)[1]
    photo = scanned_template(served.folder, ref)
    page.get_by_text("Take in the drawing’s own paper template").click()
    line = page.locator("details", has_text="Take in the drawing’s own paper template").locator("form")
    line.get_by_label("Photo of the line").set_input_files(
        {"name": "template.png", "mimeType": "image/png", "buffer": photo}
    )
    for name, nominal in sheet_of(open_project(served.folder), ref).bars:
        line.get_by_label(bar_words(name)).fill(f"{nominal:g}")
    line.get_by_label("Width of the line").fill("0.8")
    line.get_by_label("The line is the skin’s").select_option("outside")
    line.get_by_role("button", name="Take it as the template").click()
    page.wait_for_url(f"**/operation/{NOSE_REF}")
    assert page.get_by_text("round tool").count() >= 1
    assert page.get_by_role("link", name="Packet to print").count() == 1
    page.get_by_role("link", name="After the roll").click()
    wanted = (1.083 + 0.937) / 2 + 0.01
    opening = float(opening_in(wanted_radius_in=wanted, rolled_radius_in=wanted * 1.01, arc_rad=1.5708))
    page.get_by_label("Opening between mating holes").fill(f"{opening:.3f}")
    page.get_by_role("button", name="Work it out").last.click()
    assert page.locator(".big-answer").inner_text().strip() == "stop"
    page.get_by_role("button", name="Put it in the record").click()
    page.get_by_text("Expected against found").wait_for()
    assert time.monotonic() - begun < TWO_MINUTES
    story = served.command("record", "history", NOSE_REF)
    assert "taken from a photo" in story
    assert "inside radius of the rolled edge" in story


def test_from_a_spoiled_hole_to_the_page_for_the_designer(page: Page, served: Running) -> None:
    begun = time.monotonic()
    page.goto(f"/operation/{REF}")
    page.get_by_role("link", name="I spoiled a hole").click()
    page.get_by_label("What happened").select_option("short edge distance")
    page.get_by_label("Hole number").fill("7")
    page.get_by_label("Largest across the hole").fill(".098")
    page.get_by_label("Edge distance found").fill(".14")
    page.keyboard.press("Enter")
    page.locator(".big-answer").wait_for()
    assert page.locator(".big-answer").inner_text().strip() in ("within limits", "mend", "ask")
    assert "%" in page.locator("section.answer").inner_text()
    page.get_by_role("button", name="Put it in the record").click()
    page.wait_for_url("**/discrepancy/**")
    link = page.get_by_role("link", name="Question to the designer").get_attribute("href")
    answer = page.request.get(str(link))
    assert time.monotonic() - begun < TWO_MINUTES
    with open_pdf(io.BytesIO(answer.body())) as pdf:
        words = pdf.pages[0].extract_text()
        assert len(pdf.pages) == 1
    for said in ("0.140 in", "As built against as drawn", "hole 7", "The designer"):
        assert said in words
    assert "hole 7" in served.command("record", "history", REF)


@pytest.fixture
def aileron(tmp_path: Path) -> Iterator[Running]:
    with create_project(
        tmp_path / "p", name="Aileron", actor=closing_filled.BUILDER, request_id="begin"
    ) as project:
        closing_filled.put(project, "DN-21")
    yield from serve(tmp_path / "p")


def test_before_a_space_is_closed_its_open_lines_hold_it(chromium: Browser, aileron: Running) -> None:
    context = chromium.new_context(base_url=aileron.url, viewport={"width": 390, "height": 844})
    page = context.new_page()
    listed = json.loads(aileron.command("bench", "closing", "DN-21-S27", "--json"))
    page.goto("/operation/DN-21-S27")
    page.get_by_role("link", name="Before you close it").click()
    page.wait_for_url("**/stage/DN-21-S27/**")
    still = [line for line in listed["lines"] if not line["done"]]
    assert still
    for line in still[:3]:
        assert page.get_by_text(line["text"], exact=False).count() >= 1
    stage = page.url.split("#")[0].rsplit("/", 1)[1]
    sent = page.request.post(
        f"/stage/DN-21-S27/{stage}", form={"request": "close-12345678", "what": "work", "hours": "1", "done": "yes"},
        headers={"origin": aileron.url},
    )  # fmt: skip
    assert sent.status == 409
    assert not json.loads(aileron.command("bench", "closing", "DN-21-S27", "--json"))["ready"]
    context.close()
