"""The adviser's pages in a real browser: nothing serious found on a phone or in the dark, and an answer by keyboard."""

from __future__ import annotations

import os
import secrets
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import sync_playwright

from ribwright.services import advisers, record
from ribwright.services.project import Actor, create_project

ANN, UNA = Actor("Ann Bell"), "Una Reed"
AXE = Path(__file__).parents[1] / "browser" / "vendor" / "axe-core" / "axe.min.js"
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync"]  # fmt: skip


@pytest.fixture
def adviser(cluster: str) -> Iterator[str]:
    """The address of an adviser's pages over two builds, one of which shares its findings."""
    address = f"postgresql://app@/ribwright?host={cluster}"
    begun = []
    for name in ("A two-seat low-wing aeroplane in a garage", "Two"):
        made = create_project(address, name=name, actor=ANN, request_id="made")
        begun.append(made)
        record.set_object(
            made, actor=ANN, request_id="o", noun="operation", ref="DN-21-S01", data={}, title="Seam"
        )
        for kind, body in (
            ("question", {"words": "Hole 7 is at .14 in from the edge, the drawing wants .22. May it stay, or a doubler behind it?"}),
            ("reading", {"requirement": "edge distance", "value": ".15", "unit": "in"}),
            ("finding", {"requirement": "edge distance", "verdict": "refer", "reason": "short"}),
        ):  # fmt: skip
            record.add_entry(made, actor=ANN, request_id=kind, kind=kind, about="DN-21-S01", body=body)
        advisers.set_adviser(made, actor=ANN, request_id=secrets.token_hex(8), name=UNA, shares=name != "Two")
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    server = subprocess.Popen(
        [sys.executable, "-m", "ribwright", "adviser", "serve", "--database", address, "--by", UNA, "--port", str(port)],
        stdout=subprocess.DEVNULL,
    )  # fmt: skip
    try:
        for _ in range(300):  # a shared machine can take its time
            try:
                urllib.request.urlopen(f"http://127.0.0.1:{port}/static/mark.svg", timeout=1).close()
                break
            except OSError:
                assert server.poll() is None
                time.sleep(0.1)
        yield f"http://127.0.0.1:{port}"
    finally:
        server.terminate()
        server.wait(10)
        for project in begun:
            project.close()


@pytest.mark.postgres
@pytest.mark.browser
def test_the_adviser_reads_and_answers_on_a_phone_and_in_the_dark(adviser: str) -> None:
    path = shutil.which("chromium") or shutil.which("chromium-browser")
    if path is None:
        if os.environ.get("CI"):
            pytest.fail("Chromium is not installed")
        pytest.skip("Chromium is not installed")
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=path, args=FLAGS)
        for width, light in ((360, "light"), (1280, "dark")):
            page = browser.new_context(base_url=adviser, viewport={"width": width, "height": 800}, color_scheme=light, bypass_csp=True).new_page()  # type: ignore[arg-type]  # fmt: skip
            for sheet in ("/adviser/", "/adviser/often", "/adviser/builds"):
                page.goto(sheet)
                if sheet == "/adviser/":
                    page.locator("summary").first.click()
                assert page.evaluate(
                    "document.documentElement.scrollWidth <= document.documentElement.clientWidth"
                ), sheet
                page.add_script_tag(path=AXE)
                found = page.evaluate("axe.run(document, {resultTypes: ['violations']})")["violations"]
                assert not [v["id"] for v in found if v["impact"] in ("serious", "critical")], (sheet, found)
        page.goto("/")
        page.locator("summary").first.focus()
        page.keyboard.press("Enter")
        page.keyboard.press("Tab")
        page.keyboard.type("It may stay, with a doubler.")
        page.keyboard.press("Tab")
        page.keyboard.type("designer")
        page.keyboard.press("Tab")
        page.keyboard.press("Enter")
        page.get_by_text("One question.").wait_for()
        browser.close()
