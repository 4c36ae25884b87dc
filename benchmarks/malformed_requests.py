"""20,000 malformed requests over the route table, as laptop, paired phone and stranger: no 500, the record whole.

Usage: ``python benchmarks/malformed_requests.py [NUMBER] [--state FILE]``. Sent in runs of 500, each with a seed
of its own on a project of its own; with a state file a run that was broken off goes on where it stood.
Floor: the same number of requests for one static file.
"""

from __future__ import annotations

import argparse
import json
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(ROOT / "tests"), str(ROOT / "src")]

from starlette.testclient import TestClient  # noqa: E402

from filled import ANN, filled  # noqa: E402
from malformed import walk  # noqa: E402
from ribwright.services.record import check  # noqa: E402
from ribwright.web.app import create_app  # noqa: E402
from seams import REF  # noqa: E402

AT_ONCE = 500


def run_once(seed: int) -> dict[str, Any]:
    """One run: what was answered, how long it took, what a static file took."""
    with tempfile.TemporaryDirectory() as folder, filled(Path(folder) / "p") as project:
        plain = TestClient(create_app(project, actor=ANN), base_url="http://127.0.0.1")
        began = time.perf_counter()
        for _ in range(50):
            plain.get("/static/mark.svg")
        floor_s = (time.perf_counter() - began) / 50
        began = time.perf_counter()
        seen = walk(project, ANN, AT_ONCE, seed=seed, refs=(REF, "DN-21", "seam", "rivet"))
        took_s = time.perf_counter() - began
        return {"seen": seen, "took_s": took_s, "floor_s": floor_s, "whole": check(project).ok}


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("number", type=int, nargs="?", default=20_000)
    asked.add_argument("--state", type=Path)
    given = asked.parse_args()
    state: dict[str, Any] = {
        "next_seed": 20,
        "sent": 0,
        "took_s": 0.0,
        "floor_s": [],
        "seen": {},
        "broken": 0,
    }
    if given.state and given.state.exists():
        state = json.loads(given.state.read_text())
    while state["sent"] < given.number:
        made = run_once(state["next_seed"])
        for status, count in made["seen"].items():
            state["seen"][str(status)] = state["seen"].get(str(status), 0) + count
        state["sent"] += sum(made["seen"].values())
        state["took_s"] += made["took_s"]
        state["floor_s"].append(made["floor_s"])
        state["broken"] += not made["whole"]
        state["next_seed"] += 1
        if given.state:
            given.state.write_text(json.dumps(state))
    floors = sorted(state["floor_s"])
    print(f"floor: {floors[len(floors) // 2] * 1000:.2f} ms a static file (median of {len(floors)} runs)")
    print(
        f"{state['sent']} requests, {state['took_s'] / state['sent'] * 1000:.2f} ms each, "
        f"by status: {dict(sorted(state['seen'].items()))}"
    )
    print("every record whole" if not state["broken"] else f"{state['broken']} RECORDS NOT IN ORDER")


if __name__ == "__main__":
    main()
