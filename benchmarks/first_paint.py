"""Largest paint and first load of the pages of the Dunlin, in Chromium slowed down to a mid-range phone.

``python benchmarks/first_paint.py [--folder DIR]``

Processor four times slower. Two networks: the one at home (20 Mbit/s, 20 ms) and a poor one (1.6 Mbit/s, 150 ms). Each
page is opened with nothing kept, in a browser context of its own; its largest paint is the browser's own measure
(largest-contentful-paint, from the start of the navigation), and the first load what came over the wire, compressed.
The floor is the same browser on a page of one sentence, the one that says there is no such page. Goals: 1 s at home; 120 kB.
"""

from __future__ import annotations

import argparse
import shutil
import statistics
import tempfile
import time
from pathlib import Path

from ending import takes_all_with_it
from live_pages import PATHS, start
from playwright.sync_api import Browser, sync_playwright

from ribwright.services.dunlin import make_dunlin
from ribwright.services.project import Actor, is_project

SLOWER = 4
NETWORKS = {"home": (20_000_000 / 8, 20), "poor": (1_600_000 / 8, 150)}
TIMES = 5
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-sync",
]
LARGEST = """() => new Promise((done) => {
  let largest = 0;
  new PerformanceObserver((list) => { for (const one of list.getEntries()) largest = one.startTime; }).observe({type: "largest-contentful-paint", buffered: true});
  setTimeout(() => done(largest), 400);
})"""


def opened(browser: Browser, url: str, network: str) -> tuple[float, int]:
    """Largest paint in ms and bytes over the wire of one first opening."""
    context = browser.new_context(
        viewport={"width": 390, "height": 844}, device_scale_factor=2, has_touch=True, is_mobile=True, service_workers="block",
    )  # fmt: skip
    page = context.new_page()
    wire = context.new_cdp_session(page)
    came = 0

    def count(event: dict[str, float]) -> None:
        nonlocal came
        came += int(event["encodedDataLength"])

    wire.on("Network.loadingFinished", count)
    wire.send("Network.enable")
    rate, latency = NETWORKS[network]
    wire.send(
        "Network.emulateNetworkConditions",
        {"offline": False, "latency": latency, "downloadThroughput": rate, "uploadThroughput": rate},
    )
    wire.send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
    page.goto(url, wait_until="load")
    largest = float(page.evaluate(LARGEST))
    context.close()
    return largest, came


def main() -> int:
    asked = argparse.ArgumentParser()
    asked.add_argument("--folder", type=Path, help="a project with the Dunlin in it; else one is made")
    given = asked.parse_args()
    with tempfile.TemporaryDirectory() as temporary, sync_playwright() as play:
        project = given.folder or Path(temporary) / "p"
        if not is_project(project):
            make_dunlin(project, actor=Actor("builder"), request_id="bench").close()
        server, port, _ = start(project)
        time.sleep(3)
        browser = play.chromium.launch(
            executable_path=shutil.which("chromium") or shutil.which("chromium-browser"), args=FLAGS
        )
        try:
            for network in NETWORKS:
                for path in ("/none", *PATHS):
                    runs = [opened(browser, f"http://127.0.0.1:{port}{path}", network) for _ in range(TIMES)]
                    paints = sorted(ms for ms, _ in runs)
                    floor = "floor: " if path == "/none" else ""
                    print(
                        f"{network:5s} {floor}{path:26s} largest paint, middle {statistics.median(paints):6.0f} ms, "
                        f"most {paints[-1]:6.0f} ms; first load {runs[0][1] / 1000:5.1f} kB"
                    )
        finally:
            browser.close()
            server.terminate()
            server.wait(20)
    return 0


if __name__ == "__main__":
    takes_all_with_it()
    raise SystemExit(main())
