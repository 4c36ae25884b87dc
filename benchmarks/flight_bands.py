"""Are the bands of the flight reduction honest? Simulated flights in a world that the reduction knows nothing of.

The world (tests/flight_world.py) has another drag polar, another propeller and engine law, a wind that drifts, rising
air, and reading errors of every instrument. Counted is how often the truth lies inside the stated 80 % band.

    python benchmarks/flight_bands.py [count] [first seed]
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT / "tests"), str(ROOT / "src")]

from flight_world import Counted, counted  # noqa: E402


def line(name: str, one: Counted) -> str:
    """One row of the result."""
    miss = np.array(one.miss)
    return (
        f"{name}: {one.inside} of {len(miss)} inside ({one.inside / len(miss):.1%}), rms {np.sqrt((miss**2).mean()):.2f} kt, "
        f"mean {miss.mean():+.2f} kt, mean width {np.mean(one.width):.2f} kt, not answered {one.unanswered}"
    )


if __name__ == "__main__":
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    first = int(sys.argv[2]) if len(sys.argv) > 2 else 0
    began = time.perf_counter()
    for name, one in counted(count, first).items():
        print(line(name, one))
    print(f"{count} data sets of each kind from seed {first}, {time.perf_counter() - began:.0f} s")
