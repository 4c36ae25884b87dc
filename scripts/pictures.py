"""Make every picture of README and guide from the program itself: pages from a served Dunlin, drawings from calculations.

`python scripts/pictures.py` writes docs/pictures. It needs Chromium and what `./check` installs.
"""

from __future__ import annotations

import shutil
import socket
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
PICTURES = ROOT / "docs" / "pictures"
MOST_BYTES = 150_000
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
PAGES = {
    "seam": ("/operation/DN-21-S25", 1280, 1150),
    "bench": ("/", 1280, 700),
    "spoiled": ("/operation/DN-21-S25/spoiled", 1280, 1000),
    "closing": ("/stage/DN-21-S27/rivet", 1280, 800),
    "tally": ("/tally/DN-21-S11", 390, 760),
    "record": ("/record", 1280, 700),
    "plan": ("/plan", 1280, 1000),
}
"""Picture: page, width and height of what is seen."""
DRAWINGS = ("nose-roll", "printer-check", "weighing", "sawtooth-climbs")


@contextmanager
def served(project: Path) -> Iterator[str]:
    """Serve the project on a free port; its address."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    server = subprocess.Popen(
        [sys.executable, "-m", "ribwright", "serve", "--port", str(port), "--project", str(project)],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    url = f"http://127.0.0.1:{port}"
    try:
        for _ in range(100):
            try:
                urllib.request.urlopen(url + "/static/mark.svg", timeout=1).close()
                break
            except OSError:
                if server.poll() is not None:
                    raise
                time.sleep(0.1)
        yield url
    finally:
        server.terminate()
        server.wait(10)


def from_pages(project: Path, pages: dict[str, tuple[str, int, int]]) -> None:
    """Photograph the project's pages as they are served."""
    from playwright.sync_api import sync_playwright

    with served(project) as url, sync_playwright() as play:
        browser = play.chromium.launch(executable_path=shutil.which("chromium"), args=FLAGS)
        for name, (path, width, height) in pages.items():
            context = browser.new_context(
                base_url=url, viewport={"width": width, "height": height}, color_scheme="light"
            )
            page = context.new_page()
            answer = page.goto(path)
            if answer is None or answer.status != 200:
                raise SystemExit(f"{path} of picture {name} is not there")
            for _ in range(200):  # what is worked out in the background comes when it is done
                if not page.get_by_text("Being worked out").count():
                    break
                time.sleep(2)
                page.goto(path)
            if name == "spoiled":
                page.get_by_label("Hole number").fill("7")
                page.get_by_label("Largest across the hole").fill(".112")
                page.get_by_role("button", name="Work it out").last.click()
                page.locator(".big-answer").wait_for()
                page.evaluate("scrollTo(0, 0)")
            page.screenshot(path=PICTURES / f"{name}.png")
            context.close()
        browser.close()


def from_drawing(drawing: Path, picture: Path) -> None:
    """Photograph a drawing that carries a photo: as a picture it is smaller."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=shutil.which("chromium"), args=FLAGS)
        page = browser.new_page(viewport={"width": 900, "height": 700})
        page.goto(drawing.as_uri())
        page.locator("svg").first.screenshot(path=picture)
        browser.close()


def main() -> int:
    """Write all pictures; 1 when one is too large for a page that is read on a phone."""
    from ribwright.services.dunlin import make_dunlin
    from ribwright.services.evening import BUILDER, work_an_evening

    PICTURES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        project = make_dunlin(Path(folder) / "dunlin", actor=BUILDER, request_id="pictures")
        work_an_evening(project, actor=BUILDER)
        project.close()
        from_pages(Path(folder) / "dunlin", PAGES)
    for name in DRAWINGS:
        command = [sys.executable, "-m", "ribwright", "calc", name]
        command += ["--in", str(ROOT / f"docs/examples/{name}.toml"), "--svg", str(PICTURES / f"{name}.svg")]
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
    photo = ROOT / "tests/data/photo"
    command = [sys.executable, "-m", "ribwright", "photo", "profile", str(photo / "a01.jpg")]
    command += ["--card", str(photo / "a01.card.json"), "--input", str(photo / "a01.input.json")]
    with tempfile.TemporaryDirectory() as folder:
        drawn = Path(folder) / "photo.svg"
        subprocess.run([*command, "--overlay", str(drawn)], check=True, stdout=subprocess.DEVNULL)
        from_drawing(drawn, PICTURES / "photo.png")
    large = [p.name for p in PICTURES.iterdir() if p.stat().st_size > MOST_BYTES]
    print("too large: " + ", ".join(large) if large else f"{len(list(PICTURES.iterdir()))} pictures")
    return 1 if large else 0


if __name__ == "__main__":
    raise SystemExit(main())
