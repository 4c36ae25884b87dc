"""Record the walk through the Dunlin as a moving picture of about three minutes, from the program itself.

`python scripts/record_tour.py FILE.webp` (or .gif, .png) needs Chromium and what `./check` installs. Frames are
photographs of the served pages with a line of words under each; nothing is drawn that the program doesn't show.
"""

from __future__ import annotations

import io
import shutil
import sys
import tempfile
from dataclasses import dataclass, field
from pathlib import Path

from pictures import FLAGS, served
from PIL import Image, ImageDraw, ImageFont
from playwright.sync_api import Page, sync_playwright

WIDTH, HEIGHT, CAPTION = 960, 600, 40
PAPER, INK = "#f6f4ec", "#16263a"


@dataclass
class Film:
    """Frames with how long each is seen."""

    page: Page
    frames: list[Image.Image] = field(default_factory=list)
    seconds: list[float] = field(default_factory=list)

    def frame(self, words: str, seconds: float) -> None:
        """The page as it is now, over its words."""
        seen = Image.open(io.BytesIO(self.page.screenshot())).convert("RGB")
        made = Image.new("RGB", (WIDTH, HEIGHT + CAPTION), PAPER)
        made.paste(seen.resize((WIDTH, HEIGHT), Image.Resampling.LANCZOS), (0, 0))
        pen = ImageDraw.Draw(made)
        pen.line((0, HEIGHT, WIDTH, HEIGHT), fill=INK, width=2)
        pen.text((16, HEIGHT + 9), words, fill=INK, font=ImageFont.load_default(18))
        self.frames.append(made)
        self.seconds.append(seconds)

    def open(self, path: str, words: str, seconds: float = 5.0) -> None:
        """Open a page and look at it."""
        answer = self.page.goto(path)
        if answer is None or answer.status != 200:
            raise SystemExit(f"{path} is not there")
        self.frame(words, seconds)

    def down(self, to: str, words: str, seconds: float = 4.0) -> None:
        """Move down the sheet until what is named stands in the upper part."""
        place = self.page.locator(to).first
        before = self.page.evaluate("scrollY")
        after = before + place.evaluate("e => e.getBoundingClientRect().top") - 60
        for step in (0.35, 0.75):
            self.page.evaluate("y => scrollTo(0, y)", before + step * (after - before))
            self.frame(words, 0.15)
        self.page.evaluate("y => scrollTo(0, y)", after)
        self.frame(words, seconds)

    def typed(self, label: str, value: str, words: str) -> None:
        """Type into the blank with this label, a few letters a frame."""
        blank = self.page.get_by_label(label).first
        blank.click()
        blank.fill("")
        for letter in value:
            self.page.keyboard.type(letter)
            self.frame(words, 0.2)
        self.seconds[-1] = 1.2

    def save(self, file: Path) -> None:
        """Write the moving picture; its kind is told by its ending."""
        first, *others = self.frames
        how = {"quality": 55, "method": 3} if file.suffix == ".webp" else {}
        first.save(file, save_all=True, append_images=others, duration=[round(1000 * s) for s in self.seconds], loop=0, **how)  # fmt: skip


