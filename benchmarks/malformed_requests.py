"""20,000 malformed requests over the route table, as laptop, paired phone and stranger: no 500, the record whole.

Usage: ``python benchmarks/malformed_requests.py [NUMBER]``. Floor: the same number of requests for one static file.
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(ROOT / "tests"), str(ROOT / "src")]

from starlette.testclient import TestClient  # noqa: E402

from filled import ANN, filled  # noqa: E402
from malformed import walk  # noqa: E402
from ribwright.services.record import check  # noqa: E402
from ribwright.web.app import create_app  # noqa: E402
from seams import REF  # noqa: E402


def main() -> None:
    number = int(sys.argv[1]) if len(sys.argv) > 1 else 20_000
    with tempfile.TemporaryDirectory() as folder, filled(Path(folder) / "p") as project:
        plain = TestClient(create_app(project, actor=ANN), base_url="http://127.0.0.1")
        began = time.perf_counter()
        for _ in range(500):
            plain.get("/static/mark.svg")
        print(f"floor: {(time.perf_counter() - began) / 500 * 1000:.2f} ms a static file")
        began = time.perf_counter()
        seen = walk(project, ANN, number, seed=20, refs=(REF, "DN-21", "seam", "rivet"))
        took = time.perf_counter() - began
        print(
            f"{sum(seen.values())} requests, {took / max(1, sum(seen.values())) * 1000:.2f} ms each, by status: {dict(sorted(seen.items()))}"
        )
        print(f"record {'whole' if check(project).ok else 'NOT IN ORDER'}")


if __name__ == "__main__":
    main()
