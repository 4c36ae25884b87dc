"""Paired phones over https: what only a secure connection gives, and what a phone that was shut out still holds."""

from __future__ import annotations

import base64
import hashlib
import io
import json
import re
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from playwright.sync_api import Browser, Page, expect
from playwright.sync_api import Error as PlaywrightError

from filled import ANN, filled
from ribwright.services.devices import make_pairing, redeem
from ribwright.services.project import open_project
from ribwright.web.sessions import COOKIES
from seams import NOSE_REF, REF
from serving import Running

pytestmark = pytest.mark.browser
AXE = (Path(__file__).parent / "vendor" / "axe-core" / "axe.min.js").read_text(encoding="utf-8")
OUTSIDE = "127.0.0.2"
"""Another address of this machine: what comes to it is served as the network's, and no network is needed."""

SPIES = """
window.seen = {asked: 0, released: 0, tones: [], said: []};
const lock = () => Object.assign(new EventTarget(), {release() { seen.released += 1; this.dispatchEvent(new Event("release")); return Promise.resolve(); }});
let held = null;
Object.defineProperty(navigator, "wakeLock", {value: {request: async () => { seen.asked += 1; held = lock(); return held; }}});
window.hide = (state) => { Object.defineProperty(document, "visibilityState", {value: state, configurable: true});
  if (state === "hidden" && held) { held.release(); held = null; }  // as browsers do
  document.dispatchEvent(new Event("visibilitychange")); };
const set = AudioParam.prototype.setTargetAtTime;
AudioParam.prototype.setTargetAtTime = function (value, ...more) { (this.maxValue > 2 && this.defaultValue === 440 ? seen.tones : (seen.gains ??= [])).push(value); return set.call(this, value, ...more); };
speechSynthesis.speak = (words) => seen.said.push(words.text);
"""


@dataclass(frozen=True)
class Home(Running):
    """A project served to the network at home: the laptop's address, the phones', and a browser that trusts it."""

    there: str
    browser: Browser

    def phone(self, name: str, *, role: str = "builder", person: str = "Tom", worker: bool = False) -> Page:
        """A page of a phone that has just been let in; coming in by hand is another file's test."""
        with open_project(self.folder) as project:
            code = make_pairing(project, actor=ANN, person=person, role=role)
            _, token = redeem(project, code=code, name=name, kind="tls", source=name)
        context = self.browser.new_context(
            base_url=self.there, viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True,
            service_workers="allow" if worker else "block",
        )  # fmt: skip
        context.add_cookies([{"name": COOKIES["tls"], "value": token, "url": self.there, "secure": True, "httpOnly": True, "sameSite": "Strict"}])  # fmt: skip
        return context.new_page()


@pytest.fixture(scope="module")
def home(launch: Callable[..., Browser], tmp_path_factory: pytest.TempPathFactory) -> Iterator[Home]:
    """One server and one browser for the whole file."""
    folder = tmp_path_factory.mktemp("home")
    filled(folder / "p").close()
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    words = [
        "serve", "--lan", "--tls", "--port", str(port), "--keys", str(folder / "keys"), "--address", OUTSIDE, "--project", str(folder / "p"), "--by", ANN.name,
    ]  # fmt: skip
    server = subprocess.Popen([sys.executable, "-m", "ribwright", *words], stdout=subprocess.DEVNULL)
    here = f"http://127.0.0.1:{port}"
    try:
        for _ in range(300):
            try:
                urllib.request.urlopen(f"{here}/static/mark.svg", timeout=2).close()
                break
            except OSError:
                assert server.poll() is None
                time.sleep(0.05)
        # only this key is excused: a server with another certificate would not be reached
        browser = launch(f"--ignore-certificate-errors-spki-list={pin(folder)}")
        yield Home(here, folder / "p", f"https://{OUTSIDE}:{port + 1}", browser)
        browser.close()
    finally:
        server.terminate()
        server.wait(15)


def pin(folder: Path) -> str:
    from cryptography import x509
    from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

    leaf = x509.load_pem_x509_certificate(next((folder / "keys").glob("*/leaf.pem")).read_bytes())
    spki = leaf.public_key().public_bytes(Encoding.DER, PublicFormat.SubjectPublicKeyInfo)
    return base64.b64encode(hashlib.sha256(spki).digest()).decode()


