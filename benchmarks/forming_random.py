"""Random input, sane and not: an answer with a band, or a sentence; anything else is counted as a failure.

python benchmarks/forming_random.py [count]
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "src"))

from ribwright.core.forming.rack import radius_for_in
from ribwright.core.forming.section import Layer, Sheet
from ribwright.core.forming.world import Prior, expected_radius_in, fan
from ribwright.errors import RibwrightError

ODD = (0.0, -1.0, 1e-9, 1e9, float("nan"), float("inf"), -float("inf"))


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    rng = np.random.default_rng(3)
    found: Counter[str] = Counter()
    begun = time.perf_counter()
    per_sheet = 500
    for _ in range(max(1, count // per_sheet)):
        thickness = (
            float(np.exp(rng.uniform(np.log(0.006), np.log(0.2))))
            if rng.random() > 0.03
            else float(rng.choice(ODD))
        )
        clad = float(rng.choice([0.0, 0.0, 0.045]))
        try:
            sheet = Sheet(
                thickness,
                10.2e6,
                0.33,
                Layer(float(rng.uniform(5e3, 9e4)), float(rng.uniform(6, 40))),
                clad_fraction=clad,
            )
            world = fan(sheet, Prior(), count=48)
        except RibwrightError:
            found["sentence"] += per_sheet
            continue
        for _ in range(per_sheet):
            radius = (
                float(np.exp(rng.uniform(np.log(0.01), np.log(12.0))))
                if rng.random() > 0.05
                else float(rng.choice(ODD))
            )
            try:
                if rng.random() < 0.98:
                    low, middle, high = expected_radius_in(world, radius)
                else:
                    low, middle, high = np.quantile(
                        radius_for_in(world, inner_radius_in=radius), [0.025, 0.5, 0.975]
                    )
            except RibwrightError as error:
                found["sentence" if len(str(error)) > 20 else "FAILURE"] += 1
                continue
            found["answer" if 0.0 < low <= middle <= high < 1e6 else "FAILURE"] += 1
    for kind, number in sorted(found.items()):
        print(f"{kind:>10}: {number}")
    print(f"{'seconds':>10}: {time.perf_counter() - begun:.0f}")


if __name__ == "__main__":
    main()
