"""What camera, lens, bow, print and typed values do to a profile: thousands of photos without pictures.

python benchmarks/photo_geometry.py [CASES]      (tests/photo/geometry_cases.py says what is drawn and what is left out)

The part is exactly its target, so whatever deviation is found is an error. Printed beside it: the same by a plain homography.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT / "tests"), str(ROOT / "src")]

from photo.geometry_cases import Case, card, measured, random_case  # noqa: E402


def sweep(name: str, cases: list[Case], layout) -> None:
    begun = time.process_time()
    found = [measured(case, layout) for case in cases]
    error, sigma, alone = (np.stack(part) for part in zip(*found, strict=True))
    rms, plain = (np.sqrt((one**2).mean(axis=1)) for one in (error, alone))
    worst = np.abs(error).max(axis=1)
    print(
        f"{name}: {len(cases)} photos, rms median {np.median(rms):.3f}, 95 % {np.quantile(rms, 0.95):.3f} mm, largest error of a photo 95 % {np.quantile(worst, 0.95):.3f}; "
        f"inside 2 sigma {100 * np.mean(np.abs(error) <= 2 * sigma):.1f} %, sigma median {np.median(sigma):.3f}; homography alone rms {np.median(plain):.3f} "
        f"({np.median(plain) / np.median(rms):.1f} times), {1000 * (time.process_time() - begun) / len(cases):.0f} ms a case",
        flush=True,
    )


def main(count: int) -> None:
    layout = card()
    sweep("within the instructions", [random_case(seed) for seed in range(count)], layout)
    few = max(count // 20, 10)
    for tilt in (0.0, 10.0, 20.0, 30.0):
        sweep(f"tilt {tilt:.0f}", [Case(k, 320, tilt) for k in range(few)], layout)
    for bow in (0.0, 1.0, 2.0, 4.0):
        sweep(f"bow {bow:.0f} mm", [Case(k, 320, 8, bow_mm=bow) for k in range(few)], layout)
    for wave in (0.1, 0.3, 0.6):
        sweep(f"paper in waves of {wave:g} mm", [Case(k, 320, 8, wave_mm=wave) for k in range(few)], layout)
    for height in (0.5, 1.0, 2.0, 3.0):
        sweep(
            f"{height:g} mm above, 0 typed",
            [Case(k, 320, 8, height_mm=height, height_typed_mm=0.0) for k in range(few)],
            layout,
        )
    for noise in (0.03, 0.1, 0.3):
        sweep(f"corners {noise:g} px", [Case(k, 320, 8, corner_px=noise) for k in range(few)], layout)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 2000)