def lever(page: Page, *degrees: float) -> None:
    """Turn the phone about its own long side, as its angle events tell it."""
    page.evaluate(
        """async (turns) => { for (const b of turns) { dispatchEvent(new DeviceOrientationEvent('deviceorientation', {alpha: 3, beta: b, gamma: 0}));
        await new Promise((r) => setTimeout(r, 16)); } }""",
        degrees,
    )


def until(page: Page, true: str) -> None:
    """Wait for what the page comes to; its own policy forbids the way in which a browser would be told to wait."""
    for _ in range(600):
        if page.evaluate(true):
            return
        page.wait_for_timeout(25)
    raise AssertionError(true)


def story(home: Home, ref: str, kind: str) -> list[dict[str, Any]]:
    made = json.loads(home.command("record", "history", ref, "--json"))["entries"]
    return [entry["body"] for entry in made if entry["kind"] == kind]


def test_the_screen_is_kept_awake_asked_again_and_let_go(home: Home) -> None:
    page = home.phone("one")
    page.add_init_script(SPIES)
    page.goto(f"/stage/{REF}/rivet")
    awake = page.locator("#awake")
    expect(awake).to_have_text("The screen stays on")
    assert page.evaluate("[seen.asked, seen.released]") == [1, 0]
    page.evaluate("hide('hidden')")
    expect(awake).to_have_attribute("aria-pressed", "false")
    page.evaluate("hide('visible')")
    expect(awake).to_have_attribute("aria-pressed", "true")
    assert page.evaluate("[seen.asked, seen.released]") == [2, 1]
    awake.tap()  # let go by hand: coming back does not ask again
    expect(awake).to_have_text("Keep the screen on")
    page.evaluate("hide('visible')")
    assert page.evaluate("[seen.asked, seen.released]") == [2, 2]
    awake.tap()
    expect(awake).to_have_text("The screen stays on")
    page.goto(f"/twist/{REF}/rivet")
    until(page, "seen.asked === 1")
    page.evaluate("hide('hidden'); hide('visible')")
    until(page, "seen.asked === 2 && seen.released === 1")
    page.context.close()


def test_tone_speech_and_both_ends_of_a_long_tool(home: Home) -> None:
    near, far = home.phone("near"), home.phone("far", role="helper", person="Sam")
    for page in (near, far):
        page.add_init_script(SPIES)
        page.goto(f"/twist/{REF}/rivet")
        page.get_by_label("Stop mark, degrees").fill("60")
    far.get_by_label("This phone is on the").select_option("far")
    for page in (near, far):
        lever(page, 0, 0)
        page.get_by_role("button", name="Zero").tap()
        expect(page.locator("#angle")).to_have_text("0.0")
    lever(near, *range(0, 66, 3), 66, 66, 66)
    expect(near.locator("#say")).to_contain_text("Stop")
    tones = near.evaluate("seen.tones")
    rising = [tone for k, tone in enumerate(tones) if k == 0 or tone != tones[k - 1]]
    assert rising == sorted(rising), "it rises with the turn"
    assert len(rising) > 10
    assert abs(rising[-1] - 660) < 1, "an octave up, it is steady from the stop mark on"
    assert max(near.evaluate("seen.gains")) > 0.05
    assert near.evaluate("seen.said") == ["10", "20", "30", "40", "50", "stop"]
    lever(far, *range(0, 52, 3), 51, 51)
    expect(far.locator("#far")).to_contain_text("Lever end: 66.0°, most 66.0°", timeout=3000)
    lever(far, 51, 51)
    expect(near.locator("#far")).to_contain_text("Far end: 51.0°", timeout=3000)
    lever(near, 66, 66, 66, 66, 66, 66)
    expect(near.locator("#far")).to_contain_text("This end is 15.0° ahead", timeout=3000)
    near.get_by_role("button", name="Sound on").tap()
    said, gains = near.evaluate("seen.said.length"), near.evaluate("seen.gains.length")
    lever(near, 72, 78, 84)
    assert near.evaluate("seen.said.length") == said, "switched off, it says no more"
    assert set(near.evaluate(f"seen.gains.slice({gains})")) == {0}
    for page in (near, far):
        page.get_by_role("button", name="Keep it").tap()
        expect(page.locator("main li").filter(has_text="turn of the lever").first).to_be_visible()
        page.context.close()
    kept = {(b["where"], float(b["value"])) for b in story(home, REF, "reading") if b["instrument"] == "phone on the lever"}  # fmt: skip
    assert {where for where, _ in kept} == {"lever end", "far end"}
    assert all(abs(value - {"lever end": 84, "far end": 51}[where]) < 2 for where, value in kept), kept


