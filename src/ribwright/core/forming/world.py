"""What is not known of a sheet, as a fan of sheets: spread in, spread out.

A prior says what may differ from the working values; :func:`fan` turns it into a few hundred sheets drawn
on a fixed low-discrepancy sequence (no random state), and bands are read from what each of them does.
Method: docs/physics/forming.md, "Bands".
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from statistics import NormalDist

import numpy as np
from numpy.typing import ArrayLike

from ribwright.core.forming.cyclic import release_layers
from ribwright.core.forming.fibre import Array
from ribwright.core.forming.section import (
    SectionTable,
    Sheet,
    curvature_per_in,
    moment_lbf,
    release_masing_per_in,
    section_table,
    table_of,
)
from ribwright.errors import FormingError, OutOfRangeError

FAN = 256


@dataclass(frozen=True, slots=True)
class Prior:
    """How far the sheet and the work may be from the working values. Limits are 95 %.

    Attributes:
        yield_share: of the yield, sheet to sheet.
        direction_share: of the yield, when the grain is not known to lie as the value was taken; 0 if known.
        thickness_share: of the thickness; small when measured by micrometer.
        exponent_low, exponent_high: factors on the hardening exponent.
        modulus_share: of Young's modulus.
        clad_low, clad_high: cladding a side as a share of the thickness (clad sheet only).
        softening: largest drop of the modulus on release after straining.
        overbend: largest share by which the sheet is bent sharper than the tool.
    """

    yield_share: float = 0.08
    direction_share: float = 0.09
    thickness_share: float = 0.04
    exponent_low: float = 0.75
    exponent_high: float = 1.34
    modulus_share: float = 0.01
    clad_low: float = 0.030
    clad_high: float = 0.055
    softening: float = 0.10
    overbend: float = 0.04


@dataclass(frozen=True, slots=True)
class Fan:
    """Sheets that may be the one on the bench, and how each lets go.

    Attributes:
        table: m sheets.
        yield_factor: shape (m,), the factor on the working yield.
        overbend: shape (m,), share by which each is bent sharper than the tool.
        softening: shape (m,), drop of the modulus on release.
        bauschinger: shape (m,), 0 = isotropic layers, 1 = Masing.
        layered_strain: k t at which ``layered_share`` is given, shape (q,).
        layered_share: (k - k_f) with isotropic layers over that by Masing, for the working sheet, shape (q,).
    """

    table: SectionTable
    yield_factor: Array
    overbend: Array
    softening: Array
    bauschinger: Array
    layered_strain: Array
    layered_share: Array


@lru_cache(maxsize=16)
def fan(sheet: Sheet, prior: Prior, *, count: int = FAN) -> Fan:
    """Draw the fan of sheets for a prior.

    Args:
        sheet: the working values.
        prior: what may differ.
        count: number of sheets; row 0 carries the middle of every spread.
    """
    u = _spread(count, 10)
    normal = _normal(u)
    t = sheet.thickness_in * (1.0 + 0.5 * prior.thickness_share * normal[0])
    factor = (1.0 + 0.5 * prior.yield_share * normal[1]) * (1.0 + prior.direction_share * (2.0 * u[2] - 1.0))
    n_factor = prior.exponent_low + (prior.exponent_high - prior.exponent_low) * u[3]
    young = sheet.modulus_psi * (1.0 + 0.5 * prior.modulus_share * normal[4])
    clad = np.zeros(count)
    clad_yield = np.full(count, sheet.cladding.yield_psi)
    if sheet.clad_fraction > 0.0:
        clad = prior.clad_low + (prior.clad_high - prior.clad_low) * u[5]
        # the yield on the certificate is that of the whole clad sheet: a thicker cladding means a stronger core
        clad_yield = clad_yield * (0.7 + 0.6 * u[6])
    whole = sheet.core.yield_psi * (1.0 - 2.0 * sheet.clad_fraction) + (
        2.0 * sheet.clad_fraction * sheet.cladding.yield_psi
    )
    core = (factor * whole - 2.0 * clad * clad_yield) / (1.0 - 2.0 * clad)
    table = section_table(
        thickness_in=t,
        modulus_psi=young,
        poisson=sheet.poisson,
        core_yield_psi=core,
        core_exponent=np.maximum(sheet.core.exponent * n_factor, 3.5),
        clad_yield_psi=clad_yield,
        clad_exponent=sheet.cladding.exponent,
        clad_fraction=clad,
    )
    strain, share = _layered(sheet)
    return Fan(
        table=table,
        yield_factor=factor,
        overbend=prior.overbend * u[7],
        softening=prior.softening * u[8],
        bauschinger=u[9],
        layered_strain=strain,
        layered_share=share,
    )


def released_per_in(world: Fan, curvature: ArrayLike) -> Array:
    """Curvature left in every sheet of the fan after bending to a curvature; shape (m, q).

    Args:
        world: the fan.
        curvature: shape (q,) or (m, q), over-bend not included.
    """
    k = np.asarray(curvature, dtype=np.float64)
    k = np.broadcast_to(k, (world.yield_factor.size, k.shape[-1]))
    return release_of(world, k, moment_lbf(world.table, k))


def release_of(world: Fan, curvature: Array, moment: Array) -> Array:
    """As :func:`released_per_in` when the moment is known already."""
    back = 2.0 * curvature_per_in(world.table, 0.5 * moment)
    strain = np.abs(curvature) * world.table.thickness_in[:, None]
    share = np.interp(strain, world.layered_strain, world.layered_share)
    mixed = back * (share + (1.0 - share) * world.bauschinger[:, None])
    return np.asarray(curvature - np.minimum(mixed / (1.0 - world.softening[:, None]), curvature))


def on_tool_per_in(world: Fan, tool_radius_in: ArrayLike) -> tuple[Array, Array]:
    """Curvature of every sheet of the fan on round tools, over-bend included, and its moment; shape (m, tools).

    Raises:
        OutOfRangeError: a tool radius that can't be.
        OutsideTableError: a tool so small that the sheet is strained beyond the tables.
    """
    radius = np.atleast_1d(np.asarray(tool_radius_in, dtype=np.float64))
    if not bool(np.all((radius > 0.01) & (radius < 50.0))):
        wrong = radius[~((radius > 0.01) & (radius < 50.0))][0]
        raise OutOfRangeError(
            "tool diameter", found=f"{2.0 * wrong:g} in", allowed="0.02 to 100 in", mend="measure its outside"
        )
    k = (1.0 + world.overbend[:, None]) / (radius[None, :] + 0.5 * world.table.thickness_in[:, None])
    return k, moment_lbf(world.table, k)


def after_tool_per_in(world: Fan, tool_radius_in: ArrayLike) -> Array:
    """Curvature left after a roll on round tools; shape (m, tools)."""
    k, moment = on_tool_per_in(world, tool_radius_in)
    return release_of(world, k, moment)


def expected_radius_in(world: Fan, tool_radius_in: float) -> tuple[float, float, float]:
    """Inside radius after a roll on a round tool: low, middle, high of the 95 % band.

    Raises:
        OutOfRangeError, OutsideTableError: as :func:`on_tool_per_in`.
        FormingError: the sheet may come back flat: the tool is too large to set it.
    """
    low, middle, high = (float(a[0]) for a in band(after_tool_per_in(world, tool_radius_in)))
    half = 0.5 * float(world.table.thickness_in[0])
    if low * tool_radius_in < 0.02:
        raise FormingError(
            "tool diameter",
            because="the sheet springs back flat, or nearly, from so large a tool",
            found=f"{2.0 * tool_radius_in:g} in",
            mend="use a smaller tool",
        )
    return 1.0 / high - half, 1.0 / middle - half, 1.0 / low - half


def band(values: Array, *, axis: int = 0) -> tuple[Array, Array, Array]:
    """Low, middle, high: the 2.5, 50 and 97.5 per cent points along an axis."""
    low, middle, high = np.quantile(values, [0.025, 0.5, 0.975], axis=axis)
    return np.asarray(low), np.asarray(middle), np.asarray(high)


def _layered(sheet: Sheet) -> tuple[Array, Array]:
    """Springback of isotropic layers over that of Masing, against k t."""
    strain = np.geomspace(1e-3, 0.3, 24)
    k = strain / sheet.thickness_in
    table = table_of(sheet)
    masing = k - release_masing_per_in(table, k)[0]
    if sheet.clad_fraction > 0.0:
        isotropic = k - release_layers(sheet, paths_per_in=k[:, None], fibres=10, steps=10)[1]
    else:
        isotropic = moment_lbf(table, k)[0] / table.stiffness_lbf_in[0]
    return strain, np.asarray(isotropic / masing)


def _spread(count: int, dimensions: int) -> Array:
    """Low-discrepancy points in the unit cube, shape (dimensions, count); the first is its middle."""
    # additive recurrence on powers of the generalised golden ratio
    root = 2.0
    for _ in range(60):
        root = (1.0 + root) ** (1.0 / (dimensions + 1))
    alpha = root ** -np.arange(1.0, dimensions + 1.0)
    points = (0.5 + alpha[:, None] * np.arange(count)) % 1.0
    return np.clip(points, 0.5 / count, 1.0 - 0.5 / count)


def _normal(u: Array) -> Array:
    inverse = NormalDist().inv_cdf
    return np.vectorize(inverse, otypes=[np.float64])(u)
