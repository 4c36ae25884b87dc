"""Bending back and forth by layered fibres: release with reverse yielding, and reopening.

Every fibre keeps two stresses and its plastic strain; a step of curvature strains it and an implicit return
brings it back to the yield surface. ``bauschinger`` mixes the two textbook rules: 0 is isotropic hardening
(the surface grows), 1 is Masing's rule for the same curve (a reversal follows the first curve at twice the
scale). Real sheet lies between.

Method and equations: docs/physics/forming.md, "Letting go" and "Opening again".
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ribwright.core.forming.fibre import OFFSET_STRAIN, SEED_STRAIN, Array, refuse_strain
from ribwright.core.forming.section import (
    Sheet,
    curvature_per_in,
    moment_lbf,
    release_elastic_per_in,
    table_of,
)

GAUSS_PER_LAYER = 24
STEPS = 24


def reverse_isotropic(
    sheet: Sheet, *, turning_curvatures_per_in: Sequence[float] | Array
) -> tuple[Array, float]:
    """Bend through turning points, then let go, with isotropic hardening in every layer.

    Args:
        sheet: the sheet.
        turning_curvatures_per_in: curvatures reached in turn from flat, shape (q,); signs may change.

    Returns:
        Moments at the turning points (lbf in per in, shape (q,)) and the curvature when let go.

    Raises:
        OutsideTableError: a fibre leaves the tables' strain.
    """
    turns = np.asarray(turning_curvatures_per_in, dtype=np.float64)
    refuse_strain(turns * sheet.thickness_in / 2.0)
    moments, left = release_layers(sheet, paths_per_in=turns[None, :])
    return moments[0], float(left[0])


def release_layers(
    sheet: Sheet, *, paths_per_in: Array, fibres: int = GAUSS_PER_LAYER, steps: int = STEPS
) -> tuple[Array, Array]:
    """Many bending paths of one sheet at once, each let go at its end (isotropic hardening).

    Args:
        sheet: the sheet.
        paths_per_in: turning curvatures, shape (paths, q).
        fibres: Gauss points in each layer of one half.
        steps: steps of a reversal; bending from flat takes four times as many.

    Returns:
        Moments at the turning points, shape (paths, q); curvature when let go, shape (paths,).
    """
    depth, weight, yield_psi, exponent = _fibres(sheet, fibres)
    paths = np.asarray(paths_per_in, dtype=np.float64)
    state = _State.flat(paths.shape[0], depth.size)
    law = _Law(sheet.modulus_psi, sheet.poisson, yield_psi, exponent)
    now = np.zeros(paths.shape[0])
    moments = np.empty_like(paths)
    for q in range(paths.shape[1]):
        target = paths[:, q]
        count = 4 * steps if q == 0 else steps
        # from flat the knee is passed early: small steps first
        grid = np.linspace(0.0, 1.0, count + 1)[1:] ** (2.0 if q == 0 else 1.0)
        start = now
        for part in grid:
            new = start + part * (target - start)
            state = _advance(state, (new - now)[:, None] * depth, law)
            now = new
        moments[:, q] = 2.0 * np.sum(state.along * depth * weight, axis=1)
    stiffness = sheet.modulus_psi / (1.0 - sheet.poisson**2) * sheet.thickness_in**3 / 12.0
    # walk back to zero moment; the last steps are secants from the state before them
    held, before, load = state, now, moments[:, -1]
    guess = now - load / stiffness
    slope = np.full_like(now, stiffness)
    last_guess, last_moment = now, load
    for _ in range(7):
        state = held
        for _ in range(steps):
            state = _advance(state, ((guess - before) / steps)[:, None] * depth, law)
        moment = 2.0 * np.sum(state.along * depth * weight, axis=1)
        change = guess - last_guess
        moved = np.abs(change) > 1e-15
        slope = np.where(moved, (moment - last_moment) / np.where(moved, change, 1.0), slope)
        slope = np.where(np.abs(slope) > 1e-9, slope, stiffness)
        last_guess, last_moment = guess, moment
        guess = guess - moment / slope
    return moments, guess


def reopen_masing(sheet: Sheet, *, closed_per_in: float, opened_per_in: float) -> tuple[float, float]:
    """Moment when bent open, and curvature when let go, on the hysteresis branch of the Masing rule.

    Args:
        sheet: the sheet.
        closed_per_in: largest curvature reached.
        opened_per_in: curvature to which it is then forced open (less, or of opposite sense).

    Returns:
        Moment at ``opened_per_in`` (lbf in per in), curvature left.
    """
    table = table_of(sheet)
    moment = float(moment_lbf(table, [closed_per_in])[0, 0])
    half = 0.5 * (closed_per_in - opened_per_in)
    opened = moment - 2.0 * float(moment_lbf(table, [half])[0, 0])
    if opened < 0.0:
        # let go from below: a second reversal, on its own doubled branch
        left = opened_per_in + 2.0 * float(curvature_per_in(table, [-opened / 2.0])[0, 0])
    else:
        # not opened past the free shape: letting go goes on along the branch it is on
        left = closed_per_in - 2.0 * float(curvature_per_in(table, [moment / 2.0])[0, 0])
    return opened, left


def release_mixed_per_in(sheet: Sheet, *, curvature: Array, bauschinger: float) -> Array:
    """Curvature left between isotropic layers (0) and Masing (1); shape (q,)."""
    table = table_of(sheet)
    k = np.asarray(curvature, dtype=np.float64)
    masing = k - 2.0 * curvature_per_in(table, moment_lbf(table, k) / 2.0)[0]
    if sheet.clad_fraction > 0.0:
        isotropic = release_layers(sheet, paths_per_in=k[:, None])[1]
    else:
        isotropic = release_elastic_per_in(table, k)[0]
    return np.asarray(isotropic + bauschinger * (masing - isotropic))


class _Law:
    """Constants of the fibres, shape (fibres,)."""

    __slots__ = ("exponent", "shear", "spread", "yield_psi")

    def __init__(self, modulus_psi: float, poisson: float, yield_psi: Array, exponent: Array) -> None:
        self.spread = modulus_psi / (2.0 * (1.0 - poisson))
        self.shear = modulus_psi / (2.0 * (1.0 + poisson))
        self.yield_psi = yield_psi
        self.exponent = exponent


class _State:
    """Half sum and half difference of the two stresses, and plastic strain; shape (paths, fibres)."""

    __slots__ = ("half_difference", "half_sum", "plastic")

    def __init__(self, half_sum: Array, half_difference: Array, plastic: Array) -> None:
        self.half_sum = half_sum
        self.half_difference = half_difference
        self.plastic = plastic

    @classmethod
    def flat(cls, paths: int, fibres: int) -> _State:
        zero = np.zeros((paths, fibres))
        return cls(zero, zero, zero)

    @property
    def along(self) -> Array:
        return np.asarray(self.half_sum + self.half_difference)


def _advance(state: _State, strain: Array, law: _Law) -> _State:
    """One implicit step of strain along the sheet, none across it."""
    a = state.half_sum + law.spread * strain
    b = state.half_difference + law.shear * strain
    p = state.plastic
    inv = 1.0 / law.exponent
    h = law.yield_psi * ((p + SEED_STRAIN) / OFFSET_STRAIN) ** inv
    yields = a * a + 3.0 * b * b > h * h
    size = np.sqrt(a * a + 3.0 * b * b)
    dp = np.where(yields, np.maximum(size - h, 0.0) / (3.0 * law.shear), 0.0)
    fa, fb = law.spread, 3.0 * law.shear
    for _ in range(14):
        before = dp
        h = law.yield_psi * ((p + dp + SEED_STRAIN) / OFFSET_STRAIN) ** inv
        slope = h * inv / (p + dp + SEED_STRAIN)
        ra, rb = 1.0 / (h + fa * dp), 1.0 / (h + fb * dp)
        # f = sqrt(a^2 ra^2 + 3 b^2 rb^2) - 1, with the stresses a h ra and b h rb
        ga, gb = a * ra, b * rb
        value = np.sqrt(ga * ga + 3.0 * gb * gb) + 1e-300
        # a fibre without stress must not divide by nothing; it does not yield, so its value is not used
        rise = -(ga * ga * ra * (slope + fa) + 3.0 * gb * gb * rb * (slope + fb)) / value - 1e-300
        # Newton on the reciprocal, which is close to linear in dp
        dp = np.where(yields, np.maximum(dp + value * (1.0 - value) / rise, 0.0), 0.0)
        if float(np.max(np.abs(dp - before))) < 1e-12:
            break
    h = law.yield_psi * ((p + dp + SEED_STRAIN) / OFFSET_STRAIN) ** inv
    return _State(a * h / (h + fa * dp), b * h / (h + fb * dp), p + dp)


def _fibres(sheet: Sheet, count: int) -> tuple[Array, Array, Array, Array]:
    """Depths, weights and constants of the fibres of one half of the sheet."""
    nodes, weights = np.polynomial.legendre.leggauss(count)
    half = 0.5 * sheet.thickness_in
    inner = half * (1.0 - 2.0 * sheet.clad_fraction)
    spans = [(0.0, inner, sheet.core)]
    if sheet.clad_fraction > 0.0:
        spans.append((inner, half, sheet.cladding))
    depth = np.concatenate([0.5 * (hi - lo) * nodes + 0.5 * (hi + lo) for lo, hi, _ in spans])
    weight = np.concatenate([0.5 * (hi - lo) * weights for lo, hi, _ in spans])
    layer_yield = np.concatenate([np.full(nodes.size, layer.yield_psi) for _, _, layer in spans])
    layer_n = np.concatenate([np.full(nodes.size, layer.exponent) for _, _, layer in spans])
    return depth, weight, layer_yield, layer_n
