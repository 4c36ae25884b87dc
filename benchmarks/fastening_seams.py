"""Chosen, laid out and checked: all seams of an aeroplane, and a hundred of them.

Prints the floor first (bytes of the hole table written once at the machine's copy speed), then the time on one
core, then the ratio to plain Python floats hole by hole in the same run. `--scale 100` is the full form.
"""

from __future__ import annotations

import argparse
import math
import resource
import time

import numpy as np
from figures import figure

from ribwright.core.fastening.batch import SeamColumns, check_seams

SEAMS = 420  # about 26 holes each: 11,000 fasteners


def columns(scale: int) -> SeamColumns:
    """Seams like the Dunlin's: two to four light sheets, rows of ten to seventy holes."""
    n = SEAMS * scale
    rng = np.random.default_rng(1)
    stock = np.array([0.016, 0.020, 0.025, 0.032, 0.040])
    layers = rng.integers(2, 4, n)
    thickness = np.where(np.arange(4)[None] < layers[:, None], stock[rng.integers(0, 5, (n, 4))], 0.0)
    pitch = rng.uniform(0.9, 1.3, n)
    holes = rng.integers(6, 47, n)
    first = rng.uniform(0.3, 0.6, n)
    last = first + pitch * holes
    edge = np.where(thickness > 0, rng.uniform(0.24, 0.5, (n, 4)), np.nan)
    nan = np.full(n, np.nan)
    return SeamColumns(
        thickness,
        edge,
        rng.random(n) < 0.7,
        np.zeros(n, np.int64),
        nan,
        first,
        last,
        pitch,
        last + rng.uniform(0.3, 0.6, n),
    )


def plain(c: SeamColumns) -> int:
    """The same work with Python floats: seam by seam, hole by hole."""
    sizes, holes_in = (0.09375, 0.125, 0.15625, 0.1875, 0.25), (0.096, 0.1285, 0.159, 0.191, 0.257)
    total = 0
    for i in range(len(c.first_in)):
        t = [float(x) for x in c.thickness_in[i] if x > 0]
        grip = sum(t)
        wanted = max(3 * min(t), max(t), 0.09375)
        k = min((k for k in range(5) if sizes[k] >= max(t)), key=lambda k: abs(sizes[k] - wanted))
        d, hole = sizes[k], holes_in[k]
        step = 1 / 32 if k < 2 else 1 / 16
        length = math.ceil(round((grip + 1.5 * d) / step, 6)) * step
        first, last, asked = float(c.first_in[i]), float(c.last_in[i]), float(c.pitch_in[i])
        spaces = max(1, math.ceil((last - first) / asked - 0.001 / asked))
        pitch = (last - first) / spaces
        part = float(c.part_length_in[i])
        edge = min(float(x) for x in c.edge_in[i] if x == x)
        least = (2.5 if c.flush[i] else 2.0) * d
        proud = length - grip
        head = math.sqrt(max((proud * d * d - grip * (hole * hole - d * d)) / (0.5 * d), 0.0))
        for n in range(spaces + 1):
            x = first + pitch * n
            margins = (
                edge / least - 1,
                min(x, part - x) / least - 1,
                pitch / (3 * d) - 1,
                head / (1.3 * d) - 1,
            )
            best = min(range(4), key=margins.__getitem__)
            total += 1 if margins[best] >= -1 else 0
    return total


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--scale", type=int, default=1)
    scale = parser.parse_args().scale
    c = columns(scale)
    started = time.perf_counter()
    check_seams(columns(1))
    print(f"first call, tables read: {time.perf_counter() - started:.3f} s")
    started = time.perf_counter()
    done = check_seams(c)
    took = time.perf_counter() - started
    fasteners = int(done.start[-1])
    moved = fasteners * (8 + 1 + 4 + 8) + sum(x.nbytes for x in (c.thickness_in, c.edge_in))
    block = np.zeros(max(moved // 8, 1))
    started = time.perf_counter()
    block.copy()
    floor = time.perf_counter() - started
    print(f"floor: {moved / 1e6:.1f} MB of columns and hole table copied once in {floor * 1e3:.2f} ms")
    print(
        f"{len(c.first_in):,} seams, {fasteners:,} fasteners: {took:.3f} s, {took / fasteners * 1e9:.0f} ns a fastener"
    )
    started = time.perf_counter()
    counted = plain(c)
    slow = time.perf_counter() - started
    print(f"plain Python floats, hole by hole: {slow:.2f} s for {counted:,}; ratio {slow / took:.0f}")
    figure(
        "a fastener checked", took / fasteners * 1e9, "ns", floor=("columns copied once", floor / fasteners * 1e9),
        against=("plain Python, hole by hole", slow / counted * 1e9),
    )  # fmt: skip
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"peak memory of the process: {peak:.0f} MiB; refused: {int((done.refused != 0).sum())}")


if __name__ == "__main__":
    main()