def test_marks_of_a_refused_tally_are_not_lost_and_others_hear_of_them(home: Home) -> None:
    bucker, shooter = home.phone("bucker"), home.phone("shooter", person="Sam")
    bucker.goto(f"/tally/{REF}")
    shooter.goto(f"/tally/{REF}?as=shooter")
    bucker.get_by_role("button", name="good").tap()
    bucker.get_by_role("button", name="replace").tap()
    expect(shooter.locator("#called")).to_contain_text("replace")
    assert shooter.locator("#called").get_attribute("aria-live") == "assertive"
    expect(bucker.locator("#unsent")).to_have_text("2 marks are not in the record yet.")
    bucker.evaluate("document.querySelector('#enter [name=request]').value = ''")
    bucker.get_by_role("button", name="Enter the marks").tap()
    expect(bucker.get_by_role("alert")).to_be_focused()
    expect(bucker.locator("#unsent")).to_have_text("2 marks are not in the record yet.")
    bucker.get_by_role("button", name="Enter the marks").tap()
    expect(bucker.get_by_role("alert")).to_have_count(0)
    expect(bucker.locator("#unsent")).to_have_text("")
    expect(bucker.locator('[data-hole="2"]')).to_have_attribute("data-said", "replace")
    assert bucker.evaluate("localStorage.length") == 0
    for page in (bucker, shooter):
        page.context.close()
    assert [b["marks"] for b in story(home, REF, "reading") if b.get("marks")] == [
        {"1": "good", "2": "replace"}
    ]


def test_a_phone_without_a_sensor_says_so_and_takes_angles_by_hand(home: Home) -> None:
    page = home.phone("bare")
    page.goto(f"/twist/{REF}/rivet")
    expect(page.locator("#say")).to_contain_text("does not say how it is turned", timeout=4000)
    page.get_by_role("button", name="Zero").tap()
    expect(page.locator("#say")).to_contain_text("by hand")
    page.get_by_label("Turned to, degrees").fill("143")
    page.get_by_label("Came back to when let go").fill("150")
    page.get_by_role("button", name="Keep it").tap()
    expect(page.get_by_role("alert")).to_contain_text("up to 143")
    expect(page.get_by_label("Turned to, degrees")).to_have_value("143")
    page.get_by_label("Came back to when let go").fill("135.5")
    page.get_by_role("button", name="Keep it").tap()
    expect(page.locator("main")).to_contain_text("spring-back of the lever: 7.5°")
    page.context.close()
    assert "7.5" in [b["value"] for b in story(home, REF, "reading")]


