"""Brake and block bends: developed length, setback, springback by the closed form, least radius.

Registered formulas carry their printed text; the springback by layers is the method of :mod:`cyclic`.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ribwright.core.audit import formula
from ribwright.core.tables import Cell, table
from ribwright.errors import NoSuchRowError, OutsideTableError, UnknownNameError

Floats = NDArray[np.float64]

_ANGLE = (0.0, 180.0)
_RADIUS = (0.0, 20.0)
_GAUGE = (0.005, 0.5)


@formula(
    "bend.allowance",
    symbol="BA",
    shown="(0.01743 * radius_in + 0.0078 * thickness_in) * angle_deg",
    unit="in",
    source="faa-h-8083-31",
    locator="chapter 4, empirical formula",
    rung="seen",
    limits={"radius_in": _RADIUS, "thickness_in": _GAUGE, "angle_deg": _ANGLE},
)
def bend_allowance_in(*, radius_in: ArrayLike, thickness_in: ArrayLike, angle_deg: ArrayLike) -> Floats:
    """Length of sheet that a bend takes, by the handbook's empirical formula (neutral line at .4475 T)."""
    r, t, n = (np.asarray(a, float) for a in (radius_in, thickness_in, angle_deg))
    return np.asarray((0.01743 * r + 0.0078 * t) * n)


@formula(
    "bend.allowance_k",
    symbol="BA",
    shown="radians(angle_deg) * (radius_in + k_ratio * thickness_in)",
    unit="in",
    source="navedtra-14018",
    locator="rule of the middle line (k = 1/2: add half the thickness to the radius), as in NAVEDTRA 14119 page 445",
    rung="seen",
    limits={"radius_in": _RADIUS, "thickness_in": _GAUGE, "angle_deg": _ANGLE, "k_ratio": (0.2, 0.5)},
)
def bend_allowance_k_in(
    *, radius_in: ArrayLike, thickness_in: ArrayLike, angle_deg: ArrayLike, k_ratio: ArrayLike
) -> Floats:
    """Length of sheet that a bend takes when the neutral line lies k thicknesses from the inside."""
    r, t, n, k = (np.asarray(a, float) for a in (radius_in, thickness_in, angle_deg, k_ratio))
    return np.asarray(np.radians(n) * (r + k * t))


@formula(
    "bend.setback",
    symbol="SB",
    shown="tan(radians(angle_deg) / 2) * (radius_in + thickness_in)",
    unit="in",
    source="faa-h-8083-31",
    locator="chapter 4, step 2 (K = 1 at 90 degrees); the tangent from memory",
    rung="memory",
    limits={"radius_in": _RADIUS, "thickness_in": _GAUGE, "angle_deg": (0.0, 170.0)},
)
def setback_in(*, radius_in: ArrayLike, thickness_in: ArrayLike, angle_deg: ArrayLike) -> Floats:
    """From the mold line to where the bend begins."""
    r, t, n = (np.asarray(a, float) for a in (radius_in, thickness_in, angle_deg))
    return np.asarray(np.tan(np.radians(n) / 2.0) * (r + t))


@formula(
    "bend.k_from_coupon",
    symbol="k",
    shown="(allowance_in / radians(angle_deg) - radius_in) / thickness_in",
    unit="",
    source="forming-method",
    locator="the coupon",
    rung="derived",
    limits={
        "allowance_in": (0.001, 20.0),
        "radius_in": _RADIUS,
        "thickness_in": _GAUGE,
        "angle_deg": (20.0, 180.0),
    },
    excuse="the allowance solved for k; the round trip with bend.allowance_k is tested",
)
def k_from_coupon(
    *, allowance_in: ArrayLike, radius_in: ArrayLike, thickness_in: ArrayLike, angle_deg: ArrayLike
) -> Floats:
    """Where the neutral line lies, from a folded coupon: its length before, less its two flats after."""
    ba, r, t, n = (np.asarray(a, float) for a in (allowance_in, radius_in, thickness_in, angle_deg))
    return np.asarray((ba / np.radians(n) - r) / t)


@formula(
    "bend.springback_closed",
    symbol="Ri/Rf",
    shown="4 * (radius_in * yield_psi / (modulus_psi * thickness_in))**3"
    " - 3 * radius_in * yield_psi / (modulus_psi * thickness_in) + 1",
    unit="",
    source="elastic-plastic-bending",
    locator="Ri/Rf = 4 X^3 - 3 X + 1, X = Ri Y / (E t)",
    rung="seen",
    limits={
        "radius_in": (0.001, 1.0),
        "yield_psi": (2e4, 6e4),
        "modulus_psi": (9e6, 3.1e7),
        "thickness_in": (0.015, 0.5),
    },
    deviation="outside X <= 1/2 the sheet stays elastic; without hardening it reads 2 to 8 % under the layered law",
)
def springback_closed(
    *, radius_in: ArrayLike, yield_psi: ArrayLike, modulus_psi: ArrayLike, thickness_in: ArrayLike
) -> Floats:
    """Loaded over released radius of an elastic, perfectly plastic sheet."""
    r, y, e, t = (np.asarray(a, float) for a in (radius_in, yield_psi, modulus_psi, thickness_in))
    x = r * y / (e * t)
    return np.asarray(4.0 * x**3 - 3.0 * x + 1.0)


@formula(
    "bend.springback_angle",
    symbol="A_bend",
    shown="angle_deg * loaded_per_in / left_per_in",
    unit="deg",
    source="forming-method",
    locator="the bracket: the arc keeps its length, so angles go as curvatures",
    rung="derived",
    limits={"angle_deg": (1.0, 175.0), "loaded_per_in": (0.1, 200.0), "left_per_in": (0.05, 200.0)},
    excuse="geometry of an arc of constant length; checked through the finite-element radii",
)
def overbend_angle_deg(*, angle_deg: ArrayLike, loaded_per_in: ArrayLike, left_per_in: ArrayLike) -> Floats:
    """How far to bend so that the wanted angle is left."""
    return np.asarray(
        np.asarray(angle_deg, float) * np.asarray(loaded_per_in, float) / np.asarray(left_per_in, float)
    )


def least_radius(alloy: str, thickness_in: float) -> tuple[float, Cell]:
    """Least inside radius of a 90-degree bend and the cell it stands on (the stricter of the tables that have it).

    Raises:
        UnknownNameError: no table has this alloy and temper.
        OutsideTableError: thicker than the tables.
    """
    bare = alloy.removesuffix(" clad")
    found: list[tuple[float, Cell]] = []
    for name, per_thickness in (
        ("forming/min-radius-recommended", True),
        ("forming/min-radius-6061", True),
        ("forming/min-radius-inch", False),
    ):
        held = table(name)
        if bare not in held.units:
            continue
        try:
            cell = held.at(max(thickness_in, 0.016 if per_thickness else 0.020), bare)
        except (OutsideTableError, NoSuchRowError):
            continue
        found.append((cell.value * thickness_in if per_thickness else cell.value, cell))
    if not found:
        known = sorted(
            {a for n in ("min-radius-recommended", "min-radius-6061") for a in table("forming/" + n).units}
        )
        if bare not in known:
            raise UnknownNameError(
                "alloy and temper",
                found=alloy,
                allowed=", ".join(known),
                mend="or take the radius from the drawing",
            )
        raise OutsideTableError("thickness", found=f"{thickness_in:g} in", allowed="up to .5 in")
    return max(found, key=lambda pair: pair[0])
