"""200 entries with 50 photos wait on a phone; the server is killed five times while they are sent: all there, once.

The floor is the same forms sent one after another by a plain client to a server that is left alone.
"""

from __future__ import annotations

import base64
import io
import json
import random
import shutil
import socket
import subprocess
import sys
import tempfile
import time
import urllib.request
from pathlib import Path

from ending import takes_all_with_it
from PIL import Image
from playwright.sync_api import sync_playwright

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT / "tests"))
from filled import filled  # noqa: E402
from seams import REF  # noqa: E402

FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-sync",
]
ENTRIES, PHOTOS, KILLS = 200, 50, 5


def serve(folder: Path, port: int) -> subprocess.Popen[bytes]:
    made = subprocess.Popen(
        [sys.executable, "-m", "ribwright", "serve", "--port", str(port), "--project", str(folder), "--by", "Ann Bell"],
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )  # fmt: skip
    for _ in range(1200):
        try:
            urllib.request.urlopen(f"http://127.0.0.1:{port}/static/mark.svg", timeout=1).close()
            return made
        except OSError:
            time.sleep(0.05)
    raise SystemExit("it does not serve")


def picture(number: int) -> str:
    rng = random.Random(number)
    image = Image.effect_noise((240, 180), 40 + number).convert("RGB")
    image.putpixel((0, 0), (rng.randrange(256), number, 7))
    out = io.BytesIO()
    image.save(out, "JPEG", quality=60)
    return base64.b64encode(out.getvalue()).decode()


QUEUE = """async ([ref, readings, photos]) => {
  const own = () => "page-" + crypto.randomUUID();
  let waits = 0;
  for (let n = 0; n < Math.max(readings, photos.length); n += 1) {
    if (n < readings) {
      const form = new URLSearchParams({request: own(), what: "readings", instrument: "calipers", "where.0": String(n + 1), "requirement.0": "formed head height", "value.0": ".0" + (400 + n)});
      const answer = await fetch("/stage/" + ref + "/rivet", {method: "POST", body: form});
      waits += answer.headers.get("ribwright-waits") === "yes" ? 1 : 0;
    }
    if (n < photos.length) {
      const form = new FormData();
      form.append("request", own()); form.append("caption", "photo " + n); form.append("photo", new File([Uint8Array.from(atob(photos[n]), (c) => c.charCodeAt(0))], n + ".jpg", {type: "image/jpeg"}));
      const answer = await fetch("/photo/add/" + ref, {method: "POST", body: form});
      waits += answer.headers.get("ribwright-waits") === "yes" ? 1 : 0;
    }
  }
  return waits;
}"""


def main() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as play:
        project = Path(folder) / "p"
        filled(project).close()
        serving = serve(project, port)
        context = play.chromium.launch_persistent_context(
            str(Path(folder) / "profile"), executable_path=shutil.which("chromium"), args=FLAGS, base_url=f"http://127.0.0.1:{port}"
        )  # fmt: skip
        page = context.new_page()
        page.goto("/waiting")
        page.wait_for_timeout(2000)
        page.reload()
        serving.kill()
        serving.wait()
        began = time.monotonic()
        waits = page.evaluate(QUEUE, [REF, ENTRIES - PHOTOS, [picture(n) for n in range(PHOTOS)]])
        print(
            f"{waits} of {ENTRIES} forms wait on the phone after {time.monotonic() - began:.1f} s (floor: none, all are on disk)"
        )
        page.reload()
        rng, began, kills = random.Random(3), time.monotonic(), 0
        serving = serve(project, port)
        left_when_killed = []
        left = waits
        while left and time.monotonic() - began < 240:
            page.evaluate("dispatchEvent(new Event('queue-send'))")
            page.wait_for_timeout(rng.randrange(150, 700))
            left = page.evaluate("waitingForms.all().then((all) => all.length)")
            if kills < KILLS and left < waits - kills * (waits // (KILLS + 1)) - 5:
                serving.kill()
                serving.wait()
                kills += 1
                left_when_killed.append(left)
                page.wait_for_timeout(300)
                serving = serve(project, port)
        refused = page.evaluate(
            "waitingForms.all().then((all) => all.filter((one) => one.state !== 'waits').map((one) => one.said))"
        )
        took = time.monotonic() - began
        context.close()
        serving.terminate()
        serving.wait()

        def command(*words: str) -> dict[str, object]:
            done = subprocess.run(
                [sys.executable, "-m", "ribwright", *words, "--project", str(project), "--json"],
                capture_output=True,
                text=True,
                check=True,
            )
            return json.loads(done.stdout)  # type: ignore[no-any-return]

        story = command("record", "history", REF)["entries"]
        values = [
            e["body"]["value"]
            for e in story
            if e["kind"] == "reading"
            and str(e["body"]["value"]).startswith(".0")
            and len(e["body"]["value"]) == 5
        ]
        captions = [
            e["body"]["caption"]
            for e in story
            if e["kind"] == "photo" and e["body"].get("caption", "").startswith("photo ")
        ]
        print(
            f"killed {kills} times, with {left_when_killed} left; sent in {took:.1f} s; {left} still wait; refused: {refused}"
        )
        print(
            f"readings: {len(values)} entries, {len(set(values))} different of {ENTRIES - PHOTOS}; photos: {len(captions)} entries, {len(set(captions))} different of {PHOTOS}"
        )
        whole = command("record", "check")
        print(f"record check: {'agrees' if whole['ok'] else 'does not agree'}, {whole['entries']} entries")
        good = (
            len(values) == len(set(values)) == ENTRIES - PHOTOS
            and len(captions) == len(set(captions)) == PHOTOS
            and kills == KILLS
            and whole["ok"]
        )
        return 0 if good else 1


if __name__ == "__main__":
    takes_all_with_it()
    raise SystemExit(main())
