"""The twist guide: how far its peak lies from the truth on wobbly recordings, and how soon an angle is on the screen.

Recordings are 600 directions of gravity at 60 a second with half a degree (rms) of noise on each component, the
lever wandering two degrees off its plane, turned 40 to 330 degrees about an axis that lies anyhow in the phone.
The time runs from sending the event to after the frame in which it is drawn, also with the processor slowed down
four times. Floor: the same without a guide, an empty frame.

Usage: ``python benchmarks/twist_guide.py [RECORDINGS]``.
"""

from __future__ import annotations

import random
import shutil
import sys
import tempfile
from pathlib import Path
from typing import Any

from ending import takes_all_with_it

ROOT = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(ROOT / "tests"), str(ROOT / "tests" / "browser"), str(ROOT / "src")]

from playwright.sync_api import Page, sync_playwright  # noqa: E402
from test_bench_phone import FLAGS, wobbly  # noqa: E402

from filled import filled  # noqa: E402
from seams import REF  # noqa: E402
from serving import serve  # noqa: E402

PEAKS = """async (runs) => { const m = await import('/static/twist.js'); return runs.map(([zero, recording]) => {
  let g = m.zeroed(zero); recording.forEach((up, k) => { g = m.turned(g, up, k * 16.7); }); return g.peak; }); }"""
SHOWN = """async ([guided, number]) => { const at = (b) => new DeviceOrientationEvent('deviceorientation', {alpha: 0, beta: b, gamma: 0});
  const took = [];
  if (guided) { dispatchEvent(at(5)); document.getElementById('zero').click(); await new Promise((r) => setTimeout(r, 80)); }
  for (let k = 1; k <= number; k += 1) {
    const from = performance.now();
    if (guided) dispatchEvent(at(5 + (k % 150)));
    await new Promise((r) => requestAnimationFrame(() => setTimeout(r, 0)));
    took.push(performance.now() - from);
  }
  return took.sort((a, b) => a - b); }"""


def spread(took: list[float]) -> str:
    return f"p50 {took[len(took) // 2]:.1f}, p95 {took[int(len(took) * 0.95)]:.1f}, most {took[-1]:.1f} ms"


def main() -> None:
    number = int(sys.argv[1]) if len(sys.argv) > 1 else 300
    rng = random.Random(11)
    runs: list[tuple[Any, Any]] = []
    truth: list[float] = []
    for seed in range(number):
        axis = (rng.gauss(0, 1), rng.gauss(0, 1), rng.gauss(0, 1))
        zero, recording, peak = wobbly(axis, seed=seed, most=rng.uniform(40, 330))
        runs.append((zero, recording))
        truth.append(peak)
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as play:
        filled(Path(folder) / "p").close()
        serving = serve(Path(folder) / "p")
        running = next(serving)
        browser = play.chromium.launch(executable_path=shutil.which("chromium"), args=FLAGS)
        page: Page = browser.new_page(base_url=running.url)
        page.goto(f"/twist/{REF}/rivet")
        page.get_by_label("Stop mark, degrees").fill("140")
        found: list[float] = []
        for start in range(0, number, 20):
            found += page.evaluate(PEAKS, runs[start : start + 20])
        off = sorted(abs(a - b) for a, b in zip(found, truth, strict=True))
        print(f"peak, {number} recordings: off by {off[number // 2]:.2f} in the middle, {off[int(number * 0.95)]:.2f} at 95 %, {off[-1]:.2f} degrees at most; beyond 2 degrees: {sum(one > 2 for one in off)}")  # fmt: skip
        throttle = page.context.new_cdp_session(page)
        for slower in (1, 4):
            throttle.send("Emulation.setCPUThrottlingRate", {"rate": slower})
            page.reload()
            page.get_by_label("Stop mark, degrees").fill("140")
            floor = page.evaluate(SHOWN, [False, 60])
            shown = page.evaluate(SHOWN, [True, 300])
            print(f"processor {slower} times slower: floor, an empty frame: {spread(floor)}; event to screen: {spread(shown)}")  # fmt: skip
        browser.close()
        serving.close()


if __name__ == "__main__":
    takes_all_with_it()
    main()
