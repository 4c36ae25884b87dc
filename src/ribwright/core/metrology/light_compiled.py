"""Light between the pixels of a picture, compiled: no copy of the picture in linear light is made for it."""

from __future__ import annotations

import numba
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Single = NDArray[np.float32]
Grey = NDArray[np.uint8]


@numba.njit(cache=True, nogil=True)  # type: ignore[untyped-decorator]
def light_along(grey: Grey, light: Single, through: Floats, count: int) -> tuple[Single, NDArray[np.bool_]]:
    """Light at ``count`` even places along each of n lines, (n, count), and which of them lie in the picture.

    The lines run ``through`` places (n, m, 2), column and row, that follow each other evenly; ``light`` is that of each
    grey level. Beyond the picture it is that of its rim.
    """
    height, width = grey.shape
    last, lowest = width - 1.001, height - 1.001
    out, seen = np.empty((len(through), count), np.float32), np.empty((len(through), count), np.bool_)
    share = np.linspace(0.0, through.shape[1] - 1, count)
    step = np.minimum(share.astype(np.int64), through.shape[1] - 2)
    share -= step
    for a in range(len(through)):
        line = through[a]
        for b in range(count):
            k, w = step[b], share[b]
            u = line[k, 0] * (1.0 - w) + line[k + 1, 0] * w
            v = line[k, 1] * (1.0 - w) + line[k + 1, 1] * w
            seen[a, b] = (u > 1) & (v > 1) & (u < width - 2) & (v < height - 2)
            # what is no number is the rim too
            x, y = min(u if u > 0.0 else 0.0, last), min(v if v > 0.0 else 0.0, lowest)
            j, i = np.int32(x), np.int32(y)
            right, down = x - j, y - i
            above = light[grey[i, j]] * (1.0 - right) + light[grey[i, j + 1]] * right
            below = light[grey[i + 1, j]] * (1.0 - right) + light[grey[i + 1, j + 1]] * right
            out[a, b] = above * (1.0 - down) + below * down
    return out, seen
