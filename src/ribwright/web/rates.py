"""How fast one caller may ask: a bucket for each that fills steadily and is emptied by asking."""

from __future__ import annotations

import time
from collections.abc import Callable

MOST_CALLERS = 4096


def limiter(
    *, per_second: float, burst: int, clock: Callable[[], float] = time.monotonic
) -> Callable[[str], float]:
    """A function of the caller that says how many seconds it must wait; 0 lets it through.

    Args:
        per_second: requests that are let through in the long run.
        burst: requests that are let through at once.
        clock: in seconds.
    """
    buckets: dict[str, tuple[float, float]] = {}

    def wait_s(caller: str) -> float:
        now = clock()
        level, at = buckets.get(caller, (float(burst), now))
        level = min(burst, level + (now - at) * per_second)
        if level < 1.0:
            buckets[caller] = (level, now)
            return (1.0 - level) / per_second
        if caller not in buckets and len(buckets) >= MOST_CALLERS:
            # whoever was quiet long enough to be full again needs no bucket; if all are busy, the oldest goes
            full = [who for who, (left, then) in buckets.items() if left + (now - then) * per_second >= burst]
            for who in full or [next(iter(buckets))]:
                del buckets[who]
        buckets[caller] = (level - 1.0, now)
        return 0.0

    return wait_s
