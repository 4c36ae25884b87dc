"""One fibre of a wide bent sheet: stress against strain along the sheet, in plane strain.

A sheet that is wide compared with its thickness cannot strain across its width while it is bent along its
length, so a fibre carries two stresses. Bending from flat takes every fibre along one path; it is therefore
integrated once a material, and everything above reads the result from a table.

Method and equations: docs/physics/forming.md, "The fibre".
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ribwright.errors import OutOfRangeError, OutsideTableError

Array = NDArray[np.float64]

STRAIN_LIMIT = 0.16
"""Largest fibre strain of the tables; a radius of 2.7 thicknesses. Beyond it nothing is answered."""

STRAIN_FLOOR = 2e-4
"""Below this every fibre here is elastic, and the table holds the elastic value."""

NODES = 384
OFFSET_STRAIN = 0.002
SEED_STRAIN = 1e-5
"""Plastic strain that lets the power law start at a finite stress."""


@dataclass(frozen=True, slots=True)
class FibreTable:
    """Stress integrals of ``m`` materials on one logarithmic grid of strain.

    Attributes:
        modulus_psi: plane-strain modulus E/(1 - nu^2), shape (m,).
        stress_ratio: stress / (modulus x strain) at the grid strains, shape (m, NODES).
        moment_ratio: 3 x integral(stress x strain) / (modulus x strain^3), shape (m, NODES).
    """

    modulus_psi: Array
    stress_ratio: Array
    moment_ratio: Array


def hardening_psi(plastic_strain: ArrayLike, *, yield_psi: ArrayLike, exponent: ArrayLike) -> Array:
    """Flow stress of the Ramberg-Osgood power law at a plastic strain.

    Args:
        plastic_strain: equivalent plastic strain.
        yield_psi: stress at the 0.2 % offset.
        exponent: Ramberg-Osgood n (large = flat curve).
    """
    strain = np.asarray(plastic_strain, dtype=np.float64)
    power = 1.0 / np.asarray(exponent, dtype=np.float64)
    return np.asarray(np.asarray(yield_psi) * ((strain + SEED_STRAIN) / OFFSET_STRAIN) ** power)


def strain_grid() -> Array:
    """The common grid of strain, logarithmic, shape (NODES,)."""
    return np.geomspace(STRAIN_FLOOR, STRAIN_LIMIT, NODES)


def fibre_table(
    *, modulus_psi: ArrayLike, poisson: ArrayLike, yield_psi: ArrayLike, exponent: ArrayLike
) -> FibreTable:
    """Integrate the plane-strain fibre of one or many materials at once.

    Args:
        modulus_psi: Young's modulus, scalar or shape (m,); the others broadcast with it.
        poisson: Poisson's ratio.
        yield_psi: 0.2 % offset yield in simple tension along the bend.
        exponent: Ramberg-Osgood n.

    Raises:
        OutOfRangeError: a constant that no sheet metal has, or not a number.
    """
    young, nu, s02, n = (
        np.atleast_1d(np.asarray(a, dtype=np.float64))
        for a in np.broadcast_arrays(modulus_psi, poisson, yield_psi, exponent)
    )
    _refuse("modulus", young, 1e6, 1e8, "psi")
    _refuse("Poisson's ratio", nu, 0.0, 0.49, "")
    _refuse("yield", s02, 500.0, 4e5, "psi")
    _refuse("hardening exponent", n, 3.0, 200.0, "")

    plastic = np.concatenate(
        (
            [0.0],
            np.geomspace(2e-6, 1e-3, 60),
            np.linspace(1e-3, 0.02, 58)[1:],
            np.geomspace(0.02, 0.25, 40)[1:],
        )
    )
    flow = hardening_psi(plastic[:, None], yield_psi=s02, exponent=n)
    omega = _stress_angle(plastic, young=young, nu=nu, s02=s02, n=n)
    cosine = 2.0 / np.sqrt(3.0) * np.cos(omega)
    stress = flow * cosine
    across = flow * 2.0 / np.sqrt(3.0) * np.cos(omega - np.pi / 3.0)
    direction = np.cos(omega + np.pi / 6.0)
    steps = np.diff(plastic)[:, None]
    plastic_along = np.vstack(
        [np.zeros_like(young), np.cumsum(0.5 * (direction[1:] + direction[:-1]) * steps, axis=0)]
    )
    strain = (stress - nu * across) / young + plastic_along

    plane = young / (1.0 - nu**2)
    grid = strain_grid()
    stress_on = np.empty((young.size, NODES))
    integral = np.empty_like(stress_on)
    for row in range(young.size):
        # linear between nodes: the first moment of a linear piece is exact
        e, s = strain[:, row], stress[:, row]
        first = s[0] * e[0] ** 2 / 3.0
        slope = np.diff(s) / np.diff(e)
        piece = (s[:-1] - slope * e[:-1]) * np.diff(e**2) / 2.0 + slope * np.diff(e**3) / 3.0
        total = first + np.concatenate(([0.0], np.cumsum(piece)))
        at = np.clip(np.searchsorted(e, grid, side="right") - 1, 0, e.size - 2)
        yielded = grid >= e[0]
        s_grid = s[at] + slope[at] * (grid - e[at])
        i_grid = (
            total[at]
            + (s[at] - slope[at] * e[at]) * (grid**2 - e[at] ** 2) / 2.0
            + slope[at] * (grid**3 - e[at] ** 3) / 3.0
        )
        stress_on[row] = np.where(yielded, s_grid, plane[row] * grid)
        integral[row] = np.where(yielded, i_grid, plane[row] * grid**3 / 3.0)
    return FibreTable(
        modulus_psi=plane,
        stress_ratio=stress_on / (plane[:, None] * grid),
        moment_ratio=3.0 * integral / (plane[:, None] * grid**3),
    )


def read_ratio(ratio: Array, strain: Array) -> Array:
    """Read a ratio of the table at strains; ``ratio`` (m, NODES), ``strain`` (m, ...).

    The caller has refused strains beyond the table.
    """
    place = (np.log(np.maximum(strain, STRAIN_FLOOR)) - np.log(STRAIN_FLOOR)) * (
        (NODES - 1) / np.log(STRAIN_LIMIT / STRAIN_FLOOR)
    )
    low = np.minimum(place.astype(np.intp), NODES - 2)
    part = place - low
    row = np.arange(ratio.shape[0]).reshape((-1,) + (1,) * (strain.ndim - 1))
    return np.asarray(ratio[row, low] * (1.0 - part) + ratio[row, low + 1] * part)


def refuse_strain(strain: ArrayLike, *, field: str = "radius") -> None:
    """Refuse a fibre strain beyond the table.

    Raises:
        OutsideTableError: the bend is sharper than the table covers, or not a number.
    """
    worst = float(np.max(np.abs(np.asarray(strain, dtype=np.float64)), initial=0.0))
    if not worst <= STRAIN_LIMIT:
        raise OutsideTableError(
            field,
            found=f"outer fibre strain {100 * worst:.1f} %",
            allowed=f"up to {100 * STRAIN_LIMIT:.0f} %, a radius of about 2.7 thicknesses",
            mend="use a larger radius or a thinner sheet",
        )


def _stress_angle(plastic: Array, *, young: Array, nu: Array, s02: Array, n: Array) -> Array:
    """Place on the yield ellipse (0 = fully plastic plane strain), shape (len(plastic), m)."""
    c = 2.0 / np.sqrt(3.0)
    third = np.pi / 3.0
    omega = np.arctan((2.0 * nu - 1.0) / np.sqrt(3.0))
    out = np.empty((plastic.size, young.size))
    out[0] = omega
    for i in range(1, plastic.size):
        step = plastic[i] - plastic[i - 1]
        middle = 0.5 * (plastic[i] + plastic[i - 1])
        h = s02 * ((middle + SEED_STRAIN) / OFFSET_STRAIN) ** (1.0 / n)
        rate = h / (n * (middle + SEED_STRAIN))
        # the angle decays towards a slowly moving value: one exponential step, exact for frozen factors
        w = omega
        for _ in range(2):
            pull = c * h * (np.sin(w - third) - nu * np.sin(w))
            fade = young * np.sinc(w / np.pi) / pull
            drive = c * rate * (np.cos(w - third) - nu * np.cos(w)) / pull
            new = (omega + drive / fade) * np.exp(fade * step) - drive / fade
            w = 0.5 * (omega + new)
        omega = new
        out[i] = omega
    return out


def _refuse(field: str, values: Array, low: float, high: float, unit: str) -> None:
    if not bool(np.all((values >= low) & (values <= high))):
        bad = values[~((values >= low) & (values <= high))][0]
        raise OutOfRangeError(
            field, found=f"{bad:g} {unit}".strip(), allowed=f"{low:g} to {high:g} {unit}".strip()
        )
