"""A sheet as a section: bending moment against curvature, and what is left when it is let go.

Method and equations: docs/physics/forming.md, "The section" and "Letting go".
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ribwright.core.forming.fibre import (
    STRAIN_FLOOR,
    STRAIN_LIMIT,
    Array,
    FibreTable,
    fibre_table,
    read_ratio,
    refuse_strain,
)
from ribwright.errors import OutOfRangeError

CURVATURE_NODES = 320


@dataclass(frozen=True, slots=True)
class Layer:
    """The constants of one material: 0.2 % yield in tension and Ramberg-Osgood exponent."""

    yield_psi: float
    exponent: float


@dataclass(frozen=True, slots=True)
class Sheet:
    """A sheet, plain or clad on both faces. Working values, not allowables.

    Attributes:
        thickness_in: whole thickness, cladding included.
        modulus_psi: Young's modulus.
        poisson: Poisson's ratio.
        core: constants of the core.
        cladding: constants of the faces.
        clad_fraction: thickness of one face over the whole; 0 for plain sheet.
    """

    thickness_in: float
    modulus_psi: float
    poisson: float
    core: Layer
    cladding: Layer = Layer(10_000.0, 8.0)
    clad_fraction: float = 0.0


@dataclass(frozen=True, slots=True)
class SectionTable:
    """Moment and curvature of ``m`` sheets. Built by :func:`section_table`; rows are sheets.

    Attributes:
        thickness_in, clad_fraction, stiffness_lbf_in: shape (m,); stiffness is E' t^3 / 12 an inch of width.
        core, cladding: the fibres' tables.
        log_curvature, log_moment: shape (m, CURVATURE_NODES), for reading curvature from moment.
    """

    thickness_in: Array
    clad_fraction: Array
    stiffness_lbf_in: Array
    core: FibreTable
    cladding: FibreTable
    log_curvature: Array
    log_moment: Array


def section_table(
    *,
    thickness_in: ArrayLike,
    modulus_psi: ArrayLike,
    poisson: ArrayLike,
    core_yield_psi: ArrayLike,
    core_exponent: ArrayLike,
    clad_yield_psi: ArrayLike = 10_000.0,
    clad_exponent: ArrayLike = 8.0,
    clad_fraction: ArrayLike = 0.0,
) -> SectionTable:
    """Tables of one or many sheets; arguments broadcast to shape (m,).

    Raises:
        OutOfRangeError: thickness outside 0.004 to 0.5 in, cladding outside 0 to 0.2 a side, odd constants.
    """
    t, young, nu, s02, n, cs, cn, frac = (
        np.atleast_1d(np.asarray(a, dtype=np.float64))
        for a in np.broadcast_arrays(
            thickness_in,
            modulus_psi,
            poisson,
            core_yield_psi,
            core_exponent,
            clad_yield_psi,
            clad_exponent,
            clad_fraction,
        )
    )
    if not bool(np.all((t >= 0.004) & (t <= 0.5))):
        raise OutOfRangeError("thickness", found=f"{t[0]:g} in", allowed="0.004 to 0.5 in")
    if not bool(np.all((frac >= 0.0) & (frac <= 0.2))):
        raise OutOfRangeError("cladding a side", found=f"{frac[0]:g}", allowed="0 to 0.2 of the thickness")
    core = fibre_table(modulus_psi=young, poisson=nu, yield_psi=s02, exponent=n)
    clad = core
    if bool(np.any(frac > 0.0)):
        clad = fibre_table(modulus_psi=young, poisson=nu, yield_psi=cs, exponent=cn)
    stiffness = core.modulus_psi * t**3 / 12.0
    curvature = np.geomspace(STRAIN_FLOOR, STRAIN_LIMIT, CURVATURE_NODES) * (2.0 / t[:, None])
    moment = _moment(curvature, thickness=t, fraction=frac, core=core, clad=clad)
    return SectionTable(
        thickness_in=t,
        clad_fraction=frac,
        stiffness_lbf_in=stiffness,
        core=core,
        cladding=clad,
        log_curvature=np.log(curvature),
        log_moment=np.log(moment),
    )


def table_of(sheet: Sheet) -> SectionTable:
    """The table of one sheet (m = 1)."""
    return section_table(
        thickness_in=sheet.thickness_in,
        modulus_psi=sheet.modulus_psi,
        poisson=sheet.poisson,
        core_yield_psi=sheet.core.yield_psi,
        core_exponent=sheet.core.exponent,
        clad_yield_psi=sheet.cladding.yield_psi,
        clad_exponent=sheet.cladding.exponent,
        clad_fraction=sheet.clad_fraction,
    )


def moment_lbf(table: SectionTable, curvature_per_in: ArrayLike) -> Array:
    """Moment an inch of width at a curvature reached from flat (odd in the curvature).

    Args:
        table: m sheets.
        curvature_per_in: shape (m, q), or (q,) with m = 1 or shared by all.

    Returns:
        Moment in lbf in per in, shape (m, q).

    Raises:
        OutsideTableError: the outer fibre leaves the table.
    """
    k = _rows(table, curvature_per_in)
    refuse_strain(k * table.thickness_in[:, None] / 2.0)
    size = np.abs(k)
    moment = _moment(
        size,
        thickness=table.thickness_in,
        fraction=table.clad_fraction,
        core=table.core,
        clad=table.cladding,
    )
    return np.asarray(np.copysign(moment, k))


def curvature_per_in(table: SectionTable, moment: ArrayLike) -> Array:
    """Curvature that carries a moment, from flat: the inverse of :func:`moment_lbf`.

    Raises:
        OutsideTableError: more moment than the section carries inside the table.
    """
    m = _rows(table, moment)
    size = np.abs(m)
    top = np.exp(table.log_moment[:, -1:])
    if bool(np.any(~(size <= top * (1.0 + 1e-9)))):
        refuse_strain(np.asarray(2.0 * STRAIN_LIMIT), field="moment")
    logs = np.log(np.maximum(size, 1e-300))
    out = np.empty_like(size)
    for row in range(size.shape[0]):
        lm, lk = table.log_moment[row], table.log_curvature[row]
        # below the first node the sheet is elastic: slope one in logarithms
        out[row] = np.where(logs[row] < lm[0], lk[0] + logs[row] - lm[0], np.interp(logs[row], lm, lk))
    k = np.exp(out)
    limit = 2.0 * STRAIN_LIMIT / table.thickness_in[:, None]

    def carried(at: Array) -> Array:
        return _moment(
            at,
            thickness=table.thickness_in,
            fraction=table.clad_fraction,
            core=table.core,
            clad=table.cladding,
        )

    # one Newton step takes the interpolation's error from 1e-4 to 1e-7
    step = 1e-4 * k
    here = carried(k)
    slope = (here - carried(k - step)) / step
    k = np.clip(k + (size - here) / np.maximum(slope, 1e-12), 0.5 * k, limit)
    return np.asarray(np.copysign(np.where(size == 0.0, 0.0, k), m))


def release_masing_per_in(table: SectionTable, curvature: ArrayLike) -> Array:
    """Curvature left after release by the Masing rule: k - 2 K(M(k) / 2).

    Handles early reverse yielding, which soft cladding shows, in one line. In plain sheet it agrees with
    elastic release within 0.6 % of the radius; in clad sheet it leaves 2 to 3 % more radius than layers
    with isotropic hardening do.
    """
    k = _rows(table, curvature)
    return np.asarray(k - 2.0 * curvature_per_in(table, moment_lbf(table, k) / 2.0))


def release_elastic_per_in(table: SectionTable, curvature: ArrayLike) -> Array:
    """Curvature left if release were elastic throughout: right for plain sheet, wrong for clad."""
    k = _rows(table, curvature)
    return np.asarray(k - moment_lbf(table, k) / table.stiffness_lbf_in[:, None])


def _rows(table: SectionTable, values: ArrayLike) -> Array:
    array = np.asarray(values, dtype=np.float64)
    return np.broadcast_to(array, (table.thickness_in.size, *array.shape[-1:])) if array.ndim < 2 else array


def _moment(
    curvature: Array, *, thickness: Array, fraction: Array, core: FibreTable, clad: FibreTable
) -> Array:
    half = 0.5 * thickness[:, None]
    inner = half * (1.0 - 2.0 * fraction[:, None])
    plane = core.modulus_psi[:, None]
    total = read_ratio(core.moment_ratio, curvature * inner) * inner**3
    if clad is not core:
        total = total + read_ratio(clad.moment_ratio, curvature * half) * half**3
        total = total - read_ratio(clad.moment_ratio, curvature * inner) * inner**3
    return np.asarray(2.0 / 3.0 * plane * curvature * total)


def pick(table: SectionTable, rows: ArrayLike) -> SectionTable:
    """Some rows of a table, as a table."""
    at = np.atleast_1d(np.asarray(rows, dtype=np.intp))
    core = FibreTable(table.core.modulus_psi[at], table.core.stress_ratio[at], table.core.moment_ratio[at])
    clad = core
    if table.cladding is not table.core:
        c = table.cladding
        clad = FibreTable(c.modulus_psi[at], c.stress_ratio[at], c.moment_ratio[at])
    return SectionTable(
        thickness_in=table.thickness_in[at],
        clad_fraction=table.clad_fraction[at],
        stiffness_lbf_in=table.stiffness_lbf_in[at],
        core=core,
        cladding=clad,
        log_curvature=table.log_curvature[at],
        log_moment=table.log_moment[at],
    )