def test_a_clash_side_by_side_and_what_is_left_on_a_phone_that_was_shut_out(home: Home) -> None:
    one, two = home.phone("shelf", worker=True), home.phone("bench", person="Sam")
    two.goto(f"/stage/{REF}/rivet")
    for page in (one,):
        page.goto(f"/stage/{REF}/rivet")
        until(page, "navigator.serviceWorker.controller && caches.open('ribwright-pages').then((c) => c.match('/waiting')).then(Boolean)")  # fmt: skip
        page.goto(f"/stage/{REF}/rivet")

    def read(page: Page, value: str) -> None:
        page.get_by_label("Line 1, where").fill("11")
        page.get_by_label("Line 1, what").select_option("formed head height")
        page.get_by_label("Line 1, value").fill(value)
        page.get_by_role("button", name="Enter readings").focus()
        page.keyboard.press("Enter")

    one.context.set_offline(True)
    read(one, ".033")
    expect(one.locator("#waiting li")).to_have_count(1)
    read(two, ".047")
    expect(two.get_by_role("status", name="Answer")).to_contain_text("within limits")
    one.context.set_offline(False)
    one.get_by_role("button", name="Send now").tap()
    sides = one.locator("#waiting .sides > div")
    expect(sides).to_have_count(2, timeout=8000)
    expect(sides.nth(0)).to_contain_text("On this phone")
    expect(sides.nth(0)).to_contain_text("value: .033")
    expect(sides.nth(1)).to_contain_text("11 formed head height: .047 (here .033), by Sam")
    boxes = [sides.nth(n).bounding_box() for n in (0, 1)]
    assert boxes[0] is not None
    assert boxes[1] is not None
    assert abs(boxes[0]["y"] - boxes[1]["y"]) < 2
    assert boxes[1]["x"] >= boxes[0]["x"] + boxes[0]["width"], "side by side, also on a phone"
    assert [b["value"] for b in story(home, REF, "reading") if b.get("where") == "11"] == [".047"]
    # the phone is lost: the laptop shuts it out, with something still waiting on it
    one.evaluate("localStorage.setItem('tally:x', '{}')")
    laptop = home.browser.new_page(base_url=home.url, service_workers="block")
    laptop.goto("/phones")
    laptop.get_by_role("button", name="Shut out shelf").click()
    one.goto(f"/stage/{REF}/rivet")
    assert one.url == f"{home.there}/enter"
    expect(one.get_by_role("alert")).to_contain_text("This phone was shut out")
    expect(one.locator("body")).not_to_contain_text("Test aeroplane")
    left = "(async () => [(await waitingForms.all()).length, (await (await caches.open('ribwright-pages')).keys()).length, localStorage.length])()"
    for _ in range(60):
        if one.evaluate(left) == [0, 0, 0] and not one.context.cookies():
            break
        one.wait_for_timeout(50)
    assert one.evaluate(left) == [0, 0, 0], "what waited, the kept pages and the marks are gone"
    assert one.context.cookies() == []
    one.context.set_offline(True)
    with suppress(PlaywrightError):  # the browser's own page says that nobody answers, or the worker does
        one.goto(f"/stage/{REF}/rivet")
    expect(one.locator("body")).not_to_contain_text(re.compile("Rivet|Readings|Test aeroplane"))
    one.context.set_offline(False)
    two.reload()
    expect(two.get_by_role("heading", level=1)).to_contain_text("Rivet")
    listed = {p["name"]: bool(p["revoked_at"]) for p in json.loads(home.command("phone", "list", "--json"))}
    assert (listed["shelf"], listed["bench"]) == (True, False)
    assert [b["value"] for b in story(home, REF, "reading") if b.get("where") == "11"] == [".047"]
    for page in (one, two, laptop):
        page.context.close()


def test_a_photo_from_the_stage_goes_into_the_record(home: Home) -> None:
    page = home.phone("camera", role="helper")
    picture = io.BytesIO()
    Image.effect_noise((900, 600), 60).convert("RGB").save(picture, "JPEG")
    page.goto(f"/stage/{REF}/drill")
    box = page.get_by_label("Photo of this stage")
    assert box.get_attribute("capture") == "environment"
    box.set_input_files({"name": "IMG 7.jpg", "mimeType": "image/jpeg", "buffer": picture.getvalue()})
    page.locator("#caption").fill("bay 4, spar side")
    page.locator("form").filter(has=box).get_by_role("button", name="Keep it").tap()
    shown = page.locator("img[alt='bay 4, spar side']")
    shown.scroll_into_view_if_needed()
    until(page, "document.querySelector(\"img[alt='bay 4, spar side']\").naturalWidth > 100")
    page.goto(f"/stage/{REF}/drill")
    box.set_input_files({"name": "notes.jpg", "mimeType": "image/jpeg", "buffer": b"%PDF-1.7 not a photo"})
    page.locator("form").filter(has=box).get_by_role("button", name="Keep it").tap()
    expect(page.get_by_role("alert")).to_contain_text("found: a PDF")
    page.context.close()
    kept = [b for b in story(home, REF, "photo") if b.get("caption") == "bay 4, spar side"]
    assert [(b["stage"], b["name"], b["media"]) for b in kept] == [("drill", "IMG 7.jpg", "image/jpeg")]
    assert hashlib.sha256(picture.getvalue()).hexdigest() == kept[0]["digest"]
    assert json.loads(home.command("record", "check", "--json"))["ok"] is True


