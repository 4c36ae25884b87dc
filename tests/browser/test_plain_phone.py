"""A phone over plain http, where the browser gives no sensors and no worker: let in, works, signs nothing."""

from __future__ import annotations

import json
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from filled import ANN, filled
from ribwright.services.devices import make_pairing
from ribwright.services.project import open_project
from seams import REF
from serving import Running

pytestmark = pytest.mark.browser
AXE = (Path(__file__).parent / "vendor" / "axe-core" / "axe.min.js").read_text(encoding="utf-8")
OUTSIDE, NAME = "127.0.0.2", "garage.local"
"""Another address of this machine, under a name: to the browser it is somebody else's, on an open connection."""


def serious(page: Page) -> list[str]:
    page.add_script_tag(content=AXE)
    result = page.evaluate("axe.run(document, {resultTypes: ['violations']})")
    return [
        f"{page.url}: {v['id']}: {v['nodes'][0]['html'][:120]}"
        for v in result["violations"]
        if v["impact"] in ("serious", "critical")
    ]


def test_a_phone_on_an_open_connection(chromium: Browser, tmp_path: Path) -> None:
    filled(tmp_path / "p").close()
    with socket.socket() as probe:
        probe.bind((OUTSIDE, 0))
        port = probe.getsockname()[1]
    running = Running(f"http://127.0.0.1:{port}", tmp_path / "p")
    words = ["serve", "--lan", "--address", OUTSIDE, "--name", NAME, "--port", str(port), "--project", str(running.folder)]  # fmt: skip
    server = subprocess.Popen([sys.executable, "-m", "ribwright", *words], stdout=subprocess.DEVNULL)
    try:
        with open_project(running.folder) as project:
            code = make_pairing(project, actor=ANN, person="Tom", role="builder")
        for _ in range(300):
            try:
                urllib.request.urlopen(f"{running.url}/static/mark.svg", timeout=2).close()
                break
            except OSError:
                assert server.poll() is None
                time.sleep(0.05)
        browser = chromium.browser_type.launch(
            executable_path=shutil.which("chromium") or shutil.which("chromium-browser"),
            args=["--no-sandbox", "--disable-gpu", f"--host-resolver-rules=MAP {NAME} {OUTSIDE}"],
        )
        found: list[str] = []
        laptop = browser.new_context(base_url=running.url, bypass_csp=True).new_page()
        for path in ("/phones", "/enter", "/trust"):
            laptop.goto(path)
            found += serious(laptop)
        there = f"http://{NAME}:{port}"
        phone = browser.new_context(
            base_url=there, bypass_csp=True, viewport={"width": 360, "height": 740}
        ).new_page()
        phone.goto("/record")
        assert phone.url == f"{there}/enter", "a stranger finds the entrance only"
        assert phone.evaluate("isSecureContext") is False
        found += serious(phone)
        phone.get_by_label("Code").fill(code)
        phone.get_by_label("What to call this phone").fill("garage")
        phone.keyboard.press("Enter")
        expect(phone.locator("main")).to_contain_text("What this phone can’t do")
        found += serious(phone)
        assert not found, "\n".join(found)
        phone.goto(f"/stage/{REF}/drill")
        expect(phone.locator("#cannot")).to_be_visible()
        expect(phone.locator("#awake")).to_be_hidden()
        assert phone.evaluate("document.documentElement.scrollWidth") <= 360
        phone.get_by_label("Hours", exact=True).fill("0.75")
        phone.get_by_role("button", name="Log it").click()
        phone.wait_for_url("**/operation/**")
        expect(phone.get_by_role("button", name="Sign this operation")).to_have_count(0)
        expect(phone.locator("main")).to_contain_text("Signing is done on the laptop")
        assert phone.locator("#photo").get_attribute("capture") == "environment"
        phone.goto(f"/tally/{REF}")
        phone.get_by_role("button", name="good").click()
        phone.get_by_role("button", name="Enter the marks").click()
        expect(phone.locator('[data-hole="1"]')).to_have_attribute("data-said", "good")
        phone.goto(f"/twist/{REF}/rivet")
        expect(phone.locator("main")).to_contain_text("connection")
        browser.close()
    finally:
        server.terminate()
        server.wait(15)
    shown = json.loads(running.command("operation", "show", REF, "--json"))
    assert {s["name"]: s["hours"] for s in shown["stages"]}["drill"] == "0.75"
    assert "1 good" in [r["value"] for r in shown["readings"]]
