"""A blurred band laid into rows of light: where its outer edge lies best, to a fraction of a sample."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

STEP_MM = 0.05  # between samples across the target
SHIFTS_MM = np.arange(-0.30, 0.3001, 0.03)
BOTH, OUTER, INNER = 0, 1, 2  # edges of the band that are fitted
ONE_THREAD = 200_000  # products of numbers


def squares_left(
    data: Floats, x: Floats, width_mm: float, blur: float, kind: int, outer_mm: float = 0.0
) -> Floats:
    """Squares left over for each row and shift when levels joined by blurred edges are fitted.

    Args:
        data: shape (rows, samples).
        x: shape (samples,), mm along the outward normal.
        width_mm: of the band.
        blur: one sigma of the edges, mm.
        kind: ``BOTH`` edges, the ``OUTER`` alone, the ``INNER`` alone.
        outer_mm: where the band's outer edge lies at no shift.
    """
    shifted = x[None, :] - outer_mm - SHIFTS_MM[:, None]
    outer, inner = step(shifted, blur), step(shifted + width_mm, blur)
    base = ([outer, inner - outer, 1.0 - inner], [outer, 1.0 - outer], [inner, 1.0 - inner])[kind]
    q = np.linalg.qr(np.stack(base, axis=2))[0]  # (shifts, samples, levels)
    part = rows_times(data, q.transpose(1, 2, 0).reshape(len(x), -1)) ** 2
    left = (data**2).sum(axis=1)[:, None] - part[:, : len(SHIFTS_MM)]
    for level in range(1, len(base)):
        left -= part[:, level * len(SHIFTS_MM) : (level + 1) * len(SHIFTS_MM)]
    return np.asarray(np.maximum(left, 0.0))


def rows_times(rows: Floats, matrix: Floats) -> Floats:
    """``rows @ matrix``, in pieces too small for the BLAS to wake its threads, whose waiting costs more than the product."""
    most = max(1, ONE_THREAD // max(1, matrix.size))
    return np.concatenate([rows[k : k + most] @ matrix for k in range(0, len(rows), most)])


def least_of(left_over: Floats) -> tuple[Floats, Floats]:
    """Shift at which least is left over, per row, and the curvature there (per step squared)."""
    rows = np.arange(len(left_over))
    k = np.clip(left_over.argmin(axis=1), 1, len(SHIFTS_MM) - 2)
    a, b, c = left_over[rows, k - 1], left_over[rows, k], left_over[rows, k + 1]
    bend = np.maximum(a - 2 * b + c, 1e-15)
    move = np.clip(0.5 * (a - c) / bend, -1, 1)
    return SHIFTS_MM[k] + move * (SHIFTS_MM[1] - SHIFTS_MM[0]), bend


def fit_shift(data: Floats, x: Floats, t: float, blur: float, kind: int) -> tuple[Floats, Floats, Floats]:
    """Shift, its one sigma, and the share of the variation explained, per row."""
    left_over = squares_left(data, x, t, blur, kind)
    total = ((data - data.mean(axis=1, keepdims=True)) ** 2).sum(axis=1)
    shift, bend = least_of(left_over)
    least = left_over.min(axis=1)
    # samples lie closer than pixels and blur joins them: count what is independent
    free = max(4.0, len(x) * STEP_MM / max(0.11, 2 * blur))
    noise = np.maximum(least, 1e-12) / free * (len(x) / free)
    sigma = np.sqrt(2 * noise / (bend / (SHIFTS_MM[1] - SHIFTS_MM[0]) ** 2))
    return shift, sigma, 1 - least / np.maximum(total, 1e-12)


def step(x: Floats, blur: float) -> Floats:
    """A blurred step from 0 to 1 at x = 0 (logistic curve of the Gaussian's spread)."""
    return np.asarray(1.0 / (1.0 + np.exp(-np.clip(1.702 * x / blur, -40, 40))))