def walk(film: Film) -> None:
    """The three paths that carry the product, and what lies round them."""
    page = film.page
    film.open(
        "/",
        "Next on the bench: what nothing holds up. The Dunlin is invented, and comes with the program.",
        6,
    )
    film.open(
        "/airframe/DN-21", "The left aileron: its operations in the order of work, its spaces, its parts.", 5
    )
    film.open(
        "/operation/DN-21-S25",
        "A seam. Every hole is lettered with its tightest check; the bar says how much is left.",
        8,
    )
    film.down(
        "h2:has-text('What it comes to')",
        "What the drawing is silent about is worked out: rivet, length, drills, dimple or countersink.",
        6,
    )
    film.open("/operation/DN-21-S25/worksheet", "Its worksheet: inputs as entered, then every step.", 4)
    film.down(
        "td:text-is('length before rounding')",
        "Formula, numbers put in, result, source, and how far that source can be trusted.",
        8,
    )
    film.open("/stage/DN-21-S11/rivet", "A bench sheet: tray, set-up, trial piece, steps, limits.", 5)
    film.down(
        "h2:has-text('Trial piece')",
        "First on scrap of the same stack; the reading is good for this set-up and this evening.",
        6,
    )
    film.down("text=Instrument", "What the calipers say is typed as the trade writes it.", 2)
    film.typed("Line 1, value", ".030", "What the calipers say is typed as the trade writes it.")
    page.get_by_role("button", name="Enter readings").click()
    page.locator("section.answer").wait_for()
    film.frame("Answered at once: within limits, rework, refer, or measure better; and what to do next.", 7)
    film.open(
        "/operation/DN-21-S11/spoiled",
        "I spoiled a hole. The stack, the head and the rivet are the seam's.",
        4,
    )
    page.get_by_label("What happened").select_option("oversize hole")
    film.typed("Hole number", "7", "Only the hole is typed.")
    film.typed("Largest across the hole", ".112", "Only the hole is typed.")
    page.get_by_role("button", name="Work it out").last.click()
    page.locator(".big-answer").wait_for()
    film.frame("Within limits, how to mend it, or ask; as built against as drawn in per cent.", 8)
    film.open(
        "/operation/DN-21-R01",
        "A rolled nose: which round tool, how much tape, how far to turn, in how many passes.",
        7,
    )
    film.open("/operation/DN-21-R01/rolled", "After the roll: one reading with a steel rule.", 3)
    film.typed("Opening between mating holes", "3/16", "After the roll: one reading with a steel rule.")
    page.get_by_role("button", name="Work it out").last.click()
    page.locator(".big-answer").wait_for()
    film.frame("Stop, roll again with which tool, or why it can't be saved.", 7)
    film.open(
        "/operation/DN-21-R01/skin",
        "The skin in the round. The colours show where the roll is expected to leave it.",
        3,
    )
    for _ in range(14):
        page.locator("#skin").press("ArrowRight")
        film.frame("It turns under a finger or the arrow keys.", 0.25)
    film.seconds[-1] = 3
    film.open(
        "/stage/DN-21-S27/rivet",
        "Before you close it: the list is made from what lies inside. One open line holds it.",
        8,
    )
    film.open(
        "/operation/DN-21-S25/full-size",
        "Full size: sheets that fit, tile or refuse, with a check figure to measure before cutting.",
        6,
    )
    film.open("/weight", "Weight and balance while it is built, with the band of what is not yet weighed.", 6)
    film.open("/stores/tonight", "One set-up, many stages: what the same drill does tonight.", 5)
    film.open("/plan", "When will it fly: two dates with their chances, and what decides them.", 7)
    film.open("/record", "The record: every entry for good; its seal stands at the foot of every page.", 4)
    page.get_by_role("button", name="Check the record").click()
    page.wait_for_load_state()
    film.frame("Checked from the first entry to the last.", 5)
    film.open(
        "/operation/new?in=DN-21",
        "Your own begins with one seam. What the drawing doesn't say is left empty.",
        7,
    )
    film.open("/", "The designer's drawings win. Nothing here is approved data.", 5)


def main(file: Path) -> int:
    """Make the Dunlin, walk through it, write the file."""
    from ribwright.services.dunlin import make_dunlin
    from ribwright.services.evening import BUILDER, work_an_evening

    with tempfile.TemporaryDirectory() as folder:
        project = make_dunlin(Path(folder) / "dunlin", actor=BUILDER, request_id="tour")
        work_an_evening(project, actor=BUILDER)
        project.close()
        with served(Path(folder) / "dunlin") as url, sync_playwright() as play:
            browser = play.chromium.launch(executable_path=shutil.which("chromium"), args=FLAGS)
            view = {"width": 1200, "height": 750}
            page = browser.new_context(base_url=url, viewport=view, color_scheme="light").new_page()  # type: ignore[arg-type]
            page.goto("/plan")  # the dates are worked out meanwhile
            film = Film(page)
            walk(film)
            browser.close()
    film.save(file)
    size = file.stat().st_size / 1e6
    print(f"{file}: {len(film.frames)} frames, {sum(film.seconds):.0f} s, {size:.1f} MB")
    return 0


if __name__ == "__main__":
    if len(sys.argv) != 2 or Path(sys.argv[1]).suffix not in (".webp", ".gif", ".png"):
        raise SystemExit("python scripts/record_tour.py FILE.webp")
    raise SystemExit(main(Path(sys.argv[1])))