def test_the_number_pad_and_the_open_lists_have_nothing_serious(home: Home) -> None:
    context = home.browser.new_context(
        base_url=home.url,
        viewport={"width": 390, "height": 844},
        has_touch=True,
        is_mobile=True,
        bypass_csp=True,
    )
    page = context.new_page()
    found = []
    for path, box in ((f"/stage/{REF}/rivet", 'input[name="value.0"]'), (f"/twist/{REF}/rivet", "#stop")):
        page.goto(path)
        page.locator(box).tap()
        expect(page.locator("#pad")).to_be_visible()
        page.add_script_tag(content=AXE)
        result = page.evaluate("axe.run(document, {resultTypes: ['violations']})")
        found += [
            f"{path}: {v['id']} ({v['impact']}): {v['nodes'][0]['html'][:120]}" for v in result["violations"]
        ]
    context.close()
    assert not [one for one in found if "(serious)" in one or "(critical)" in one], found


def test_from_the_first_page_to_a_signed_operation_by_keyboard_alone(home: Home) -> None:
    page = home.browser.new_page(
        base_url=home.url, viewport={"width": 1280, "height": 900}, service_workers="block"
    )
    page.goto("/")
    unseen: list[str] = []

    def to(words: str, most: int = 160) -> None:
        """Tab until the thing of this name has the focus; wherever it stops on the way, it must be seen to be there."""
        for _ in range(most):
            page.keyboard.press("Tab")
            name, html, seen = page.evaluate(
                """() => { const e = document.activeElement, s = getComputedStyle(e), b = e.getBoundingClientRect();
                const name = e.getAttribute("aria-label") || (e.labels?.[0]?.innerText ?? e.innerText) || "";
                return [name.trim(), e.outerHTML.slice(0, 90), e === document.body || (s.outlineStyle !== "none" && parseFloat(s.outlineWidth) >= 2 && b.width > 0 && b.bottom > 0 && b.top < innerHeight)]; }"""
            )
            if not seen:
                unseen.append(html)
            if re.fullmatch(words, name):
                return
        raise AssertionError(f"{words} can't be reached by keyboard")

    def enter() -> None:
        with page.expect_navigation():
            page.keyboard.press("Enter")

    to("drill")
    enter()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Drill")
    to("Start the clock")
    enter()
    expect(page.get_by_role("button", name="Stop the clock")).to_be_visible()
    to("Stop the clock", 3)  # one is still where one was
    enter()
    expect(page.get_by_role("button", name="Confirm the hours")).to_be_visible()
    to(".*hours to confirm", 3)
    page.keyboard.press("Control+A")
    page.keyboard.type("0.5")
    to("Confirm the hours", 2)
    enter()
    expect(page.get_by_role("button", name="Start the clock")).to_be_visible()
    to("Hours")
    page.keyboard.type("45 min")
    to("Worth remembering", 4)
    page.keyboard.type("by keyboard")
    to("This stage is finished", 2)
    page.keyboard.press("ArrowDown")
    to("Log it", 2)
    enter()
    expect(page.locator(".stages .done").filter(has_text="drill")).to_be_visible()
    to("rivet")
    enter()
    to("Line 1, value")
    page.keyboard.type("1,500")
    enter()
    expect(page.get_by_role("alert")).to_be_focused()
    expect(page.get_by_label("Line 1, value")).to_have_value("1,500")
    to("Line 1, value")
    page.keyboard.press("Control+A")
    page.keyboard.type(".140")
    enter()
    expect(page.get_by_role("status", name="Answer")).to_be_focused()
    page.goto(f"/operation/{REF}")
    to("Sign this operation")
    enter()
    expect(page.locator("main")).to_contain_text(f"Signed by {ANN.name}")
    page.context.close()
    assert not unseen, unseen
    shown = json.loads(home.command("operation", "show", REF, "--json"))
    assert {"name": "drill", "done": True, "hours": "1.25"} in shown["stages"]
    assert len(story(home, REF, "sign")) == 1
    assert NOSE_REF in home.command("bench", "next")
