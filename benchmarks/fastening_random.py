"""Random seams, sane and not: an answer or a sentence, and no hole nearer to an edge than its stated minimum.

``python benchmarks/fastening_random.py [100000]``. The edges are held against shapely, which knows nothing of
the rules; every hundredth seam is also worked out step by step, from text, as a builder enters it.
"""

from __future__ import annotations

import math
import random
import sys
import time
from collections import Counter
from fractions import Fraction
from typing import Any

import numpy as np
import shapely

from ribwright.core.fastening.batch import REFUSALS, SeamColumns, check_seams
from ribwright.core.fastening.rivets import SIZES
from ribwright.core.fastening.spacing import least_edge_distance_in
from ribwright.core.tables import table
from ribwright.errors import RibwrightError
from ribwright.services.calculations import run_calculation

ODD = ("", "0", "-1/2", "nan", "1e9", "1,5", "3 furlongs", "#30", "1/0", "٣", "0.8 mm", " 1/2 in ", "∞")


def columns(rng: np.random.Generator, n: int) -> SeamColumns:
    """Seams as columns: thick and thin, long and short, some impossible."""
    layers = rng.integers(2, 5, n)
    thickness = np.where(
        np.arange(4)[None, :] < layers[:, None],
        rng.choice([0.016, 0.02, 0.025, 0.032, 0.04, 0.063, 0.125], (n, 4)),
        0.0,
    )
    edge = np.where(rng.random((n, 4)) < 0.6, rng.uniform(0.02, 0.8, (n, 4)), np.nan)
    size = rng.choice([0, 0, 3, 4, 5, 6, 8], n)
    size = np.where(size == 7, 6, size)
    first = rng.uniform(-0.2, 2.0, n)
    last = first + rng.uniform(-0.5, 60.0, n)
    pitch = np.where(rng.random(n) < 0.5, rng.uniform(0.01, 3.0, n), np.nan)
    part = np.where(rng.random(n) < 0.7, last + rng.uniform(-0.2, 2.0, n), np.nan)
    length = np.where(rng.random(n) < 0.3, rng.integers(4, 24, n) / 32.0, np.nan)
    known = {round(float(Fraction(s)) * 32) for s in SIZES}
    size = np.where(np.isin(size, list(known)), size, 0)
    return SeamColumns(
        thickness, edge, rng.random(n) < 0.5, size.astype(np.int64), length, first, last, pitch, part
    )


def stepwise(rng: random.Random) -> str:
    """One seam from text, half of it nonsense: answered, or refused by a sentence."""

    def value(sane: str) -> str:
        return rng.choice(ODD) if rng.random() < 0.15 else sane

    raw: dict[str, Any] = {
        "title": "random", "first": value(f"{rng.uniform(0.2, 2):.3f}"), "last": value(f"{rng.uniform(3, 60):.3f}"),
        "pitch": value(f"{rng.uniform(0.2, 2):.3f}"), "head": rng.choice(["flush 100°", "universal", "square"]),
        "layers": [
            {"part": f"p{k}", "thickness": value(rng.choice([".016", ".020", ".032", ".063"])), "edge_distance": value("5/16")}
            for k in range(rng.randint(0, 4))
        ],
    }  # fmt: skip
    try:
        done = run_calculation("seam", raw)
    except RibwrightError as refused:
        return "sentence" if refused.sentence().strip() else "EMPTY SENTENCE"
    for result in done.outcome.results.values():
        values = result.value if isinstance(result.value, tuple) else (result.value,)
        if any(isinstance(v, float) and not math.isfinite(v) for v in values):
            return "NOT A NUMBER"
    return "answer"


def main() -> None:
    """Run and print."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    rng = np.random.default_rng(7)
    begun = time.process_time()
    c = columns(rng, count)
    done = check_seams(c)
    refused = Counter(REFUSALS[k] or "made" for k in done.refused)
    ratio = np.array([table("rivets/edge-distance").cell(k, "least").value for k in ("protruding", "flush")])
    within = nearer = unlike = 0
    for i in np.flatnonzero((done.refused == 0) & (done.verdict == 0) & np.isfinite(c.part_length_in)):
        holes = done.position_in[done.start[i] : done.start[i + 1]]
        wide = float(np.nanmin(np.append(c.edge_in[i], 100.0)))
        box = shapely.box(0.0, -wide, float(c.part_length_in[i]), 100.0)
        least = float(
            least_edge_distance_in(edge_ratio=ratio[int(c.flush[i])], diameter_in=done.size_32[i] / 32.0)
        )
        found = shapely.distance(
            box.exterior, shapely.points(np.column_stack([holes, np.zeros_like(holes)]))
        ).min()
        within += 1
        nearer += bool(found < least - 1e-7)
        unlike += len(holes) != done.holes[i]
    words = Counter(stepwise(random.Random(k)) for k in range(max(1, count // 100)))
    print(f"{count:,} random seams as columns: " + "; ".join(f"{v:,} {k}" for k, v in refused.most_common()))
    print(
        f"{within:,} within limits held against shapely: {nearer} with a hole nearer than stated, {unlike} with a wrong count"
    )
    print(
        f"{sum(words.values()):,} from text, step by step: "
        + "; ".join(f"{v:,} {k}" for k, v in words.most_common())
    )
    print(f"{time.process_time() - begun:.1f} s of processor")
    if nearer or unlike or set(words) - {"answer", "sentence"}:
        raise SystemExit(1)


if __name__ == "__main__":
    main()
