"""Time and memory of one profile and one row photo, warm, one core, by processor time; the floor is the JPEG's decoding alone."""

from __future__ import annotations

import os
import resource
import sys
import time
from pathlib import Path

os.environ["OPENBLAS_NUM_THREADS"] = "1"  # one core: before numpy comes

import cv2
import numpy as np

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT / "src")]

from figures import figure  # noqa: E402

from ribwright.services.photo_measure import measure_profile_photo, measure_row_photo, read_json  # noqa: E402

DATA = ROOT / "tests" / "data" / "photo"


def best_ms(function, repeats: int = 9) -> float:
    """Least processor time; what else runs on the machine tells in it much less than by the clock."""
    times = []
    for _ in range(repeats):
        start = time.process_time()
        function()
        times.append(time.process_time() - start)
    return 1000 * min(times)


if __name__ == "__main__":
    cv2.setNumThreads(1)
    for name, ending, measure in (
        ("a01", "card", measure_profile_photo),
        ("a06", "card", measure_profile_photo),
        ("b02", "strip", measure_row_photo),
        ("b04", "strip", measure_row_photo),
    ):
        content = np.fromfile(DATA / f"{name}.jpg", np.uint8)
        floor = best_ms(lambda content=content: cv2.imdecode(content, cv2.IMREAD_GRAYSCALE))
        layout, typed = (read_json(DATA / f"{name}.{e}.json", e) for e in (ending, "input"))

        def run(name=name, measure=measure, layout=layout, typed=typed):
            return measure(DATA / f"{name}.jpg", layout=layout, typed=typed)

        run()
        took = best_ms(run)
        grey = cv2.imdecode(content, cv2.IMREAD_GRAYSCALE)
        if ending == "card":
            other = "OpenCV's Canny and contours, unmeasured"
            plain = best_ms(lambda grey=grey: cv2.findContours(cv2.Canny(grey, 60, 180), cv2.RETR_LIST, cv2.CHAIN_APPROX_NONE), 3)  # fmt: skip
        else:
            other = "OpenCV's HoughCircles, unmeasured"
            plain = best_ms(lambda grey=grey: cv2.HoughCircles(cv2.medianBlur(grey, 5), cv2.HOUGH_GRADIENT, 2, 40, param1=120, param2=60, minRadius=8, maxRadius=60), 1)  # fmt: skip
        figure(f"photo {name}", took, "ms", floor=("decoding alone", floor), against=(other, plain))
        print(f"{name}: decoding alone {floor:.0f} ms; measured {took:.0f} ms; ratio {took / floor:.1f}")
    print(f"peak memory of the process: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024} MiB")
